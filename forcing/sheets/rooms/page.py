"""A page of the room plan to draw on in points from the top left: text, rules, boxes and hatches that read in grey."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from io import BytesIO

from reportlab.lib.colors import HexColor

from forcing.sheets.drawing import text as fit
from forcing.sheets.style import INK
from forcing.sheets.task_words import plain
from forcing.sheets.week.parts import BOLD, REGULAR, new_canvas

# Lines of a hatch as (across, down) for a run of one gap; '' is a plain fill.
HATCHES: dict[str, tuple[tuple[int, int], ...]] = {
    "": (),
    "/": ((1, -1),),
    "\\": ((1, 1),),
    "x": ((1, -1), (1, 1)),
    "-": ((1, 0),),
    "|": ((0, 1),),
}


def words(text: str) -> str:
    """User text as this sheet prints it: one line, without what the font cannot draw."""
    return fit.clean(plain(text))


class Page:
    """The file and its current page, `width` by `height` [pt]."""

    def __init__(self, size: tuple[float, float], title: str, created: datetime) -> None:
        self.width, self.height = size
        self._file = BytesIO()
        self._canvas = new_canvas(self._file, size, title, created)

    def next(self) -> None:
        self._canvas.showPage()

    def content(self) -> bytes:
        """The whole file."""
        self._canvas.save()
        return self._file.getvalue()

    def text(
        self,
        x: float,
        y: float,
        said: str,
        size: float,
        *,
        bold: bool = False,
        colour: str = INK,
        side: str = "left",
    ) -> None:
        """Write on the baseline `y`; `x` is the left end, the right end or the middle of the words."""
        if not said:
            return
        wide = fit.width(said, size, bold)
        left = x - wide if side == "right" else x - wide / 2 if side == "center" else x
        self._canvas.setFillColor(HexColor(colour))
        self._canvas.setFont(BOLD if bold else REGULAR, size)
        self._canvas.drawString(left, self.height - y, said)

    def line(
        self,
        points: Sequence[tuple[float, float]],
        thick: float = 0.5,
        colour: str = INK,
        dashes: tuple[float, ...] = (),
    ) -> None:
        self._canvas.setStrokeColor(HexColor(colour))
        self._canvas.setLineWidth(thick)
        self._canvas.setDash(*([list(dashes)] if dashes else []))
        path = self._canvas.beginPath()
        path.moveTo(points[0][0], self.height - points[0][1])
        for x, y in points[1:]:
            path.lineTo(x, self.height - y)
        self._canvas.drawPath(path)
        self._canvas.setDash()

    def area(self, points: Sequence[tuple[float, float]], fill: str) -> None:
        self._canvas.setFillColor(HexColor(fill))
        path = self._canvas.beginPath()
        path.moveTo(points[0][0], self.height - points[0][1])
        for x, y in points[1:]:
            path.lineTo(x, self.height - y)
        path.close()
        self._canvas.drawPath(path, stroke=0, fill=1)

    def box(
        self,
        left: float,
        top: float,
        right: float,
        bottom: float,
        *,
        fill: str | None = None,
        hatch: str = "",
        edge: str | None = None,
        thick: float = 0.5,
    ) -> None:
        """A rectangle: filled, then hatched in ink, then outlined."""
        if right - left <= 0 or bottom - top <= 0:
            return
        x, y, wide, tall = left, self.height - bottom, right - left, bottom - top
        if fill is not None:
            self._canvas.setFillColor(HexColor(fill))
            self._canvas.rect(x, y, wide, tall, stroke=0, fill=1)
        if hatch:
            self._hatch(left, top, right, bottom, hatch)
        if edge is not None:
            self._canvas.setStrokeColor(HexColor(edge))
            self._canvas.setLineWidth(thick)
            self._canvas.rect(x, y, wide, tall, stroke=1, fill=0)

    def _hatch(
        self, left: float, top: float, right: float, bottom: float, hatch: str, gap: float = 3.0
    ) -> None:
        canvas = self._canvas
        canvas.saveState()
        path = canvas.beginPath()
        path.rect(left, self.height - bottom, right - left, bottom - top)
        canvas.clipPath(path, stroke=0, fill=0)
        canvas.setStrokeColor(HexColor(INK))
        canvas.setLineWidth(0.5)
        tall, wide = bottom - top, right - left
        for across, down in HATCHES[hatch]:
            # A slanted line covers as much across as it does down, so it starts that far before the box.
            slant = tall if across and down else 0.0
            reach = tall if across and not down else wide + slant
            for i in range(int(reach / gap) + 1):
                at = (i + 0.5) * gap
                if across and not down:
                    ends = (left, top + at, right, top + at)
                elif not across:
                    ends = (left + at, top, left + at, bottom)
                else:
                    start = left - tall + at
                    y1, y2 = (bottom, top) if down < 0 else (top, bottom)
                    ends = (start, y1, start + tall, y2)
                canvas.line(ends[0], self.height - ends[1], ends[2], self.height - ends[3])
        canvas.restoreState()
