"""What drawn sheets share: paper, files, head and foot, the marks of steps, classes, targets and blooms, and the flow.

Pieces are set one below the other in columns or pages: headings said again, none alone at a foot.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import partial
from itertools import takewhile
from pathlib import Path
from typing import NamedTuple, TypeVar

from forcing.files import replacing, write_text
from forcing.model import BloomClass, Paper, Plan, StepName
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Stroke, Style
from forcing.reports.draw.pdf import pdf_bytes
from forcing.reports.style import ALERT, CLASS_MARKS, INK, PAPER, QUIET, RULE, STEP_MARKS
from forcing.text import one_line

T = TypeVar("T")

PAPERS: dict[Paper, tuple[float, float]] = {
    "A4": (841.89, 595.28),
    "Letter": (792.0, 612.0),
}  # landscape [pt]
UPRIGHT: dict[Paper, tuple[float, float]] = {paper: (short, long) for paper, (long, short) in PAPERS.items()}
SMALL = 7.0  # the smallest type of a sheet [pt]
CAUTION = (
    "Bulbs, lifting, cold rooms, wet floors, ladders, sprays: cautions are on the task sheets; "
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
    from forcing.reports.draw.pictures import svg_text, write_png

    stamp = created.astimezone(UTC) if created.tzinfo else created.replace(tzinfo=UTC)
    if path.suffix == ".svg":
        write_text(path, svg_text(picture, title, stamp))
        return path
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
    """The foot of a page: the caution, `note` and the number of the page; on narrow paper over two lines."""
    y, right = canvas.height - margin, canvas.width - margin
    lines = fit.wrap(f"{CAUTION} {note}", right - margin - fit.width(page, SMALL) - 12, SMALL)
    rule = y - 9 * len(lines)
    canvas.line(((margin, rule), (right, rule)), Stroke(1, RULE, 0.4))
    for i, words in enumerate(lines, 1):
        canvas.text(margin, rule + 9 * i, words, SMALL, colour=QUIET)
    canvas.text(right, y, page, SMALL, colour=QUIET, side="right")


# ---------------------------------------------------------------- marks and their key

GAP = 0.6  # white between neighbouring bars [pt]
OVER = Style(3.3, PAPER, ALERT, 0.7, "///")  # more than there is room for, or less than is wanted
_WINDOW, _OPEN_WINDOW = Stroke(4, INK, 2.0), Stroke(4, INK, 2.0, (2.4, 1.6))
_BASES = {"actual": Stroke(4, INK, 1.2), "expected": Stroke(4, INK, 1.2, (0.96, 1.44))}

Swatch = Callable[[Canvas, float, float], None]  # draws at (left, middle)
Sign = tuple[Swatch, float, str]  # a swatch, how wide it is [pt], and what it means


def step_style(step: StepName, kind: BloomClass | None = None) -> Style:
    """The area of a step; a show is drawn in the mark of its class and outlined."""
    if step == "show":
        return Style(3.1, CLASS_MARKS[kind].fill, INK, 0.7)
    return Style(3, STEP_MARKS[step].fill, PAPER, GAP)


def hatch_style(hatch: str) -> Style:
    """A pattern laid over an area."""
    return Style(3.2, edge=INK, hatch=hatch)


def step_bar(
    canvas: Canvas, step: StepName, kind: BloomClass | None, box: tuple[float, float, float, float]
) -> None:
    """The bar of a step (left, top, right, bottom [pt]), with the pattern of the step or of the show's class."""
    canvas.box(*box, step_style(step, kind))
    hatch = CLASS_MARKS[kind].hatch if step == "show" else STEP_MARKS[step].hatch
    if hatch:
        canvas.box(*box, hatch_style(hatch))


def letter_disc(canvas: Canvas, x: float, y: float, kind: BloomClass | None, radius: float) -> None:
    """The letter of a class in a disc of its colour, centred on (x, y); nothing for a crop that has none."""
    if kind is None:
        return
    mark = CLASS_MARKS[kind]
    canvas.disc(x, y, radius, Style(3, mark.fill, INK, 0.5))
    canvas.text(x, y, mark.letter, max(SMALL, radius * 1.5), bold=True, side="center", middle=True)


def target_mark(canvas: Canvas, x: float, tip: float, size: float) -> None:
    """A black triangle pointing down at the day that begins at x."""
    half = size * 0.55
    canvas.area(((x - half, tip - size), (x + half, tip - size), (x, tip)), Style(6, INK, PAPER, 0.5))


def window_mark(canvas: Canvas, left: float, right: float, y: float, *, closed: bool) -> None:
    """A heavy line from bloom to fade; dashed where the fade is not known."""
    canvas.line(((left, y), (right, y)), _WINDOW if closed else _OPEN_WINDOW)


def basis_mark(canvas: Canvas, left: float, right: float, y: float, basis: str) -> None:
    """A line along a bar: solid where logged, dotted where expected, none where only planned."""
    if basis in _BASES:
        canvas.line(((left, y), (right, y)), _BASES[basis])


def step_swatch(canvas: Canvas, x: float, y: float, step: StepName, kind: BloomClass | None = None) -> None:
    """A bar of a step, 15 by 7, from x and centred on y."""
    step_bar(canvas, step, kind, (x, y - 3.5, x + 15, y + 3.5))


def swatch_of(step: StepName, kind: BloomClass | None = None) -> Swatch:
    return partial(step_swatch, step=step, kind=kind)


def box_swatch(style: Style) -> Swatch:
    """An area of a style, 15 by 7."""
    return lambda canvas, x, y: canvas.box(x, y - 3.5, x + 15, y + 3.5, style)


def draw_key(
    canvas: Canvas, left: float, right: float, y: float, signs: Iterable[Sign], size: float, apart: float
) -> float:
    """Signs with their words, centred on lines 12 pt apart from `y` on. Gives the middle of the last line."""
    x = left
    for swatch, wide, words in signs:
        if x > left and x + wide + 3 + fit.width(words, size) > right:
            x, y = left, y + 12
        swatch(canvas, x, y)
        x = canvas.text(x + wide + 3, y, words, size, middle=True) + apart
    return y


# ---------------------------------------------------------------- pieces in columns and pages


Draw = Callable[[Canvas, float, float], None]  # draws with its top left corner at (x, y)
Cut = Callable[[float, int], "tuple[Piece, Piece] | None"]


@dataclass(frozen=True, slots=True)
class Piece:
    """Something of a known height [pt] to draw. `cut(room, least)` gives what fits in `room` [pt] and what is left,
    each of `least` lines or more; None where it cannot."""

    height: float
    draw: Draw
    heading: bool = False  # never the last in a column
    again: Piece | None = None  # drawn above it where a column begins with it
    above: float = 0.0  # free above it, but for the top of a column [pt]
    section: str = ""
    cut: Cut | None = None

    @property
    def tall(self) -> float:
        return self.above + self.height


class Stretch(NamedTuple):
    """Pieces that follow each other; `whole`: in one column where a column can hold them, and none of them cut."""

    pieces: Sequence[Piece]
    whole: bool = False


def flow(stretches: Sequence[Stretch], room: Callable[[int], float]) -> list[list[Piece]]:
    """The pieces in columns, the n-th `room(n)` [pt] high: all of them, in order, with headings said again."""
    columns = _Columns(room)
    for stretch in stretches:
        tall = sum(piece.tall for piece in stretch.pieces)
        if stretch.whole and columns.left < tall <= room(len(columns.found)):
            columns.turn(stretch.pieces[0])
        for i, piece in enumerate(stretch.pieces):
            columns.put(piece, _with_next(stretch.pieces[i:]), whole=stretch.whole)
    return columns.found


def height_of(pieces: Sequence[Piece]) -> float:
    """Height [pt] of pieces one below the other."""
    return sum(piece.tall for piece in pieces)


def draw_pieces(canvas: Canvas, pieces: Sequence[Piece], x: float, y: float) -> float:
    """Draw pieces one below the other from `y` [pt] down. Gives where they end."""
    for piece in pieces:
        piece.draw(canvas, x, y + piece.above)
        y += piece.tall
    return y


def _with_next(pieces: Sequence[Piece]) -> float:
    """Height [pt] of the first piece; of a heading, with all that it may not be parted from."""
    headings = list(takewhile(lambda piece: piece.heading, pieces))
    return height_of(pieces[: len(headings) + 1])


class _Columns:
    """Columns being filled: those so far, and what is left of the last one [pt]."""

    def __init__(self, room: Callable[[int], float]) -> None:
        self._room = room
        self.found: list[list[Piece]] = [[]]
        self.left = room(0)

    def turn(self, piece: Piece) -> None:
        """Begin the next column, for this piece, unless this one is empty."""
        if not self.found[-1]:
            return
        self.found.append([])
        self.left = self._room(len(self.found) - 1)
        if piece.again is not None:
            self._add(piece.again)

    def put(self, piece: Piece, needed: float, *, whole: bool) -> None:
        if needed > self.left and self.found[-1]:
            parts = piece.cut(self.left, 2) if piece.cut and not whole else None
            if parts:
                self._add(parts[0])
                piece = parts[1]
            self.turn(piece)
        while piece.tall > self.left and piece.cut and (parts := piece.cut(self.left, 1)):
            self._add(parts[0])
            piece = parts[1]
            self.turn(piece)
        self._add(piece)

    def _add(self, piece: Piece) -> None:
        if piece.above and not self.found[-1]:
            piece = replace(piece, above=0.0)
        self.found[-1].append(piece)
        self.left -= piece.tall
