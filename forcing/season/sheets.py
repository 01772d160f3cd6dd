"""Workbooks, folders and .csv files -> raw sheets; formulas give the values they were saved with."""

from __future__ import annotations

import csv
import io
import re
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from forcing.errors import Finding
from forcing.season.cells import ErrorValue, Percent, RawSeason, RawSheet, Uncomputed, within_bounds

# ---------------------------------------------------------------- files of comma-separated values

MOST_BYTES = 50_000_000  # of a .csv file
_DELIMITERS = {",": "commas", ";": "semicolons", "\t": "tabs"}


def read_folder(folder: Path) -> RawSeason:
    """Every .csv file of a folder as text cells; files that cannot be read are findings."""
    sheets: list[RawSheet] = []
    findings: list[Finding] = []
    unread: list[str] = []
    try:
        files = sorted(p for p in folder.iterdir() if p.suffix.casefold() == ".csv" and p.name[0] not in ".~")
    except OSError as error:
        return RawSeason((), (_finding("file-missing", folder.name, f"cannot be opened: {error.strerror}",
                                       "Check the name and who may read it."),))  # fmt: skip
    for file in files:
        if not file.is_file():
            continue
        read = read_csv_file(file)
        sheets += read.sheets
        findings += read.findings
        unread += read.unread
    return RawSeason(tuple(sheets), tuple(findings), tuple(unread))


def read_csv_file(file: Path) -> RawSeason:
    """The sheet of one file, named as the file is without its ending; one that cannot be read is a finding."""
    outcome = _read_text(file)
    if isinstance(outcome, Finding):
        return RawSeason((), (outcome,), (file.stem,))
    rows, beyond = within_bounds(outcome.name, outcome.rows)
    return RawSeason((replace(outcome, rows=rows),), tuple(beyond))


def _read_text(file: Path) -> RawSheet | Finding:
    try:
        if file.stat().st_size > MOST_BYTES:
            return _finding("file-large", file.name, f"larger than {MOST_BYTES // 1_000_000} MB: not read",
                            "No table of a season is so large: check what the file is.")  # fmt: skip
        content = file.read_bytes()
        text = content.decode("utf-8-sig")
    except OSError as error:
        return _finding("file-missing", file.name, f"cannot be opened: {error.strerror}",
                        "Check who may read it, and close other programs that hold it.")  # fmt: skip
    except UnicodeDecodeError as error:
        wide = content[:2] in (b"\xff\xfe", b"\xfe\xff")
        row = None if wide else content.count(b"\n", 0, error.start) + 1
        return Finding(
            "file-not-utf8", "error", file.name, row, None,
            "is UTF-16 text, not UTF-8" if wide else "a letter or sign that is not UTF-8 text",
            "Save it again as CSV UTF-8, so that accents and signs are kept.",
        )  # fmt: skip
    return sheet_of_text(file.stem, text, file.name)


def sheet_of_text(name: str, text: str, file: str) -> RawSheet | Finding:
    """The cells of one CSV file's text; the delimiter is the one its header line uses."""
    used = _delimiters_of_header(text)
    if len(used) > 1:
        both = " and ".join(_DELIMITERS[d] for d in used)
        return _finding(
            "file-delimiter", file, f"the header line holds {both}: what parts the cells is not clear",
            "Use one of them between the headers, and no other in the header line.",
        )  # fmt: skip
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=used[0] if used else ",", strict=True)
    rows: list[tuple[object, ...]] = []
    try:
        rows.extend(tuple(cell if cell else None for cell in record) for record in reader)
    except csv.Error as error:
        return Finding(
            "file-quotes", "error", file, len(rows) + 1, None, f"the double quotes are not in order: {error}",
            'Put the whole cell between double quotes and write "" for one inside it.',
        )  # fmt: skip
    return RawSheet(name, tuple(rows), delimited=True)


def _delimiters_of_header(text: str) -> list[str]:
    """What may part the cells: the delimiters in the first line that has any, for a heading may stand above."""
    for line in re.finditer(r'(?:"(?:[^"]|"")*"|[^"\r\n])+', text):
        unquoted = re.sub(r'"(?:[^"]|"")*"', "", line[0])
        if used := [d for d in _DELIMITERS if d in unquoted]:
            return used
    return []


def _finding(code: str, where: str, message: str, hint: str) -> Finding:
    return Finding(code, "error", where, None, None, message, hint)


# ---------------------------------------------------------------- workbooks

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
    from openpyxl import load_workbook  # takes a while: only where there is a workbook

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
