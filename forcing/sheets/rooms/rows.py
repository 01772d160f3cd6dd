"""The room plan in rows of type: what stands in each, and how rows and headings fill columns and pages."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, product

from forcing.dates import DAY
from forcing.model import Plan, RoomSetting
from forcing.sheets.drawing import text as fit
from forcing.sheets.gantt.sheet import PAPERS
from forcing.sheets.rooms.hours import STRIP
from forcing.sheets.rooms.moves import LITTLE, Move, PlaceWeeks, WeekRow
from forcing.sheets.rooms.page import words
from forcing.sheets.style import count, short_date
from forcing.sheets.task_words import ARROW
from forcing.units import TemperatureUnit, from_celsius, show_temperature

MARGIN, GUTTER = 20.0, 12.0
HEAD, FOOT, LABELS = 38.0, 11.0, 8.5
SIZES = (8.4, 8.0, 7.6)  # of type: the largest that fits one page; smaller is not read on a wall
LEAST = 90.0  # width for the moves [pt]: below it names would be cut short
_LEADING, _PAD = 1.17, 1.2
_ENDS = {"faded": "faded", "cleared": "show over", "away": "elsewhere"}


SMALL = 6.5  # the least type on the sheet [pt]


# ---------------------------------------------------------------- rows of type


@dataclass(frozen=True, slots=True)
class Columns:
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


Run = tuple[float, str, bool]


@dataclass(frozen=True, slots=True)
class Row:
    """A week of a place laid out, each line in runs (distance from the left [pt], text, bold); it may be cut."""

    block: PlaceWeeks
    week: WeekRow
    lines: tuple[tuple[Run, ...], ...]
    degrees: str
    first: bool = True  # not what is left of a row that was cut

    def cut(self, at: int) -> tuple[Row, Row]:
        """Its first `at` lines and the others, which begin with 'in' or 'out' again."""
        rest = self.lines[at:]
        ways = [said for line in self.lines[:at] for _, said, bold in line if bold]
        if ways and not any(bold for *_, bold in rest[0]):
            rest = (((0.0, ways[-1], True), *rest[0]), *rest[1:])
        return (
            Row(self.block, self.week, self.lines[:at], self.degrees, self.first),
            Row(self.block, self.week, rest, self.degrees, False),
        )


@dataclass(frozen=True, slots=True)
class Heading:
    """The name of a place over its rows."""

    block: PlaceWeeks
    again: bool = False


@dataclass(frozen=True, slots=True)
class Note:
    """A line below the places."""

    said: str


Item = Row | Heading | Note


def columns_of(plan: Plan, blocks: Sequence[PlaceWeeks], size: float, across: int) -> Columns:
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
    return Columns(across, size, week, way, wide - sum(taken), *taken[2:])


def pots_text(block: PlaceWeeks, row: WeekRow) -> str:
    """Pots on the fullest day; '▲ 312 +12' where that is 12 more than there is room for."""
    over = block.over(row)
    if over:
        return f"▲ {count(row.fullest)} +{count(max(over, 0.1))}"
    return "0" if row.fullest < LITTLE else count(row.fullest)


def _row_of(plan: Plan, block: PlaceWeeks, week: WeekRow, columns: Columns) -> Row:
    unit, size, room = plan.season.unit, columns.size, columns.moves - 2
    now, changes = _settings(week)
    said = [f"set to {degrees_text(c, unit)} on {short_date(c.span.start)};" for c in changes]
    lines: list[tuple[Run, ...]] = []
    if week.quiet:
        until = [] if week.span.days == 7 else [f"to {short_date(week.span.end - DAY)[4:]}:"]
        pieces = [*until, "nothing in or out;", *said]
        lines += [((0.0, line, False),) for line in _filled(pieces, room + columns.way, size)]
    else:
        ins = list(_filled([_entry(move, room, size) for move in week.ins], room, size))
        outs = list(_filled(_out_pieces(week.outs, room, size), room, size))
        beside = fit.width("".join(ins), size) + columns.way + size
        if len(ins) == len(outs) == 1 and beside + fit.width(outs[0], size) <= room:
            at = columns.way + beside
            lines = [(*_led("in", ins[0], columns, 0.0), *_led("out", outs[0], columns, at - columns.way))]
        else:
            for way, found in (("in", ins), ("out", outs)):
                lines += [_led("" if n else way, line, columns, 0.0) for n, line in enumerate(found)]
        lines += [((columns.way, line, False),) for line in _filled(said, room, size)]
    return Row(block, week, tuple(lines), _now_text(block, now, unit))


def _led(way: str, said: str, columns: Columns, at: float) -> tuple[Run, ...]:
    """'in' or 'out' (or neither, in a line that goes on) and what follows it."""
    said_there = (at + columns.way, said, False)
    return ((at, way, True), said_there) if way else (said_there,)


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
    night = show_temperature(setting.night, unit)
    if abs(from_celsius(setting.day, unit) - from_celsius(setting.night, unit)) < 0.05:
        return night
    return f"{show_temperature(setting.day, unit).split()[0]}/{night}"


def _entry(move: Move, room: float, size: float) -> str:
    """'T001 (24),' with the name shortened where it must be, never the number."""
    tail = f" ({count(move.pots)}),"
    return fit.shorten(words(move.item), max(room - fit.width(tail, size), 0.0), size) + tail


def _out_pieces(moves: Sequence[Move], room: float, size: float) -> list[str]:
    """Lots and pots, grouped by where they go to: 'T001 (24),' 'T002 (9)' '→ South bench;'."""
    pieces: list[str] = []
    for where, group in groupby(sorted(moves, key=_where), key=_where):
        entries = [_entry(move, room, size) for move in group]
        tail = fit.shorten(f"{ARROW} {where}", room - fit.width(";", size), size) + ";"
        pieces += [*entries[:-1], entries[-1][:-1], tail]
    return pieces


def _where(move: Move) -> str:
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


# ---------------------------------------------------------------- columns and pages


def _items(plan: Plan, blocks: Sequence[PlaceWeeks], columns: Columns) -> list[list[Item]]:
    """The items of each place in use, then the notes."""
    found: list[list[Item]] = [
        [Heading(block), *(_row_of(plan, block, week, columns) for week in block.rows)]
        for block in blocks
        if block.rows
    ]
    empty = [words(block.place.name) for block in blocks if not block.rows]
    said = [f"Nothing goes into {', '.join(empty)}."] if empty else []
    if plan.unplanned:
        said.append(f"Not counted, as not planned: {', '.join(words(u.lot.name) for u in plan.unplanned)}.")
    if not found:
        said.insert(0, "No lot is planned, so nothing goes in or out of any place.")
    found.extend([Note(line)] for text in said for line in fit.wrap(text, columns.wide, columns.size))
    return found


def height_of(item: Item, columns: Columns) -> float:
    """Height [pt] that an item takes."""
    if isinstance(item, Heading):
        return columns.size + 6.2
    return columns.leading * (len(item.lines) if isinstance(item, Row) else 1) + _PAD


def flow(
    groups: Sequence[Sequence[Item]], columns: Columns, room: Callable[[int], float], whole: bool
) -> list[list[Item]]:
    """Items in columns of paper, the n-th `room(n)` high; a place that goes on has its name in the next one again.

    `whole`: a place that does not fit in what is left of a column, but would in the next, begins there.
    """
    pages: list[list[Item]] = [[]]
    left = room(0)

    def turn(item: Item) -> None:
        nonlocal left
        pages.append([])
        left = room(len(pages) - 1)
        if isinstance(item, Row):
            put(Heading(item.block, again=True))

    def put(item: Item) -> None:
        nonlocal left
        pages[-1].append(item)
        left -= height_of(item, columns)

    for group in groups:
        needed = sum(height_of(item, columns) for item in group)
        if whole and needed > left and pages[-1] and needed <= room(len(pages)):
            turn(group[0])
        for n, item in enumerate(group):
            wanted = height_of(item, columns)
            if isinstance(item, Heading):  # it does not stand alone at the foot of a column
                wanted += height_of(group[n + 1], columns)
            if wanted > left and pages[-1]:
                fitting = int((left - _PAD) / columns.leading)
                if isinstance(item, Row) and not whole and 2 <= fitting <= len(item.lines) - 2:
                    part, item = item.cut(fitting)
                    put(part)
                turn(item)
            while isinstance(item, Row) and height_of(item, columns) > left:
                fitting = max(1, int((left - _PAD) / columns.leading))
                if fitting >= len(item.lines):
                    break
                part, item = item.cut(fitting)
                put(part)
                turn(item)
            put(item)
    return pages


def layout(plan: Plan, blocks: Sequence[PlaceWeeks]) -> tuple[Columns, list[list[Item]], bool]:
    """Columns, what stands in each, and whether the hours take a page of their own.

    One page with the hours, else one without, each in the largest type that fits; else type that saves pages.
    """
    full = PAPERS[plan.season.paper][1] - 2 * MARGIN - HEAD - FOOT - LABELS
    first = full - STRIP
    for apart, size, across in product((False, True), SIZES, (2, 3)):
        columns = columns_of(plan, blocks, size, across)
        if columns.moves < LEAST and across > 2:
            continue
        groups, room = _items(plan, blocks, columns), full if apart else first
        for whole in (True, False):
            if len(flow(groups, columns, lambda n, room=room: room, whole)) <= across:  # type: ignore[misc]
                return columns, _evened(groups, columns, room, whole), apart
    found = []
    for size in SIZES:
        columns = columns_of(plan, blocks, size, 2)
        groups = _items(plan, blocks, columns)
        flowed = flow(groups, columns, lambda n: first if n < 2 else full, False)
        found.append((columns, flowed, False))
    return min(found, key=lambda one: -(-len(one[1]) // 2))  # the largest of equals


def _evened(groups: Sequence[Sequence[Item]], columns: Columns, most: float, whole: bool) -> list[list[Item]]:
    """The columns of one page in the least height that holds them."""
    low, high = 0.0, most
    for _ in range(8):
        middle = (low + high) / 2
        if _fits(flow(groups, columns, lambda n, room=middle: room, whole), columns, middle):  # type: ignore[misc]
            high = middle
        else:
            low = middle
    return flow(groups, columns, lambda n: high, whole)


def _fits(found: Sequence[Sequence[Item]], columns: Columns, room: float) -> bool:
    return len(found) <= columns.across and all(
        sum(height_of(item, columns) for item in items) <= room for items in found
    )
