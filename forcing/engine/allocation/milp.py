"""The allocation as a mixed-integer linear program, given to HiGHS: the best answer in the time there is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, NamedTuple

import highspy
import numpy as np

from forcing.engine.allocation.problem import SPLIT, Answer, Floats, Part, Pick, Problem
from forcing.engine.linear_program import INFINITE, Outcome, Program, Terms, add, run, solver

# Nodes of the search tree, whatever the size of the season.
LEAST_NODES, MOST_NODES, NO_LIMIT = 50, 1000, 2**31 - 1


@dataclass(frozen=True, slots=True)
class Limits:
    """When the search ends: near enough, or after so much work, so that answers repeat; seconds are for slow machines.

    Work is nodes of the search tree times columns. None: no limit.
    """

    gap: float = 0.01
    work: int | None = 6_000_000
    seconds: float = 120.0
    threads: int = 1

    def nodes(self, columns: int) -> int:
        """Nodes after which a search over so many columns ends."""
        return (
            NO_LIMIT if self.work is None else min(MOST_NODES, max(LEAST_NODES, self.work // max(columns, 1)))
        )


def solve(
    problem: Problem,
    start: Answer | None,
    goal: Goal,
    caps: tuple[float, float] | None,
    limits: Limits,
    progress: Callable[[str], None],
) -> tuple[Answer | None, Outcome]:
    """The best answer found (None: none was) and how the search ended.

    `caps`: pots that may be left out and hours over the limit; None: any.
    """
    written = AllocationProgram(problem, goal, caps)
    nodes = limits.nodes(len(written.program.cost))
    options: dict[str, bool | int | float | str] = {
        "threads": limits.threads, "time_limit": limits.seconds, "mip_max_nodes": nodes,
        "mip_rel_gap": limits.gap, "mip_abs_gap": 1e-4,
        "mip_feasibility_tolerance": 1e-7, "primal_feasibility_tolerance": 1e-7,
    }  # fmt: skip
    highs = solver(options)
    highs.passModel(written.program.model())

    def better(gap: float) -> None:
        known = f"within {gap * 100:.1f} % of the best there can be" if gap < 10 else "no bound yet"
        progress(f"choosing places: a better answer, {known}")

    found = run(highs, None if start is None else written.hint(start), better)
    return None if found.values is None else written.answer(found.values), found


def room_prices(problem: Problem, seconds: float) -> dict[tuple[str, int], float]:
    """What a pot of room is worth on each peak day, where lots may be divided; none where it is not solved."""
    written = AllocationProgram(problem, "cost", (0.0, 1.0))
    highs = solver({"time_limit": seconds})
    highs.passModel(written.program.model(relaxed=True))
    highs.run()
    if highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return {}
    duals = highs.getSolution().col_dual
    return {key: max(0.0, -float(duals[column])) for key, column in written.loads.items()}


EARLIER = 1e-5  # what a week by which potting is pulled ahead weighs: only between equals
OVERFULL = 1000.0  # what a pot of a kept lot over capacity on a peak day weighs against a pot left out

Goal = Literal["place", "cost"]


class Taking(NamedTuple):
    """Room that one of a column takes in a place from day `start` to day `end`."""

    column: int
    each: float
    start: int
    end: int


class AllocationProgram:
    """Writes the program of a problem and reads answers out of its columns."""

    def __init__(self, problem: Problem, goal: Goal, caps: tuple[float, float] | None) -> None:
        self.problem, self.goal, self.program = problem, goal, Program()
        self.picks: list[list[int]] = []
        self.shares: list[list[int]] = []  # of lots that may be split: columns of the pots that go each way
        self.second: dict[int, int] = {}  # of lots that may be split: whether they are
        self.left: list[int | None] = []
        self.pots: list[dict[int, int]] = []  # column of the week of potting
        self.short: list[int] = []
        self.loads: dict[tuple[str, int], int] = {}  # column of the load of a place on a peak day
        place_all = caps is not None and caps[0] <= 0
        for at, candidate in enumerate(problem.candidates):
            self._lot(at, may_be_left=not candidate.kept and not place_all)
        for place in sorted(problem.room):
            self._room(place)
        if problem.hours is not None:
            self._hours(problem.hours, caps is not None and caps[1] <= 0)
        if caps is not None and caps[0] > 0:
            lefts = {c: self._left_cost(at) for at, c in enumerate(self.left) if c is not None}
            self.program.row(lefts, upper=caps[0] + 1e-6)
        if caps is not None and caps[1] > 0 and self.short:
            self.program.row(dict.fromkeys(self.short, 1.0), upper=caps[1] + 1e-4)

    def _left_cost(self, at: int) -> float:
        return self.problem.candidates[at].lot.pots + 1.0

    def _lot(self, at: int, may_be_left: bool) -> None:
        candidate, program = self.problem.candidates[at], self.program
        cost = [candidate.lot.pots * o.cost if self.goal == "cost" else 0.0 for o in candidate.options]
        self.left.append(None)
        self.shares.append([])
        if candidate.split:
            self.picks.append([program.column() for _ in cost])
        else:
            self.picks.append([program.column(cost=c) for c in cost])
        if not candidate.options:
            return
        if may_be_left:
            self.left[at] = program.column(cost=self._left_cost(at) if self.goal == "place" else 0.0)
        left = self.left[at]
        present: Terms = dict.fromkeys(self.picks[at], 1.0) | ({} if left is None else {left: 1.0})
        if not candidate.split:
            program.row(present, 1.0, 1.0)
            return
        pots = candidate.lot.pots
        dear = SPLIT * pots if self.goal == "cost" else 0.0
        self.second[at] = program.column(cost=dear)
        program.row({**present, self.second[at]: -1.0}, 1.0, 1.0)
        if left is not None:
            program.row({self.second[at]: 1.0, left: 1.0}, upper=1.0)
        self.shares[at] = [program.column(pots, cost=c / pots) for c in cost]
        program.row(
            dict.fromkeys(self.shares[at], 1.0) | ({} if left is None else {left: float(pots)}), pots, pots
        )
        routes: dict[tuple[str | None, str], list[int]] = {}
        for pick, share, option in zip(self.picks[at], self.shares[at], candidate.options, strict=True):
            program.row({share: 1.0, pick: -float(pots)}, upper=0.0)
            program.row({share: 1.0, pick: -1.0}, 0.0)
            routes.setdefault((option.cooler, option.bench), []).append(pick)
        for columns in routes.values():
            if len(columns) > 1:
                program.row(dict.fromkeys(columns, 1.0), upper=1.0)

    # ------------------------------------------------------------ room

    def _taking(self, at: int) -> list[tuple[int, float]]:
        """Of each option of a lot, the column that takes room and how much one of it takes."""
        if self.shares[at]:
            return [(column, self.problem.each(at)) for column in self.shares[at]]
        return [(column, self.problem.candidates[at].area) for column in self.picks[at]]

    def _room(self, place: str) -> None:
        """Rows that keep a place within its capacity on every day."""
        problem, room = self.problem, self.problem.room[place]
        occupied = problem.occupied[place]
        stays: list[Taking] = []
        most, sure = occupied.copy(), occupied.copy()  # could be there, and of kept lots
        for at, candidate in enumerate(problem.candidates):
            reach = np.zeros_like(most)
            for (column, each), option in zip(self._taking(at), candidate.options, strict=True):
                for name, start, end in option.dates.stands:
                    if name == place and start < end:
                        stays.append(Taking(column, each, start, end))
                        reach[start:end] = candidate.area
            most += reach
            if candidate.kept:
                sure += reach
        peaks = peak_days([(s, e) for _, _, s, e in stays] + runs(occupied))
        peaks = [day for day in peaks if most[day] > room + 1e-9]
        if not peaks:
            return
        tight = [bool(sure[day] <= room + 1e-9) for day in peaks]
        left = [room - float(occupied[day]) for day in peaks]
        self._chain(place, stays, peaks, left, tight)

    def _slack(self, tight: bool) -> Terms:
        """A column for pots over capacity where the season's own choices may be too many; none elsewhere."""
        if tight:
            return {}
        slack = self.program.column(
            INFINITE, whole=False, cost=OVERFULL if self.goal == "place" else 10.0 * OVERFULL
        )
        return {slack: -1.0}

    def _chain(
        self, place: str, stays: Sequence[Taking], peaks: Sequence[int], room: Sequence[float], tight: Sequence[bool]
    ) -> None:  # fmt: skip
        program = self.program
        loads: list[int] = []
        changes: list[Terms] = [{} for _ in peaks]
        for column, area, start, end in stays:
            # First peak it is there on, and first after it has left.
            come, gone = (int(i) for i in np.searchsorted(peaks, (start, end)))
            if come == gone:
                continue
            add(changes[come], column, area)
            if gone < len(peaks):
                add(changes[gone], column, -area)
        for i, day in enumerate(peaks):
            slack = self._slack(tight[i])
            load = program.column(INFINITE if slack else room[i], whole=False)
            loads.append(load)
            self.loads[place, day] = load
            if slack:
                program.row({load: 1.0, **slack}, upper=room[i])
            terms = {load: 1.0, **{c: -v for c, v in changes[i].items()}}
            if i:
                terms[loads[i - 1]] = -1.0
            program.row(terms, 0.0, 0.0)

    # ------------------------------------------------------------ hours

    def _hours(self, limit: float, none_over: bool) -> None:
        """Hours of each week within the limit; potting may be pulled ahead of the week it would fall in."""
        problem, program = self.problem, self.program
        weeks: dict[int, Terms] = {}
        for at, candidate in enumerate(problem.candidates):
            by_week: dict[int, list[int]] = {}
            for number in range(len(candidate.options)):
                potted = problem.potting_week(at, number)
                by_week.setdefault(potted, []).append(number)
                for week, column, hours in self._work(at, number, potted):
                    add(weeks.setdefault(week, {}), column, hours)
            self.pots.append({} if candidate.split else self._potting(at, by_week))
            for week, column in self.pots[at].items():
                add(weeks.setdefault(week, {}), column, problem.potting_hours(at))
        for week, terms in sorted(weeks.items()):
            if not none_over:
                cost = 1.0 if self.goal == "place" else OVERFULL
                self.short.append(program.column(INFINITE, whole=False, cost=cost))
                terms = {**terms, self.short[-1]: -1.0}
            program.row(terms, upper=limit - float(problem.busy[week]))

    def _work(self, at: int, number: int, potted: int) -> list[tuple[int, int, float]]:
        """(week, column, hours) of the work of an option; with its potting where that cannot be pulled ahead."""
        problem, pick = self.problem, self.picks[at][number]
        if not self.shares[at]:
            return [(week, pick, hours) for week, hours in problem.work(at, number)]
        share, out = self.shares[at][number], list[tuple[int, int, float]]()
        once = [*problem.work(at, number, 0), (potted, problem.potting_hours(at, 0))]
        with_one = [*problem.work(at, number, 1), (potted, problem.potting_hours(at, 1))]
        for (week, fixed), (_, one) in zip(once, with_one, strict=True):
            out += [(week, pick, fixed), (week, share, one - fixed)]
        return out

    def _potting(self, at: int, by_week: dict[int, list[int]]) -> dict[int, int]:
        """One binary for each week in which the lot may be potted: not after the week its option asks for."""
        problem, program = self.problem, self.program
        allowed: set[int] = set()
        for week, numbers in by_week.items():
            allowed |= {week - k for k in problem.pulls(at, numbers[0])}
        last = max(by_week, default=0)
        earlier = EARLIER if self.goal == "cost" else 0.0
        columns = {w: program.column(cost=earlier * (last - w)) for w in sorted(allowed)}
        if not columns:
            return columns
        program.row(dict.fromkeys(columns.values(), 1.0) | dict.fromkeys(self.picks[at], -1.0), 0.0, 0.0)
        for week in sorted(by_week)[:-1]:
            # An option that asks for potting by this week has it by this week.
            asked = dict.fromkeys((self.picks[at][n] for w in by_week if w <= week for n in by_week[w]), -1.0)
            program.row(dict.fromkeys((c for w, c in columns.items() if w <= week), 1.0) | asked, 0.0)
        # Nor is it pulled farther ahead than allowed.
        for week in sorted(by_week):
            least = min((week - k for k in problem.pulls(at, by_week[week][0])), default=week)
            later = [self.picks[at][n] for w in by_week if w >= week for n in by_week[w]]
            early = [c for w, c in columns.items() if w < least]
            if early:
                program.row(dict.fromkeys([*early, *later], 1.0), upper=1.0)
        return columns

    # ------------------------------------------------------------ answers

    def answer(self, values: Sequence[float]) -> Answer:
        """The answer that the columns say."""
        return tuple(self._pick(at, values) for at in range(len(self.picks)))

    def _pick(self, at: int, values: Sequence[float]) -> Pick | None:
        problem, columns = self.problem, self.picks[at]
        if self.shares[at]:
            pots = {n: round(values[c]) for n, c in enumerate(self.shares[at]) if values[c] > 0.5}
            numbers = sorted(pots, key=lambda n: (-pots[n], n))
            if not numbers:
                return None
            return Pick(numbers[0], 0, Part(numbers[1], pots[numbers[1]]) if len(numbers) > 1 else None)
        number = max(range(len(columns)), key=lambda i: values[columns[i]], default=None)
        if number is None or values[columns[number]] < 0.5:
            return None
        pulled = 0
        if problem.hours is not None:
            potted = [w for w, c in self.pots[at].items() if values[c] > 0.5]
            pulled = problem.potting_week(at, number) - potted[0] if potted else 0
        return Pick(number, pulled if pulled in problem.pulls(at, number) else 0)

    def hint(self, answer: Answer) -> dict[int, float]:
        """Values of the binaries that an answer sets; the rest follows from them."""
        problem, values = self.problem, dict[int, float]()
        for at, pick in enumerate(answer):
            parts = {} if pick is None else {p.option: p.pots for p in problem.parts(at, pick)}
            values |= {c: float(i in parts) for i, c in enumerate(self.picks[at])}
            values |= {c: float(parts.get(i, 0)) for i, c in enumerate(self.shares[at])}
            left = self.left[at]
            if left is not None:
                values[left] = float(pick is None)
            if at in self.second:
                values[self.second[at]] = float(len(parts) > 1)
            if problem.hours is not None:
                potted = None if pick is None else problem.potting_week(at, pick.option) - pick.pulled
                values |= {c: float(w == potted) for w, c in self.pots[at].items()}
        return values


def peak_days(stays: Sequence[tuple[int, int]]) -> list[int]:
    """Days on which a load can be highest: days of arrival that a departure follows before the next arrival."""
    events = sorted({(start, 1) for start, _ in stays} | {(end, 0) for _, end in stays})
    return [day for (day, arrives), (_, next_arrives) in pairwise(events) if arrives and not next_arrives]


def runs(occupied: Floats) -> list[tuple[int, int]]:
    """Stays that make up a load known by day: (from, to) of each stretch above each of its levels."""
    out: list[tuple[int, int]] = []
    for level in np.unique(occupied[occupied > 0]):
        edges = np.diff(np.concatenate(([0], (occupied >= level).astype(int), [0])))
        out += zip(np.flatnonzero(edges > 0).tolist(), np.flatnonzero(edges < 0).tolist(), strict=True)
    return out
