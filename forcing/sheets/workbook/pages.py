"""Pages of a wide sheet: a scale and page breaks, so that it prints as it was drawn.

Spreadsheet programs keep page breaks at a given scale only, not when told to fit a number of pages; so the
scale is worked out here from the widths and heights that the sheet has.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break

from forcing.sheets.workbook.cells import page_room, points

_SMALLEST = 0.62  # of full size: below this a print is spread over two pages
_IN_HAND = 0.97  # programs round widths and heights each in their own way


@dataclass(frozen=True, slots=True)
class Columns:
    """The largest scale [per cent] at which the columns fit, and the last column on the first page."""

    percent: int
    last_on_first_page: int


def lay_columns(sheet: Any, paper: str, first: int, last: int) -> Columns:
    """One page wide, or two where one would be too small. Columns before `first` are on every page."""
    side = sum(_width(sheet, column) for column in range(1, first))
    columns = [_width(sheet, column) for column in range(first, last + 1)]
    wide, _ = page_room(paper)
    scale = wide / (side + sum(columns))
    end = last
    if scale < _SMALLEST:
        cuts = {n: max(sum(columns[:n]), sum(columns[n:])) for n in range(1, len(columns))}
        cut = min(cuts, key=lambda n: cuts[n])
        scale, end = wide / (side + cuts[cut]), first + cut - 1
        sheet.col_breaks.append(Break(id=end))
    return Columns(max(10, int(min(1.0, scale * _IN_HAND) * 100)), end)


def lay_rows(sheet: Any, paper: str, columns: Columns, top: int, blocks: Sequence[tuple[int, int]]) -> None:
    """Set the scale and the breaks between rows; rows before `top` are on every page.

    A block (first row, empty row after it) is cut only where it is longer than a page. The print may be up
    to a seventh smaller than it must where that saves a page, so that no page has one row on it.
    """
    _, tall = page_room(paper)
    most = columns.percent
    pages = {
        percent: _page_starts(sheet, blocks, top, tall * _IN_HAND * 100 / percent)
        for percent in range(max(10, most - most // 7), most + 1)
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
