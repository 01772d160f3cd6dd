"""A sheet on paper and the tables of it: header, rows, widths, page breaks, filter arrows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from typing import Any

from openpyxl.styles import Alignment
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break

from forcing.reports.workbook.cells import (
    HEAD,
    HEAD_RIGHT,
    NOTE,
    SIZE,
    TEXT,
    TITLE,
    Look,
    Pen,
    Value,
    height,
    lines,
    points,
    shorten,
    shown,
    text_width,
    units,
)
from forcing.xlsx import printable, set_paper, span

_INDENT = 1.8  # units of column that a step of indent takes
_KEPT = 0.6  # of its width that a column keeps when a table must be narrower


@dataclass(frozen=True, slots=True)
class ListColumn:
    """A column of a table: its header, how its cells look, and the most points it may take before wrapping."""

    title: str
    look: Look = TEXT
    most: float = 150.0
    arrow: bool = True  # a filter's arrow may sit in its header


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


def write_table(
    pen: Pen,
    sheet: Any,
    top: int,
    columns: Sequence[ListColumn],
    rows: Iterable[Cells],
    within: float | None = None,
) -> int:
    """Header in row `top`, then the rows; columns grow to fit (never shrink). Gives the row after the last.

    Where the columns together take more than `within` points, those that wrap are made narrower, the emptiest first.
    """
    kept = [tuple(_marked(value, column) for value, column in zip(row, columns, strict=True)) for row in rows]
    widths = [_column_width(column, [row[i] for row in kept]) for i, column in enumerate(columns)]
    if within is not None and sum(map(points, widths)) > within:
        cells = [[row[i] for row in kept] for i in range(len(columns))]
        bare = (_least_width(*each) for each in zip(columns, cells, strict=True))
        least = [max(least, _KEPT * width) for least, width in zip(bare, widths, strict=True)]
        widths = _narrowed(widths, least, [_mean_width(each) for each in cells], within)
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


def _marked(value: Value | Marked, column: ListColumn) -> Marked:
    return value if isinstance(value, Marked) else Marked(value, column.look)


def _row_lines(row: Sequence[Marked], widths: Sequence[float]) -> int:
    wrapped = [
        lines(
            shown(cell.value, cell.look), width - _INDENT * cell.look.indent, cell.look.size, cell.look.bold
        )
        for cell, width in zip(row, widths, strict=True)
        if cell.look.wrap
    ]
    return max(wrapped, default=1)


def _column_width(column: ListColumn, cells: Sequence[Marked]) -> float:
    """Wide enough for every date and number and for the longest word; text beyond `most` wraps."""
    widest = 0.0
    for cell in cells:
        text = shown(cell.value, cell.look)
        whole = text_width(text, cell.look.size, cell.look.bold)
        if cell.look.wrap and whole > column.most:
            whole = min(max(column.most, *_words(text, cell.look)), 2 * column.most)
        widest = max(widest, whole + _indent(cell.look))
    return units(max(widest, _header(column)))


def _header(column: ListColumn) -> float:
    """Points of the longest word of a header, with room for the arrow of a filter over the end of its last line."""
    longest = max(text_width(word, SIZE, True) for word in column.title.split(" "))
    return longest + (14 if column.arrow else 2) + _indent(column.look)


def _least_width(column: ListColumn, cells: Sequence[Marked]) -> float:
    """As narrow as a column may be: no word of what wraps is cut, and no figure or date."""
    widest = _header(column)
    for cell in cells:
        text = shown(cell.value, cell.look)
        if cell.look.wrap:
            needed = max(_words(text, cell.look), default=0.0)
        else:
            needed = text_width(text, cell.look.size, cell.look.bold)
        widest = max(widest, needed + _indent(cell.look))
    return units(widest)


def _mean_width(cells: Sequence[Marked]) -> float:
    texts = [text_width(shown(cell.value, cell.look), cell.look.size, cell.look.bold) for cell in cells]
    return sum(texts) / max(1, len(texts))


def _narrowed(
    widths: Sequence[float], least: Sequence[float], mean: Sequence[float], within: float
) -> list[float]:
    """The widths, those that may shrink made narrower until they fit or none can: where its texts fill least of it."""
    made = list(widths)
    while sum(map(points, made)) > within:
        free = [i for i, width in enumerate(made) if width - 1 >= least[i]]
        if not free:
            break
        made[min(free, key=lambda i: mean[i] / made[i])] -= 1
    return made


def _indent(look: Look) -> float:
    return 8.0 if look.align == "right" else 0.0


def _words(text: str, look: Look) -> Iterator[float]:
    return (text_width(word, look.size, look.bold) for word in text.split())


_SMALLEST = 0.67  # of full size: below this, 6 points for small type, a print is spread over more pages
_READABLE = 0.65  # of full size: tables are kept narrow enough for it, 6.5 points for their type
_IN_HAND = 0.97  # programs round widths and heights each in their own way


@dataclass(frozen=True, slots=True)
class SheetColumns:
    """The largest scale [per cent] at which the columns fit, and the last column on the first page."""

    percent: int
    last_on_first_page: int


def lay_columns(sheet: Any, paper: str, first: int, last: int) -> SheetColumns:
    """As few pages wide as can be read. Columns before `first` are on every page."""
    side = sum(_width(sheet, column) for column in range(1, first))
    columns = [_width(sheet, column) for column in range(first, last + 1)]
    wide, _ = page_room(paper)
    for pages in range(1, len(columns) + 1):
        each = -(-len(columns) // pages)
        starts = range(0, len(columns), each)
        scale = wide * _IN_HAND / (side + max(sum(columns[n : n + each]) for n in starts))
        if scale >= _SMALLEST:
            break
    for n in starts[1:]:
        sheet.col_breaks.append(Break(id=first + n - 1))
    return SheetColumns(max(10, int(min(1.0, scale) * 100)), min(last, first + each - 1))


def lay_rows(
    sheet: Any, paper: str, columns: SheetColumns, top: int, blocks: Sequence[tuple[int, int]]
) -> None:
    """Set the scale and the breaks between rows; rows before `top` are on every page.

    A block (first row, empty row after it) is cut only where it is longer than a page. The print may be up
    to a seventh smaller than it must where that saves a page, so that no page has one row on it, but not too
    small to read.
    """
    _, tall = page_room(paper)
    most = columns.percent
    pages = {
        percent: _page_starts(sheet, blocks, top, tall * _IN_HAND * 100 / percent)
        for percent in range(min(most, max(round(_SMALLEST * 100), most - most // 7)), most + 1)
    }
    fewest = min(map(len, pages.values()))
    percent = max(p for p, starts in pages.items() if len(starts) == fewest)
    sheet.sheet_properties.pageSetUpPr.fitToPage = False
    sheet.page_setup.fitToWidth = sheet.page_setup.fitToHeight = None
    sheet.page_setup.scale = percent
    for row in pages[percent]:
        sheet.row_breaks.append(Break(id=row - 1))


def _page_starts(sheet: Any, blocks: Sequence[tuple[int, int]], top: int, tall: float) -> tuple[int, ...]:
    """The rows that begin a new page when a page holds `tall` points."""
    head = sum(_height(sheet, row) for row in range(1, top))
    starts: list[int] = []
    used = head
    for first, after in blocks:
        heights = [_height(sheet, row) for row in range(first, after + 1)]
        if used > head and used + sum(heights[:-1]) > tall:
            starts.append(first)
            used = head
        for row, size in enumerate(heights, first):
            if used + size > tall and row < after:  # the empty row may fall between pages
                starts.append(row)
                used = head
            used += size
    return tuple(starts)


def _width(sheet: Any, column: int) -> float:
    return points(sheet.column_dimensions[get_column_letter(column)].width)


def _height(sheet: Any, row: int) -> float:
    height = sheet.row_dimensions[row].height
    return 15.0 if height is None else float(height)


# ---------------------------------------------------------------- a sheet on paper

_PAPER: Mapping[str, tuple[float, float]] = {  # width and height [points]
    "A4": (595.3, 841.9), "Letter": (612.0, 792.0),
}  # fmt: skip
MARGIN = 0.4  # inches, left and right
_FOOT = 0.55


def set_up_page(sheet: Any, paper: str, title: str, *, landscape: bool = True, pages_wide: int = 1) -> None:
    """Paper, margins, footer (season, sheet, page of pages) and as many pages wide as said, any number long."""
    set_paper(sheet, paper, landscape=landscape, pages_wide=pages_wide)
    margins = sheet.page_margins
    margins.left = margins.right = margins.top = MARGIN
    margins.bottom, margins.header, margins.footer = _FOOT, 0.2, 0.25
    # '&' begins a command in a footer; doubled it is the character.
    sheet.oddFooter.left.text = shorten(printable(title), 260, 8).replace("&", "&&")
    sheet.oddFooter.center.text = "&A"
    sheet.oddFooter.right.text = "page &P of &N"
    for part in (sheet.oddFooter.left, sheet.oddFooter.center, sheet.oddFooter.right):
        part.size = 8


def table_room(paper: str, *, landscape: bool = True) -> float:
    """The widest that a table may be to be read on one page across [points]."""
    return page_room(paper, landscape=landscape)[0] * _IN_HAND / _READABLE


def to_print(sheet: Any, *, instead: str = "") -> None:
    """Print all that the sheet holds; the note below its title goes on over lines where it is wider than that.

    `instead`: of what is looked up on a screen, what is read on paper. Its print range is an empty cell, as programs
    print all of a sheet that has none; a program that prints an empty page for it prints these words at its head.
    """
    if instead:
        sheet.print_area = f"{get_column_letter(sheet.max_column + 1)}{sheet.max_row + 1}"
        sheet.oddHeader.left.text = f"{sheet.title} is looked up on a screen. {instead}"
        sheet.oddHeader.left.size = 12
    else:
        sheet.print_area = sheet.dimensions
    note = next((cell for cell in sheet[2] if cell.value is not None), None)
    if note is not None and note.coordinate not in sheet.merged_cells:
        across(sheet, 2, note.column)


def across(sheet: Any, row: int, column: int) -> None:
    """Let a text that is wider than the columns from its own to the last go on over lines."""
    last = sheet.max_column
    cell = sheet.cell(row, column)
    room = sum(sheet.column_dimensions[get_column_letter(c)].width for c in range(column, last + 1))
    needed = lines(str(cell.value), room)
    if needed > 1:
        cell._style = copy(cell._style)  # its alone from here on
        cell.alignment = Alignment(horizontal="left", vertical="center", wrap_text=True)
        span(sheet, row, column, last)
        sheet.row_dimensions[row].height = height(needed)


def page_room(paper: str, *, landscape: bool = True) -> tuple[float, float]:
    """Width and height inside the margins [points]."""
    short, long = _PAPER[paper]
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
