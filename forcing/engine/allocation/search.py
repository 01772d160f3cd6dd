"""The search for an allocation: a start, the solver where that is not good enough, then a few lots at a time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from forcing.engine.allocation.milp import Goal, Limits, room_prices, solve
from forcing.engine.allocation.problem import SPLIT, Answer, Pick, Problem, key, score
from forcing.engine.allocation.start import Prices, good_start, improved, priced_start, prices_of, with_prices

Keep = list[list[int]]  # of each candidate, the numbers of the options that are looked at


def attempt(
    problem: Problem, best: Answer, goal: Goal, caps: tuple[float, float] | None, limits: Limits,
    progress: Callable[[str], None], keep: Keep | None = None, fresh: bool = False,
) -> tuple[Answer, str, float]:  # fmt: skip
    """The better of `best` and what the solver finds, how it ended, and its bound (of the options kept).

    `fresh`: it is not told of `best`, and so looks elsewhere too.
    """
    keep = keep or [list(range(len(c.options))) for c in problem.candidates]
    keep = [
        numbers if pick is None else sorted({*numbers, *pick.options})
        for numbers, pick in zip(keep, best, strict=True)
    ]
    narrow = narrowed(problem, keep)
    known = tuple(
        None if pick is None else _renumbered(pick, numbers.index)
        for pick, numbers in zip(best, keep, strict=True)
    )
    solved, ended = solve(narrow, None if fresh else known, goal, caps, limits, progress)
    if solved is not None:
        answer = tuple(
            None if pick is None else _renumbered(pick, numbers.__getitem__)
            for pick, numbers in zip(solved, keep, strict=True)
        )
        if key(problem, answer) < key(problem, best):
            best = answer
    return best, ended.status, ended.bound


def _renumbered(pick: Pick, number: Callable[[int], int]) -> Pick:
    """The pick with other numbers for its options."""
    second = None if pick.second is None else replace(pick.second, option=number(pick.second.option))
    return replace(pick, option=number(pick.option), second=second)


def narrowed(problem: Problem, keep: Keep) -> Problem:
    """The problem with the options kept only."""
    candidates = tuple(
        replace(c, options=tuple(c.options[n] for n in numbers))
        for c, numbers in zip(problem.candidates, keep, strict=True)
    )
    return replace(problem, candidates=candidates, known={})


# First a few lots together, then more: how many, times less work in a round than in the whole search, rounds in a row
# without a gain after which it ends.
STAGES = ((12, 60, 12), (18, 30, 6))
ROUNDS = 60  # of a stage


def neighbourhood_search(
    problem: Problem,
    best: Answer,
    over: float,
    limits: Limits,
    progress: Callable[[str], None],
) -> Answer:
    """The answer after rounds about the lots that lose most, until none of them can gain.

    `over`: hours over the limit that it may have. Lots that are left out stay out, all others stay in.
    """
    for few, share, in_vain in STAGES:
        some = replace(limits, gap=1e-4, work=None if limits.work is None else limits.work // share)
        best = _rounds(problem, best, over, some, few, in_vain, progress)
    return best


def _rounds(
    problem: Problem, best: Answer, over: float, limits: Limits, few: int, in_vain: int,
    progress: Callable[[str], None],
) -> Answer:  # fmt: skip
    tried: set[int] = set()
    for _ in range(ROUNDS):
        centre = _loses_most(problem, best, tried)
        if centre is None or len(tried) == in_vain:
            break
        group = {centre, *_in_its_way(problem, best, centre, few - 1)}
        keep = [
            list(range(len(c.options))) if at in group else list(pick.options if (pick := best[at]) else ())
            for at, c in enumerate(problem.candidates)
        ]
        found, _, _ = attempt(problem, best, "cost", (0.0, over), limits, lambda text: None, keep)
        if key(problem, found) < key(problem, best):
            best, tried = found, {centre}
            progress(f"choosing places: a better answer, with {len(group)} lots placed anew")
        tried.add(centre)
    return best


def _loses_most(problem: Problem, best: Answer, tried: set[int]) -> int | None:
    """The lot that is farthest, pots counted, from its ideal and has not been tried; None: all are ideal or tried."""
    lost = [
        (problem.cost(at, pick) - candidate.lot.pots * candidate.options[0].cost, -at)
        for at, (candidate, pick) in enumerate(zip(problem.candidates, best, strict=True))
        if pick is not None and candidate.choice and at not in tried
    ]
    most = max(lost, default=(0.0, 0))
    return -most[1] if most[0] > 1e-6 else None


def _in_its_way(problem: Problem, best: Answer, at: int, most: int) -> list[int]:
    """Lots that stand where and when the lot would cost less, those most in its way first."""
    pick, candidate = best[at], problem.candidates[at]
    assert pick is not None
    now = problem.cost(at, pick) / candidate.lot.pots
    wanted = [
        stand for option in candidate.options if option.cost < now - 1e-9 for stand in problem.stands(option)
    ]
    weight: dict[int, float] = {}
    for other, theirs in enumerate(best):
        if theirs is None or other == at or not problem.candidates[other].choice:
            continue
        for place, start, end, area in problem.stays(other, theirs):
            shared = sum(max(0, min(end, b) - max(start, a)) for p, a, b in wanted if p == place)
            weight[other] = weight.get(other, 0.0) + shared * area
    order = sorted((-amount, other) for other, amount in weight.items() if amount > 0)
    return [other for _, other in order[:most]]


LARGE = 45_000  # options; more are not given to the solver at once
NEAR = 24  # options of a lot in the first, narrow search


@dataclass(frozen=True, slots=True)
class Found:
    """An answer with the share by which it may be dearer than the best (0: it is the best)."""

    answer: Answer
    gap: float
    status: str  # how the search ended


def search(problem: Problem, limits: Limits, progress: Callable[[str], None]) -> Found:
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
        prices = with_prices(problem, prices, room_prices(narrow, limits.seconds / 3))
        other = improved(problem, priced_start(problem, prices))
        best = min(best, other, key=lambda answer: key(problem, answer))
        bound = max(bound, prices.bound)
    left, over, cost = score(problem, best)
    if left > 0 or over > 0:
        progress("choosing places: looking for room for every lot")
        best, status, _ = attempt(problem, best, "place", None, some, progress, _near(problem, prices, best))
        if max(score(problem, best)[:2]) > 0 and _size(problem) <= LARGE:
            best, status, _ = attempt(problem, best, "place", None, some, progress)
        best = improved(problem, best)
        left, over, cost = score(problem, best)
    if left > 0:
        bound = 0.0  # the floor and the prices are for answers that place every lot
    if _gap(cost, bound) > limits.gap:
        progress("choosing places: nearest the ideal cold")
        best, status = _nearest(problem, prices, best, limits, progress, bound)
        left, over, cost = score(problem, best)
    if _gap(cost, bound) > limits.gap:
        progress("choosing places: a few lots at a time")
        best = neighbourhood_search(problem, best, over, limits, progress)
        left, over, cost = score(problem, best)
    if _gap(cost, bound) > limits.gap:
        keep = _worth(problem, prices, cost) if prices is not None and left <= 0 else None
        whole = _size(problem) <= LARGE or (keep is not None and sum(map(len, keep)) <= LARGE)
        if not whole and prices is not None:
            keep = _near(problem, prices, best, LARGE)
        best, status, proven = attempt(problem, best, "cost", (left, over), some, progress, keep)
        cost = score(problem, best)[2]
        bound = max(bound, min(proven, cost)) if whole else bound
    best = improved(problem, best)
    if key(problem, best)[0] > 0:
        bound = 0.0  # lots that are kept overfill a place: bounds are for answers that fit
    return Found(best, _gap(score(problem, best)[2], bound), status)


def _nearest(
    problem: Problem, prices: Prices | None, best: Answer, limits: Limits, progress: Callable[[str], None],
    bound: float,
) -> tuple[Answer, str]:  # fmt: skip
    """A better answer among the likeliest options; where that is not near enough, afresh among all of them."""
    some = replace(limits, gap=limits.gap * 0.75, work=None if limits.work is None else 0)
    status = ""
    for keep, fresh in ((_near(problem, prices, best), False), (None, True)):
        left, over, cost = score(problem, best)
        if _gap(cost, bound) > limits.gap and (keep is not None or _size(problem) <= LARGE):
            found, status, _ = attempt(problem, best, "cost", (left, over), some, progress, keep, fresh)
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
