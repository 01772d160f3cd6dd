"""The `readings` folder beside a season: exports of temperature loggers -> readings of whole days.

Files are declared in the `loggers` table or at their own top, read, put on one clock and cleaned, and cut into days
(logger_days, with every limit). A day that is not wholly covered is a gap.
"""

from __future__ import annotations

import csv
import fnmatch
import operator
import re
import unicodedata
import zoneinfo
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from pathlib import Path
from typing import Literal, TypeVar, cast

import numpy as np

from forcing.dates import DAY, Span
from forcing.errors import Finding, Severity
from forcing.model import Reading
from forcing.season.cells import YEARS, read_cell, shown
from forcing.season.hints import Problem
from forcing.season.logger_days import (
    DIFFER,
    FLAT,
    HIGHEST,
    HOUR,
    LONGEST_GAP,
    LOWEST,
    Floats,
    flats,
    interval,
    spikes,
    stretches,
    whole_days,
)
from forcing.season.rows import Row
from forcing.season.schema import did_you_mean, near, plain, same_name, table
from forcing.units import TemperatureUnit, from_celsius, show_temperature, to_celsius

UNCHANGED = "local clock without changes"
EPOCH = datetime(1970, 1, 1)
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
EXAMPLES = "YYYY-MM-DD HH:MM, DD/MM/YYYY HH:MM:SS or MM/DD/YYYY hh:mm AM/PM"

_TOKEN = re.compile(r"\+HH:MM|AM/PM|YYYY|MMM|YY|MM|DD|HH|SS|Z", re.IGNORECASE)
_PATTERNS = {
    "YYYY": r"(?P<year>[0-9]{4})", "YY": r"(?P<year>[0-9]{2})", "MMM": r"(?P<month>[A-Za-z]{3})",
    "AM/PM": r"(?P<half>[AaPp])\.?[Mm]\.?", "SS": r"(?P<second>[0-9]{1,2}(?:\.[0-9]+)?)",
    "Z": r"(?P<offset>Z)", "+HH:MM": r"(?P<offset>Z|[+-][0-9]{2}:?[0-9]{2})",
}  # fmt: skip
_OFFSET = re.compile(r"(?:UTC|GMT)?\s*([+-])([0-9]{1,2})(?::?([0-9]{2}))?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class StampFormat:
    """How stamps are written. `halves`: hours run to 12, with AM or PM."""

    pattern: re.Pattern[str]
    halves: bool

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
        return cls(re.compile("".join(parts)), "half" in names)

    def read(self, text: str) -> tuple[datetime, timedelta | None] | None:
        """The moment that a stamp shows and its own offset where it has one; None where it is no such stamp."""
        match = self.pattern.fullmatch(" ".join(text.split()))
        if match is None:
            return None
        found = match.groupdict()
        year = int(found["year"]) + (2000 if len(found["year"]) == 2 else 0)
        month = found["month"].lower()
        hour = int(found["hour"])
        if self.halves:
            if not 1 <= hour <= 12:
                return None
            hour = hour % 12 + (12 if found["half"] in "pP" else 0)
        minute, second = int(found.get("minute") or 0), float(found.get("second") or 0)
        late = hour == 24 and minute == 0 and second == 0  # how some write the end of a day
        try:
            moment = datetime(
                year, int(month) if month.isdigit() else MONTHS.index(month) + 1, int(found["day"]),
                0 if late else hour, minute, int(second), round(second % 1 * 1e6) % 1_000_000,
            )  # fmt: skip
            return moment + timedelta(days=late), _offset(found.get("offset"))
        except (ValueError, OverflowError):
            return None


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


def _offset(text: str | None) -> timedelta | None:
    if not text:
        return None
    if text == "Z":
        return timedelta(0)
    digits = text[1:].replace(":", "")
    shift = timedelta(hours=int(digits[:2]), minutes=int(digits[2:]))
    return -shift if text[0] == "-" else shift


@dataclass(frozen=True, slots=True)
class Clock:
    """The clock of a zone. `unchanged`: a wall clock of no stated zone that never changes."""

    name: str
    zone: tzinfo
    unchanged: bool = False

    @classmethod
    def of(cls, text: str) -> Clock:
        """The clock that `text` names. Raises ValueError, saying what to write."""
        if plain(text) == UNCHANGED:
            return cls(UNCHANGED, UTC, unchanged=True)
        if plain(text) in ("utc", "gmt", "z"):
            return cls("UTC", UTC)
        if match := _OFFSET.fullmatch(text):
            shift = timedelta(hours=int(match[2]), minutes=int(match[3] or 0))
            if shift > timedelta(hours=14) or int(match[3] or 0) > 59:
                raise ValueError("No clock on earth is that far from UTC.")
            return cls(text, timezone(-shift if match[1] == "-" else shift))
        try:
            return cls(text, zoneinfo.ZoneInfo(text))
        except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
            known = zoneinfo.available_timezones()
        if not known:
            raise ValueError("This computer has no time zone data: install the Python package tzdata.")
        match_ = near(text, sorted(known)) or next((z for z in known if plain(z) == plain(text)), None)
        meant = f"Did you mean {match_}? " if match_ else ""
        raise ValueError(
            f"{meant}Write a zone such as Europe/London, an offset such as UTC+1, or: {UNCHANGED}."
        )

    def seconds(self, moment: datetime, fold: int = 0) -> float:
        """Seconds since 1970 in UTC (of an unchanged clock: on that clock) of a moment on this clock."""
        shift = moment.replace(tzinfo=self.zone, fold=fold).utcoffset() or timedelta(0)
        return (moment - EPOCH - shift).total_seconds()

    def doubt(self, moment: datetime) -> int:
        """1 where the clock shows this moment twice, -1 where it never does, else 0."""
        first = moment.replace(tzinfo=self.zone, fold=0).utcoffset() or timedelta(0)
        second = moment.replace(tzinfo=self.zone, fold=1).utcoffset() or timedelta(0)
        return (first > second) - (first < second)

    def day(self, seconds: float) -> date:
        """The day that this clock shows."""
        return (EPOCH + timedelta(seconds=seconds)).replace(tzinfo=UTC).astimezone(self.zone).date()

    def midnight(self, day: date) -> float:
        """The start of a day, in seconds as `seconds` gives them."""
        return self.seconds(datetime(day.year, day.month, day.day))


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


@dataclass(frozen=True, slots=True)
class Heading:
    """The lines at the top of a file: what they state, where, and how many lines they are."""

    cells: Mapping[str, str]
    rows: Mapping[str, int]
    lines: int
    findings: tuple[Finding, ...] = ()


def where(file: str) -> str:
    """The name of a file of the folder as findings give it."""
    return f"readings/{file}"


def read_heading(file: str, lines: Sequence[str]) -> Heading:
    """The `# key: value` lines at the top of a file. Other lines that begin with # are for people."""
    known = {plain(word): c.name for c in TABLE.columns if c.name in KEYS for word in (c.name, *c.heads)}
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
        key, value = known.get(plain(match[1])), match[2].strip()
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
    return Heading(cells, rows, count, tuple(findings))


def declare(
    file: str, row: Row | None, heading: Heading, places: Mapping[str, str]
) -> tuple[Declaration | None, list[Finding]]:
    """The declaration of a file from its row of the table and its own heading; None where it is not whole.

    places: what counts of a name (`columns.same_name`) -> the name as the places sheet spells it.
    """
    merged = _Merged(file, row, heading)
    for key in KEYS:
        merged.take(key)
    cells, findings = merged.cells, merged.findings
    missing = [key for key in KEYS if key not in cells and key not in OPTIONAL and key not in merged.bad]
    if missing:
        findings.append(_missing(file, row, missing))
    place = cells.get("place")
    if place is not None and same_name(place) not in places:
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
        file, places[same_name(place)], cast(TemperatureUnit, cells["unit"]), clock,
        cast(Literal["instant", "start", "end"], cells["stamp"]), DELIMITERS[cells["delimiter"]],
        cells["decimal mark"] == "comma", cells["time column"], cells["temperature column"],
        cells["date order"], stamps, days,
    ), findings  # fmt: skip


class _Merged:
    """What the table and the heading state together; where they differ is a finding."""

    def __init__(self, file: str, row: Row | None, heading: Heading) -> None:
        self.file, self.row, self.heading = file, row, heading
        self.cells: dict[str, str] = {}
        self.findings: list[Finding] = []
        self.bad: set[str] = set(row.bad) if row else set()  # told already, or below

    def take(self, key: str) -> None:
        typed = self.row.text(key) if self.row else None
        raw = self.heading.cells.get(key)
        value = read_cell(TABLE.column(key), raw, "C")
        if isinstance(value, Problem):
            self.bad.add(key)
            self.findings.append(
                Finding(value.code, "error", where(self.file), self.heading.rows[key], key, value.message,
                        value.hint, shown(raw))
            )  # fmt: skip
            return
        if typed is not None and isinstance(value, str) and same_name(typed) != same_name(value):
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


@dataclass(frozen=True, slots=True)
class Channel:
    """One temperature column of one file, in the order of the file."""

    declared: Declaration
    samples: tuple[Sample, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """Channels of one place with the same clock, meaning of stamps and midnights."""

    channels: tuple[Channel, ...]

    @property
    def declared(self) -> Declaration:
        return self.channels[0].declared


@dataclass(frozen=True, slots=True)
class Points:
    """Readings on one clock, in order of time, each with its usual interval, file and row."""

    times: Floats
    values: Floats
    intervals: Floats
    files: tuple[str, ...]
    rows: tuple[int, ...]

    def keep(self, wanted: Sequence[int]) -> Points:
        at = np.asarray(wanted, dtype=np.intp)
        return Points(
            self.times[at], self.values[at], self.intervals[at],
            tuple(self.files[i] for i in wanted), tuple(self.rows[i] for i in wanted),
        )  # fmt: skip


def days_of(group: Group, span: Span | None) -> tuple[list[Reading], tuple[date, ...], list[Finding]]:
    """Whole days of a group; the first and last day it touches, if any; what is odd about its readings."""
    points, findings = _on_one_clock(group)
    points, found = _in_span(points, group, span)
    findings += found
    points, found = _without_twins(points)
    findings += found
    points, found = _without_spikes(points, group)
    findings += found
    findings += _flat(points, group)
    if len(points.times) == 0:
        return [], (), findings
    clock, stamp = group.declared.days, group.declared.stamp
    begin, end = stretches(points.times, points.intervals, stamp)
    first, last = clock.day(float(begin[0])), clock.day(float(end[-1]))
    days = [first + timedelta(days=i) for i in range((last - first).days + 2)]
    found_days = whole_days(begin, end, points.values, [clock.midnight(day) for day in days])
    place = group.declared.place
    readings = [
        Reading(place, day, whole.low, whole.high, whole.mean, hours=whole.hours)
        for day, whole in zip(days[:-1], found_days, strict=True)
        if whole is not None
    ]
    return readings, (first, last), findings


# ---------------------------------------------------------------- one clock


def _on_one_clock(group: Group) -> tuple[Points, list[Finding]]:
    """All readings in order of time; the hour that the clocks repeat or skip is told."""
    channels = sorted(group.channels, key=lambda c: (min(s.moment for s in c.samples), c.declared.file))
    turns = _Turns(group.declared.clock)
    collected: list[tuple[float, float, float, str, int]] = []
    findings: list[Finding] = []
    lone: list[int] = []  # of files too short to show their own interval
    for channel in channels:
        timed, found = _timed(channel, turns)
        findings += found
        usual = interval(np.array([seconds for seconds, _ in timed])) if len(timed) > 2 else 0.0
        if not usual:
            lone += range(len(collected), len(collected) + len(timed))
        file = channel.declared.file
        collected += [(seconds, s.value, usual, file, s.row) for seconds, s in timed]
    findings += turns.findings(channels[0].declared.file)
    common = interval(np.array([row[0] for row in collected])) if lone else 0.0
    for index in lone:
        seconds, value, _, file, row = collected[index]
        collected[index] = (seconds, value, common, file, row)
    collected.sort()
    columns = list(zip(*collected, strict=True)) or [(), (), (), (), ()]
    return Points(
        np.array(columns[0], dtype=float), np.array(columns[1], dtype=float), np.array(columns[2], dtype=float),
        columns[3], columns[4],
    ), findings  # fmt: skip


class _Turns:
    """The nights on which a clock is changed: which of the two hours a stamp belongs to."""

    def __init__(self, clock: Clock) -> None:
        self.clock = clock
        self.quiet: dict[date, bool] = {}
        self.last: datetime | None = None  # stamp in the hour that the clock shows twice
        self.fold = 0
        self.back: Counter[date] = Counter()

    def doubt(self, moment: datetime) -> int:
        """As Clock.doubt, quick on days without a change."""
        day = moment.date()
        if day not in self.quiet:
            noon = datetime(day.year, day.month, day.day, 12)
            step = timedelta(days=1)
            around = {self.clock.seconds(noon + k * step) - k * step.total_seconds() for k in (-1, 0, 1)}
            self.quiet[day] = len(around) == 1
        return 0 if self.quiet[day] else self.clock.doubt(moment)

    def begin(self, first: datetime) -> None:
        """A new file: unless it goes on inside the doubtful hour, that hour begins anew."""
        if self.doubt(first) <= 0:
            self.last, self.fold = None, 0

    def in_order(self, moment: datetime) -> int:
        """First or second pass: once stamps step back or repeat, the clock has been put back."""
        if self.last is None or moment.date() != self.last.date():
            self.fold = 0
        elif moment <= self.last:
            self.fold = 1
        self.last = moment
        self.back[moment.date()] += 1
        return self.fold

    def findings(self, file: str) -> Iterator[Finding]:
        for night, count in sorted(self.back.items()):
            hint = "Nothing, if that is right. A logger whose clock is not changed: declare its UTC offset."
            message = (
                f"the clock is put back: {count} readings lie in the hour that it shows twice, and are taken "
                "in the order of the file"
            )
            yield Finding("logger-clock-back", "note", where(file), None, None, message, hint, str(night))


def _timed(channel: Channel, turns: _Turns) -> tuple[list[tuple[float, Sample]], list[Finding]]:
    """Readings with their seconds, in the order of the file (or its reverse: newest first is an order too)."""
    declared, samples = channel.declared, channel.samples
    skipped = Tally(
        "logger-clock-forward", "warning",
        "It is left out. Correct the zone; if the logger's clock is not changed, declare its UTC offset.",
    )  # fmt: skip
    order = Tally("logger-order", "note", "Readings are put in order of time.")
    plain = [s.moment for s in samples if not turns.doubt(s.moment)]
    backward, forward = (any(map(after, plain, plain[1:])) for after in (operator.gt, operator.lt))
    if backward and not forward:
        samples = samples[::-1]
    shuffled = backward and forward
    seen: Counter[datetime] = Counter()
    timed: list[tuple[float, Sample]] = []
    turns.begin(samples[0].moment)
    for sample in samples:
        if sample.offset is not None:
            seconds = Clock.of("UTC").seconds(sample.moment - sample.offset)
        else:
            doubt, fold = turns.doubt(sample.moment), 0
            if doubt < 0:
                text = sample.moment.isoformat(" ", "minutes")
                skipped.add(
                    sample.row,
                    declared.time_column,
                    "a time that the clock skips when it is put forward",
                    text,
                )
                continue
            if doubt > 0:
                fold = min(seen[sample.moment], 1) if shuffled else turns.in_order(sample.moment)
                seen[sample.moment] += 1
            seconds = declared.clock.seconds(sample.moment, fold)
        if shuffled and timed and seconds < timed[-1][0]:
            order.add(sample.row, declared.time_column, "earlier than the row before it",
                      sample.moment.isoformat(" ", "minutes"))  # fmt: skip
        timed.append((seconds, sample))
    return timed, [*skipped.finding(declared.file), *order.finding(declared.file)]


# ---------------------------------------------------------------- cleaning


def _in_span(points: Points, group: Group, span: Span | None) -> tuple[Points, list[Finding]]:
    """Only what the season can touch: a logger with a lost clock stamps its readings years away."""
    if span is None or len(points.times) == 0:
        return points, []
    clock = group.declared.days
    low, high = clock.midnight(span.start), clock.midnight(span.end)
    inside = np.flatnonzero((points.times >= low) & (points.times < high)).tolist()
    outside = sorted(set(range(len(points.times))) - set(inside))
    if not outside:
        return points, []
    at = outside[0]
    hint = "They are left out. Check the clock of the logger and the year, if they are not of another season."
    message = f"{len(outside)} readings of {group.declared.place} are far from the season"
    value = clock.day(float(points.times[at])).isoformat()
    found = Finding(
        "logger-far", "warning", where(points.files[at]), points.rows[at], None, message, hint, value
    )
    return points.keep(inside), [found]


def _without_twins(points: Points) -> tuple[Points, list[Finding]]:
    """One reading for each moment: the mean, where a stamp comes twice with different values."""
    starts = np.flatnonzero(np.diff(points.times, prepend=-np.inf) > 0).tolist()
    if len(starts) == len(points.times):
        return points, []
    values = points.values.copy()
    same = Tally("logger-twice", "note", "They count once.")
    other = Tally(
        "logger-twice-different", "warning", "Their mean is used. Correct the file, if one is wrong."
    )
    files = {"same": "", "other": ""}
    for start, end in zip(starts, [*starts[1:], len(values)], strict=True):
        if end - start == 1:
            continue
        differ = bool(np.ptp(values[start:end]) > 0)
        tally, key = (other, "other") if differ else (same, "same")
        files[key] = files[key] or points.files[end - 1]
        what = "different values" if differ else "the same value"
        tally.add(points.rows[end - 1], None, f"this stamp comes {end - start} times, with {what}")
        values[start] = values[start:end].mean() if differ else values[start]
    unique = Points(points.times, values, points.intervals, points.files, points.rows).keep(starts)
    return unique, [*same.finding(files["same"]), *other.finding(files["other"])]


def _without_spikes(points: Points, group: Group) -> tuple[Points, list[Finding]]:
    found = spikes(points.times, points.values).tolist()
    if not found:
        return points, []
    first = found[0]
    around = (points.values[first - 1], points.values[first + 1])
    shown = [
        f"{from_celsius(float(v), group.declared.unit):.1f}"
        for v in (around[0], points.values[first], around[1])
    ]
    message = f"{_count(found, 'spike')}: the temperature jumps and is back with the next reading"
    hint = "Left out. Look at the sensor, its plug and its place."
    value = f"{', '.join(shown)} °{group.declared.unit}"
    finding = _at(points, first, "logger-spike", "warning", message, hint, value)
    return points.keep(sorted(set(range(len(points.times))) - set(found))), [finding]


def _flat(points: Points, group: Group) -> Iterator[Finding]:
    found = flats(points.times, points.values)
    if not found:
        return
    first, last = found[0]
    hours = (points.times[last] - points.times[first]) / HOUR
    more = f", and so {len(found) - 1} more times" if len(found) > 1 else ""
    message = f"no change at all for {hours:.0f} hours (more than {FLAT / HOUR:g}){more}"
    hint = "It is used as it is. See that the sensor works and hangs where the plants are."
    unit = group.declared.unit
    value = f"{from_celsius(float(points.values[first]), unit):.1f} °{unit}"
    yield _at(points, first, "logger-flat", "warning", message, hint, value)


def _count(found: Sequence[int], word: str) -> str:
    return f"{len(found)} {word}{'s' if len(found) > 1 else ''}"


def _at(
    points: Points, index: int, code: str, severity: Severity, message: str, hint: str, value: str
) -> Finding:
    return Finding(code, severity, where(points.files[index]), points.rows[index], None, message, hint, value)


FOLDER = "readings"
EXPORTS = (".csv", ".tsv")  # must be declared; files of other kinds are read only where the table names them


@dataclass(frozen=True, slots=True)
class Logged:
    """What the loggers say: readings by place and day, and the days between them that are not whole."""

    readings: tuple[Reading, ...] = ()
    gaps: Mapping[str, tuple[date, ...]] | None = None
    findings: tuple[Finding, ...] = ()


def folder_of(season: Path) -> Path:
    """The folder of logger exports of a season: inside a season folder, beside a workbook."""
    return (season if season.is_dir() else season.parent) / FOLDER


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
    readings, gaps, wrong = _join_groups(channels, span)
    return Logged(readings, gaps, (*findings, *wrong))


def join_readings(
    typed: Sequence[Reading], logged: Logged, unit: TemperatureUnit
) -> tuple[tuple[Reading, ...], list[Finding]]:
    """All readings of the season: those typed by a person, and the logger's where none is typed.

    Findings, in the season's unit: where the two differ, and the days of each place that loggers leave open.
    """
    said = {(r.place, r.date): r for r in typed if r.kind == "measured"}
    findings = list(logged.findings)
    differing: dict[str, list[tuple[Reading, float]]] = {}
    for reading in logged.readings:
        other = said.get((reading.place, reading.date))
        mean = None if other is None else _mean(other)
        if other is None or mean is None or reading.mean is None:
            continue
        if abs(mean - reading.mean) > DIFFER:
            differing.setdefault(reading.place, []).append((other, reading.mean))
    for pairs in differing.values():
        findings.append(_differs(pairs, unit))
    for place, days in (logged.gaps or {}).items():
        open_days = [day for day in days if (place, day) not in said]
        if open_days:
            findings.append(_gap(place, open_days))
    kept = (r for r in logged.readings if (r.place, r.date) not in said)
    return (*typed, *kept), findings


def _mean(reading: Reading) -> float | None:
    if reading.mean is not None or reading.low is None or reading.high is None:
        return reading.mean
    return (reading.low + reading.high) / 2


def _differs(pairs: Sequence[tuple[Reading, float]], unit: TemperatureUnit) -> Finding:
    typed, logged = pairs[0]
    more = len(pairs) - 1
    like = f", and so on {more} more day{'s' if more > 1 else ''}" if more else ""
    mean = _mean(typed)
    return Finding(
        "logger-differs", "warning", "readings", typed.row, "mean",
        f"the logger of {typed.place} says {show_temperature(logged, unit)} on {typed.date}{like}",
        "The typed reading is used. Delete its row to use the logger's.",
        None if mean is None else show_temperature(mean, unit),
    )  # fmt: skip


def _gap(place: str, days: Sequence[date]) -> Finding:
    first = ", ".join(str(day) for day in days[:3]) + (f" to {days[-1]}" if len(days) > 3 else "")
    count = f"{len(days)} day{'s' if len(days) > 1 else ''}"
    return Finding(
        "logger-gap", "warning", FOLDER, None, None,
        f"{place} was not logged through on {count}: no reading for more than {LONGEST_GAP / 3600:g} hours",
        "Its stated temperatures are assumed on these days. Type the readings of the day, if there are any.", first,
    )  # fmt: skip


def _fold(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()


def _names(row: Row, file: Path) -> bool:
    return fnmatch.fnmatchcase(_fold(file.name), _fold(row.text("file") or "").replace("[", "[[]"))


def _rows_of(file: Path, rows: Sequence[Row]) -> list[Row]:
    """The rows about a file: those with its very name, else those whose stars take it in."""
    exact = [row for row in rows if _fold(row.text("file") or "") == _fold(file.name)]
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
        if samples:
            channels.append(Channel(declared, samples))
    return channels, list(dict.fromkeys(findings))


def _key(declared: Declaration) -> tuple[str, str, str, str]:
    return declared.place, declared.clock.name, declared.stamp, declared.days.name


def _join_groups(
    channels: Sequence[Channel], span: Span | None
) -> tuple[tuple[Reading, ...], dict[str, tuple[date, ...]], list[Finding]]:
    """Days of each place from all its files; files that are declared alike are read as one."""
    groups: dict[tuple[str, str, str, str], list[Channel]] = {}
    for channel in channels:
        groups.setdefault(_key(channel.declared), []).append(channel)
    by_day: dict[tuple[str, date], Reading] = {}
    touched: dict[str, list[date]] = {}
    findings: list[Finding] = []
    for key in sorted(groups):
        days, spanned, wrong = days_of(Group(tuple(groups[key])), span)
        findings += wrong
        touched.setdefault(key[0], []).extend(spanned)
        clashes = []
        for reading in days:
            other = by_day.setdefault((reading.place, reading.date), reading)
            if other is not reading and abs((other.mean or 0.0) - (reading.mean or 0.0)) > DIFFER:
                clashes.append(reading.date)
        if clashes:
            hint = "The file that comes first is used. Keep one logger for each place, or give each a place."
            message = f"on {len(clashes)} days from {clashes[0]} it differs from another logger of {key[0]}"
            file = groups[key][0].declared.file
            findings.append(Finding("logger-clash", "warning", where(file), None, None, message, hint))
    gaps: dict[str, tuple[date, ...]] = {}
    for place, ends in touched.items():
        # The days on which a logger is hung up and taken down are not gaps.
        between = Span(min(ends) + DAY, max(max(ends), min(ends) + DAY)) if ends else ()
        gaps[place] = tuple(day for day in between if (place, day) not in by_day)
        if ends and not gaps[place] and not any(name == place for name, _ in by_day):
            findings.append(_no_whole_day(place, min(ends)))
    return tuple(by_day[key] for key in sorted(by_day)), gaps, findings


def _no_whole_day(place: str, day: date) -> Finding:
    hint = "Nothing, if the logger has just been hung up."
    message = f"the loggers of {place} have not covered a whole day yet"
    return Finding("logger-short", "note", FOLDER, None, None, message, hint, str(day))
