"""The search for an allocation: a greedy start, and the solver where the start is not good enough."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass, replace

import numpy as np

from forcing.engine.allocation.greedy import good_start, improved
from forcing.engine.allocation.model import Goal
from forcing.engine.allocation.prices import Prices, priced_start, prices_of, with_prices
from forcing.engine.allocation.problem import SPLIT, Answer, Pick, Problem, score, standing_of
from forcing.engine.allocation.solver import Limits, room_prices, solve
from forcing.engine.linear import Hush

LARGE = 45_000  # options; more are not given to the solver at once
NEAR = 24  # options of a lot in the first, narrow search


@dataclass(frozen=True, slots=True)
class Found:
    """An answer with the share by which it may be dearer than the best (0: it is the best)."""

    answer: Answer
    gap: float
    status: str  # how the search ended


def search(
    problem: Problem, limits: Limits, progress: Callable[[str], None], hush: Hush = nullcontext
) -> Found:
    """The best answer found: least left out, then fewest hours over, then nearest the ideal cold."""
    some = replace(limits, work=None if limits.work is None else limits.work // 2)  # for the narrow searches
    best = good_start(problem)
    bound, status = _floor(problem), "start"
    prices = None
    if score(problem, best)[0] > 0 or _gap(score(problem, best)[2], bound) > limits.gap:
        prices = prices_of(problem, score(problem, best)[2])
    if prices is not None:
        # The solver's own prices of room, where lots may be divided, are better still.
        narrow = _narrowed(problem, _near(problem, prices, best))
        prices = with_prices(problem, prices, room_prices(narrow, limits.seconds / 3, hush))
        other = improved(problem, priced_start(problem, prices))
        best = min(best, other, key=lambda answer: _key(problem, answer))
        bound = max(bound, prices.bound)
    left, over, cost = score(problem, best)
    if left > 0 or over > 0:
        progress("choosing places: looking for room for every lot")
        best, status, _ = _solved(
            problem, best, "place", None, some, progress, hush, _near(problem, prices, best)
        )
        if max(score(problem, best)[:2]) > 0 and _size(problem) <= LARGE:
            best, status, _ = _solved(problem, best, "place", None, some, progress, hush)
        best = improved(problem, best)
        left, over, cost = score(problem, best)
    if left > 0:
        bound = 0.0  # the floor and the prices are for answers that place every lot
    if _gap(cost, bound) > limits.gap:
        progress("choosing places: nearest the ideal cold")
        best, status, _ = _solved(
            problem,
            best,
            "cost",
            (left, over),
            replace(some, gap=limits.gap / 2),
            progress,
            hush,
            _near(problem, prices, best),
        )
        best = improved(problem, best)
        left, over, cost = score(problem, best)
    if _gap(cost, bound) > limits.gap:
        keep = _worth(problem, prices, cost) if prices is not None and left <= 0 else None
        whole = _size(problem) <= LARGE or (keep is not None and sum(map(len, keep)) <= LARGE)
        if not whole and prices is not None:
            keep = _near(problem, prices, best, LARGE)
        best, status, proven = _solved(problem, best, "cost", (left, over), limits, progress, hush, keep)
        cost = score(problem, best)[2]
        bound = max(bound, min(proven, cost)) if whole else bound
    best = improved(problem, best)
    if _key(problem, best)[0] > 0:
        bound = 0.0  # lots that are kept overfill a place: bounds are for answers that fit
    return Found(best, _gap(score(problem, best)[2], bound), status)


Keep = list[list[int]]  # of each candidate, the numbers of the options that are looked at


def _solved(
    problem: Problem, best: Answer, goal: Goal, caps: tuple[float, float] | None, limits: Limits,
    progress: Callable[[str], None], hush: Hush, keep: Keep | None = None,
) -> tuple[Answer, str, float]:  # fmt: skip
    """The better of `best` and what the solver finds, how it ended, and its bound (of the options kept)."""
    keep = keep or [list(range(len(c.options))) for c in problem.candidates]
    keep = [
        numbers if pick is None else sorted({*numbers, *pick.options})
        for numbers, pick in zip(keep, best, strict=True)
    ]
    narrow = _narrowed(problem, keep)
    known = tuple(
        None if pick is None else _renumbered(pick, numbers.index)
        for pick, numbers in zip(best, keep, strict=True)
    )
    solved = solve(narrow, known, goal, caps, limits, progress, hush)
    if solved.answer is not None:
        answer = tuple(
            None if pick is None else _renumbered(pick, numbers.__getitem__)
            for pick, numbers in zip(solved.answer, keep, strict=True)
        )
        if _key(problem, answer) < _key(problem, best):
            best = answer
    return best, solved.status, solved.bound


def _renumbered(pick: Pick, number: Callable[[int], int]) -> Pick:
    """The pick with other numbers for its options."""
    second = None if pick.second is None else replace(pick.second, option=number(pick.second.option))
    return replace(pick, option=number(pick.option), second=second)


def _narrowed(problem: Problem, keep: Keep) -> Problem:
    """The problem with the options kept only."""
    candidates = tuple(
        replace(c, options=tuple(c.options[n] for n in numbers))
        for c, numbers in zip(problem.candidates, keep, strict=True)
    )
    return replace(problem, candidates=candidates, known={})


def _near(problem: Problem, prices: Prices | None, best: Answer, most: int = 0) -> Keep:
    """The options that are cheapest with the room they take paid for, and the one chosen now.

    For each lot the first few; of all lots together the nearest, up to `most`.
    """
    everything = [list(range(len(c.options))) for c in problem.candidates]
    if prices is None:
        return everything
    above = {at: total - total.min() for at, total in prices.priced.items()}
    all_above = np.sort(np.concatenate(list(above.values())))
    limit = float(all_above[most]) if most < all_above.size else float("inf")
    keep: Keep = []
    for at, numbers in enumerate(everything):
        if at in above:
            first = {int(n) for n in np.argsort(above[at], kind="stable")[:NEAR]}
            numbers = sorted(first | ({int(n) for n in np.flatnonzero(above[at] < limit)} if most else set()))
        pick = best[at]
        keep.append(numbers if pick is None else sorted({*numbers, *pick.options}))
    return keep


def _worth(problem: Problem, prices: Prices, cost: float) -> Keep:
    """The options that an answer cheaper than `cost` can hold: the bound rises too far with the others."""
    keep: Keep = []
    for at, candidate in enumerate(problem.candidates):
        total = prices.priced.get(at)
        if total is None:
            keep.append(list(range(len(candidate.options))))
            continue
        dearer = total - total.min()
        if candidate.split:  # it may hold a single pot only of the dearer option
            dearer = np.minimum(dearer, dearer / candidate.lot.pots + SPLIT * candidate.lot.pots)
        keep.append([int(n) for n in np.flatnonzero(prices.bound + dearer <= cost + 1e-6)])
    return keep


def _size(problem: Problem) -> int:
    return sum(len(c.options) for c in problem.candidates)


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
