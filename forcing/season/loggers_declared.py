"""What a logger file means, as declared in the `loggers` table or in `# key: value` lines at its top.

Nothing that is missing is guessed: the finding says which line to add.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, TypeVar, cast

from forcing.errors import Finding
from forcing.season.cells import read_cell
from forcing.season.columns import did_you_mean, near, plain, same_name
from forcing.season.loggers_stamps import EXAMPLES, UNCHANGED, Clock, StampFormat
from forcing.season.raw import shown
from forcing.season.refusals import Problem
from forcing.season.rows import Row
from forcing.season.tables import table
from forcing.units import TemperatureUnit

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
