"""Spring frost from daily minima: last freezes, their percentiles, chances by night; what covers hold.

A daily minimum belongs to the morning of its date. Days of different years are compared by month and day,
never by number in the year, so a leap day moves nothing.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from statistics import NormalDist, mean, stdev
from typing import Literal

from forcing.science.arrays import as_floats
from forcing.units import f_to_c_difference

Method = Literal["rank", "normal"]
MonthDay = tuple[int, int]

# From this many missing days on, a season says nothing (Utah Climate Center, freeze table).
MISSING_DAYS = 10
# From this many years on, a normal curve is the default (practice: ranks below it, number of years stated).
NORMAL_YEARS = 20
# Nights pooled around a calendar day, itself in the middle (our choice: one week).
POOLED_NIGHTS = 7


@dataclass(frozen=True, slots=True)
class SpringWindow:
    """The part of a year whose last freeze counts: first and last (month, day), both inside it.

    1 January to 31 July as used for the northern hemisphere (Utah Climate Center: to 24 July); in the
    southern, say, (7, 1) to (1, 31). Raises ValueError for a day that is not in every year.
    """

    start: MonthDay = (1, 1)
    last: MonthDay = (7, 31)

    def __post_init__(self) -> None:
        for month, day in (self.start, self.last):
            date(2023, month, day)  # a common year

    def season(self, day: date) -> int | None:
        """The year in which the window that holds `day` starts; None where no window holds it."""
        at = (day.month, day.day)
        if self.start <= self.last:
            return day.year if self.start <= at <= self.last else None
        if at >= self.start:
            return day.year
        return day.year - 1 if at <= self.last else None

    def days(self, year: int) -> tuple[date, ...]:
        """Every day of the window that starts in `year`."""
        first = date(year, *self.start)
        final = date(year if self.start <= self.last else year + 1, *self.last)
        return tuple(first + timedelta(days=i) for i in range((final - first).days + 1))

    def number(self, day: date) -> int:
        """Days from the start of a window, 29 February counted in every year: alike for like dates."""
        year = self._leap_year()
        at = (day.month, day.day)
        return (date(year if at >= self.start else year + 1, *at) - date(year, *self.start)).days

    def day(self, number: float, year: int) -> date:
        """The date that many days into the window that starts in `year`; part days and 29 February go up."""
        first = self._leap_year()
        at = date(first, *self.start) + timedelta(days=math.ceil(number - 1e-9))
        year += at.year - first
        try:
            return date(year, at.month, at.day)
        except ValueError:
            return date(year, 3, 1)

    def _leap_year(self) -> int:
        return 2000 if self.start <= (2, 28) else 1999


NORTH = SpringWindow()


@dataclass(frozen=True, slots=True)
class FreezeSeason:
    """One spring: its last freezing day, or that it had none, or that too many days are missing."""

    year: int  # in which its window starts
    outcome: Literal["froze", "no freeze", "not known"]
    last: date | None  # None unless it froze
    missing: int  # days of the window without a minimum


@dataclass(frozen=True, slots=True)
class FrostDate:
    """The date after which a freeze comes with a stated risk, and what it rests on."""

    risk: float
    number: float | None  # days into the window; None: `reason` says why there is no date
    method: Method
    years: int  # that are known
    frozen: int  # of those, with a freeze
    window: SpringWindow
    reason: str = ""

    def in_year(self, year: int) -> date | None:
        """The date in the window that starts in `year`, part days upward; None where there is none."""
        return None if self.number is None else self.window.day(self.number, year)


def last_freezes(
    dates: Sequence[date],
    minima: Sequence[float | None],
    threshold: float = 0.0,
    window: SpringWindow = NORTH,
) -> tuple[FreezeSeason, ...]:
    """The last day of each spring window with a minimum [°C] at or below `threshold` [°C].

    dates, minima: same length, any order; None or NaN is a missing day, as is a date left out. A season
    with ten or more missing days in its window is not known (Utah Climate Center, freeze table; its rule
    counts the days before the date, here those after it count too, since they can hide a later freeze).
    Raises ValueError for a date given twice or lengths that differ.
    """
    lows = _lows(dates, minima)
    years = {season for day in lows if (season := window.season(day)) is not None}
    if not years:
        return ()
    out = []
    for year in range(min(years), max(years) + 1):
        days = window.days(year)
        missing = sum(day not in lows for day in days)
        last = next((day for day in reversed(days) if day in lows and lows[day] <= threshold), None)
        if missing >= MISSING_DAYS:
            out.append(FreezeSeason(year, "not known", None, missing))
        else:
            out.append(FreezeSeason(year, "froze" if last else "no freeze", last, missing))
    return tuple(out)


def frost_date(
    seasons: Sequence[FreezeSeason],
    risk: float,
    method: Method | None = None,
    window: SpringWindow = NORTH,
) -> FrostDate:
    """The day after which a freeze still comes with the chance `risk` (0 < risk < 1).

    rank: position (1 - risk)(n + 1) among all n known years, those without a freeze first (Weibull's
    positions r / (n + 1)), straight lines between; no date beyond the ranks that n years give. normal: mean and
    standard deviation of the freezing years, with the share q of years that freeze: F = 1 - risk / q
    (mixed distribution of NOAA freeze statistics). Without a method: rank below 20 years, else normal.
    """
    if not 0.0 < risk < 1.0:
        raise ValueError(f"a risk lies above 0 and below 1: {risk!r}")
    numbers, years = _numbers(seasons, window)
    method = method or ("rank" if years < NORMAL_YEARS else "normal")
    if years == 0:
        number, reason = None, "no spring has enough daily minima"
    elif method == "rank":
        number, reason = _rank_number(numbers, years, risk)
    else:
        number, reason = _normal_number(numbers, years, risk)
    return FrostDate(risk, number, method, years, len(numbers), window, reason)


def chance_from(
    seasons: Sequence[FreezeSeason],
    day: date,
    method: Method | None = None,
    window: SpringWindow = NORTH,
) -> float | None:
    """The chance that the minimum of `day`, or of any later day of the window, is a freeze; None: not known.

    rank: the share of known years whose last freeze was then or later. normal: q (1 - Φ((day - mean) / sd)), with q
    the share of known years that freeze and days counted from the one before. The default method is `frost_date`'s.
    """
    if window.season(day) is None:
        raise ValueError(f"{day} lies outside the spring window")
    return _chance_after(seasons, window.number(day) - 1, method, window)


def pooled_nights(
    dates: Sequence[date], minima: Sequence[float | None], pooled: int = POOLED_NIGHTS
) -> dict[MonthDay, list[float]]:
    """For each calendar day the minima [°C] that are known of all years, in order, with those of the nights around it.

    `pooled` nights, an odd number with the day in the middle. 366 days from (1, 1) to (12, 31), round the new year.
    Raises ValueError for an even or non-positive `pooled`, a date given twice, or lengths that differ.
    """
    if pooled < 1 or pooled % 2 == 0:
        raise ValueError(f"pool an odd number of nights, 1 or more: {pooled!r}")
    leap = (date(2000, 1, 1) + timedelta(days=i) for i in range(366))
    known: dict[MonthDay, list[float]] = {(day.month, day.day): [] for day in leap}
    for day, low in _lows(dates, minima).items():
        # By the dates around it, not by numbers in the year: 26 February is three nights from 1 March
        # in a common year and four in a leap year.
        for shift in range(-(pooled // 2), pooled // 2 + 1):
            near = day + timedelta(days=shift)
            known[near.month, near.day].append(low)
    return {day: sorted(lows) for day, lows in known.items()}


def share_freezing(lows: Sequence[float], threshold: float = 0.0) -> float | None:
    """The share of minima [°C], in order, that lie at or below `threshold` [°C]; None where there are none."""
    return bisect_right(lows, threshold) / len(lows) if lows else None


def chance_about(mean_low: float, spread: float, threshold: float) -> float:
    """The chance of a low at or below `threshold` [°C] in a month of this mean low, normal with `spread` [°C]."""
    return NormalDist(mean_low, spread).cdf(threshold)


# ---------------------------------------------------------------- leaves and covers


def hardening_reached(days: float, wanted: float) -> float:
    """The share of its hardening, 0 to 1, that a plant has had after so many of the `wanted` days."""
    return 1.0 if wanted <= 0 else min(max(days / wanted, 0.0), 1.0)


def limit_reached(hardened: float, reached: float) -> float:
    """The temperature [°C] that a plant stands: freezing point unhardened, `hardened` at the end, even between.

    What is hurt above freezing point even when hardened keeps that limit. That an unhardened plant stands no frost is
    practice (only hardened hardy plants stand light frost: California Master Gardener Handbook, UC ANR).
    """
    unhardened = max(hardened, 0.0)
    return unhardened + (hardened - unhardened) * reached


# A forecast low can miss the temperature of leaves by 3 to 6 °F on a clear, calm night; cover where it is
# within 4 °F of what the plant stands. Farm advice column (The Farmer's Guide, undated), restated in °C.
LEAF_MARGIN = f_to_c_difference(4.0)


@dataclass(frozen=True, slots=True)
class FrostCover:
    """A kind of frost cover: by how much [°C] it keeps plants warmer on a clear, calm night.

    On windy nights of cold dry air covers do much less (FAO 2005; University of Georgia bulletin 1479).
    """

    kind: str
    low: float | None  # None: only an upper figure is printed
    high: float
    basis: Literal["published", "trade"]
    source: str

    @property
    def counted_on(self) -> float:
        """Degrees [°C] to plan with: the low figure; none where only an upper one is printed."""
        return 0.0 if self.low is None else self.low


_FAO = "Snyder & de Melo-Abreu 2005, Frost Protection 1, FAO: row covers, thin plastic sheet to thick"
_TRADE = "cover makers' and trade pages, compared in 2020; take as upper figures"
COVERS: tuple[FrostCover, ...] = (
    FrostCover("thin plastic sheet", 1.0, 1.0, "published", _FAO),
    FrostCover("thick row cover", None, 5.0, "published", _FAO),
    FrostCover(
        "fleece 17 g/m²", f_to_c_difference(2), f_to_c_difference(4), "trade", f"0.5 oz/yd²: {_TRADE}"
    ),
    FrostCover(
        "fleece 17-34 g/m²", f_to_c_difference(4), f_to_c_difference(6), "trade", f"0.5-1 oz/yd²: {_TRADE}"
    ),
    FrostCover("fleece 51-75 g/m²", None, f_to_c_difference(8), "trade", f"1.5-2.2 oz/yd²: {_TRADE}"),
)


def cover_wanted(low: float, limit: float, margin: float = LEAF_MARGIN) -> bool:
    """Whether plants that stand `limit` [°C] need a cover where `low` [°C] is forecast, margin [°C] and all."""
    return low <= limit + margin + 1e-9


def cover_holds(low: float, limit: float, protection: float, margin: float = LEAF_MARGIN) -> bool:
    """Whether leaves under a cover of `protection` [°C] stay at or above `limit` [°C], `margin` [°C] below air."""
    return low - margin + protection >= limit - 1e-9


# ---------------------------------------------------------------- inside


def _lows(dates: Sequence[date], minima: Sequence[float | None]) -> dict[date, float]:
    if len(dates) != len(minima):
        raise ValueError(f"{len(dates)} dates but {len(minima)} minima")
    if any(isinstance(day, datetime) for day in dates):
        raise ValueError("minima belong to dates, not to moments of a day")
    if len(set(dates)) != len(dates):
        raise ValueError("a date is given twice")
    values = as_floats([math.nan if low is None else low for low in minima], "minima").tolist()
    return {day: low for day, low in zip(dates, values, strict=True) if not math.isnan(low)}


def _numbers(seasons: Sequence[FreezeSeason], window: SpringWindow) -> tuple[list[int], int]:
    """Sorted day numbers of the last freezes, and how many years are known."""
    known = [s for s in seasons if s.outcome != "not known"]
    return sorted(window.number(s.last) for s in known if s.last is not None), len(known)


def _rank_number(numbers: list[int], years: int, risk: float) -> tuple[float | None, str]:
    position = (1.0 - risk) * (years + 1) - (years - len(numbers))
    if position > len(numbers) + 1e-9:
        return None, f"{years} years cannot show by rank a risk below 1 in {years + 1}"
    if not numbers or position <= 1e-9:
        return None, f"only {len(numbers)} of {years} years freeze at all: less than the risk asked for"
    # Between a year without a freeze and the earliest freeze there is no line: the freeze is taken.
    position = min(max(position, 1.0), float(len(numbers)))
    below = min(int(position + 1e-9), len(numbers))
    above = min(below + 1, len(numbers))
    part = max(0.0, position - below)
    return numbers[below - 1] + part * (numbers[above - 1] - numbers[below - 1]), ""


def _normal_number(numbers: list[int], years: int, risk: float) -> tuple[float | None, str]:
    share = len(numbers) / years
    if risk >= share:
        return None, f"only {len(numbers)} of {years} years freeze at all: less than the risk asked for"
    if len(numbers) < 2:
        return None, "one year with a freeze gives no curve"
    spread = stdev(numbers)
    score = NormalDist().inv_cdf(1.0 - risk / share)
    return mean(numbers) + score * spread, ""


def _chance_after(
    seasons: Sequence[FreezeSeason], number: int, method: Method | None, window: SpringWindow
) -> float | None:
    numbers, years = _numbers(seasons, window)
    if years == 0:
        return None
    method = method or ("rank" if years < NORMAL_YEARS else "normal")
    if method == "rank" or not numbers:
        return sum(n > number for n in numbers) / years
    if len(numbers) < 2:
        return None
    spread = stdev(numbers)
    if spread == 0.0:
        return len(numbers) / years if numbers[0] > number else 0.0
    return (1.0 - NormalDist(mean(numbers), spread).cdf(number)) * len(numbers) / years
