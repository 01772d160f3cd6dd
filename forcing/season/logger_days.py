"""Readings at moments -> whole days of equal parts, with the limits of what is believed in one place.

Stamps are put on one clock, what cannot be right is left out and told, and the rest is cut into days; a day that is
not wholly covered is a gap. Readings travel as a frame: time [s since 1970, UTC], value [°C], interval [s], file, row.
"""

from __future__ import annotations

import re
import zoneinfo
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forcing.dates import DAY, Span
from forcing.errors import Finding, Severity
from forcing.model import Reading
from forcing.season.rows import and_more
from forcing.season.schema import near
from forcing.text import fold_word, some
from forcing.units import TemperatureUnit, from_celsius, show_temperature

HOUR = 3600.0  # s

PARTS = 24  # equal parts of each civil day, be it of 23, 24 or 25 hours
LONGEST_GAP = 3 * HOUR
HOLD = LONGEST_GAP / 2
LOWEST, HIGHEST = -40.0, 60.0  # °C: what such loggers are made for
SPIKE = 8.0  # °C
SPIKE_WITHIN = 1 * HOUR
FLAT = 24 * HOUR
FLAT_READINGS = 12  # fewer equal readings, such as daily means, say nothing about a sensor
DIFFER = 1.0  # °C

FOLDER = "readings"
UNCHANGED = "local clock without changes"
_OFFSET = re.compile(r"(?:UTC|GMT)?\s*([+-])([0-9]{1,2})(?::?([0-9]{2}))?", re.IGNORECASE)

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def where(file: str) -> str:
    """The name of a file of the folder as findings give it."""
    return f"{FOLDER}/{file}"


def told(
    code: str, severity: Severity, hint: str, faults: pd.DataFrame, message: str, column: str | None = None,
    value: str | None = None,
) -> list[Finding]:  # fmt: skip
    """One finding for rows with a fault of one sort: at the first of them, with how many more there are."""
    if faults.empty:
        return []
    first, more = faults.iloc[0], len(faults) - 1
    file, row = where(str(first.file)), int(first.row)
    return [Finding(code, severity, file, row, column, message + and_more(more), hint, value)]


# ---------------------------------------------------------------- clocks


@dataclass(frozen=True, slots=True)
class Clock:
    """The clock of a zone. `unchanged`: a wall clock of no stated zone that never changes."""

    name: str
    zone: tzinfo
    unchanged: bool = False

    @classmethod
    def of(cls, text: str) -> Clock:
        """The clock that `text` names. Raises ValueError, saying what to write."""
        if fold_word(text) == UNCHANGED:
            return cls(UNCHANGED, UTC, unchanged=True)
        if fold_word(text) in ("utc", "gmt", "z"):
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
        match_ = near(text, sorted(known)) or next(
            (z for z in known if fold_word(z) == fold_word(text)), None
        )
        meant = f"Did you mean {match_}? " if match_ else ""
        raise ValueError(
            f"{meant}Write a zone such as Europe/London, an offset such as UTC+1, or: {UNCHANGED}."
        )

    def seconds(self, moments: pd.Series, second: Bools | None = None) -> Floats:
        """Seconds since 1970 in UTC (of an unchanged clock: on that clock) of moments on this clock.

        NaN where the clock skips the moment; `second`: of a moment that it shows twice, whether the later is meant.
        """
        earlier = np.ones(len(moments), dtype=bool) if second is None else ~second
        index = pd.DatetimeIndex(moments).as_unit("us")
        zoned = index.tz_localize(self.zone, ambiguous=earlier, nonexistent="NaT")
        return np.where(zoned.isna(), np.nan, zoned.asi8 / 1e6)

    def twice(self, moments: pd.Series) -> Bools:
        """Which moments this clock shows twice."""
        late = self.seconds(moments, np.ones(len(moments), dtype=bool))
        return np.asarray(late > self.seconds(moments))

    def day(self, seconds: float) -> date:
        """The day that this clock shows."""
        return datetime.fromtimestamp(seconds, UTC).astimezone(self.zone).date()

    def midnights(self, first: date, last: date) -> Floats:
        """The starts of all days from `first` to `last`, in seconds as `seconds` gives them."""
        days = pd.date_range(first, last, unit="us")
        earlier = np.ones(len(days), dtype=bool)
        zoned = days.tz_localize(self.zone, ambiguous=earlier, nonexistent="shift_forward")
        return np.asarray(zoned.asi8 / 1e6)


@dataclass(frozen=True, slots=True)
class Channel:
    """One temperature column of one file. `samples`: moment on `stamps`, value [°C], row; in the order of the file."""

    file: str
    place: str
    unit: TemperatureUnit
    clock: Clock  # as declared
    stamps: Clock  # that of the stamps themselves, where they state their own offset
    stamp: Literal["instant", "start", "end"]
    days: Clock  # whose midnights part the days
    time_column: str
    samples: pd.DataFrame


def days_of(
    channels: Sequence[Channel], span: Span | None
) -> tuple[list[Reading], tuple[date, ...], list[Finding]]:
    """Whole days of channels that are declared alike; the first and last day they touch; what is odd in them."""
    declared = channels[0]
    points, findings = _on_one_clock(channels)
    for clean in (_in_span(span), _without_twins, _without_spikes, _flat):
        if not points.empty:
            points, found = clean(points, declared)
            findings += found
    if points.empty:
        return [], (), findings
    times, values = points.time.to_numpy(), points.value.to_numpy()
    begin, end = stretches(times, points.interval.to_numpy(), declared.stamp)
    first, last = declared.days.day(float(begin[0])), declared.days.day(float(end[-1]))
    found_days = whole_days(begin, end, values, declared.days.midnights(first, last + DAY))
    readings = [
        Reading(declared.place, day, whole.low, whole.high, whole.mean, hours=whole.hours)
        for day, whole in zip(Span(first, last + DAY), found_days, strict=True)
        if whole is not None
    ]
    return readings, (first, last), findings


# ---------------------------------------------------------------- one clock


def _on_one_clock(channels: Sequence[Channel]) -> tuple[pd.DataFrame, list[Finding]]:
    """All readings in order of time; the hour that the clocks repeat or skip is told."""
    channels = sorted(channels, key=lambda c: (c.samples.moment.min(), c.file))
    ordered = [_ordered(channel, number) for number, channel in enumerate(channels)]
    readings = pd.concat(ordered, ignore_index=True)
    readings["again"] = _again(readings)
    findings: list[Finding] = []
    timed: list[pd.DataFrame] = []
    for number, channel in enumerate(channels):
        found, faults = _timed(channel, readings[readings.channel == number])
        timed.append(found)
        findings += faults
    points = pd.concat(timed, ignore_index=True)
    lone = points.interval == 0  # of files too short to show their own interval
    points.loc[lone, "interval"] = interval(points.time.to_numpy()) if lone.any() else 0.0
    findings += _put_back(readings, channels[0].file)
    columns = ["time", "value", "interval", "file", "row"]
    return points[columns].sort_values(columns, ignore_index=True), findings


def _ordered(channel: Channel, number: int) -> pd.DataFrame:
    """Its samples in the order of the file (or its reverse: newest first is an order too), with what is in doubt."""
    samples = channel.samples.assign(file=channel.file, channel=number)
    samples["twice"] = channel.stamps.twice(samples.moment)
    samples["skipped"] = np.isnan(channel.stamps.seconds(samples.moment))
    steps = samples.moment[~samples.twice & ~samples.skipped].diff().dropna()
    backward, forward = bool((steps < timedelta(0)).any()), bool((steps > timedelta(0)).any())
    if backward and not forward:
        samples = samples[::-1]
    return samples.assign(shuffled=backward and forward, goes_on=bool(samples.twice.iloc[0]))


def _again(readings: pd.DataFrame) -> Bools:
    """Which stamps of an hour that is shown twice are of its second pass.

    Once stamps step back or repeat, the clock has been put back; a file may go on inside that hour. In files without
    an order only a stamp that comes twice tells.
    """
    again = pd.Series(False, index=readings.index)
    twice = readings[readings.twice]
    if twice.empty:
        return np.zeros(len(again), dtype=bool)
    mixed = twice[twice.shuffled]
    again[mixed.index] = mixed.groupby(["channel", "moment"]).cumcount() > 0
    new = readings.channel.diff().ne(0) & ~readings.goes_on
    nights = [new.cumsum(), readings.moment.dt.date]
    plain_ = twice[~twice.shuffled]
    keys = [key[plain_.index] for key in nights]
    back = (plain_.moment.groupby(keys).diff() <= timedelta(0)).astype(int)
    again[plain_.index] = back.groupby(keys).cummax() > 0
    return np.asarray(again, dtype=bool)


def _timed(channel: Channel, readings: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    """Readings of a channel with their seconds and usual interval; stamps that cannot be are left out."""
    seconds = channel.stamps.seconds(readings.moment, readings.again.to_numpy())
    hint = "It is left out. Correct the zone; if the logger's clock is not changed, declare its UTC offset."
    message = "a time that the clock skips when it is put forward"
    skipped = readings[readings.skipped]
    findings = told(
        "logger-clock-forward", "warning", hint, skipped, message, channel.time_column, _stamp(skipped)
    )
    timed = readings.assign(time=seconds)[~readings.skipped]
    early = timed[timed.shuffled & (timed.time.diff() < 0)]
    findings += told("logger-order", "note", "Readings are put in order of time.", early,
                     "earlier than the row before it", channel.time_column, _stamp(early))  # fmt: skip
    usual = interval(timed.time.to_numpy()) if len(timed) > 2 else 0.0
    return timed.assign(interval=usual), findings


def _stamp(readings: pd.DataFrame) -> str | None:
    return None if readings.empty else str(readings.moment.iloc[0].isoformat(" ", "minutes"))


def _put_back(readings: pd.DataFrame, file: str) -> Iterator[Finding]:
    """The nights on which readings lie in the hour that the clock shows twice."""
    doubtful = readings[readings.twice & ~readings.shuffled]
    for night, count in doubtful.groupby(doubtful.moment.dt.date).size().items():
        hint = "Nothing, if that is right. A logger whose clock is not changed: declare its UTC offset."
        message = (
            f"the clock is put back: {count} readings lie in the hour that it shows twice, and are taken "
            "in the order of the file"
        )
        yield Finding("logger-clock-back", "note", where(file), None, None, message, hint, str(night))


# ---------------------------------------------------------------- cleaning

Cleaned = tuple[pd.DataFrame, list[Finding]]


def _in_span(span: Span | None) -> Callable[[pd.DataFrame, Channel], Cleaned]:
    """Only what the season can touch: a logger with a lost clock stamps its readings years away."""

    def clean(points: pd.DataFrame, declared: Channel) -> Cleaned:
        if span is None:
            return points, []
        low, high = declared.days.midnights(span.start, span.end)[[0, -1]]
        inside = (points.time >= low) & (points.time < high)
        far = points[~inside]
        if far.empty:
            return points, []
        hint = "They are left out. Check the clock of the logger and the year, if they are not of another season."
        message = f"{len(far)} readings of {declared.place} are far from the season"
        value = declared.days.day(float(far.time.iloc[0])).isoformat()
        return points[inside], told("logger-far", "warning", hint, far[:1], message, value=value)

    return clean


def _without_twins(points: pd.DataFrame, declared: Channel) -> Cleaned:
    """One reading for each moment: the mean, where a stamp comes twice with different values."""
    moments = points.groupby("time", as_index=False)
    found = moments.agg(
        value=("value", "mean"), low=("value", "min"), high=("value", "max"), interval=("interval", "first"),
        file=("file", "first"), row=("row", "first"), count=("value", "size"),
    )  # fmt: skip
    if len(found) == len(points):
        return points, []
    last = moments.last()[["file", "row"]].assign(count=found["count"], differ=found.high > found.low)
    found["value"] = found.value.where(last.differ, found.low)  # the mean of equals may round beside them
    several = last["count"] > 1
    findings: list[Finding] = []
    for code, severity, hint, what, faults in (
        ("logger-twice", "note", "They count once.", "the same value", last[several & ~last.differ]),
        ("logger-twice-different", "warning", "Their mean is used. Correct the file, if one is wrong.",
         "different values", last[last.differ]),
    ):  # fmt: skip
        times = faults["count"].iloc[0] if len(faults) else 0
        findings += told(code, severity, hint, faults, f"this stamp comes {times} times, with {what}")  # type: ignore[arg-type]
    return found[points.columns], findings


def _without_spikes(points: pd.DataFrame, declared: Channel) -> Cleaned:
    values = points.value.to_numpy()
    found = spikes(points.time.to_numpy(), values)
    if not found.size:
        return points, []
    around = [f"{from_celsius(float(v), declared.unit):.1f}" for v in values[found[0] - 1 : found[0] + 2]]
    message = f"{some(len(found), 'spike')}: the temperature jumps and is back with the next reading"
    hint = "Left out. Look at the sensor, its plug and its place."
    value = f"{', '.join(around)} °{declared.unit}"
    kept = points.drop(points.index[found])
    return kept, told("logger-spike", "warning", hint, points.iloc[found[:1]], message, value=value)


def _flat(points: pd.DataFrame, declared: Channel) -> Cleaned:
    """All readings; long stretches without any change are told."""
    times, values = points.time.to_numpy(), points.value.to_numpy()
    found = flats(times, values)
    if not found:
        return points, []
    first, last = found[0]
    hours = (times[last] - times[first]) / HOUR
    more = f", and so {len(found) - 1} more times" if len(found) > 1 else ""
    message = f"no change at all for {hours:.0f} hours (more than {FLAT / HOUR:g}){more}"
    hint = "It is used as it is. See that the sensor works and hangs where the plants are."
    value = f"{from_celsius(float(values[first]), declared.unit):.1f} °{declared.unit}"
    return points, told("logger-flat", "warning", hint, points.iloc[[first]], message, value=value)


# ---------------------------------------------------------------- days of all loggers


@dataclass(frozen=True, slots=True)
class Logged:
    """What the loggers say: readings by place and day, and the days between them that are not whole."""

    readings: tuple[Reading, ...] = ()
    gaps: Mapping[str, tuple[date, ...]] | None = None
    findings: tuple[Finding, ...] = ()


def join_groups(
    channels: Sequence[Channel], span: Span | None
) -> tuple[tuple[Reading, ...], dict[str, tuple[date, ...]], list[Finding]]:
    """Days of each place from all its files; files that are declared alike are read as one."""
    groups: dict[tuple[str, str, str, str], list[Channel]] = {}
    for c in channels:
        groups.setdefault((c.place, c.clock.name, c.stamp, c.days.name), []).append(c)
    by_day: dict[tuple[str, date], Reading] = {}
    touched: dict[str, list[date]] = {}
    findings: list[Finding] = []
    for key in sorted(groups):
        days, spanned, wrong = days_of(groups[key], span)
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
            file = groups[key][0].file
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
    like = f", and so on {some(more, 'more day')}" if more else ""
    mean = _mean(typed)
    return Finding(
        "logger-differs", "warning", "readings", typed.row, "mean",
        f"the logger of {typed.place} says {show_temperature(logged, unit)} on {typed.date}{like}",
        "The typed reading is used. Delete its row to use the logger's.",
        None if mean is None else show_temperature(mean, unit), days=(typed.date,),
    )  # fmt: skip


def _gap(place: str, days: Sequence[date]) -> Finding:
    first = ", ".join(str(day) for day in days[:3]) + (f" to {days[-1]}" if len(days) > 3 else "")
    return Finding(
        "logger-gap", "warning", FOLDER, None, None,
        f"{place} was not logged through on {some(len(days), 'day')}: "
        f"no reading for more than {LONGEST_GAP / HOUR:g} hours",
        "Its stated temperatures are assumed on these days. Type the readings of the day, if there are any.", first,
        days=(days[0], days[-1]),
    )  # fmt: skip


# ---------------------------------------------------------------- the policy


@dataclass(frozen=True, slots=True)
class DayValues:
    """Temperatures [°C] of one whole day: extremes, mean over time, and means of its equal parts."""

    low: float
    high: float
    mean: float
    hours: tuple[float, ...]


def spikes(times: Floats, values: Floats) -> NDArray[np.intp]:
    """Positions of readings that jump from both neighbours, and back, within the policy's limits."""
    if len(values) < 3:
        return np.array([], dtype=np.intp)
    rise, fall = np.diff(values)[:-1], -np.diff(values)[1:]
    step = np.diff(times)
    near = (step[:-1] <= SPIKE_WITHIN) & (step[1:] <= SPIKE_WITHIN)
    jump = np.minimum(np.abs(rise), np.abs(fall)) > SPIKE
    return np.flatnonzero(near & jump & (np.sign(rise) == np.sign(fall))) + 1


def flats(times: Floats, values: Floats) -> list[tuple[int, int]]:
    """First and last position of each stretch without any change for longer than the policy lets pass."""
    if len(values) == 0:
        return []
    breaks = np.flatnonzero((np.diff(values) != 0) | (np.diff(times) > LONGEST_GAP))
    starts = np.concatenate(([0], breaks + 1))
    ends = np.concatenate((breaks, [len(values) - 1]))
    return [
        (int(a), int(b))
        for a, b in zip(starts, ends, strict=True)
        if times[b] - times[a] > FLAT and b - a + 1 >= FLAT_READINGS
    ]


def interval(times: Floats) -> float:
    """The usual time between stamps [s]; 0 where fewer than two differ."""
    steps = np.diff(np.unique(times))
    return float(np.median(steps)) if steps.size else 0.0


def stretches(times: Floats, intervals: Floats, stamp: str) -> tuple[Floats, Floats]:
    """Begin and end of what each reading speaks for; never into its neighbour's. times must increase."""
    if stamp == "instant" or len(times) == 0:
        return times, times
    steps = np.diff(times)
    if stamp == "start":
        return times, times + np.minimum(intervals, np.append(steps, np.inf))
    return times - np.minimum(intervals, np.concatenate(([np.inf], steps))), times


@dataclass(frozen=True, slots=True)
class Track:
    """A temperature through time: straight pieces that do not overlap, with gaps between some of them."""

    begin: Floats  # s
    end: Floats  # s
    first: Floats  # °C at begin
    last: Floats  # °C at end

    @classmethod
    def of(cls, begin: Floats, end: Floats, values: Floats) -> Track:
        """The track of readings that each cover [begin, end)."""
        holes = begin[1:] - end[:-1]
        joined = np.append(holes <= LONGEST_GAP, False)  # to the next reading
        lone_before = ~np.concatenate(([False], joined[:-1]))
        following_begin = np.append(begin[1:], 0.0)
        following = np.append(values[1:], 0.0)
        bridge_end = np.where(joined, following_begin, end + HOLD)
        bridge_last = np.where(joined, following, values)
        pieces = np.concatenate([
            np.stack([begin - HOLD, begin, values, values])[:, lone_before],
            np.stack([begin, end, values, values]),
            np.stack([end, bridge_end, values, bridge_last]),
        ], axis=1)  # fmt: skip
        pieces = pieces[:, pieces[1] > pieces[0]]
        return cls(*pieces[:, np.argsort(pieces[0], kind="stable")])

    def sums(self, moments: Floats) -> tuple[Floats, Floats]:
        """Time covered [s] and temperature summed [°C·s] before each moment."""
        length = self.end - self.begin
        covered = np.concatenate(([0.0], np.cumsum(length)))
        summed = np.concatenate(([0.0], np.cumsum(length * (self.first + self.last) / 2)))
        piece = np.searchsorted(self.begin, moments, side="right") - 1
        at = np.maximum(piece, 0)
        into = np.clip(moments - self.begin[at], 0.0, length[at])
        slope = (self.last[at] - self.first[at]) / length[at]
        inside = piece >= 0
        return (
            np.where(inside, covered[at] + into, 0.0),
            np.where(inside, summed[at] + into * (self.first[at] + slope * into / 2), 0.0),
        )

    def extremes(self, begin: float, end: float) -> tuple[float, float]:
        """Lowest and highest temperature between two moments."""
        pieces = slice(
            int(np.searchsorted(self.end, begin, side="right")), int(np.searchsorted(self.begin, end))
        )
        starts, ends, first = self.begin[pieces], self.end[pieces], self.first[pieces]
        slope = (self.last[pieces] - first) / (ends - starts)
        at = np.concatenate(
            [
                first + slope * (np.maximum(starts, begin) - starts),
                first + slope * (np.minimum(ends, end) - starts),
            ]
        )
        return float(at.min()), float(at.max())


def whole_days(begin: Floats, end: Floats, values: Floats, midnights: Floats) -> list[DayValues | None]:
    """The days between midnights [s], one fewer than these; None where a day is not wholly covered."""
    if len(values) == 0 or len(midnights) < 2:
        return [None] * max(len(midnights) - 1, 0)
    # Taken from a middle value, so that a steady temperature comes back to the last digit.
    middle = float(np.median(values))
    track = Track.of(begin, end, values - middle)
    share = np.arange(PARTS) / PARTS
    edges = np.append((midnights[:-1, None] + np.diff(midnights)[:, None] * share).ravel(), midnights[-1])
    covered, summed = track.sums(edges)
    width = np.diff(edges)
    # A millisecond is rounding.
    whole = np.all((np.diff(covered) >= width - 1e-3).reshape(-1, PARTS), axis=1).tolist()
    parts = (np.diff(summed) / width).reshape(-1, PARTS)
    found: list[DayValues | None] = []
    for index in range(len(midnights) - 1):
        if not whole[index]:
            found.append(None)
            continue
        low, high = track.extremes(midnights[index], midnights[index + 1])
        hours = np.clip(parts[index], low, high)
        mean = float(
            np.clip(hours.mean(), hours.min(), hours.max())
        )  # the mean of equals may round beyond them
        found.append(DayValues(low + middle, high + middle, mean + middle, tuple((hours + middle).tolist())))
    return found
