"""The steering problem as a mixed-integer linear program, solved with HiGHS.

One binary for each bench, block and choice; one for each lot and option; one for each lot and day on which it
may come into bloom (1: in bloom by that day). The heat of a lot in a block is its option times the rate of the
bench, which is a product of binaries with a bounded sum, so the linear inequalities of McCormick (1976) hold it
exactly. A lot is in bloom by a day just where its summed heat reaches its need: the same count as forward.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from forcing.engine.climate import TOLERANCE
from forcing.engine.linear_program import Program, Terms, plus, product, run, solver
from forcing.engine.steering.choices import KEEP, Answer, Floats, Hold, LiveLot, SteeringProblem, bloom_days

EDGE = TOLERANCE / 5  # between "reached" and "not reached": wider than the solver's rounding


@dataclass(frozen=True, slots=True)
class SteeringFound:
    """What the solver found: an answer (None: none in the time), its bound, and how it ended."""

    answer: Answer | None
    bound: float  # pots × days that no answer can be below
    status: str
    seconds: float

    @property
    def in_time(self) -> bool:
        """Whether it ended by itself: what it has when time is up differs from machine to machine."""
        return self.status != "Time limit reached"


class SteeringProgram:
    """Writes the program of a problem, and reads answers out of its columns."""

    def __init__(self, problem: SteeringProblem) -> None:
        self.problem, self.program = problem, Program()
        # Changes weigh less than one pot-day together, moves less than one change together.
        blocks = len(problem.blocks)
        self.change_cost = 0.9 / (1 + blocks * len(problem.benches))
        self.move_cost = 0.9 * self.change_cost / (1 + 2 * len(problem.lots))
        self.choice: dict[tuple[int, int, int], int] = {}  # bench, block, choice
        self.rate: dict[tuple[int, int, int], tuple[int, float, float]] = {}  # kind, bench, block
        self.option: list[list[int]] = []
        self.hold: list[tuple[dict[int, int], dict[int, int]]] = []  # start and end by day
        self.fixed = 0.0
        self._cooled: dict[tuple[str, int], list[tuple[int, LiveLot]]] = {}
        self._choices()
        for lot in problem.lots:
            self._lot(lot)
        self._room()

    # ------------------------------------------------------------ benches

    def _choices(self) -> None:
        program, problem = self.program, self.problem
        for s, bench in enumerate(problem.benches):
            before: dict[int, int] = {}
            for k in range(len(problem.blocks)):
                here = {c: program.column() for c in bench.choices[k]}
                for c, column in here.items():
                    self.choice[s, k, c] = column
                program.row(dict.fromkeys(here.values(), 1.0), 1.0, 1.0)
                if len(here) > 1 or len(before) > 1:
                    changed = program.column(whole=False, cost=self.change_cost)
                    for c, column in here.items():
                        last = before.get(c)
                        terms = {changed: 1.0, column: -1.0}
                        if last is not None:
                            terms[last] = 1.0
                        program.row(terms, 0.0 if k or c else -1.0)
                    if k in bench.bound:
                        program.upper[changed] = 0.0
                before = here

    def _rate(self, kind: int, bench: int, block: int) -> tuple[int, float, float]:
        """Column of a bench's daily heat in a block for lots of a kind, and its least and greatest."""
        key = (kind, bench, block)
        if key not in self.rate:
            free = self._free_day(bench, block)
            heat = {
                c: float(self.problem.daily[kind][bench, c, free])
                for c in self.problem.benches[bench].choices[block]
            }
            low, high = min(heat.values()), max(heat.values())
            column = self.program.column(high, whole=False, lower=low)
            terms = {self.choice[bench, block, c]: -h for c, h in heat.items()}
            self.program.row({column: 1.0, **terms}, 0.0, 0.0)
            self.rate[key] = column, low, high
        return self.rate[key]

    def _free_day(self, bench: int, block: int) -> int:
        first, end = self.problem.blocks[block]
        return first + int(np.argmax(self.problem.benches[bench].free[first:end]))

    # ------------------------------------------------------------ lots

    def _lot(self, lot: LiveLot) -> None:
        program = self.program
        options = [program.column(cost=self.move_cost if i else 0.0) for i in range(len(lot.paths))]
        self.option.append(options)
        program.row(dict.fromkeys(options, 1.0), 1.0, 1.0)
        by_day = self._heat_by_day(lot, options)
        low, high = self.problem.extremes(lot)
        sums = np.concatenate(([0.0], np.cumsum(low))), np.concatenate(([0.0], np.cumsum(high)))
        terms, constant = _running(by_day, self.problem.days)
        self.hold.append(self._hold(lot, by_day, terms, constant, sums))
        self._bloom(lot, terms, constant, sums, high)

    def _heat_by_day(self, lot: LiveLot, options: Sequence[int]) -> list[tuple[Terms, float]]:
        """Heat of the lot on each day as terms and a constant, before any hold."""
        days: list[tuple[Terms, float]] = [({}, float(h)) for h in lot.outside]
        for k, a, b in self.problem.spells(lot, lot.leave):
            for bench in sorted(set(lot.paths[:, k].tolist())):
                there = [options[i] for i, path in enumerate(lot.paths) if path[k] == bench]
                sure = len(there) == len(options)
                free = self.problem.benches[bench].free
                tail = k == len(self.problem.blocks)
                steered = {} if tail or not free[a:b].any() else self._gains(lot, bench, k, there, sure)
                keep = self.problem.daily[lot.kind][bench, KEEP]
                for day in range(a, b):
                    terms, constant = days[day]
                    if not tail and free[day]:
                        for column, value in steered.items():
                            terms[column] = terms.get(column, 0.0) + value
                    elif sure:
                        days[day] = terms, constant + float(keep[day])
                    else:
                        for column in there:
                            terms[column] = terms.get(column, 0.0) + float(keep[day])
        return days

    def _gains(self, lot: LiveLot, bench: int, block: int, there: Sequence[int], sure: bool) -> Terms:
        """The daily heat that a lot has from a bench in a block, where it stands there: rate × presence."""
        program = self.program
        barred = [
            self.choice[bench, block, c]
            for c in self.problem.benches[bench].choices[block]
            if c not in lot.fits[bench] and block in lot.binding
        ]
        present = dict.fromkeys(there, 1.0)
        if barred:
            program.row({**dict.fromkeys(barred, 1.0), **present}, upper=1.0)
        rate, low, high = self._rate(lot.kind, bench, block)
        if sure:
            return {rate: 1.0}
        return {product(program, rate, low, high, present): 1.0}

    def _bloom(
        self, lot: LiveLot, terms: Sequence[Terms], constant: Sequence[float], sums: tuple[Floats, Floats], high: Floats
    ) -> None:  # fmt: skip
        """One binary for each day from the soonest to the latest bloom; the cost of being off target."""
        program, problem, need = self.program, self.problem, lot.need - lot.heat
        wanted = need - TOLERANCE
        first = int(bloom_days(lot, high))
        last = min(problem.days, int(np.searchsorted(sums[0], wanted)))
        self.fixed += lot.pots * (max(0, first - max(lot.target, 0)) + max(0, -lot.target))
        if last < lot.target:
            self.fixed += lot.pots * (lot.target - last)
        early: Terms = {}
        late: Terms = {}
        before: int | None = None
        for day in range(first, last):
            in_time = day < lot.target
            column = program.column(cost=lot.pots if in_time else -lot.pots)
            (early if in_time else late)[column] = 1.0
            if not in_time:
                self.fixed += lot.pots
            least, most = float(sums[0][day]), float(sums[1][day])
            there = terms[day]
            # The cost pulls the other way, so that one row a day is enough: before the target a lot with the
            # heat is in bloom; from the target on a lot in bloom has the heat.
            if in_time:
                program.row(
                    {**there, column: -(most - wanted + 2 * EDGE)}, upper=wanted - EDGE - constant[day]
                )
            else:
                program.row({**there, column: -(wanted + EDGE - least)}, least - constant[day] - EDGE)
            if before is not None:
                program.row({column: 1.0, before: -1.0}, 0.0)
            before = column
        self._tighten(lot, terms, constant, wanted, high, early, late, first, last)

    def _tighten(
        self, lot: LiveLot, terms: Sequence[Terms], constant: Sequence[float], wanted: float, high: Floats,
        early: Terms, late: Terms, first: int, last: int,
    ) -> None:  # fmt: skip
        """Days off target are at least the heat lacking or in excess on the target by the fastest daily heat."""
        target = lot.target
        if not 0 < target < self.problem.days:
            return
        sure_late, sure_early = max(0, first - target), max(0, target - last)
        if late:
            # Heat lacking on the target has to come in the days after it.
            fastest = max(float(high[target:].max()), 1e-6)
            there = {c: v / fastest for c, v in terms[target].items()}
            self.program.row(plus(there, dict.fromkeys(late, -1.0)),
                          (wanted - constant[target]) / fastest - len(late) - sure_late)  # fmt: skip
        if early and not sure_early:
            fastest = max(float(high[:target].max()), 1e-6)
            there = {c: -v / fastest for c, v in terms[target].items()}
            self.program.row(plus(there, early), (constant[target] - wanted) / fastest - 1.0)

    # ------------------------------------------------------------ holds

    def _hold(
        self, lot: LiveLot, by_day: list[tuple[Terms, float]], terms: list[Terms], constant: list[float],
        sums: tuple[Floats, Floats],
    ) -> tuple[dict[int, int], dict[int, int]]:  # fmt: skip
        """Start and end of a hold by day; replaces the heat of the days held, in `terms` and `constant`."""
        holding, program = lot.holding, self.program
        starts: dict[int, int] = {}
        ends: dict[int, int] = {}
        if holding is None:
            return starts, ends
        soonest = int(np.searchsorted(lot.heat + sums[1], holding.colour - TOLERANCE))
        span = range(max(soonest, lot.begin), min(lot.leave, self.problem.tail))
        if len(span) == 0:
            return starts, ends
        unheld = [dict(t) for t in terms]
        held: dict[int, int] = {}
        for day in span:
            if holding.working[day]:
                starts[day] = program.column(cost=self.move_cost)
        for day in (*span[1:], span[-1] + 1):
            if holding.working[day] or day == lot.leave:
                ends[day] = program.column()
        program.row(dict.fromkeys(starts.values(), 1.0), upper=1.0)
        for day in (*span, span[-1] + 1):
            column = held[day] = program.column(1.0 if day in span else 0.0)
            flow = {column: 1.0}
            if day > span[0]:
                flow[held[day - 1]] = -1.0
            if day in starts:
                flow[starts[day]] = -1.0
                lacking = max(0.0, holding.colour - lot.heat - float(sums[0][day]))
                program.row({**unheld[day], starts[day]: -lacking},
                         holding.colour - lot.heat - lacking - constant[day] - TOLERANCE)  # fmt: skip
            if day in ends:
                flow[ends[day]] = 1.0
            program.row(flow, 0.0, 0.0)
        program.row({held[d]: 1.0 for d in span}, upper=float(holding.longest))
        for day in span:
            there, fixed = by_day[day]
            top = fixed + sum(self.program.upper[c] * v for c, v in there.items() if v > 0)
            low = fixed + sum(self.program.lower[c] * v for c, v in there.items())
            rate = program.column(top, whole=False, lower=low)
            program.row({rate: 1.0, **{c: -v for c, v in there.items()}}, fixed, fixed)
            lost = product(program, rate, low, top, {held[day]: 1.0})
            for later in range(day + 1, self.problem.days + 1):
                terms[later] = {**terms[later], lost: -1.0, held[day]: float(holding.heat[day])}
            self._cooled.setdefault((holding.cooler, day), []).append((held[day], lot))
        return starts, ends

    # ------------------------------------------------------------ room

    def _room(self) -> None:
        """Live lots on a bench never take more than is free there; one row where the same lots stand."""
        problem = self.problem
        for s, bench in enumerate(problem.benches):
            if bench.room is None:
                continue
            tightest: dict[tuple[tuple[int, float], ...], float] = {}
            for day, terms in self._standing(s):
                key = tuple(sorted(terms.items()))
                tightest[key] = min(tightest.get(key, np.inf), float(bench.room[day]))
            for key, room in tightest.items():
                self.program.row(dict(key), upper=room + 1e-7)
        for (_, day), group in self._cooled.items():
            holding = group[0][1].holding
            if holding is not None and holding.room is not None:
                self.program.row({column: lot.area for column, lot in group}, upper=float(holding.room[day]))

    def _standing(self, bench: int) -> Iterator[tuple[int, Terms]]:
        for k, (first, end) in enumerate(self.problem.spans()):
            for day in range(first, end):
                terms = {
                    self.option[i][o]: lot.area
                    for i, lot in enumerate(self.problem.lots)
                    if lot.begin <= day < lot.gone
                    for o, path in enumerate(lot.paths)
                    if path[k] == bench
                }
                if terms:
                    yield day, terms

    # ------------------------------------------------------------ answers

    def answer(self, values: Sequence[float]) -> Answer:
        """The answer that the columns say."""
        problem = self.problem
        choices = tuple(
            tuple(
                max(bench.choices[k], key=lambda c, s=s, k=k: values[self.choice[s, k, c]])  # type: ignore[misc]
                for k in range(len(problem.blocks))
            )
            for s, bench in enumerate(problem.benches)
        )
        options = tuple(max(range(len(o)), key=lambda i, o=o: values[o[i]]) for o in self.option)  # type: ignore[misc]
        holds = []
        for starts, ends in self.hold:
            begun = [day for day, column in starts.items() if values[column] > 0.5]
            done = [day for day, column in ends.items() if values[column] > 0.5]
            holds.append(Hold(begun[0], done[0]) if begun and done and begun[0] < done[0] else None)
        return Answer(choices, options, tuple(holds))

    def hint(self, answer: Answer) -> dict[int, float]:
        """Values of the binaries that an answer sets, by column."""
        values: dict[int, float] = {}
        for (s, k, c), column in self.choice.items():
            values[column] = float(answer.choices[s][k] == c)
        for i, group in enumerate(self.option):
            values |= {column: float(answer.options[i] == o) for o, column in enumerate(group)}
        for (starts, ends), hold in zip(self.hold, answer.holds, strict=True):
            for days, day in ((starts, hold.start if hold else None), (ends, hold.end if hold else None)):
                values |= {column: float(at == day) for at, column in days.items()}
        return values


def _running(by_day: Sequence[tuple[Terms, float]], days: int) -> tuple[list[Terms], list[float]]:
    """Heat gathered by the start of each day, as terms and a constant."""
    terms: list[Terms] = [{}]
    constant = [0.0]
    for there, fixed in by_day[:days]:
        terms.append(plus(terms[-1], there) if there else terms[-1])
        constant.append(constant[-1] + fixed)
    return terms, constant


def solve(
    problem: SteeringProblem, start: Answer, *, gap: float, time_limit: float, most_nodes: int, threads: int
) -> SteeringFound:  # fmt: skip
    """The best answer found. `gap` is how far from the best it may be, in pots × days; 0 is the very best."""
    writer = SteeringProgram(problem)
    options = {
        "threads": threads, "time_limit": time_limit, "mip_abs_gap": max(gap, 1e-6), "mip_rel_gap": 0.0,
        "mip_max_nodes": most_nodes, "mip_feasibility_tolerance": 1e-7, "primal_feasibility_tolerance": 1e-7,
    }  # fmt: skip
    highs = solver(options)
    highs.passModel(writer.program.model())
    found = run(highs, writer.hint(start))
    answer = None if found.values is None else writer.answer(found.values)
    return SteeringFound(answer, max(0.0, found.bound + writer.fixed), found.status, found.seconds)
