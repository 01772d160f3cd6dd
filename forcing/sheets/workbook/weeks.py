"""Places × ISO weeks: how full each place is, what it is set to, which lots and companions stand there. No drawing."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from forcing.dates import DAY, WEEK, Span, monday
from forcing.engine.companions import CompanionPlan, CompanionStep, CompanionStepName
from forcing.engine.rooms import pot_area
from forcing.model import LotPlan, Place, PlaceKind, Plan, RoomSetting, Step, StepName
from forcing.sheets.tables import season_order

LITTLE = 0.05  # of a pot: less than this is rounding, not a pot


Planned = LotPlan | CompanionPlan
Standing = Step | CompanionStep
Name = StepName | CompanionStepName


@dataclass(frozen=True, slots=True)
class Stay:
    """A lot or companion in a place during one week: its steps there in order, and the one that fills most days."""

    steps: tuple[Name, ...]
    main: Name


@dataclass(frozen=True, slots=True)
class LotRow:
    """One lot or companion in one place; `stays` has an entry a week, None where it is not there."""

    planned: Planned
    first_day: date
    stays: tuple[Stay | None, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """A temperature that begins during a week; `before` is what the place was set to until then."""

    setting: RoomSetting
    before: RoomSetting


@dataclass(frozen=True, slots=True)
class WeekSetting:
    """What a place is set to in one week: as the week begins (None: not stated), then its changes."""

    first: RoomSetting | None
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class PlaceBlock:
    """One place over the weeks of a calendar; `peaks`: its fullest day each week, in 15 cm-pot equivalents."""

    place: Place
    peaks: tuple[float, ...]
    settings: tuple[WeekSetting, ...]
    rows: tuple[LotRow, ...]

    @property
    def empty(self) -> bool:
        return not self.rows and max(self.peaks, default=0.0) < LITTLE


@dataclass(frozen=True, slots=True)
class Calendar:
    """The places of some kinds, over the weeks (by their Mondays) in which any of them is used."""

    weeks: tuple[date, ...]
    blocks: tuple[PlaceBlock, ...]


def calendar_of(plan: Plan, kinds: Iterable[PlaceKind], companions: Sequence[CompanionPlan] = ()) -> Calendar:
    """The calendar of every place of these kinds, in the season's order of places; lots before companions."""
    wanted = tuple(kinds)
    places = [place for place in plan.season.places if place.kind in wanted]
    names = {place.name for place in places}
    steps: dict[str, list[tuple[Planned, Standing]]] = defaultdict(list)
    everyone: tuple[Planned, ...] = (*season_order(plan), *companions)
    for planned in everyone:
        for step in planned.steps:
            if step.place in names and step.span.days:
                steps[step.place].append((planned, step))
    pots = {name: _pots_by_day(plan, name, steps[name]) for name in names}
    used = [day for by_day in pots.values() for day, number in by_day.items() if number >= LITTLE]
    used += [day for stays in steps.values() for _, s in stays for day in (s.span.start, s.span.end - DAY)]
    weeks = _mondays(used)
    return Calendar(weeks, tuple(_block(plan, p, weeks, steps[p.name], pots[p.name]) for p in places))


def _mondays(days: Sequence[date]) -> tuple[date, ...]:
    if not days:
        return ()
    first, last = monday(min(days)), monday(max(days))
    return tuple(first + WEEK * i for i in range((last - first).days // 7 + 1))


def _pots_by_day(plan: Plan, name: str, steps: Sequence[tuple[Planned, Standing]]) -> dict[date, float]:
    """The plan's own load where it covers the day, else the lots counted."""
    total: dict[date, float] = defaultdict(float)
    for planned, step in steps:
        if isinstance(planned, LotPlan):
            for day in step.span:
                total[day] += pot_area(planned)
    for load in plan.loads:
        if load.place == name:
            total.update((load.start + timedelta(days=i), pots) for i, pots in enumerate(load.pots))
    return total


def _block(
    plan: Plan,
    place: Place,
    weeks: tuple[date, ...],
    steps: Sequence[tuple[Planned, Standing]],
    pots: Mapping[date, float],
) -> PlaceBlock:
    settings = sorted((r for r in plan.rooms if r.place == place.name), key=lambda r: r.span)
    return PlaceBlock(
        place,
        tuple(_most(pots, week) for week in weeks),
        tuple(_week_setting(settings, week) for week in weeks),
        _lot_rows(weeks, steps),
    )


def _most(pots: Mapping[date, float], week: date) -> float:
    return max(0.0, *(pots.get(week + timedelta(days=i), 0.0) for i in range(7)))


def _lot_rows(weeks: tuple[date, ...], steps: Sequence[tuple[Planned, Standing]]) -> tuple[LotRow, ...]:
    """A row a lot, in the order they arrive, then one a companion; those of one day stay in season order."""
    by_lot: dict[tuple[bool, str], list[tuple[Planned, Standing]]] = defaultdict(list)
    for planned, step in steps:
        grown = isinstance(planned, CompanionPlan)
        by_lot[grown, step.companion if isinstance(step, CompanionStep) else step.lot].append((planned, step))
    rows = []
    for stays in by_lot.values():
        ordered = sorted((step for _, step in stays), key=lambda s: s.span)
        rows.append(LotRow(stays[0][0], ordered[0].span.start, tuple(_stay(ordered, w) for w in weeks)))
    return tuple(sorted(rows, key=lambda row: (isinstance(row.planned, CompanionPlan), row.first_day)))


def _stay(steps: Sequence[Standing], week: date) -> Stay | None:
    span = Span(week, week + WEEK)
    there = [(step.step, step.span.overlap(span)) for step in steps if step.span.overlap(span)]
    if not there:
        return None
    names = tuple(dict.fromkeys(name for name, _ in there))
    # Of steps with as many days, the later one: it is what staff will find.
    days = {name: sum(d for n, d in there if n == name) for name in names}
    return Stay(names, max(reversed(names), key=lambda name: days[name]))


def _week_setting(settings: Sequence[RoomSetting], week: date) -> WeekSetting:
    first, changes, before = None, [], None
    for setting in settings:
        if setting.span.start <= week < setting.span.end:
            first = setting
        if setting.span.overlap(Span(week, week + WEEK)) and setting.span.start >= week:
            changed = before is not None and (before.day, before.night) != (setting.day, setting.night)
            if before is not None and changed:
                changes.append(Change(setting, before))
            elif first is None:
                first = setting
        before = setting
    return WeekSetting(first, tuple(changes))
