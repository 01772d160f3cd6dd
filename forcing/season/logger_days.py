"""Readings at moments -> whole days of equal parts, with the limits of what is believed in one place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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


Floats = NDArray[np.float64]


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


def whole_days(
    begin: Floats, end: Floats, values: Floats, midnights: Sequence[float]
) -> list[DayValues | None]:
    """The days between midnights [s], one fewer than these; None where a day is not wholly covered."""
    if len(values) == 0 or len(midnights) < 2:
        return [None] * max(len(midnights) - 1, 0)
    # Taken from a middle value, so that a steady temperature comes back to the last digit.
    middle = float(np.median(values))
    track = Track.of(begin, end, values - middle)
    days = np.asarray(midnights)
    share = np.arange(PARTS) / PARTS
    edges = np.append((days[:-1, None] + np.diff(days)[:, None] * share).ravel(), days[-1])
    covered, summed = track.sums(edges)
    width = np.diff(edges)
    # A millisecond is rounding.
    whole = np.all((np.diff(covered) >= width - 1e-3).reshape(-1, PARTS), axis=1).tolist()
    parts = (np.diff(summed) / width).reshape(-1, PARTS)
    found: list[DayValues | None] = []
    for index in range(len(days) - 1):
        if not whole[index]:
            found.append(None)
            continue
        low, high = track.extremes(days[index], days[index + 1])
        hours = np.clip(parts[index], low, high)
        mean = float(
            np.clip(hours.mean(), hours.min(), hours.max())
        )  # the mean of equals may round beyond them
        found.append(DayValues(low + middle, high + middle, mean + middle, tuple((hours + middle).tolist())))
    return found
