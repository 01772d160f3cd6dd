"""A page to draw on in points, from the top left: areas, lines and text, gathered by style.

Every area of one style becomes one collection, so that a thousand rows cost little more than ten.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from typing import Any, Literal, NamedTuple

import matplotlib
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties

from forcing.reports.style import INK, font_files

FONT = "DejaVu Sans"
Side = Literal["left", "center", "right"]
Point = tuple[float, float]


class Style(NamedTuple):
    """How an area is drawn; areas of equal style are drawn together, lower `layer` first."""

    layer: float
    fill: str = "none"
    edge: str = "none"
    thick: float = 0.0
    hatch: str = ""


class Stroke(NamedTuple):
    """How a line is drawn."""

    layer: float
    colour: str = INK
    thick: float = 0.5
    dashes: tuple[float, ...] = ()


@contextmanager
def own_settings() -> Iterator[None]:
    """matplotlib as it ships, whatever the user's own settings are, and as they were afterwards."""
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(
            {
                "pdf.fonttype": 42,
                "svg.fonttype": "none",
                "svg.hashsalt": "forcing",
                "hatch.linewidth": 0.5,
                "path.simplify": False,
                "text.hinting": "none",
                "text.parse_math": False,
            }
        )
        yield


@lru_cache(maxsize=64)
def _face(size: float, bold: bool) -> FontProperties:
    return FontProperties(
        family=[FONT], fname=str(font_files()["bold" if bold else "regular"]),
        weight="bold" if bold else "normal", size=size,
    )  # fmt: skip


class Canvas:
    """One page of `width` by `height` [pt]. Draw, then take `figure()`."""

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = width, height
        self._areas: dict[Style, list[Sequence[Point]]] = {}
        self._lines: dict[Stroke, list[Sequence[Point]]] = {}
        self._texts: list[dict[str, Any]] = []

    def area(self, points: Sequence[Point], style: Style) -> None:
        self._areas.setdefault(style, []).append(points)

    def box(self, left: float, top: float, right: float, bottom: float, style: Style) -> None:
        self.area(((left, top), (right, top), (right, bottom), (left, bottom)), style)

    def disc(self, x: float, y: float, radius: float, style: Style) -> None:
        turns = [2 * math.pi * i / 40 for i in range(40)]
        self.area([(x + radius * math.cos(t), y + radius * math.sin(t)) for t in turns], style)

    def line(self, points: Sequence[Point], stroke: Stroke) -> None:
        self._lines.setdefault(stroke, []).append(points)

    def text(
        self, x: float, y: float, text: str, size: float, *, bold: bool = False, colour: str = INK,
        side: Side = "left", middle: bool = False,
    ) -> None:  # fmt: skip
        """Write on the baseline `y`, or centred on it with `middle` (capitals are 0.73 of the size)."""
        base = y + 0.365 * size if middle else y
        self._texts.append(
            {"x": x, "y": base, "s": text, "fontproperties": _face(size, bold), "color": colour, "ha": side}
        )

    def figure(self) -> Figure:
        """The page as a figure of one axes that measures in points from the top left."""
        figure = Figure(figsize=(self.width / 72, self.height / 72), facecolor="white")
        axes: Any = figure.add_axes((0, 0, 1, 1))
        axes.set_axis_off()
        axes.set_xlim(0, self.width)
        axes.set_ylim(self.height, 0)
        for style, areas in self._areas.items():
            axes.add_collection(
                PolyCollection(
                    areas, facecolors=style.fill, edgecolors=style.edge, linewidths=style.thick,
                    hatch=style.hatch or None, zorder=style.layer, joinstyle="miter",
                ),
                autolim=False,
            )  # fmt: skip
        for stroke, lines in self._lines.items():
            axes.add_collection(
                LineCollection(
                    lines, colors=stroke.colour, linewidths=stroke.thick, zorder=stroke.layer,
                    linestyles=[(0, stroke.dashes)] if stroke.dashes else "solid", capstyle="butt",
                ),
                autolim=False,
            )  # fmt: skip
        for text in self._texts:
            axes.text(**text, va="baseline", parse_math=False, zorder=10)
        return figure
