"""A sheet on paper: its page, its first rows, and for a wide sheet a scale and page breaks, so that it prints as drawn.

Spreadsheet programs keep page breaks at a given scale only, not when told to fit a number of pages; so the
scale is worked out here from the widths and heights that the sheet has.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from openpyxl.styles import Alignment
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break

from forcing.sheets.workbook.cells import NOTE, TITLE, Pen, height, lines, points, shorten
from forcing.xlsx import printable

_SMALLEST = 0.67  # of full size: below this, 6 points for small type, a print is spread over more pages
_READABLE = 0.65  # of full size: tables are kept narrow enough for it, 6.5 points for their type
_IN_HAND = 0.97  # programs round widths and heights each in their own way


@dataclass(frozen=True, slots=True)
class Columns:
    """The largest scale [per cent] at which the columns fit, and the last column on the first page."""

    percent: int
    last_on_first_page: int


def lay_columns(sheet: Any, paper: str, first: int, last: int) -> Columns:
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
    return Columns(max(10, int(min(1.0, scale) * 100)), min(last, first + each - 1))


def lay_rows(sheet: Any, paper: str, columns: Columns, top: int, blocks: Sequence[tuple[int, int]]) -> None:
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


def table_room(paper: str) -> float:
    """The widest that a table may be to be read on one page across [points]."""
    return page_room(paper)[0] * _IN_HAND / _READABLE


def to_print(sheet: Any) -> None:
    """Print all that the sheet holds; the note below its title goes on over lines where it is wider than that."""
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
        cell.alignment = Alignment(horizontal="left", vertical="center", wrap_text=True)
        sheet.merge_cells(start_row=row, end_row=row, start_column=column, end_column=last)
        sheet.row_dimensions[row].height = height(needed)


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
