"""The `readings` folder beside a season: exports of temperature loggers -> readings of whole days.

Files are declared (loggers_declared), read (loggers_file), put on one clock and cleaned (loggers_group), and
cut into days (loggers_days). What is assumed is in loggers_policy. A day that is not wholly covered is a gap.
"""

from __future__ import annotations

import fnmatch
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from forcing.dates import DAY, Span
from forcing.errors import Finding
from forcing.model import Reading
from forcing.season.columns import did_you_mean
from forcing.season.loggers_declared import Declaration, declare, read_heading, where
from forcing.season.loggers_file import read_samples, read_text
from forcing.season.loggers_group import Channel, Group, days_of
from forcing.season.loggers_policy import DIFFER, LONGEST_GAP
from forcing.season.rows import Row
from forcing.units import TemperatureUnit, show_temperature

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
