"""The marks of steps, classes, targets and blooms, and the key that explains them: the same on every drawn sheet."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial

from forcing.model import BloomClass, StepName
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Stroke, Style
from forcing.reports.draw.sheet import SMALL
from forcing.reports.style import ALERT, CLASS_MARKS, INK, PAPER, STEP_MARKS

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
    """The letter of a class in a disc of its colour, centred on (x, y)."""
    mark = CLASS_MARKS[kind]
    canvas.disc(x, y, radius, Style(3, mark.fill, INK, 0.5))
    letter = "–" if mark.letter == "-" else mark.letter
    canvas.text(x, y, letter, max(SMALL, radius * 1.5), bold=True, side="center", middle=True)


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
