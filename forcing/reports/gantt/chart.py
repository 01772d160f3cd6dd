"""What the Gantt sheet shows, worked out from a plan before anything is drawn: days, rows, groups, loads.

Pure: no drawing, no files; days stay dates.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from forcing.dates import DAY, WEEK, Span, monday
from forcing.model import CLASSES, BloomClass, LotPlan, PlaceLoad, Plan, RoomSetting, Step
from forcing.reports.draw.days import last_open, shown_words
from forcing.reports.style import lateness_words, long_date
from forcing.text import natural, number, some

_A_HAIR = 1e-6  # pots: a sum of fractions this little above a capacity is not over it


@dataclass(frozen=True, slots=True)
class GanttRow:
    """One lot: its steps in order, its target and its bloom window."""

    plan: LotPlan
    bloom_class: BloomClass | None
    steps: tuple[Step, ...]  # those of at least one day
    target: date
    window: tuple[date, date | None]  # bloom and fade; None: the fade is not known

    @property
    def name(self) -> str:
        return self.plan.lot.name

    @property
    def lateness(self) -> str:
        """Bloom, or the stage that is wanted then, against target in words."""
        return lateness_words((self.plan.ready - self.target).days)


@dataclass(frozen=True, slots=True)
class Group:
    """The lots of one class, or of crops that have none, by target date and name."""

    bloom_class: BloomClass | None
    rows: tuple[GanttRow, ...]
    only: bool = False  # there is no other group

    @property
    def heading(self) -> str:
        name = self.bloom_class.capitalize() if self.bloom_class else "All" if self.only else "Others"
        pots = sum(row.plan.lot.pots for row in self.rows)
        return f"{name}: {some(len(self.rows), 'lot')}, {some(pots, 'pot')}"


@dataclass(frozen=True, slots=True)
class Over:
    """Weeks in a row in which a place is overfull on some day: their Mondays, and the most pots over."""

    first: date
    last: date
    pots: float

    @property
    def words(self) -> str:
        weeks = f"W{self.first.isocalendar().week:02d}"
        if self.last != self.first:
            weeks += f"–W{self.last.isocalendar().week:02d}"
        return f"{weeks}: {number(self.pots)} over"


@dataclass(frozen=True, slots=True)
class Chart:
    """All that the sheet shows. `span` is whole ISO weeks."""

    plan: Plan
    span: Span
    groups: tuple[Group, ...]
    loads: tuple[PlaceLoad, ...]  # those with pots in them
    empty: tuple[str, ...]  # places in which nothing stands

    @property
    def rows(self) -> Iterator[GanttRow]:
        return (row for group in self.groups for row in group.rows)


def chart_of(plan: Plan) -> Chart:
    """The chart of a plan: lots grouped by class, the weeks that hold them all, the loads of places."""
    rows = sorted(map(_row, plan.lots), key=lambda row: (row.target, natural(row.name)))
    groups = tuple(
        Group(kind, members, len(members) == len(rows))
        for kind in (*CLASSES, None)
        if (members := tuple(row for row in rows if row.bloom_class == kind))
    )
    full = tuple(load for load in plan.loads if any(load.pots))
    empty = tuple(load.place for load in plan.loads if not any(load.pots))
    return Chart(plan, _whole_weeks(plan, full), groups, full, empty)


def _row(planned: LotPlan) -> GanttRow:
    return GanttRow(
        planned,
        planned.bloom_class,
        tuple(step for step in planned.phases if step.span.days),
        planned.target,
        (planned.bloom, planned.fade),
    )


def _whole_weeks(plan: Plan, loads: tuple[PlaceLoad, ...]) -> Span:
    """The ISO weeks that hold every step, target and bloom, the show, and every day with pots in a place."""
    show = plan.season.span
    days = [show.start, last_open(show)]
    for planned in plan.lots:
        days += [planned.target, planned.bloom]
        days += [planned.fade - DAY] if planned.fade else []
        for step in planned.steps:
            if step.span.days:
                days += [step.span.start, step.span.end - DAY]
    for load in loads:
        used = [i for i, pots in enumerate(load.pots) if pots]
        days += [load.start + timedelta(days=i) for i in (used[0], used[-1])]
    return Span(monday(min(days)), monday(max(days)) + WEEK)


def load_on(load: PlaceLoad, span: Span) -> list[tuple[Span, float]]:
    """The pots in a place over a span, as runs of days with the same number; 0 outside what is given."""
    runs: list[tuple[Span, float]] = []
    for day in span:
        i = (day - load.start).days
        pots = load.pots[i] if 0 <= i < len(load.pots) else 0.0
        if runs and runs[-1][1] == pots:
            runs[-1] = (Span(runs[-1][0].start, day + DAY), pots)
        else:
            runs.append((Span(day, day + DAY), pots))
    return runs


def over_runs(load: PlaceLoad) -> tuple[Over, ...]:
    """The weeks in which a place holds more than its capacity; none where no capacity is stated."""
    if load.capacity is None:
        return ()
    worst: dict[date, float] = {}
    for i, pots in enumerate(load.pots):
        if pots > load.capacity + _A_HAIR:
            week = monday(load.start + timedelta(days=i))
            worst[week] = max(worst.get(week, 0.0), pots - load.capacity)
    runs: list[Over] = []
    for week, pots in worst.items():
        if runs and runs[-1].last + WEEK == week:
            runs[-1] = Over(runs[-1].first, week, max(runs[-1].pots, pots))
        else:
            runs.append(Over(week, week, pots))
    return tuple(runs)


def fullest(load: PlaceLoad) -> tuple[float, date]:
    """The most pots in a place and the first day it holds them. The load must not be empty."""
    pots = max(load.pots)
    return pots, load.start + timedelta(days=load.pots.index(pots))


def capacity_words(load: PlaceLoad) -> str:
    return "" if load.capacity is None else f"capacity {number(load.capacity)}"


def settings_of(plan: Plan, place: str, span: Span) -> tuple[RoomSetting, ...]:
    """The temperatures a place is set to within a span, like ones joined, in order of date."""
    runs: list[RoomSetting] = []
    for room in sorted((r for r in plan.rooms if r.place == place), key=lambda r: r.span):
        start, end = max(room.span.start, span.start), min(room.span.end, span.end)
        if start >= end:
            continue
        last = runs[-1] if runs else None
        if last and last.span.end == start and (last.day, last.night) == (room.day, room.night):
            start = last.span.start
            runs.pop()
        runs.append(RoomSetting(place, Span(start, end), room.day, room.night, room.basis))
    return tuple(runs)


def subtitle(chart: Chart) -> str:
    """The season in one line of words."""
    plan = chart.plan
    lots = sum(1 for _ in chart.rows)
    pots = sum(row.plan.lot.pots for row in chart.rows)
    words = shown_words(plan)
    parts = [
        f"{words[0].upper()}{words[1:]}",
        f"{some(lots, 'lot')}, {some(pots, 'pot')}" if lots else "no lot is planned",
    ]
    if plan.unplanned:
        parts.append(f"{some(len(plan.unplanned), 'lot')} without a plan, named below the rows")
    return "  ·  ".join((*parts, f"as of {long_date(plan.on)}"))


def unplanned_words(plan: Plan) -> tuple[str, ...]:
    """For each lot without a plan: which it is, why, and the earliest bloom that is possible."""
    lines = []
    for item in plan.unplanned:
        lot = item.lot
        called = f", {lot.cultivar}" if lot.cultivar else f", {lot.crop}"
        when = f"earliest bloom {long_date(item.earliest)}" if item.earliest else "earliest bloom not known"
        lines.append(f"{lot.name}{called}, {some(lot.pots, 'pot')}: {item.reason.rstrip('. ')}; {when}.")
    return tuple(lines)


def other_hours(plan: Plan) -> tuple[str, ...]:
    """Displays that open or close on other days than the show, in words."""
    return tuple(
        f"{d.name} is open {long_date(d.span.start)} to {long_date(last_open(d.span))}."
        for d in plan.season.displays
        if d.span != plan.season.span
    )
