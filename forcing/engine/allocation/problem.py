"""The allocation as plain numbers: room on every day, hours in every week, and what is chosen so far."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from forcing.engine.allocation.dates import Almanac
from forcing.engine.allocation.options import Candidate, Option, hours_of, limited, week_end, week_of
from forcing.model import Minutes, Season

Floats = NDArray[np.float64]
FULL = 1e-6  # rounding of pot areas is not an overfull room
PULL = 4  # weeks by which potting may come before the week that its cooler-in asks for


@dataclass(frozen=True, slots=True)
class Pick:
    """What is chosen for a lot: the number of its option, and the weeks by which its potting is pulled ahead."""

    option: int
    pulled: int = 0


Answer = tuple[Pick | None, ...]  # one for each candidate; None: it is left out


@dataclass(slots=True)
class Problem:
    """Candidates in order of name, the capacity of places, the hours of weeks (None: no limit)."""

    season: Season
    almanac: Almanac
    candidates: tuple[Candidate, ...]
    minutes: Mapping[str, Minutes]
    hours: float | None
    room: dict[str, float] = field(init=False)
    first_potting: int | None = field(init=False)
    known: dict[tuple[int, int], tuple[tuple[int, float], ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.room = limited(self.season.places)
        in_hand = self.season.bulbs_in_hand
        self.first_potting = None if in_hand is None else self.almanac.climate.index(in_hand)

    @property
    def weeks(self) -> int:
        return week_of(self.almanac, self.almanac.climate.days) + 1

    def stands(self, candidate: Candidate, option: Option) -> list[tuple[str, int, int]]:
        """(place, from, to) of the stays in places that can be full."""
        return [stand for stand in option.dates.stands if stand[0] in self.room]

    def work(self, at: int, number: int) -> tuple[tuple[int, float], ...]:
        """(week, hours) of an option's work but the potting."""
        if (at, number) not in self.known:
            candidate, sums = self.candidates[at], dict[int, float]()
            for day, task in candidate.options[number].work:
                week = week_of(self.almanac, day)
                sums[week] = sums.get(week, 0.0) + hours_of(self.minutes, task, candidate.lot.pots)
            self.known[at, number] = tuple(sorted(sums.items()))
        return self.known[at, number]

    def potting_hours(self, at: int) -> float:
        return hours_of(self.minutes, "pot", self.candidates[at].lot.pots)

    def potting_day(self, at: int, pick: Pick) -> int | None:
        """Day of potting; pulled ahead it is the last working day of that week. None: not before bulbs come."""
        day = self.candidates[at].options[pick.option].dates.potting
        if pick.pulled == 0:
            return day
        week = week_of(self.almanac, day) - pick.pulled
        early = int(self.almanac.before[max(0, week_end(self.almanac, week))])
        if week_of(self.almanac, early) != week or early < (self.first_potting or 0):
            return None
        return early

    def pulls(self, at: int, number: int) -> list[int]:
        """Weeks by which the potting of an option can be pulled ahead: 0, and more where hours are limited."""
        if self.hours is None or self.candidates[at].options[number].dates.cooler_in is None:
            return [0]
        return [k for k in range(PULL + 1) if self.potting_day(at, Pick(number, k)) is not None]


@dataclass(slots=True)
class Standing:
    """Room and hours taken by what is chosen so far."""

    problem: Problem
    taken: dict[str, Floats] = field(init=False)
    hours: Floats = field(init=False)
    picks: list[Pick | None] = field(init=False)

    def __post_init__(self) -> None:
        days = self.problem.almanac.climate.days
        self.taken = {name: np.zeros(days + 1) for name in self.problem.room}
        self.hours = np.zeros(self.problem.weeks)
        self.picks = [None] * len(self.problem.candidates)

    def put(self, at: int, pick: Pick, sign: float = 1.0) -> None:
        """Add a candidate with its pick (or take it away, `sign` -1)."""
        problem, candidate = self.problem, self.problem.candidates[at]
        option = candidate.options[pick.option]
        for place, start, end in problem.stands(candidate, option):
            self.taken[place][start:end] += sign * candidate.area
        if problem.hours is not None:
            for week, hours in problem.work(at, pick.option):
                self.hours[week] += sign * hours
            day = problem.potting_day(at, pick)
            assert day is not None
            self.hours[week_of(problem.almanac, day)] += sign * problem.potting_hours(at)
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
        for place, start, end in self.problem.stands(candidate, candidate.options[number]):
            load, room = self.taken[place][start:end], self.problem.room[place]
            if load.size and float(load.max()) + candidate.area > room + FULL:
                total += float(np.clip(load + candidate.area - room, 0.0, candidate.area).sum())
        return total

    def fits(self, at: int, number: int) -> bool:
        """Whether the option finds room on every day."""
        candidate = self.problem.candidates[at]
        for place, start, end in self.problem.stands(candidate, candidate.options[number]):
            if start < end:
                most = float(self.taken[place][start:end].max())
                if most + candidate.area > self.problem.room[place] + FULL:
                    return False
        return True

    def pull(self, at: int, number: int) -> tuple[int, float]:
        """The least pull of potting that keeps within hours, and the hours over limit that are left."""
        problem, limit = self.problem, self.problem.hours
        if limit is None:
            return 0, 0.0
        best: tuple[float, int] | None = None
        work = dict(problem.work(at, number))
        own = problem.potting_hours(at)
        for pulled in problem.pulls(at, number):
            day = problem.potting_day(at, Pick(number, pulled))
            assert day is not None
            week = week_of(problem.almanac, day)
            added = {**work, week: work.get(week, 0.0) + own}
            over = sum(
                max(0.0, float(self.hours[w]) + h - limit) - max(0.0, float(self.hours[w]) - limit)
                for w, h in added.items()
            )
            over = 0.0 if over < FULL else over
            if best is None or over < best[0] - FULL:
                best = (over, pulled)
            if over == 0.0:
                break
        assert best is not None
        return best[1], best[0]

    def hours_over(self) -> float:
        """Hours over the limit, all weeks together."""
        limit = self.problem.hours
        return 0.0 if limit is None else float(np.clip(self.hours - limit - FULL, 0.0, None).sum())


def standing_of(problem: Problem, answer: Sequence[Pick | None]) -> Standing:
    """The room and hours that an answer takes."""
    standing = Standing(problem)
    for at, pick in enumerate(answer):
        if pick is not None:
            standing.put(at, pick)
    return standing


def score(problem: Problem, answer: Sequence[Pick | None]) -> tuple[float, float, float]:
    """What an answer costs, worst first: pots left out, hours over the limit, pot-weeks from the ideal cold."""
    left = sum(c.lot.pots + 1.0 for c, p in zip(problem.candidates, answer, strict=True) if p is None)
    cost = sum(
        c.lot.pots * c.options[p.option].cost
        for c, p in zip(problem.candidates, answer, strict=True)
        if p is not None
    )
    return left, round(standing_of(problem, answer).hours_over(), 6), cost
