"""What steering answers: settings, moves and holds, what they bring, in figures and in plain sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from forcing.dates import Span
from forcing.engine.steering.choices import KEEP, Answer, ExpectedBloom, ExpectedLot, Setup, stated
from forcing.errors import Finding, sort_findings
from forcing.model import RoomSetting
from forcing.text import listed, some
from forcing.units import TemperatureUnit, show_temperature


@dataclass(frozen=True, slots=True)
class Move:
    """Pots of a lot to be carried from one place to another on a day."""

    lot: str
    pots: int
    place: str  # from
    to: str
    on: date


@dataclass(frozen=True, slots=True)
class LotOutcome:
    """What is expected of one lot without and with the steering."""

    lot: str
    pots: int
    target: date
    before: ExpectedBloom
    after: ExpectedBloom
    soonest: date  # bloom at the hottest it may have from now on, wherever it may stand
    latest: date  # bloom at the coolest, held as long as it may be

    @property
    def off_before(self) -> int:
        """Days from target to the likely bloom; negative when early."""
        return (self.before.likely - self.target).days

    @property
    def off_after(self) -> int:
        return (self.after.likely - self.target).days


@dataclass(frozen=True, slots=True)
class Curve:
    """Days off target of a bench's pots, on average, against one mean [°C] kept from first to last day."""

    bench: str
    lots: tuple[str, ...]
    means: tuple[float, ...]
    days_off: tuple[float, ...]
    now: tuple[float, float]  # mean it is set to, and the days off if that stays
    chosen: tuple[float, float]  # the same for what is advised; a mean over the days where it changes


@dataclass(frozen=True, slots=True)
class Steering:
    """The advice. `gap`, `status` and `seconds` tell how the search went and are no part of it."""

    on: date
    span: Span | None  # days that are steered; None: no lot is on a bench
    settings: tuple[RoomSetting, ...] = ()
    moves: tuple[Move, ...] = ()
    holds: tuple[Move, ...] = ()  # into a cooler, and out of it again
    lots: tuple[LotOutcome, ...] = ()
    curves: tuple[Curve, ...] = ()
    words: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    gap: float = (
        0.0  # days off per pot that another answer could still save, before work not worth it was left out
    )
    status: str = ""
    seconds: float = 0.0


def curves(setup: Setup, answer: Answer) -> tuple[Curve, ...]:
    """A curve for each bench that lots stand on in the answer, its other benches as the answer has them."""
    found = (_curve(setup, answer, bench) for bench in range(len(setup.problem.benches)))
    return tuple(curve for curve in found if curve is not None)


def _curve(setup: Setup, answer: Answer, number: int) -> Curve | None:
    problem, bench, row = setup.problem, setup.problem.benches[number], answer.choices[number]
    on_it = [
        i for i, lot in enumerate(problem.lots)
        if any(
            lot.paths[answer.options[i], k] == number and k < len(row) for k, _, _ in problem.spells(lot, lot.leave)
        )
    ]  # fmt: skip
    if not on_it or len(bench.means) == 1:
        return None
    lots = [problem.lots[i] for i in on_it]
    # Of the choices of a block, the one that is what the bench is set to anyway is not listed again.
    open_ = all(len(choices) > 1 for choices in bench.choices)
    choices = [
        c for c in range(1, len(bench.means)) if open_ and all(c in lot.fits[number] for lot in lots)
    ]  # fmt: skip

    def off(choice_row: tuple[int, ...]) -> float:
        there = replace(answer, choices=(*answer.choices[:number], choice_row, *answer.choices[number + 1 :]))
        days = problem.days_off(there)
        return sum(problem.lots[i].pots * abs(days[i]) for i in on_it) / sum(lot.pots for lot in lots)

    keep = (KEEP,) * len(row)
    now = _mean(setup, number, keep), off(keep)
    points = sorted({(bench.means[c], off((c,) * len(row))) for c in choices} | {now})
    return Curve(
        bench=bench.name,
        lots=tuple(lot.name for lot in lots),
        means=tuple(mean for mean, _ in points),
        days_off=tuple(days for _, days in points),
        now=now,
        chosen=(_mean(setup, number, row), off(row)),
    )


def _mean(setup: Setup, number: int, row: tuple[int, ...]) -> float:
    """Mean temperature [°C] of a bench over the days that are steered."""
    problem, bench = setup.problem, setup.problem.benches[number]
    first = setup.worked.climate.index(setup.start)
    now = setup.worked.climate.mean(bench.name)[first : first + problem.days]
    total = sum(
        float(np.sum(now[a:b])) if choice == KEEP else bench.means[choice] * (b - a)
        for (a, b), choice in zip(problem.blocks, row, strict=True)
    )
    return total / problem.tail


NOBODY = "Nothing to change: no lot is on a bench or comes to one within a week."
NAMED = 6  # lots or benches named in a sentence
WITHIN = 1  # days off target that count as on target in words
WARMER = 1.0  # °C above what was set that is worth a warning
NEAR_HIGHEST = 1.0  # °C below the highest a lot stands where blasting is worth a warning


def advice(
    setup: Setup,
    settings: Sequence[RoomSetting],
    moves: Sequence[Move],
    holds: Sequence[Move],
    outcomes: Sequence[LotOutcome],
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
    out += [_planned_hold_dropped(live) for live in setup.lots if changed and _dropped(live, holds)]
    if changed:
        out += _effect(outcomes)
    return (*out, *_off_target(setup, outcomes))


def _setting(setup: Setup, setting: RoomSetting) -> str:
    season = setup.season
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
    live = next(live for live in setup.lots if live.name == move.lot)
    pots = some(move.pots, "pot")
    if live.run.stays[0].start == move.on and not live.simulation.history.brought_in:
        return f"Bring {move.lot} ({pots}) in to {move.to} instead of {live.run.stays[0].place} on {move.on}."
    return f"Move {move.lot} ({pots}) from {move.place} to {move.to} on {move.on}."


def _holds(setup: Setup, holds: Sequence[Move]) -> Iterator[str]:
    for move in holds:
        if setup.season.place(move.to).kind != "cooler":
            yield f"Bring {move.lot} back from {move.place} to {move.to} on {move.on}."
        else:
            yield (
                f"Hold {move.lot} ({some(move.pots, 'pot')}) in {move.to} from {move.on}, once it shows colour; "
                "not before."
            )


def _dropped(live: ExpectedLot, holds: Sequence[Move]) -> bool:
    held = any(stay.step == "hold" for stay in live.simulation.history.moves)
    return live.plan.lot.hold_days > 0 and not held and not any(h.lot == live.name for h in holds)


def _planned_hold_dropped(live: ExpectedLot) -> str:
    return f"Leave out the cold hold that was planned for {live.name}."


def _effect(outcomes: Sequence[LotOutcome]) -> list[str]:
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


def _offs(outcomes: Sequence[LotOutcome]) -> tuple[list[int], list[int]]:
    return [o.off_before for o in outcomes], [o.off_after for o in outcomes]


def _off_target(setup: Setup, outcomes: Sequence[LotOutcome]) -> Iterator[str]:
    """The lots that stay off target, the most pots × days first, and the best date each can reach."""
    left = [o for o in outcomes if abs(o.off_after) > WITHIN]
    for o in sorted(left, key=lambda o: (-o.pots * abs(o.off_after), o.lot)):
        who = f"{o.lot} ({some(o.pots, 'pot')}, target {o.target})"
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


def _best_alone(o: LotOutcome) -> date:
    return min(max(o.target, o.soonest), max(o.latest, o.soonest))


def _off_words(day: date, target: date) -> str:
    off = (day - target).days
    if off == 0:
        return f"{day}, on target"
    return f"{day}, {_days(abs(off))} {'late' if off > 0 else 'early'}"


def _days(count: int) -> str:
    return "a day" if count == 1 else f"{count} days"


# ---------------------------------------------------------------- warnings


def warnings(setup: Setup, answer: Answer) -> tuple[Finding, ...]:
    """What warmth costs, and benches that are outside their lots' limits as they are set."""
    warm: list[str] = []
    near: list[str] = []
    outside: list[str] = []
    unit = setup.season.unit
    days_off = setup.problem.days_off(answer)
    for number, bench in enumerate(setup.problem.benches):
        if setup.season.place(bench.name).kind != "bench":
            continue
        raised, close, beyond = _of_bench(setup, answer, number, days_off)
        if raised:
            warm.append(f"{bench.name} ({show_temperature(max(raised), unit)})")
        if close:
            near.append(f"{bench.name} ({listed(sorted(close), NAMED)})")
        for mean, lots in sorted(beyond.items()):
            outside.append(f"{bench.name} at {show_temperature(mean, unit)} ({listed(sorted(lots), NAMED)})")
    found: list[Finding] = []
    if warm:
        found.append(_warm(listed(warm, NAMED)))
    if near:
        found.append(_near(listed(near, NAMED), unit))
    if outside:
        found.append(_beyond(listed(outside, NAMED)))
    return sort_findings(found)


def _of_bench(
    setup: Setup, answer: Answer, number: int, days_off: Sequence[int]
) -> tuple[list[float], set[str], dict[float, set[str]]]:
    """Raised means of a bench, the lots near their highest there, and the lots outside their limits there by mean."""
    bench = setup.problem.benches[number]
    raised: list[float] = []
    near: set[str] = set()
    outside: dict[float, set[str]] = {}
    for k, choice in enumerate(answer.choices[number]):
        first = setup.problem.blocks[k][0]
        now = sum(stated(setup.season, setup.season.place(bench.name), setup.day(first))) / 2
        mean = now if choice == KEEP else bench.means[choice]
        if mean - now >= WARMER - 1e-6:
            raised.append(mean)
        for i, lot in enumerate(setup.problem.lots):
            there = k in lot.binding and lot.paths[answer.options[i], k] == number
            if not there or lot.target + days_off[i] <= first:
                continue  # it stands elsewhere, or is in bloom by then
            recipe = setup.lots[i].plan.recipe
            if mean > now + 1e-6 and mean > recipe.bench_high - NEAR_HIGHEST + 1e-6:
                near.add(lot.name)
            if not recipe.bench_low - 1e-6 <= mean <= recipe.bench_high + 1e-6:
                outside.setdefault(mean, set()).add(lot.name)
    return raised, near, outside


def _warm(benches: str) -> Finding:
    return Finding(
        "steer-warmer", "warning", "places", None, "day",
        f"set warmer, on average, are {benches}: warmth brings bloom sooner at the cost of shorter, weaker stems "
        "and a shorter life on show",
        "Look at the stems every few days, give light and air, and set it back once the lots show colour.",
    )  # fmt: skip


def _near(benches: str, unit: TemperatureUnit) -> Finding:
    return Finding(
        "steer-blasting", "warning", "places", None, "day",
        f"within {'2 °F' if unit == 'F' else '1 °C'} of the highest that lots stand are {benches}: buds can blast "
        "(dry up before they open)",
        "Never set these benches higher, keep the pots evenly moist and shade on sunny days.",
    )  # fmt: skip


def _beyond(benches: str) -> Finding:
    return Finding(
        "steer-outside-limits", "warning", "places", None, "day",
        f"kept as they are set, outside the limits of lots on them, are {benches}",
        "Choose another bench for these lots, or set the bench inside the limits of their recipes.",
    )  # fmt: skip
