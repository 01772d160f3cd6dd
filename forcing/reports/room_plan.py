"""The room plan: for each place, what goes in and out each week, how full it is and what it is set to.

One page where that can be read, else more; two columns of places, and a strip of staff hours below them or behind.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from io import BytesIO
from itertools import groupby, product
from pathlib import Path

from reportlab.lib.colors import HexColor

from forcing.dates import DAY, Span, monday, weeks_of
from forcing.engine.companions import CompanionPlan
from forcing.files import replacing
from forcing.model import Plan, RoomSetting
from forcing.reports.draw import text as fit
from forcing.reports.gantt.frame import CAUTION
from forcing.reports.gantt.sheet import PAPERS
from forcing.reports.room_weeks import LITTLE, Move, PlaceWeeks, WeekRow, place_weeks
from forcing.reports.style import ALERT, INK, PAPER, QUIET, RULE, TINT, count, long_date, short_date
from forcing.reports.task_words import ARROW, plain
from forcing.reports.week.parts import BOLD, REGULAR, new_canvas
from forcing.units import TemperatureUnit, from_celsius, show_temperature

# Lines of a hatch as (across, down) for a run of one gap; '' is a plain fill.
HATCHES: dict[str, tuple[tuple[int, int], ...]] = {
    "": (),
    "/": ((1, -1),),
    "\\": ((1, 1),),
    "x": ((1, -1), (1, 1)),
    "-": ((1, 0),),
    "|": ((0, 1),),
}


def words(text: str) -> str:
    """User text as this sheet prints it: one line, without what the font cannot draw."""
    return fit.clean(plain(text))


class Page:
    """The file and its current page, `width` by `height` [pt]."""

    def __init__(self, size: tuple[float, float], title: str, created: datetime) -> None:
        self.width, self.height = size
        self._file = BytesIO()
        self._canvas = new_canvas(self._file, size, title, created)

    def next(self) -> None:
        self._canvas.showPage()

    def content(self) -> bytes:
        """The whole file."""
        self._canvas.save()
        return self._file.getvalue()

    def text(
        self,
        x: float,
        y: float,
        said: str,
        size: float,
        *,
        bold: bool = False,
        colour: str = INK,
        side: str = "left",
    ) -> None:
        """Write on the baseline `y`; `x` is the left end, the right end or the middle of the words."""
        if not said:
            return
        wide = fit.width(said, size, bold)
        left = x - wide if side == "right" else x - wide / 2 if side == "center" else x
        self._canvas.setFillColor(HexColor(colour))
        self._canvas.setFont(BOLD if bold else REGULAR, size)
        self._canvas.drawString(left, self.height - y, said)

    def line(
        self,
        points: Sequence[tuple[float, float]],
        thick: float = 0.5,
        colour: str = INK,
        dashes: tuple[float, ...] = (),
    ) -> None:
        self._canvas.setStrokeColor(HexColor(colour))
        self._canvas.setLineWidth(thick)
        self._canvas.setDash(*([list(dashes)] if dashes else []))
        path = self._canvas.beginPath()
        path.moveTo(points[0][0], self.height - points[0][1])
        for x, y in points[1:]:
            path.lineTo(x, self.height - y)
        self._canvas.drawPath(path)
        self._canvas.setDash()

    def area(self, points: Sequence[tuple[float, float]], fill: str) -> None:
        self._canvas.setFillColor(HexColor(fill))
        path = self._canvas.beginPath()
        path.moveTo(points[0][0], self.height - points[0][1])
        for x, y in points[1:]:
            path.lineTo(x, self.height - y)
        path.close()
        self._canvas.drawPath(path, stroke=0, fill=1)

    def box(
        self,
        left: float,
        top: float,
        right: float,
        bottom: float,
        *,
        fill: str | None = None,
        hatch: str = "",
        edge: str | None = None,
        thick: float = 0.5,
    ) -> None:
        """A rectangle: filled, then hatched in ink, then outlined."""
        if right - left <= 0 or bottom - top <= 0:
            return
        x, y, wide, tall = left, self.height - bottom, right - left, bottom - top
        if fill is not None:
            self._canvas.setFillColor(HexColor(fill))
            self._canvas.rect(x, y, wide, tall, stroke=0, fill=1)
        if hatch:
            self._hatch(left, top, right, bottom, hatch)
        if edge is not None:
            self._canvas.setStrokeColor(HexColor(edge))
            self._canvas.setLineWidth(thick)
            self._canvas.rect(x, y, wide, tall, stroke=1, fill=0)

    def _hatch(
        self, left: float, top: float, right: float, bottom: float, hatch: str, gap: float = 3.0
    ) -> None:
        canvas = self._canvas
        canvas.saveState()
        path = canvas.beginPath()
        path.rect(left, self.height - bottom, right - left, bottom - top)
        canvas.clipPath(path, stroke=0, fill=0)
        canvas.setStrokeColor(HexColor(INK))
        canvas.setLineWidth(0.5)
        tall, wide = bottom - top, right - left
        for across, down in HATCHES[hatch]:
            # A slanted line covers as much across as it does down, so it starts that far before the box.
            slant = tall if across and down else 0.0
            reach = tall if across and not down else wide + slant
            for i in range(int(reach / gap) + 1):
                at = (i + 0.5) * gap
                if across and not down:
                    ends = (left, top + at, right, top + at)
                elif not across:
                    ends = (left + at, top, left + at, bottom)
                else:
                    start = left - tall + at
                    y1, y2 = (bottom, top) if down < 0 else (top, bottom)
                    ends = (start, y1, start + tall, y2)
                canvas.line(ends[0], self.height - ends[1], ends[2], self.height - ends[3])
        canvas.restoreState()


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


STRIP, ALONE = 88.0, 320.0  # height of the strip below the places, and on a page of its own [pt]
HOURS_SMALL = 6.5
OTHER = "all other"
# Fill and hatch of a kind of task, the kind with most hours first: no two alike in grey.
_MARKS = (
    ("#595959", ""),
    ("#f0e442", "/"),
    (PAPER, "\\"),
    ("#a6d4f2", ""),
    (PAPER, "x"),
    ("#cc79a7", "-"),
)
_OTHER_MARK = (PAPER, "|")
_LEFT, _RIGHT = 30.0, 62.0  # room for the scale and for the words of the limit


@dataclass(frozen=True, slots=True)
class Hours:
    """Staff hours: kind of task -> Monday -> hours, the kind with most hours first; `weeks` without a gap."""

    weeks: tuple[date, ...]
    kinds: Mapping[str, Mapping[date, float]]
    limit: float | None

    def total(self, week: date) -> float:
        return sum(by_week.get(week, 0.0) for by_week in self.kinds.values())

    def over(self, week: date) -> bool:
        return self.limit is not None and self.total(week) > self.limit + 1e-6


def hours_of(plan: Plan) -> Hours:
    """The hours of every task of a plan by kind; beyond six kinds the least are one kind."""
    found: dict[str, dict[date, float]] = defaultdict(lambda: defaultdict(float))
    for task in plan.tasks:
        if task.hours > 0:
            found[task.task][monday(task.date)] += task.hours
    order = sorted(found, key=lambda kind: (-sum(found[kind].values()), kind))
    kinds: dict[str, Mapping[date, float]] = {}
    most = len(_MARKS)
    for kind in order[: most if len(order) > most + 1 else most + 1]:
        kinds[kind] = dict(found[kind])
    rest: dict[date, float] = defaultdict(float)
    for kind in order[len(kinds) :]:
        for week, hours in found[kind].items():
            rest[week] += hours
    if rest:
        kinds[OTHER] = dict(rest)
    days = [week for by_week in kinds.values() for week in by_week]
    weeks = weeks_of(Span(min(days), max(days) + DAY)) if days else ()
    return Hours(weeks, kinds, plan.season.hours_per_week)


def draw_hours(page: Page, plan: Plan, left: float, top: float, right: float, tall: float = STRIP) -> None:
    """The strip, `tall` high, from `top` down."""
    hours = hours_of(plan)
    page.line(((left, top + 1), (right, top + 1)), 0.8)
    page.text(left, top + 11, "Staff hours a week", 9, bold=True)
    x = left + fit.width("Staff hours a week", 9, True) + 10
    page.text(
        x, top + 11, fit.shorten(_facts(hours), right - x, HOURS_SMALL + 0.4), HOURS_SMALL + 0.4, colour=QUIET
    )
    if not hours.weeks:
        return
    _draw_key(page, hours, left, top + 22, right)
    base, plot = top + tall - 24, tall - 24 - 37
    start, step = left + _LEFT, (right - _RIGHT - left - _LEFT) / len(hours.weeks)
    tallest = max(*(hours.total(week) for week in hours.weeks), hours.limit or 0.0, 1e-9)
    end = start + step * len(hours.weeks)
    for i, week in enumerate(hours.weeks):
        _draw_bar(page, hours, week, start + i * step, step, base, plot / tallest)
    page.line(((start, base), (end, base)), 0.6)
    page.text(start - 4, base, "0", HOURS_SMALL, colour=QUIET, side="right")
    page.text(
        start - 4, base - plot + 3, f"{count(round(tallest, 1))} h", HOURS_SMALL, colour=QUIET, side="right"
    )
    if hours.limit is not None:
        level = base - hours.limit * plot / tallest
        page.line(((start, level), (end, level)), 1.1, dashes=(4, 2))
        said = fit.shorten(f"{count(hours.limit)} hours", _RIGHT - 5, HOURS_SMALL, True)
        page.text(end + 4, level + 2.4, said, HOURS_SMALL, bold=True)
    for i, week in enumerate(hours.weeks):
        _write_total(page, hours, week, start + i * step, step, base, plot / tallest)
    _draw_weeks(page, hours, start, step, base)


def _facts(hours: Hours) -> str:
    if not hours.weeks:
        return "There is no work: no lot is planned."
    said = (
        "no limit is stated"
        if hours.limit is None
        else f"there are {count(hours.limit)} hours a week (dashed line)"
    )
    over = [week for week in hours.weeks if hours.over(week)]
    if over:
        named = ", ".join(f"W{week.isocalendar().week:02d}" for week in over[:12])
        said += f"; ▲ more work than that in {named}{' and others' if len(over) > 12 else ''}"
    return f"by kind of task; {said}."


def _mark(hours: Hours, kind: str) -> tuple[str, str]:
    i = list(hours.kinds).index(kind)
    return _OTHER_MARK if i >= len(_MARKS) else _MARKS[i]


def _draw_key(page: Page, hours: Hours, left: float, y: float, right: float) -> None:
    """A swatch and the name of each kind with its hours in the season, as wide as their share of the line."""
    room = (right - left) / len(hours.kinds)
    x = left
    for kind, by_week in hours.kinds.items():
        fill, hatch = _mark(hours, kind)
        page.box(x, y - 6, x + 13, y + 1, fill=fill, hatch=hatch, edge=INK)
        total = f" {count(round(sum(by_week.values()), 1))} h"
        name = fit.shorten(words(kind), room - 24 - fit.width(total, HOURS_SMALL), HOURS_SMALL)
        page.text(x + 16, y, name + total, HOURS_SMALL)
        x += 16 + fit.width(name + total, HOURS_SMALL) + 10


def _draw_bar(
    page: Page, hours: Hours, week: date, x: float, step: float, base: float, per_hour: float
) -> None:
    inset = min(1.2, step * 0.1)
    y = base
    for kind, by_week in hours.kinds.items():
        tall = by_week.get(week, 0.0) * per_hour
        fill, hatch = _mark(hours, kind)
        if tall > 0.15:
            page.box(
                x + inset, y - tall, x + step - inset, y, fill=fill, hatch=hatch if tall > 1 else "", edge=INK,
                thick=0.35,
            )  # fmt: skip
        y -= tall


def _write_total(
    page: Page, hours: Hours, week: date, x: float, step: float, base: float, per_hour: float
) -> None:
    """The hours of a week over its bar, with a black mark where they are more than there are."""
    total, over = hours.total(week), hours.over(week)
    y = base - total * per_hour
    if total <= 0:
        return
    said = "<1" if total < 0.5 else f"{total:,.0f}"
    written = fit.width(said, HOURS_SMALL, over) <= step - 0.6
    if written:
        page.box(x + 0.3, y - 8.6, x + step - 0.3, y - 1, fill=PAPER)  # the line of the limit may run there
        page.text(
            x + step / 2, y - 2, said, HOURS_SMALL, bold=over, colour=ALERT if over else INK, side="center"
        )
    if over:
        tip, middle, half = y - (13.4 if written else 6.4), x + step / 2, min(3.0, step / 2)
        page.area(((middle, tip), (middle - half, tip + 4.4), (middle + half, tip + 4.4)), ALERT)


def _draw_weeks(page: Page, hours: Hours, start: float, step: float, base: float) -> None:
    """ISO week and date of its Monday, as many as there is room for."""
    every_week = max(1, -(-int(fit.width("W53", HOURS_SMALL) + 4) // max(1, int(step))))
    every_date = max(1, -(-int(fit.width("28 Mar", HOURS_SMALL) + 5) // max(1, int(step))))
    every_date = -(-every_date // every_week) * every_week  # a date stands under its week
    for i, week in enumerate(hours.weeks):
        x = start + (i + 0.5) * step
        page.line(((start + i * step, base), (start + i * step, base + 2)), 0.4, RULE)
        if i % every_week == 0 and x + 9 < start + step * len(hours.weeks) + _RIGHT:
            page.text(x, base + 9, f"W{week.isocalendar().week:02d}", HOURS_SMALL, side="center")
        if i % every_date == 0:
            page.text(x, base + 17.5, short_date(week)[4:], HOURS_SMALL, colour=QUIET, side="center")


def write_room_plan(
    plan: Plan, folder: Path, *, created: datetime, companions: Sequence[CompanionPlan] = ()
) -> Path:
    """Write `room-plan.pdf` into `folder` and return its path.

    `companions` go in and out with the lots. `created` goes into the file's own dates, so that the same plan gives
    the same bytes. Raises OutputError where the file cannot be written.
    """
    path = folder / "room-plan.pdf"
    content = _print(plan, place_weeks(plan, companions), created)
    with replacing(path) as temporary:
        temporary.write_bytes(content)
    return path


# ---------------------------------------------------------------- drawing


def _print(plan: Plan, blocks: Sequence[PlaceWeeks], created: datetime) -> bytes:
    size = PAPERS[plan.season.paper]
    title = words(plan.season.title) or "Forcing plan"
    columns, flowed, apart = layout(plan, blocks)
    filled = -(-len(flowed) // columns.across)
    pages = filled + int(apart)
    page = Page(size, f"{title}: room plan", created)
    left, right = MARGIN, size[0] - MARGIN
    names = (plan.season.title, *(p.name for p in plan.season.places), *(p.lot.name for p in plan.lots))
    foot = f"{CAUTION} {fit.letters_note(names)}".strip()
    for number in range(pages):
        _draw_head(page, plan, title, left, right, key=number < filled)
        for side, items in enumerate(flowed[columns.across * number : columns.across * (number + 1)]):
            x = left + side * (columns.wide + GUTTER)
            _draw_labels(page, columns, x, MARGIN + HEAD + 6.5)
            _draw_column(page, plan, items, columns, x, MARGIN + HEAD + LABELS)
        if number == filled:
            draw_hours(page, plan, left, MARGIN + HEAD + 4, right, ALONE)
        elif number == 0 and not apart:
            draw_hours(page, plan, left, size[1] - MARGIN - FOOT - STRIP + 4, right)
        _draw_foot(page, foot, left, right, size[1] - MARGIN, f"page {number + 1} of {pages}")
        page.next()
    return page.content()


def _draw_head(page: Page, plan: Plan, title: str, left: float, right: float, *, key: bool) -> None:
    page.text(left, MARGIN + 11, fit.shorten(f"Room plan: {title}", right - left, 14, True), 14, bold=True)
    if not key:
        return
    show = plan.season.span
    said = (
        f"What goes in and out of each place, week by week, as of {long_date(plan.on)}. The show opens "
        f"{long_date(show.start)}. Weeks are ISO weeks with the date of their Monday; the black one is this week."
    )
    page.text(left, MARGIN + 22, fit.shorten(said, right - left, 7.6), 7.6, colour=QUIET)
    marks = (
        f"In and out: lot (pots), {ARROW} where they go. Most pots: 15 cm-pot equivalents on the fullest day, the bar "
        "as part of the place's room;"
    )
    page.text(left, MARGIN + 32.5, marks, 7.2, colour=QUIET)
    x = left + fit.width(marks, 7.2) + 6
    page.box(x, MARGIN + 27, x + 18, MARGIN + 33, fill=PAPER, hatch="/", edge=INK)
    over = fit.shorten("▲ hatched: over it, by so many.", right - x - 22, 7.2, True)
    page.text(x + 22, MARGIN + 32.5, over, 7.2, bold=True)


def _draw_foot(page: Page, said: str, left: float, right: float, y: float, number: str) -> None:
    page.line(((left, y - 9), (right, y - 9)), 0.4, RULE)
    page.text(
        left,
        y,
        fit.shorten(said, right - left - fit.width(number, SMALL) - 12, SMALL),
        SMALL,
        colour=QUIET,
    )
    page.text(right, y, number, SMALL, colour=QUIET, side="right")


def _draw_column(page: Page, plan: Plan, items: Sequence[Item], columns: Columns, x: float, y: float) -> None:
    for item in items:
        if isinstance(item, Heading):
            _draw_heading(page, item, columns, x, y)
        elif isinstance(item, Row):
            _draw_row(page, plan.on, item, columns, x, y)
        else:
            page.text(x, y + columns.leading, item.said, columns.size)
        y += height_of(item, columns)


def _draw_labels(page: Page, columns: Columns, x: float, base: float) -> None:
    page.text(x + 2, base, "Week of", SMALL, colour=QUIET)
    page.text(x + columns.week, base, "What goes in and out", SMALL, colour=QUIET)
    at = x + columns.week + columns.way + columns.moves + columns.pots
    page.text(at - 3, base, "Most pots", SMALL, colour=QUIET, side="right")
    page.text(at + columns.bar, base, "Set to", SMALL, colour=QUIET)


def _draw_heading(page: Page, heading: Heading, columns: Columns, x: float, y: float) -> None:
    place, size = heading.block.place, columns.size
    base = y + 3 + size
    page.box(x, y + 2, x + columns.wide, base + 2.6, fill=TINT)
    page.line(((x, y + 2), (x + columns.wide, y + 2)), 0.8)
    room = "room not stated" if place.pots is None else f"room for {count(place.pots)} pots"
    facts = f"{place.kind}, {room}{', goes on' if heading.again else ''}"
    named = fit.shorten(words(place.name), columns.wide - fit.width(facts, size) - 14, size + 0.6, True)
    page.text(x + 2, base, named, size + 0.6, bold=True)
    page.text(x + columns.wide - 2, base, facts, size, colour=QUIET, side="right")


def _draw_row(page: Page, on: date, row: Row, columns: Columns, x: float, y: float) -> None:
    size, leading = columns.size, columns.leading
    bottom, base = y + height_of(row, columns), y + leading
    page.line(((x, bottom), (x + columns.wide, bottom)), 0.35, RULE)
    _draw_week(page, on, row.week, columns, x, base)
    at, colour = x + columns.week, QUIET if row.week.quiet else INK
    for i, line in enumerate(row.lines):
        for shift, said, bold in line:
            page.text(at + shift, base + i * leading, said, size, bold=bold, colour=colour)
    if row.first:
        at += columns.way + columns.moves
        _draw_load(page, row, columns, at, base)
        page.text(at + columns.pots + columns.bar, base, row.degrees, size)


def _draw_week(page: Page, on: date, week: WeekRow, columns: Columns, x: float, base: float) -> None:
    size, start = columns.size, week.span.start
    number = f"W{start.isocalendar().week:02d}"
    wide = fit.width(number, size, True)
    now = on in week.span
    if now:
        page.box(x, base - size, x + wide + 4, base + 0.28 * size, fill=INK)
    page.text(x + 2, base, number, size, bold=True, colour=PAPER if now else INK)
    page.text(x + 2 + wide + 4, base, short_date(start)[4:], size)


def _draw_load(page: Page, row: Row, columns: Columns, at: float, base: float) -> None:
    size, capacity, pots = columns.size, row.block.place.pots, row.week.fullest
    over = row.block.over(row.week) > 0
    said = pots_text(row.block, row.week)
    page.text(at + columns.pots - 3, base, said, size, bold=over, colour=ALERT if over else INK, side="right")
    if capacity is None:
        return
    left, top, wide = at + columns.pots, base - 0.75 * size, columns.bar - 4
    if over:
        page.box(left, top, left + wide, base, fill=PAPER, hatch="/", edge=INK, thick=1.1)
        return
    part = pots / capacity if capacity > 0 else 0.0
    page.box(left, top, left + wide * min(1.0, part), base, fill="#8c8c8c")
    page.box(left, top, left + wide, base, edge=INK, thick=0.4)
