"""Half-open spans of days, ISO weeks and working days. Days and weeks only: no month arithmetic."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

DAY = timedelta(days=1)
WEEK = timedelta(days=7)
YEARS = (
    1980,
    2199,
)  # of any day of a season, and of the day it is seen from; anything else is a slip of the finger
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

_WEEK_TEXT = re.compile(r"(\d{4})-W(\d{2})")
_DATE_TEXT = re.compile(r"\d{4}-\d{2}-\d{2}")
DateOrder = Literal["day first", "month first", "year first"]
_STATED: dict[DateOrder, re.Pattern[str]] = {
    "day first": re.compile(r"(?P<day>\d{1,2})([/. -])(?P<month>\d{1,2})\2(?P<year>\d{4})", re.ASCII),
    "month first": re.compile(r"(?P<month>\d{1,2})([/. -])(?P<day>\d{1,2})\2(?P<year>\d{4})", re.ASCII),
    "year first": re.compile(r"(?P<year>\d{4})([/. -])(?P<month>\d{1,2})\2(?P<day>\d{1,2})", re.ASCII),
}


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """Days `start`, `start`+1, ... up to but not including `end` (half-open)."""

    start: date
    end: date

    def __post_init__(self) -> None:
        if self.end < self.start:
            raise ValueError(f"a span cannot end before it starts: {self.start} to {self.end}")

    @property
    def days(self) -> int:
        return (self.end - self.start).days

    def __contains__(self, day: date) -> bool:
        return self.start <= day < self.end

    def __iter__(self) -> Iterator[date]:
        return (self.start + timedelta(days=i) for i in range(self.days))

    def overlap(self, other: Span) -> int:
        """Days that both spans contain."""
        return max(0, (min(self.end, other.end) - max(self.start, other.start)).days)


def parse_date(text: str, order: DateOrder | None = None) -> date:
    """A calendar date written YYYY-MM-DD (ISO 8601 extended form), or in figures in the order that is stated.

    Raises ValueError for any other form, so that a day and a month can never be swapped by guessing.
    """
    if order is not None and (match := _STATED[order].fullmatch(text.strip())):
        return date(int(match["year"]), int(match["month"]), int(match["day"]))
    if not _DATE_TEXT.fullmatch(text.strip()):
        raise ValueError(f"not a date written YYYY-MM-DD: {text!r}")
    return date.fromisoformat(text.strip())


def monday(day: date) -> date:
    """The Monday of the ISO week that `day` is in."""
    return day - timedelta(days=day.weekday())


def iso_week(day: date) -> str:
    """ISO 8601 week of a day, like 2026-W53 (the year is the week's own, not the calendar's)."""
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02d}"


def week_span(text: str) -> Span:
    """Monday to Monday of an ISO week written like 2026-W53. Raises ValueError if there is none."""
    match = _WEEK_TEXT.fullmatch(text.strip())
    if match is None:
        raise ValueError(f"not an ISO week written YYYY-Www: {text!r}")
    start = date.fromisocalendar(int(match[1]), int(match[2]), 1)
    return Span(start, start + WEEK)


def weeks_of(span: Span) -> tuple[date, ...]:
    """Mondays of the ISO weeks that a span touches; none for an empty span."""
    if span.days == 0:
        return ()
    first, last = monday(span.start), monday(span.end - DAY)
    return tuple(first + WEEK * i for i in range((last - first).days // 7 + 1))


@dataclass(frozen=True, slots=True)
class WorkCalendar:
    """Which days staff work: `weekdays` (0 = Monday) less `holidays`."""

    weekdays: frozenset[int] = frozenset(range(7))
    holidays: frozenset[date] = frozenset()

    def __post_init__(self) -> None:
        if not self.weekdays or not self.weekdays <= frozenset(range(7)):
            raise ValueError(f"working weekdays must be some of 0 (Monday) to 6: {sorted(self.weekdays)}")

    def works(self, day: date) -> bool:
        return day.weekday() in self.weekdays and day not in self.holidays

    def on_or_before(self, day: date) -> date:
        """The latest working day not after `day`."""
        return self._walk(day, -DAY)

    def on_or_after(self, day: date) -> date:
        """The earliest working day not before `day`."""
        return self._walk(day, DAY)

    def before(self, day: date) -> date:
        """The latest working day before `day`."""
        return self._walk(day - DAY, -DAY)

    def after(self, day: date) -> date:
        """The earliest working day after `day`."""
        return self._walk(day + DAY, DAY)

    def _walk(self, day: date, step: timedelta) -> date:
        # Ten years without one working day is a calendar that a caller built wrongly, not a season.
        for _ in range(3660):
            if self.works(day):
                return day
            day += step
        raise ValueError("the calendar has no working day within ten years")
