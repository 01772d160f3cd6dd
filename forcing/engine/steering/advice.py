"""What steering answers: options beside each other, what the recommended one brings, all of it in plain sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from forcing.dates import Span
from forcing.engine.show.pots import stand_ins
from forcing.engine.steering.situation import ExpectedBloom, Situation
from forcing.errors import Finding, Several, sort_findings
from forcing.model import RoomSetting
from forcing.text import listed, number, some
from forcing.units import TemperatureUnit, show_temperature

WITHIN = 1  # days off target that count as on target
NAMED = 6  # lots or benches named in a sentence
NEAR_HIGHEST = 1.0  # °C below the highest a lot stands where blasting is worth a warning


@dataclass(frozen=True, slots=True)
class Move:
    """Pots of a lot to be carried from one place to another on a day."""

    lot: str
    pots: int
    place: str  # from
    to: str
    on: date


@dataclass(frozen=True, slots=True)
class SteeringOption:
    """One of the ways to go on: what there is to do, what it costs, what it is expected to bring."""

    name: str
    settings: tuple[RoomSetting, ...]
    moves: tuple[Move, ...]
    holds: tuple[Move, ...]  # into a cooler, and out of it again
    left_out: tuple[tuple[str, str], ...]  # lots not to be carried as was agreed, and where they stay
    turns: int  # times that a zone is set otherwise
    held: int  # lots
    hours: float
    within: int  # lots likely to bloom within a day of their targets
    days_off: float  # expected days off target, the mean of all pots, with all that is uncertain
    recommended: bool = False

    @property
    def actions(self) -> int:
        """Changes of setting, lots moved, lots held or left: what has to be thought of."""
        return self.turns + len(self.moves) + self.held + len(self.left_out)


@dataclass(frozen=True, slots=True)
class LotOutcome:
    """What is expected of one lot if all goes on as planned and agreed, and with the recommended option."""

    lot: str
    pots: int
    target: date
    before: ExpectedBloom
    after: ExpectedBloom
    soonest: date  # bloom at the warmest it may have from now on, wherever it may stand
    latest: date  # bloom at the coolest, held as long as it may be
    spare: int = 0  # days before its target that it is to bloom for sureness' sake

    @property
    def off_before(self) -> int:
        """Days from target to the likely bloom; negative when early."""
        return (self.before.likely - self.target).days

    @property
    def off_after(self) -> int:
        return (self.after.likely - self.target).days

    @property
    def on_target(self) -> bool:
        return -WITHIN - self.spare <= self.off_after <= WITHIN


@dataclass(frozen=True, slots=True)
class Point:
    """What the best answer of so many actions is expected to bring."""

    actions: int
    days_off: float
    within: int


@dataclass(frozen=True, slots=True)
class Steering:
    """The advice. No option: no lot is on a bench."""

    on: date
    span: Span | None  # days that are steered; None: no lot is on a bench
    options: tuple[SteeringOption, ...] = ()
    lots: tuple[LotOutcome, ...] = ()  # in the recommended option
    front: tuple[Point, ...] = ()  # by number of actions, from none
    headline: str = ""
    actions: tuple[str, ...] = ()  # a sentence each, what matters most first
    beyond: tuple[str, ...] = ()  # of each lot that nothing can bring to its target
    notes: tuple[str, ...] = ()  # what more work would bring, and which lots are left
    findings: tuple[Finding, ...] = ()

    @property
    def recommended(self) -> SteeringOption | None:
        return next((option for option in self.options if option.recommended), None)

    @property
    def settings(self) -> tuple[RoomSetting, ...]:
        return self.recommended.settings if self.recommended else ()

    @property
    def moves(self) -> tuple[Move, ...]:
        return self.recommended.moves if self.recommended else ()

    @property
    def holds(self) -> tuple[Move, ...]:
        return self.recommended.holds if self.recommended else ()

    @property
    def left_out(self) -> tuple[tuple[str, str], ...]:
        return self.recommended.left_out if self.recommended else ()

    @property
    def words(self) -> tuple[str, ...]:
        """All sentences: what it comes to, what to do, what is left."""
        return (self.headline, *self.actions, *self.beyond, *self.notes)


# ---------------------------------------------------------------- what it comes to

NOBODY = "Nothing to change: no lot is on a bench or comes to one within a week."


def headline(options: Sequence[SteeringOption], lots: Sequence[LotOutcome]) -> str:
    """What the recommended option comes to, beside carrying on."""
    now, chosen = options[0], next(option for option in options if option.recommended)
    if not chosen.actions:
        if all(o.on_target for o in lots):
            return f"Nothing to change: every lot is expected within {_days(WITHIN)} of its target."
        return "Nothing to change: nothing that could be set, moved or held would earn its work."
    return (
        f"{some(chosen.actions, 'thing')} to do, {_hours(chosen.hours)} of work: {chosen.within} of {len(lots)} lots "
        f"within {_days(WITHIN)} of target instead of {now.within}; days off target, mean of all pots, "
        f"{chosen.days_off:.1f} instead of {now.days_off:.1f}."
    )  # fmt: skip


def _hours(hours: float) -> str:
    return f"{number(hours)} h" if hours >= 0.05 else "no time"


def say_settings(situation: Situation, settings: Sequence[RoomSetting], helped: str) -> str:
    """All that a zone is to be set to, in one sentence; `settings` are those of its first bench, in order."""
    season, unit = situation.season, situation.season.unit
    zone = season.place(settings[0].place).zone
    parts = [
        f"{_degrees(s.day, s.night, unit)} from {s.span.start} until {s.span.end}" for s in settings
    ]  # fmt: skip
    name = f"the benches of {zone}" if zone else settings[0].place
    return f"Set {name} to {', then to '.join(parts)}{helped}."


def _degrees(day: float, night: float, unit: TemperatureUnit) -> str:
    by_day, by_night = show_temperature(day, unit), show_temperature(night, unit)
    return by_day if by_day == by_night else f"{by_day} by day and {by_night} by night"


def say_trips(situation: Situation, trips: Sequence[Move], helped: str) -> str:
    """What is to be done with one lot, in one sentence."""
    first, pots = trips[0], some(trips[0].pots, "pot")
    cold = {p.name for p in situation.season.places if p.kind == "cooler"}
    if first.to in cold:
        back = f", back to {trips[1].to} on {trips[1].on}" if len(trips) > 1 else " until it is set out"
        return (
            f"Hold {first.lot} ({pots}) in {first.to} from {first.on}, once it shows colour and not before{back}"
            f"{helped}."
        )
    live = next(live for live in situation.lots if live.name == first.lot)
    if live.to_come:
        instead = live.run.stays[0].place
        return f"Bring {first.lot} ({pots}) in to {first.to} instead of {instead} on {first.on}{helped}."
    return f"Move {first.lot} ({pots}) from {first.place} to {first.to} on {first.on}{helped}."


def say_left(lot: str, helped: str) -> str:
    return f"Leave {lot} where it is: do not carry it as was agreed{helped}."


def helped(names: Sequence[str], days: int, own: str) -> str:
    """Which lots an action brings nearer to their targets, and by how much at most; `own`: the one it is done with."""
    if list(names) == [own]:
        return f": {_days(days)} nearer to its target"
    return f": brings {listed(names, NAMED)} nearer, by up to {_days(days)}" if names else ""


def notes(options: Sequence[SteeringOption], lots: Sequence[LotOutcome]) -> tuple[str, ...]:
    """What more would bring, and which lots stay off target that could be brought to it."""
    chosen = next(option for option in options if option.recommended)
    out = []
    more = max(options, key=lambda o: o.actions)
    if more.actions > chosen.actions:
        out.append(
            f"All that is worth its work: {some(more.actions, 'thing')}, {_hours(more.hours)}, {more.within} of "
            f"{len(lots)} lots within {_days(WITHIN)}, {more.days_off:.1f} days off."
        )
    rest = [o for o in _off_target(lots) if _reachable(o)]
    if rest:
        named = listed([f"{o.lot} ({lateness(o.off_after)})" for o in rest], 2 * NAMED)
        out.append(f"More than {_days(WITHIN)} off target, and not worth more work: {named}.")
    return tuple(out)


def beyond(situation: Situation, lots: Sequence[LotOutcome]) -> tuple[str, ...]:
    """Of each lot that cannot be brought to its target its best date, and what could stand in for it; worst first."""
    return tuple(said for o in _off_target(lots) if (said := _beyond_reach(situation, o)))


def _off_target(lots: Sequence[LotOutcome]) -> list[LotOutcome]:
    """The lots off target, the most pot-days first."""
    return sorted((o for o in lots if not o.on_target), key=lambda o: (-o.pots * abs(o.off_after), o.lot))


def _reachable(o: LotOutcome) -> bool:
    return (o.soonest - o.target).days <= WITHIN and (o.target - o.latest).days <= WITHIN + o.spare


def _beyond_reach(situation: Situation, o: LotOutcome) -> str:
    who = f"{o.lot} ({some(o.pots, 'pot')}, target {o.target})"
    expected = f"Expected {_on(o.after.likely, o.target)}."
    if (o.soonest - o.target).days > WITHIN:
        return (
            f"{who} cannot be saved: even at the warmest it may have, from {situation.start} on, it blooms on "
            f"{_on(o.soonest, o.target)}. {expected} {_stand_in(situation, o)}"
        )
    if (o.target - o.latest).days > WITHIN + o.spare:
        return (
            f"{who} cannot be kept back to its target: even at the coolest it may have it blooms on "
            f"{_on(o.latest, o.target)}. {expected}"
        )
    return ""


def _stand_in(situation: Situation, o: LotOutcome) -> str:
    """Lots that could stand in for one on its target."""
    plan, after = situation.worked.plan, {live.name: live.bloom.likely for live in situation.lots}
    found = stand_ins(plan.season, plan.lots, plan.lot(o.lot).lot, o.target, after)
    if not found:
        return "No other lot of its kind has pots to spare in bloom then."
    return f"In bloom then and to spare: {listed(found)}."


def lateness(off: int) -> str:
    if off == 0:
        return "on target"
    return f"{_days(abs(off))} {'late' if off > 0 else 'early'}"


def _on(day: date, target: date) -> str:
    return f"{day}, {lateness((day - target).days)}"


def _days(count: int) -> str:
    return "a day" if count == 1 else f"{count} days"


# ---------------------------------------------------------------- warnings


WARMER = "warmth makes for shorter, weaker stems and a shorter life on show"
BLASTING = "buds can blast (dry up before they open)"


def warnings(situation: Situation, warmer: Sequence[RoomSetting]) -> tuple[Finding, ...]:
    """What warmth costs, of each place that is set warmer than it was to be."""
    most = {s.place: max(w.day for w in warmer if w.place == s.place) for s in warmer}
    unit = situation.season.unit
    found = [
        _warning(
            "steer-warmer", place, WARMER, f"set to {(shown := show_temperature(day, unit))} by day: ",
            f"set warmer are {{names}}: {WARMER}", f"{place} ({shown} by day)",
            "Look at the stems every few days, give light and air, and set it back once the lots show colour.",
        )
        for place, day in most.items()
    ]  # fmt: skip
    within = f"within {'2 °F' if unit == 'F' else '1 °C'} of the highest that"
    for place, lots in _near_highest(situation, warmer).items():
        named = listed(lots, NAMED)
        found.append(_warning(
            "steer-blasting", place, BLASTING, f"{within} {named} {'stands' if len(lots) == 1 else 'stand'}: ",
            f"{within} lots stand are {{names}}: {BLASTING}", f"{place} ({named})",
            "Never set it higher, keep the pots evenly moist and shade on sunny days.",
        ))  # fmt: skip
    return sort_findings(found)


def _warning(code: str, place: str, what: str, why: str, several: str, of: str, hint: str) -> Finding:
    return Finding(
        code, "warning", "places", None, "day", f"{place}, {why}{what}", hint, place=place,
        several=Several(several, hint, of=of),
    )  # fmt: skip


def _near_highest(situation: Situation, warmer: Sequence[RoomSetting]) -> dict[str, list[str]]:
    """The lots of each place that is set close to the warmest that they stand."""
    near: dict[str, set[str]] = {}
    for setting in warmer:
        for live in situation.lots:
            there = (
                any(s.place == setting.place for s in live.run.stays)
                and live.bloom.likely > setting.span.start
            )
            if there and setting.day > live.plan.recipe.bench_high - NEAR_HIGHEST + 1e-6:
                near.setdefault(setting.place, set()).add(live.name)
    return {place: sorted(lots) for place, lots in near.items()}
