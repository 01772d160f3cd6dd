"""Workbooks: cells whose looks are made once and whose text stays text, in files that are moved into place whole.

Files are valid by the schema of ECMA-376, and the same bytes for the same content.

openpyxl puts the parts of a font in an order of its own, keeps every text inside its cell and stamps the clock. The
parts it has made are set right here, once for every workbook, and packed again with fixed times.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator, Mapping
from copy import copy
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.packaging.core import DocumentProperties
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.utils.indexed_list import IndexedList
from openpyxl.writer.excel import ExcelWriter

from forcing.files import replacing

# CT_Font of ECMA-376 part 1, 18.8.22, in the order of the schema that spreadsheet programs are checked by.
_FONT_ORDER = (
    "b", "i", "strike", "condense", "extend", "outline", "shadow", "u", "vertAlign", "sz", "color", "name", "family",
    "charset", "scheme",
)  # fmt: skip
_RANK = {name.encode(): rank for rank, name in enumerate(_FONT_ORDER)}
_FONT = re.compile(rb"<font>(.*?)</font>", re.DOTALL)
_PART_OF_FONT = re.compile(rb"<(\w+)[^>]*/>")
_TEXT_IN_CELL = re.compile(rb' t="inlineStr"><is>(<t(?: xml:space="preserve")?>[^<]*</t>)</is></c>')

_TYPES, _STYLES, _TEXTS = "[Content_Types].xml", "xl/styles.xml", "xl/sharedStrings.xml"
_RELATIONS = "xl/_rels/workbook.xml.rels"
_MAIN = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_TEXTS_TYPE = (
    b'<Override PartName="/xl/sharedStrings.xml" ContentType="application/vnd.openxmlformats-officedocument'
    b'.spreadsheetml.sharedStrings+xml"/>'
)
_TEXTS_RELATION = (
    b'<Relationship Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings" '
    b'Target="sharedStrings.xml" Id="texts"/>'
)
_ABOUT = "docProps/core.xml"
_TIME = re.compile(rb"<dcterms:(created|modified).*?</dcterms:\1>", re.DOTALL)
_NO_TIME, _LAST_TIME = (
    datetime(1980, 1, 1),
    datetime(2107, 12, 31),
)  # the first and last that an archive knows


def printable(text: str) -> str:
    """Text with a space for every character that XML cannot hold."""
    return str(ILLEGAL_CHARACTERS_RE.sub(" ", text))


# ---------------------------------------------------------------- cells


# On every office machine, or there under another name with the same widths.
FONT = "Arial"
SIZE = 10.0
INK, PAPER, RULE = "#1a1a1a", "#ffffff", "#bdbdbd"
PAPERS: Mapping[str, int] = {"A4": 9, "Letter": 1}  # ISO/IEC 29500, paperSize of pageSetup
_FORMULA_LIKE = ("=", "+", "-", "@", "\t", "\r")

Value = str | int | float | date | None


@dataclass(frozen=True, slots=True)
class Look:
    """How a cell looks. Colours like '#1a1a1a'; `pattern` and `align` in the words of OOXML, '' for its default."""

    bold: bool = False
    italic: bool = False
    size: float = SIZE
    font: str = FONT
    ink: str = INK
    fill: str | None = None
    pattern: str = "solid"
    ground: str = PAPER  # behind a pattern
    align: str = "left"
    up: str = "center"  # or top
    wrap: bool = False
    number: str = "General"
    edge: str = ""  # '', 'under' or 'box'
    link: bool = False
    indent: int = 0

    def but(self, **changes: Any) -> Look:
        return _changed(self, tuple(changes.items()))


@lru_cache(maxsize=1024)
def _changed(look: Look, changes: tuple[tuple[str, Any], ...]) -> Look:
    """Kept, since a table asks for the same few looks in every row."""
    return replace(look, **dict(changes))


PLAIN = Look()


@dataclass(slots=True)
class Pen:
    """Writes cells of one workbook; each Look becomes a style of the workbook once, which its cells share."""

    book: Workbook
    font: str = FONT
    size: float = SIZE
    _styles: dict[tuple[Look, bool], Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        # Column widths are counted in digits of the workbook's own font, so that has to be this one.
        font = Font(name=self.font, size=self.size)
        self.book._fonts = IndexedList([font])
        self.book._named_styles["Normal"].font = font

    def put(self, sheet: Any, row: int, column: int, value: Value, look: Look = PLAIN) -> Any:
        """Write a value; text is text whatever it begins with, control characters become spaces."""
        cell = sheet.cell(row, column)
        quoted = False
        if value and isinstance(value, str):
            text = printable(value)
            cell._value, cell.data_type = (
                text,
                "s",
            )  # setting the value would look for what is no text once more
            quoted = text.startswith(_FORMULA_LIKE)  # and it stays text when a person edits the cell
        else:
            cell.value = None if value == "" else value
        cell._style = self._style(cell, look, quoted)
        return cell

    def _style(self, cell: Any, look: Look, quoted: bool) -> Any:
        style = self._styles.get((look, quoted))
        if style is None:
            cell._style = copy(cell._style)  # others may have the one that it has so far
            cell.font = Font(
                name=look.font, size=look.size, bold=look.bold, italic=look.italic, color=_argb(look.ink),
                underline="single" if look.link else None,
            )  # fmt: skip
            cell.fill = _fill(look)
            cell.alignment = Alignment(
                horizontal=look.align or None, vertical=look.up, wrap_text=look.wrap, indent=look.indent
            )
            cell.border = _border(look.edge)
            cell.number_format = _padded(look)
            cell.quotePrefix = quoted
            style = self._styles[look, quoted] = cell._style
        return style


def span(sheet: Any, row: int, first: int, last: int) -> None:
    """Let the cell of column `first` reach to `last`, its look with it."""
    # Worksheet.merge_cells asks for the borders of every cell at every edge, which takes longer than writing them.
    style = sheet.cell(row, first)._style
    for column in range(first + 1, last + 1):
        beside = sheet.cell(row, column)
        beside.value, beside._style = None, style
    sheet.merged_cells.add(f"{get_column_letter(first)}{row}:{get_column_letter(last)}{row}")


def _padded(look: Look) -> str:
    """The number format; figures at the right stand clear of the next column by the width of two brackets.

    An indent would say the same, but some programs lose it next to a cell of another style.
    """
    if look.align != "right":
        return look.number
    number = "General;-General;General;@" if look.number == "General" else look.number
    return ";".join(f"{part}_)_)" for part in number.split(";"))


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


def set_paper(sheet: Any, paper: str, *, landscape: bool = True, pages_wide: int = 1) -> None:
    """A sheet on `paper` ('A4' or 'Letter'), as many pages wide as said and any number long."""
    sheet.page_setup.paperSize = PAPERS[paper]
    sheet.page_setup.orientation = "landscape" if landscape else "portrait"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = pages_wide, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


# ---------------------------------------------------------------- files


def write_xlsx(
    book: Workbook, path: Path, *, title: str | None = None, created: datetime | None = None
) -> Path:
    """Write a workbook to `path`, moved into place when whole, and give `path` back.

    `created` (zoned, or taken as UTC) is stamped on the file; None: the file tells no time. Raises OutputError where
    the file cannot be written; what was there before is then untouched.
    """
    stamp = created.astimezone(UTC).replace(tzinfo=None) if created and created.tzinfo else created
    stamp = (stamp or _NO_TIME).replace(microsecond=0)
    book.properties = DocumentProperties(
        creator="forcing",
        title=title and printable(title),
        created=stamp,
        modified=stamp,
        lastModifiedBy="forcing",
    )
    # There are no formulas, and closing a file that was only looked at must not ask to save it.
    book.calculation.fullCalcOnLoad = False
    data = _packed(_made(book, timed=created is not None), stamp)
    with replacing(path) as temporary:
        temporary.write_bytes(data)
    return path


def _made(book: Workbook, timed: bool) -> Iterator[tuple[str, bytes]]:
    """Every part of the workbook by name, set right; the list of parts first, as readers expect it."""
    raw = io.BytesIO()
    # Not Workbook.save: that writes the clock into the properties.
    ExcelWriter(book, zipfile.ZipFile(raw, "w", zipfile.ZIP_STORED, allowZip64=True)).save()
    with zipfile.ZipFile(raw) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    texts = _Texts()
    for name in parts:
        if name.startswith("xl/worksheets/sheet"):
            parts[name] = _TEXT_IN_CELL.sub(texts.number, parts[name])
        elif name.startswith("xl/comments/"):
            parts[name] = parts[name].replace(b' shapeId="0"', b"")  # not in the first edition of the schema
    parts[_TEXTS] = texts.part()
    parts[_STYLES] = _FONT.sub(_in_order, parts[_STYLES])
    if not timed:
        parts[_ABOUT] = _TIME.sub(b"", parts[_ABOUT])  # openpyxl cannot leave them out
    parts[_RELATIONS] = parts[_RELATIONS].replace(b"</Relationships>", _TEXTS_RELATION + b"</Relationships>")
    yield _TYPES, parts.pop(_TYPES).replace(b"</Types>", _TEXTS_TYPE + b"</Types>")
    yield from parts.items()


class _Texts:
    """The texts of all cells, each once; a cell holds the number of its text."""

    def __init__(self) -> None:
        self.numbers: dict[bytes, int] = {}
        self.used = 0

    def number(self, cell: re.Match[bytes]) -> bytes:
        self.used += 1
        return b' t="s"><v>%d</v></c>' % self.numbers.setdefault(cell[1], len(self.numbers))

    def part(self) -> bytes:
        texts = b"".join(b"<si>%s</si>" % text for text in self.numbers)
        return b'<sst xmlns="%s" count="%d" uniqueCount="%d">%s</sst>' % (
            _MAIN, self.used, len(self.numbers), texts,
        )  # fmt: skip


def _in_order(font: re.Match[bytes]) -> bytes:
    inside = sorted(_PART_OF_FONT.finditer(font[1]), key=lambda part: _RANK[part[1]])
    return b"<font>%s</font>" % b"".join(part[0] for part in inside)


def _packed(parts: Iterator[tuple[str, bytes]], stamp: datetime) -> bytes:
    at = min(max(stamp, _NO_TIME), _LAST_TIME)
    when = (at.year, at.month, at.day, at.hour, at.minute, at.second)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts:
            entry = zipfile.ZipInfo(name, when)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o600 << 16
            archive.writestr(entry, data)
    return out.getvalue()
