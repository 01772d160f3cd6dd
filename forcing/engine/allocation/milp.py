"""The allocation as a mixed-integer linear program for HiGHS: what it costs at least, and the best answer it finds."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from forcing.engine.allocation.problem import SPLIT, Answer, Floats, Part, Pick, Problem
from forcing.files import silence

if TYPE_CHECKING:
    import highspy  # read in where a program is solved: most plans keep the rooms that they state or had

# ---------------------------------------------------------------- a program written down, for HiGHS

INFINITE = math.inf
Terms = dict[int, float]  # column -> value
Ints = NDArray[np.int64]


@dataclass(slots=True)
class Program:
    """Columns and rows of a linear program as they are written down."""

    cost: list[float] = field(default_factory=list)
    lower: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    row_lower: list[float] = field(default_factory=list)
    row_upper: list[float] = field(default_factory=list)
    starts: list[int] = field(default_factory=lambda: [0])
    index: list[int] = field(default_factory=list)
    value: list[float] = field(default_factory=list)
    offset: float = 0.0  # of the objective

    def column(self, upper: float = 1.0, *, whole: bool = True, cost: float = 0.0, lower: float = 0.0) -> int:
        """Write a column and give its number."""
        self.cost.append(cost)
        self.lower.append(lower)
        self.upper.append(upper)
        self.whole.append(whole)
        return len(self.cost) - 1

    def row(self, terms: Mapping[int, float], lower: float = -INFINITE, upper: float = INFINITE) -> None:
        """Write a row: lower <= sum of terms <= upper."""
        for column, value in terms.items():
            if value != 0.0:
                self.index.append(column)
                self.value.append(value)
        self.starts.append(len(self.index))
        self.row_lower.append(lower)
        self.row_upper.append(upper)

    def row_of(self, columns: Ints, values: Floats, upper: float) -> None:
        """Write a row of columns that are known as arrays: sum of values times columns <= upper."""
        self.index.extend(columns.tolist())
        self.value.extend(values.tolist())
        self.starts.append(len(self.index))
        self.row_lower.append(-INFINITE)
        self.row_upper.append(upper)

    def model(self, relaxed: bool = False) -> highspy.HighsLp:
        """The program as HiGHS takes it; `relaxed`: without the demand that columns be whole numbers."""
        import highspy

        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self.cost), len(self.row_lower)
        lp.col_cost_, lp.offset_ = np.array(self.cost), self.offset
        lp.col_lower_, lp.col_upper_ = np.array(self.lower), np.array(self.upper)
        lp.row_lower_, lp.row_upper_ = np.array(self.row_lower), np.array(self.row_upper)
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.array(self.starts, dtype=np.int32)
        lp.a_matrix_.index_ = np.array(self.index, dtype=np.int32)
        lp.a_matrix_.value_ = np.array(self.value)
        kind = highspy.HighsVarType
        if not relaxed:
            lp.integrality_ = [kind.kInteger if whole else kind.kContinuous for whole in self.whole]
        return lp


def solver(options: Mapping[str, bool | int | float | str]) -> highspy.Highs:
    """A silent HiGHS with these options set, whose answers repeat."""
    import highspy

    highspy.Highs.resetGlobalScheduler(True)  # or another number of threads ends without an answer
    with silence():  # it greets on C's standard output as it is made, and is silent after
        highs = highspy.Highs()  # type: ignore[no-untyped-call]
    for option, value in {"output_flag": False, "threads": 1, "random_seed": 1, **options}.items():
        highs.setOptionValue(option, value)
    return highs


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a run ended: status in words, values of the columns (None: no answer was found), objective, bound."""

    status: str
    values: list[float] | None
    objective: float
    bound: float
    seconds: float
    iterations: int  # of the simplex method, those of the search tree too
    nodes: int  # of the search tree
    reduced: list[float]  # of each column of a program without whole numbers, its reduced cost


def run(
    highs: highspy.Highs,
    start: Mapping[int, float] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Outcome:
    """Solve the model that was passed; `start`: values of some columns of an answer that is known.

    `stop` is asked now and then, and ends the run where it is true.
    """
    if stop is not None:

        def watch(kind: object, message: str, out: object, given: Any, data: object) -> None:
            given.user_interrupt = stop()

        from highspy import cb

        kinds = cb.HighsCallbackType
        highs.setCallback(watch, None)
        highs.startCallback(kinds.kCallbackMipInterrupt)
        highs.startCallback(kinds.kCallbackSimplexInterrupt)
    if start:
        columns, values = np.array(list(start), dtype=np.int32), np.array(list(start.values()))
        highs.setSolution(len(start), columns, values)
    highs.run()
    info = highs.getInfo()
    solution = highs.getSolution()
    found = list(solution.col_value) if info.primal_solution_status == 2 else None
    return Outcome(
        highs.modelStatusToString(highs.getModelStatus()), found or None, float(info.objective_function_value),
        float(info.mip_dual_bound), float(highs.getRunTime()),
        max(0, int(info.simplex_iteration_count)), max(0, int(info.mip_node_count)), list(solution.col_dual),
    )  # fmt: skip


def add(terms: Terms, column: int, value: float) -> None:
    """So much more of a column in a linear expression."""
    terms[column] = terms.get(column, 0.0) + value


# ---------------------------------------------------------------- the allocation as a program

EARLIER = 1e-5  # what a week by which potting is pulled ahead weighs: only between equals
LEFT = 1000.0  # what a pot left out, or an hour over the limit, weighs in "cost", in pot-weeks from the ideal cold
OVERFULL = 1000.0  # what a pot of a kept lot over capacity on a peak day weighs against a pot left out

# What is made least: pots left out and hours over the limit alone; or these first and then the distance from the ideal.
Goal = Literal["place", "cost"]


@dataclass(frozen=True, slots=True)
class Limits:
    """When the search ends: near enough, or after so much work, so that answers repeat; seconds are for slow machines.

    Work is iterations of the simplex method times the size of the program, all programs of a search together.
    """

    gap: float = 0.01
    work: float = 7e9
    seconds: float = 55.0  # of the processor


PER_NODE = 40.0  # iterations that a node of the search tree takes, until a tree has told
AT_LEAST = 150  # iterations that a program counts as, however soon it is solved
WRITING = 120_000.0  # what writing a row down counts as, in iterations times values
OVERHEAD = 40_000  # values in a program that take as long as what every iteration takes besides


USUAL, SLOWER = 60, 1.3  # lots beyond which all else than iterations counts for more, and with which power


@dataclass(slots=True)
class Effort:
    """What a search has done so far of what it may do."""

    limits: Limits
    lots: int
    done: float = 0.0
    per_node: float = PER_NODE
    begun: float = field(default_factory=time.process_time)

    def late(self) -> bool:
        return time.process_time() - self.begun > self.limits.seconds

    @property
    def slow(self) -> float:
        """By how much longer than in a usual season an iteration takes, with all that goes with it."""
        return float(max(1.0, self.lots / USUAL) ** SLOWER)

    @property
    def share(self) -> float:
        """Of the work that it may do, what is done."""
        return self.done / self.limits.work

    def over(self) -> bool:
        return self.share >= 1.0 or self.late()

    def solved(self, program: Program, share: float, start: dict[int, float]) -> Outcome:
        """The program solved with about this share of all the work, and counted."""
        size = len(program.value) + OVERHEAD
        work = min(self.limits.work - self.done, share * self.limits.work)
        nodes = 2**31 - 1 if math.isinf(work) else max(1, int(work / size / self.per_node / self.slow))
        highs = solver(
            {
                "mip_max_nodes": min(nodes, 2**31 - 1), "mip_rel_gap": self.limits.gap, "mip_abs_gap": 1e-4,
                "mip_feasibility_tolerance": 1e-7, "primal_feasibility_tolerance": 1e-7,
            }
        )  # fmt: skip
        highs.passModel(program.model())
        found = run(highs, start, self.late)
        done = (found.iterations + AT_LEAST) * size + WRITING * len(program.row_lower)
        self.done += done * self.slow
        if found.nodes >= nodes:
            self.per_node = min(PER_NODE, max(4.0, found.iterations / found.nodes))
        return found


@dataclass(frozen=True, slots=True)
class Relaxation:
    """The program with lots that may be divided at will: a bound, and of each lot's options what they are worth."""

    bound: float
    dearer: list[Floats]  # by how much the cost of all rises at least, where the option is chosen
    shares: list[Floats]  # of the lot that go by the option


def relaxed(problem: Problem) -> Relaxation | None:
    """The relaxation of all options; None where it was not solved."""
    written = AllocationProgram(problem, "cost")
    highs = solver({})
    highs.passModel(written.program.model(relaxed=True))
    found = run(highs)
    if found.values is None or found.status != "Optimal":
        return None
    reduced, values = np.maximum(0.0, found.reduced), np.array(found.values)
    dearer, shares = [], []
    for picks, parts in zip(written.picks, written.shares, strict=True):
        dearer.append(reduced[picks] + (reduced[parts] if parts else 0.0))
        shares.append(values[parts] if parts else values[picks])
    return Relaxation(found.objective - written.slight, dearer, shares)


def solve(
    problem: Problem, start: Answer, goal: Goal, effort: Effort, share: float
) -> tuple[Answer | None, str, float]:
    """The best answer found (None: none was), how the search ended, and its bound."""
    written = AllocationProgram(problem, goal)
    found = effort.solved(written.program, share, written.hint(start))
    answer = None if found.values is None else written.answer(found.values)
    return answer, found.status, found.bound - written.slight


class AllocationProgram:
    """Writes the program of a problem and reads answers out of its columns."""

    def __init__(self, problem: Problem, goal: Goal) -> None:
        self.problem, self.goal, self.program = problem, goal, Program()
        self.picks: list[list[int]] = []
        self.shares: list[list[int]] = []  # of lots that may be split: columns of the pots that go each way
        self.second: dict[int, int] = {}  # of lots that may be split: whether they are
        self.left: list[int | None] = []
        self.pots: list[dict[int, int]] = []  # column of the week of potting
        self.slight = 0.0  # what potting that is pulled ahead can add to the cost
        for at in range(len(problem.candidates)):
            self._lot(at)
        for place in sorted(problem.room):
            self._room(place)
        if problem.hours is not None:
            self._hours(problem.hours)

    @property
    def _dear(self) -> float:
        """What a pot left out and an hour over the limit cost."""
        return 1.0 if self.goal == "place" else LEFT

    def _lot(self, at: int) -> None:
        candidate, program = self.problem.candidates[at], self.program
        counts = self.goal != "place"
        cost = [candidate.lot.pots * o.cost if counts else 0.0 for o in candidate.options]
        self.left.append(None)
        self.shares.append([])
        if candidate.split:
            self.picks.append([program.column() for _ in cost])
        else:
            self.picks.append([program.column(cost=c) for c in cost])
        if not candidate.options:
            return
        if not candidate.kept:
            self.left[at] = program.column(cost=self._dear * (candidate.lot.pots + 1.0))
        left = self.left[at]
        present: Terms = dict.fromkeys(self.picks[at], 1.0) | ({} if left is None else {left: 1.0})
        if not candidate.split:
            program.row(present, 1.0, 1.0)
            return
        pots = candidate.lot.pots
        dear = SPLIT * pots if counts else 0.0
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
        """Rows that keep a place within its capacity on every day: one for each day on which it can be fullest."""
        problem, room, occupied = self.problem, self.problem.room[place], self.problem.occupied[place]
        stays: list[tuple[int, float, int, int]] = []  # column, room that one of it takes, from, to
        most, sure = occupied.copy(), occupied.copy()  # could be there, and of kept lots
        for at, candidate in enumerate(problem.candidates):
            reach = np.zeros_like(most)
            for (column, each), option in zip(self._taking(at), candidate.options, strict=True):
                for name, start, end in option.dates.stands:
                    if name == place and start < end:
                        stays.append((column, each, start, end))
                        reach[start:end] = candidate.area
            most += reach
            if candidate.kept:
                sure += reach
        if not stays:
            return
        columns, first, last = (np.array([stay[i] for stay in stays]) for i in (0, 2, 3))
        area = np.array([stay[1] for stay in stays])
        for day in peak_days([(s, e) for _, _, s, e in stays] + runs(occupied)):
            if most[day] > room + 1e-9:
                there = (first <= day) & (day < last)
                self._row(
                    columns[there], area[there], room - float(occupied[day]), bool(sure[day] <= room + 1e-9)
                )

    def _row(self, columns: Ints, area: Floats, room: float, tight: bool) -> None:
        """One day's room; pots over it have a column where what the season itself says may be too many."""
        if not tight:
            cost = OVERFULL if self.goal == "place" else 10.0 * OVERFULL
            columns = np.append(columns, self.program.column(INFINITE, whole=False, cost=cost))
            area = np.append(area, -1.0)
        self.program.row_of(columns, area, room)

    # ------------------------------------------------------------ hours

    def _hours(self, limit: float) -> None:
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
            over = program.column(INFINITE, whole=False, cost=self._dear)
            program.row({**terms, over: -1.0}, upper=limit - float(problem.busy[week]))

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
        earlier = 0.0 if self.goal == "place" else EARLIER
        columns = {w: program.column(cost=earlier * (last - w)) for w in sorted(allowed)}
        if not columns:
            return columns
        self.slight += earlier * (last - min(columns))
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
