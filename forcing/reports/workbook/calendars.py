"""The sheets `Cooler calendar` and `Bench calendar`: places × weeks, drawn so that a grey print says the same."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Any, Literal

from openpyxl.utils import get_column_letter

from forcing.dates import DAY, WEEKDAYS, Span, iso_week, monday, weeks_of
from forcing.engine.companions import CompanionPlan
from forcing.engine.loads import FULL
from forcing.model import Place, PlaceKind, Plan, RoomSetting
from forcing.reports.room_weeks import LITTLE, PlaceWeeks, StayName, Way, WeekRow, place_weeks
from forcing.reports.style import ALERT, CLASS_MARKS, INK, PAPER, QUIET, RULE, STEP_MARKS, TINT
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
    span,
    text_width,
    units,
)
from forcing.reports.workbook.table import lay_columns, lay_rows, set_up_page, widen
from forcing.text import number
from forcing.units import Measures, TemperatureUnit, from_celsius, show_pot


@dataclass(frozen=True, slots=True)
class Calendar:
    """The places of some kinds, over the weeks (by their Mondays) in which any of them is used."""

    weeks: tuple[date, ...]
    places: tuple[PlaceWeeks, ...]


def calendar_of(
    plan: Plan, kinds: Collection[PlaceKind], companions: Sequence[CompanionPlan] = ()
) -> Calendar:
    """The calendar of every place of these kinds, in the season's order of places.

    It begins with the first pots: the weeks before, in which only trays of seed stand there, are in the room plan.
    """
    places = place_weeks(plan, companions, kinds)
    used = [week.span.start for place in places for week in place.weeks if _stand(place, week)]
    return Calendar(weeks_of(Span(min(used), max(used) + DAY)) if used else (), places)


def _stand(place: PlaceWeeks, week: WeekRow) -> bool:
    """Whether more than trays of seed stand in a place in a week."""
    stays = [s.step for way in place.ways for s in way.stays if s.span.overlap(week.span)]
    return any(step != "sow" for step in stays) or (not stays and week.fullest >= LITTLE)


def steps_in(way: Way, week: Span) -> tuple[tuple[StayName, ...], StayName] | None:
    """The steps of a way in a week in order, and the one that fills most days of it; None: it is not there.

    Of steps with as many days the later one: it is what staff will find.
    """
    days: dict[StayName, int] = {}
    for stay in way.stays:
        if there := stay.span.overlap(week):
            days[stay.step] = days.get(stay.step, 0) + there
    return (tuple(days), max(reversed(days), key=lambda step: days[step])) if days else None


STEP_LETTERS: dict[StayName, str] = {
    "pot": "p", "root": "r", "cool": "c", "bench": "b", "hold": "h", "harden": "o", "show": "s", "sow": "w",
    "grow": "g",
}  # fmt: skip
_WORDS: dict[StayName, str] = {
    "pot": "potting", "root": "rooting", "cool": "cold", "bench": "bench", "hold": "held cold",
    "harden": "hardening off", "show": "in bloom", "sow": "sown", "grow": "companion growing on",
}  # fmt: skip
_ON_BENCH = STEP_MARKS["bench"].fill
_FILLS: dict[StayName, str] = {
    **{step: mark.fill for step, mark in STEP_MARKS.items()}, "sow": _ON_BENCH, "grow": _ON_BENCH,
}  # fmt: skip
_SMALL = 9.0
_FIRST = 5  # first column of weeks; before it place, lot, cultivar, class
_TOP = 5  # first row below the frozen rows
_PLACE, _LOT, _CULTIVAR = 60.0, 90.0, 92.0  # points, at most
_SIDE_ROOM = 200.0  # points: the side columns together, at their narrowest, for bold text
_TIGHT = 1.0  # padding of a week's column [units]: a season of weeks is to stand on one page
_WEEK = units(text_width("28 Mar", _SMALL) + 2, _TIGHT)  # of column: the widest Monday
_LEGEND = 14  # columns of weeks that the legend takes: they fit on one page

# Share of capacity from which each look counts; the space left stands below it in figures.
_FULLNESS = ((0.0, PAPER), (0.5, TINT), (0.75, CLASS_MARKS[None].fill), (0.9, RULE))

_CELL = Look(size=_SMALL, align="center", edge="grid")
_WHOLE = _CELL.but(number="#,##0")
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
    for place in calendar.places:
        end = _draw_place(pen, sheet, plan, calendar.weeks, place, row)
        for r in range(row, end + 1):
            if sheet.row_dimensions[r].height is None:
                sheet.row_dimensions[r].height = height(1, _SMALL)
        blocks.append((row, end))
        row = end + 1
    sheet.freeze_panes = sheet.cell(_TOP, _FIRST).coordinate
    sheet.print_title_rows = f"1:{_TOP - 1}"
    sheet.print_title_cols = f"A:{get_column_letter(_FIRST - 1)}"
    for column, room in enumerate((_PLACE, 28.0, _CULTIVAR, text_width("Class", _SMALL, True)), 1):
        widen(sheet, column, units(room, _TIGHT))
    for column in range(_FIRST, _FIRST + _LEGEND):
        widen(sheet, column, _WEEK)
    set_up_page(sheet, plan.season.paper, plan.season.title)
    last = _FIRST + max(_LEGEND, len(calendar.weeks)) - 1
    layout = lay_columns(sheet, plan.season.paper, _FIRST, last)
    _legend(pen, sheet, calendar, min(layout.last_on_first_page, _FIRST + _LEGEND - 1), plan.season.measures)
    lay_rows(sheet, plan.season.paper, layout, _TOP, blocks)


def _empty(pen: Pen, sheet: Any, plan: Plan, calendar: Calendar, word: str) -> None:
    names = [_place_text(each.place, plan.season.measures) for each in calendar.places]
    said = f"No lot goes into a {word}." if names else f"No {word} is stated in this season."
    pen.put(sheet, 2, 1, said, PLAIN)
    for row, name in enumerate(names, 4):
        pen.put(sheet, row, 1, name, PLAIN)
    set_up_page(sheet, plan.season.paper, plan.season.title)


# ---------------------------------------------------------------- the rows above the places


def _legend(pen: Pen, sheet: Any, calendar: Calendar, last: int, measures: Measures) -> None:
    """How to read the calendar, over the columns of weeks up to `last`."""
    used = {stay.step for place in calendar.places for way in place.ways for stay in way.stays}
    letters = ", ".join(f"{STEP_LETTERS[n]} {_WORDS[n]}" for n in STEP_LETTERS if n in used)
    text = f"Letters: {letters}; two letters: it changes in that week. Then the lot's pots. "
    text += f"Most pots, space left, as pots of {show_pot(15, measures)}, on the fullest day of the week, "
    text += "the darker the fuller; ▲ over capacity. ↓ ↑ new temperature and its day. Black week: this week."
    pen.put(sheet, 2, _FIRST, text, NOTE.but(size=_SMALL, wrap=True))
    span(sheet, 2, _FIRST, last)
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


def _draw_place(pen: Pen, sheet: Any, plan: Plan, weeks: Sequence[date], place: PlaceWeeks, top: int) -> int:
    """Draw a place from row `top`; gives the row after its last."""
    rows = [place.week(week) for week in weeks]
    name = shorten(place.place.name, _SIDE_ROOM, _BAND.size)
    pen.put(sheet, top, 1, name, _BAND)
    pen.put(sheet, top, _FIRST, _place_text(place.place, plan.season.measures, name), NOTE.but(size=_SMALL))
    sheet.row_dimensions[top].height = height(1, 11) + 2
    if not place.ways and all(week.fullest < LITTLE for week in rows):
        pen.put(sheet, top + 1, 1, "No lot stands here.", _SIDE.but(edge="", ink=QUIET))
        return top + 2
    row = top + 1
    _side(pen, sheet, row, "Week", bold=True)
    for column, week in enumerate(weeks, _FIRST):
        pen.put(sheet, row, column, iso_week(week)[5:], _NOW if week == monday(plan.on) else _HEAD)
    _fullness(pen, sheet, row + 1, place.place.pots, [week.fullest for week in rows])
    row = _temperatures(pen, sheet, row + 3, plan.season.unit, place, rows)
    # In the order they come, companions last; those of one day stay in the order of the season.
    for way in sorted(place.ways, key=lambda w: (w.grown, w.stays[0].span.start)):
        _draw_way(pen, sheet, row, place.place, way, rows)
        row += 1
    return row


def _place_text(place: Place, measures: Measures, written: str = "") -> str:
    """Kind and room of a place, with its name where that is not `written` in full beside it."""
    room = (
        "capacity not stated"
        if place.pots is None
        else f"room for {number(place.pots)} pots of {show_pot(15, measures)}"
    )
    return f"{place.kind}, {room}" if written == place.name else f"{place.name}: {place.kind}, {room}"


def _side(pen: Pen, sheet: Any, row: int, text: str, *, bold: bool = False) -> None:
    """A label over the four columns at the side."""
    pen.put(sheet, row, 1, text, _SIDE.but(bold=bold, edge=""))


def _fullness(pen: Pen, sheet: Any, row: int, capacity: float | None, peaks: Sequence[float]) -> None:
    """Two rows: most pots of each week on a ground as dark as the place is full, and the space left."""
    _side(pen, sheet, row, "Most pots in the week", bold=True)
    _side(pen, sheet, row + 1, "Space left" if capacity is not None else "Space left: not known")
    for column, peak in enumerate(peaks, _FIRST):
        over = 0.0 if capacity is None else peak - capacity
        pen.put(sheet, row, column, round(peak, 1) if peak >= LITTLE else None, _full_look(peak, capacity))
        left, look = None if capacity is None else round(max(0.0, -over), 1), _CELL
        if over > FULL:
            text = f"▲ +{number(max(over, 0.1))}"
            pen.put(sheet, row + 1, column, text, _CELL.but(bold=True, ink=ALERT))
            widen(sheet, column, units(text_width(text, _SMALL, True) + 3, _TIGHT))
            continue
        if capacity is not None:
            look = _WHOLE.but(ink=QUIET)
        pen.put(sheet, row + 1, column, left, look)


def _full_look(peak: float, capacity: float | None) -> Look:
    look = _WHOLE.but(bold=True)
    if capacity is None or peak < LITTLE:
        return look
    if peak > capacity + FULL:
        return look.but(fill=QUIET, pattern="lightUp", ground=_FULLNESS[2][1])
    share = peak / capacity
    fill = [colour for start, colour in _FULLNESS if share >= start][-1]
    return look if fill == PAPER else look.but(fill=fill)


# ---------------------------------------------------------------- temperatures


Part = Literal["day", "night"]


def _temperatures(
    pen: Pen, sheet: Any, row: int, unit: TemperatureUnit, place: PlaceWeeks, rows: Sequence[WeekRow]
) -> int:
    """One row where day and night are alike all through, else two. Gives the next row."""
    all_set = [setting for week in rows for setting in week.settings]
    if not all_set:
        _side(pen, sheet, row, "Set to: not stated")
        return row + 1
    parts: tuple[tuple[str, Part], ...] = (("Day", "day"), ("Night", "night"))
    if all(s.day == s.night for s in all_set):
        parts = (("Set to", "day"),)
    for label, part in parts:
        _side(pen, sheet, row, f"{label}, °{unit}")
        _temperature_row(pen, sheet, row, unit, place, rows, part)
        row += 1
    return row


def _temperature_row(
    pen: Pen, sheet: Any, row: int, unit: TemperatureUnit, place: PlaceWeeks, rows: Sequence[WeekRow], part: Part
) -> None:  # fmt: skip
    """What is set in each week; where it changes, what it was on Monday, then arrow, figure and day of each change."""
    changes = [
        (old, new) for old, new in pairwise(place.settings) if getattr(old, part) != getattr(new, part)
    ]
    tallest = 1
    for column, week in enumerate(rows, _FIRST):
        now = [(old, new) for old, new in changes if new.span.start in week.span]
        if not now:
            value = _shown(getattr(week.settings[-1], part), unit) if week.settings else None
            look = _CELL.but(number="0.0" if isinstance(value, float) else "0")
            pen.put(sheet, row, column, value, look)
            continue
        said = [_change_text(old, new, part, unit) for old, new in now]
        if week.settings[0].span.start < now[0][1].span.start:
            said.insert(0, f"{_shown(getattr(week.settings[0], part), unit)}")
        text = "\n".join(said)
        tallest = max(tallest, text.count("\n") + 1)
        pen.put(sheet, row, column, text, _CELL.but(bold=True, wrap=True))
    sheet.row_dimensions[row].height = height(tallest, _SMALL)


def _shown(celsius: float, unit: TemperatureUnit) -> int | float:
    value = round(from_celsius(celsius, unit), 1)
    return int(value) if value == int(value) else value


def _change_text(old: RoomSetting, new: RoomSetting, part: Part, unit: TemperatureUnit) -> str:
    """Like '↓5' over 'Mon'."""
    before, after = getattr(old, part), getattr(new, part)
    arrow = "↓" if after < before else "↑"
    return f"{arrow}{_shown(after, unit)}\n{WEEKDAYS[new.span.start.weekday()]}"


# ---------------------------------------------------------------- lots


def _draw_way(pen: Pen, sheet: Any, row: int, place: Place, way: Way, rows: Sequence[WeekRow]) -> None:
    # The place on every row: a long one goes on over pages that do not show its name.
    name = shorten(way.item, _LOT, _SMALL)
    pen.put(sheet, row, 1, shorten(place.name, _PLACE, _SMALL), _SIDE.but(ink=QUIET))
    pen.put(sheet, row, 2, name, _SIDE.but(bold=True))
    pen.put(sheet, row, 3, shorten(way.what, _CULTIVAR, _SMALL), _SIDE)
    letter = CLASS_MARKS[way.bloom_class].letter if way.bloom_class else ""
    pen.put(sheet, row, 4, letter, _SIDE.but(align="center"))
    widen(sheet, 2, units(text_width(name, _SMALL, True), _TIGHT))
    for column, week in enumerate(rows, _FIRST):
        found = steps_in(way, week.span)
        if found is None:
            pen.put(sheet, row, column, None, _CELL)
            continue
        steps, most = found
        letters = "".join(STEP_LETTERS[step] for step in steps)
        fill, ink = readable(_FILLS[most])
        # The figure stays a number that can be summed; its letters are part of its format.
        pen.put(sheet, row, column, way.pots, _CELL.but(fill=fill, ink=ink, number=f'"{letters} "0'))
        widen(sheet, column, units(text_width(f"{letters} {way.pots}", _SMALL) + 2, _TIGHT))
