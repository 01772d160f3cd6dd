"""Season workbooks (.xlsx), read and written: the one module of a season that knows openpyxl.

Reading gives raw values and judges nothing but the file. Writing takes sheets described without openpyxl.
"""

from __future__ import annotations

import io
import math
import warnings
import zipfile
from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from openpyxl import Workbook, load_workbook
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.hyperlink import Hyperlink

from forcing.errors import Finding
from forcing.season.cells import YEARS, ErrorValue, Percent, RawSeason, RawSheet, Uncomputed, clean
from forcing.season.hints import Problem
from forcing.season.schema import Column
from forcing.xlsx import write_xlsx

# ---------------------------------------------------------------- reading

_OLE_MAGIC = b"\xd0\xcf\x11\xe0"  # of an old .xls file, or a workbook locked with a password
_SAVE_AS = "Save it as an Excel workbook (.xlsx), without a password."


def read_workbook(path: Path) -> RawSeason:
    """Every sheet of a workbook as raw values. A file that cannot be opened is a finding, never an exception.

    Formulas give the values they were saved with; a formula without one is marked Uncomputed.
    """
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return _refused(path, "file-missing", "there is no such file or folder", "Check the name.")
    except OSError as error:
        hint = "Check who may read it, and close other programs that hold it."
        return _refused(path, "file-missing", f"cannot be opened: {error.strerror or error}", hint)
    if path.suffix.casefold() == ".csv":
        hint = "Put the .csv files of the season in one folder and name the folder."
        return _refused(path, "file-not-workbook", "one .csv file is not a season", hint)
    if data.startswith(_OLE_MAGIC):
        return _refused(
            path, "file-not-workbook", "an old .xls workbook, or one locked with a password", _SAVE_AS
        )
    if not zipfile.is_zipfile(io.BytesIO(data)):
        return _refused(
            path, "file-not-workbook", "not a whole workbook: it is cut short or something else", _SAVE_AS
        )
    try:
        return RawSeason(_sheets(data))
    except Exception:  # openpyxl lets almost any exception through when a file inside the zip is damaged
        return _refused(path, "file-not-workbook", "not a workbook that can be read, or damaged", _SAVE_AS)


def _refused(path: Path, code: str, message: str, hint: str) -> RawSeason:
    return RawSeason((), (Finding(code, "error", path.name or str(path), None, None, message, hint),))


def _sheets(data: bytes) -> tuple[RawSheet, ...]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about drop-downs and styles that do not matter to the values
        sheets, has_formulas = _load(data, values=False)
        # Only a workbook with formulas must be read a second time, for the values saved with them.
        return _load(data, values=True, formulas=sheets)[0] if has_formulas else sheets


def _load(data: bytes, values: bool, formulas: Sequence[RawSheet] = ()) -> tuple[tuple[RawSheet, ...], bool]:
    book = load_workbook(io.BytesIO(data), read_only=True, data_only=values)
    try:
        sheets = []
        for sheet in book.worksheets:
            sheet.reset_dimensions()  # what a file says of its own size is not always so
            rows = [tuple(_raw(cell) for cell in row) for row in sheet.rows]
            sheets.append(RawSheet(sheet.title, tuple(_shorn(rows))))
    finally:
        book.close()
    if values:
        sheets = [_with_marks(*pair) for pair in zip(sheets, formulas, strict=True)]
    found = any(isinstance(raw, Uncomputed) for sheet in sheets for row in sheet.rows for raw in row)
    return tuple(sheets), found


def _raw(cell: Any) -> object:
    value = cell.value
    if cell.data_type == "f":
        return Uncomputed(str(getattr(value, "text", value)))
    if value is None:
        # A formula that gave an empty text is an empty cell; one that was never computed has no type.
        return "" if cell.data_type in ("s", "str") else None
    if cell.data_type == "e":
        return ErrorValue(str(value))
    if isinstance(value, int | float) and not isinstance(value, bool) and "%" in (cell.number_format or ""):
        return Percent(float(value))
    return value


def _shorn(rows: list[tuple[object, ...]]) -> list[tuple[object, ...]]:
    """Rows without the empty ones at the end."""
    last = len(rows)
    while last and all(raw is None for raw in rows[last - 1]):
        last -= 1
    return rows[:last]


def _with_marks(values: RawSheet, formulas: RawSheet) -> RawSheet:
    """Saved values, with Uncomputed where the formula of a cell has none."""
    rows = []
    for number, marked in enumerate(formulas.rows):
        saved = values.rows[number] if number < len(values.rows) else ()
        rows.append(
            tuple(
                mark
                if isinstance(mark, Uncomputed) and (i >= len(saved) or saved[i] is None)
                else (saved[i] if i < len(saved) else None)
                for i, mark in enumerate(marked)
            )
        )
    return RawSheet(values.name, tuple(rows))


# ---------------------------------------------------------------- writing

_INK, _PALE = "1A1A1A", "E4E4E4"
_MUST = PatternFill("solid", start_color=_INK)
_MAY = PatternFill("solid", start_color=_PALE)
_PAPERS = {"A4": 9, "Letter": 1}  # ISO/IEC 29500, paperSize of pageSetup
_LONGEST_TEXT = 32_767  # characters of a cell, ISO/IEC 29500 as spreadsheet programs keep it
_FONT = "Calibri"
_LINE = 15.5  # points of one line of text
_TWO_PAGES = 170  # characters beyond which a sheet is printed two pages wide
_FORMATS = {"date": "yyyy-mm-dd", "name": "@", "word": "@", "weekdays": "@", "holidays": "@", "repeat": "@"}


@dataclass(frozen=True, slots=True)
class Rule:
    """What the cells of a range like 'C2:C5001' take: the column says kind, words, limits and help.

    `source` is a range of names to choose from; with `only` nothing else may be typed.
    """

    cells: str
    column: Column
    help: str
    source: str | None = None
    only: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet to write: a header of columns, rows of values, rules for cells."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[object, ...], ...] = ()
    rules: tuple[Rule, ...] = ()
    helps: tuple[str, ...] = ()  # a note for each header; empty: none
    last_row: int = 1  # of the filter
    key_columns: int = 0  # columns that stay in sight
    row_kinds: tuple[Column, ...] = ()  # the season sheet: the kind of `value` in each row


@dataclass(frozen=True, slots=True)
class Page:
    """A sheet of plain words: rows of (left, right); a right of None makes the left a heading."""

    title: str
    rows: tuple[tuple[str, str | None], ...]
    widths: tuple[int, int] = (18, 92)
    links: frozenset[str] = frozenset()  # left texts that are names of sheets to jump to


def write_book(path: Path, sheets: Sequence[Sheet | Page], paper: str) -> Path:
    """Write a workbook, moved into place when whole. Raises OutputError; ValueError for text that cannot be."""
    book = Workbook()
    book.remove(book.active)
    for sheet in sheets:
        drawn = book.create_sheet(sheet.title)
        if isinstance(sheet, Page):
            _draw_page(drawn, sheet)
        else:
            _draw_sheet(drawn, sheet)
        _print_setup(drawn, paper, sheet)
    return write_xlsx(book, path)


def _draw_sheet(drawn: Any, sheet: Sheet) -> None:
    for index, column in enumerate(sheet.columns, start=1):
        letter = get_column_letter(index)
        dimension = drawn.column_dimensions[letter]
        dimension.width = column.width
        if column.kind in _FORMATS:
            dimension.number_format = _FORMATS[column.kind]  # of cells yet to be typed
        cell = drawn.cell(1, index)
        _put(cell, column.name)
        _mark(cell, column.required)
        if sheet.helps:
            lines = math.ceil(len(sheet.helps[index - 1]) / 34) + 1
            cell.comment = Comment(sheet.helps[index - 1], "forcing", height=18 * lines + 8, width=260)
    drawn.row_dimensions[1].height = 32
    drawn.freeze_panes = drawn.cell(2, sheet.key_columns + 1)
    if sheet.last_row > 1:
        drawn.auto_filter.ref = f"A1:{get_column_letter(len(sheet.columns))}{sheet.last_row}"
    _fill(drawn, sheet)
    for number, item in enumerate(sheet.row_kinds, start=2):
        _mark(drawn.cell(number, 1), item.required)
    for rule in sheet.rules:
        drawn.add_data_validation(_validation(rule))


def _mark(cell: Any, must: bool) -> None:
    """The look of a header: dark where it must be filled, light where it may."""
    cell.font = Font(name=_FONT, size=11, bold=True, color="FFFFFF" if must else _INK)
    cell.fill = _MUST if must else _MAY
    cell.alignment = Alignment(wrap_text=True, vertical="center")


def _lines(text: str, width: int) -> int:
    return max(1, math.ceil(len(text) / width))


def _fill(drawn: Any, sheet: Sheet) -> None:
    styles: dict[tuple[str, bool], Any] = {}  # a new style object for every cell is many times slower
    for number, row in enumerate(sheet.rows, start=2):
        texts = ((str(value), column.width) for column, value in zip(sheet.columns, row, strict=True))
        lines = max(_lines(text, width) for text, width in texts)
        if lines > 1:
            drawn.row_dimensions[number].height = _LINE * lines
        for index, (column, value) in enumerate(zip(sheet.columns, row, strict=True), start=1):
            kind = column.kind
            if isinstance(value, date):
                kind = "date"  # whatever the column: shown as a number it would be read as one
            elif sheet.row_kinds and kind == "value":
                kind = sheet.row_kinds[number - 2].kind
            elif value is None:
                continue
            cell = drawn.cell(number, index)
            _put(cell, value)
            prefixed = isinstance(value, str) and value[:1] in ("=", "+", "-", "@")
            look = (kind, prefixed)
            if look not in styles:
                cell.number_format = _FORMATS.get(kind, "General")
                cell.alignment = Alignment(
                    vertical="center",
                    wrap_text=kind in ("name", "note", "holidays"),
                    horizontal="left" if column.kind == "value" else None,
                )
                if prefixed:
                    cell.quotePrefix = True  # or a spreadsheet makes it a formula when it is edited
                styles[look] = cell._style
            else:
                cell._style = copy(styles[look])


def _put(cell: Any, value: object) -> None:
    if isinstance(value, str):
        cleaned = clean(value, lines=True)
        if isinstance(cleaned, Problem):
            raise ValueError(f"{cleaned.message}: {value!r}")
        if len(cleaned) > _LONGEST_TEXT:
            raise ValueError(f"a text of {len(cleaned)} characters is too long for a cell")
        cell.value = cleaned or None
        if cleaned:
            cell.data_type = "s"  # as text, whatever it begins with
    elif value is None or (isinstance(value, int | float | date) and not isinstance(value, bool)):
        if isinstance(value, float) and not math.isfinite(value):
            raise ValueError(f"not a number that can be written: {value}")
        cell.value = value
    else:
        raise ValueError(f"not a value that can be written: {value!r}")


def _validation(rule: Rule) -> DataValidation:
    column = rule.column
    common: dict[str, Any] = {"allow_blank": True, "sqref": rule.cells}
    if rule.source is not None:
        style = "stop" if rule.only else "warning"
        made = DataValidation("list", formula1=f"={rule.source}", errorStyle=style, **common)
    elif column.kind == "word":
        made = DataValidation("list", formula1=f'"{",".join(column.words)}"', **common)
    elif column.kind == "date":
        ends = [f"DATE({year},{month},{day})" for year, month, day in ((YEARS[0], 1, 1), (YEARS[1], 12, 31))]
        made = DataValidation("date", operator="between", formula1=ends[0], formula2=ends[1], **common)
    elif column.kind in ("count", "number", "fraction", "percent", "temperature", "difference"):
        low = -100 if column.lowest is None else column.lowest
        high = 1000 if column.highest is None else column.highest
        made = DataValidation(
            "whole" if column.kind == "count" else "decimal", operator="between",
            formula1=f"{low:.10g}", formula2=f"{high:.10g}", **common,
        )  # fmt: skip
    else:
        made = DataValidation(**common)
    made.promptTitle, made.prompt, made.showInputMessage = column.name, rule.help, True
    made.errorTitle, made.error, made.showErrorMessage = column.name, rule.help, made.type is not None
    return made


def _draw_page(drawn: Any, page: Page) -> None:
    for letter, width in zip("AB", page.widths, strict=True):
        drawn.column_dimensions[letter].width = width
    wrap = Alignment(wrap_text=True, vertical="top")
    for number, (left, right) in enumerate(page.rows, start=1):
        cell = drawn.cell(number, 1)
        _put(cell, left)
        cell.alignment = wrap if right is not None else Alignment(vertical="center")
        cell.font = Font(name=_FONT, bold=True, size=18 if number == 1 else 13 if right is None else 11)
        if right is None:
            drawn.row_dimensions[number].height = 30 if number == 1 else 26
            continue
        beside = drawn.cell(number, 2)
        _put(beside, right)
        beside.alignment = wrap
        drawn.row_dimensions[number].height = _LINE * _lines(right, page.widths[1] + 8)
        if left in page.links:
            cell.hyperlink = Hyperlink(ref=cell.coordinate, location=f"'{left}'!A1", display=left)
    drawn.sheet_view.showGridLines = False


def _print_setup(drawn: Any, paper: str, sheet: Sheet | Page) -> None:
    wide = isinstance(sheet, Sheet) and sum(column.width for column in sheet.columns) > _TWO_PAGES
    drawn.page_setup.paperSize = _PAPERS[paper]
    drawn.page_setup.orientation = "portrait" if isinstance(sheet, Page) else "landscape"
    drawn.page_setup.fitToWidth, drawn.page_setup.fitToHeight = 2 if wide else 1, 0
    drawn.sheet_properties.pageSetUpPr.fitToPage = True
    drawn.oddFooter.left.text, drawn.oddFooter.right.text = "&A", "&P / &N"
    if isinstance(sheet, Sheet):
        drawn.print_title_rows = "1:1"
        drawn.print_options.gridLines = True
    if wide:
        drawn.print_title_cols = "A:A"
    drawn.page_margins.left = drawn.page_margins.right = drawn.page_margins.top = 0.5


def cell_range(title: str, column: int, last_row: int) -> str:
    """Rows 2 to `last_row` of a column (1-based) of a sheet, as a formula names them."""
    letter = get_column_letter(column)
    return f"'{title}'!${letter}$2:${letter}${last_row}"


def column_letters(count: int) -> Iterable[str]:
    """A, B, C ... for that many columns."""
    return (get_column_letter(i) for i in range(1, count + 1))
