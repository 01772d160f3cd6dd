"""Parts of the printed task sheet: its type, the boxes and lines that staff write on, cautions and readings."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_CENTER, TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph

from forcing.model import BloomClass
from forcing.reports.draw import text as fit
from forcing.reports.draw.pdf import BOLD, REGULAR
from forcing.reports.style import CLASS_MARKS, INK, QUIET, RULE
from forcing.text import one_line

SIDE, TOP, FOOT = 12 * mm, 10 * mm, 13 * mm  # margins; the footer stands in the last
SMALLEST = 7.5  # points
STANDING = 11.0  # points: lots, pots, dates and set temperatures are read at arm's length
_UNIT = re.compile(r"(?<=\d) (?=(?:°[CF]|m²|mm|cm|kg|h|d)\b|%)|(?<=\d) (?=/ ?-?\d)|(?<=\d /) (?=-?\d)")
_LAST_WORD = re.compile(r"^((?:[^ ]+ ){3,}[^ ]+) ([^ ]{1,7})$")  # of a sentence; names are shorter
_ALIGN = {"left": TA_LEFT, "right": TA_RIGHT, "centre": TA_CENTER}


def safe(text: str, longest: int = 300) -> str:
    """User text for a paragraph: one line, printable, with its own '<' and '&' as they were typed.

    A number keeps its unit, and a short last word the word before it: neither stands alone on a line.
    """
    line = _UNIT.sub("\u00a0", one_line(text, longest))
    return escape(_LAST_WORD.sub("\\1\u00a0\\2", line))


@dataclass(frozen=True, slots=True)
class PageLook:
    """Type and measures of one sheet: `width` of the text and of the `lots` [pt]; `scale` below 1 sets it closer."""

    width: float
    scale: float
    lots: float = 20 * mm
    _styles: dict[tuple[float, str, str], Any] = field(default_factory=dict, compare=False)

    def mm(self, millimetres: float) -> float:
        """Millimetres of this sheet's scale -> points."""
        return float(millimetres * mm * self.scale)

    def points(self, size: float, least: float = SMALLEST) -> float:
        """Type of this sheet's scale [pt]; what is read standing is set in no less than STANDING."""
        return max(size * self.scale, least)

    def text(
        self,
        markup: str,
        size: float = 9,
        *,
        colour: str = INK,
        align: str = "left",
        least: float = SMALLEST,
    ) -> Any:
        """A paragraph of ready markup; user text in it has been through `safe`."""
        points = self.points(size, least)
        key = (points, colour, align)
        if key not in self._styles:
            self._styles[key] = ParagraphStyle(
                f"sheet{len(self._styles)}", fontName=REGULAR, fontSize=points, leading=points * 1.22,
                textColor=HexColor(colour), alignment=_ALIGN[align], splitLongWords=1, bulletFontName=REGULAR,
            )  # fmt: skip
        return Paragraph(markup, self._styles[key])


class _Fixed(Flowable):  # type: ignore[misc]
    """Something of its own size, wherever it stands [pt]."""

    def __init__(self, width: float, height: float) -> None:
        super().__init__()
        self.width, self.height = width, height

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height


class TickBox(_Fixed):
    """A square to tick, `side` points wide; already ticked where the work is logged as done."""

    def __init__(self, side: float, *, ticked: bool = False) -> None:
        super().__init__(side, side)
        self.ticked = ticked

    def draw(self) -> None:
        canvas, side = self.canv, self.width
        canvas.setStrokeColor(HexColor(INK))
        canvas.setLineWidth(1.2)
        canvas.roundRect(0.6, 0.6, side - 1.2, side - 1.2, 1.5, stroke=1, fill=0)
        if self.ticked:
            canvas.setLineWidth(2)
            canvas.lines([(side * 0.22, side * 0.5, side * 0.43, side * 0.26),
                          (side * 0.43, side * 0.26, side * 0.8, side * 0.78)])  # fmt: skip


class ClassBadge(_Fixed):
    """The letter of a bloom class in its box: the letter tells, the colour only helps."""

    def __init__(self, bloom_class: BloomClass | None, side: float) -> None:
        super().__init__(side, side)
        self.mark = CLASS_MARKS[bloom_class]

    def draw(self) -> None:
        canvas, side = self.canv, self.width
        canvas.setStrokeColor(HexColor(INK))
        canvas.setFillColor(HexColor(self.mark.fill))
        canvas.setLineWidth(0.6)
        canvas.roundRect(0, 0, side, side, 2, stroke=1, fill=1)
        canvas.setFillColor(HexColor(INK))
        canvas.setFont(BOLD, side * 0.66)
        canvas.drawCentredString(side / 2, side * 0.26, self.mark.letter)


class NumberDisc(_Fixed):
    """A caution's number, white on ink."""

    def __init__(self, number: int, side: float) -> None:
        super().__init__(side, side)
        self.number = number

    def draw(self) -> None:
        canvas, side = self.canv, self.width
        canvas.setFillColor(HexColor(INK))
        canvas.circle(side / 2, side / 2, side / 2, stroke=0, fill=1)
        canvas.setFillColor(HexColor("#ffffff"))
        canvas.setFont(BOLD, side * 0.68)
        canvas.drawCentredString(side / 2, side * 0.26, str(self.number))


class WriteLine(_Fixed):
    """A line to sign on, `drop` points below the top of its cell."""

    def __init__(self, width: float, drop: float) -> None:
        super().__init__(width, drop)

    def draw(self) -> None:
        self.canv.setStrokeColor(HexColor(INK))
        self.canv.setLineWidth(0.8)
        self.canv.line(0, 0, self.width, 0)


class DayHeading(Flowable):  # type: ignore[misc]
    """A heading of a table: says `first` where it starts and `again` on each page it runs on to.

    A table repeats its heading rows by drawing the same objects again, so the second drawing is a
    continuation. An `again` that would take more lines than `first` is not worth the room it costs.
    """

    def __init__(self, first: Any, again: Any) -> None:
        super().__init__()
        self.first, self.again, self.drawn = first, again, 0

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        sizes = [p.wrapOn(self.canv, available_width, available_height) for p in (self.first, self.again)]
        self.width, self.height = available_width, sizes[0][1]
        self.fits = sizes[1][1] <= sizes[0][1]
        return self.width, self.height

    def draw(self) -> None:
        words = self.again if self.drawn and self.fits else self.first
        self.drawn += 1
        words.drawOn(self.canv, 0, self.height - words.height)


class Ruled(Flowable):  # type: ignore[misc]
    """Empty lines to write on in columns: as many as the rest of the page holds, from `fewest` to `most`.

    `edges`: where a column begins, as parts of the width; the first begins at 0.
    """

    def __init__(self, gap: float, fewest: int, most: int, edges: Sequence[float]) -> None:
        super().__init__()
        self.gap, self.fewest, self.most, self.edges = gap, fewest, most, edges

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        lines = int((available_height - 0.5) // self.gap)
        self.width = available_width
        self.height = self.gap * max(self.fewest, min(self.most, lines))
        return self.width, self.height

    def draw(self) -> None:
        self.canv.setStrokeColor(HexColor(RULE))
        self.canv.setLineWidth(0.6)
        for line in range(round(self.height / self.gap)):
            self.canv.line(0, line * self.gap + 0.3, self.width, line * self.gap + 0.3)
        for edge in self.edges[1:]:
            self.canv.line(edge * self.width, 0.3, edge * self.width, self.height)


class PageMark(_Fixed):
    """Nothing to see: reports the page on which it comes to stand, and how far above its foot [pt]."""

    def __init__(self, report: Callable[[int, float], None]) -> None:
        super().__init__(0, 0)
        self.report = report

    def draw(self) -> None:
        self.report(self.canv.getPageNumber(), self.canv.absolutePosition(0, 0)[1])


class OpenPages(Canvas):  # type: ignore[misc]
    """A canvas that closes no page before the last is laid out, so that a page can tell how many there are."""

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.laid: list[dict[str, Any]] = []
        self.endings: list[Callable[[], None]] = []

    def at_end(self, draw: Callable[[], None]) -> None:
        """Draw on this page when all are laid out."""
        self.endings.append(draw)

    def showPage(self) -> None:
        self.laid.append(dict(self.__dict__))
        self._startPage()
        self.endings = []

    def save(self) -> None:
        for page in self.laid:
            self.__dict__.update(page)
            for draw in self.endings:
                draw()
            super().showPage()
        super().save()


class Later(Flowable):  # type: ignore[misc]
    """Words known only when all pages are laid out, in the room that the `longest` of them take."""

    def __init__(self, longest: Any, words: Callable[[], Any]) -> None:
        super().__init__()
        self.longest, self.words = longest, words

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        self.width, self.height = self.longest.wrapOn(self.canv, available_width, available_height)
        return self.width, self.height

    def draw(self) -> None:
        canvas = self.canv  # a flowable has its canvas only while it is drawn
        x, y = canvas.absolutePosition(0, 0)

        def say() -> None:
            words = self.words()
            _, tall = words.wrapOn(canvas, self.width, self.height)
            words.drawOn(canvas, x, y + self.height - tall)

        canvas.at_end(say)


def draw_footer(canvas: Any, page_width: float, left: str, right: str) -> None:
    """The line at the foot of every page; a title too long for it is shortened there (page 1 has it whole)."""
    size, room = 8.0, page_width - 2 * SIDE
    canvas.saveState()
    canvas.setStrokeColor(HexColor(INK))
    canvas.setLineWidth(0.6)
    canvas.line(SIDE, FOOT - 2.2 * mm, page_width - SIDE, FOOT - 2.2 * mm)
    canvas.setFillColor(HexColor(QUIET))
    canvas.setFont(REGULAR, size)
    text = fit.shorten(fit.clean(left), room - fit.width(right, size) - 6 * mm, size)
    canvas.drawString(SIDE, FOOT - 6 * mm, text)
    canvas.drawRightString(page_width - SIDE, FOOT - 6 * mm, right)
    canvas.restoreState()
