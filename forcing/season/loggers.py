"""The `readings` folder beside a season: exports of temperature loggers -> readings of whole days.

Files are declared in the `loggers` table or at their own top and read; logger_days puts their readings on one clock,
cleans them and cuts them into days, with every limit.
"""

from __future__ import annotations

import csv
import fnmatch
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, TypeVar, cast

import numpy as np
import pandas as pd

from forcing.dates import YEARS, Span
from forcing.errors import Finding, Severity
from forcing.season.cells import read_cell, shown
from forcing.season.hints import CellProblem
from forcing.season.logger_days import (
    FOLDER,
    HIGHEST,
    LOWEST,
    UNCHANGED,
    Channel,
    Clock,
    Logged,
    join_groups,
    told,
    where,
)
from forcing.season.notation import Notation
from forcing.season.rows import Row
from forcing.season.schema import did_you_mean, near, table
from forcing.text import fold, fold_word
from forcing.units import TemperatureUnit, show_temperature, to_celsius

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
EXAMPLES = "YYYY-MM-DD HH:MM, DD/MM/YYYY HH:MM:SS or MM/DD/YYYY hh:mm AM/PM"

_TOKEN = re.compile(r"\+HH:MM|AM/PM|YYYY|MMM|YY|MM|DD|HH|SS|Z", re.IGNORECASE)
_PATTERNS = {
    "YYYY": r"(?P<year>[0-9]{4})", "YY": r"(?P<year>[0-9]{2})", "MMM": r"(?P<month>[A-Za-z]{3})",
    "AM/PM": r"(?P<half>[AaPp])\.?[Mm]\.?", "SS": r"(?P<second>[0-9]{1,2}(?:\.[0-9]+)?)",
    "Z": r"(?P<offset>Z)", "+HH:MM": r"(?P<offset>Z|[+-][0-9]{2}:?[0-9]{2})",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class StampFormat:
    """How stamps are written. `halves`: hours run to 12, with AM or PM; `zoned`: they state their own offset."""

    pattern: re.Pattern[str]
    halves: bool
    zoned: bool

    @classmethod
    def of(cls, text: str) -> StampFormat:
        """The format that `text` describes. Raises ValueError, saying what it lacks.

        YYYY year (YY: 20YY), MM month (MMM: Jan), DD day, HH hour, MM minutes after the hour, SS seconds,
        AM/PM, +HH:MM or Z offset of the stamp itself; anything else stands for itself.
        """
        parts: list[str] = []
        names: list[str] = []
        position, after_token = 0, False
        for token in _TOKEN.finditer(text):
            between = re.escape(text[position : token.start()]).replace(r"\ ", r"\s+")
            touching = after_token and not between  # with nothing between, two digits are two digits
            if between == r"\s+" and token[0].upper() == "AM/PM":
                between = r"\s*"
            pattern, name = _pattern(token[0].upper(), names, touching or _joined(text, token.end()))
            parts += [between, pattern]
            names.append(name)
            position, after_token = token.end(), True
        parts.append(re.escape(text[position:]))
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"It states the {twice[0]} twice. Write it such as {EXAMPLES}.")
        for needed in ("year", "month", "day", "hour"):
            if needed not in names:
                raise ValueError(f"It does not say where the {needed} is. Write it such as {EXAMPLES}.")
        return cls(re.compile(rf"^(?:{''.join(parts)})\Z"), "half" in names, "offset" in names)

    def read(self, stamps: pd.Series) -> pd.Series:
        """The moments that stamps show, NaT where it is no such stamp; in UTC where stamps state their offset."""
        found = stamps.str.split().str.join(" ").str.extract(self.pattern)
        names = found["month"].str.lower().map(dict(zip(MONTHS, range(1, 13), strict=True)))
        found["month"] = pd.to_numeric(found["month"], errors="coerce").fillna(names)
        parts = {part: pd.to_numeric(found[part]) for part in ("year", "month", "day", "hour")}
        year = parts["year"] + np.where(found["year"].str.len() == 2, 2000, 0)
        minute, second = (
            pd.to_numeric(found[part]).fillna(0) if part in found else 0 for part in ("minute", "second")
        )
        hour, inside = parts["hour"], parts["hour"] < 24
        if self.halves:
            inside = hour.between(1, 12)
            hour = hour % 12 + np.where(found["half"].str.lower() == "p", 12, 0)
        else:  # 24:00 is how some write the end of a day
            inside |= (hour == 24) & (minute == 0) & (second == 0)
        inside &= (minute < 60) & (second < 60) & year.between(*YEARS)
        days = {"year": year.where(inside), "month": parts["month"], "day": parts["day"]}
        moments = pd.to_datetime(days, errors="coerce").dt.as_unit("us")
        moments += pd.to_timedelta(hour * 3600 + minute * 60, unit="s") + pd.to_timedelta(second, unit="s")
        return moments - _offset(found["offset"]) if self.zoned else moments


def _joined(text: str, end: int) -> bool:
    return _TOKEN.match(text, end) is not None


def _pattern(token: str, names: list[str], touching: bool) -> tuple[str, str]:
    """The pattern of a token and what it holds. MM after an hour that has no minutes yet is the minutes."""
    if token in _PATTERNS:
        pattern = _PATTERNS[token]
        return pattern, pattern[4 : pattern.index(">")]
    name = {"DD": "day", "HH": "hour", "MM": "month"}[token]
    if token == "MM" and "hour" in names and "minute" not in names:
        name = "minute"
    return f"(?P<{name}>[0-9]{{{'2' if touching else '1,2'}}})", name


def _offset(texts: pd.Series) -> pd.Series:
    """How far the clocks of stamps are ahead of UTC."""
    digits = texts.str.replace(":", "").str[1:].where(texts != "Z", "0000")
    ahead = pd.to_numeric(digits.str[:2]) * 60 + pd.to_numeric(digits.str[2:])
    return pd.to_timedelta(ahead.where(texts.str[0] != "-", -ahead), unit="min")


_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]*)?|[+-]?\.[0-9]+")
HEADER_SEARCH = 60  # rows looked through for the header: loggers write a preamble
TABLE = table("loggers")
KEYS = tuple(column.name for column in TABLE.columns if column.name not in ("file", "note"))
OPTIONAL = ("day zone",)
DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t"}
_LINE = re.compile(r"#+\s*([A-Za-z][A-Za-z _]*?)\s*:(.*)")
T = TypeVar("T")
_EXAMPLES = {
    "place": "a name of the places sheet",
    "unit": "C, or F", "zone": f"Europe/London, or UTC+1, or {UNCHANGED}", "stamp": "instant, or start, or end",
    "delimiter": "comma, or semicolon, or tab", "decimal mark": "point, or comma",
    "time column": "its header, or its number", "temperature column": "its header, or its number",
    "date order": EXAMPLES.replace(" or ", ", or "),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Declaration:
    """All that must be known to read one temperature column of a logger file."""

    file: str
    place: str
    unit: TemperatureUnit
    clock: Clock
    stamp: Literal["instant", "start", "end"]
    delimiter: str
    comma: bool  # decimals follow a comma
    time_column: str
    temperature_column: str
    order: str  # how stamps are written, as declared
    format: StampFormat
    days: Clock  # whose midnights part the days

    def channel(self, samples: pd.DataFrame) -> Channel:
        stamps = Clock.of("UTC") if self.format.zoned else self.clock
        return Channel(self.file, self.place, self.unit, self.clock, stamps, self.stamp, self.days, self.time_column,
                       samples)  # fmt: skip


@dataclass(frozen=True, slots=True)
class FileHeading:
    """The lines at the top of a file: what they state, where, and how many lines they are."""

    cells: Mapping[str, str]
    rows: Mapping[str, int]
    lines: int
    findings: tuple[Finding, ...] = ()


def read_heading(file: str, lines: Sequence[str]) -> FileHeading:
    """The `# key: value` lines at the top of a file. Other lines that begin with # are for people."""
    known = {fold_word(word): c.name for c in TABLE.columns if c.name in KEYS for word in (c.name, *c.heads)}
    cells: dict[str, str] = {}
    rows: dict[str, int] = {}
    findings: list[Finding] = []
    count = 0
    for number, line in enumerate(lines, start=1):
        match = _LINE.fullmatch(line.strip())
        if match is None and line.strip() and not re.match(r"#(\s|#|$)", line):
            break
        count = number
        if match is None:
            continue
        key, value = known.get(fold_word(match[1])), match[2].strip()
        if key is None:
            meant = near(match[1], KEYS)
            if meant:
                findings.append(
                    Finding("logger-key", "warning", where(file), number, None, "an unknown key, not read",
                            f"Did you mean {meant}? Correct it.", match[1])
                )  # fmt: skip
        elif key in cells and cells[key] != value:
            findings.append(
                Finding("logger-declared-twice", "error", where(file), number, key,
                        f"stated before, in row {rows[key]}, as {shown(cells[key])}", "Keep one of them.",
                        shown(value))
            )  # fmt: skip
        elif value:
            cells[key], rows[key] = value, number
    return FileHeading(cells, rows, count, tuple(findings))


def declare(
    file: str, row: Row | None, heading: FileHeading, places: Mapping[str, str]
) -> tuple[Declaration | None, list[Finding]]:
    """The declaration of a file from its row of the table and its own heading; None where it is not whole.

    places: what counts of a name (`columns.fold`) -> the name as the places sheet spells it.
    """
    merged = _Merged(file, row, heading)
    for key in KEYS:
        merged.take(key)
    cells, findings = merged.cells, merged.findings
    missing = [key for key in KEYS if key not in cells and key not in OPTIONAL and key not in merged.bad]
    if missing:
        findings.append(_missing(file, row, missing))
    place = cells.get("place")
    if place is not None and fold(place) not in places:
        hint = did_you_mean(place, places.values(), "Add it to the places sheet, or correct the name.")
        merged.report("logger-place", "place", "no place of the places sheet", hint)
    clock = merged.understood("zone", Clock.of, "a clock that is not known")
    days = (
        merged.understood("day zone", Clock.of, "a clock that is not known") if "day zone" in cells else clock
    )
    stamps = merged.understood("date order", StampFormat.of, "not an order that stamps can be read by")
    if clock and days and days is not clock and (clock.unchanged or days.unchanged):
        merged.report("logger-zone", "day zone", "cannot be told from a clock without a zone",
                      "State the zone of the stamps, or leave day zone out.")  # fmt: skip
    if findings or merged.bad or not (clock and days and stamps) or place is None:
        return None, findings
    return Declaration(
        file, places[fold(place)], cast(TemperatureUnit, cells["unit"]), clock,
        cast(Literal["instant", "start", "end"], cells["stamp"]), DELIMITERS[cells["delimiter"]],
        cells["decimal mark"] == "comma", cells["time column"], cells["temperature column"],
        cells["date order"], stamps, days,
    ), findings  # fmt: skip


class _Merged:
    """What the table and the heading state together; where they differ is a finding."""

    def __init__(self, file: str, row: Row | None, heading: FileHeading) -> None:
        self.file, self.row, self.heading = file, row, heading
        self.cells: dict[str, str] = {}
        self.findings: list[Finding] = []
        self.bad: set[str] = set(row.bad) if row else set()  # told already, or below

    def take(self, key: str) -> None:
        typed = self.row.text(key) if self.row else None
        raw = self.heading.cells.get(key)
        value = read_cell(TABLE.column(key), raw, Notation())
        if isinstance(value, CellProblem):
            self.bad.add(key)
            self.findings.append(
                Finding(value.code, "error", where(self.file), self.heading.rows[key], key, value.message,
                        value.hint, shown(raw))
            )  # fmt: skip
            return
        if typed is not None and isinstance(value, str) and fold(typed) != fold(value):
            assert self.row is not None
            self.bad.add(key)
            message = f"the file itself states {shown(value)}"
            self.findings.append(self.row.finding("logger-declared-twice", key, message, "Keep one of them."))
            return
        stated = typed if typed is not None else value
        if isinstance(stated, str):
            self.cells[key] = stated

    def report(self, code: str, key: str, message: str, hint: str) -> None:
        if self.row is not None and self.row.text(key) is not None:
            self.findings.append(self.row.finding(code, key, message, hint))
        else:
            row, value = self.heading.rows.get(key), self.cells.get(key)
            self.findings.append(Finding(code, "error", where(self.file), row, key, message, hint, value))

    def understood(self, key: str, read: Callable[[str], T], message: str) -> T | None:
        """What `read` makes of a stated text; None where nothing is stated or it is not understood."""
        if key not in self.cells:
            return None
        try:
            return read(self.cells[key])
        except ValueError as error:
            self.report(f"logger-{key.replace(' ', '-')}", key, message, str(error))
            return None


def _missing(file: str, row: Row | None, missing: Sequence[str]) -> Finding:
    lines = "; ".join(f"# {key}: {_EXAMPLES[key]}" for key in missing)
    message = f"not declared: {', '.join(missing)}"
    if row is None:
        hint = f"Add at the top of the file, or give it a row in loggers: {lines}."
        return Finding("logger-undeclared", "error", where(file), None, None, message, hint)
    hint = f"Fill the cells, or add at the top of {file}: {lines}."
    return row.finding("logger-undeclared", missing[0] if len(missing) == 1 else None, message, hint)


@dataclass(frozen=True, slots=True)
class LoggerColumns:
    """Where the stamp and the temperature stand; `width` of the header, None where no header is used."""

    time: tuple[int, ...]
    temperature: int
    width: int | None
    heads: tuple[str, str]  # of stamp and temperature, for findings


def read_text(path: Path) -> str | Finding:
    """The text of a file of the folder, or why it cannot be had."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        hint = "Check who may read it, and close other programs that hold it."
        message = f"cannot be opened: {error.strerror}"
        return Finding("file-missing", "error", where(path.name), None, None, message, hint)
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", errors="replace")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        # Stamps and numbers are the same bytes in both; only signs in headers, such as °, can differ.
        return raw.decode("cp1252", errors="replace")


def read_samples(
    lines: Sequence[str], skip: int, declared: Declaration
) -> tuple[pd.DataFrame, list[Finding]]:
    """The readings of one temperature column (moment, value [°C], row) in the file's order; what could not be read.

    lines: of the whole file; skip: lines at its top that are not data.
    """
    nothing = pd.DataFrame()
    records, fault = _records(lines, skip, declared)
    if fault:
        return nothing, [fault]
    columns, after = _columns(records, declared)
    if isinstance(columns, Finding):
        return nothing, [columns]
    cells = _cells(records[after:], columns)
    if cells.empty:
        hint = "Export it again, or take it out of the folder."
        return nothing, [
            Finding("logger-empty", "warning", where(declared.file), None, None, "it holds no readings", hint)
        ]
    cells["file"] = declared.file
    cells["moment"] = declared.format.read(cells.stamp)
    cells["number"] = _numbers(cells.text, declared.comma)
    cells["fault"] = np.select(
        [cells.beyond, cells.moment.isna(), cells.number.isna()], [BEYOND, STAMP, NUMBER], 0
    )
    cells["value"] = to_celsius(cells.number, declared.unit)
    good = cells.fault == 0
    inside = good & cells.value.between(LOWEST, HIGHEST)
    worst: Severity = "warning" if inside.any() else "error"
    findings = [
        *_unreadable(_in_the_table(cells, columns), columns, declared, worst),
        *_outside(cells[good & ~inside], columns, declared, worst),
    ]
    return cells.loc[inside, ["moment", "value", "row"]], findings


BEYOND, STAMP, NUMBER = 1, 2, 3  # what keeps a row from being read


def _cells(records: Sequence[tuple[int, list[str]]], columns: LoggerColumns) -> pd.DataFrame:
    """Row, stamp and text of the temperature, and whether values stand beyond the headers; of rows with a reading."""
    at, width = columns.temperature, columns.width
    rows = (
        (row, " ".join(cells[i] for i in columns.time if i < len(cells)).strip(), cells[at],
         width is not None and any(cells[width:]))
        for row, cells in records
        if at < len(cells) and cells[at]  # loggers write rows without one for their own events
    )  # fmt: skip
    return pd.DataFrame(rows, columns=["row", "stamp", "text", "beyond"])


def _numbers(texts: pd.Series, comma: bool) -> pd.Series:
    """Numbers written with the declared decimal mark; NaN for anything else."""
    plain_ = texts.str.replace("\u2212", "-")
    if comma:
        plain_ = plain_.where(~plain_.str.contains(".", regex=False), "").str.replace(",", ".", n=1)
    return pd.to_numeric(plain_.where(plain_.str.fullmatch(_NUMBER)), errors="coerce")


def _in_the_table(cells: pd.DataFrame, columns: LoggerColumns) -> pd.DataFrame:
    """Rows that could not be read; where columns go by number, those above the first reading are a heading."""
    faulty = cells[cells.fault > 0]
    if columns.width is not None:
        return faulty
    readings = cells.index[cells.fault == 0]
    return faulty[:1] if readings.empty else faulty[faulty.index > readings[0]]


def _unreadable(
    faulty: pd.DataFrame, columns: LoggerColumns, declared: Declaration, severity: Severity
) -> list[Finding]:
    if faulty.empty:
        return []
    first = faulty.iloc[0]
    stamp, temperature = columns.heads
    column, message, value = {
        BEYOND: (
            temperature,
            "more values than headers: is the decimal mark also the delimiter?",
            first.text,
        ),
        STAMP: (stamp, f"not a stamp written {declared.order}", first.stamp),
        NUMBER: (
            temperature,
            f"not a number with a decimal {'comma' if declared.comma else 'point'}",
            first.text,
        ),
    }[first.fault]
    hint = "It is left out. Correct it, or the declaration of the file, if that is wrong."
    return told("logger-row", severity, hint, faulty, message, column, shown(value))


def _outside(
    outside: pd.DataFrame, columns: LoggerColumns, declared: Declaration, severity: Severity
) -> list[Finding]:
    if outside.empty:
        return []
    limits = " to ".join(show_temperature(limit, declared.unit) for limit in (LOWEST, HIGHEST))
    hint = "It is left out. Check the unit and decimal mark declared, and the sensor."
    value = shown(f"{outside.text.iloc[0]} °{declared.unit}")
    return told("logger-range", severity, hint, outside, f"outside {limits}", columns.heads[1], value)


def _records(
    lines: Sequence[str], skip: int, declared: Declaration
) -> tuple[list[tuple[int, list[str]]], Finding | None]:
    """Row number, as a person sees it, and cells of each line that holds something."""
    reader = csv.reader(lines[skip:], delimiter=declared.delimiter)
    records = []
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                records.append((skip + reader.line_num, [cell.strip() for cell in cells]))
    except csv.Error as error:
        message = f"cannot be read as lines of values: {error}"
        hint = "Export it again as CSV."
        row = skip + reader.line_num
        return [], Finding("logger-row", "error", where(declared.file), row, None, message, hint)
    return records, None


def _columns(
    records: Sequence[tuple[int, list[str]]], declared: Declaration
) -> tuple[LoggerColumns | Finding, int]:
    """Where the declared columns stand, and the record at which readings may begin."""
    wanted, temperature = _time_names(records, declared.time_column), declared.temperature_column
    names = (*wanted, temperature)
    if all(name.isdecimal() and int(name) > 0 for name in names):
        at = [int(name) - 1 for name in names]
        return LoggerColumns(tuple(at[:-1]), at[-1], None, (f"column {names[0]}", f"column {names[-1]}")), 0
    for index, (row, cells) in enumerate(records[:HEADER_SEARCH]):
        heads = [fold_word(cell) for cell in cells]
        if all(fold_word(name) in heads or (name.isdecimal() and int(name) <= len(heads)) for name in names):
            for name in names:
                if heads.count(fold_word(name)) > 1:
                    return Finding(
                        "logger-column", "error", where(declared.file), row, name, "two columns have this header",
                        "Declare the column by its number, 1 for the first.",
                    ), 0  # fmt: skip
            at = [
                heads.index(fold_word(name)) if fold_word(name) in heads else int(name) - 1 for name in names
            ]
            width = max((i + 1 for i, head in enumerate(heads) if head), default=0)
            return LoggerColumns(tuple(at[:-1]), at[-1], width, (cells[at[0]], cells[at[-1]])), index + 1
    return _no_columns(records, declared, names), 0


def _time_names(records: Sequence[tuple[int, list[str]]], text: str) -> tuple[str, ...]:
    """The header as declared where the file has it; else the headers between its plus signs."""
    if any(fold_word(cell) == fold_word(text) for _, cells in records[:HEADER_SEARCH] for cell in cells):
        return (text,)
    return tuple(part.strip() for part in text.split("+") if part.strip()) or (text,)


def _no_columns(
    records: Sequence[tuple[int, list[str]]], declared: Declaration, names: Sequence[str]
) -> Finding:
    seen = [cell for _, cells in records[:HEADER_SEARCH] for cell in cells if cell]
    lacking = [
        n for n in names if fold_word(n) not in {fold_word(cell) for cell in seen} and not n.isdecimal()
    ]
    if not records:
        return Finding(
            "logger-empty", "warning", where(declared.file), None, None, "it holds no readings",
            "Export it again, or take it out of the folder.",
        )  # fmt: skip
    name = lacking[0] if lacking else names[-1]
    match = near(name, seen)
    hint = f"Did you mean {match}? " if match else ""
    hint += "Declare the header as the file has it, or the number of the column; check the delimiter too."
    row, cells = records[0]
    return Finding("logger-column", "error", where(declared.file), row, name, "no line has this header", hint,
                   shown(declared.delimiter.join(cells)))  # fmt: skip


EXPORTS = (".csv", ".tsv")  # must be declared; files of other kinds are read only where the table names them


def read_loggers(
    folder: Path, rows: Sequence[Row], places: Mapping[str, str], span: Span | None = None
) -> Logged:
    """Readings of every file of `folder` that is wholly declared, and all that is wrong with the others.

    rows: of the loggers table. places: what counts of a name -> the name as spelt. span: days that the season
    can touch; readings outside it are left out and told. A folder that is not there gives nothing.
    """
    stated = [row for row in rows if row.text("file") is not None]
    if not folder.is_dir():
        return Logged(findings=tuple(_no_file(row, ()) for row in stated))
    try:
        files = sorted(p for p in folder.iterdir() if p.is_file() and p.name[0] not in ".~")
    except OSError as error:
        hint = "Check who may read it."
        message = f"cannot be opened: {error.strerror}"
        return Logged(findings=(Finding("file-missing", "error", FOLDER, None, None, message, hint),))
    findings = [_no_file(row, files) for row in stated if not any(_names(row, file) for file in files)]
    channels: list[Channel] = []
    for file in files:
        mine = _rows_of(file, stated)
        if mine or file.suffix.casefold() in EXPORTS:
            found, wrong = _read_file(file, mine, places)
            channels += found
            findings += wrong
    readings, gaps, wrong = join_groups(channels, span)
    return Logged(readings, gaps, (*findings, *wrong))


def _names(row: Row, file: Path) -> bool:
    return fnmatch.fnmatchcase(fold(file.name), fold(row.text("file") or "").replace("[", "[[]"))


def _rows_of(file: Path, rows: Sequence[Row]) -> list[Row]:
    """The rows about a file: those with its very name, else those whose stars take it in."""
    exact = [row for row in rows if fold(row.text("file") or "") == fold(file.name)]
    return exact or [row for row in rows if _names(row, file)]


def _no_file(row: Row, files: Sequence[Path]) -> Finding:
    hint = did_you_mean(
        row.text("file") or "", [file.name for file in files],
        f"Put it into the folder {FOLDER} beside the season, or delete the row.",
    )  # fmt: skip
    return row.finding("logger-missing", "file", f"no such file in the folder {FOLDER}", hint, "warning")


def _read_file(
    file: Path, rows: Sequence[Row], places: Mapping[str, str]
) -> tuple[list[Channel], list[Finding]]:
    """Each declared temperature column of a file, by the rows of the table or by its own heading."""
    text = read_text(file)
    if isinstance(text, Finding):
        return [], [text]
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    heading = read_heading(file.name, lines)
    findings = list(heading.findings)
    channels: list[Channel] = []
    seen: set[tuple[str, str]] = set()
    stated: Iterable[Row | None] = rows or (None,)
    for row in stated:
        declared, wrong = declare(file.name, row, heading, places)
        findings += wrong
        if declared is None or any(f.severity == "error" for f in heading.findings):
            continue
        key = (declared.place, declared.temperature_column)
        if key in seen:
            hint = "Delete one of the rows, or correct place or temperature column."
            column = "temperature column"
            message = f"this column of {file.name} is declared before, for the same place"
            findings.append(
                row.finding("logger-declared-twice", column, message, hint) if row else
                Finding("logger-declared-twice", "error", where(file.name), None, column, message, hint)
            )  # fmt: skip
            continue
        seen.add(key)
        samples, wrong = read_samples(lines, heading.lines, declared)
        findings += wrong
        if len(samples):
            channels.append(declared.channel(samples))
    return channels, list(dict.fromkeys(findings))
