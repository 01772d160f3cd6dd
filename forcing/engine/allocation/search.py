"""The search for an allocation: a greedy start, the solver where the start is not good enough, a last levelling."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass, replace

import numpy as np

from forcing.engine.allocation.greedy import good_start, improved
from forcing.engine.allocation.model import Hush, Limits, Solved, solve
from forcing.engine.allocation.options import week_of
from forcing.engine.allocation.problem import Answer, Floats, Pick, Problem, score, standing_of


@dataclass(frozen=True, slots=True)
class Found:
    """An answer with the share by which it may be dearer than the best (0: it is the best)."""

    answer: Answer
    gap: float
    status: str  # how the search ended


def search(
    problem: Problem, limits: Limits, progress: Callable[[str], None], hush: Hush = nullcontext
) -> Found:
    """The best answer found: least left out, then fewest hours over, then nearest the ideal cold, then level."""
    best = good_start(problem)
    left, over, cost = score(problem, best)
    status = "start"
    if left > 0 or over > 0:
        progress("choosing places: looking for room for every lot")
        best, status = _better(problem, best, solve(problem, best, "place", None, limits, progress, hush))
        left, over, cost = score(problem, best)
    floor = _floor(problem)
    gap = _gap(cost, floor) if left <= 0 else 1.0
    if gap > limits.gap:
        progress("choosing places: nearest the ideal cold")
        solved = solve(problem, best, "cost", (left, over), limits, progress, hush)
        best, status = _better(problem, best, solved)
        cost = score(problem, best)[2]
        gap = min(gap, _gap(cost, min(solved.bound, cost))) if solved.answer is not None else gap
    best = levelled(problem, improved(problem, best))
    gap = min(gap, gap * score(problem, best)[2] / max(cost, 1e-9)) if cost else 0.0
    return Found(best, gap, status)


def _better(problem: Problem, best: Answer, solved: Solved) -> tuple[Answer, str]:
    """The better of two answers by the full score; rounding of the solver never makes one worse."""
    if solved.answer is not None and _key(problem, solved.answer) < _key(problem, best):
        return solved.answer, solved.status
    return best, solved.status


def _key(problem: Problem, answer: Answer) -> tuple[float, float, float, float]:
    standing = standing_of(problem, answer)
    over = sum(
        float(np.clip(taken - problem.room[place] - 1e-6, 0.0, None).sum())
        for place, taken in standing.taken.items()
    )
    left, hours, cost = score(problem, answer)
    return round(over, 3), left, hours, cost


def _floor(problem: Problem) -> float:
    """What the cheapest option of every lot costs: no answer that places them all is below it."""
    return sum(c.lot.pots * c.options[0].cost for c in problem.candidates if c.options)


def _gap(cost: float, bound: float) -> float:
    return max(0.0, cost - bound) / max(cost, 1e-9)


# ---------------------------------------------------------------- levelling


def levelled(problem: Problem, answer: Answer) -> Answer:
    """The same cold and places, with potting moved between weeks and equal options swapped to level the labour.

    Only where hours are limited: without a limit nobody has said that labour is scarce. A change is taken
    where it lowers the sum of squared weekly hours; nothing grows dearer by it.
    """
    if problem.hours is None:
        return answer
    standing = standing_of(problem, answer)
    for _ in range(3):
        changed = False
        for at, candidate in enumerate(problem.candidates):
            before = standing.picks[at]
            if before is None or not candidate.choice:
                continue
            standing.drop(at)
            pick = _most_level(problem, standing.hours, at, before)
            standing.put(at, pick)
            changed |= pick != before
        if not changed:
            break
    return tuple(standing.picks)


def _most_level(problem: Problem, hours: Floats, at: int, before: Pick) -> Pick:
    """The pull of the lot's potting that gives the lowest peak; its own where none lowers it."""
    work = problem.work(at, before.option)
    own = problem.potting_hours(at)
    best: tuple[float, int] | None = None
    for pulled in problem.pulls(at, before.option):
        day = problem.potting_day(at, replace(before, pulled=pulled))
        assert day is not None
        after = hours.copy()
        for week, amount in work:
            after[week] += amount
        after[week_of(problem.almanac, day)] += own
        peak = float(after.max())
        if best is None or peak < best[0] - 1e-6:
            best = (peak, pulled)
    assert best is not None
    return Pick(before.option, best[1])
