"""The steering sheet: steer.csv, moves.csv, and pages of what to set and carry, day by day, and what it brings.

Below the words each bench has a small chart of days off target against its temperature, so that a person can
choose otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import UTC, datetime
from itertools import repeat, zip_longest
from pathlib import Path

from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from forcing.engine.steering.answer import Steering
from forcing.files import replacing, write_text
from forcing.model import Plan
from forcing.sheets.drawing import text as fit
from forcing.sheets.drawing.canvas import Canvas, Stroke, own_settings
from forcing.sheets.gantt.sheet import PAPERS
from forcing.sheets.steer_chart import charts_height, draw_charts
from forcing.sheets.steer_list import TEXT, Item, bringing, carried, columned, doing, draw_item
from forcing.sheets.style import QUIET, RULE, long_date, short_date
from forcing.sheets.tables import csv_text
from forcing.units import TemperatureUnit, from_celsius

STEER_COLUMNS = ("place", "from", "to", "mean", "day", "night")
MOVE_COLUMNS = ("lot", "from", "to", "on")
CAUTION = (
    "Lifting and wet floors: trolley, two people for heavy crates, dry feet. Cold room: tell someone, check that the "
    "door opens from inside. Sap and bulbs: gloves. House rules, labels and local codes come first."
)
MARGIN, HEAD, FOOT, COLUMN_GAP = 28.0, 38.0, 32.0, 24.0
_SMALL = 7.5


def write_steer(steering: Steering, plan: Plan, folder: Path, *, created: datetime) -> tuple[Path, ...]:
    """Write steer.csv, moves.csv, steer.pdf and steer.png into `folder`; give their paths.

    Temperatures are in the season's unit, days half-open and ISO 8601. `created` goes into the files, so that
    the same answer gives the same bytes. Raises OutputError where a file cannot be written.
    """
    names = ("steer.csv", "moves.csv", "steer.pdf", "steer.png")
    steer_path, moves_path, pdf_path, png_path = (folder / name for name in names)
    write_text(steer_path, csv_text(STEER_COLUMNS, steer_rows(steering, plan.season.unit)))
    write_text(moves_path, csv_text(MOVE_COLUMNS, move_rows(steering)))
    stamp = created.astimezone(UTC) if created.tzinfo else created.replace(tzinfo=UTC)
    title = fit.clean(plan.season.title) or "Forcing plan"
    with own_settings():
        facts = {"Title": f"{title}: bench temperatures", "Creator": "forcing", "CreationDate": stamp}
        with replacing(pdf_path) as path, PdfPages(path, metadata=facts) as pdf:
            for page in draw_pages(steering, plan):
                pdf.savefig(page)
        picture = draw_picture(steering, plan)
        words = {"Title": title, "Software": "forcing", "Creation Time": stamp.isoformat()}
        with replacing(png_path) as path:
            picture.savefig(path, format="png", dpi=150, metadata=words)
    return steer_path, moves_path, pdf_path, png_path


def steer_rows(steering: Steering, unit: TemperatureUnit) -> tuple[tuple[str, ...], ...]:
    """Rows of steer.csv, by place and day."""
    return tuple(
        (
            s.place,
            s.span.start.isoformat(),
            s.span.end.isoformat(),
            *(f"{from_celsius(t, unit):.2f}".rstrip("0").rstrip(".") for t in (s.mean, s.day, s.night)),
        )
        for s in sorted(steering.settings, key=lambda s: (s.place, s.span.start))
    )


def move_rows(steering: Steering) -> tuple[tuple[str, ...], ...]:
    """Rows of moves.csv, by day and lot: moves between benches, and into a cooler and out of it again."""
    return tuple(
        (m.lot, m.place, m.to, m.on.isoformat())
        for m in sorted(carried(steering), key=lambda m: (m.on, m.lot, m.to))
    )


# ---------------------------------------------------------------- pages

Columns = tuple[Sequence[Item], Sequence[Item]]


def draw_pages(steering: Steering, plan: Plan) -> list[Figure]:
    """The sheet in pages of the season's paper; the charts stand below the last words, or on a page of their own."""
    size = PAPERS[plan.season.paper]
    column = _column(size[0])
    room = size[1] - 2 * MARGIN - HEAD - FOOT
    left = columned(doing(steering, plan, column), repeat(room))
    right = columned(bringing(steering, column), repeat(room))
    parts: list[Columns] = list(zip_longest(left, right, fillvalue=()))
    charts = charts_height(steering, size[0] - 2 * MARGIN)
    if charts > room - _height(parts[-1]):
        parts.append(((), ()))
    return [
        _draw(steering, plan, size, words, number == len(parts), f"page {number} of {len(parts)}")
        for number, words in enumerate(parts, start=1)
    ]


def draw_picture(steering: Steering, plan: Plan) -> Figure:
    """The sheet as one picture, as tall as it needs."""
    width, _ = PAPERS[plan.season.paper]
    column = _column(width)
    lists = doing(steering, plan, column), bringing(steering, column)
    words = columned(lists[0], repeat(math.inf))[0], columned(lists[1], repeat(math.inf))[0]
    height = 2 * MARGIN + HEAD + FOOT + _height(words) + charts_height(steering, width - 2 * MARGIN)
    return _draw(steering, plan, (width, height), words, True, "")


def _column(width: float) -> float:
    return (width - 2 * MARGIN - COLUMN_GAP) / 2


def _height(words: Columns) -> float:
    return max(sum(item.height for item in items) for items in words)


def _draw(
    steering: Steering, plan: Plan, size: tuple[float, float], words: Columns, charts: bool, page: str
) -> Figure:
    canvas = Canvas(*size)
    left, right = MARGIN, size[0] - MARGIN
    _draw_head(canvas, steering, plan, left, right)
    column, top = _column(size[0]), MARGIN + HEAD
    for items, x in zip(words, (left, left + column + COLUMN_GAP), strict=True):
        y = top
        for item in items:
            draw_item(canvas, item, x, column, y)
            y += item.height
    if charts:
        draw_charts(canvas, steering, plan.season.unit, left, right, top + _height(words))
    names = [plan.season.title, *(o.lot for o in steering.lots), *(p.lot.cultivar or "" for p in plan.lots)]
    foot = f"{CAUTION} {fit.letters_note(names)}".strip()
    _draw_foot(canvas, foot, left, right, size[1] - MARGIN, page)
    return canvas.figure()


def _draw_head(canvas: Canvas, steering: Steering, plan: Plan, left: float, right: float) -> None:
    title = fit.clean(plan.season.title) or "Forcing plan"
    big = f"Steering the benches: {title}"
    canvas.text(left, MARGIN + 13, fit.shorten(big, right - left, 15, True), 15, bold=True)
    words = (
        f"What to set, move and hold so that bloom comes back to target, as seen on {long_date(steering.on)}."
    )
    if steering.span is not None:
        words += f" Steered from {short_date(steering.span.start)} until {short_date(steering.span.end)}."
    canvas.text(left, MARGIN + 28, fit.shorten(words, right - left, TEXT), TEXT, colour=QUIET)


def _draw_foot(canvas: Canvas, words: str, left: float, right: float, y: float, page: str) -> None:
    room = right - left - fit.width("page 99 of 99", _SMALL) - 12
    lines = fit.wrap(words, room, _SMALL)
    top = y - 10 * (len(lines) - 1)
    canvas.line(((left, top - 11), (right, top - 11)), Stroke(1, RULE, 0.4))
    for i, line in enumerate(lines):
        canvas.text(left, top + 10 * i, line, _SMALL, colour=QUIET)
    canvas.text(right, y, page, _SMALL, colour=QUIET, side="right")
