"""A season's workbook -> raw sheets; formulas give the values they were saved with."""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from openpyxl import load_workbook

from forcing.errors import Finding
from forcing.season.cells import ErrorValue, Percent, RawSeason, RawSheet, Uncomputed, within_bounds

_OLE_MAGIC = b"\xd0\xcf\x11\xe0"  # of an old .xls file, or a workbook locked with a password
MOST_UNPACKED = 200_000_000  # bytes of all that is packed in a workbook
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
        with zipfile.ZipFile(io.BytesIO(data)) as parts:
            unpacked = sum(part.file_size for part in parts.infolist())
        if unpacked > MOST_UNPACKED:
            message = f"it unpacks to {unpacked / 1e6:,.0f} MB; {MOST_UNPACKED / 1e6:,.0f} MB is the most that is read"
            return _refused(path, "file-large", message, "Copy the tables of the season into a new workbook.")
        return RawSeason(*_sheets(data))
    except Exception:  # openpyxl lets almost any exception through when a file inside the zip is damaged
        return _refused(path, "file-not-workbook", "not a workbook that can be read, or damaged", _SAVE_AS)


def _refused(path: Path, code: str, message: str, hint: str) -> RawSeason:
    return RawSeason((), (Finding(code, "error", path.name or str(path), None, None, message, hint),))


def _sheets(data: bytes) -> tuple[tuple[RawSheet, ...], tuple[Finding, ...]]:
    """Its sheets, and what is said of cells beyond them."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about drop-downs and styles that do not matter to the values
        sheets, beyond = _load(data, values=False)
        # Only a workbook with formulas must be read a second time, for the values saved with them.
        if any(isinstance(raw, Uncomputed) for sheet in sheets for row in sheet.rows for raw in row):
            sheets = _load(data, values=True, formulas=sheets)[0]
        return sheets, beyond


def _load(
    data: bytes, values: bool, formulas: Sequence[RawSheet] = ()
) -> tuple[tuple[RawSheet, ...], tuple[Finding, ...]]:
    book = load_workbook(io.BytesIO(data), read_only=True, data_only=values)
    try:
        sheets: list[RawSheet] = []
        beyond: list[Finding] = []
        for sheet in book.worksheets:
            sheet.reset_dimensions()  # what a file says of its own size is not always so
            rows, found = within_bounds(sheet.title, _rows(sheet))
            sheets.append(RawSheet(sheet.title, rows))
            beyond += found
    finally:
        book.close()
    if values:
        sheets = [_with_marks(*pair) for pair in zip(sheets, formulas, strict=True)]
    return tuple(sheets), tuple(beyond)


def _rows(sheet: Any) -> Iterator[tuple[object, ...]]:
    """The raw values of each row; a row of which the file says nothing is empty."""
    for row in sheet.rows:
        yield tuple(map(_raw, row)) if row else ()


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
