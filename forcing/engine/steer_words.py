"""Steering in plain sentences, and its warnings of what warmth costs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from forcing.engine.steer_answer import Move, Outcome
from forcing.engine.steer_model import KEEP, Answer, LiveLot
from forcing.engine.steer_setup import Live, Setup, stated
from forcing.errors import Finding, sort_findings
from forcing.model import RoomSetting
from forcing.units import show_temperature

NOBODY = "Nothing to change: no lot is on a bench or comes to one within a week."
WITHIN = 1  # days off target that count as on target in words
WARMER = 1.0  # °C above what was set that is worth a warning
NEAR_HIGHEST = 1.0  # °C below the highest a lot stands where blasting is worth a warning


def advice(
    setup: Setup,
    settings: Sequence[RoomSetting],
    moves: Sequence[Move],
    holds: Sequence[Move],
    outcomes: Sequence[Outcome],
) -> tuple[str, ...]:
    """What to set, move and hold, what it brings, and which lots cannot be brought to target."""
    out = [_setting(setup, setting) for setting in settings]
    out += [_move(setup, move) for move in moves]
    out += list(_holds(setup, holds))
    changed = bool(out)
    if not changed:
        on_target = all(abs(o.off_before) <= WITHIN for o in outcomes)
        out.append(
            f"Nothing to change: every lot is expected within {_days(WITHIN)} of its target."
            if on_target
            else "Nothing to change: no setting, move or hold would bring the lots nearer to their targets."
        )
    out += [_planned_hold_dropped(live) for live in setup.lives if changed and _dropped(live, holds)]
    if changed:
        out += _effect(outcomes)
    return (*out, *_off_target(setup, outcomes))


def _setting(setup: Setup, setting: RoomSetting) -> str:
    season = setup.worked.plan.season
    unit = season.unit
    day, night = stated(season, season.place(setting.place), setting.span.start)
    mean, now = show_temperature(setting.mean, unit), show_temperature((day + night) / 2, unit)
    by_day, by_night = show_temperature(setting.day, unit), show_temperature(setting.night, unit)
    both = by_day if by_day == by_night else f"{by_day} by day and {by_night} by night"
    return (
        f"Set {setting.place} to {both} from {setting.span.start} until {setting.span.end} "
        f"(mean {mean} instead of {now})."
    )


def _move(setup: Setup, move: Move) -> str:
    live = next(live for live in setup.lives if live.name == move.lot)
    pots = _pots(move.pots)
    if live.run.stays[0].start == move.on and not live.traveller.history.brought_in:
        return f"Bring {move.lot} ({pots}) in to {move.to} instead of {live.run.stays[0].place} on {move.on}."
    return f"Move {move.lot} ({pots}) from {move.place} to {move.to} on {move.on}."


def _holds(setup: Setup, holds: Sequence[Move]) -> Iterator[str]:
    for move in holds:
        if setup.worked.plan.season.place(move.to).kind != "cooler":
            yield f"Bring {move.lot} back from {move.place} to {move.to} on {move.on}."
        else:
            yield (
                f"Hold {move.lot} ({_pots(move.pots)}) in {move.to} from {move.on}, once it shows colour; "
                "not before."
            )


def _dropped(live: Live, holds: Sequence[Move]) -> bool:
    held = any(stay.step == "hold" for stay in live.traveller.history.moves)
    return live.plan.lot.hold_days > 0 and not held and not any(h.lot == live.name for h in holds)


def _planned_hold_dropped(live: Live) -> str:
    return f"Leave out the cold hold that was planned for {live.name}."


def _effect(outcomes: Sequence[Outcome]) -> list[str]:
    pots = sum(o.pots for o in outcomes)
    near = [sum(abs(off) <= WITHIN for off in offs) for offs in _offs(outcomes)]
    mean = [
        sum(o.pots * abs(off) for o, off in zip(outcomes, offs, strict=True)) / max(1, pots)
        for offs in _offs(outcomes)
    ]  # fmt: skip
    return [
        f"Lots expected within {_days(WITHIN)} of target: {near[1]} of {len(outcomes)} instead of {near[0]}. "
        f"Days off target, mean of all pots: {mean[1]:.1f} instead of {mean[0]:.1f}."
    ]


def _offs(outcomes: Sequence[Outcome]) -> tuple[list[int], list[int]]:
    return [o.off_before for o in outcomes], [o.off_after for o in outcomes]


def _off_target(setup: Setup, outcomes: Sequence[Outcome]) -> Iterator[str]:
    """The lots that stay off target, the most pots × days first, and the best date each can reach."""
    left = [o for o in outcomes if abs(o.off_after) > WITHIN]
    for o in sorted(left, key=lambda o: (-o.pots * abs(o.off_after), o.lot)):
        who = f"{o.lot} ({_pots(o.pots)}, target {o.target})"
        if (o.soonest - o.target).days > WITHIN:
            yield (
                f"{who} cannot be saved: even at the warmest it may have, from {setup.start} on, it blooms on "
                f"{_off_words(o.soonest, o.target)}. Expected {_off_words(o.after.likely, o.target)}."
            )
        elif (o.target - o.latest).days > WITHIN:
            yield (
                f"{who} cannot be kept back to its target: even at the coolest it may have it blooms on "
                f"{_off_words(o.latest, o.target)}. Expected {_off_words(o.after.likely, o.target)}."
            )
        else:
            yield (
                f"{who} stays off target, expected {_off_words(o.after.likely, o.target)}: what would mend it "
                f"costs other lots more. The best it could reach alone is {_best_alone(o)}."
            )


def _best_alone(o: Outcome) -> date:
    return min(max(o.target, o.soonest), max(o.latest, o.soonest))


def _off_words(day: date, target: date) -> str:
    off = (day - target).days
    if off == 0:
        return f"{day}, on target"
    return f"{day}, {_days(abs(off))} {'late' if off > 0 else 'early'}"


def _days(count: int) -> str:
    return "a day" if count == 1 else f"{count} days"


def _pots(count: int) -> str:
    return f"{count} pot" if count == 1 else f"{count} pots"


# ---------------------------------------------------------------- warnings


def warnings(setup: Setup, answer: Answer) -> tuple[Finding, ...]:
    """What warmth costs, and benches that are outside their lots' limits as they are set."""
    out = [
        finding
        for stand, row in enumerate(answer.choices)
        for finding in (*_warmer(setup, answer, stand, row), *_outside(setup, answer, stand, row))
    ]
    return sort_findings(out)


def _warmer(setup: Setup, answer: Answer, stand: int, row: tuple[int, ...]) -> Iterator[Finding]:
    season, bench = setup.worked.plan.season, setup.problem.stands[stand]
    place = season.place(bench.name)
    steered = [(k, bench.means[c]) for k, c in enumerate(row) if c != KEEP]
    raised = [mean for k, mean in steered if mean - _stated_mean(setup, stand, k) >= WARMER - 1e-6]
    if raised:
        yield Finding(
            "steer-warmer", "warning", "places", place.row, "day",
            f"{place.name} is to be up to {show_temperature(max(raised), season.unit)} on average: warmth brings "
            "bloom sooner at the cost of shorter, weaker stems and a shorter life on show",
            "Look at the stems every few days, give light and air, and set it back once the lots show colour.",
        )  # fmt: skip
    near = sorted(
        {
            setup.lives[i].name
            for k, mean in steered
            for i in _there(setup, answer, stand, k)
            if mean > setup.lives[i].plan.recipe.bench_high - NEAR_HIGHEST + 1e-6
            and mean > _stated_mean(setup, stand, k) + 1e-6
        }
    )
    if near:
        shown = ", ".join(near[:6]) + (f" and {len(near) - 6} more" if len(near) > 6 else "")
        yield Finding(
            "steer-blasting", "warning", "places", place.row, "day",
            f"{place.name} comes within {_degree(setup)} of the highest that {shown} {_stand_word(near)}: buds can "
            "blast (dry up before they open)",
            "Never set it higher, keep the pots evenly moist and shade on sunny days.",
        )  # fmt: skip


def _outside(setup: Setup, answer: Answer, stand: int, row: tuple[int, ...]) -> Iterator[Finding]:
    season, bench = setup.worked.plan.season, setup.problem.stands[stand]
    if season.place(bench.name).kind != "bench":
        return
    for k, choice in enumerate(row):
        if choice != KEEP:
            continue
        mean = _stated_mean(setup, stand, k)
        for i in _there(setup, answer, stand, k):
            recipe = setup.lives[i].plan.recipe
            if not recipe.bench_low - 1e-6 <= mean <= recipe.bench_high + 1e-6:
                low, high = (show_temperature(t, season.unit) for t in (recipe.bench_low, recipe.bench_high))
                yield Finding(
                    "steer-outside-limits", "warning", "places", season.place(bench.name).row, "day",
                    f"{bench.name} is kept at the {show_temperature(mean, season.unit)} it is set to, outside the "
                    f"{low} to {high} that {setup.lives[i].name} stands",
                    "Choose another bench for that lot, or set the bench inside these limits.",
                )  # fmt: skip


def _there(setup: Setup, answer: Answer, stand: int, block: int) -> list[int]:
    """Numbers of the lots on a bench in a block."""
    first, end = setup.problem.blocks[block]

    def there(lot: LiveLot, option: int) -> bool:
        return lot.options[option].path[block] == stand and max(first, lot.begin) < min(end, lot.leave)

    return [i for i, lot in enumerate(setup.problem.lots) if there(lot, answer.options[i])]


def _stated_mean(setup: Setup, stand: int, block: int) -> float:
    season, name = setup.worked.plan.season, setup.problem.stands[stand].name
    day, night = stated(season, season.place(name), setup.day(setup.problem.blocks[block][0]))
    return (day + night) / 2


def _degree(setup: Setup) -> str:
    return "2 °F" if setup.worked.plan.season.unit == "F" else "1 °C"


def _stand_word(names: Sequence[str]) -> str:
    return "stands" if len(names) == 1 else "stand"
