"""The Gantt sheet as blocks of known height - axis, rows, loads, key - laid out, broken into pages, drawn."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Literal

from matplotlib.figure import Figure

from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas
from forcing.reports.gantt.chart import (
    Chart,
    Group,
    Scale,
    other_hours,
    unplanned_words,
)
from forcing.reports.gantt.frame import (
    AXIS_HEIGHT,
    FLAG_HEIGHT,
    HEADING_HEIGHT,
    Frame,
    draw_axis,
    draw_days,
    draw_flags,
    draw_foot,
    draw_title,
    flags_of,
    title_height,
)
from forcing.reports.gantt.rows import (
    columns_of,
    draw_heading,
    draw_panel,
    draw_row,
    heading_room,
    panels_of,
    target_room,
)

MARGIN, FOOT, _BEFORE_AXIS = 26.0, 16.0, 10.0
_WORDS, _BLOCK_LINE = 7.5, 10.0  # type size and height of a line of words [pt]


Draw = Callable[[Canvas, float], None]  # draws from a y down


@dataclass(frozen=True, slots=True)
class Block:
    """A piece of the sheet with its height [pt] and how to draw it."""

    section: Literal["rows", "loads", "words"]
    height: float
    draw: Draw
    heading: bool = False  # never the last on a page
    again: Block | None = None  # drawn above it where a page begins with it

    @property
    def on_days(self) -> bool:
        """Whether the weeks and the show run on behind it."""
        return self.section != "words"


@dataclass(frozen=True, slots=True)
class Layout:
    """All blocks of a sheet for one page width [pt], and the room that its head takes [pt]."""

    chart: Chart
    frame: Frame
    blocks: tuple[Block, ...]
    title: float  # title and key
    strip: float  # flags over the rows

    @property
    def head(self) -> float:
        return self.title + self.strip + AXIS_HEIGHT


def layout_of(chart: Chart, width: float, row: float, plot: float) -> Layout:
    """The blocks for a page width, a height of rows and a height of the plots of places [pt]."""
    columns = columns_of(chart, row, width * 0.27)
    left, right = MARGIN, width - MARGIN
    start = left + max(columns.total, width * 0.17, min(heading_room(chart), width * 0.27))
    frame = Frame(left, right, Scale(chart.span, start, right - target_room(chart, row) - start))
    blocks: list[Block] = []
    for group in chart.groups:
        again = Block("rows", HEADING_HEIGHT, _headed(frame, group, again=True), heading=True)
        blocks.append(Block("rows", HEADING_HEIGHT, _headed(frame, group, again=False), heading=True))
        for item in group.rows:
            draw = partial(draw_row, frame=frame, columns=columns, row=item, height=row, on=chart.plan.on)
            blocks.append(Block("rows", row, draw, again=again))
    if not chart.groups:
        blocks.append(Block("rows", 40.0, partial(_say, x=left, text="No lot is planned.")))
    blocks += _loads(chart, frame, plot) + _words(chart, frame)
    levels = 1 + max(flag.level for flag in flags_of(chart, frame))
    return Layout(chart, frame, tuple(blocks), title_height(frame, chart), FLAG_HEIGHT * levels + 4)


def _headed(frame: Frame, group: Group, *, again: bool) -> Draw:
    return partial(draw_heading, frame=frame, group=group, again=again)


def _say(canvas: Canvas, y: float, x: float, text: str) -> None:
    canvas.text(x, y + 15, text, 9, bold=True)


def _loads(chart: Chart, frame: Frame, plot: float) -> list[Block]:
    """A heading and a block for each place with pots in it."""
    panels = panels_of(chart, frame)
    if not panels:
        return []
    title, again = (
        Block("loads", 20.0, partial(_say, x=frame.left, text=text), heading=True)
        for text in ("Pots in each place", "Pots in each place, continued")
    )
    draws = (partial(draw_panel, frame=frame, panel=panel, plot=plot) for panel in panels)
    return [
        title,
        *(
            Block("loads", panel.extra + plot, draw, again=again)
            for panel, draw in zip(panels, draws, strict=True)
        ),
    ]


def _words(chart: Chart, frame: Frame) -> list[Block]:
    """Lots without a plan and other things that have no bar, a block for each line."""
    blocks: list[Block] = []
    notes = list(other_hours(chart.plan))
    if chart.empty:
        notes.append(f"No pots in the plan for {', '.join(chart.empty)}.")
    for title, texts in (("Lots without a plan", unplanned_words(chart.plan)), ("Also", notes)):
        if texts:
            blocks.append(_line(frame, title, bold=True))
        for text in texts:
            blocks += [_line(frame, line) for line in fit.wrap(fit.clean(text), frame.width, _WORDS)]
    return blocks


def _line(frame: Frame, text: str, *, bold: bool = False) -> Block:
    def draw(canvas: Canvas, y: float) -> None:
        drop = 14.0 if bold else 7.5
        canvas.text(frame.left, y + drop, text, 9 if bold else _WORDS, bold=bold)

    return Block("words", 18.0 if bold else _BLOCK_LINE, draw, heading=bold)


# ---------------------------------------------------------------- pages


def paginate(blocks: Sequence[Block], room: float) -> list[list[Block]]:
    """Blocks in pages of `room` [pt]: no heading last, headings repeated, the loads kept on one page."""
    pages: list[list[Block]] = [[]]
    loads = sum(block.height for block in blocks if block.section == "loads")
    left, section = room, "rows"
    for i, block in enumerate(blocks):
        need = block.height
        if block.section == "loads" != section and left < loads <= room:
            need = loads
        elif block.heading and i + 1 < len(blocks):
            need += blocks[i + 1].height
        section = block.section
        if need > left and pages[-1]:
            pages.append([])
            left = room
            if block.again:
                pages[-1].append(block.again)
                left -= block.again.height
        pages[-1].append(block)
        left -= block.height
    return pages


def draw_page(
    layout: Layout, blocks: Sequence[Block], height: float, page: str, *, repeat: int = 0
) -> Figure:
    """One page of that height [pt]. `repeat`: draw the axis again after so many rows (0: never)."""
    chart, frame = layout.chart, layout.frame
    canvas = Canvas(frame.right + MARGIN, height)
    y = draw_title(canvas, frame, chart, MARGIN)
    if any(block.on_days for block in blocks):
        draw_axis(canvas, frame, y, target=bool(chart.groups) and blocks[0].section == "rows")
        draw_flags(canvas, flags_of(chart, frame), y + AXIS_HEIGHT, layout.strip)
        y += AXIS_HEIGHT + layout.strip
    top = y  # of the stretch that the days run on behind
    for block, axis in with_axes(blocks, repeat):
        if axis or not block.on_days:
            draw_days(canvas, frame, chart, top, y)
        if axis:
            draw_axis(canvas, frame, y + _BEFORE_AXIS, target=block.section == "rows")
            y = top = y + _BEFORE_AXIS + AXIS_HEIGHT
        block.draw(canvas, y)
        y += block.height
        top = top if block.on_days else y
    draw_days(canvas, frame, chart, top, y)
    draw_foot(canvas, frame, height - MARGIN, page, _missing_letters(chart))
    return canvas.figure()


def with_axes(blocks: Sequence[Block], repeat: int) -> list[tuple[Block, bool]]:
    """Each block, and whether an axis is drawn before it: so that one is never far above a row."""
    found, since = [], 0
    for block in blocks:
        starts = block.heading and block.on_days and since >= repeat // 2
        axis = repeat > 0 and (starts or (since >= repeat and block.section == "rows"))
        since = 0 if axis else since + (not block.heading)
        found.append((block, axis))
    return found


def picture_height(layout: Layout, repeat: int) -> float:
    """Height [pt] of all blocks on one page."""
    axes = sum(axis for _, axis in with_axes(layout.blocks, repeat))
    body = sum(block.height for block in layout.blocks) + axes * (AXIS_HEIGHT + _BEFORE_AXIS)
    return 2 * MARGIN + layout.head + body + FOOT + 6


def _missing_letters(chart: Chart) -> str:
    plan = chart.plan
    texts = [
        plan.season.title,
        *(row.name for row in chart.rows),
        *(row.plan.lot.cultivar or "" for row in chart.rows),
    ]
    texts += [load.place for load in chart.loads] + list(unplanned_words(plan))
    return fit.letters_note(texts)
