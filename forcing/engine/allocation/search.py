"""The search for an allocation: a greedy start, and the solver where the start is not good enough."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass, replace

import numpy as np

from forcing.engine.allocation.attempt import Keep, attempt, key, narrowed
from forcing.engine.allocation.greedy import good_start, improved
from forcing.engine.allocation.polish import polished
from forcing.engine.allocation.prices import Prices, priced_start, prices_of, with_prices
from forcing.engine.allocation.problem import SPLIT, Answer, Problem, score
from forcing.engine.allocation.solver import Limits, room_prices
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
    some = replace(limits, work=None if limits.work is None else limits.work // 2)
    best = good_start(problem)
    bound, status = _floor(problem), "start"
    prices = None
    if score(problem, best)[0] > 0 or _gap(score(problem, best)[2], bound) > limits.gap:
        prices = prices_of(problem, score(problem, best)[2])
    if prices is not None:
        # The solver's own prices of room, where lots may be divided, are better still.
        narrow = narrowed(problem, _near(problem, prices, best))
        prices = with_prices(problem, prices, room_prices(narrow, limits.seconds / 3, hush))
        other = improved(problem, priced_start(problem, prices))
        best = min(best, other, key=lambda answer: key(problem, answer))
        bound = max(bound, prices.bound)
    left, over, cost = score(problem, best)
    if left > 0 or over > 0:
        progress("choosing places: looking for room for every lot")
        best, status, _ = attempt(
            problem, best, "place", None, some, progress, hush, _near(problem, prices, best)
        )
        if max(score(problem, best)[:2]) > 0 and _size(problem) <= LARGE:
            best, status, _ = attempt(problem, best, "place", None, some, progress, hush)
        best = improved(problem, best)
        left, over, cost = score(problem, best)
    if left > 0:
        bound = 0.0  # the floor and the prices are for answers that place every lot
    if _gap(cost, bound) > limits.gap:
        progress("choosing places: nearest the ideal cold")
        best, status = _nearest(problem, prices, best, limits, progress, hush, bound)
        left, over, cost = score(problem, best)
    if _gap(cost, bound) > limits.gap:
        progress("choosing places: a few lots at a time")
        best = polished(problem, best, over, limits, progress, hush)
        left, over, cost = score(problem, best)
    if _gap(cost, bound) > limits.gap:
        keep = _worth(problem, prices, cost) if prices is not None and left <= 0 else None
        whole = _size(problem) <= LARGE or (keep is not None and sum(map(len, keep)) <= LARGE)
        if not whole and prices is not None:
            keep = _near(problem, prices, best, LARGE)
        best, status, proven = attempt(problem, best, "cost", (left, over), some, progress, hush, keep)
        cost = score(problem, best)[2]
        bound = max(bound, min(proven, cost)) if whole else bound
    best = improved(problem, best)
    if key(problem, best)[0] > 0:
        bound = 0.0  # lots that are kept overfill a place: bounds are for answers that fit
    return Found(best, _gap(score(problem, best)[2], bound), status)


def _nearest(
    problem: Problem, prices: Prices | None, best: Answer, limits: Limits, progress: Callable[[str], None],
    hush: Hush, bound: float,
) -> tuple[Answer, str]:  # fmt: skip
    """A better answer among the likeliest options; where that is not near enough, afresh among all of them."""
    some = replace(limits, gap=limits.gap * 0.75, work=None if limits.work is None else 0)
    status = ""
    for keep, fresh in ((_near(problem, prices, best), False), (None, True)):
        left, over, cost = score(problem, best)
        if _gap(cost, bound) > limits.gap and (keep is not None or _size(problem) <= LARGE):
            found, status, _ = attempt(problem, best, "cost", (left, over), some, progress, hush, keep, fresh)
            best = improved(problem, found)
    return best, status


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


def _floor(problem: Problem) -> float:
    """What the cheapest option of every lot costs: no answer that places them all is below it."""
    return sum(c.lot.pots * c.options[0].cost for c in problem.candidates if c.options)


def _gap(cost: float, bound: float) -> float:
    return max(0.0, cost - bound) / max(cost, 1e-9)
