"""One cell: a raw value as a workbook or CSV file gives it, in; a typed value or a Problem out. Nothing is guessed."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from forcing.dates import YEARS, DateOrder, parse_date, week_span
from forcing.errors import Finding
from forcing.model import LastFrost
from forcing.season.hints import AS_DATE, CellProblem, date_refused, number_refused, whole_refused
from forcing.season.notation import (
    Notation,
    NumberStyle,
    parse_duty,
    parse_holidays,
    parse_repeat,
    parse_weekdays,
)
from forcing.season.schema import Column, did_you_mean
from forcing.text import fold_word
from forcing.units import f_to_c_difference, to_celsius

ERROR_WORDS: frozenset[str] = frozenset(
    {
        "#REF!", "#N/A", "#VALUE!", "#DIV/0!", "#NAME?", "#NULL!", "#NUM!", "#SPILL!", "#CALC!",
        "#GETTING_DATA", "#FIELD!", "#BLOCKED!", "#CONNECT!", "#UNKNOWN!",
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Percent:
    """A number shown as a percentage: `fraction` 0.05 is seen as 5 %."""

    fraction: float


@dataclass(frozen=True, slots=True)
class ErrorValue:
    """A cell whose formula failed, such as #REF!."""

    text: str


@dataclass(frozen=True, slots=True)
class Uncomputed:
    """A formula that was saved without its value."""

    formula: str


@dataclass(frozen=True, slots=True)
class RawSheet:
    """One sheet or CSV file. `rows[i]` is what a person sees as row i + first; short rows are short."""

    name: str
    rows: tuple[tuple[object, ...], ...]
    delimited: bool = False  # from a CSV file: a value too many means a delimiter too many
    first: int = 1  # what a person sees above it is no part of it


MOST_ROWS, MOST_COLUMNS, MOST_EMPTY = 20_000, 200, 1_000


def within_bounds(
    name: str, rows: Iterable[Sequence[object]]
) -> tuple[tuple[tuple[object, ...], ...], list[Finding]]:
    """The rows that a table may have, none of them wider than it may be, and what is said of cells beyond.

    Below MOST_EMPTY empty rows nothing is read: a stray value far down or far to the right is no part of a table. More
    than MOST_ROWS filled rows are refused.
    """
    kept: list[tuple[object, ...]] = []
    last, filled, wide = 0, 0, None
    for number, row in enumerate(rows, start=1):
        used = _used(row)
        if not used:
            if number - last <= MOST_EMPTY:
                kept.append(())
            continue
        if number - last > MOST_EMPTY + 1:
            return tuple(kept[:last]), [_stray(name, number, row[used - 1]), *_wide(name, wide)]
        if used > MOST_COLUMNS:
            wide = wide or (number, row[used - 1])
            used = _used(row[:MOST_COLUMNS])
        last, filled = number, filled + 1
        if filled > MOST_ROWS:
            message = f"more than {MOST_ROWS:,} rows: what stands from row {number} on is not read"
            hint = "Split the season, or delete what belongs to others."
            return tuple(kept), [Finding("table-long", "error", name, number, None, message, hint)]
        kept.append(tuple(row[:used]))
    return tuple(kept[:last]), _wide(name, wide)


def _used(row: Sequence[object]) -> int:
    """How many cells of a row there are up to the last that holds something."""
    return next((i for i in range(len(row), 0, -1) if row[i - 1] is not None), 0)


def _stray(name: str, number: int, value: object) -> Finding:
    message = f"a value more than {MOST_EMPTY:,} empty rows below the table is not read, nor what follows it"
    hint = "Delete it, or move it up to its table."
    return Finding("cell-stray", "warning", name, number, None, message, hint, shown(value))


def _wide(name: str, found: tuple[int, object] | None) -> list[Finding]:
    if found is None:
        return []
    message = f"a value beyond the {MOST_COLUMNS}th column is not read"
    hint = "Delete it, or move it to its table."
    return [Finding("cell-stray", "warning", name, found[0], None, message, hint, shown(found[1]))]


@dataclass(frozen=True, slots=True)
class RawSeason:
    """All sheets of a season, what was wrong with the files themselves, and the names of sheets left unread by it."""

    sheets: tuple[RawSheet, ...]
    findings: tuple[Finding, ...] = ()
    unread: tuple[str, ...] = ()


def shown(raw: object) -> str:
    """A raw value as a person would recognise it, for a finding; at most 60 characters."""
    if isinstance(raw, Percent):
        text = f"{raw.fraction * 100:g} %"
    elif isinstance(raw, ErrorValue):
        text = raw.text
    elif isinstance(raw, Uncomputed):
        text = raw.formula
    elif isinstance(raw, bool):
        text = str(raw).upper()
    elif isinstance(raw, datetime):
        text = raw.date().isoformat() if raw.time() == time() else raw.isoformat(" ", "minutes")
    elif isinstance(raw, date | time):
        text = raw.isoformat()
    elif isinstance(raw, timedelta):
        text = f"a length of time, {raw}"
    elif isinstance(raw, float):
        text = f"{raw:.15g}"
    else:
        text = str(raw)
    text = " ".join("".join(c if c.isprintable() or c.isspace() else "?" for c in text).split())
    return text if len(text) <= 60 else text[:57] + "..."


_ABSOLUTE_ZERO = -273.15  # °C

_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?")
_UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
_UNSEEN = dict.fromkeys(map(ord, "\u00ad\u200b\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2060\ufeff"))


def clean(text: str, lines: bool = False) -> str | CellProblem:
    """Text as meant: composed letters, no unseen marks, single blanks (non-breaking ones are blanks).

    With `lines` the line breaks stay. A control character is refused.
    """
    if found := _UNPRINTABLE.search(text):
        return CellProblem(
            "cell-control",
            f"the text holds a character that cannot be printed, U+{ord(found[0]):04X}",
            "Type the cell anew.",
        )
    text = unicodedata.normalize("NFC", text.translate(_UNSEEN))
    if lines:
        return "\n".join(" ".join(line.split()) for line in text.splitlines()).strip()
    return " ".join(text.split())


def read_cell(column: Column, raw: object, how: Notation) -> object:
    """The typed value of a cell, None where it is empty, or a Problem.

    how: the way the season is written.

    Temperatures and their differences come back in °C. Values by kind: name, note, word -> str;
    date -> date; count -> int; number, fraction, percent (5 % -> 5.0), temperature, difference -> float;
    weekdays -> frozenset of 0-6; holidays -> tuple of spans and country codes; repeat -> tuple of 0-6, or days.
    """
    if isinstance(raw, str):
        text = clean(raw, lines=column.kind == "note")
        if isinstance(text, CellProblem):
            return text
        raw = ErrorValue(text) if text.upper() in ERROR_WORDS else text
    if raw is None or raw == "":
        return None
    if isinstance(raw, ErrorValue):
        return CellProblem(
            "cell-error", "the formula in the cell has failed", "Mend the formula or type the value."
        )
    if isinstance(raw, Uncomputed):
        return CellProblem(
            "cell-formula",
            "a formula that was saved without its value",
            "Open the file in a spreadsheet program, save it there, and try again; or type the value.",
        )
    return _read_filled(column, raw, how)


def _read_filled(column: Column, raw: object, how: Notation) -> object:
    match column.kind:
        case "date":
            return _date(raw, how.date_order)
        case "day and chance":
            return _day_and_chance(raw, how.date_order)
        case "day or name":
            return _date(raw, how.date_order) if _meant_as_date(raw) else _text(column, raw)
        case "target":
            return _week_start(raw) or _date(raw, how.date_order)
        case "box":
            return _box(column, raw, how)
        case "count":
            return _count(column, raw, how)
        case "number" | "fraction" | "percent":
            return _limited(column, _number(column, raw, how))
        case "temperature":
            return _temperature(column, raw, how)
        case "difference":
            value = _limited(column, _number(column, raw, how))  # limits are in the season's unit
            return (
                f_to_c_difference(value) if how.unit == "F" and not isinstance(value, CellProblem) else value
            )
        case "word":
            return _word(column, raw)
        case "weekdays" | "holidays" | "repeat" | "duty":
            return _days(column, raw, how)
        case _:
            return _text(column, raw)


def _date(raw: object, order: DateOrder | None) -> date | CellProblem:
    if isinstance(raw, datetime):
        if raw.time() != time():
            return CellProblem("cell-date", "a time of day where a date is wanted", f"Write {raw.date()}.")
        return _sane(raw.date())
    if isinstance(raw, date):
        return _sane(raw)
    if isinstance(raw, str):
        try:
            return _sane(parse_date(raw, order))
        except ValueError:
            return date_refused(raw)
    return CellProblem(
        "cell-date",
        "not a date" if isinstance(raw, bool) else "a number or time where a date is wanted",
        f"{AS_DATE}, or give the cell a date format.",
    )


def _meant_as_date(raw: object) -> bool:
    """Whether a cell holds a date, or text that can be meant for nothing else: three numbers."""
    if not isinstance(raw, str):
        return isinstance(raw, date)
    return re.fullmatch(r"[0-9]+ ?[./-] ?[0-9]+ ?[./-] ?[0-9]+", raw.strip()) is not None


_CHANCE = re.compile(r"(.*?)[\s,;]+([0-9]+(?:[.,][0-9]+)?) ?%", re.DOTALL)


def _day_and_chance(raw: object, order: DateOrder | None) -> LastFrost | CellProblem:
    """A day, with or without a chance in percent behind it."""
    match = _CHANCE.fullmatch(raw.strip()) if isinstance(raw, str) else None
    day = _date(match[1] if match else raw, order)
    if isinstance(day, CellProblem) or match is None:
        return day if isinstance(day, CellProblem) else LastFrost(day)
    chance = float(match[2].replace(",", ".")) / 100
    if 0 < chance < 1:
        return LastFrost(day, chance)
    return CellProblem(
        "cell-limits",
        f"a chance of {match[2]} %",
        "Write a chance above 0 % and below 100 %, or the date alone.",
    )


_WEEK = re.compile(r"([0-9]{4})-?W([0-9]{1,2})", re.IGNORECASE)


def _week_start(raw: object) -> date | CellProblem | None:
    """The Monday of an ISO week; None where the cell holds no week that there is."""
    match = _WEEK.fullmatch(raw) if isinstance(raw, str) else None
    try:
        return _sane(week_span(f"{match[1]}-W{match[2]:>02}").start) if match else None
    except (ValueError, OverflowError):  # 9999-W52 ends after the last day there is
        return None


def _sane(day: date) -> date | CellProblem:
    if YEARS[0] <= day.year <= YEARS[1]:
        return day
    return CellProblem(
        "cell-date", f"the year {day.year} cannot be right", "Write the year with four digits."
    )


def _number(column: Column, raw: object, how: Notation) -> float | CellProblem:
    if isinstance(raw, str) and column.kind in ("percent", "fraction") and raw.endswith("%"):
        inner = _number(column, raw[:-1].strip(), how)
        return inner if isinstance(inner, CellProblem) else _of_percent(column, Percent(inner / 100))
    if isinstance(raw, Percent):
        return _of_percent(column, raw)
    if isinstance(raw, bool):
        return CellProblem("cell-number", "true or false where a number is wanted", "Write the number.")
    if isinstance(raw, int | float):
        try:
            value = float(raw)
        except OverflowError:
            value = math.inf
    elif isinstance(raw, str):
        text = _plain(raw.replace("\u2212", "-"), how.number_style)
        if not _NUMBER.fullmatch(text):
            return number_refused(column, raw, how.unit)
        value = float(text)
    else:
        return CellProblem(
            "cell-number",
            "a date or time where a number is wanted",
            "Give the cell a number format and type the number again.",
        )
    if not math.isfinite(value):
        return CellProblem("cell-number", "not a number that can be used", "Write the number.")
    return value


_MARKS: dict[NumberStyle, tuple[re.Pattern[str], str, str]] = {
    # what such a number looks like, the marks between its thousands, and the one before its decimals
    "comma for thousands": (re.compile(r"[+-]?[0-9]{1,3}(,[0-9]{3})+(\.[0-9]+)?"), ",", "."),
    "comma for decimals": (re.compile(r"[+-]?([0-9]+|[0-9]{1,3}([. '’][0-9]{3})+)(,[0-9]+)?"), ". '’", ","),
}


def _plain(text: str, style: NumberStyle | None) -> str:
    """A number in digits with a point, where its marks are those that the season states; else the text as it is."""
    if style is None or not _MARKS[style][0].fullmatch(text):
        return text
    _, thousands, decimals = _MARKS[style]
    return "".join("." if c == decimals else c for c in text if c not in thousands)


def _of_percent(column: Column, raw: Percent) -> float | CellProblem:
    if column.kind == "percent":
        return round(raw.fraction * 100, 10)
    if column.kind == "fraction":
        return raw.fraction
    return CellProblem(
        "cell-number", "a percentage where a plain number is wanted", "Give the cell a number format."
    )


def _box(column: Column, raw: object, how: Notation) -> tuple[float, ...] | CellProblem:
    """Length, width and, where it is given, depth of a box."""
    sides = re.split(r"\s*[x×*]\s*", raw.strip(), flags=re.IGNORECASE) if isinstance(raw, str) else []
    if len(sides) not in (2, 3):
        return CellProblem("cell-box", "not the sides of a box", "Write length x width, such as 60x40.")
    numbers = [_limited(column, _number(column, side, how)) for side in sides]
    problem = next((number for number in numbers if isinstance(number, CellProblem)), None)
    return problem or tuple(number for number in numbers if not isinstance(number, CellProblem))


def _limited(column: Column, value: float | CellProblem) -> float | CellProblem:
    if isinstance(value, CellProblem):
        return value
    low = -math.inf if column.lowest is None else column.lowest
    high = math.inf if column.highest is None else column.highest
    if low <= value <= high:
        return value
    # A limit that is there only to catch slips of the finger would not help someone who typed 0.
    far = value < low and high >= 1000
    message = f"must be {low:g} or more" if far else f"must be from {low:g} to {high:,.10g}"
    if column.kind == "fraction" and 1 < value <= 100:
        return CellProblem("cell-limits", message, f"Write {value / 100:g} for {value:g} %.")
    empty = f", or leave the cell empty: {column.default}" if column.default and not column.required else ""
    return CellProblem("cell-limits", message, f"Write a number within these limits{empty}.")


def _count(column: Column, raw: object, how: Notation) -> int | CellProblem:
    value = _limited(column, _number(column, raw, how))
    if isinstance(value, CellProblem):
        return value
    if not value.is_integer():
        return whole_refused(raw)
    return int(value)


def _temperature(column: Column, raw: object, how: Notation) -> float | CellProblem:
    value = _number(column, raw, how)
    if isinstance(value, CellProblem):
        return value
    celsius = to_celsius(value, how.unit)
    if not _ABSOLUTE_ZERO <= celsius <= 1000:
        return CellProblem("cell-limits", f"no temperature in °{how.unit} can be like that", "Write it anew.")
    return celsius


def _word(column: Column, raw: object) -> str | CellProblem:
    words = {fold_word(word): word for word in column.words}
    words.update((fold_word(other), word) for other, word in column.also)
    text = _text(column, raw)
    if isinstance(text, CellProblem):
        return text
    if fold_word(text) in words:
        return words[fold_word(text)]
    listed = ", ".join(column.words) if len(column.words) <= 12 else "one of those on the words sheet"
    return CellProblem(
        "cell-word",
        f"not a word that {column.name} can take",
        did_you_mean(text, column.words, f"Write {listed}."),
    )


def _text(column: Column, raw: object) -> str | CellProblem:
    if isinstance(raw, str):
        return raw
    if isinstance(raw, bool):
        return CellProblem("cell-text", "true or false where a name is wanted", "Write the name as text.")
    if isinstance(raw, int | float) and math.isfinite(raw):
        return str(int(raw)) if float(raw).is_integer() else repr(raw)
    if isinstance(raw, Percent):
        return f"{raw.fraction * 100:.10g}%"
    if column.kind == "note":
        return shown(raw)
    return CellProblem(
        "cell-text",
        "a date or time where a name is wanted",
        "Give the cell a text format and type the name again: a spreadsheet turned it into a date.",
    )


_DAYS: dict[str, Callable[[str], object]] = {
    "weekdays": parse_weekdays,
    "repeat": parse_repeat,
    "duty": parse_duty,
}


def _days(column: Column, raw: object, how: Notation) -> object:
    if column.kind == "repeat" and isinstance(raw, int | float | Percent):
        return CellProblem(
            "cell-repeat", "a number without days or weeks", "Write days or weeks behind it, such as 3 days."
        )
    if column.kind == "holidays" and isinstance(raw, date):
        day = _date(raw, None)
        raw = day.isoformat() if isinstance(day, date) else shown(raw)
    text = _text(column, raw)
    if isinstance(text, CellProblem):
        return text
    try:
        if column.kind == "holidays":
            return parse_holidays(text, how.date_order)
        return _DAYS[column.kind](text)
    except ValueError as error:
        hint = column.help if column.kind == "weekdays" else "Write " + column.help.split(": ", 1)[1]
        return CellProblem(f"cell-{column.kind}", str(error), hint)
