"""Title and key of the Gantt sheet, and the small marks that rows and key share."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from forcing.model import BloomClass, StepName
from forcing.sheets.drawing import text as fit
from forcing.sheets.drawing.canvas import Canvas, Stroke, Style
from forcing.sheets.gantt.axis import SMALL, Frame
from forcing.sheets.gantt.chart import Chart, subtitle
from forcing.sheets.style import ALERT, CLASS_MARKS, INK, PAPER, QUIET, STEP_MARKS, Mark

GAP = 0.6  # white between neighbouring bars [pt]
OVER = Style(3.3, PAPER, ALERT, 0.7, "/" * 6)  # pots over a capacity
_WINDOW, _OPEN_WINDOW = Stroke(4, INK, 2.0), Stroke(4, INK, 2.0, (1.2, 0.8))
_LOGGED, _EXPECTED = Stroke(4, INK, 1.2), Stroke(4, INK, 1.2, (0.8, 1.2))


def step_style(step: StepName, mark: Mark | None = None) -> Style:
    """The area of a step; a show is drawn in the mark of its class and outlined."""
    if step == "show":
        return Style(3.1, (mark or STEP_MARKS["show"]).fill, INK, 0.7)
    return Style(3, STEP_MARKS[step].fill, PAPER, GAP)


def hatch_style(hatch: str) -> Style:
    """The pattern laid over an area, close enough to show in a small bar."""
    return Style(3.2, "none", INK, 0.0, hatch * 2)


def letter_disc(canvas: Canvas, x: float, y: float, kind: BloomClass | None, radius: float) -> None:
    """The letter of a class in a disc of its colour, centred on (x, y)."""
    mark = CLASS_MARKS[kind]
    canvas.disc(x, y, radius, Style(3, mark.fill, INK, 0.5))
    letter = "–" if mark.letter == "-" else mark.letter
    canvas.text(x, y, letter, max(SMALL, radius * 1.5), bold=True, side="center", middle=True)


def target_mark(canvas: Canvas, x: float, tip: float, size: float) -> None:
    """A black triangle pointing down at the day that begins at x."""
    canvas.area(
        ((x - size * 0.55, tip - size), (x + size * 0.55, tip - size), (x, tip)), Style(6, INK, PAPER, 0.5)
    )


def window_mark(canvas: Canvas, left: float, right: float, y: float, *, closed: bool) -> None:
    """A heavy line from bloom to fade; dashed where the fade is not known."""
    canvas.line(((left, y), (right, y)), _WINDOW if closed else _OPEN_WINDOW)


def basis_mark(canvas: Canvas, left: float, right: float, y: float, basis: str) -> None:
    """A line along a bar: solid where logged, dotted where expected, none where only planned."""
    if basis == "actual":
        canvas.line(((left, y), (right, y)), _LOGGED)
    elif basis == "expected":
        canvas.line(((left, y), (right, y)), _EXPECTED)


def draw_title(canvas: Canvas, frame: Frame, chart: Chart, y: float) -> float:
    """Title, one line of facts and the key. Gives the y below."""
    title = fit.clean(chart.plan.season.title) or "Forcing plan"
    canvas.text(frame.left, y + 13, fit.shorten(title, frame.width, 15, True), 15, bold=True)
    facts = fit.clean(subtitle(chart))
    lines = fit.wrap(facts, frame.width, 8)
    for i, line in enumerate(lines):
        canvas.text(frame.left, y + 26 + 10 * i, line, 8, colour=QUIET)
    return _draw_key(canvas, frame, chart, y + 26 + 10 * len(lines))


def title_height(frame: Frame, chart: Chart) -> float:
    """Height of what `draw_title` draws, found by drawing it where nobody sees."""
    return draw_title(Canvas(10, 10), frame, chart, 0.0)


_Swatch = Callable[[Canvas, float, float], None]  # draws at (left, middle) in a box 15 by 7


def _draw_key(canvas: Canvas, frame: Frame, chart: Chart, y: float) -> float:
    x, line = frame.left, 12.0
    for swatch, words in _key(chart):
        wide = 18 + fit.width(words, SMALL)
        if x > frame.left and x + wide > frame.right:
            x, y = frame.left, y + line
        swatch(canvas, x, y + 3)
        canvas.text(x + 18, y + 3, words, SMALL, middle=True)
        x += wide + 10
    return y + line


def _key(chart: Chart) -> list[tuple[_Swatch, str]]:
    rows = tuple(chart.rows)
    used = {step.step for row in rows for step in row.steps}
    items: list[tuple[_Swatch, str]] = [
        (_step_swatch(name), name) for name in STEP_MARKS if name in used and name != "show"
    ]
    for group in chart.groups:
        name = f"show, {group.bloom_class}" if group.bloom_class else "show, class not stated"
        items.append((partial(show_swatch, kind=group.bloom_class), name))
    if rows:
        items.append((lambda c, x, y: target_mark(c, x + 7.5, y + 2.5, 5), "target"))
        items.append((lambda c, x, y: window_mark(c, x, x + 15, y, closed=True), "in bloom"))
    bases = {step.basis for row in rows for step in row.steps}
    if "actual" in bases:
        items.append((lambda c, x, y: basis_mark(c, x, x + 15, y, "actual"), "done, as logged"))
    if "expected" in bases:
        items.append((lambda c, x, y: basis_mark(c, x, x + 15, y, "expected"), "as now expected"))
    if any(load.capacity is not None and max(load.pots) > load.capacity for load in chart.loads):
        items.append((over_swatch, "over capacity"))
    return items


def _step_swatch(name: StepName) -> _Swatch:
    def draw(canvas: Canvas, x: float, y: float) -> None:
        canvas.box(x, y - 3.5, x + 15, y + 3.5, step_style(name))
        if STEP_MARKS[name].hatch:
            canvas.box(x, y - 3.5, x + 15, y + 3.5, hatch_style(STEP_MARKS[name].hatch))

    return draw


def show_swatch(canvas: Canvas, x: float, y: float, kind: BloomClass | None) -> None:
    """A show bar of a class, 15 by 7, from x and centred on y."""
    mark = CLASS_MARKS[kind]
    canvas.box(x, y - 3.5, x + 15, y + 3.5, step_style("show", mark))
    if mark.hatch:
        canvas.box(x, y - 3.5, x + 15, y + 3.5, hatch_style(mark.hatch))


def over_swatch(canvas: Canvas, x: float, y: float) -> None:
    canvas.box(x, y - 3.5, x + 15, y + 3.5, OVER)
