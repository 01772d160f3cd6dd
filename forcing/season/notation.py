"""How a season is written: the order of its dates, its numbers, units and measures, its working days and holidays."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Literal

from forcing.dates import DAY, WEEKDAYS, DateOrder, Span, parse_date
from forcing.text import fold_word
from forcing.units import (
    CUBIC_FOOT,
    INCH,
    POT_INCH,
    QUART,
    SQUARE_FOOT,
    Measures,
    TemperatureUnit,
    show_pot,
    told,
)

if TYPE_CHECKING:
    from forcing.season.schema import Column

NumberStyle = Literal["comma for thousands", "comma for decimals"]


@dataclass(frozen=True, slots=True)
class Notation:
    """How the cells of a season are written, as its own table states; None: not stated, and nothing is guessed."""

    unit: TemperatureUnit = "C"
    date_order: DateOrder | None = None
    number_style: NumberStyle | None = None
    measures: Measures = "metric"


SEASON_UNIT = "the season's °C or °F"

# Unit of a column -> the word for it in the column's name, and the words that may stand there instead: how many of the
# column's unit one of them is. The first is that of a season in US measures.
_UNIT_WORDS: Mapping[str, tuple[str, Mapping[str, float]]] = {
    "cm": (" cm", {" in": INCH, " in.": INCH, " inch": INCH, " inches": INCH}),
    "litres": ("litres", {"quarts": QUART, "qt": QUART, "cubic feet": CUBIC_FOOT, "cu ft": CUBIC_FOOT}),
    "m²": (
        " m2",
        {" sq ft": SQUARE_FOOT, " square feet": SQUARE_FOOT, " ft2": SQUARE_FOOT},
    ),
}


ROOM_UNIT = "15 cm pots"


def _other_heads(column: Column) -> dict[str, float | None]:
    """Headers that a measured column may have instead of its name, and how many of its unit one of theirs is.

    None: as the season's measures say.
    """
    word, others = _UNIT_WORDS[column.unit]
    bare = column.name.replace(word, "") or "mix"
    factors = {other: POT_INCH if column.name == "pot cm" and f == INCH else f for other, f in others.items()}
    return {bare: None, **{column.name.replace(word, other): factor for other, factor in factors.items()}}


def measured(column: Column) -> Column:
    """The column with the headers that name another unit than its own, or none."""
    return replace(column, heads=(*column.heads, *_other_heads(column)))


def us_name(column: Column) -> str:
    """The header of a column in a season of US measures."""
    return list(_other_heads(column))[1] if column.unit in _UNIT_WORDS else column.name


# What helps say of measures, and what they say in a season of US measures; whole words.
_US_WORDS = {"15 cm": "6 in", "2.5 cm": "1 in", "litres": "cubic feet", "m²": "square feet"}


def in_words(text: str, unit: TemperatureUnit, measures: Measures) -> str:
    """A help in the words of a season: its temperatures in its unit, its lengths, mix and cloth in its measures."""
    text = text.replace(SEASON_UNIT, f"°{unit}, as the season sheet states")
    text = re.sub(r"([\d.]+) °C or ([\d.]+) °F", rf"\{1 if unit == 'C' else 2} °{unit}", text)
    for metric, us in _US_WORDS.items() if measures == "US" else ():
        text = re.sub(rf"(?<![\w.]){metric}(?!\w)", us, text)
    return text


def in_measures(column: Column, unit: TemperatureUnit, measures: Measures) -> Column:
    """A column as a season with these measures has it: its header, its unit, its limits and its help."""
    name = us_name(column) if measures == "US" else column.name
    column = replace(as_headed(column, name, measures)[0], name=name)
    return replace(
        column, help=in_words(column.help, unit, measures), unit=in_words(column.unit, unit, measures),
        default=in_words(column.default, unit, measures),
        words=tuple(told(word, "C", measures) for word in column.words),
    )  # fmt: skip


def as_headed(column: Column, header: str, measures: Measures) -> tuple[Column, float]:
    """The column in the unit that its header names, or else of the season's measures; how many of its own that is."""
    if column.unit == ROOM_UNIT:
        return replace(column, unit=f"{show_pot(15, measures)} pots"), 1.0
    if column.unit not in _UNIT_WORDS:
        return column, 1.0
    others = _other_heads(column)
    head = fold_word(header)
    if others.get(head, 1.0) is None and measures == "US":
        head = us_name(column)
    factor = others.get(head)
    if factor is None:
        return column, 1.0
    unit = next(word for word in _UNIT_WORDS[column.unit][1] if head.endswith(word)).strip()
    low, high = (
        None if limit is None else round(limit / factor, 2) for limit in (column.lowest, column.highest)
    )
    return replace(column, unit=unit, lowest=low, highest=high), factor


# ---------------------------------------------------------------- working days and holidays


_FULL_NAMES = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_DAY_NUMBERS: dict[str, int] = {name.casefold(): i for i, name in enumerate(WEEKDAYS)}
_DAY_NUMBERS.update({name: i for i, name in enumerate(_FULL_NAMES)})
_DAY_NUMBERS.update({"tues": 1, "weds": 2, "thur": 3, "thurs": 3})
_CODE = re.compile(r"([A-Z]{2,3})(?:-([A-Za-z0-9]{1,5}))?")

_DAY_WORD = rf"(?:{'|'.join(sorted(_DAY_NUMBERS, key=len, reverse=True))})\.?"
_DUTY = re.compile(
    rf"(every day|all days|daily|{_DAY_WORD}(?:(?:\s*[-–,/&]\s*|\s+to\s+|\s+and\s+|\s+){_DAY_WORD}(?=[\s:,/&–-]))*)"
    r"(?:\s*:\s*|\s+)(\S.*)", re.IGNORECASE,
)  # fmt: skip

Holidays = tuple[Span | str, ...]
LONGEST_HOLIDAY = 120  # days; a house closed for longer forces no bulbs; practice, no source


def parse_weekdays(text: str) -> frozenset[int]:
    """Weekdays (0 = Monday) of 'Mon-Fri', 'Mon Wed Fri', 'Mon, Wed-Fri', 'Sun-Thu' or 'every day'.

    A stretch may run over the end of the week. Raises ValueError that says which word is no day.
    """
    words = text.casefold().replace("–", "-")
    if words in ("every day", "all days", "daily"):
        return frozenset(range(7))
    words = re.sub(r"\s*-\s*|\s+to\s+", "-", words)
    days: set[int] = set()
    for part in re.split(r"[,;/&\s]+", words):
        if part in ("", "and"):
            continue
        ends = [_weekday(word) for word in part.split("-")]
        if len(ends) > 2:
            raise ValueError(f"{part} is not a stretch of days")
        first, last = ends[0], ends[-1]
        days.update((first + i) % 7 for i in range((last - first) % 7 + 1))
    if not days:
        raise ValueError("no day of the week is named")
    return frozenset(days)


def _weekday(word: str) -> int:
    try:
        return _DAY_NUMBERS[word.rstrip(".")]
    except KeyError:
        raise ValueError(f"{word or 'nothing'} is not a day of the week") from None


def parse_duty(text: str) -> tuple[tuple[int, str], ...]:
    """Who is on duty on which weekday (0 = Monday) of 'Mon-Fri AB; Sat, Sun: CD', in the order of days.

    Raises ValueError that says which part was not understood.
    """
    on_duty: dict[int, str] = {}
    for part in filter(None, map(str.strip, re.split(r"[;\n]+", text))):
        match = _DUTY.fullmatch(part)
        if match is None:
            raise ValueError(f"{part} does not name days and who is on duty")
        for day in parse_weekdays(match[1]):
            if day in on_duty:
                raise ValueError(f"{WEEKDAYS[day]} is named twice")
            on_duty[day] = match[2]
    return tuple(sorted(on_duty.items()))


LONGEST_INTERVAL = 366  # days between two times of recurring work: beyond it it does not recur in one season
_INTERVAL = re.compile(r"([0-9]+)\s*(day|days|d|week|weeks|wk|wks|w)\.?")

_ONE = {"day": 1, "daily": 1, "week": 7, "weekly": 7}


def parse_repeat(text: str) -> tuple[int, ...] | int:
    """Weekdays (0 = Monday, in their order) of 'Mon, Thu', or the interval [days] of '3 days' or '2 weeks'.

    Raises ValueError that says what was not understood.
    """
    words = text.casefold().removeprefix("every ")
    if words in _ONE:
        return _ONE[words]
    if match := _INTERVAL.fullmatch(words):
        interval = int(match[1]) * (7 if match[2].startswith("w") else 1)
        if not 1 <= interval <= LONGEST_INTERVAL:
            raise ValueError(f"{text} is no interval within one season")
        return interval
    if words[0].isdigit():
        raise ValueError(f"{text} is not a number of days or weeks")
    return tuple(sorted(parse_weekdays(text)))


def parse_holidays(text: str, order: DateOrder | None = None) -> Holidays:
    """Spans of days and country codes of '2026-12-25, 2026-12-27 to 2027-01-01; US-CT'.

    Raises ValueError that says which part was not understood.
    """
    parts = [part.strip() for part in re.split(r"[,;\n]+", text)]
    return tuple(_holiday(part, order) for part in parts if part)


def _holiday(part: str, order: DateOrder | None) -> Span | str:
    if part[0].isdigit():
        ends = re.split(r"\s+to\s+|\s*\.\.\s*", part)
        try:
            days = [parse_date(end, order) for end in ends]
        except ValueError:
            raise ValueError(f"{part} is not a date written year-month-day") from None
        if len(days) > 2 or days[-1] < days[0]:
            raise ValueError(f"{part} is not a stretch from one day to a later one")
        if (days[-1] - days[0]).days >= LONGEST_HOLIDAY:
            raise ValueError(f"{part} is a stretch of more than {LONGEST_HOLIDAY} days: check its years")
        return Span(days[0], days[-1] + DAY)
    code = _CODE.fullmatch(part.upper())
    if code is None or _days_of(part, (2026,)) is None:
        raise ValueError(f"{part} is not a country code that is known")
    return part


def expand_holidays(parts: Iterable[Span | str], years: Iterable[int]) -> frozenset[date]:
    """All days meant by `parts`; those of countries in `years` only."""
    span_of_years = tuple(years)
    days: set[date] = set()
    for part in parts:
        days.update(part if isinstance(part, Span) else _days_of(part, span_of_years) or ())
    return frozenset(days)


def _days_of(code: str, years: tuple[int, ...]) -> frozenset[date] | None:
    """Public holidays of a country code like GB or US-CT; None where the code is not known."""
    import holidays  # slow to import and seldom needed

    country, _, division = code.partition("-")
    if country.upper() not in holidays.list_supported_countries(include_aliases=True):
        return None
    # The library's tables are case-sensitive and some of them name divisions in words.
    for subdiv in dict.fromkeys((division or None, division.upper() or None)):
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                found = holidays.country_holidays(country.upper(), subdiv=subdiv, years=years)
        except NotImplementedError:
            continue
        return frozenset(found)
    return None
