"""The room plan: for each place, what goes in and out each week, how full it is and what it is set to.

One page where that can be read, else more; two columns of places, and a strip of staff hours below them or behind.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from itertools import groupby, product
from pathlib import Path
from typing import NamedTuple

from forcing.dates import DAY
from forcing.engine.companions import CompanionPlan
from forcing.model import Plan, RoomSetting
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Stroke, Style
from forcing.reports.draw.days import shown_words
from forcing.reports.draw.paper import (
    PAPERS,
    SMALL,
    Piece,
    Stretch,
    draw_foot,
    draw_pieces,
    flow,
    height_of,
    title_of,
    write_sheet,
)
from forcing.reports.hours_strip import ALONE, STRIP, draw_hours
from forcing.reports.room_weeks import LITTLE, PlaceWeeks, RoomMove, WeekRow, place_weeks
from forcing.reports.style import (
    ALERT,
    INK,
    PAPER,
    QUIET,
    RULE,
    TINT,
    day_month,
    long_date,
    setting_words,
    short_date,
)
from forcing.reports.task_words import ARROW
from forcing.text import natural, number, one_line, some
from forcing.units import TemperatureUnit, show_pot

MARGIN, GUTTER = 20.0, 12.0
HEAD, FOOT, LABELS = 38.0, 11.0, 8.5
SIZES = (8.4, 8.0, 7.6)  # of type: the largest that fits one page; smaller is not read on a wall
LEAST = 90.0  # width for the moves [pt]: below it names would be cut short
_LEADING, _PAD = 1.17, 1.2
_FEW = 12  # lots in or out of a place in a week: more are set in columns
_ENDS = {"faded": "faded", "cleared": "show over", "away": "elsewhere"}
_RULE = Stroke(2, RULE, 0.35)
_OVER = Style(3, PAPER, INK, 0.5, "////")  # more pots than there is room for


def write_room_plan(
    plan: Plan, folder: Path, *, created: datetime, companions: Sequence[CompanionPlan] = ()
) -> Path:
    """Write `room-plan.pdf` into `folder` and return its path.

    `companions` go in and out with the lots. `created` goes into the file's own dates, so that the same plan gives
    the same bytes. Raises OutputError where the file cannot be written.
    """
    pages = draw_pages(plan, place_weeks(plan, companions))
    return write_sheet(folder / "room-plan.pdf", pages, f"{title_of(plan)}: room plan", created)


def draw_pages(plan: Plan, blocks: Sequence[PlaceWeeks]) -> list[Canvas]:
    """The sheet in pages of the season's paper."""
    size = PAPERS[plan.season.paper]
    columns, flowed, apart = layout(plan, blocks)
    filled = -(-len(flowed) // columns.across)
    pages = filled + int(apart)
    names = (plan.season.title, *(p.name for p in plan.season.places), *(p.lot.name for p in plan.lots))
    note, right, top = fit.letters_note(names), size[0] - MARGIN, MARGIN + HEAD
    drawn = []
    for n in range(pages):
        canvas = Canvas(*size)
        _draw_head(canvas, plan, key=n < filled)
        for side, pieces in enumerate(flowed[columns.across * n : columns.across * (n + 1)]):
            x = MARGIN + side * (columns.wide + GUTTER)
            _draw_labels(canvas, columns, x, top + 6.5)
            draw_pieces(canvas, pieces, x, top + LABELS)
        if n == filled:
            draw_hours(canvas, plan, MARGIN, top + 4, right, ALONE)
        elif n == 0 and not apart:
            draw_hours(canvas, plan, MARGIN, size[1] - MARGIN - FOOT - STRIP + 4, right, STRIP)
        draw_foot(canvas, MARGIN, f"page {n + 1} of {pages}", note)
        drawn.append(canvas)
    return drawn


def layout(plan: Plan, blocks: Sequence[PlaceWeeks]) -> tuple[RoomColumns, list[list[Piece]], bool]:
    """Columns, what stands in each, and whether the hours take a page of their own.

    One page with the hours, else one without, each in the largest type that fits; else type that saves pages.
    """
    full = PAPERS[plan.season.paper][1] - 2 * MARGIN - HEAD - FOOT - LABELS
    first = full - STRIP
    for apart, size, across in product((False, True), SIZES, (2, 3)):
        columns = columns_of(plan, blocks, size, across)
        if columns.moves < LEAST and across > 2:
            continue
        stretches, room = _stretches(plan, blocks, columns), full if apart else first
        for whole in (True, False):
            stretches = [stretch._replace(whole=whole) for stretch in stretches]
            if len(flow(stretches, lambda n, room=room: room)) <= across:  # type: ignore[misc]
                return columns, _evened(stretches, across, room), apart
    found = []
    for size in SIZES:
        columns = columns_of(plan, blocks, size, 2)
        flowed = flow(_stretches(plan, blocks, columns), lambda n: first if n < 2 else full)
        found.append((columns, flowed, False))
    return min(found, key=lambda one: -(-len(one[1]) // 2))  # the largest of equals


def _evened(stretches: Sequence[Stretch], across: int, most: float) -> list[list[Piece]]:
    """The columns of one page in the least height that holds them."""
    low, high = 0.0, most
    for _ in range(8):
        middle = (low + high) / 2
        found = flow(stretches, lambda n, room=middle: room)  # type: ignore[misc]
        if len(found) <= across and all(height_of(pieces) <= middle for pieces in found):
            high = middle
        else:
            low = middle
    return flow(stretches, lambda n: high)


def _stretches(plan: Plan, blocks: Sequence[PlaceWeeks], columns: RoomColumns) -> list[Stretch]:
    """The rows of each place in use below its name, then the notes."""
    found = [Stretch(_place(plan, block, columns)) for block in blocks if block.rows]
    empty = [words(block.place.name) for block in blocks if not block.rows]
    said = [f"Nothing goes into {', '.join(empty)}."] if empty else []
    if plan.unplanned:
        said.append(f"Not counted, as not planned: {', '.join(words(u.lot.name) for u in plan.unplanned)}.")
    if not found:
        said.insert(0, "No lot is planned, so nothing goes in or out of any place.")
    lines = (line for text in said for line in fit.wrap(text, columns.wide, columns.size))
    return [*found, *(Stretch([_note(line, columns)]) for line in lines)]


def _place(plan: Plan, block: PlaceWeeks, columns: RoomColumns) -> list[Piece]:
    head, again = (
        Piece(
            columns.size + 6.2, partial(_draw_heading, block=block, columns=columns, again=said), heading=True
        )
        for said in (False, True)
    )
    return [head, *(_row_of(plan, block, week, columns).piece(again) for week in block.rows)]


def _note(line: str, columns: RoomColumns) -> Piece:
    def draw(canvas: Canvas, x: float, y: float) -> None:
        canvas.text(x, y + columns.leading, line, columns.size)

    return Piece(columns.leading + _PAD, draw)


def words(text: str) -> str:
    """User text as this sheet prints it: one line, without what the font cannot draw."""
    return fit.clean(one_line(text))


# ---------------------------------------------------------------- rows of type


@dataclass(frozen=True, slots=True)
class RoomColumns:
    """Widths of the cells of a row [pt] at a size of type; `across`: such columns of rows on a page."""

    across: int
    size: float
    week: float
    way: float  # 'in' or 'out'
    moves: float
    pots: float
    bar: float
    degrees: float

    @property
    def leading(self) -> float:
        return self.size * _LEADING

    @property
    def wide(self) -> float:
        return self.week + self.way + self.moves + self.pots + self.bar + self.degrees


class RoomRun(NamedTuple):
    """Words of a line, so far from its left [pt]."""

    at: float
    said: str
    bold: bool = False


RoomLine = tuple[RoomRun, ...]


@dataclass(frozen=True, slots=True)
class RoomRow:
    """A week of a place laid out in lines; it may be cut between them."""

    on: bool  # whether this is the week the plan was made in
    block: PlaceWeeks
    week: WeekRow
    columns: RoomColumns
    lines: tuple[RoomLine, ...]
    degrees: str
    first: bool = True  # not what is left of a row that was cut

    @property
    def height(self) -> float:
        return self.columns.leading * len(self.lines) + _PAD

    def piece(self, again: Piece) -> Piece:
        """The row to draw, under the name of its place said `again` where a column begins with it."""

        def cut(room: float, least: int) -> tuple[Piece, Piece] | None:
            fitting = max(1, int((room - _PAD) / self.columns.leading))
            if not least <= fitting <= len(self.lines) - least:
                return None
            rest = self.lines[fitting:]
            ways = [run.said for line in self.lines[:fitting] for run in line if run.bold]
            if ways and not any(run.bold for run in rest[0]):  # 'in' or 'out' again
                rest = ((RoomRun(0.0, ways[-1], True), *rest[0]), *rest[1:])
            parts = replace(self, lines=self.lines[:fitting]), replace(self, lines=rest, first=False)
            return parts[0].piece(again), parts[1].piece(again)

        return Piece(self.height, partial(_draw_row, row=self), again=again, cut=cut)


def columns_of(plan: Plan, blocks: Sequence[PlaceWeeks], size: float, across: int) -> RoomColumns:
    """As wide as the numbers and temperatures that stand in them; the rest is for the moves."""
    wide = (PAPERS[plan.season.paper][0] - 2 * MARGIN - (across - 1) * GUTTER) / across
    rows = [(block, row) for block in blocks for row in block.rows]
    pots = [fit.width(pots_text(block, row), size, block.over(row) > 0) for block, row in rows]
    said = {_now_text(block, _settings(row)[0], plan.season.unit) for block, row in rows}
    degrees = [fit.width(text, size) for text in said]
    week, way = fit.width("W53 28 Mar", size, True) + 7, fit.width("out", size, True) + 3
    taken = (
        week,
        way,
        max([*pots, fit.width("Most pots", SMALL)]) + 3,
        3.4 * size,
        max([*degrees, 20.0]) + 3,
    )
    return RoomColumns(across, size, week, way, wide - sum(taken), *taken[2:])


def pots_text(block: PlaceWeeks, row: WeekRow) -> str:
    """Pots on the fullest day; '▲ 312 +12' where that is 12 more than there is room for."""
    over = block.over(row)
    if over:
        return f"▲ {number(row.fullest, 0)} +{number(max(over, 0.1))}"
    return "0" if row.fullest < LITTLE else number(max(row.fullest, 1.0), 0)


def _row_of(plan: Plan, block: PlaceWeeks, week: WeekRow, columns: RoomColumns) -> RoomRow:
    unit, size, room = plan.season.unit, columns.size, columns.moves - 2
    now, changes = _settings(week)
    said = [f"set to {degrees_text(c, unit)} on {short_date(c.span.start)};" for c in changes]
    if week.quiet:
        until = [] if week.span.days == 7 else [f"to {day_month(week.span.end - DAY)}:"]
        pieces = [*until, "nothing in or out;", *said]
        lines: list[RoomLine] = [(RoomRun(0.0, line),) for line in _filled(pieces, room + columns.way, size)]
    else:
        lines = _busy_lines(week, columns, room)
        lines += [(RoomRun(columns.way, line),) for line in _filled(said, room, size)]
    return RoomRow(plan.on in week.span, block, week, columns, tuple(lines), _now_text(block, now, unit))


def _busy_lines(week: WeekRow, columns: RoomColumns, room: float) -> list[RoomLine]:
    """What goes in and what goes out: on one line where there is room, else each on lines of its own."""
    size = columns.size
    ins, outs = _in_lines(week.ins, room, size), _out_lines(week.outs, room, size)
    if len(ins) == len(outs) == 1:
        ((first,),), ((second,),) = ins, outs
        after = fit.width(first.said, size) + columns.way + size
        if after + fit.width(second.said, size) <= room:
            return [(*_led("in", ins[0], columns, 0.0), *_led("out", outs[0], columns, after))]
    return [
        _led("" if n else way, line, columns, 0.0)
        for way, found in (("in", ins), ("out", outs))
        for n, line in enumerate(found)
    ]


def _led(way: str, line: RoomLine, columns: RoomColumns, at: float) -> RoomLine:
    """'in' or 'out' (or neither, in a line that goes on) and what follows it."""
    shifted = tuple(run._replace(at=run.at + at + columns.way) for run in line)
    return (RoomRun(at, way, True), *shifted) if way else shifted


def _in_lines(moves: Sequence[RoomMove], room: float, size: float) -> list[RoomLine]:
    if len(moves) > _FEW:
        return _in_columns(moves, room, size)
    return [(RoomRun(0.0, line),) for line in _filled([_entry(m, room, size) for m in moves], room, size)]


def _out_lines(moves: Sequence[RoomMove], room: float, size: float) -> list[RoomLine]:
    if len(moves) <= _FEW:
        return [(RoomRun(0.0, line),) for line in _filled(_out_pieces(moves, room, size), room, size)]
    lines: list[RoomLine] = []
    for where, group in groupby(sorted(moves, key=_where), key=_where):
        lines.append((RoomRun(0.0, fit.shorten(f"{ARROW} {where}", room - size, size) + ":"),))
        lines += _in_columns(list(group), room, size)
    return lines


def _in_columns(moves: Sequence[RoomMove], room: float, size: float) -> list[RoomLine]:
    """Many lots as a table, by name along its lines: one is looked for in it, nobody reads it through."""
    entries = [_entry(m, room, size).rstrip(",") for m in sorted(moves, key=lambda m: natural(m.item))]
    wide = max(fit.width(entry, size) for entry in entries) + size
    across = max(1, int((room + size) / wide))
    return [
        tuple(RoomRun(n * wide, entry) for n, entry in enumerate(entries[i : i + across]))
        for i in range(0, len(entries), across)
    ]


def _now_text(block: PlaceWeeks, now: RoomSetting | None, unit: TemperatureUnit) -> str:
    if now is None:
        return "" if block.place.kind == "site" else "not set"
    return degrees_text(now, unit)


def _settings(week: WeekRow) -> tuple[RoomSetting | None, tuple[RoomSetting, ...]]:
    """What is set as the week begins (None: nothing), and what begins during it."""
    settings = week.settings
    if settings and settings[0].span.start <= week.span.start:
        return settings[0], settings[1:]
    return None, settings


def degrees_text(setting: RoomSetting, unit: TemperatureUnit) -> str:
    """'9 °C', or day and night: '17/13 °C'."""
    return setting_words(setting.day, setting.night, unit, "/")


def _entry(move: RoomMove, room: float, size: float) -> str:
    """'T001 (24),' or 'Violas (2 trays),' with the name shortened where it must be, never the number."""
    tail = f" ({some(move.trays, 'tray') if move.trays else number(move.pots)}),"
    return fit.shorten(words(move.item), max(room - fit.width(tail, size), 0.0), size) + tail


def _out_pieces(moves: Sequence[RoomMove], room: float, size: float) -> list[str]:
    """Lots and pots, grouped by where they go to: 'T001 (24),' 'T002 (9)' '→ South bench;'."""
    pieces: list[str] = []
    for where, group in groupby(sorted(moves, key=_where), key=_where):
        entries = [_entry(move, room, size) for move in group]
        tail = fit.shorten(f"{ARROW} {where}", room - fit.width(";", size), size) + ";"
        pieces += [*entries[:-1], entries[-1][:-1], tail]
    return pieces


def _where(move: RoomMove) -> str:
    return words(move.to) if move.to is not None else _ENDS[move.end or "away"]


def _filled(pieces: Sequence[str], room: float, size: float) -> Iterator[str]:
    """Pieces in lines no wider than `room`, none broken; the last without its comma or semicolon."""
    line = ""
    last = len(pieces) - 1
    for i, piece in enumerate(pieces):
        said = piece.rstrip(",;") if i == last else piece
        longer = f"{line} {said}" if line else said
        if line and fit.width(longer, size) > room:
            yield line
            longer = said
        line = longer
    if line:
        yield line


# ---------------------------------------------------------------- drawing


def _draw_head(canvas: Canvas, plan: Plan, *, key: bool) -> None:
    right = canvas.width - MARGIN
    room = right - MARGIN
    canvas.text(MARGIN, MARGIN + 11, f"Room plan: {title_of(plan)}", 14, bold=True, room=room)
    if not key:
        return
    said = (
        f"What goes in and out of each place, week by week, as of {long_date(plan.on)}; {shown_words(plan)}. "
        "ISO weeks, with the date of their Monday; black: this week."
    )
    canvas.text(MARGIN, MARGIN + 22, said, 7.6, colour=QUIET, room=room)
    marks = (
        f"In and out: lot (pots), {ARROW} where they go. Most pots, as pots of "
        f"{show_pot(15, plan.season.measures)}, on the fullest day, the bar "
        "as part of the place's room;"
    )
    x = canvas.text(MARGIN, MARGIN + 32.5, marks, 7.2, colour=QUIET) + 6
    canvas.box(x, MARGIN + 27, x + 18, MARGIN + 33, _OVER)
    over = "▲ hatched: over it, by so many."
    canvas.text(x + 22, MARGIN + 32.5, over, 7.2, bold=True, room=right - x - 22)


def _draw_labels(canvas: Canvas, columns: RoomColumns, x: float, base: float) -> None:
    pots = x + columns.week + columns.way + columns.moves + columns.pots
    canvas.text(x + 2, base, "Week of", SMALL, colour=QUIET)
    canvas.text(x + columns.week, base, "What goes in and out", SMALL, colour=QUIET)
    canvas.text(pots - 3, base, "Most pots", SMALL, colour=QUIET, side="right")
    canvas.text(pots + columns.bar, base, "Set to", SMALL, colour=QUIET)


def _draw_heading(
    canvas: Canvas, x: float, y: float, block: PlaceWeeks, columns: RoomColumns, *, again: bool
) -> None:
    place, size, right = block.place, columns.size, x + columns.wide
    base = y + 3 + size
    canvas.box(x, y + 2, right, base + 2.6, Style(1, TINT))
    canvas.line(((x, y + 2), (right, y + 2)), Stroke(2, INK, 0.8))
    room = "room not stated" if place.pots is None else f"room for {number(place.pots)} pots"
    facts = f"{place.kind}, {room}{', goes on' if again else ''}"
    left = columns.wide - fit.width(facts, size) - 14
    canvas.text(x + 2, base, words(place.name), size + 0.6, bold=True, room=left)
    canvas.text(right - 2, base, facts, size, colour=QUIET, side="right")


def _draw_row(canvas: Canvas, x: float, y: float, row: RoomRow) -> None:
    columns, size, leading = row.columns, row.columns.size, row.columns.leading
    bottom, base = y + row.height, y + leading
    canvas.line(((x, bottom), (x + columns.wide, bottom)), _RULE)
    _draw_week(canvas, row, x, base)
    at, colour = x + columns.week, QUIET if row.week.quiet else INK
    for i, line in enumerate(row.lines):
        for run in line:
            canvas.text(at + run.at, base + i * leading, run.said, size, bold=run.bold, colour=colour)
    if row.first:
        at += columns.way + columns.moves
        _draw_load(canvas, row, at, base)
        canvas.text(at + columns.pots + columns.bar, base, row.degrees, size)


def _draw_week(canvas: Canvas, row: RoomRow, x: float, base: float) -> None:
    size, start = row.columns.size, row.week.span.start
    end = canvas.text(
        x + 2, base, f"W{start.isocalendar().week:02d}", size, bold=True, colour=PAPER if row.on else INK
    )
    if row.on:
        canvas.box(x, base - size, end + 2, base + 0.28 * size, Style(2, INK))
    canvas.text(end + 4, base, day_month(start), size)


def _draw_load(canvas: Canvas, row: RoomRow, at: float, base: float) -> None:
    columns, capacity = row.columns, row.block.place.pots
    over = row.block.over(row.week) > 0
    left = at + columns.pots
    said, colour = pots_text(row.block, row.week), ALERT if over else INK
    canvas.text(left - 3, base, said, columns.size, bold=over, colour=colour, side="right")
    if capacity is None:
        return
    top, right = base - 0.75 * columns.size, left + columns.bar - 4
    if over:
        canvas.box(left, top, right, base, _OVER._replace(thick=1.1))
        return
    part = row.week.fullest / capacity if capacity > 0 else 0.0
    canvas.box(left, top, left + (right - left) * min(1.0, part), base, Style(3, "#8c8c8c"))
    canvas.box(left, top, right, base, Style(4, edge=INK, thick=0.4))
