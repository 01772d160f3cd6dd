"""Small charts, one for each bench: days off target against the mean temperature that the bench is set to."""

from __future__ import annotations

import math

from forcing.engine.steering.answer import Curve, Steering
from forcing.sheets.drawing import text as fit
from forcing.sheets.drawing.canvas import Canvas, Stroke, Style
from forcing.sheets.style import INK, PAPER, QUIET, RULE
from forcing.units import TemperatureUnit, from_celsius, show_temperature

CHART_HEIGHT, GAP, TITLE = 128.0, 16.0, 22.0
_NARROWEST, _WIDEST = 150.0, 250.0
_AXIS, _HEAD, _LEFT = 31.0, 29.0, 30.0
_SIZE = 8.0
CURVE = Stroke(4, INK, 1.3)
FRAME = Stroke(2, QUIET, 0.6)
GUIDE = Stroke(1, RULE, 0.4)
NOW = Stroke(3, INK, 0.7, (2, 2))


def _columns(count: int, width: float) -> tuple[int, float]:
    """Charts in a row, and the width of each."""
    fitting = max(1, int((width + GAP) // (_NARROWEST + GAP)))
    rows = math.ceil(count / fitting)
    columns = math.ceil(count / rows)
    return columns, min(_WIDEST, (width - GAP * (columns - 1)) / columns)


def charts_height(steering: Steering, width: float) -> float:
    """Height [pt] that the charts take with their title; 0 without any."""
    if not steering.curves:
        return 0.0
    columns, _ = _columns(len(steering.curves), width)
    return math.ceil(len(steering.curves) / columns) * (CHART_HEIGHT + GAP) + TITLE


def _now(canvas: Canvas, x: float, y: float) -> None:
    canvas.disc(x, y, 3.0, Style(6, PAPER, INK, 1.0))


def _chosen(canvas: Canvas, x: float, y: float) -> None:
    canvas.area(((x - 3.8, y), (x, y - 3.8), (x + 3.8, y), (x, y + 3.8)), Style(7, INK, PAPER, 0.6))


def draw_charts(
    canvas: Canvas, steering: Steering, unit: TemperatureUnit, left: float, right: float, top: float
) -> None:
    """The charts in rows from `top` [pt] down, all on the same scale of days."""
    if not steering.curves:
        return
    title = "Days off target (mean of pots) at each mean temperature that a bench could be kept at"
    title = fit.shorten(title, right - left, 9.5, True)
    canvas.text(left, top + 13, title, 9.5, bold=True)
    x = left + fit.width(title, 9.5, True) + 10
    note = "A setting that changes counts as the mean of its weeks."
    canvas.text(x, top + 13, fit.shorten(note, right - x, _SIZE), _SIZE, colour=QUIET)
    top += TITLE
    columns, width = _columns(len(steering.curves), right - left)
    most = max(max((*c.days_off, c.now[1], c.chosen[1])) for c in steering.curves)
    for number, curve in enumerate(steering.curves):
        x = left + (number % columns) * (width + GAP)
        y = top + (number // columns) * (CHART_HEIGHT + GAP)
        _draw_chart(canvas, curve, unit, (x, y, x + width), _nice(most))


def _nice(most: float) -> float:
    """Top of the scale of days: the next round number."""
    return float(next((n for n in (1, 2, 4, 6, 8, 10, 15, 20, 30, 40) if n >= most - 1e-9), math.ceil(most)))


def _draw_chart(
    canvas: Canvas, curve: Curve, unit: TemperatureUnit, place: tuple[float, float, float], days: float
) -> None:
    left, top, right = place
    x0, x1, y0, y1 = left + _LEFT, right - 6, top + _HEAD, top + CHART_HEIGHT - _AXIS
    name = fit.shorten(fit.clean(curve.bench), right - left, 9.5, True)
    canvas.text(left, top + 6, name, 9.5, bold=True, middle=True)
    words = f"{len(curve.lots)} {'lot' if len(curve.lots) == 1 else 'lots'}: {', '.join(curve.lots)}"
    canvas.text(
        left, top + 18, fit.shorten(fit.clean(words), right - left, _SIZE), _SIZE, colour=QUIET, middle=True
    )
    temperatures = [from_celsius(t, unit) for t in (*curve.means, curve.now[0], curve.chosen[0])]
    low, high = math.floor(min(temperatures)), math.ceil(max(temperatures))
    low, high = (low - 1, high + 1) if low == high else (low, high)

    def at(mean: float, off: float) -> tuple[float, float]:
        across = (from_celsius(mean, unit) - low) / (high - low)
        return x0 + across * (x1 - x0), y1 - off / days * (y1 - y0)

    for share in (0.0, 0.5, 1.0):
        y = y1 - share * (y1 - y0)
        canvas.line(((x0, y), (x1, y)), FRAME if share == 0 else GUIDE)
        canvas.text(x0 - 4, y, f"{share * days:g} d", _SIZE, colour=QUIET, side="right", middle=True)
    _ticks(canvas, low, high, x0, x1, y1, unit)
    points = [at(mean, off) for mean, off in zip(curve.means, curve.days_off, strict=True)]
    if len(points) > 1:
        canvas.line(points, CURVE)
    x, y = at(*curve.now)
    canvas.line(((x, y), (x, y1)), NOW)
    _now(canvas, x, y)
    if curve.chosen != curve.now:
        _chosen(canvas, *at(*curve.chosen))
    _draw_caption(canvas, curve, unit, left, right, top + CHART_HEIGHT - 5)


def _draw_caption(
    canvas: Canvas, curve: Curve, unit: TemperatureUnit, left: float, right: float, y: float
) -> None:
    """What the marks of a chart are, each beside its mark."""
    kept = curve.chosen == curve.now
    said = [(_now, "kept" if kept else "now", curve.now)]
    said += [] if kept else [(_chosen, "advised", curve.chosen)]
    x = left
    for mark, name, (mean, off) in said:
        words = fit.shorten(f"{name} {show_temperature(mean, unit)}: {off:.1f} d", right - x - 11, _SIZE)
        mark(canvas, x + 4, y)
        canvas.text(x + 11, y, words, _SIZE, middle=True)
        x += 11 + fit.width(words, _SIZE) + 8


def _ticks(
    canvas: Canvas, low: int, high: int, x0: float, x1: float, y: float, unit: TemperatureUnit
) -> None:
    """Whole degrees along the foot, as many as can be read."""
    room = fit.width(f"{high} °{unit}", _SIZE) + 9
    step = next(n for n in (1, 2, 5, 10, 20, 50) if (x1 - x0) / max(1, (high - low) / n) >= room)
    for degree in range(low, high + 1):
        if degree % step == 0:
            x = x0 + (degree - low) / (high - low) * (x1 - x0)
            canvas.line(((x, y), (x, y + 2.5)), FRAME)
            canvas.text(x, y + 8, f"{degree} °{unit}", _SIZE, colour=QUIET, side="center", middle=True)
