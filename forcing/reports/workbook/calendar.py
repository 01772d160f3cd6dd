"""The sheets `Cooler calendar` and `Bench calendar`: places × weeks, drawn so that a grey print says the same."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from openpyxl.utils import get_column_letter

from forcing.dates import DAY, WEEK, WEEKDAYS, Span, iso_week, monday
from forcing.engine.companions import CompanionPlan, CompanionStep, CompanionStepName
from forcing.engine.coolers import pot_area
from forcing.model import LotPlan, Place, PlaceKind, Plan, RoomSetting, Step, StepName
from forcing.reports.frames import season_order
from forcing.reports.style import ALERT, CLASS_MARKS, INK, PAPER, QUIET, RULE, STEP_MARKS, TINT, count
from forcing.reports.workbook.cells import (
    NOTE,
    PLAIN,
    TITLE,
    Look,
    Pen,
    height,
    lines,
    readable,
    shorten,
    text_width,
    units,
)
from forcing.reports.workbook.orders import bloom_class
from forcing.reports.workbook.table import lay_columns, lay_rows, set_up_page, widen
from forcing.units import TemperatureUnit, from_celsius

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
        for step in planned.phases if isinstance(planned, LotPlan) else planned.steps:
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


STEP_LETTERS: dict[Name, str] = {
    "pot": "p", "root": "r", "cool": "c", "bench": "b", "hold": "h", "harden": "o", "show": "s", "sow": "w",
    "grow": "g",
}  # fmt: skip
_WORDS: dict[Name, str] = {
    "pot": "potting", "root": "rooting", "cool": "cold", "bench": "bench", "hold": "held cold",
    "harden": "hardening off", "show": "in bloom", "sow": "sown", "grow": "companion growing on",
}  # fmt: skip
_ON_BENCH = STEP_MARKS["bench"].fill
_FILLS: dict[Name, str] = {
    **{step: mark.fill for step, mark in STEP_MARKS.items()}, "sow": _ON_BENCH, "grow": _ON_BENCH,
}  # fmt: skip
_SMALL = 9.0
_FIRST = 5  # first column of weeks; before it place, lot, cultivar, class
_TOP = 5  # first row below the frozen rows
_PLACE, _LOT, _CULTIVAR = 76.0, 90.0, 108.0  # points, at most
_SIDE_ROOM = 200.0  # points: the side columns together, at their narrowest, for bold text
_OVER = 1e-6  # as the engine: rounding of pot areas is not an overfull room
_WEEK = units(text_width("28 Mar", _SMALL) + 2)  # of column: the widest Monday
_LEGEND = 14  # columns of weeks that the legend takes: they fit on one page

# Share of capacity from which each look counts; the space left stands below it in figures.
_FULLNESS = ((0.0, PAPER), (0.5, TINT), (0.75, CLASS_MARKS[None].fill), (0.9, RULE))

_CELL = Look(size=_SMALL, align="center", edge="grid")
_SIDE = Look(size=_SMALL, edge="grid")
_HEAD = Look(size=_SMALL, bold=True, fill=TINT, align="center", edge="grid")
_NOW = Look(size=_SMALL, bold=True, ink=PAPER, fill=INK, align="center", edge="grid")
_BAND = Look(size=11, bold=True)


def write_calendar(
    pen: Pen,
    sheet: Any,
    plan: Plan,
    title: str,
    kinds: Sequence[PlaceKind],
    word: str,
    companions: Sequence[CompanionPlan] = (),
) -> None:
    """One calendar sheet; `word` names its places, like 'cooler'. The `companions` stand below the lots."""
    calendar = calendar_of(plan, kinds, companions)
    # Not over the columns that every page repeats: there the words would be cut.
    pen.put(sheet, 1, _FIRST if calendar.weeks else 1, title, TITLE)
    sheet.row_dimensions[1].height = height(1, TITLE.size)
    sheet.sheet_view.showGridLines = False
    if not calendar.weeks:
        _empty(pen, sheet, plan, calendar, word)
        return
    _week_heads(pen, sheet, plan, calendar.weeks)
    row, blocks = _TOP, []
    for block in calendar.blocks:
        end = _draw_block(pen, sheet, plan, calendar.weeks, block, row)
        for r in range(row, end + 1):
            if sheet.row_dimensions[r].height is None:
                sheet.row_dimensions[r].height = height(1, _SMALL)
        blocks.append((row, end))
        row = end + 1
    sheet.freeze_panes = sheet.cell(_TOP, _FIRST).coordinate
    sheet.print_title_rows = f"1:{_TOP - 1}"
    sheet.print_title_cols = f"A:{get_column_letter(_FIRST - 1)}"
    for column, room in enumerate((_PLACE, 28.0, _CULTIVAR, text_width("Class", _SMALL, True)), 1):
        widen(sheet, column, units(room))
    for column in range(_FIRST, _FIRST + _LEGEND):
        widen(sheet, column, _WEEK)
    set_up_page(sheet, plan.season.paper, plan.season.title)
    last = _FIRST + max(_LEGEND, len(calendar.weeks)) - 1
    layout = lay_columns(sheet, plan.season.paper, _FIRST, last)
    _legend(pen, sheet, calendar, min(layout.last_on_first_page, _FIRST + _LEGEND - 1))
    lay_rows(sheet, plan.season.paper, layout, _TOP, blocks)


def _empty(pen: Pen, sheet: Any, plan: Plan, calendar: Calendar, word: str) -> None:
    names = [_place_text(block.place) for block in calendar.blocks]
    said = f"No lot goes into a {word}." if names else f"No {word} is stated in this season."
    pen.put(sheet, 2, 1, said, PLAIN)
    for row, name in enumerate(names, 4):
        pen.put(sheet, row, 1, name, PLAIN)
    set_up_page(sheet, plan.season.paper, plan.season.title)


# ---------------------------------------------------------------- the rows above the places


def _legend(pen: Pen, sheet: Any, calendar: Calendar, last: int) -> None:
    """How to read the calendar, over the columns of weeks up to `last`."""
    used = {name for b in calendar.blocks for r in b.rows for stay in r.stays if stay for name in stay.steps}
    letters = ", ".join(f"{STEP_LETTERS[n]} {_WORDS[n]}" for n in STEP_LETTERS if n in used)
    text = f"Letters: {letters}; two letters: it changes in that week. Then the lot's pots. "
    text += "Most pots, space left: 15 cm-pot equivalents on the fullest day of the week, "
    text += "the darker the fuller; ▲ over capacity. ↓ ↑ new temperature and its day. Black week: this week."
    pen.put(sheet, 2, _FIRST, text, NOTE.but(size=_SMALL, wrap=True))
    sheet.merge_cells(start_row=2, end_row=2, start_column=_FIRST, end_column=last)
    room = sum(sheet.column_dimensions[get_column_letter(c)].width for c in range(_FIRST, last + 1))
    sheet.row_dimensions[2].height = height(lines(text, room, _SMALL), _SMALL)


def _week_heads(pen: Pen, sheet: Any, plan: Plan, weeks: Sequence[date]) -> None:
    """Two frozen rows: ISO week with its year where the year begins, and the date of its Monday."""
    for column, name in enumerate(("Place", "Lot", "Cultivar", "Class"), 1):
        pen.put(sheet, _TOP - 2, column, name, _HEAD.but(align="left"))
    pen.put(sheet, _TOP - 1, 1, "Monday of the week", _HEAD.but(align="left"))
    for column in (2, 3, 4):
        pen.put(sheet, _TOP - 1, column, None, _HEAD)
    for i, week in enumerate(weeks):
        look = _NOW if week == monday(plan.on) else _HEAD
        pen.put(sheet, _TOP - 2, _FIRST + i, _week_label(weeks, i), look.but(wrap=True))
        pen.put(sheet, _TOP - 1, _FIRST + i, week, look.but(bold=False, number="[$-809]d mmm"))
        widen(sheet, _FIRST + i, _WEEK)
    sheet.row_dimensions[_TOP - 2].height = height(2, _SMALL)
    sheet.row_dimensions[_TOP - 1].height = height(1, _SMALL)


def _week_label(weeks: Sequence[date], i: int) -> str:
    """'W45', with the year of the week above it in the first column and where the year changes."""
    year, week = iso_week(weeks[i]).split("-")
    new = i == 0 or iso_week(weeks[i - 1])[:4] != year
    return f"{year}\n{week}" if new else f"\n{week}"


# ---------------------------------------------------------------- one place


def _draw_block(pen: Pen, sheet: Any, plan: Plan, weeks: Sequence[date], block: PlaceBlock, top: int) -> int:
    """Draw a place from row `top`; gives the row after its last."""
    name = shorten(block.place.name, _SIDE_ROOM, _BAND.size)
    pen.put(sheet, top, 1, name, _BAND)
    pen.put(sheet, top, _FIRST, _place_text(block.place, name), NOTE.but(size=_SMALL))
    sheet.row_dimensions[top].height = height(1, 11) + 2
    if block.empty:
        pen.put(sheet, top + 1, 1, "No lot stands here.", _SIDE.but(edge="", ink=QUIET))
        return top + 2
    row = top + 1
    _side(pen, sheet, row, "Week", bold=True)
    for i, week in enumerate(weeks):
        look = _NOW if week == monday(plan.on) else _HEAD
        pen.put(sheet, row, _FIRST + i, iso_week(week)[5:], look)
    _fullness(pen, sheet, row + 1, block)
    row = _temperatures(pen, sheet, row + 3, plan.season.unit, block)
    for lot_row in block.rows:
        _lot(pen, sheet, row, block.place, lot_row)
        row += 1
    return row


def _place_text(place: Place, written: str = "") -> str:
    """Kind and room of a place, with its name where that is not `written` in full beside it."""
    room = "capacity not stated" if place.pots is None else f"room for {count(place.pots)} pots of 15 cm"
    return f"{place.kind}, {room}" if written == place.name else f"{place.name}: {place.kind}, {room}"


def _side(pen: Pen, sheet: Any, row: int, text: str, *, bold: bool = False) -> None:
    """A label over the four columns at the side."""
    pen.put(sheet, row, 1, text, _SIDE.but(bold=bold, edge=""))


def _fullness(pen: Pen, sheet: Any, row: int, block: PlaceBlock) -> None:
    """Two rows: most pots of each week on a ground as dark as the place is full, and the space left."""
    capacity = block.place.pots
    _side(pen, sheet, row, "Most pots in the week", bold=True)
    _side(pen, sheet, row + 1, "Space left" if capacity is not None else "Space left: not known")
    for i, peak in enumerate(block.peaks):
        column = _FIRST + i
        over = 0.0 if capacity is None else peak - capacity
        value = round(peak, 1) if peak >= LITTLE else None
        pen.put(sheet, row, column, value, _full_look(peak, capacity))
        if capacity is None:
            pen.put(sheet, row + 1, column, None, _CELL)
        elif over > _OVER:
            text = f"▲ +{count(max(over, 0.1))}"
            pen.put(sheet, row + 1, column, text, _CELL.but(bold=True, ink=ALERT))
            widen(sheet, column, units(text_width(text, _SMALL, True) + 3))
        else:
            pen.put(
                sheet,
                row + 1,
                column,
                round(max(0.0, -over), 1),
                _CELL.but(ink=QUIET, number=_decimals(over)),
            )


def _decimals(value: float) -> str:
    return "#,##0" if abs(value - round(value)) < LITTLE else "#,##0.0"


def _full_look(peak: float, capacity: float | None) -> Look:
    look = _CELL.but(bold=True, number=_decimals(peak))
    if capacity is None or peak < LITTLE:
        return look
    if peak > capacity + _OVER:
        return look.but(fill=QUIET, pattern="lightUp", ground=_FULLNESS[2][1])
    share = peak / capacity
    fill = [colour for start, colour in _FULLNESS if share >= start][-1]
    return look if fill == PAPER else look.but(fill=fill)


# ---------------------------------------------------------------- temperatures


def _temperatures(pen: Pen, sheet: Any, row: int, unit: TemperatureUnit, block: PlaceBlock) -> int:
    """One row where day and night are alike all through, else two. Gives the next row."""
    all_set = [s for week in block.settings for s in _all(week)]
    if not all_set:
        _side(pen, sheet, row, "Set to: not stated")
        return row + 1
    if all(s.day == s.night for s in all_set):
        _temperature_row(pen, sheet, row, unit, block, f"Set to, °{unit}", "day")
        return row + 1
    _temperature_row(pen, sheet, row, unit, block, f"Day, °{unit}", "day")
    _temperature_row(pen, sheet, row + 1, unit, block, f"Night, °{unit}", "night")
    return row + 2


def _all(week: WeekSetting) -> tuple[RoomSetting, ...]:
    return tuple(filter(None, (week.first, *(change.setting for change in week.changes))))


def _temperature_row(
    pen: Pen, sheet: Any, row: int, unit: TemperatureUnit, block: PlaceBlock, label: str, part: str
) -> None:
    _side(pen, sheet, row, label)
    tallest = 1
    for i, week in enumerate(block.settings):
        changes = [
            change for change in week.changes if _part(change.setting, part) != _part(change.before, part)
        ]
        if not changes:
            value = None if not _all(week) else _shown(_part(_all(week)[-1], part), unit)
            pen.put(
                sheet, row, _FIRST + i, value, _CELL.but(number="0.0" if isinstance(value, float) else "0")
            )
            continue
        said = [_change_text(change, part, unit) for change in changes]
        starts_monday = changes[0].setting.span.start.weekday() == 0
        if week.first is not None and not starts_monday:
            said.insert(0, f"{_shown(_part(week.first, part), unit)}")
        text = "\n".join(said)
        tallest = max(tallest, text.count("\n") + 1)
        pen.put(sheet, row, _FIRST + i, text, _CELL.but(bold=True, wrap=True))
    sheet.row_dimensions[row].height = height(tallest, _SMALL)


def _part(setting: RoomSetting, part: str) -> float:
    return setting.day if part == "day" else setting.night


def _shown(celsius: float, unit: TemperatureUnit) -> int | float:
    value = round(from_celsius(celsius, unit), 1)
    return int(value) if value == int(value) else value


def _change_text(change: Change, part: str, unit: TemperatureUnit) -> str:
    """Like '↓5' over 'Mon'."""
    new, old = _part(change.setting, part), _part(change.before, part)
    arrow = "↓" if new < old else "↑"
    return f"{arrow}{_shown(new, unit)}\n{WEEKDAYS[change.setting.span.start.weekday()]}"


# ---------------------------------------------------------------- lots


def _lot(pen: Pen, sheet: Any, row: int, place: Place, lot_row: LotRow) -> None:
    planned = lot_row.planned
    name, what, letter, pots = _who(planned)
    # The place on every row: a long one goes on over pages that do not show its name.
    pen.put(sheet, row, 1, shorten(place.name, _PLACE, _SMALL), _SIDE.but(ink=QUIET))
    pen.put(sheet, row, 2, shorten(name, _LOT, _SMALL), _SIDE.but(bold=True))
    pen.put(sheet, row, 3, shorten(what, _CULTIVAR, _SMALL), _SIDE)
    pen.put(sheet, row, 4, letter, _SIDE.but(align="center"))
    widen(sheet, 2, units(text_width(shorten(name, _LOT, _SMALL), _SMALL, True)))
    for i, stay in enumerate(lot_row.stays):
        if stay is None:
            pen.put(sheet, row, _FIRST + i, None, _CELL)
            continue
        letters = "".join(STEP_LETTERS[step] for step in stay.steps)
        fill, ink = readable(_FILLS[stay.main])
        # The figure stays a number that can be summed; its letters are part of its format.
        look = _CELL.but(fill=fill, ink=ink, number=f'"{letters} "0')
        pen.put(sheet, row, _FIRST + i, pots, look)
        widen(sheet, _FIRST + i, units(text_width(f"{letters} {pots}", _SMALL) + 2))


def _who(planned: LotPlan | CompanionPlan) -> tuple[str, str, str, int]:
    """Name, cultivar or crop, letter of the class (none for a companion) and pots."""
    if isinstance(planned, CompanionPlan):
        return planned.companion.name, planned.companion.crop, "", planned.companion.pots
    lot = planned.lot
    return lot.name, lot.cultivar or lot.crop, CLASS_MARKS[bloom_class(planned)].letter, lot.pots
