"""The program of an allocation given to HiGHS: the best answer in the time there is, and what room is worth."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass

import highspy

from forcing.engine.allocation.model import Goal, Writer
from forcing.engine.allocation.problem import Answer, Problem
from forcing.engine.linear import Hush, run, solver

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
    nodes = limits.nodes(len(writer.program.cost))
    options: dict[str, bool | int | float | str] = {
        "threads": limits.threads, "time_limit": limits.seconds, "mip_max_nodes": nodes,
        "mip_rel_gap": limits.gap, "mip_abs_gap": 1e-4,
        "mip_feasibility_tolerance": 1e-7, "primal_feasibility_tolerance": 1e-7,
    }  # fmt: skip
    highs = solver(options, hush)
    highs.passModel(writer.program.model())

    def better(gap: float) -> None:
        known = f"within {gap * 100:.1f} % of the best there can be" if gap < 10 else "no bound yet"
        progress(f"choosing places: a better answer, {known}")

    found = run(highs, None if start is None else writer.hint(start), better)
    answer = None if found.values is None else writer.answer(found.values)
    return Solved(answer, found.objective, found.bound, found.status)


def room_prices(problem: Problem, seconds: float, hush: Hush = nullcontext) -> dict[tuple[str, int], float]:
    """What a pot of room is worth on each peak day, where lots may be divided; none where it is not solved."""
    writer = Writer(problem, "cost", (0.0, 1.0))
    highs = solver({"time_limit": seconds}, hush)
    highs.passModel(writer.program.model(relaxed=True))
    highs.run()
    if highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return {}
    duals = highs.getSolution().col_dual
    return {key: max(0.0, -float(duals[column])) for key, column in writer.loads.items()}
