"""The Gantt sheet: every lot's steps against the days of the season, and how full each place is below.

The same pieces are laid out twice: in pages of the season's paper (PDF), and as one tall picture (PNG, SVG).
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path

from forcing.model import Plan
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas
from forcing.reports.draw.days import (
    AXIS_HEIGHT,
    FLAG_HEIGHT,
    Frame,
    draw_axis,
    draw_days,
    draw_flags,
    flag_levels,
    frame_of,
)
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
    write_picture,
    write_sheet,
)
from forcing.reports.gantt.chart import Chart, chart_of, other_hours, unplanned_words
from forcing.reports.gantt.pieces import (
    HEADING_HEIGHT,
    columns_of,
    draw_heading,
    draw_panel,
    draw_row,
    draw_title,
    heading_room,
    panels_of,
    target_room,
    title_height,
)
from forcing.reports.style import QUIET

ROWS, PLOTS = (10.9, 19.0), (34.0, 90.0)  # least and greatest height of a row, and of a place's plot [pt]
_PICTURE_WIDTH, _PICTURE_ROW, _PICTURE_PLOT, _AXIS_EVERY = 1120.0, 14.0, 62.0, 40
MARGIN, FOOT, _BEFORE_AXIS = 26.0, 16.0, 10.0
_WORDS, _WORDS_LINE = 7.5, 10.0  # type size and height of a line of words [pt]


def write_gantt(plan: Plan, folder: Path, *, created: datetime) -> tuple[Path, ...]:
    """Write gantt.pdf, gantt.png and gantt.svg of a plan into a folder; gives their paths.

    `created` goes into the files (a time without a zone is taken as UTC), so that the same plan gives the
    same bytes. Raises OutputError where a file cannot be written.
    """
    chart, title = chart_of(plan), title_of(plan)
    picture = draw_picture(chart)
    return (
        write_sheet(folder / "gantt.pdf", draw_pages(chart), title, created),
        write_picture(folder / "gantt.png", picture, title, created),
        write_picture(folder / "gantt.svg", picture, title, created),
    )


def draw_pages(chart: Chart) -> list[Canvas]:
    """The sheet in pages of the season's paper, rows and plots as tall as that number of pages allows."""
    width, height = PAPERS[chart.plan.season.paper]

    def pages(row: float, plot: float, words_first: bool) -> tuple[Layout, list[list[Piece]]]:
        layout = layout_of(chart, width, row, plot)
        return layout, layout.pages(height - 2 * MARGIN - layout.head - FOOT, words_first)

    # Words go last, unless they fill up a page of rows and so save one.
    least = (ROWS[0], PLOTS[0])
    words_first = len(pages(*least, True)[1]) < len(pages(*least, False)[1])

    def spread(row: float, plot: float) -> list[tuple[bool, int]]:
        _, found = pages(row, plot, words_first)
        kinds = [[piece.section for piece in page] for page in found]
        return [("rows" in page, page.count("loads")) for page in kinds]

    best = spread(*least)
    row = _largest(ROWS, 0.4, lambda value: spread(value, PLOTS[0]) == best)
    plot = _largest(PLOTS, 4.0, lambda value: spread(row, value) == best)
    layout, found = pages(row, plot, words_first)
    return [
        _draw_page(layout, pieces, height, f"page {i} of {len(found)}") for i, pieces in enumerate(found, 1)
    ]


def draw_picture(chart: Chart) -> Canvas:
    """The sheet as one picture, as tall as it needs, the axis drawn again every so many rows."""
    layout = layout_of(chart, _PICTURE_WIDTH, _PICTURE_ROW, _PICTURE_PLOT)
    pieces = [*layout.rows, *layout.loads, *layout.words]
    axes = sum(axis for _, axis in _with_axes(pieces, _AXIS_EVERY))
    body = height_of(pieces) + axes * (AXIS_HEIGHT + _BEFORE_AXIS)
    height = 2 * MARGIN + layout.head + body + FOOT + 6
    return _draw_page(layout, pieces, height, "", repeat=_AXIS_EVERY)


def _largest(between: tuple[float, float], step: float, good: Callable[[float], bool]) -> float:
    """The largest value, in steps down from the upper bound, from which on down all are good; else the lower bound."""
    low, high = between
    steps = range(math.ceil((high - low) / step))
    return max(low, high - step * bisect_left(steps, True, key=lambda i: good(high - step * i)))


# ---------------------------------------------------------------- pieces


@dataclass(frozen=True, slots=True)
class Layout:
    """All pieces of a sheet for one page width [pt], and the room that its head takes [pt]."""

    chart: Chart
    frame: Frame
    rows: tuple[Piece, ...]
    loads: tuple[Piece, ...]
    words: tuple[Piece, ...]  # that the weeks and the show do not run on behind
    title: float  # title and key
    strip: float  # flags over the rows

    @property
    def head(self) -> float:
        return self.title + self.strip + AXIS_HEIGHT

    def pages(self, room: float, words_first: bool = False) -> list[list[Piece]]:
        """In pages of `room` [pt], the loads on one of them where it can hold them."""
        rows, loads, words = Stretch(self.rows), Stretch(self.loads, whole=True), Stretch(self.words)
        stretches = (rows, words, loads) if words_first else (rows, loads, words)
        return flow([stretch for stretch in stretches if stretch.pieces], lambda n: room)


def layout_of(chart: Chart, width: float, row: float, plot: float) -> Layout:
    """The pieces for a page width, a height of rows and a height of the plots of places [pt]."""
    columns = columns_of(chart, row, width * 0.27)
    before = max(columns.total, width * 0.17, min(heading_room(chart), width * 0.27))
    frame = frame_of(chart.plan, chart.span, (MARGIN, width - MARGIN), before, target_room(chart, row))
    rows: list[Piece] = []
    for group in chart.groups:
        first, again = (
            Piece(
                HEADING_HEIGHT,
                partial(draw_heading, frame=frame, group=group, again=said),
                heading=True,
                section="rows",
            )
            for said in (False, True)
        )
        draws = (partial(draw_row, frame=frame, columns=columns, row=lot, height=row) for lot in group.rows)
        rows += [first, *(Piece(row, draw, again=again, section="rows") for draw in draws)]
    if not rows:
        rows.append(Piece(40.0, partial(_say, text="No lot is planned."), section="rows"))
    return Layout(
        chart, frame, tuple(rows), tuple(_loads(chart, frame, plot)), tuple(_words(chart, frame)),
        title_height(frame, chart), FLAG_HEIGHT * flag_levels(frame) + 4,
    )  # fmt: skip


def _say(
    canvas: Canvas, x: float, y: float, text: str, size: float = 9, drop: float = 15, bold: bool = True
) -> None:
    canvas.text(x, y + drop, text, size, bold=bold)


def _loads(chart: Chart, frame: Frame, plot: float) -> Iterator[Piece]:
    """A heading and a piece for each place with pots in it."""
    if not chart.loads:
        return
    title = "Pots in each place"
    first, again = (
        Piece(20.0, partial(_say, text=said), heading=True, section="loads")
        for said in (title, f"{title}, continued")
    )
    yield first
    for panel in panels_of(chart, frame):
        draw = partial(draw_panel, frame=frame, panel=panel, plot=plot)
        yield Piece(panel.extra + plot, draw, again=again, section="loads")


def _words(chart: Chart, frame: Frame) -> Iterator[Piece]:
    """Lots without a plan and other things that have no bar, a piece for each line."""
    notes = list(other_hours(chart.plan))
    if chart.empty:
        notes.append(f"No pots in the plan for {', '.join(chart.empty)}.")
    for title, texts in (("Lots without a plan", unplanned_words(chart.plan)), ("Also", notes)):
        if texts:
            yield Piece(18.0, partial(_say, text=title, drop=14.0), heading=True)
        for line in (line for text in texts for line in fit.wrap(fit.clean(text), frame.width, _WORDS)):
            yield Piece(_WORDS_LINE, partial(_say, text=line, size=_WORDS, drop=7.5, bold=False))


# ---------------------------------------------------------------- pages


def _draw_page(
    layout: Layout, pieces: Sequence[Piece], height: float, page: str, *, repeat: int = 0
) -> Canvas:
    """One page of that height [pt]. `repeat`: draw the axis again after so many rows (0: never)."""
    chart, frame = layout.chart, layout.frame
    canvas = Canvas(frame.right + MARGIN, height)
    y = draw_title(canvas, frame, chart, MARGIN)
    if any(piece.section for piece in pieces):
        _draw_axis(canvas, frame, y, target=bool(chart.groups) and pieces[0].section == "rows")
        draw_flags(canvas, frame, y + AXIS_HEIGHT, layout.strip)
        y += AXIS_HEIGHT + layout.strip
    top = y  # of the stretch that the days run on behind
    for piece, axis in _with_axes(pieces, repeat):
        if axis or not piece.section:
            draw_days(canvas, frame, top, y)
        if axis:
            _draw_axis(canvas, frame, y + _BEFORE_AXIS, target=piece.section == "rows")
            y = top = y + _BEFORE_AXIS + AXIS_HEIGHT
        y = draw_pieces(canvas, (piece,), frame.left, y)
        top = top if piece.section else y
    draw_days(canvas, frame, top, y)
    draw_foot(canvas, MARGIN, page, _missing_letters(chart))
    return canvas


def _draw_axis(canvas: Canvas, frame: Frame, y: float, *, target: bool) -> None:
    """The axis; a heading over the targets."""
    draw_axis(canvas, frame, y)
    if target:
        canvas.text(frame.scale.right + 6, y + 27, "target", SMALL, colour=QUIET)
        canvas.text(frame.right, y + 27, "bloom", SMALL, colour=QUIET, side="right")


def _with_axes(pieces: Sequence[Piece], repeat: int) -> list[tuple[Piece, bool]]:
    """Each piece, and whether an axis is drawn before it: so that one is never far above a row."""
    found, since = [], 0
    for piece in pieces:
        starts = piece.heading and bool(piece.section) and since >= repeat // 2
        axis = repeat > 0 and (starts or (since >= repeat and piece.section == "rows"))
        since = 0 if axis else since + (not piece.heading)
        found.append((piece, axis))
    return found


def _missing_letters(chart: Chart) -> str:
    lots = [row.plan.lot for row in chart.rows]
    texts = [chart.plan.season.title, *(lot.name for lot in lots), *(lot.cultivar or "" for lot in lots)]
    return fit.letters_note([*texts, *(load.place for load in chart.loads), *unplanned_words(chart.plan)])
