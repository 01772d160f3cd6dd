"""The temperature of every place on every day, and running sums of what plants gather from it.

A day's temperature is the first that exists of: its reading (measured, then forecast); its dated setpoint;
the place's standing day and night; the room's programme worked out by the plan; the site's normals.
Where none exists the day is a gap: never 0, and nothing that needs that day is computed. Days on which a cooler or
bench is not read are what it is set to, off by as much as its latest readings are.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from forcing.dates import Span, WorkCalendar
from forcing.model import Place, RoomSetting, Season
from forcing.recipes.book import curve_nodes
from forcing.science.cold import cold_credit, rooting_rate
from forcing.science.heat import degree_days, hourly_degree_days
from forcing.units import f_to_c_difference

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Legs = tuple[tuple[str, int], ...]  # places, and the day number from which

GAP, MEASURED, FORECAST, SETPOINT, STANDING, PROGRAMME, NORMAL = range(7)
SET = (SETPOINT, STANDING, PROGRAMME)
BASIS_WORDS = ("not known", "measured", "forecast", "setpoint", "stated", "planned", "normals")

# Sums of daily heat in °C·d carry rounding of about 1e-12 a day; half a thousandth of a degree-day is far
# below any reading, and keeps a season typed in °F on the same day as the same season in °C.
TOLERANCE = 5e-4


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """A daily quantity summed from day 0, with its days that are gaps counted (shape of both: days + 1)."""

    cumulative: Floats
    gaps: Ints

    @classmethod
    def of(cls, daily: Floats) -> Series:
        """From daily values (shape: days); NaN marks a gap."""
        missing = np.isnan(daily)
        sums = np.concatenate(([0.0], np.cumsum(np.where(missing, 0.0, daily))))
        return cls(sums, np.concatenate(([0], np.cumsum(missing))))

    @property
    def never(self) -> int:
        """The day number that stands for no day: the one after the last."""
        return self.gaps.size

    def total(self, start: int, end: int) -> float | None:
        """Sum over days start ... end-1; None where one of them is a gap."""
        if self.gaps[end] != self.gaps[start]:
            return None
        return float(self.cumulative[end] - self.cumulative[start])

    def reach(self, start: int, wanted: float, end: int) -> int | None:
        """First day by whose start the sum since `start` is `wanted`; None if not by `end` or past a gap."""
        day = bisect_left(self.cumulative, self.cumulative[start] + wanted - TOLERANCE, start, end + 1)
        return None if day > end or self.gaps[day] != self.gaps[start] else day

    def begin(self, end: int, wanted: float) -> int | None:
        """Last day from which the sum up to `end` is `wanted`; None if there is none without a gap."""
        day = int(self.begins(np.array(end), np.array(wanted)))
        return None if day < 0 else day

    def reaches(self, starts: Ints, wanted: Floats) -> Ints:
        """For each of `starts` the first day by whose start the sum is `wanted`; `never` if none, or past a gap."""
        days = np.maximum(
            np.searchsorted(self.cumulative, self.cumulative[starts] + wanted - TOLERANCE), starts
        )
        known = (days < self.never) & (self.gaps[np.minimum(days, self.never - 1)] == self.gaps[starts])
        return np.where(known, days, self.never)

    def begins(self, ends: Ints, wanted: Floats) -> Ints:
        """For each of `ends` the last day from which the sum is `wanted`; -1 if none, or past a gap."""
        sums = self.cumulative[ends] - wanted + TOLERANCE
        days = np.minimum(np.searchsorted(self.cumulative, sums, side="right") - 1, ends)
        return np.where((days >= 0) & (self.gaps[days] == self.gaps[ends]), days, -1)


@dataclass(frozen=True, slots=True, eq=False)
class WorkingDays:
    """The working days among the days of a climate, as day numbers."""

    days: Ints  # all of them, in order
    before: Ints  # the latest on or before each day; -1: none
    after: Ints  # the earliest on or after each day; past the last day: none


# The latest days read of a room that are kept, those that tell how far off it is now, and the offset beyond which it is
# broken rather than off [°C]; common practice, no source.
LATEST, NOW, BROKEN = 14, 7, 4.0
# So many days of readings count for as much as the knowledge that rooms are about what they are set to: a day's mean
# scatters by 1 °C about a room's own, rooms by 0.5 °C about their setting, and 4 = (1 / 0.5)². Common practice.
OFFSET_DAYS = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class RoomOffset:
    """How far a cooler or bench was from what it was set to: means of the latest days that were read, in order [°C]."""

    days: Ints  # day numbers
    off: Floats
    count: int  # of all days that were read

    @property
    def learned(self) -> float:
        """Its offset [°C]: of the last week, pulled toward 0 by how few days were read; 0 where it must be broken."""
        middle = float(np.median(self.off[-NOW:]))
        return 0.0 if abs(middle) > BROKEN else middle * (1.0 - self.doubt)

    @property
    def doubt(self) -> float:
        """Share of the variance between rooms that the readings leave."""
        return OFFSET_DAYS / (self.count + OFFSET_DAYS)


# How far an aired house stays above outdoors [°C]; practice, no source.
LIFT = {"C": 2.0, "F": f_to_c_difference(4.0)}


def outdoor_lift(season: Season) -> float:
    """How far an aired house stays above outdoors [°C]: as stated, or the usual."""
    return LIFT[season.unit] if season.outdoor_lift is None else season.outdoor_lift


@dataclass(slots=True)
class Climate:
    """Low, high and mean [°C] of each place for `days` days from `start`, with the basis of each day."""

    start: date
    days: int
    low: dict[str, Floats]
    high: dict[str, Floats]
    basis: dict[str, NDArray[np.int8]]
    hours: dict[str, dict[int, tuple[float, ...]]]  # of days logged through: equal parts of the day, by index
    offsets: dict[str, RoomOffset] = field(default_factory=dict)  # of the rooms that are read
    _series: dict[tuple[object, ...], Series] = field(default_factory=dict)
    _shifted: dict[tuple[frozenset[str], float], Climate] = field(default_factory=dict)
    _working: dict[WorkCalendar, WorkingDays] = field(default_factory=dict)

    def index(self, day: date) -> int:
        """Day number of a date, kept inside the span that is known."""
        return min(max((day - self.start).days, 0), self.days)

    def day(self, index: int) -> date:
        return self.start + timedelta(days=index)

    def mean(self, place: str) -> Floats:
        return (self.low[place] + self.high[place]) / 2

    def heat(self, place: str, base: float, cap: float | None) -> Series:
        """Heat [°C·d] above `base`, held at the rate of `cap`: sine between low and high.

        Where low and high both lie between base and cap this is the 24-hour mean rule. Days that were
        logged through are the mean of the rate over their hours.
        """
        key = ("heat", place, base, cap)
        if key not in self._series:
            daily = np.array(degree_days(self.low[place], self.high[place], base, cap), dtype=float)
            _put_hours(daily, self.hours.get(place, {}), lambda parts: hourly_degree_days(parts, base, cap))
            self._series[key] = Series.of(daily)
        return self._series[key]

    def ageing(self, place: str, base: float, least: float) -> Series:
        """Heat [°C·d] above `base` without a cap, and never less than `least` a day: what a flower in bloom ages by."""
        key = ("ageing", place, base, least)
        if key not in self._series:
            heat = self.heat(place, base, None)
            daily = np.where(np.diff(heat.gaps) > 0, np.nan, np.maximum(np.diff(heat.cumulative), least))
            self._series[key] = Series.of(daily)
        return self._series[key]

    def cold(self, place: str, curve: str) -> Series:
        """Days of cold credited by the nodes of `curve`: from the day's mean, or the mean over its hours."""
        key = ("cold", place, curve)
        if key not in self._series:
            temperatures, weights = curve_nodes(curve)
            daily = np.array(cold_credit(self.mean(place), temperatures, weights), dtype=float)
            _put_hours(
                daily,
                self.hours.get(place, {}),
                lambda parts: np.mean(cold_credit(parts, temperatures, weights), axis=-1),
            )
            self._series[key] = Series.of(daily)
        return self._series[key]

    def rooting(self, place: str, best: float) -> Series:
        """Days of rooting at the pace of temperature `best` [°C]."""
        key = ("rooting", place, best)
        if key not in self._series:
            self._series[key] = Series.of(np.asarray(rooting_rate(self.mean(place), best), dtype=float))
        return self._series[key]

    def along(self, legs: Legs, kind: Literal["heat", "ageing", "cold", "rooting"], *of: object) -> Series:
        """The series `kind` of these arguments along legs, each until the next begins; 0 before the first."""
        key = ("along", legs, kind, *of)
        if key not in self._series:
            daily = np.zeros(self.days)
            for (place, start), (_, end) in pairwise((*legs, ("", self.days))):
                series: Series = getattr(self, kind)(place, *of)
                missing = np.diff(series.gaps)[start:end] > 0
                daily[start:end] = np.where(missing, np.nan, np.diff(series.cumulative)[start:end])
            self._series[key] = Series.of(daily)
        return self._series[key]

    def working(self, calendar: WorkCalendar) -> WorkingDays:
        """Which of the days are working days."""
        if calendar not in self._working:
            numbers = np.arange(self.days + 1)
            works = np.array([calendar.works(self.day(i)) for i in numbers.tolist()])
            after = np.where(works, numbers, self.days + 8)
            self._working[calendar] = WorkingDays(
                np.flatnonzero(works),
                np.maximum.accumulate(np.where(works, numbers, -1)),
                np.minimum.accumulate(after[::-1])[::-1],
            )
        return self._working[calendar]

    def as_it_is(self, place: str) -> NDArray[np.bool_]:
        """Days on which a room is reckoned with its offset: not read, since the first of its latest readings."""
        if place not in self.offsets:
            return np.zeros(self.days, dtype=bool)
        since = np.arange(self.days) >= self.offsets[place].days[0]
        return np.asarray(np.isin(self.basis[place], SET) & since)

    def assumed(self, place: str, span: Span) -> int:
        """Days of a span whose temperature was not measured there."""
        days = self.basis[place][self.index(span.start) : self.index(span.end)]
        return int(np.count_nonzero(days != MEASURED))

    def shifted(self, places: Collection[str], by: float) -> Climate:
        """The same days with the places so many °C warmer where they were not measured; kept, as many lots ask it."""
        key = frozenset(places), by
        if key in self._shifted:
            return self._shifted[key]
        low, high = dict(self.low), dict(self.high)
        for place in places:
            warmer = np.where(self.basis[place] == MEASURED, 0.0, by)
            low[place], high[place] = low[place] + warmer, high[place] + warmer
        made = Climate(
            self.start, self.days, low, high, self.basis, self.hours, self.offsets, _working=self._working
        )
        return self._shifted.setdefault(key, made)

    def first_gap(self, place: str, span: Span) -> date | None:
        """First day of a span on which nothing is known of the place's temperature."""
        gaps = np.flatnonzero(self.basis[place][self.index(span.start) : self.index(span.end)] == GAP)
        return None if gaps.size == 0 else self.day(self.index(span.start) + int(gaps[0]))


def _put_hours(
    daily: Floats, hours: Mapping[int, tuple[float, ...]], of_day: Callable[[Floats], object]
) -> None:
    """Replace the value of each day of `hours`; `of_day` gives them from (days, parts) in one go."""
    for parts in {len(day) for day in hours.values()}:
        days = [index for index, day in hours.items() if len(day) == parts]
        daily[days] = np.asarray(of_day(np.array([hours[index] for index in days])), dtype=float)


def horizon(season: Season) -> Span:
    """Every day that the season can touch: fourteen months before its first bloom to eight after it closes."""
    targets = [lot.target for lot in season.lots if lot.target] + [season.span.start]
    last = max([season.span.end, *targets, *(d.span.end for d in season.displays)])
    return Span(min(targets) - timedelta(days=425), last + timedelta(days=245))


def unheated(season: Season) -> tuple[str, ...]:
    """The frames, benches and sites for which no temperature is stated: nothing keeps them above the weather."""
    set_for = {setpoint.place for setpoint in season.setpoints}
    return tuple(
        place.name for place in season.places
        if place.kind == "site"
        or (place.kind != "cooler" and place.night is place.day is None and place.name not in set_for)
    )  # fmt: skip


def build_climate(season: Season, programme: Iterable[RoomSetting] = ()) -> Climate:
    """Temperatures of every place of the season. `programme` fills rooms that state none of their own."""
    span = horizon(season)
    climate = Climate(span.start, span.days, {}, {}, {}, {})
    settings = tuple(programme)
    for place in season.places:
        low, high = np.full((2, span.days), np.nan)
        basis = np.zeros(span.days, dtype=np.int8)
        # From the weakest to the strongest, each layer covering the one before.
        _lay_normals(season, place, climate, low, high, basis)
        for setting in settings:
            if setting.place == place.name and setting.basis == "planned":
                _lay(climate, setting.span, setting.night, setting.day, PROGRAMME, low, high, basis)
        if place.day is not None and place.night is not None:
            _lay(climate, span, place.night, place.day, STANDING, low, high, basis)
        _lay_setpoints(season, place, climate, low, high, basis)
        set_to, is_set = (low + high) / 2 - place.shifted, np.isin(basis, SET)
        _lay_readings(season, place, climate, low, high, basis)
        climate.low[place.name], climate.high[place.name] = low, high
        climate.basis[place.name] = basis
        read = np.flatnonzero((basis == MEASURED) & is_set)
        if read.size and place.kind in ("cooler", "bench"):
            latest = read[-LATEST:]
            offset = RoomOffset(latest, ((low + high) / 2 - set_to)[latest], read.size)
            climate.offsets[place.name] = offset
            days = climate.as_it_is(place.name)
            low[days] += offset.learned
            high[days] += offset.learned
    return climate


def _lay(
    climate: Climate, span: Span, one: float, other: float, code: int,
    low: Floats, high: Floats, basis: NDArray[np.int8],
) -> None:  # fmt: skip
    days = slice(climate.index(span.start), climate.index(span.end))
    low[days], high[days] = min(one, other), max(one, other)
    basis[days] = code


def _lay_setpoints(
    season: Season, place: Place, climate: Climate, low: Floats, high: Floats, basis: NDArray[np.int8]
) -> None:
    points = sorted((p for p in season.setpoints if p.place == place.name), key=lambda p: p.start)
    end = climate.day(climate.days)
    for point, following in zip(points, [*(p.start for p in points), end][1:], strict=True):
        if point.start < following:
            _lay(climate, Span(point.start, following), point.night, point.day, SETPOINT, low, high, basis)


def _lay_readings(
    season: Season, place: Place, climate: Climate, low: Floats, high: Floats, basis: NDArray[np.int8]
) -> None:
    mine = (r for r in season.readings if r.place == place.name)
    for reading in sorted(mine, key=lambda r: r.kind == "measured"):  # measured last: it covers forecast
        day = (reading.date - climate.start).days
        if not 0 <= day < climate.days:
            continue
        if reading.low is not None and reading.high is not None:
            # A stated mean is the better average of the day: keep the swing, move its middle.
            middle = (reading.low + reading.high) / 2 if reading.mean is None else reading.mean
            half = (reading.high - reading.low) / 2
            low[day], high[day] = middle - half, middle + half
        elif reading.mean is not None:
            low[day] = high[day] = reading.mean
        else:
            continue
        basis[day] = MEASURED if reading.kind == "measured" else FORECAST
        hours = climate.hours.setdefault(place.name, {})
        hours.pop(day, None)  # of the reading that this one covers
        if reading.hours:
            hours[day] = reading.hours


def _lay_normals(
    season: Season, place: Place, climate: Climate, low: Floats, high: Floats, basis: NDArray[np.int8]
) -> None:
    """Monthly normals stand for the middle of their month; days between are on the line between them."""
    months = sorted((n for n in season.normals if n.place == place.name), key=lambda n: n.month)
    if not months:
        return
    year_days = np.array([(date(2023, n.month, 15) - date(2023, 1, 1)).days for n in months], dtype=float)
    dates = [climate.day(i) for i in range(climate.days)]
    of_year = np.array([min(d.timetuple().tm_yday - 1, 364) for d in dates], dtype=float)
    low[:] = np.interp(of_year, year_days, [n.low for n in months], period=365)
    high[:] = np.interp(of_year, year_days, [n.high for n in months], period=365)
    basis[:] = NORMAL
    if len(months) < 12:
        known = {n.month for n in months}
        unknown = np.array([d.month not in known for d in dates])
        low[unknown] = high[unknown] = np.nan
        basis[unknown] = GAP
