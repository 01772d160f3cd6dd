"""The allocation as a mixed-integer linear program, solved with HiGHS.

One binary for each lot and option. The load of a place is followed from one peak day to the next (a day with
arrivals after which something leaves): load there = load before + arrivals - departures, so that an option
is written only where it comes and goes, not on every day it stays. A load can be highest on a peak day only.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any, Literal

import highspy
import numpy as np

from forcing.engine.allocation.options import week_of
from forcing.engine.allocation.problem import Answer, Pick, Problem

Hush = Callable[[], AbstractContextManager[None]]  # keeps standard output silent while it is open
INFINITE = highspy.kHighsInf
EARLIER = 1e-5  # what a week by which potting is pulled ahead weighs: only between equals
OVERFULL = 1000.0  # what a pot of a kept lot over capacity on a peak day weighs against a pot left out


@dataclass(frozen=True, slots=True)
class Limits:
    """When the search ends. The node limit comes before the time on most seasons, so that answers repeat."""

    gap: float = 0.01
    seconds: float = 60.0
    nodes: int = 20_000
    threads: int = 1
    enough: float | None = None  # an answer this cheap ends the search: it is near a bound known otherwise


@dataclass(frozen=True, slots=True)
class Solved:
    """An answer (None: none was found), what it costs, its bound and how the search ended."""

    answer: Answer | None
    objective: float
    bound: float
    status: str

    @property
    def gap(self) -> float:
        """Share by which the answer may be dearer than the best there is."""
        return max(0.0, self.objective - self.bound) / max(abs(self.objective), 1e-9)


Goal = Literal["place", "cost"]


@dataclass(slots=True)
class Program:
    """Columns and rows as they are written down."""

    cost: list[float] = field(default_factory=list)
    lower: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    rows: list[tuple[list[int], list[float], float, float]] = field(default_factory=list)

    def column(self, cost: float = 0.0, upper: float = 1.0, whole: bool = True, lower: float = 0.0) -> int:
        self.cost.append(cost)
        self.lower.append(lower)
        self.upper.append(upper)
        self.whole.append(whole)
        return len(self.cost) - 1

    def row(self, columns: list[int], values: list[float], lower: float, upper: float) -> None:
        self.rows.append((columns, values, lower, upper))

    def model(self) -> Any:
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self.cost), len(self.rows)
        lp.col_cost_ = np.array(self.cost)
        lp.col_lower_, lp.col_upper_ = np.array(self.lower), np.array(self.upper)
        lp.row_lower_ = np.array([row[2] for row in self.rows])
        lp.row_upper_ = np.array([row[3] for row in self.rows])
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lengths = [len(row[0]) for row in self.rows]
        lp.a_matrix_.start_ = np.concatenate(([0], np.cumsum(lengths))).astype(np.int32)
        lp.a_matrix_.index_ = np.array([c for row in self.rows for c in row[0]], dtype=np.int32)
        lp.a_matrix_.value_ = np.array([v for row in self.rows for v in row[1]], dtype=float)
        kind = highspy.HighsVarType
        lp.integrality_ = [kind.kInteger if whole else kind.kContinuous for whole in self.whole]
        return lp


class Writer:
    """Writes the program of a problem and reads answers out of its columns. `plain`: a row for every day."""

    def __init__(
        self, problem: Problem, goal: Goal, caps: tuple[float, float] | None, plain: bool = False
    ) -> None:
        self.problem, self.goal, self.plain, self.program = problem, goal, plain, Program()
        self.picks: list[list[int]] = []
        self.left: list[int | None] = []
        self.pots: list[dict[int, int]] = []  # column of the week of potting
        self.short: list[int] = []
        self.kept_over: list[int] = []
        self.loads: dict[tuple[str, int], int] = {}  # column of the load of a place on a peak day
        place_all = caps is not None and caps[0] <= 0
        for at, candidate in enumerate(problem.candidates):
            self._lot(at, may_be_left=not candidate.kept and not place_all)
        for place in sorted(problem.room):
            self._room(place)
        if problem.hours is not None:
            self._hours(problem.hours, caps is not None and caps[1] <= 0)
        if caps is not None and caps[0] > 0:
            lefts = [(c, self._left_cost(at)) for at, c in enumerate(self.left) if c is not None]
            self.program.row([c for c, _ in lefts], [v for _, v in lefts], -INFINITE, caps[0] + 1e-6)
        if caps is not None and caps[1] > 0 and self.short:
            self.program.row(self.short, [1.0] * len(self.short), -INFINITE, caps[1] + 1e-4)

    def _left_cost(self, at: int) -> float:
        return self.problem.candidates[at].lot.pots + 1.0

    def _lot(self, at: int, may_be_left: bool) -> None:
        candidate, program = self.problem.candidates[at], self.program
        cost = [candidate.lot.pots * o.cost if self.goal == "cost" else 0.0 for o in candidate.options]
        self.picks.append([program.column(c) for c in cost])
        if not candidate.options:
            self.left.append(None)
            return
        columns = list(self.picks[at])
        self.left.append(None)
        if may_be_left:
            left = program.column(self._left_cost(at) if self.goal == "place" else 0.0)
            self.left[at] = left
            columns.append(left)
        program.row(columns, [1.0] * len(columns), 1.0, 1.0)

    # ------------------------------------------------------------ room

    def _room(self, place: str) -> None:
        """Rows that keep a place within its capacity on every day."""
        problem, room = self.problem, self.problem.room[place]
        days = problem.almanac.climate.days
        stays: list[tuple[int, float, int, int]] = []
        most, sure = np.zeros(days + 1), np.zeros(days + 1)  # could be there, and of kept lots
        for at, candidate in enumerate(problem.candidates):
            reach = np.zeros(days + 1)
            for number, option in enumerate(candidate.options):
                for name, start, end in option.dates.stands:
                    if name == place and start < end:
                        stays.append((self.picks[at][number], candidate.area, start, end))
                        reach[start:end] = candidate.area
            most += reach
            if candidate.kept:
                sure += reach
        peaks = peak_days([(s, e) for _, _, s, e in stays])
        peaks = [day for day in peaks if most[day] > room + 1e-9]
        if not peaks:
            return
        tight = {d: room if sure[d] <= room + 1e-9 else None for d in peaks}
        if self.plain:
            self._day_rows(stays, peaks, room, tight)
        else:
            self._chain(place, stays, peaks, room, tight)

    def _slack(self, day: int, tight: dict[int, float | None]) -> int | None:
        """A column for pots over capacity where the season's own choices may be too many; None elsewhere."""
        if tight[day] is not None:
            return None
        slack = self.program.column(OVERFULL if self.goal == "place" else 10.0 * OVERFULL, INFINITE, False)
        self.kept_over.append(slack)
        return slack

    def _day_rows(
        self, stays: Sequence[tuple[int, float, int, int]], peaks: Sequence[int], room: float,
        tight: dict[int, float | None],
    ) -> None:  # fmt: skip
        for day in peaks:
            there = [(column, area) for column, area, start, end in stays if start <= day < end]
            columns, values = [c for c, _ in there], [a for _, a in there]
            slack = self._slack(day, tight)
            if slack is not None:
                columns.append(slack)
                values.append(-1.0)
            self.program.row(columns, values, -INFINITE, room)

    def _chain(
        self, place: str, stays: Sequence[tuple[int, float, int, int]], peaks: Sequence[int], room: float,
        tight: dict[int, float | None],
    ) -> None:  # fmt: skip
        program = self.program
        loads, changes = [], [dict[int, float]() for _ in peaks]
        for column, area, start, end in stays:
            # First peak it is there on, and first after it has left.
            come, gone = (int(i) for i in np.searchsorted(peaks, (start, end)))
            if come == gone:
                continue
            changes[come][column] = changes[come].get(column, 0.0) + area
            if gone < len(peaks):
                changes[gone][column] = changes[gone].get(column, 0.0) - area
        for i, day in enumerate(peaks):
            slack = self._slack(day, tight)
            load = program.column(0.0, room if slack is None else INFINITE, False)
            loads.append(load)
            self.loads[place, day] = load
            if slack is not None:
                program.row([load, slack], [1.0, -1.0], -INFINITE, room)
            change = {c: v for c, v in changes[i].items() if v != 0.0}
            columns, values = [load, *change], [1.0, *(-v for v in change.values())]
            if i:
                columns.append(loads[i - 1])
                values.append(-1.0)
            program.row(columns, values, 0.0, 0.0)

    # ------------------------------------------------------------ hours

    def _hours(self, limit: float, none_over: bool) -> None:
        """Hours of each week within the limit; potting may be pulled ahead of the week it would fall in."""
        problem, program = self.problem, self.program
        weeks: dict[int, dict[int, float]] = {}
        for at, candidate in enumerate(problem.candidates):
            by_week: dict[int, list[int]] = {}
            for number, option in enumerate(candidate.options):
                for week, hours in problem.work(at, number):
                    weeks.setdefault(week, {})[self.picks[at][number]] = hours
                by_week.setdefault(week_of(problem.almanac, option.dates.potting), []).append(number)
            self.pots.append(self._potting(at, by_week))
            for week, column in self.pots[at].items():
                hours = problem.potting_hours(at)
                weeks.setdefault(week, {})[column] = weeks.get(week, {}).get(column, 0.0) + hours
        for _, terms in sorted(weeks.items()):
            columns, values = list(terms), list(terms.values())
            if not none_over:
                short = program.column(1.0 if self.goal == "place" else OVERFULL, INFINITE, False)
                self.short.append(short)
                columns.append(short)
                values.append(-1.0)
            program.row(columns, values, -INFINITE, limit)

    def _potting(self, at: int, by_week: dict[int, list[int]]) -> dict[int, int]:
        """One binary for each week in which the lot may be potted: not after the week its option asks for."""
        problem, program = self.problem, self.program
        allowed: set[int] = set()
        for week, numbers in by_week.items():
            allowed |= {week - k for k in problem.pulls(at, numbers[0])}
        last = max(by_week, default=0)
        columns = {
            w: program.column(EARLIER * (last - w) if self.goal == "cost" else 0.0) for w in sorted(allowed)
        }
        if not columns:
            return columns
        everything = self.picks[at]
        program.row(
            [*columns.values(), *everything], [1.0] * len(columns) + [-1.0] * len(everything), 0.0, 0.0
        )
        for week in sorted(by_week)[:-1]:
            # An option that asks for potting by this week has it by this week.
            asked = [self.picks[at][n] for w in by_week if w <= week for n in by_week[w]]
            early = [c for w, c in columns.items() if w <= week]
            program.row([*early, *asked], [1.0] * len(early) + [-1.0] * len(asked), 0.0, INFINITE)
        # Nor is it pulled farther ahead than allowed.
        for week in sorted(by_week):
            least = min((week - k for k in problem.pulls(at, by_week[week][0])), default=week)
            later = [self.picks[at][n] for w in by_week if w >= week for n in by_week[w]]
            early = [c for w, c in columns.items() if w < least]
            if early:
                program.row([*early, *later], [1.0] * (len(early) + len(later)), -INFINITE, 1.0)
        return columns

    # ------------------------------------------------------------ answers

    def answer(self, values: Sequence[float]) -> Answer:
        """The answer that the columns say."""
        out: list[Pick | None] = []
        for at, columns in enumerate(self.picks):
            number = max(range(len(columns)), key=lambda i, c=columns: values[c[i]], default=None)  # type: ignore[misc]
            if number is None or values[columns[number]] < 0.5:
                out.append(None)
                continue
            pulled = 0
            if self.problem.hours is not None:
                day = self.problem.candidates[at].options[number].dates.potting
                potted = [w for w, c in self.pots[at].items() if values[c] > 0.5]
                pulled = week_of(self.problem.almanac, day) - potted[0] if potted else 0
                if pulled not in self.problem.pulls(at, number):
                    pulled = 0
            out.append(Pick(number, pulled))
        return tuple(out)

    def hint(self, answer: Answer) -> dict[int, float]:
        """Values of the binaries that an answer sets; the rest follows from them."""
        values: dict[int, float] = {}
        for at, pick in enumerate(answer):
            values |= {c: float(pick is not None and pick.option == i) for i, c in enumerate(self.picks[at])}
            left = self.left[at]
            if left is not None:
                values[left] = float(pick is None)
            if self.problem.hours is not None:
                potted = None
                if pick is not None:
                    day = self.problem.candidates[at].options[pick.option].dates.potting
                    potted = week_of(self.problem.almanac, day) - pick.pulled
                values |= {c: float(w == potted) for w, c in self.pots[at].items()}
        return values


def peak_days(stays: Sequence[tuple[int, int]]) -> list[int]:
    """Days on which a load can be highest: days of arrival that a departure follows before the next arrival."""
    events = sorted({(start, 1) for start, _ in stays} | {(end, 0) for _, end in stays})
    return [day for (day, arrives), (_, next_arrives) in pairwise(events) if arrives and not next_arrives]


def solve(
    problem: Problem,
    start: Answer | None,
    goal: Goal,
    caps: tuple[float, float] | None,
    limits: Limits,
    progress: Callable[[str], None],
    hush: Hush = nullcontext,
    plain: bool = False,
) -> Solved:
    """The best answer found. `caps`: pots that may be left out and hours over the limit; None: any."""
    writer = Writer(problem, goal, caps, plain)
    highspy.Highs.resetGlobalScheduler(True)  # or another number of threads ends without an answer
    with hush():
        highs = highspy.Highs()  # type: ignore[no-untyped-call]  # it greets on C's standard output as it is made, and is silent after
    for option, value in (
        ("output_flag", False), ("threads", limits.threads), ("random_seed", 1), ("time_limit", limits.seconds),
        ("mip_rel_gap", limits.gap), ("mip_abs_gap", 1e-4), ("mip_max_nodes", limits.nodes),
        ("mip_feasibility_tolerance", 1e-7), ("primal_feasibility_tolerance", 1e-7),
    ):  # fmt: skip
        highs.setOptionValue(option, value)
    if limits.enough is not None:
        highs.setOptionValue("objective_target", limits.enough)
    highs.passModel(writer.program.model())
    if start is not None:
        hint = writer.hint(start)
        columns = np.array(list(hint), dtype=np.int32)
        highs.setSolution(len(hint), columns, np.array(list(hint.values())))
    _tell(highs, progress)
    highs.run()
    status = highs.modelStatusToString(highs.getModelStatus())
    info = highs.getInfo()
    found = list(highs.getSolution().col_value) if info.primal_solution_status == 2 else None
    objective, bound = float(info.objective_function_value), float(info.mip_dual_bound)
    return Solved(writer.answer(found) if found else None, objective, bound, status)


def room_prices(problem: Problem, seconds: float, hush: Hush = nullcontext) -> dict[tuple[str, int], float]:
    """What a pot of room is worth on each peak day, where lots may be divided; none where it is not solved."""
    writer = Writer(problem, "cost", (0.0, 1.0))
    model = writer.program.model()
    model.integrality_ = []
    with hush():
        highs = highspy.Highs()  # type: ignore[no-untyped-call]
    for option, value in (
        ("output_flag", False),
        ("threads", 1),
        ("random_seed", 1),
        ("time_limit", seconds),
    ):
        highs.setOptionValue(option, value)
    highs.passModel(model)
    highs.run()
    if highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return {}
    duals = highs.getSolution().col_dual
    return {key: max(0.0, -float(duals[column])) for key, column in writer.loads.items()}


def _tell(highs: Any, progress: Callable[[str], None]) -> None:
    """Say every better answer as it is found."""

    def better(kind: int, message: str, out: Any, given: Any, data: Any) -> None:
        gap = out.mip_gap
        known = f"within {gap * 100:.1f} % of the best there can be" if gap < 10 else "no bound yet"
        progress(f"choosing places: a better answer, {known}")

    highs.setCallback(better, None)
    highs.startCallback(highspy.cb.HighsCallbackType.kCallbackMipImprovingSolution)
