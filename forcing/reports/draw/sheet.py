"""What every drawn sheet shares: its paper, its head and foot, a key, and the files it is written to."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

from forcing.files import replacing, write_text
from forcing.model import Paper, Plan
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Stroke
from forcing.reports.draw.pdf import pdf_bytes
from forcing.reports.style import QUIET, RULE
from forcing.text import one_line

T = TypeVar("T")

PAPERS: dict[Paper, tuple[float, float]] = {
    "A4": (841.89, 595.28),
    "Letter": (792.0, 612.0),
}  # landscape [pt]
UPRIGHT: dict[Paper, tuple[float, float]] = {paper: (short, long) for paper, (long, short) in PAPERS.items()}
SMALL = 6.6  # the smallest type of a sheet [pt]
CAUTION = (
    "Bulbs, lifting, cold rooms, wet floors, ladders, sprays: the task sheets carry the cautions; "
    "labels, local codes and licensed practice come first."
)


def title_of(plan: Plan) -> str:
    """The season's title as a sheet can draw it."""
    return fit.clean(one_line(plan.season.title)) or "Forcing plan"


def write_sheet(path: Path, pages: Sequence[Canvas], title: str, created: datetime) -> Path:
    """Write pages as a PDF. Raises OutputError where it cannot be written."""
    content = pdf_bytes(pages, title, created)
    with replacing(path) as temporary:
        temporary.write_bytes(content)
    return path


def write_picture(path: Path, picture: Canvas, title: str, created: datetime, dots: float = 150.0) -> Path:
    """Write a drawing as a PNG (with so many `dots` an inch at most) or an SVG, as the path ends.

    `created` without a zone is taken as UTC. Raises OutputError where the file cannot be written.
    """
    stamp = created.astimezone(UTC) if created.tzinfo else created.replace(tzinfo=UTC)
    if path.suffix == ".svg":
        from forcing.reports.draw.svg import svg_text

        write_text(path, svg_text(picture, title, stamp))
        return path
    from forcing.reports.draw.png import write_png

    with replacing(path) as temporary:
        write_png(picture, temporary, title, stamp, dots)
    return path


def paged(items: Sequence[T], most: int) -> Iterator[tuple[Sequence[T], str]]:
    """Items in pages of at most `most` (one at least), each with its 'page 1 of 2'; one page where there are none."""
    most = max(1, most)
    pages = max(1, -(-len(items) // most))
    for i in range(pages):
        yield items[i * most : (i + 1) * most], f"page {i + 1} of {pages}"


def draw_head(canvas: Canvas, margin: float, title: str, words: str, size: float = 8.5) -> None:
    """The title of a page and a line of words below it."""
    room = canvas.width - 2 * margin
    canvas.text(margin, margin + 13, title, 15, bold=True, room=room)
    canvas.text(margin, margin + 27, words, size, colour=QUIET, room=room)


def draw_foot(canvas: Canvas, margin: float, page: str, note: str) -> None:
    """One line at the foot of a page: the caution, `note` and the number of the page."""
    y, right = canvas.height - margin, canvas.width - margin
    canvas.line(((margin, y - 9), (right, y - 9)), Stroke(1, RULE, 0.4))
    room = right - margin - fit.width(page, SMALL) - 12
    canvas.text(margin, y, f"{CAUTION} {note}".strip(), SMALL, colour=QUIET, room=room)
    canvas.text(right, y, page, SMALL, colour=QUIET, side="right")
