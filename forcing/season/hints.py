"""What to say of a cell that was not understood: why, and what to write instead.

A number typed with a unit is never converted for the user, nor a date put in order: the hint says the right number or
date, both where two can be meant, and the user decides.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from forcing.dates import DAY, week_span
from forcing.season.schema import Column
from forcing.units import (
    CUBIC_FOOT,
    INCH,
    POT_INCH,
    QUART,
    SQUARE_FOOT,
    TemperatureUnit,
    c_to_f_difference,
    f_to_c_difference,
    from_celsius,
    to_celsius,
)


@dataclass(frozen=True, slots=True)
class CellProblem:
    """Why a cell was not understood, and what to do."""

    code: str
    message: str
    hint: str


# ---------------------------------------------------------------- numbers

_MEASURE = re.compile(r"([+-]?(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+))\s*([^0-9\s.,/–-].*)")
_THOUSANDS = re.compile(r"[+-]?[0-9]{1,3}(?:[ ,.'’][0-9]{3})+")
_DIGITS = "Write digits, with a point before decimals, such as 12.5."

# Unit of a column -> its own words (1), and words of other units: how many of the column's unit one of them is; of
# measures that are larger in Britain than in the United States, both (US, imperial). From NIST Special Publication 811
# (2008), appendix B.8.
_DAYS = {"d": 1.0, "day": 1.0, "days": 1.0, "wk": 7.0, "wks": 7.0, "w": 7.0, "week": 7.0, "weeks": 7.0}
_HOURS = {"h": 60.0, "hr": 60.0, "hrs": 60.0, "hour": 60.0, "hours": 60.0}
_MINUTES = {"min": 1.0, "mins": 1.0, "minute": 1.0, "minutes": 1.0, **_HOURS}
_CM = {
    "cm": 1.0, "mm": 0.1, "m": 100.0, "in": 2.54, "ins": 2.54, "inch": 2.54, "inches": 2.54, '"': 2.54, "″": 2.54,
    "”": 2.54, "''": 2.54, "ft": 30.48, "foot": 30.48, "feet": 30.48, "'": 30.48, "′": 30.48, "’": 30.48,
}  # fmt: skip
_M2 = {
    "m²": 1.0, "m2": 1.0, "sqm": 1.0, "sq m": 1.0, "sq ft": 0.09290304, "ft²": 0.09290304, "ft2": 0.09290304,
    "sq yd": 0.83612736, "yd²": 0.83612736, "yd2": 0.83612736,
}  # fmt: skip
_LITRES: Mapping[str, float | tuple[float, float]] = {
    "l": 1.0, "litre": 1.0, "litres": 1.0, "liter": 1.0, "liters": 1.0, "ml": 0.001, "m3": 1000.0, "m³": 1000.0,
    "cu ft": 28.316846592, "ft3": 28.316846592, "ft³": 28.316846592,
    **dict.fromkeys(("gal", "gals", "gallon", "gallons"), (3.785411784, 4.54609)),
    **dict.fromkeys(("qt", "qts", "quart", "quarts"), (0.946352946, 1.1365225)),
}  # fmt: skip
_WORDS: Mapping[str, Mapping[str, float | tuple[float, float]]] = {
    "cm": _CM,
    "litres": _LITRES,
    "m²": _M2,
    "days": _DAYS,
    "weeks": {word: days / 7 for word, days in _DAYS.items()},
    "minutes": _MINUTES,
    "hours": {word: minutes / 60 for word, minutes in _MINUTES.items()},
    "pots": {"pot": 1.0, "pots": 1.0},
    "15 cm pots": {"pot": 1.0, "pots": 1.0},
    "bulbs": {"bulb": 1.0, "bulbs": 1.0},
    "times": {"time": 1.0, "times": 1.0, "x": 1.0},
    "containers": {"container": 1.0, "containers": 1.0},
    "%": {"%": 1.0, "percent": 1.0, "per cent": 1.0, "pct": 1.0},
}


# Units that a header of a season in US measures may name, as so many of those above.
_US_UNITS: Mapping[str, tuple[str, float]] = {
    "in": ("cm", INCH), "inch": ("cm", INCH), "inches": ("cm", INCH), "sq ft": ("m²", SQUARE_FOOT),
    "square feet": ("m²", SQUARE_FOOT), "ft2": ("m²", SQUARE_FOOT), "quarts": ("litres", QUART),
    "qt": ("litres", QUART), "cu ft": ("litres", CUBIC_FOOT), "cubic feet": ("litres", CUBIC_FOOT),
    "6 in pots": ("15 cm pots", 1.0),
}  # fmt: skip


def _words_of(column: Column) -> Mapping[str, float | tuple[float, float]]:
    """What may stand behind a number of a column, and how many of the column's unit that is."""
    if column.unit not in _US_UNITS:
        return _WORDS.get(column.unit, {})
    metric, size = _US_UNITS[column.unit]
    size = POT_INCH if column.name == "pot cm" else size
    # A gallon or quart can only be the US one here.
    factors = {word: f[0] if isinstance(f, tuple) else f for word, f in _WORDS[metric].items()}
    own = {word: 1.0 for word, f in factors.items() if abs(f / _US_UNITS[column.unit][1] - 1) < 1e-6}
    return {**{word: f / size for word, f in factors.items()}, **own, column.unit: 1.0}


def number_refused(column: Column, text: str, unit: TemperatureUnit) -> CellProblem:
    """A text that is no plain number; `unit` is the season's."""
    if _THOUSANDS.fullmatch(text):
        whole = _digits(text)
        if column.kind == "count":
            return CellProblem("cell-number", "a mark between the digits", f"Write {whole}.")
        if text.count(",") == 1 and len(whole) == len(text) - 1:
            point = text.replace(",", ".")
            hint = f"Write {point} with a point, or {whole} if thousands are meant."
            return CellProblem("cell-number", "a comma in a number", hint)
        return CellProblem(
            "cell-number", "a mark between the digits", f"Write {whole} if thousands are meant."
        )
    if re.fullmatch(r"[+-]?[0-9]+,[0-9]+", text):
        return CellProblem(
            "cell-number", "a comma in a number", f"Write {text.replace(',', '.')} with a point."
        )
    match = _MEASURE.fullmatch(text)
    if match is None or not math.isfinite(float(match[1].replace(",", "."))):
        hint = "Write a whole number in digits, such as 12." if column.kind == "count" else _DIGITS
        return CellProblem("cell-number", "not a number", hint)
    return CellProblem("cell-number", "more than a number", _alone(column, match[1], match[2], unit))


def whole_refused(raw: object) -> CellProblem:
    """A number with decimals where things are counted; a text such as 1.200 may have meant thousands."""
    meant = isinstance(raw, str) and _THOUSANDS.fullmatch(raw)
    hint = f"Write {_digits(raw)} if thousands are meant." if meant else "Write it without decimals."
    return CellProblem("cell-whole", "must be a whole number", hint)


def _digits(text: object) -> str:
    return re.sub(r"[^0-9+-]", "", str(text))


def _alone(column: Column, number: str, behind: str, unit: TemperatureUnit) -> str:
    """What to write for a number with words behind it: in the column's unit, or that it cannot be told."""
    word = " ".join(behind.casefold().rstrip(".").split())
    value = float(number.replace(",", "."))
    if column.kind in ("temperature", "difference"):
        return _alone_degrees(column, number, value, word, unit)
    factor = _words_of(column).get(word)
    if factor == 1.0:
        return f"Write {number.replace(',', '.')} alone; the header says what it is."
    if isinstance(factor, float):
        there = _near(value * factor, column)
        return f"Write {there}: {number} {word} is {there} {column.unit}."
    if factor is not None:
        us, imperial = (_near(value * each, column) for each in factor)
        return f"Write {us} for US or {imperial} for imperial measure: the column is in {column.unit}."
    if column.unit:
        return f"Write it in {column.unit}, digits alone."
    return "Write digits alone, with no word or unit behind them."


def _alone_degrees(column: Column, number: str, value: float, word: str, unit: TemperatureUnit) -> str:
    said = word.removeprefix("°").removeprefix("º").removeprefix("degrees").removeprefix("deg").strip(". ")
    other = {"c": "C", "celsius": "C", "centigrade": "C", "f": "F", "fahrenheit": "F", "": unit}.get(said)
    if other is None:
        return f"Write it in °{unit}, digits alone."
    if other == unit:
        return f"Write {number.replace(',', '.')} alone; the unit is the season's, °{unit}."
    if column.kind == "difference":
        meant = f_to_c_difference(value) if other == "F" else c_to_f_difference(value)
    else:
        meant = from_celsius(to_celsius(value, "F" if other == "F" else "C"), unit)
    there = f"{round(meant, 1) + 0.0:g}"
    if column.kind == "difference":
        return f"Write {there}: a difference of {number} °{other} is one of {there} °{unit}."
    return f"Write {there}: {number} °{other} is {there} °{unit}, the season's unit."


def _near(value: float, column: Column) -> str:
    """A converted number, to what a ruler or a jug can tell; whole where the column counts."""
    digits = 0 if column.kind == "count" or abs(value) >= 10 else 1 if abs(value) >= 1 else 2
    return f"{round(value, digits):.10g}"


# ---------------------------------------------------------------- dates

_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip
_DAY_MONTH = re.compile(r"([0-9]{1,2})[/. -]([0-9]{1,2})[/. -]([0-9]{4})\.?")
_YEAR_FIRST = re.compile(r"([0-9]{4})[/. -]([0-9]{1,2})[/. -]([0-9]{1,2})")
_RUN = re.compile(r"([0-9]{4})([0-9]{2})([0-9]{2})")
_NAMED = re.compile(r"([0-9]{1,2})(?:st|nd|rd|th)?[/. ,-]*([a-z]{3,9})[/. ,-]*([0-9]{4})", re.IGNORECASE)
_MONTH_FIRST = re.compile(
    r"([a-z]{3,9})[/. ,-]*([0-9]{1,2})(?:st|nd|rd|th)?[/. ,-]+([0-9]{4})", re.IGNORECASE
)
_WEEK = re.compile(r"([0-9]{4})-?W([0-9]{1,2})(?:-?([1-7]))?", re.IGNORECASE)
_SERIAL = re.compile(r"[0-9]{5}(\.0*)?")
AS_DATE = "Write the date as year-month-day, such as 2027-03-20"
_NO_SUCH_DAY = CellProblem("cell-date", "there is no such day", "Look it up in a calendar.")


def date_refused(text: str) -> CellProblem:
    """A text that is no date written year-month-day. Both readings of an ambiguous one are offered."""
    if match := _DAY_MONTH.fullmatch(text):
        return _day_or_month(int(match[1]), int(match[2]), int(match[3]))
    if match := _YEAR_FIRST.fullmatch(text) or _RUN.fullmatch(text):
        return _one_day(_real(int(match[1]), int(match[2]), int(match[3])))
    for pattern, order in ((_NAMED, (3, 2, 1)), (_MONTH_FIRST, (3, 1, 2))):
        if (match := pattern.fullmatch(text)) and (month := _month(match[order[1]])):
            return _one_day(_real(int(match[order[0]]), month, int(match[order[2]])))
    if match := _WEEK.fullmatch(text):
        return _week(int(match[1]), int(match[2]), int(match[3] or 0))
    if _SERIAL.fullmatch(text):
        hint = f"{AS_DATE}, or give the cell a date format before it is saved."
        return CellProblem("cell-date", "a number where a date is wanted", hint)
    return CellProblem("cell-date", "not a date", f"{AS_DATE}.")


def _day_or_month(one: int, other: int, year: int) -> CellProblem:
    readings = list(dict.fromkeys(filter(None, (_real(year, other, one), _real(year, one, other)))))
    if len(readings) < 2:
        return _one_day(readings[0] if readings else None)
    both = " or ".join(f"{d} for {d.day} {_MONTHS[d.month - 1]}" for d in readings)
    hint = f"Write {both}; or state the date order in the season table."
    return CellProblem("cell-date-ambiguous", "day and month cannot be told apart", hint)


def _one_day(day: date | None) -> CellProblem:
    if day is None:
        return _NO_SUCH_DAY
    return CellProblem("cell-date", "not a date written year-month-day", f"Write {day}.")


def _month(word: str) -> int | None:
    """The number of a month by its English name or the first letters of it."""
    found = [i for i, name in enumerate(_MONTHS, start=1) if name.casefold().startswith(word.casefold())]
    return found[0] if len(found) == 1 else 9 if word.casefold() == "sept" else None


def _week(year: int, week: int, day: int) -> CellProblem:
    try:
        span = week_span(f"{year:04d}-W{week:02d}")
    except (ValueError, OverflowError):  # 9999-W52 ends after the last day there is
        return CellProblem("cell-date", "there is no such week", "Look it up in a calendar.")
    if day:
        return _one_day(span.start + timedelta(days=day - 1))
    hint = f"Write a day of it, from {span.start} to {span.end - DAY}."
    return CellProblem("cell-date", "a week where a day is wanted", hint)


def _real(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None
