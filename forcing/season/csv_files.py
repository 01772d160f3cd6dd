"""Files of comma-separated values -> raw sheets of text cells."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from pathlib import Path

from forcing.errors import Finding
from forcing.season.cells import RawSeason, RawSheet, within_bounds

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
    header = re.match(r'(?:"(?:[^"]|"")*"|[^"\r\n])*', text)
    unquoted = re.sub(r'"(?:[^"]|"")*"', "", header[0] if header else "")
    return [d for d in _DELIMITERS if d in unquoted]


def _finding(code: str, where: str, message: str, hint: str) -> Finding:
    return Finding(code, "error", where, None, None, message, hint)
