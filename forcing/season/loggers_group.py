"""All files of one place that are declared alike: put on one clock, cleaned, and cut into days."""

from __future__ import annotations

import operator
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np

from forcing.dates import Span
from forcing.errors import Finding, Severity
from forcing.model import Reading
from forcing.season.loggers_days import Floats, flats, interval, spikes, stretches, whole_days
from forcing.season.loggers_declared import Declaration, where
from forcing.season.loggers_file import Sample, Tally
from forcing.season.loggers_policy import FLAT, HOUR
from forcing.season.loggers_stamps import Clock
from forcing.units import from_celsius


@dataclass(frozen=True, slots=True)
class Channel:
    """One temperature column of one file, in the order of the file."""

    declared: Declaration
    samples: tuple[Sample, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """Channels of one place with the same clock, meaning of stamps and midnights."""

    channels: tuple[Channel, ...]

    @property
    def declared(self) -> Declaration:
        return self.channels[0].declared


@dataclass(frozen=True, slots=True)
class Points:
    """Readings on one clock, in order of time, each with its usual interval, file and row."""

    times: Floats
    values: Floats
    intervals: Floats
    files: tuple[str, ...]
    rows: tuple[int, ...]

    def keep(self, wanted: Sequence[int]) -> Points:
        at = np.asarray(wanted, dtype=np.intp)
        return Points(
            self.times[at], self.values[at], self.intervals[at],
            tuple(self.files[i] for i in wanted), tuple(self.rows[i] for i in wanted),
        )  # fmt: skip


def days_of(group: Group, span: Span | None) -> tuple[list[Reading], tuple[date, ...], list[Finding]]:
    """Whole days of a group; the first and last day it touches, if any; what is odd about its readings."""
    points, findings = _on_one_clock(group)
    points, found = _in_span(points, group, span)
    findings += found
    points, found = _without_twins(points)
    findings += found
    points, found = _without_spikes(points, group)
    findings += found
    findings += _flat(points, group)
    if len(points.times) == 0:
        return [], (), findings
    clock, stamp = group.declared.days, group.declared.stamp
    begin, end = stretches(points.times, points.intervals, stamp)
    first, last = clock.day(float(begin[0])), clock.day(float(end[-1]))
    days = [first + timedelta(days=i) for i in range((last - first).days + 2)]
    found_days = whole_days(begin, end, points.values, [clock.midnight(day) for day in days])
    place = group.declared.place
    readings = [
        Reading(place, day, whole.low, whole.high, whole.mean, hours=whole.hours)
        for day, whole in zip(days[:-1], found_days, strict=True)
        if whole is not None
    ]
    return readings, (first, last), findings


# ---------------------------------------------------------------- one clock


def _on_one_clock(group: Group) -> tuple[Points, list[Finding]]:
    """All readings in order of time; the hour that the clocks repeat or skip is told."""
    channels = sorted(group.channels, key=lambda c: (min(s.moment for s in c.samples), c.declared.file))
    turns = _Turns(group.declared.clock)
    collected: list[tuple[float, float, float, str, int]] = []
    findings: list[Finding] = []
    lone: list[int] = []  # of files too short to show their own interval
    for channel in channels:
        timed, found = _timed(channel, turns)
        findings += found
        usual = interval(np.array([seconds for seconds, _ in timed])) if len(timed) > 2 else 0.0
        if not usual:
            lone += range(len(collected), len(collected) + len(timed))
        file = channel.declared.file
        collected += [(seconds, s.value, usual, file, s.row) for seconds, s in timed]
    findings += turns.findings(channels[0].declared.file)
    common = interval(np.array([row[0] for row in collected])) if lone else 0.0
    for index in lone:
        seconds, value, _, file, row = collected[index]
        collected[index] = (seconds, value, common, file, row)
    collected.sort()
    columns = list(zip(*collected, strict=True)) or [(), (), (), (), ()]
    return Points(
        np.array(columns[0], dtype=float), np.array(columns[1], dtype=float), np.array(columns[2], dtype=float),
        columns[3], columns[4],
    ), findings  # fmt: skip


class _Turns:
    """The nights on which a clock is changed: which of the two hours a stamp belongs to."""

    def __init__(self, clock: Clock) -> None:
        self.clock = clock
        self.quiet: dict[date, bool] = {}
        self.last: datetime | None = None  # stamp in the hour that the clock shows twice
        self.fold = 0
        self.back: Counter[date] = Counter()

    def doubt(self, moment: datetime) -> int:
        """As Clock.doubt, quick on days without a change."""
        day = moment.date()
        if day not in self.quiet:
            noon = datetime(day.year, day.month, day.day, 12)
            step = timedelta(days=1)
            around = {self.clock.seconds(noon + k * step) - k * step.total_seconds() for k in (-1, 0, 1)}
            self.quiet[day] = len(around) == 1
        return 0 if self.quiet[day] else self.clock.doubt(moment)

    def begin(self, first: datetime) -> None:
        """A new file: unless it goes on inside the doubtful hour, that hour begins anew."""
        if self.doubt(first) <= 0:
            self.last, self.fold = None, 0

    def in_order(self, moment: datetime) -> int:
        """First or second pass: once stamps step back or repeat, the clock has been put back."""
        if self.last is None or moment.date() != self.last.date():
            self.fold = 0
        elif moment <= self.last:
            self.fold = 1
        self.last = moment
        self.back[moment.date()] += 1
        return self.fold

    def findings(self, file: str) -> Iterator[Finding]:
        for night, count in sorted(self.back.items()):
            hint = "Nothing, if that is right. A logger whose clock is not changed: declare its UTC offset."
            message = (
                f"the clock is put back: {count} readings lie in the hour that it shows twice, and are taken "
                "in the order of the file"
            )
            yield Finding("logger-clock-back", "note", where(file), None, None, message, hint, str(night))


def _timed(channel: Channel, turns: _Turns) -> tuple[list[tuple[float, Sample]], list[Finding]]:
    """Readings with their seconds, in the order of the file (or its reverse: newest first is an order too)."""
    declared, samples = channel.declared, channel.samples
    skipped = Tally(
        "logger-clock-forward", "warning",
        "It is left out. Correct the zone; if the logger's clock is not changed, declare its UTC offset.",
    )  # fmt: skip
    order = Tally("logger-order", "note", "Readings are put in order of time.")
    plain = [s.moment for s in samples if not turns.doubt(s.moment)]
    backward, forward = (any(map(after, plain, plain[1:])) for after in (operator.gt, operator.lt))
    if backward and not forward:
        samples = samples[::-1]
    shuffled = backward and forward
    seen: Counter[datetime] = Counter()
    timed: list[tuple[float, Sample]] = []
    turns.begin(samples[0].moment)
    for sample in samples:
        if sample.offset is not None:
            seconds = Clock.of("UTC").seconds(sample.moment - sample.offset)
        else:
            doubt, fold = turns.doubt(sample.moment), 0
            if doubt < 0:
                text = sample.moment.isoformat(" ", "minutes")
                skipped.add(
                    sample.row,
                    declared.time_column,
                    "a time that the clock skips when it is put forward",
                    text,
                )
                continue
            if doubt > 0:
                fold = min(seen[sample.moment], 1) if shuffled else turns.in_order(sample.moment)
                seen[sample.moment] += 1
            seconds = declared.clock.seconds(sample.moment, fold)
        if shuffled and timed and seconds < timed[-1][0]:
            order.add(sample.row, declared.time_column, "earlier than the row before it",
                      sample.moment.isoformat(" ", "minutes"))  # fmt: skip
        timed.append((seconds, sample))
    return timed, [*skipped.finding(declared.file), *order.finding(declared.file)]


# ---------------------------------------------------------------- cleaning


def _in_span(points: Points, group: Group, span: Span | None) -> tuple[Points, list[Finding]]:
    """Only what the season can touch: a logger with a lost clock stamps its readings years away."""
    if span is None or len(points.times) == 0:
        return points, []
    clock = group.declared.days
    low, high = clock.midnight(span.start), clock.midnight(span.end)
    inside = np.flatnonzero((points.times >= low) & (points.times < high)).tolist()
    outside = sorted(set(range(len(points.times))) - set(inside))
    if not outside:
        return points, []
    at = outside[0]
    hint = "They are left out. Check the clock of the logger and the year, if they are not of another season."
    message = f"{len(outside)} readings of {group.declared.place} are far from the season"
    value = clock.day(float(points.times[at])).isoformat()
    found = Finding(
        "logger-far", "warning", where(points.files[at]), points.rows[at], None, message, hint, value
    )
    return points.keep(inside), [found]


def _without_twins(points: Points) -> tuple[Points, list[Finding]]:
    """One reading for each moment: the mean, where a stamp comes twice with different values."""
    starts = np.flatnonzero(np.diff(points.times, prepend=-np.inf) > 0).tolist()
    if len(starts) == len(points.times):
        return points, []
    values = points.values.copy()
    same = Tally("logger-twice", "note", "They count once.")
    other = Tally(
        "logger-twice-different", "warning", "Their mean is used. Correct the file, if one is wrong."
    )
    files = {"same": "", "other": ""}
    for start, end in zip(starts, [*starts[1:], len(values)], strict=True):
        if end - start == 1:
            continue
        differ = bool(np.ptp(values[start:end]) > 0)
        tally, key = (other, "other") if differ else (same, "same")
        files[key] = files[key] or points.files[end - 1]
        what = "different values" if differ else "the same value"
        tally.add(points.rows[end - 1], None, f"this stamp comes {end - start} times, with {what}")
        values[start] = values[start:end].mean() if differ else values[start]
    unique = Points(points.times, values, points.intervals, points.files, points.rows).keep(starts)
    return unique, [*same.finding(files["same"]), *other.finding(files["other"])]


def _without_spikes(points: Points, group: Group) -> tuple[Points, list[Finding]]:
    found = spikes(points.times, points.values).tolist()
    if not found:
        return points, []
    first = found[0]
    around = (points.values[first - 1], points.values[first + 1])
    shown = [
        f"{from_celsius(float(v), group.declared.unit):.1f}"
        for v in (around[0], points.values[first], around[1])
    ]
    message = f"{_count(found, 'spike')}: the temperature jumps and is back with the next reading"
    hint = "Left out. Look at the sensor, its plug and its place."
    value = f"{', '.join(shown)} °{group.declared.unit}"
    finding = _at(points, first, "logger-spike", "warning", message, hint, value)
    return points.keep(sorted(set(range(len(points.times))) - set(found))), [finding]


def _flat(points: Points, group: Group) -> Iterator[Finding]:
    found = flats(points.times, points.values)
    if not found:
        return
    first, last = found[0]
    hours = (points.times[last] - points.times[first]) / HOUR
    more = f", and so {len(found) - 1} more times" if len(found) > 1 else ""
    message = f"no change at all for {hours:.0f} hours (more than {FLAT / HOUR:g}){more}"
    hint = "It is used as it is. See that the sensor works and hangs where the plants are."
    unit = group.declared.unit
    value = f"{from_celsius(float(points.values[first]), unit):.1f} °{unit}"
    yield _at(points, first, "logger-flat", "warning", message, hint, value)


def _count(found: Sequence[int], word: str) -> str:
    return f"{len(found)} {word}{'s' if len(found) > 1 else ''}"


def _at(
    points: Points, index: int, code: str, severity: Severity, message: str, hint: str, value: str
) -> Finding:
    return Finding(code, severity, where(points.files[index]), points.rows[index], None, message, hint, value)
