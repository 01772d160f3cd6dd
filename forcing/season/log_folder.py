"""The log folder beside a season: further files of its log and readings, read as if their rows stood in the season.

Lists of a colleague, what a board has saved, filled-in entry workbooks. What cannot be read there is told and left
out: the season is planned without it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from typing import TypeVar, cast

from forcing.errors import Finding
from forcing.model import STAGE_EVENTS, LogEntry, Reading
from forcing.season.cells import RawSheet, read_cell, shown
from forcing.season.hints import CellProblem
from forcing.season.notation import Notation
from forcing.season.rows import Row, below_heading, cell_finding, is_blank, read_rows
from forcing.season.schema import ENTRY, Table, table
from forcing.season.sheets import read_csv_file, read_workbook
from forcing.text import fold_word

FOLDER = "log"
_TEMPERATURES = frozenset({"low", "high", "mean"})
# A column of the grid of readings: its day, which temperature of it, and the unit.
_GRID = re.compile(r"(?:[a-z]+ )?(\d{1,2} [a-z]{3} \d{4}) (low|high|mean)(?: °([cf]))?")
_GOES = ("cooler in", "brought in", "moved", "held", "set out")  # events that say where a lot goes
_HEADS = frozenset({"date", "lot", "event", "place", "low", "high", "mean"})
_NOT_DONE = ("no", "not", "not done", "n", "-", "–", "0", "false")  # marks that nobody means as a tick


@dataclass(slots=True)
class LogFolder:
    """Rows of the tables log and readings that stand in the folder, and what is wrong with its files and cells."""

    rows: dict[str, list[Row]] = field(default_factory=lambda: {"log": [], "readings": []})
    findings: list[Finding] = field(default_factory=list)

    @property
    def tables(self) -> frozenset[str]:
        """The files and sheets in which the rows stand, as findings name them."""
        return frozenset(row.table.name for rows in self.rows.values() for row in rows)


def read_log_folder(folder: Path, how: Notation) -> LogFolder:
    """What the files of a folder say; its cells are written as `how` says. A folder that is not there says nothing."""
    found = LogFolder()
    if not folder.is_dir():
        return found
    try:
        files = sorted(p for p in folder.iterdir() if p.is_file() and p.name[0] not in ".~")
    except OSError as error:
        message, hint = f"cannot be opened: {error.strerror}", "Check who may read it."
        found.findings.append(Finding("file-missing", "error", FOLDER, None, None, message, hint))
        return found
    for file in files:
        _read_file(file, how, found)
    return found


def _read_file(file: Path, how: Notation, found: LogFolder) -> None:
    name, suffix = f"{FOLDER}/{file.name}", file.suffix.casefold()
    if suffix == ".csv":
        raw = read_csv_file(file)
    elif suffix == ".xlsx":
        raw = read_workbook(file)
    else:
        hint = "Save it as .csv (UTF-8) or .xlsx, or take it out of the folder."
        message = "neither a .csv nor an .xlsx file: it is not read"
        found.findings.append(Finding("file-foreign", "warning", name, None, None, message, hint))
        return
    found.findings += [replace(finding, table=name) for finding in raw.findings]
    known = [_read_sheet(sheet, name if suffix == ".csv" else f"{name}, {sheet.name}", how, found)
             for sheet in raw.sheets]  # fmt: skip
    if raw.sheets and not any(known):
        message = "no columns of the log (date, lot, event) nor of readings (place, date, low, high): it is not read"
        hint = "Write these headers in row 1, or take the file out of the folder."
        found.findings.append(Finding("file-foreign", "error", name, None, None, message, hint))


def _read_sheet(sheet: RawSheet, where: str, how: Notation, found: LogFolder) -> bool:
    """Reads a sheet by the headers that it has; whether they are any of these."""
    sheet = below_heading(sheet, _HEADS)
    header = [fold_word(shown(raw)) if not is_blank(raw) else "" for raw in (sheet.rows or ((),))[0]]
    heads = frozenset(header)
    if {"lot", "event", "expected", "done on"} <= heads:
        _entered(sheet, where, how, found)
    elif {"date", "lot", "event"} <= heads:
        # The file of a board holds both: a row with an event is of the log, one without of the readings.
        event = header.index("event")
        readings = _TEMPERATURES & heads and "place" in heads
        _listed(sheet, "log", where, how, found, event if readings else None, of_log=True)
        if readings:
            _listed(sheet, "readings", where, how, found, event, of_log=False)
    elif {"place", "date"} <= heads and _TEMPERATURES & heads:
        _listed(sheet, "readings", where, how, found, None, of_log=False)
    elif "place" in heads and any(map(_GRID.fullmatch, header)):
        _gridded(sheet, header, where, how, found)
    else:
        return False
    return True


def _listed(
    sheet: RawSheet, name: str, where: str, how: Notation, found: LogFolder, event: int | None, *, of_log: bool
) -> None:  # fmt: skip
    """Rows of a table as the season has it; of a sheet of both tables (`event`: its column) those of the one alone."""
    if event is not None:
        sheet = _of_one_table(sheet, table(name), event, of_log)
    rows_read, findings = read_rows(sheet, replace(table(name), name=where), how)
    found.rows[name] += [row for row in rows_read or () if not row.bad]
    found.findings += findings


def _of_one_table(sheet: RawSheet, of: Table, event: int, of_log: bool) -> RawSheet:
    """A sheet of both tables with the rows and columns of one; what stands beyond its header is left to be told."""
    known = {fold_word(word) for column in of.columns for word in (column.name, *column.heads)}
    mine = [not is_blank(raw) and fold_word(shown(raw)) in known for raw in sheet.rows[0]]
    rows = [
        tuple(raw if i >= len(mine) or mine[i] else None for i, raw in enumerate(row))
        if number == 0 or (len(row) > event and not is_blank(row[event])) == of_log
        else ()
        for number, row in enumerate(sheet.rows)
    ]
    return replace(sheet, rows=tuple(rows))


# ---------------------------------------------------------------- the entry workbook


def _entered(sheet: RawSheet, where: str, how: Notation, found: LogFolder) -> None:
    """The rows of a week's expected events that somebody has filled in."""
    ticks = {True: "x", False: None}
    rows = tuple(tuple(ticks[raw] if isinstance(raw, bool) else raw for raw in row) for row in sheet.rows)
    typed, findings = read_rows(replace(sheet, rows=rows), replace(ENTRY, name=where), how)
    found.findings += findings
    for row in typed or ():
        if not row.bad:
            found.rows["log"] += _events(row, found.findings)


def _events(row: Row, findings: list[Finding]) -> Iterator[Row]:
    """What a row says has happened: the event expected, or the stage that was seen instead, and pots lost."""
    mark, seen, lost = row.text("done"), row.text("stage seen"), row.count("pots lost")
    done = row.day("done on") is not None or (mark is not None and fold_word(mark) not in _NOT_DONE)
    day, event = row.day("done on") or row.day("expected"), cast(str, row.text("event"))
    if not done and seen is None and lost is None:
        if row.text("note"):
            hint = "Tick it, give the day it was done, or write the stage seen."
            message = "only a note is written: nothing is logged by it"
            findings.append(row.finding("entry-note", "note", message, hint, "note"))
        return
    if day is None:
        hint = "Write the day on which it happened."
        findings.append(row.finding("cell-empty", "done on", "no day is stated, nor one expected", hint))
        return
    looked = event in STAGE_EVENTS
    happened = [event] if done and not (looked and seen) else []
    happened += [seen] if seen else []
    for what in happened:
        goes = what in _GOES
        yield _logged(row, day, what, row.text("place") if goes else None,
                      row.count("pots") if goes or what == "potted" else None)  # fmt: skip
    if lost is not None:
        yield _logged(row, day, "lost", None, lost)


def _logged(row: Row, day: date, event: str, place: str | None, pots: int | None) -> Row:
    """A row of the log at the place of a row of the entry workbook."""
    cells = {
        "date": day,
        "lot": row.text("lot"),
        "event": event,
        "place": place,
        "pots": pots,
        "note": row.text("note"),
    }
    heads = {**row.heads, "date": "done on", "pots": "pots lost" if event == "lost" else "pots"}
    return Row(
        replace(table("log"), name=row.table.name), row.number,
        {name: value for name, value in cells.items() if value is not None}, heads,
    )  # fmt: skip


def _gridded(sheet: RawSheet, header: Sequence[str], where: str, how: Notation, found: LogFolder) -> None:
    """The readings of a grid: a row a place, for each day a column of lows and one of highs."""
    of = replace(table("readings"), name=where)
    days: dict[date, dict[str, int]] = {}
    for index, head in enumerate(header):
        if match := _GRID.fullmatch(head):
            how = replace(how, unit="F" if match[3] == "f" else "C") if match[3] else how
            try:
                days.setdefault(datetime.strptime(match[1], "%d %b %Y").date(), {})[match[2]] = index
            except ValueError:
                continue  # a day that no calendar has
    at = header.index("place")
    for number, raw in enumerate(sheet.rows[1:], start=sheet.first + 1):
        place = read_cell(of.column("place"), raw[at] if at < len(raw) else None, how)
        for day, columns in days.items():
            filled = {name: i for name, i in columns.items() if i < len(raw) and not is_blank(raw[i])}
            if filled:
                heads = {name: shown(sheet.rows[0][i]) for name, i in columns.items()}
                cells = {name: read_cell(of.column(name), raw[i], how) for name, i in filled.items()}
                _grid_row(Row(of, number, {"place": place, "date": day, **cells}, heads), raw, filled, found)


def _grid_row(row: Row, raw: Sequence[object], filled: Mapping[str, int], found: LogFolder) -> None:
    """Keeps a reading of the grid, or tells which of its cells is not understood."""
    if not isinstance(row.text("place"), str):
        hint = "Write the place in front of its readings."
        found.findings.append(row.finding("cell-empty", None, "readings of no place", hint))
        return
    problems = {name: cell for name, cell in row.cells.items() if isinstance(cell, CellProblem)}
    for name, problem in problems.items():
        found.findings.append(
            cell_finding(row.table, row.number, row.heads[name], problem, raw[filled[name]])
        )
    if not problems:
        found.rows["readings"].append(row)


# ---------------------------------------------------------------- several files as one

_Kept = TypeVar("_Kept", LogEntry, Reading)


def merged_log(entries: Sequence[LogEntry]) -> tuple[LogEntry, ...]:
    """Entries of several files, those that say the same of one event once, with all that any of them states.

    Equal rows of one file are kept: two losses of a day may be of as many pots.
    """
    kept: list[LogEntry] = []
    for theirs in _by_file(entries):
        free = list(range(len(kept)))  # each tells of an event of its own
        for entry in theirs:
            same = next((i for i in free if _same_event(kept[i], entry)), None)
            if same is None:
                kept.append(entry)
            else:
                free.remove(same)
                kept[same] = _fuller(kept[same], entry)
    return tuple(kept)


def _same_event(one: LogEntry, other: LogEntry) -> bool:
    return (
        (one.date, one.lot, one.event) == (other.date, other.lot, other.event)
        and (one.place is None or other.place is None or one.place == other.place)
        and (one.pots is None or other.pots is None or one.pots == other.pots)
    )


def _fuller(one: LogEntry, other: LogEntry) -> LogEntry:
    note = "; ".join(dict.fromkeys(filter(None, (one.note, other.note))))
    pots = other.pots if one.pots is None else one.pots
    return replace(one, place=one.place or other.place, pots=pots, note=note)


def merged_readings(readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """Readings of several files, those that are equal once."""
    seen: dict[tuple[object, ...], Reading] = {}
    for reading in readings:
        what = (
            reading.place,
            reading.date,
            reading.kind,
            reading.low,
            reading.high,
            reading.mean,
            reading.hours,
        )
        first = seen.setdefault(what, reading)
        if first.found_in == reading.found_in and first is not reading:
            seen[(*what, reading.row)] = reading  # twice in one file: told where the season is checked
    return tuple(seen.values())


def _by_file(rows: Iterable[_Kept]) -> Iterator[list[_Kept]]:
    """The rows of each file, in the order of the first of each."""
    files: dict[str, list[_Kept]] = {}
    for row in rows:
        files.setdefault(row.found_in, []).append(row)
    yield from files.values()
