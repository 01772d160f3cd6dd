"""The allocation as plain numbers: room on every day, hours in every week, and what is chosen so far."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from forcing.dates import Span
from forcing.engine.allocation.options import Candidate, ClimateSums, Option
from forcing.engine.work.hours import hours_by_week
from forcing.engine.work.house_work import round_minutes
from forcing.model import Minutes, Occupancy, Season, Task

Floats = NDArray[np.float64]
FULL = 1e-6  # rounding of pot areas is not an overfull room
# What it costs to split a lot, in weeks of cold for each of its pots: a little, as it makes more moves.
SPLIT = 0.05


@dataclass(frozen=True, slots=True)
class Part:
    """Pots of a lot that are grown by one of its options."""

    option: int
    pots: int


@dataclass(frozen=True, slots=True)
class Pick:
    """What is chosen for a lot: the number of its option, and the weeks by which its potting is pulled ahead.

    `second`: the part of a split lot that is grown by another option; None: it stays together.
    """

    option: int
    pulled: int = 0
    second: Part | None = None

    @property
    def options(self) -> tuple[int, ...]:
        return (self.option,) if self.second is None else (self.option, self.second.option)


Answer = tuple[Pick | None, ...]  # one for each candidate; None: it is left out


@dataclass(slots=True)
class Problem:
    """Candidates in order of name, the capacity of places, the hours of weeks (None: no limit)."""

    season: Season
    climate_sums: ClimateSums
    candidates: tuple[Candidate, ...]
    minutes: Mapping[str, Minutes]
    hours: float | None
    occupancy: Sequence[Occupancy] = ()  # what stands there beside the lots
    tasks: Sequence[Task] = ()  # work that there is beside that of the lots
    room: dict[str, float] = field(init=False)
    occupied: dict[str, Floats] = field(
        init=False
    )  # room taken beside the lots by day, at most what there is
    busy: Floats = field(init=False)  # hours of each week that the other work takes, at most what there are
    # place -> minutes for each 15 cm pot that the daily round takes there up to each day
    walked: dict[str, Floats] = field(init=False)
    known: dict[tuple[int, int], tuple[tuple[int, float, float], ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        climate = self.climate_sums.climate
        self.room = {place.name: place.pots for place in self.season.places if place.pots is not None}
        self.occupied = {name: np.zeros(climate.days + 1) for name in self.room}
        for place, span, area in self.occupancy:
            if place in self.room:
                self.occupied[place][climate.index(span.start) : climate.index(span.end)] += area
        for place, taken in self.occupied.items():
            np.minimum(taken, self.room[place], out=taken)
        self.busy = np.zeros(self.weeks)
        for week, hours in hours_by_week(self.tasks).items() if self.hours is not None else ():
            self.busy[self.week(climate.index(week))] += hours
        self.walked = {} if self.hours is None else self._walked()
        np.minimum(self.busy, self.hours or 0.0, out=self.busy)

    def _walked(self) -> dict[str, Floats]:
        """What the daily round takes by the pot; what it takes anyhow, where lots must stand, makes weeks busy."""
        climate, walked = self.climate_sums.climate, {}
        of_week = np.array([self.week(day) for day in range(climate.days)])
        for place, by_day in round_minutes(
            self.season, Span(climate.start, climate.day(climate.days))
        ).items():
            once, each = map(np.array, by_day)
            stands, minutes = np.zeros(climate.days, dtype=bool), np.zeros(climate.days)
            for _, span, area in (taken for taken in self.occupancy if taken.place == place):
                there = slice(climate.index(span.start), climate.index(span.end))
                stands[there] = True
                minutes[there] += each[there] * area
            for options in (candidate.options for candidate in self.candidates):
                if options and all(any(place == where for where, _, _ in o.dates.stands) for o in options):
                    for _, start, end in (s for s in options[0].dates.stands if s[0] == place):
                        stands[start:end] = True
            minutes[stands] += once[stands]
            self.busy += np.bincount(of_week, minutes / 60, minlength=self.weeks)
            walked[place] = np.concatenate(([0.0], np.cumsum(each)))
        return walked

    @property
    def weeks(self) -> int:
        return self.week(self.climate_sums.climate.days) + 1

    def week(self, day: int) -> int:
        """Number of the ISO week that a day number is in, counted from the climate's first."""
        return (day + self.climate_sums.climate.start.weekday()) // 7

    def sunday(self, week: int) -> int:
        """Day number of the last day of a week."""
        return week * 7 + 6 - self.climate_sums.climate.start.weekday()

    def each(self, at: int) -> float:
        """Room that one pot of a lot takes."""
        candidate = self.candidates[at]
        return candidate.area / max(1, candidate.lot.pots)

    def parts(self, at: int, pick: Pick) -> tuple[Part, ...]:
        """The lot as one part, or as the two it is split into."""
        pots = self.candidates[at].lot.pots
        if pick.second is None:
            return (Part(pick.option, pots),)
        return (Part(pick.option, pots - pick.second.pots), pick.second)

    def stands(self, option: Option) -> list[tuple[str, int, int]]:
        """(place, from, to) of the stays in places that can be full."""
        return [stand for stand in option.dates.stands if stand[0] in self.room]

    def stays(self, at: int, pick: Pick) -> list[tuple[str, int, int, float]]:
        """(place, from, to, room taken) of a pick in places that can be full."""
        candidate, each = self.candidates[at], self.each(at)
        return [
            (*stand, candidate.area if pick.second is None else part.pots * each)
            for part in self.parts(at, pick)
            for stand in self.stands(candidate.options[part.option])
        ]

    def cost(self, at: int, pick: Pick) -> float:
        """What a pick costs, in pot-weeks from the ideal cold."""
        candidate = self.candidates[at]
        cost = sum(part.pots * candidate.options[part.option].cost for part in self.parts(at, pick))
        return cost + (SPLIT * candidate.lot.pots if pick.second else 0.0)

    def minutes_by_week(self, at: int, number: int) -> tuple[tuple[int, float, float], ...]:
        """(week, minutes each time, minutes for each pot) of an option's work but the potting."""
        if (at, number) not in self.known:
            sums: dict[int, tuple[float, float]] = {}
            for day, task in self.candidates[at].options[number].work:
                week, row = self.week(day), self.minutes[task]
                before = sums.get(week, (0.0, 0.0))
                sums[week] = (before[0] + row.each_time, before[1] + row.for_each(self.candidates[at].lot))
            for week, minutes in self._round_of(self.candidates[at].options[number]):
                before = sums.get(week, (0.0, 0.0))
                sums[week] = (before[0], before[1] + minutes * self.each(at))
            self.known[at, number] = tuple((week, *both) for week, both in sorted(sums.items()))
        return self.known[at, number]

    def _round_of(self, option: Option) -> Iterator[tuple[int, float]]:
        """(week, minutes) of the daily round that a 15 cm pot of an option takes in the places where it stands."""
        for place, start, end in option.dates.stands:
            if place in self.walked and start < end:
                sums, weeks = self.walked[place], range(self.week(start), self.week(end - 1) + 1)
                edges = [start, *(self.sunday(week) + 1 for week in weeks[:-1]), end]
                yield from zip(weeks, np.diff(sums[edges]).tolist(), strict=True)

    def work(self, at: int, number: int, pots: int | None = None) -> list[tuple[int, float]]:
        """(week, hours) of an option's work but the potting, for so many pots (None: all)."""
        count = self.candidates[at].lot.pots if pots is None else pots
        return [(week, (once + each * count) / 60) for week, once, each in self.minutes_by_week(at, number)]

    def potting_hours(self, at: int, pots: int | None = None) -> float:
        row = self.minutes["pot"]
        lot = self.candidates[at].lot
        return (row.each_time + row.for_each(lot) * (lot.pots if pots is None else pots)) / 60

    def work_of(self, at: int, pick: Pick) -> list[tuple[int, float]]:
        """(week, hours) of all the work of a pick, the potting last; a week may come more than once."""
        out: list[tuple[int, float]] = []
        for part in self.parts(at, pick):
            day = self.potting_day(at, Pick(part.option, pick.pulled if pick.second is None else 0))
            assert day is not None
            out += self.work(at, part.option, part.pots)
            out.append((self.week(day), self.potting_hours(at, part.pots)))
        return out

    def potting_week(self, at: int, number: int) -> int:
        """The week in which an option asks for the potting."""
        return self.week(self.candidates[at].options[number].dates.potting)

    def potting_day(self, at: int, pick: Pick) -> int | None:
        """Day of potting; pulled ahead it is the last working day of that week. None: not before bulbs come."""
        day = self.candidates[at].options[pick.option].dates.potting
        if pick.pulled == 0:
            return day
        week = self.week(day) - pick.pulled
        early = int(self.climate_sums.before[max(0, self.sunday(week))])
        in_hand = self.season.in_hand(self.candidates[at].lot)
        if self.week(early) != week or (
            in_hand is not None and self.climate_sums.climate.day(early) < in_hand
        ):
            return None
        return early

    def pulls(self, at: int, number: int) -> list[int]:
        """Weeks by which the potting of an option can be pulled ahead: 0, and more where hours are limited."""
        candidate = self.candidates[at]
        if self.hours is None or candidate.begun or candidate.options[number].dates.cooler_in is None:
            return [0]
        return [k for k in range(candidate.pull + 1) if self.potting_day(at, Pick(number, k)) is not None]


@dataclass(slots=True)
class Usage:
    """Room and hours taken by what is chosen so far."""

    problem: Problem
    taken: dict[str, Floats] = field(init=False)
    hours: Floats = field(init=False)
    picks: list[Pick | None] = field(init=False)

    def __post_init__(self) -> None:
        self.taken = {name: taken.copy() for name, taken in self.problem.occupied.items()}
        self.hours = self.problem.busy.copy()
        self.picks = [None] * len(self.problem.candidates)

    def shift(self, option: Option, area: float) -> None:
        """Take so much more room wherever an option takes it; less, where it is below 0."""
        for place, start, end in self.problem.stands(option):
            self.taken[place][start:end] += area

    def put(self, at: int, pick: Pick, sign: float = 1.0) -> None:
        """Add a candidate with its pick (or take it away, `sign` -1)."""
        problem = self.problem
        for place, start, end, area in problem.stays(at, pick):
            self.taken[place][start:end] += sign * area
        if problem.hours is not None:
            for week, hours in problem.work_of(at, pick):
                self.hours[week] += sign * hours
        self.picks[at] = pick if sign > 0 else None

    def drop(self, at: int) -> Pick | None:
        """Take a candidate away; gives what it had."""
        pick = self.picks[at]
        if pick is not None:
            self.put(at, pick, -1.0)
        return pick

    def over(self, at: int, number: int) -> float:
        """Pot-days over capacity that the option would add; 0 where it fits."""
        candidate, total = self.problem.candidates[at], 0.0
        for place, start, end in self.problem.stands(candidate.options[number]):
            load, room = self.taken[place][start:end], self.problem.room[place]
            if load.size and float(load.max()) + candidate.area > room + FULL:
                total += float(np.clip(load + candidate.area - room, 0.0, candidate.area).sum())
        return total

    def least_over(self, at: int) -> int:
        """The option of a lot that adds least over capacity; of equals the cheapest."""
        options = self.problem.candidates[at].options
        return min(range(len(options)), key=lambda n: (round(self.over(at, n), 3), options[n].cost, n))

    def fits(self, at: int, number: int) -> bool:
        """Whether the option finds room on every day."""
        candidate = self.problem.candidates[at]
        return self.left(candidate.options[number]) >= candidate.area - FULL

    def left(self, option: Option) -> float:
        """Room that an option would find on its fullest day."""
        least = np.inf
        for place, start, end in self.problem.stands(option):
            if start < end:
                least = min(least, self.problem.room[place] - float(self.taken[place][start:end].max()))
        return float(least)

    def most(self, at: int, number: int) -> int:
        """Pots of the lot, up to all of them, that find room by the option."""
        candidate, each = self.problem.candidates[at], self.problem.each(at)
        pots, left = candidate.lot.pots, self.left(candidate.options[number]) + FULL
        return pots if each <= 0 or left >= pots * each else max(0, int(left / each))

    def peak_over(self, place: str) -> float:
        """Pots over the capacity of a place at worst; 0 where it holds them."""
        return max(0.0, float(self.taken[place].max()) - self.problem.room[place])

    def pull(self, at: int, number: int) -> tuple[int, float]:
        """The least pull of potting that keeps within hours, and the hours over limit that are left."""
        problem, limit = self.problem, self.problem.hours
        if limit is None:
            return 0, 0.0
        best: tuple[float, int] | None = None
        for pulled in problem.pulls(at, number):
            over = self.hours_added(at, Pick(number, pulled))
            if best is None or over < best[0] - FULL:
                best = (over, pulled)
            if over == 0.0:
                break
        assert best is not None
        return best[1], best[0]

    def hours_added(self, at: int, pick: Pick) -> float:
        """Hours over the limit that a pick would add."""
        limit = self.problem.hours
        if limit is None:
            return 0.0
        added: dict[int, float] = {}
        for week, hours in self.problem.work_of(at, pick):
            added[week] = added.get(week, 0.0) + hours
        over = sum(
            max(0.0, float(self.hours[w]) + h - limit) - max(0.0, float(self.hours[w]) - limit)
            for w, h in added.items()
        )
        return 0.0 if over < FULL else over

    def hours_over(self) -> float:
        """Hours over the limit, all weeks together."""
        limit = self.problem.hours
        return 0.0 if limit is None else float(np.clip(self.hours - limit - FULL, 0.0, None).sum())


def usage_of(problem: Problem, answer: Sequence[Pick | None]) -> Usage:
    """The room and hours that an answer takes."""
    usage = Usage(problem)
    for at, pick in enumerate(answer):
        if pick is not None:
            usage.put(at, pick)
    return usage


def key(problem: Problem, answer: Sequence[Pick | None]) -> tuple[float, float, float, float]:
    """What makes one answer better than another, worst first.

    Pot-days over capacity, pots left out, hours over the limit, pot-weeks from the ideal cold.
    """
    usage = usage_of(problem, answer)
    over = sum(
        float(np.clip(taken - problem.room[place] - FULL, 0.0, None).sum())
        for place, taken in usage.taken.items()
    )
    left = sum(c.lot.pots + 1.0 for c, p in zip(problem.candidates, answer, strict=True) if p is None)
    cost = sum(problem.cost(at, pick) for at, pick in enumerate(answer) if pick is not None)
    return round(over, 3), left, round(usage.hours_over(), 6), cost
