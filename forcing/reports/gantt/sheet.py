"""The Gantt sheet: every lot's steps against the days of the season, and how full each place is below.

The same blocks are laid out twice: in pages of the season's paper (PDF), and as one tall picture (PNG, SVG).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from forcing.files import replacing
from forcing.model import Paper, Plan
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import own_settings
from forcing.reports.draw.fonts import embed_fonts
from forcing.reports.gantt.chart import Chart, chart_of
from forcing.reports.gantt.page import (
    FOOT,
    MARGIN,
    Block,
    Layout,
    draw_page,
    layout_of,
    paginate,
    picture_height,
)

PAPERS: dict[Paper, tuple[float, float]] = {
    "A4": (841.89, 595.28),
    "Letter": (792.0, 612.0),
}  # landscape [pt]
ROWS, PLOTS = (10.9, 19.0), (34.0, 90.0)  # least and greatest height of a row, and of a place's plot [pt]
_PICTURE_WIDTH, _PICTURE_ROW, _PICTURE_PLOT, _AXIS_EVERY = 1120.0, 14.0, 62.0, 40
_PIXELS, _DPI, _LONGEST = 14e6, (90.0, 170.0), 60_000  # of the PNG; matplotlib draws 65,535 at most


def write_gantt(plan: Plan, folder: Path, *, created: datetime) -> tuple[Path, ...]:
    """Write gantt.pdf, gantt.png and gantt.svg of a plan into a folder; gives their paths.

    `created` goes into the files (a time without a zone is taken as UTC), so that the same plan gives the
    same bytes. Raises OutputError where a file cannot be written.
    """
    chart = chart_of(plan)
    stamp = created.astimezone(UTC) if created.tzinfo else created.replace(tzinfo=UTC)
    title = fit.clean(plan.season.title) or "Forcing plan"
    pdf_path, png_path, svg_path = (folder / f"gantt.{kind}" for kind in ("pdf", "png", "svg"))
    with own_settings():
        facts = {"Title": title, "Creator": "forcing", "CreationDate": stamp}
        with replacing(pdf_path) as path, PdfPages(path, metadata=facts) as pdf:
            for page in draw_pages(chart):
                pdf.savefig(page)
        picture = draw_picture(chart)
        words = {"Title": title, "Software": "forcing", "Creation Time": stamp.isoformat()}
        with replacing(png_path) as path:
            picture.savefig(path, format="png", dpi=_dpi(picture), metadata=words)
        words = {"Title": title, "Creator": "forcing", "Date": stamp.isoformat()}
        with replacing(svg_path) as path:
            picture.savefig(path, format="svg", metadata=words)
            embed_fonts(path)
    return pdf_path, png_path, svg_path


def draw_pages(chart: Chart) -> list[Figure]:
    """The sheet in pages of the season's paper, rows and plots as tall as that number of pages allows."""
    width, height = PAPERS[chart.plan.season.paper]

    def pages(row: float, plot: float, words_first: bool) -> tuple[Layout, list[list[Block]]]:
        layout = layout_of(chart, width, row, plot)
        order = ("rows", "words", "loads") if words_first else ("rows", "loads", "words")
        blocks = sorted(layout.blocks, key=lambda block: order.index(block.section))
        return layout, paginate(blocks, height - 2 * MARGIN - layout.head - FOOT)

    # Words go last, unless they fill up a page of rows and so save one.
    least = (ROWS[0], PLOTS[0])
    words_first = len(pages(*least, True)[1]) < len(pages(*least, False)[1])

    def spread(row: float, plot: float) -> list[tuple[bool, int]]:
        _, found = pages(row, plot, words_first)
        kinds = [[block.section for block in page] for page in found]
        return [("rows" in page, page.count("loads")) for page in kinds]

    best = spread(*least)
    row = _largest(ROWS, 0.4, lambda value: spread(value, PLOTS[0]) == best)
    plot = _largest(PLOTS, 4.0, lambda value: spread(row, value) == best)
    layout, found = pages(row, plot, words_first)
    return [
        draw_page(layout, blocks, height, f"page {i} of {len(found)}") for i, blocks in enumerate(found, 1)
    ]


def draw_picture(chart: Chart) -> Figure:
    """The sheet as one picture, as tall as it needs, the axis drawn again every so many rows."""
    layout = layout_of(chart, _PICTURE_WIDTH, _PICTURE_ROW, _PICTURE_PLOT)
    return draw_page(layout, layout.blocks, picture_height(layout, _AXIS_EVERY), "", repeat=_AXIS_EVERY)


def _largest(between: tuple[float, float], step: float, good: Callable[[float], bool]) -> float:
    """The largest value, in steps down from the upper bound, that is good; else the lower bound."""
    low, value = between[0], between[1]
    while value > low and not good(value):
        value -= step
    return max(value, low)


def _dpi(picture: Figure) -> float:
    wide, tall = (float(side) for side in picture.get_size_inches())
    return min(_DPI[1], max(_DPI[0], math.sqrt(_PIXELS / (wide * tall))), _LONGEST / tall)
