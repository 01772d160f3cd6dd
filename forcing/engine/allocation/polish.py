"""An answer made better a few lots at a time: those in each other's way are placed anew, the others stand.

A large neighbourhood search (Shaw 1998, Using constraint programming and local search methods to solve vehicle
routing problems): where the whole season is too tight to be solved at once, a few lots of it still can be.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from forcing.engine.allocation.attempt import attempt, key
from forcing.engine.allocation.problem import Answer, Problem
from forcing.engine.allocation.solver import Limits
from forcing.engine.linear import Hush

# First a few lots together, then more: how many, times less work in a round than in the whole search, rounds in a row
# without a gain after which it ends.
STAGES = ((12, 60, 12), (18, 30, 6))
ROUNDS = 60  # of a stage


def polished(
    problem: Problem,
    best: Answer,
    over: float,
    limits: Limits,
    progress: Callable[[str], None],
    hush: Hush,
) -> Answer:
    """The answer after rounds about the lots that lose most, until none of them can gain.

    `over`: hours over the limit that it may have. Lots that are left out stay out, all others stay in.
    """
    for few, share, in_vain in STAGES:
        some = replace(limits, gap=1e-4, work=None if limits.work is None else limits.work // share)
        best = _rounds(problem, best, over, some, few, in_vain, progress, hush)
    return best


def _rounds(
    problem: Problem, best: Answer, over: float, limits: Limits, few: int, in_vain: int,
    progress: Callable[[str], None], hush: Hush,
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
        found, _, _ = attempt(problem, best, "cost", (0.0, over), limits, lambda text: None, hush, keep)
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
        stand
        for option in candidate.options
        if option.cost < now - 1e-9
        for stand in problem.stands(candidate, option)
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
