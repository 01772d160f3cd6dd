"""Working days and holidays as people write them: 'Mon-Fri', '2026-12-24 to 2027-01-01; GB'."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterable
from datetime import date

from forcing.dates import DAY, WEEKDAYS, DateOrder, Span, parse_date

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
