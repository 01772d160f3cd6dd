"""A page of plain shapes in points from the top left: areas, lines and text.

It knows no file: `pdf`, `svg` and `png` write the same shapes. Shapes of one style are kept together, so that a
thousand rows cost little more than ten.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Literal, NamedTuple

from forcing.reports.draw import text as fit
from forcing.reports.style import INK

FONT = "DejaVu Sans"
Side = Literal["left", "center", "right"]
Point = tuple[float, float]

# Lines of a hatch as the (a, b) of a·x + b·y = constant, and how far apart they are where one character names it [pt].
_HATCHES: dict[str, tuple[tuple[Point, ...], float]] = {
    "/": (((1, 1),), 12.0),
    "\\": (((1, -1),), 12.0),
    "x": (((1, 1), (1, -1)), 12.0),
    "-": (((0, 1),), 6.0),
    "|": (((1, 0),), 6.0),
    ".": (((0, 1),), 6.0),
}
_HATCH, _DOT = 0.5, 0.9  # thickness of the lines of a hatch, and side of its dots [pt]


class Style(NamedTuple):
    """How an area is drawn, lower `layer` first. A hatch is in the colour of the edge: '/', closer as '//', '///'."""

    layer: float
    fill: str = ""
    edge: str = ""
    thick: float = 0.0
    hatch: str = ""


class Stroke(NamedTuple):
    """How a line is drawn."""

    layer: float
    colour: str = INK
    thick: float = 0.5
    dashes: tuple[float, ...] = ()


class Text(NamedTuple):
    """Words on the baseline `y`; `x` is their left end, their middle or their right end."""

    x: float
    y: float
    said: str
    size: float
    bold: bool
    colour: str
    side: Side

    @property
    def left(self) -> float:
        part = {"left": 0.0, "center": 0.5, "right": 1.0}[self.side]
        return self.x - part * fit.width(self.said, self.size, self.bold)


class Canvas:
    """One page of `width` by `height` [pt]."""

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = width, height
        self.areas: dict[Style, list[Sequence[Point]]] = {}
        self.lines: dict[Stroke, list[Sequence[Point]]] = {}
        self.texts: list[Text] = []

    def area(self, points: Sequence[Point], style: Style) -> None:
        self.areas.setdefault(style, []).append(points)
        if style.hatch:
            gap = _HATCHES[style.hatch[0]][1] / len(style.hatch)
            dots = style.hatch[0] == "."
            thick, dashes = (_DOT, (_DOT, gap - _DOT)) if dots else (_HATCH, ())
            stroke = Stroke(style.layer + 0.01, style.edge, thick, dashes)
            self.lines.setdefault(stroke, []).extend(hatch_lines(points, style.hatch[0], gap))

    def box(self, left: float, top: float, right: float, bottom: float, style: Style) -> None:
        """A rectangle; nothing where it has no width or height."""
        if right > left and bottom > top:
            self.area(((left, top), (right, top), (right, bottom), (left, bottom)), style)

    def disc(self, x: float, y: float, radius: float, style: Style) -> None:
        turns = [2 * math.pi * i / 40 for i in range(40)]
        self.area([(x + radius * math.cos(t), y + radius * math.sin(t)) for t in turns], style)

    def badge(self, left: float, top: float, side: float, corner: float, style: Style) -> None:
        """A square with round corners."""
        inner, outer = corner, side - corner
        centres = ((inner, inner), (outer, inner), (outer, outer), (inner, outer))
        turns = [math.pi / 2 * (2 + i / 6) for i in range(7)]
        self.area(
            [
                (left + x + corner * math.cos(t + quarter), top + y + corner * math.sin(t + quarter))
                for (x, y), quarter in zip(centres, (0.0, math.pi / 2, math.pi, 1.5 * math.pi), strict=True)
                for t in turns
            ],
            style,
        )

    def line(self, points: Sequence[Point], stroke: Stroke) -> None:
        self.lines.setdefault(stroke, []).append(points)

    def text(
        self, x: float, y: float, said: str, size: float, *, bold: bool = False, colour: str = INK,
        side: Side = "left", middle: bool = False, room: float | None = None,
    ) -> float:  # fmt: skip
        """Write on the baseline `y`, or centred on it with `middle` (capitals are 0.73 of the size).

        Shortened to `room` [pt] where that is given. Gives the right end of what is written [pt].
        """
        if room is not None:
            said = fit.shorten(said, room, size, bold)
        if not said:
            return x
        text = Text(x, y + 0.365 * size if middle else y, said, size, bold, colour, side)
        self.texts.append(text)
        return text.left + fit.width(said, size, bold)

    def shapes(self) -> Iterator[tuple[Style | Stroke, list[Sequence[Point]]]]:
        """Areas and lines in the order in which they are drawn; text stands over them all."""
        everything: list[tuple[Style | Stroke, list[Sequence[Point]]]] = [
            *self.areas.items(),
            *self.lines.items(),
        ]
        return iter(sorted(everything, key=lambda shape: shape[0].layer))


def hatch_lines(points: Sequence[Point], hatch: str, gap: float) -> Iterator[tuple[Point, Point]]:
    """The lines of a hatch within any area, `gap` [pt] apart across the page and in step all over it."""
    for a, b in _HATCHES[hatch][0]:
        crossings: dict[int, list[Point]] = {}
        for (x0, y0), (x1, y1) in pairwise([*points, points[0]]):
            start, end = (a * x0 + b * y0) / gap, (a * x1 + b * y1) / gap
            for i in range(math.ceil(min(start, end)), math.ceil(max(start, end))):
                part = (i - start) / (end - start)
                crossings.setdefault(i, []).append((x0 + part * (x1 - x0), y0 + part * (y1 - y0)))
        for found in crossings.values():
            found.sort()
            yield from zip(found[::2], found[1::2], strict=True)
