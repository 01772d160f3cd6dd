"""The records of what was agreed: one dated folder of CSV files for each agreement, checked on reading, never changed.

They lie in `agreed` inside a season folder, or in `NAME-agreed` beside NAME.xlsx. A record that is damaged is told and
not used; the one before it then holds.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Literal, cast, get_args

from forcing.dates import Span, parse_date
from forcing.engine.review import EVENTS
from forcing.errors import Finding
from forcing.files import whole_folder
from forcing.model import (
    AgreedLot,
    AgreedMove,
    Agreement,
    Basis,
    RoomSetting,
    Step,
    StepName,
)
from forcing.season.notation import Notation
from forcing.season.rows import Row, read_rows
from forcing.season.schema import Column as _C
from forcing.season.schema import Table
from forcing.season.sheets import read_csv_file
from forcing.units import TemperatureUnit

_NAME = re.compile(r"(\d{4}-\d{2}-\d{2})(?:-(\d+))?")


def _day(name: str, required: bool = True) -> _C:
    return _C(name, "date", "Year-month-day.", required=required)


def _degrees(name: str) -> _C:
    return _C(name, "temperature", "In the unit that agreement.csv names.", required=True)


_LOT, _PLACE = (_C(name, "name", f"A {name} of the season.", required=True) for name in ("lot", "place"))
ITEMS = Table("agreement", "When it was made, its unit, and how many rows its files have.", (
    _C("item", "name", "What the row states.", required=True), _C("value", "name", "Its value.", required=True),
), key="item")  # fmt: skip
_ALWAYS = ("potted", "brought in", "bloom")
LOTS = Table("lots", "Each lot as it was handed out.", (
    _LOT, _C("pots", "count", "How many.", required=True), _day("target"),
    _C("cooler", "name", "Its cooler; empty: no cold."), _C("bench", "name", "Its bench.", required=True),
    _C("cold weeks", "number", "The chosen ones.", required=True, lowest=0),
    *(_day(event, required=event in _ALWAYS) for event in EVENTS),
    _C("confidence", "fraction", "Its own; empty: that of its display or season."),
))  # fmt: skip
STEPS = Table("plan", "Where each lot is from when to when, half-open.", (
    _LOT, _C("step", "word", "What it does there.", words=get_args(StepName), required=True),
    _C("place", "name", "Where; empty: at the potting bench."), _day("start"), _day("end"),
    _C("basis", "word", "How it is known.", words=get_args(Basis), required=True),
))  # fmt: skip
SETTINGS = Table("settings", "What each place is set to from when to when, half-open.", (
    _PLACE, _day("from"), _day("to"), _degrees("day"), _degrees("night"),
    _C("basis", "word", "Programme of a room, steering, or what the season stated then.",
       words=("planned", "steered", "stated"), required=True),
    _C("reason", "name", "Why."),
))  # fmt: skip
MOVES = Table("moves", "Steering that was agreed to: what is carried where on which day.", (
    _LOT, _C("step", "word", "To heat, or to be kept.", words=("bench", "hold"), required=True), _PLACE, _day("on"),
))  # fmt: skip
FILES = (LOTS, STEPS, SETTINGS, MOVES)


def record_folder(source: Path) -> Path:
    """Where the records of a season lie: inside its folder, or beside its workbook."""
    return source / "agreed" if source.is_dir() else source.with_name(f"{source.stem}-agreed")


@dataclass(frozen=True, slots=True)
class Records:
    """The agreements of a season, oldest first, and what is wrong with their files."""

    agreements: tuple[Agreement, ...]
    findings: tuple[Finding, ...]


def read_records(folder: Path) -> Records:
    """Every agreement in `folder`; none where there is no such folder."""
    if not folder.is_dir():
        return Records((), ())
    found: list[tuple[date, int, Agreement]] = []
    findings: list[Finding] = []
    try:
        entries = sorted(path for path in folder.iterdir() if not path.name.startswith((".", "~")))
    except OSError as error:
        return Records(
            (), (_fault(folder.name, f"cannot be opened: {error.strerror}", "Check who may read it."),)
        )
    for path in entries:
        made = _made_on(path)
        if made is None:
            findings.append(_foreign(folder, path))
            continue
        agreement, faults = _record(path, made[0], f"{folder.name}/{path.name}")
        findings += faults
        if agreement is not None:
            found.append((*made, agreement))
    found.sort(key=lambda one: one[:2])
    return Records(tuple(agreement for *_, agreement in found), tuple(findings))


def _made_on(path: Path) -> tuple[date, int] | None:
    """Day and number of a record by its name; None: it is none."""
    match = _NAME.fullmatch(path.name)
    if match is None or not path.is_dir():
        return None
    try:
        return parse_date(match[1]), int(match[2] or 1)
    except ValueError:
        return None


def _record(path: Path, on: date, name: str) -> tuple[Agreement | None, list[Finding]]:
    """The agreement of one folder, or None with what is wrong with it."""
    items, findings = _rows(path, ITEMS, name, "C")
    stated = {row.text("item"): row.text("value") for row in items}
    unit: TemperatureUnit = "F" if stated.get("unit") == "F" else "C"
    tables: dict[str, list[Row]] = {}
    for each in FILES:
        tables[each.name], faults = _rows(path, each, name, unit)
        findings += faults
        count = stated.get(each.name)
        if not faults and count != str(len(tables[each.name])):
            message = f"it has {len(tables[each.name])} rows and not the {count or 'stated number of'} it was made with"
            findings.append(
                _fault(f"{name}/{each.name}.csv", message, "Bring the whole record back from a copy.")
            )
    if findings or stated.get("unit") not in ("C", "F"):
        worst = findings or [
            _fault(f"{name}/agreement.csv", "it names no unit, C or F", "Bring it back from a copy.")
        ]
        return None, [
            replace(f, code="record-damaged", severity="error", hint=f"{f.hint} {_NOT_USED}") for f in worst
        ]
    return _agreement(on, tables), []


_NOT_USED = "Until then this agreement is not used, and the one before it holds; or agree again."


def _rows(path: Path, table: Table, name: str, unit: TemperatureUnit) -> tuple[list[Row], list[Finding]]:
    file = path / f"{table.name}.csv"
    where = f"{name}/{file.name}"
    if not file.is_file():
        return [], [_fault(where, "the file is missing", "Bring the whole record back from a copy.")]
    read = read_csv_file(file)
    if not read.sheets:
        return [], [replace(finding, table=where) for finding in read.findings]
    sheet = read.sheets[0]
    rows, findings = read_rows(sheet, replace(table, name=where), Notation(unit))
    if rows is None or (not findings and not sheet.rows):
        findings = findings or [
            _fault(where, "the file is empty", "Bring the whole record back from a copy.")
        ]
    return rows or [], findings


def _agreement(on: date, tables: Mapping[str, Sequence[Row]]) -> Agreement:
    steps: dict[str, list[Step]] = defaultdict(list)
    for row in tables["plan"]:
        c = row.cells
        span = Span(cast(date, c["start"]), cast(date, c["end"]))
        step, basis = cast(StepName, c["step"]), cast(Basis, c["basis"])
        steps[str(c["lot"])].append(Step(str(c["lot"]), step, row.text("place"), span, basis))
    lots = tuple(_lot(row, tuple(steps[str(row.cells["lot"])])) for row in tables["lots"])
    settings = tuple(
        RoomSetting(
            str(c["place"]), Span(cast(date, c["from"]), cast(date, c["to"])), cast(float, c["day"]),
            cast(float, c["night"]), cast(Literal["stated", "planned", "steered"], c["basis"]),
            str(c.get("reason", "")),
        )
        for c in (row.cells for row in tables["settings"])
    )  # fmt: skip
    moves = tuple(
        AgreedMove(
            str(c["lot"]), "hold" if c["step"] == "hold" else "bench", str(c["place"]), cast(date, c["on"])
        )
        for c in (row.cells for row in tables["moves"])
    )
    return Agreement(on, lots, settings, moves)


def _lot(row: Row, steps: tuple[Step, ...]) -> AgreedLot:
    c = row.cells
    days = {event: day for event in EVENTS if (day := row.day(event)) is not None}
    return AgreedLot(
        str(c["lot"]), cast(int, c["pots"]), cast(date, c["target"]), row.text("cooler"), str(c["bench"]),
        cast(float, c["cold weeks"]), days, steps, cast("float | None", c.get("confidence")),
    )  # fmt: skip


def _fault(where: str, message: str, hint: str) -> Finding:
    return Finding("record-damaged", "error", where, None, None, message, hint)


def _foreign(folder: Path, path: Path) -> Finding:
    return Finding(
        "record-foreign", "warning", f"{folder.name}/{path.name}", None, None,
        "not an agreement that forcing wrote: it is not read", "Move it elsewhere, so that nobody takes it for one.",
    )  # fmt: skip


def write_whole(folder: Path, on: date, write: Callable[[Path], None]) -> Path:
    """A new record of what `write` puts into the folder it is given; its path in `folder`, named by the day.

    A second record of a day gets a number: none is ever written over. Raises OutputError.
    """
    taken = {path.name for path in folder.iterdir()} if folder.is_dir() else set()
    number = 1
    while (name := f"{on}" if number == 1 else f"{on}-{number}") in taken:
        number += 1
    with whole_folder(folder / name) as writing:
        write(writing)
    return folder / name
