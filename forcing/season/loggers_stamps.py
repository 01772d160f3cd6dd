"""Time stamps as a logger writes them -> seconds on one clock, and the midnights of that clock.

The order of day and month, the zone and the meaning are declared; nothing here is inferred from a value.
"""

from __future__ import annotations

import re
import zoneinfo
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo

from forcing.season.columns import near, plain

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
