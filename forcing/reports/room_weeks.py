"""Places × ISO weeks: what goes in, what goes out and where to, how full, and what the place is set to. No drawing."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from forcing.dates import DAY, WEEK, Span, monday, weeks_of
from forcing.engine.companions import CompanionPlan
from forcing.engine.coolers import pot_area
from forcing.model import LotPlan, Place, Plan, RoomSetting
from forcing.reports.gantt.chart import settings_of

LITTLE = 0.05  # of a pot: less than this is rounding, not a pot
End = Literal["faded", "cleared", "away"]


@dataclass(frozen=True, slots=True)
class Stay:
    """A lot or companion in a place without a break, and why it leaves where it goes nowhere else."""

    item: str
    pots: float
    place: str
    span: Span
    end: End = "away"


@dataclass(frozen=True, slots=True)
class Move:
    """Pots that go in (`to` None) or out; out, to another place or, with `end`, to none."""

    day: date
    item: str
    pots: float
    to: str | None = None
    end: End | None = None


@dataclass(frozen=True, slots=True)
class WeekRow:
    """One ISO week of a place, or several in a row (`span`, whole weeks) in which nothing goes in or out.

    `fullest`: most 15 cm-pot equivalents on one day of them. `settings`: those in force, in order, cut to the span.
    """

    span: Span
    ins: tuple[Move, ...]
    outs: tuple[Move, ...]
    fullest: float
    settings: tuple[RoomSetting, ...]

    @property
    def quiet(self) -> bool:
        return not self.ins and not self.outs


@dataclass(frozen=True, slots=True)
class PlaceWeeks:
    """A place from the first to the last week in which anything goes in, stands there or goes out."""

    place: Place
    rows: tuple[WeekRow, ...]

    def over(self, row: WeekRow) -> float:
        """Pots above the capacity on the fullest day of a row; 0 where there is room or no capacity is stated."""
        above = row.fullest - self.place.pots if self.place.pots is not None else 0.0
        return above if above > 1e-6 else 0.0


def place_weeks(plan: Plan, companions: Sequence[CompanionPlan] = ()) -> tuple[PlaceWeeks, ...]:
    """Every place of the season in its order; one that stays empty has no rows."""
    ins, outs = moves_of(ways_of(plan, companions))
    pots = _pots_by_day(plan, {p.name for p in plan.season.places})
    return tuple(
        PlaceWeeks(place, _rows(plan, place.name, ins[place.name], outs[place.name], pots[place.name]))
        for place in plan.season.places
    )


def ways_of(plan: Plan, companions: Sequence[CompanionPlan] = ()) -> tuple[tuple[Stay, ...], ...]:
    """The stays of each planned lot in the order of the season, then of each companion."""
    listed = {lot.name: i for i, lot in enumerate(plan.season.lots)}
    lots = sorted(plan.lots, key=lambda p: listed.get(p.lot.name, len(listed)))
    ways = (*map(_lot_stays, lots), *map(_companion_stays, companions))
    return tuple(_joined(way) for way in ways)


def _lot_stays(planned: LotPlan) -> Iterator[Stay]:
    for step in planned.phases:
        if step.place is not None and step.span.days:
            end: End = "away"
            if step.step == "show":
                end = "faded" if step.span.end == planned.fade else "cleared"
            yield Stay(planned.lot.name, planned.lot.pots, step.place, step.span, end)


def _companion_stays(grown: CompanionPlan) -> Iterator[Stay]:
    for step in grown.steps:
        if step.place is not None and step.span.days:
            end: End = "cleared" if step.step == "show" else "away"
            yield Stay(grown.companion.name, step.pots, step.place, step.span, end)


def _joined(stays: Iterable[Stay]) -> tuple[Stay, ...]:
    """Stays of one item, with steps that follow each other in the same place made one."""
    out: list[Stay] = []
    for stay in sorted(stays, key=lambda s: (s.span, s.place)):
        last = next(
            (i for i, s in enumerate(out) if s.place == stay.place and s.span.end == stay.span.start), None
        )
        if last is None or out[last].pots != stay.pots:
            out.append(stay)
        else:
            out[last] = Stay(
                stay.item, stay.pots, stay.place, Span(out[last].span.start, stay.span.end), stay.end
            )
    return tuple(out)


def moves_of(ways: Iterable[Sequence[Stay]]) -> tuple[Mapping[str, list[Move]], Mapping[str, list[Move]]]:
    """Moves into each place and out of each place, in the order of the ways."""
    ins: dict[str, list[Move]] = defaultdict(list)
    outs: dict[str, list[Move]] = defaultdict(list)
    for way in ways:
        for stay in way:
            ins[stay.place].append(Move(stay.span.start, stay.item, stay.pots))
            outs[stay.place].extend(_leaving(stay, way))
    return ins, outs


def _leaving(stay: Stay, way: Sequence[Stay]) -> Iterator[Move]:
    """Where the pots of a stay go: to the next place, or parted among several; what is left over goes nowhere."""
    later = [s for s in way if s.span.start >= stay.span.end]
    first = min((s.span.start for s in later), default=None)
    following = [s for s in later if s.span.start == first]
    left = stay.pots
    for after in following:
        taken = min(left, after.pots)
        if taken > 0:
            yield Move(stay.span.end, stay.item, taken, after.place)
        left -= taken
    if left > 0:
        yield Move(stay.span.end, stay.item, left, None, "away" if following else stay.end)


def _pots_by_day(plan: Plan, names: Iterable[str]) -> Mapping[str, Mapping[date, float]]:
    """The plan's own load of each place; of a place without one, its lots counted."""
    found: dict[str, dict[date, float]] = {name: {} for name in names}
    for load in plan.loads:
        found[load.place] = {load.start + timedelta(days=i): pots for i, pots in enumerate(load.pots)}
    loaded = {load.place for load in plan.loads}
    for planned in plan.lots:
        for step in planned.steps:
            if step.place is not None and step.place in found and step.place not in loaded:
                there = found[step.place]
                for day in step.span:
                    there[day] = there.get(day, 0.0) + pot_area(planned)
    return found


def _rows(
    plan: Plan, place: str, ins: Sequence[Move], outs: Sequence[Move], pots: Mapping[date, float]
) -> tuple[WeekRow, ...]:
    days = [move.day for move in (*ins, *outs)] + [day for day, number in pots.items() if number >= LITTLE]
    if not days:
        return ()
    came, went = _by_week(ins), _by_week(outs)
    spans: list[Span] = []
    for week in weeks_of(Span(min(days), max(days) + DAY)):
        quiet = week not in came and week not in went
        if spans and quiet and spans[-1].start not in came and spans[-1].start not in went:
            spans[-1] = Span(spans[-1].start, week + WEEK)
        else:
            spans.append(Span(week, week + WEEK))
    return tuple(
        WeekRow(
            span,
            tuple(came.get(span.start, ())),
            tuple(went.get(span.start, ())),
            max(pots.get(day, 0.0) for day in span),
            settings_of(plan, place, span),
        )
        for span in spans
    )


def _by_week(moves: Sequence[Move]) -> Mapping[date, list[Move]]:
    """Moves by the Monday of their week, in order of day; those of one day stay as they are."""
    found: dict[date, list[Move]] = defaultdict(list)
    for move in sorted(moves, key=lambda m: m.day):
        found[monday(move.day)].append(move)
    return found
