"""Places × ISO weeks: what stands there, what goes in and out and where to, how full, what it is set to. No drawing."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

from forcing.dates import DAY, WEEK, Span, monday, weeks_of
from forcing.engine.companions import CompanionPlan, CompanionStepName
from forcing.engine.loads import FULL, place_loads
from forcing.model import BloomClass, LotPlan, Place, PlaceKind, Plan, RoomSetting, StepName
from forcing.reports.frames import season_order
from forcing.reports.gantt.chart import settings_of

LITTLE = 0.05  # of a pot: less than this is rounding, not a pot
End = Literal["faded", "cleared", "away"]
StayName = StepName | CompanionStepName
KINDS: tuple[PlaceKind, ...] = ("cooler", "bench", "frame", "site")


@dataclass(frozen=True, slots=True)
class PlaceStay:
    """Pots in a place for a step, and why they leave it where they go nowhere else."""

    step: StayName
    pots: float
    place: str
    span: Span
    end: End = "away"
    trays: int = 0  # that it comes in; 0: in its pots


@dataclass(frozen=True, slots=True)
class Way:
    """A lot or companion with its stays in order; `what`: its cultivar, or else its crop."""

    item: str
    what: str
    bloom_class: BloomClass | None
    pots: int
    grown: bool  # a companion
    stays: tuple[PlaceStay, ...]


@dataclass(frozen=True, slots=True)
class RoomMove:
    """Pots that go in (`to` None) or out; out, to another place or, with `end`, to none."""

    day: date
    item: str
    pots: float
    to: str | None = None
    end: End | None = None
    trays: int = 0  # that it comes in; 0: in its pots


@dataclass(frozen=True, slots=True)
class WeekRow:
    """One ISO week of a place, or several in a row (`span`, whole weeks) in which nothing goes in or out.

    `fullest`: most 15 cm-pot equivalents on one day of them. `settings`: those in force, in order, cut to the span.
    """

    span: Span
    ins: tuple[RoomMove, ...]
    outs: tuple[RoomMove, ...]
    fullest: float
    settings: tuple[RoomSetting, ...]

    @property
    def quiet(self) -> bool:
        return not self.ins and not self.outs


@dataclass(frozen=True, slots=True)
class PlaceWeeks:
    """A place: the ways that lead through it (with the stays there only) and its weeks."""

    place: Place
    ways: tuple[Way, ...]
    settings: tuple[RoomSetting, ...]  # all, like ones joined
    weeks: tuple[WeekRow, ...]  # every one from the first to the last in which pots are in it, come or go

    @property
    def rows(self) -> tuple[WeekRow, ...]:
        """The weeks, those in a row in which nothing goes in or out made one."""
        out: list[WeekRow] = []
        for week in self.weeks:
            if out and out[-1].quiet and week.quiet:
                span = Span(out[-1].span.start, week.span.end)
                fullest = max(out[-1].fullest, week.fullest)
                out[-1] = replace(out[-1], span=span, fullest=fullest, settings=cut(self.settings, span))
            else:
                out.append(week)
        return tuple(out)

    def week(self, start: date) -> WeekRow:
        """The week that begins on a Monday, which may lie before or after those of the place."""
        span = Span(start, start + WEEK)
        unused = WeekRow(span, (), (), 0.0, cut(self.settings, span))
        return next((week for week in self.weeks if week.span == span), unused)

    def over(self, row: WeekRow) -> float:
        """Pots above the capacity on the fullest day of a row; 0 where there is room or no capacity is stated."""
        above = row.fullest - self.place.pots if self.place.pots is not None else 0.0
        return above if above > FULL else 0.0


def place_weeks(
    plan: Plan, companions: Sequence[CompanionPlan] = (), kinds: Collection[PlaceKind] = KINDS
) -> tuple[PlaceWeeks, ...]:
    """The places of these kinds in the order of the season; one that stays empty has no weeks."""
    ways = ways_of(plan, companions)
    ins, outs = moves_of(ways)
    loads, own = plan.loads, {load.place for load in plan.loads}
    if not own.issuperset(place.name for place in plan.season.places):
        loads = (
            *place_loads(plan.season, plan.lots),
            *loads,
        )  # of a place without a load, its lots are counted
    pots = {o.place: {o.start + timedelta(days=i): n for i, n in enumerate(o.pots)} for o in loads}
    whole = Span(date.min, date.max)
    return tuple(
        PlaceWeeks(
            place,
            tuple(way for each in ways if (way := _within(each, place.name)).stays),
            (settings := settings_of(plan, place.name, whole)),
            _weeks(ins[place.name], outs[place.name], pots[place.name], settings),
        )
        for place in plan.season.places
        if place.kind in kinds
    )


def ways_of(plan: Plan, companions: Sequence[CompanionPlan] = ()) -> tuple[Way, ...]:
    """The way of each planned lot in the order of the season, then of each companion."""
    return (*map(_lot_way, season_order(plan)), *map(_companion_way, companions))


def _lot_way(planned: LotPlan) -> Way:
    lot = planned.lot
    stays = (
        PlaceStay(s.step, lot.pots, s.place, s.span, "away" if s.step != "show"
             else "faded" if s.span.end == planned.fade else "cleared")
        for s in planned.phases if s.place is not None and s.span.days
    )  # fmt: skip
    return Way(
        lot.name,
        lot.cultivar or lot.crop,
        planned.bloom_class,
        lot.pots,
        False,
        tuple(sorted(stays, key=_when)),
    )


def _companion_way(grown: CompanionPlan) -> Way:
    stays = (
        PlaceStay(s.step, s.pots, s.place, s.span, "cleared" if s.step == "show" else "away", s.trays)
        for s in grown.steps if s.place is not None and s.span.days
    )  # fmt: skip
    named = grown.companion
    return Way(named.name, named.crop, None, named.pots, True, tuple(sorted(stays, key=_when)))


def _when(stay: PlaceStay) -> tuple[Span, str]:
    return stay.span, stay.place


def _within(way: Way, place: str) -> Way:
    return replace(way, stays=tuple(stay for stay in way.stays if stay.place == place))


def joined(stays: Iterable[PlaceStay]) -> tuple[PlaceStay, ...]:
    """Stays of one item in order, with steps of as many pots that follow each other in the same place made one."""
    out: list[PlaceStay] = []
    for stay in stays:
        for i, last in enumerate(out):
            if (last.place, last.span.end, last.pots) == (stay.place, stay.span.start, stay.pots):
                out[i] = replace(stay, span=Span(last.span.start, stay.span.end), trays=last.trays)
                break
        else:
            out.append(stay)
    return tuple(out)


def moves_of(ways: Iterable[Way]) -> tuple[Mapping[str, list[RoomMove]], Mapping[str, list[RoomMove]]]:
    """Moves into each place and out of each place, in the order of the ways."""
    ins: dict[str, list[RoomMove]] = defaultdict(list)
    outs: dict[str, list[RoomMove]] = defaultdict(list)
    for way in ways:
        stays = joined(way.stays)
        for stay in stays:
            ins[stay.place].append(RoomMove(stay.span.start, way.item, stay.pots, trays=stay.trays))
            outs[stay.place].extend(_leaving(way.item, stay, stays))
    return ins, outs


def _leaving(item: str, stay: PlaceStay, stays: Sequence[PlaceStay]) -> Iterator[RoomMove]:
    """Where the pots of a stay go: to the next place, or parted among several; what is left over goes nowhere."""
    later = [s for s in stays if s.span.start >= stay.span.end]
    first = min((s.span.start for s in later), default=None)
    following = [s for s in later if s.span.start == first]
    left = stay.pots
    for after in following:
        taken = min(left, after.pots)
        if taken > 0:
            yield RoomMove(stay.span.end, item, taken, after.place)
        left -= taken
    if left > 0:
        yield RoomMove(stay.span.end, item, left, None, "away" if following else stay.end)


def _weeks(
    ins: Sequence[RoomMove],
    outs: Sequence[RoomMove],
    pots: Mapping[date, float],
    settings: Sequence[RoomSetting],
) -> tuple[WeekRow, ...]:
    days = [move.day for move in (*ins, *outs)] + [day for day, number in pots.items() if number >= LITTLE]
    if not days:
        return ()
    came, went = _by_week(ins), _by_week(outs)
    return tuple(
        WeekRow(
            (span := Span(week, week + WEEK)),
            tuple(came.get(week, ())),
            tuple(went.get(week, ())),
            max(pots.get(day, 0.0) for day in span),
            cut(settings, span),
        )
        for week in weeks_of(Span(min(days), max(days) + DAY))
    )


def cut(settings: Iterable[RoomSetting], span: Span) -> tuple[RoomSetting, ...]:
    """Those in force within a span, cut to it."""
    return tuple(
        replace(s, span=Span(max(s.span.start, span.start), min(s.span.end, span.end)))
        for s in settings
        if s.span.overlap(span)
    )


def _by_week(moves: Sequence[RoomMove]) -> Mapping[date, list[RoomMove]]:
    """Moves by the Monday of their week, in order of day; those of one day stay as they are."""
    found: dict[date, list[RoomMove]] = defaultdict(list)
    for move in sorted(moves, key=lambda m: m.day):
        found[monday(move.day)].append(move)
    return found
