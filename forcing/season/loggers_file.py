"""One logger file as text -> its readings: moment as stamped, temperature [°C], row in the file."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from forcing.errors import Finding, Severity
from forcing.season.cells import YEARS
from forcing.season.columns import near, plain
from forcing.season.loggers_declared import Declaration, where
from forcing.season.loggers_policy import HIGHEST, LOWEST
from forcing.season.raw import shown
from forcing.units import show_temperature, to_celsius

HEADER_SEARCH = 60  # rows looked through for the header: loggers write a preamble
_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]*)?|[+-]?\.[0-9]+")


@dataclass(frozen=True, slots=True)
class Sample:
    """One reading as the file holds it; `offset` is the stamp's own, where it states one."""

    moment: datetime
    offset: timedelta | None
    value: float
    row: int


@dataclass(frozen=True, slots=True)
class Columns:
    """Where the stamp and the temperature stand; `width` of the header, None where no header is used."""

    time: tuple[int, ...]
    temperature: int
    width: int | None
    heads: tuple[str, str]  # of stamp and temperature, for findings


@dataclass(slots=True)
class Tally:
    """Faults of one sort in one file: told once, at the first, with how many more there are."""

    code: str
    severity: Severity
    hint: str
    first: tuple[int, str | None, str, str | None] | None = None  # row, column, message, value
    count: int = 0

    def add(self, row: int, column: str | None, message: str, value: str | None = None) -> None:
        self.first = self.first or (row, column, message, value)
        self.count += 1

    def finding(self, file: str, severity: Severity | None = None) -> Iterator[Finding]:
        if self.first is None:
            return
        row, column, message, value = self.first
        more = self.count - 1
        like = f", and so in {more} more row{'s' if more > 1 else ''}" if more else ""
        yield Finding(self.code, severity or self.severity, where(file), row, column, message + like, self.hint,
                      None if value is None else shown(value))  # fmt: skip


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
) -> tuple[tuple[Sample, ...], list[Finding]]:
    """The readings of one temperature column, in the order of the file; and what could not be read.

    lines: of the whole file; skip: lines at its top that are not data.
    """
    records, fault = _records(lines, skip, declared)
    if fault:
        return (), [fault]
    columns, after = _columns(records, declared)
    if isinstance(columns, Finding):
        return (), [columns]
    unreadable = Tally(
        "logger-row",
        "warning",
        "It is left out. Correct it, or the declaration of the file, if that is wrong.",
    )
    outside = Tally(
        "logger-range", "warning", "It is left out. Check the unit and decimal mark declared, and the sensor."
    )
    samples: list[Sample] = []
    heading: tuple[int, str, str, str] | None = None
    for row, cells in records[after:]:
        sample = _sample(row, cells, columns, declared)
        if isinstance(sample, Sample):
            if LOWEST <= sample.value <= HIGHEST:
                samples.append(sample)
            else:
                limits = (
                    f"{show_temperature(LOWEST, declared.unit)} to {show_temperature(HIGHEST, declared.unit)}"
                )
                found = cells[columns.temperature]
                outside.add(row, columns.heads[1], f"outside {limits}", f"{found} °{declared.unit}")
        elif sample is not None and (samples or columns.width is not None or outside.count):
            unreadable.add(row, *sample)
        elif sample is not None:
            heading = heading or (row, *sample)  # above the first reading, where columns go by number
    if heading and not samples and not outside.count:
        unreadable.add(*heading)
    worst: Severity = "warning" if samples else "error"
    findings = [*unreadable.finding(declared.file, worst), *outside.finding(declared.file, worst)]
    if not samples and not findings:
        hint = "Export it again, or take it out of the folder."
        findings = [
            Finding("logger-empty", "warning", where(declared.file), None, None, "it holds no readings", hint)
        ]
    return tuple(samples), findings


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
) -> tuple[Columns | Finding, int]:
    """Where the declared columns stand, and the record at which readings may begin."""
    wanted, temperature = _time_names(records, declared.time_column), declared.temperature_column
    names = (*wanted, temperature)
    if all(name.isdecimal() and int(name) > 0 for name in names):
        at = [int(name) - 1 for name in names]
        return Columns(tuple(at[:-1]), at[-1], None, (f"column {names[0]}", f"column {names[-1]}")), 0
    for index, (row, cells) in enumerate(records[:HEADER_SEARCH]):
        heads = [plain(cell) for cell in cells]
        if all(plain(name) in heads or (name.isdecimal() and int(name) <= len(heads)) for name in names):
            for name in names:
                if heads.count(plain(name)) > 1:
                    return Finding(
                        "logger-column", "error", where(declared.file), row, name, "two columns have this header",
                        "Declare the column by its number, 1 for the first.",
                    ), 0  # fmt: skip
            at = [heads.index(plain(name)) if plain(name) in heads else int(name) - 1 for name in names]
            width = max((i + 1 for i, head in enumerate(heads) if head), default=0)
            return Columns(tuple(at[:-1]), at[-1], width, (cells[at[0]], cells[at[-1]])), index + 1
    return _no_columns(records, declared, names), 0


def _time_names(records: Sequence[tuple[int, list[str]]], text: str) -> tuple[str, ...]:
    """The header as declared where the file has it; else the headers between its plus signs."""
    if any(plain(cell) == plain(text) for _, cells in records[:HEADER_SEARCH] for cell in cells):
        return (text,)
    return tuple(part.strip() for part in text.split("+") if part.strip()) or (text,)


def _no_columns(
    records: Sequence[tuple[int, list[str]]], declared: Declaration, names: Sequence[str]
) -> Finding:
    seen = [cell for _, cells in records[:HEADER_SEARCH] for cell in cells if cell]
    lacking = [n for n in names if plain(n) not in {plain(cell) for cell in seen} and not n.isdecimal()]
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


def _sample(
    row: int, cells: Sequence[str], columns: Columns, declared: Declaration
) -> Sample | tuple[str, str, str] | None:
    """The reading of a row; None where there is none; or column, message and value that cannot be read."""
    value = cells[columns.temperature] if columns.temperature < len(cells) else ""
    stamp = " ".join(cells[i] for i in columns.time if i < len(cells)).strip()
    if value == "":
        return None  # loggers write such rows for their own events
    if columns.width is not None and any(cells[columns.width :]):
        return columns.heads[1], "more values than headers: is the decimal mark also the delimiter?", value
    read = declared.format.read(stamp)
    if read is None or not YEARS[0] <= read[0].year <= YEARS[1]:
        return columns.heads[0], f"not a stamp written {declared.order}", stamp
    number = value.replace("\u2212", "-")
    if declared.comma:
        number = "" if "." in number else number.replace(",", ".", 1)
    if not _NUMBER.fullmatch(number):
        mark = "comma" if declared.comma else "point"
        return columns.heads[1], f"not a number with a decimal {mark}", value
    return Sample(read[0], read[1], to_celsius(float(number), declared.unit), row)
