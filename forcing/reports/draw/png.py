"""A canvas as a PNG, drawn once by matplotlib."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

import matplotlib
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties

from forcing.reports.draw.canvas import FONT, Canvas, Stroke
from forcing.reports.style import font_files

_PIXELS, _LEAST, _LONGEST = 14e6, 90.0, 60_000  # matplotlib draws 65,535 dots at most


def write_png(canvas: Canvas, path: Path, title: str, created: datetime, dots: float) -> None:
    """Write the drawing with `dots` an inch, or as many as keep it modest; `created` goes into the file."""
    words = {"Title": title, "Software": "forcing", "Creation Time": created.isoformat()}
    with _own_settings():
        _figure(canvas).savefig(path, format="png", dpi=dots_of(canvas, dots), metadata=words)


def dots_of(canvas: Canvas, most: float) -> float:
    """Dots an inch: `most`, less where the picture would grow beyond what is easily opened, or can be drawn."""
    wide, tall = canvas.width / 72, canvas.height / 72
    return min(most, max(_LEAST, math.sqrt(_PIXELS / (wide * tall))), _LONGEST / tall)


@contextmanager
def _own_settings() -> Iterator[None]:
    """matplotlib as it ships, whatever the user's own settings are, and as they were afterwards."""
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update({"path.simplify": False, "text.hinting": "none", "text.parse_math": False})
        yield


@lru_cache(maxsize=64)
def _face(size: float, bold: bool) -> FontProperties:
    return FontProperties(
        family=[FONT], fname=str(font_files()["bold" if bold else "regular"]),
        weight="bold" if bold else "normal", size=size,
    )  # fmt: skip


def _figure(canvas: Canvas) -> Figure:
    """The page as a figure of one axes that measures in points from the top left."""
    figure = Figure(figsize=(canvas.width / 72, canvas.height / 72), facecolor="white")
    axes: Any = figure.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    axes.set_xlim(0, canvas.width)
    axes.set_ylim(canvas.height, 0)
    for order, (style, shapes) in enumerate(canvas.shapes()):
        collection: LineCollection | PolyCollection
        if isinstance(style, Stroke):
            collection = LineCollection(
                shapes, colors=style.colour, linewidths=style.thick, capstyle="butt",
                linestyles=[(0, style.dashes)] if style.dashes else "solid",
            )  # fmt: skip
        else:
            collection = PolyCollection(
                shapes, facecolors=style.fill or "none", edgecolors=style.edge or "none",
                linewidths=style.thick, joinstyle="miter",
            )  # fmt: skip
        collection.set_zorder(order)
        axes.add_collection(collection, autolim=False)
    for text in canvas.texts:
        axes.text(
            text.x, text.y, text.said, fontproperties=_face(text.size, text.bold), color=text.colour,
            ha=text.side, va="baseline", parse_math=False, zorder=1e6,
        )  # fmt: skip
    return figure
