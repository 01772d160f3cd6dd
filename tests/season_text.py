"""A season written as a person would read it out: small text tables in, season and findings out.

    [lots]
    lot | crop  | pots
    T1  | tulip | 20

A table begins with its name in square brackets; the line after it is row 1, the header. Cells are parted by
upright strokes; blank lines between tables do not count, a line of one stroke is an empty row. Where the
text has no season table, the show of OPENS to CLOSES is meant.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path

from forcing.errors import Finding, SeasonUnreadable
from forcing.model import Season
from forcing.recipes.book import RecipeBook
from forcing.season.cells import RawSeason, RawSheet
from forcing.season.checks import check_season
from forcing.season.read import read_season, season_of
from forcing.season.sheets import sheet_of_text

OPENS, CLOSES = "2027-03-20", "2027-05-02"
SHOW = f"""
[season]
item   | value
opens  | {OPENS}
closes | {CLOSES}
"""
PLACES = """
[places]
place   | kind   | pots | day | night
Cellar  | cooler | 400  | 5   | 5
South   | bench  | 200  | 18  | 14
Terrace | site   |      |     |
"""
ONE_LOT = PLACES + "[lots]\nlot | crop | pots\nT1 | tulip | 20\n"


def tables_of(text: str) -> dict[str, list[list[str]]]:
    """Table name -> rows of cells, the header first."""
    if "[season]" not in text:
        text = SHOW + text
    tables: dict[str, list[list[str]]] = {}
    rows: list[list[str]] = []
    for line in text.splitlines():
        line = line.strip()
        if line.startswith("[") and line.endswith("]"):
            rows = tables.setdefault(line[1:-1], [])
        elif line:
            rows.append([cell.strip() for cell in line.split("|")])
    return tables


def csv_texts(text: str) -> dict[str, str]:
    """Table name -> the CSV text a person would keep."""
    texts = {}
    for name, rows in tables_of(text).items():
        out = io.StringIO()
        csv.writer(out, lineterminator="\n").writerows(rows)
        texts[name] = out.getvalue()
    return texts


def write_text_folder(folder: Path, text: str) -> Path:
    """The season as a folder of .csv files."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in csv_texts(text).items():
        (folder / f"{name}.csv").write_text(content, encoding="utf-8", newline="")
    return folder


def read_text(text: str) -> tuple[Season, tuple[Finding, ...]]:
    """The season and its warnings, without a file. Raises SeasonUnreadable."""
    sheets = []
    for name, content in csv_texts(text).items():
        sheet = sheet_of_text(name, content, f"{name}.csv")
        assert isinstance(sheet, RawSheet), sheet
        sheets.append(sheet)
    return season_of(RawSeason(tuple(sheets)), "season")


def season(text: str) -> Season:
    """The season alone. Raises SeasonUnreadable."""
    return read_text(text)[0]


def reading_findings(text: str) -> list[Finding]:
    """What the reader says of it, whether it can be read or not."""
    try:
        return list(read_text(text)[1])
    except SeasonUnreadable as error:
        return list(error.findings)


def check_findings(text: str) -> list[Finding]:
    """What the checks say of it."""
    stated = season(text)
    return list(check_season(stated, RecipeBook.from_overrides(stated.overrides)))


def file_findings(path: Path) -> list[Finding]:
    """What the reader says of files, whether they can be read or not."""
    try:
        return list(read_season(path)[1])
    except SeasonUnreadable as error:
        return list(error.findings)


def brief(findings: list[Finding]) -> list[str]:
    """Findings as 'severity code table row column', one a line, for comparing."""
    return [
        " ".join(str(p) for p in (f.severity, f.code, f.table, f.row or "-", f.column or "-"))
        for f in findings
    ]
