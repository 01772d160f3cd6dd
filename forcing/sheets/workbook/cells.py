"""Cells: looks made once and reused, text that stays text, columns as wide and rows as high as what they hold.

Everything openpyxl needs to be told about a cell passes through here; the sheets above say what, not how.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from datetime import date
from functools import lru_cache
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.utils.indexed_list import IndexedList
from reportlab.pdfbase.pdfmetrics import stringWidth

from forcing.sheets.style import INK, PAPER, QUIET, RULE, TINT, long_date
from forcing.xlsx import printable

FONT = "Arial"  # on every office machine, or there under another name with the same widths
SIZE = 10.0
# The language is fixed: days and months are the same words on every machine, and never too wide.
DATE = "[$-809]ddd d mmm yyyy"
DONE_DATE = DATE + '" ✓"'
# One unit of column width [points]: the width of a digit, which programs round to whole pixels or do not.
_DIGIT, _DIGIT_AT_MOST = 5.25, 5.6
_LINE = 1.28  # height of a line of text, in font sizes
_FORMULA_LIKE = ("=", "+", "-", "@", "\t", "\r")

Value = str | int | float | date | None


@dataclass(frozen=True, slots=True)
class Look:
    """How a cell looks. Colours like '#1a1a1a'; `pattern` in the words of OOXML."""

    bold: bool = False
    italic: bool = False
    size: float = SIZE
    ink: str = INK
    fill: str | None = None
    pattern: str = "solid"
    ground: str = PAPER  # behind a pattern
    align: str = "left"
    wrap: bool = False
    number: str = "General"
    edge: str = ""  # '', 'under' or 'box'
    link: bool = False
    indent: int = 0

    def but(self, **changes: Any) -> Look:
        return replace(self, **changes)


PLAIN = Look()
# No '#' behind a decimal point in any number format: a whole number would be shown as '33.'
TEXT = Look(wrap=True, edge="under")
DAY_LOOK = Look(number=DATE, align="left", edge="under")
NUMBER = Look(number="#,##0", align="right", edge="under")
TENTH = Look(number="#,##0.0", align="right", edge="under")
HEAD = Look(bold=True, fill=TINT, wrap=True, edge="box")
HEAD_RIGHT = HEAD.but(align="right", indent=1)
TITLE = Look(bold=True, size=16)
SECTION = Look(bold=True, size=12)
NOTE = Look(ink=QUIET)
NONE = Look(ink=QUIET, italic=True, wrap=True, edge="under")  # 'not known' and the like


@lru_cache(maxsize=64)
def readable(fill: str) -> tuple[str, str]:
    """A fill and the ink, black or white, that can be read on it in colour and in a grey print.

    The fill is mixed with the paper where neither ink reaches a contrast of 4.5 : 1 (WCAG 2.1, 1.4.3).
    """
    channels = [int(fill[i : i + 2], 16) for i in (1, 3, 5)]
    for tenths in range(10):
        mixed = [round(c + (255 - c) * tenths / 10) for c in channels]
        grey = round(0.299 * mixed[0] + 0.587 * mixed[1] + 0.114 * mixed[2])  # as printers do: ITU-R BT.601
        worst = {ink: min(_contrast(ink, mixed), _contrast(ink, [grey] * 3)) for ink in (INK, PAPER)}
        ink = max(worst, key=lambda name: worst[name])
        if worst[ink] >= 4.5:
            return "#" + "".join(f"{c:02x}" for c in mixed), ink
    return PAPER, INK


def _contrast(ink: str, ground: Sequence[int]) -> float:
    """Contrast ratio by WCAG 2.1 relative luminance."""
    lights = []
    for colour in ([int(ink[i : i + 2], 16) for i in (1, 3, 5)], ground):
        parts = [c / 255 for c in colour]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        lights.append(0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2])
    return (max(lights) + 0.05) / (min(lights) + 0.05)


@dataclass(slots=True)
class Pen:
    """Writes cells of one workbook; each Look becomes a style of the workbook once."""

    book: Workbook
    _styles: dict[tuple[Look, bool], Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        # Column widths are counted in digits of the workbook's own font, so that has to be this one.
        font = Font(name=FONT, size=SIZE)
        self.book._fonts = IndexedList([font])
        self.book._named_styles["Normal"].font = font

    def put(self, sheet: Any, row: int, column: int, value: Value, look: Look = PLAIN) -> Any:
        """Write a value; text is text whatever it begins with, control characters become spaces."""
        cell = sheet.cell(row, column)
        quoted = False
        if value and isinstance(value, str):
            text = printable(value)
            cell.value = text
            cell.data_type = "s"
            quoted = text.startswith(_FORMULA_LIKE)  # and it stays text when a person edits the cell
        else:
            cell.value = None if value == "" else value
        cell._style = self._style(cell, look, quoted)
        return cell

    def _style(self, cell: Any, look: Look, quoted: bool) -> Any:
        style = self._styles.get((look, quoted))
        if style is None:
            cell.font = Font(
                name=FONT, size=look.size, bold=look.bold, italic=look.italic, color=_argb(look.ink),
                underline="single" if look.link else None,
            )  # fmt: skip
            cell.fill = _fill(look)
            cell.alignment = Alignment(
                horizontal=look.align, vertical="center", wrap_text=look.wrap, indent=look.indent
            )
            cell.border = _border(look.edge)
            cell.number_format = _padded(look)
            cell.quotePrefix = quoted
            style = self._styles[look, quoted] = copy(cell._style)
        return copy(style)


def _padded(look: Look) -> str:
    """The number format; figures at the right stand clear of the next column by the width of a bracket.

    An indent would say the same, but some programs lose it next to a cell of another style.
    """
    if look.align != "right":
        return look.number
    number = "General;-General;General;@" if look.number == "General" else look.number
    return ";".join(f"{part}_)" for part in number.split(";"))


def _argb(colour: str) -> str:
    return "FF" + colour.lstrip("#").upper()


def _fill(look: Look) -> PatternFill:
    if look.fill is None:
        return PatternFill()
    if look.pattern == "solid":
        return PatternFill("solid", start_color=_argb(look.fill))
    return PatternFill(look.pattern, start_color=_argb(look.fill), end_color=_argb(look.ground))


def _border(edge: str) -> Border:
    rule = Side("thin", color=_argb(RULE))
    if edge == "under":
        return Border(bottom=rule)
    if edge == "box":
        return Border(left=rule, right=rule, top=rule, bottom=Side("thin", color=_argb(INK)))
    if edge == "grid":
        return Border(left=rule, right=rule, top=rule, bottom=rule)
    return Border()


# ---------------------------------------------------------------- how wide, how high


@lru_cache(maxsize=20_000)
def text_width(text: str, size: float = SIZE, bold: bool = False) -> float:
    """Width of a line of text [points], by the metrics of Helvetica, which Arial shares."""
    wide = sum(unicodedata.east_asian_width(c) in "WF" for c in text)  # not in Helvetica: a square each
    narrow = "".join(c for c in text if unicodedata.east_asian_width(c) not in "WF") if wide else text
    return wide * size + float(stringWidth(narrow, "Helvetica-Bold" if bold else "Helvetica", size))


def shown(value: Value, look: Look) -> str:
    """A value as the spreadsheet will show it, near enough to measure."""
    if value is None:
        return ""
    if isinstance(value, date):
        return long_date(value) + (" ✓✓" if look.number == DONE_DATE else "")
    if isinstance(value, str):
        return value
    return f"{value:,.1f}" if "0.0" in look.number else f"{value:,.10g}"


def units(points: float) -> float:
    """Column width for a text of so many points, with the room the cell's own padding takes."""
    return round(points / _DIGIT + 1.6, 1)


def points(width: float) -> float:
    """The most that a column of a width takes on paper [points]."""
    return width * _DIGIT_AT_MOST + 0.5


def lines(text: str, width: float, size: float = SIZE, bold: bool = False) -> int:
    """Lines that text takes when wrapped by words in a column of `width` units."""
    room = width * _DIGIT - 4.5
    total = 0
    for paragraph in text.split("\n"):
        total += 1
        used = 0.0
        for word in paragraph.split(" "):
            long = text_width(word, size, bold)
            step = long if used == 0 else text_width(" ", size, bold) + long
            if used + step <= room:
                used += step
                continue
            total += (1 if used else 0) + int(long // room)
            used = long % room
    return total


def height(count: int, size: float = SIZE) -> float:
    """Height of a row of so many lines [points]."""
    return round(count * size * _LINE + 2.2, 1)


def shorten(text: str, room: float, size: float = SIZE) -> str:
    """Text cut at a word (a very long word inside it) to fit so many points, with '…' where it was cut."""
    if text_width(text, size) <= room:
        return text
    words = text.split(" ")
    for n in range(len(words) - 1, 0, -1):
        cut = " ".join(words[:n]).rstrip(",;:(-") + "…"
        if text_width(cut, size) <= room:
            return cut
    keep = len(text)
    while keep > 1 and text_width(text[:keep] + "…", size) > room:
        keep -= 1
    return text[:keep] + "…"


# ---------------------------------------------------------------- a table


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table: its header, how its cells look, and the most points it may take before wrapping."""

    title: str
    look: Look = TEXT
    most: float = 150.0


@dataclass(frozen=True, slots=True)
class Marked:
    """A value that looks different from the rest of its column."""

    value: Value
    look: Look


def as_needed(value: float, look: Look) -> Marked:
    """A number with one decimal where it has any, and none where it is whole."""
    whole = abs(value - round(value)) < 0.05
    return Marked(round(value, 2), look.but(number="#,##0" if whole else "#,##0.0"))


Cells = Sequence[Value | Marked]


def write_table(pen: Pen, sheet: Any, top: int, columns: Sequence[Column], rows: Iterable[Cells]) -> int:
    """Header in row `top`, then the rows; columns grow to fit (never shrink). Gives the row after the last."""
    kept = [tuple(_marked(value, column) for value, column in zip(row, columns, strict=True)) for row in rows]
    widths = [_column_width(column, [row[i] for row in kept]) for i, column in enumerate(columns)]
    for i, width in enumerate(widths):
        widths[i] = widen(sheet, i + 1, width)
    head = [Marked(c.title, HEAD_RIGHT if c.look.align == "right" else HEAD) for c in columns]
    for offset, row in enumerate([head, *kept]):
        for i, cell in enumerate(row):
            pen.put(sheet, top + offset, i + 1, cell.value, cell.look)
        sheet.row_dimensions[top + offset].height = height(_row_lines(row, widths))
    return top + 1 + len(kept)


def widen(sheet: Any, column: int, width: float) -> float:
    """Make a column at least so wide; gives its width."""
    letter = get_column_letter(column)
    now = sheet.column_dimensions[letter].width if letter in sheet.column_dimensions else 0.0
    sheet.column_dimensions[letter].width = max(width, now)
    return float(max(width, now))


def filtered(sheet: Any, top: int, columns: int, after: int) -> None:
    """Filter arrows on a table whose header is row `top` and whose last row is `after` - 1."""
    sheet.auto_filter.ref = f"A{top}:{get_column_letter(columns)}{max(top, after - 1)}"


def _marked(value: Value | Marked, column: Column) -> Marked:
    return value if isinstance(value, Marked) else Marked(value, column.look)


def _row_lines(row: Sequence[Marked], widths: Sequence[float]) -> int:
    wrapped = [
        lines(shown(cell.value, cell.look), width, cell.look.size, cell.look.bold)
        for cell, width in zip(row, widths, strict=True)
        if cell.look.wrap
    ]
    return max(wrapped, default=1)


def _column_width(column: Column, cells: Sequence[Marked]) -> float:
    """Wide enough for every date and number and for the longest word; text beyond `most` wraps."""
    widest = 0.0
    for cell in cells:
        text = shown(cell.value, cell.look)
        whole = text_width(text, cell.look.size, cell.look.bold)
        if cell.look.wrap and whole > column.most:
            whole = min(max(column.most, *_words(text, cell.look)), 2 * column.most)
        widest = max(widest, whole + _indent(cell.look))
    # A filter's arrow sits over the end of the header's last line: leave room for it.
    header = max(text_width(word, SIZE, True) for word in column.title.split(" ")) + 14 + _indent(column.look)
    return units(max(widest, header))


def _indent(look: Look) -> float:
    return 6.0 if look.align == "right" else 0.0


def _words(text: str, look: Look) -> Iterator[float]:
    return (text_width(word, look.size, look.bold) for word in text.split())


# ---------------------------------------------------------------- a sheet on paper

_PAPER: Mapping[str, tuple[int, float, float]] = {
    "A4": (9, 595.3, 841.9),  # OOXML's number of the paper, width and height [points]
    "Letter": (1, 612.0, 792.0),
}
MARGIN = 0.4  # inches, left and right
_FOOT = 0.55


def set_up_page(sheet: Any, paper: str, title: str, *, landscape: bool = True, pages_wide: int = 1) -> None:
    """Paper, margins, footer (season, sheet, page of pages) and as many pages wide as said, any number long."""
    sheet.page_setup.paperSize = _PAPER[paper][0]
    sheet.page_setup.orientation = "landscape" if landscape else "portrait"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = pages_wide, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    margins = sheet.page_margins
    margins.left = margins.right = margins.top = MARGIN
    margins.bottom, margins.header, margins.footer = _FOOT, 0.2, 0.25
    # '&' begins a command in a footer; doubled it is the character.
    sheet.oddFooter.left.text = shorten(printable(title), 260, 8).replace("&", "&&")
    sheet.oddFooter.center.text = "&A"
    sheet.oddFooter.right.text = "page &P of &N"
    for part in (sheet.oddFooter.left, sheet.oddFooter.center, sheet.oddFooter.right):
        part.size = 8


def page_room(paper: str, *, landscape: bool = True) -> tuple[float, float]:
    """Width and height inside the margins [points]."""
    _, short, long = _PAPER[paper]
    width, tall = (long, short) if landscape else (short, long)
    return width - 2 * MARGIN * 72, tall - (MARGIN + _FOOT) * 72


def headed(pen: Pen, sheet: Any, title: str, note: str, column: int = 1) -> None:
    """The first two rows of a sheet: what it is, and how to read it.

    `column` is the first one that is not repeated on every page, or the words would be cut there.
    """
    pen.put(sheet, 1, column, title, TITLE)
    pen.put(sheet, 2, column, note, NOTE)
    sheet.row_dimensions[1].height = height(1, TITLE.size)
    sheet.row_dimensions[2].height = height(1)
