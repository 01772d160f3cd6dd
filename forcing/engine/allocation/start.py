"""A good start without a solver: lots placed one after another, and each moved to its best place."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

import numpy as np

from forcing.engine.allocation.problem import SPLIT, Answer, Floats, Part, Pick, Problem, Usage, usage_of

LOOK_IN_TWO = 60  # options that are tried for each part of a lot that is split
PASSES = 4


def earliest_first(problem: Problem) -> Answer:
    """Each lot in the order of its potting at its ideal cold, in its first option that fits: the plain way."""
    return _in_order(problem, lambda at: problem.candidates[at].options[0].dates.potting, _first_that_fits)


def good_start(problem: Problem) -> Answer:
    """Large and long stays first, then each to its best place."""
    return improved(problem, _in_order(problem, lambda at: -_bulk(problem, at), whole_or_in_two))


def ranked_start(problem: Problem, ranking: Sequence[Floats]) -> Answer:
    """Large lots first and of equals those with most to lose, each in the first option that fits by the ranking."""

    def order(at: int) -> tuple[float, float]:
        best = np.sort(ranking[at])
        return -problem.candidates[at].area, float(best[0] - best[min(4, best.size - 1)])

    def pick(usage: Usage, at: int) -> Pick | None:
        whole = _first_that_fits(usage, at, np.argsort(ranking[at], kind="stable").tolist())
        return in_two(usage, at) if whole is None and problem.candidates[at].split else whole

    return _in_order(problem, order, pick)


def _in_order(
    problem: Problem, order: Callable[[int], Any], pick: Callable[[Usage, int], Pick | None]
) -> Answer:
    """Lots placed in an order; first those whose places are given, which stand there whatever it costs."""
    usage, some = Usage(problem), [i for i, c in enumerate(problem.candidates) if c.options]
    kept = [at for at in some if problem.candidates[at].kept]
    for at in sorted(kept, key=lambda i: (problem.candidates[i].choice, -_bulk(problem, i), i)):
        number = usage.least_over(at)
        usage.put(at, _first_that_fits(usage, at) or Pick(number, usage.pull(at, number)[0]))
    free = [at for at in some if not problem.candidates[at].kept]
    for at in sorted(free, key=lambda i: (order(i), i)):
        found = pick(usage, at)
        if found is not None:
            usage.put(at, found)
    return tuple(usage.picks)


def improved(problem: Problem, answer: Sequence[Pick | None]) -> Answer:
    """Every lot in turn to the best option that fits where the others stand, until none can gain."""
    usage = usage_of(problem, answer)
    for _ in range(PASSES):
        changed = False
        for at, candidate in enumerate(problem.candidates):
            if not candidate.choice or (candidate.kept and usage.picks[at] is None):
                continue
            before = usage.drop(at)
            pick = whole_or_in_two(usage, at)
            if pick is None or (before is not None and not _better(usage, at, pick, before)):
                pick = before
            if pick is not None:
                usage.put(at, pick)
            changed |= pick != before
        if not changed:
            break
    return tuple(usage.picks)


def _better(usage: Usage, at: int, new: Pick, old: Pick) -> bool:
    """Whether a pick that fits gains on what the lot had: less overfull, fewer hours over, then nearer its ideal."""
    gain = []
    for pick in (new, old):
        if pick.second is None:
            over, (_, hours) = usage.over(at, pick.option), usage.pull(at, pick.option)
        else:
            over, hours = 0.0, usage.hours_added(at, pick)
        cost = round(usage.problem.cost(at, pick), 6)
        gain.append((round(over, 3), round(hours, 3), cost, pick.pulled))
    return gain[0] < gain[1]


def _bulk(problem: Problem, at: int) -> float:
    candidate = problem.candidates[at]
    dates = candidate.options[0].dates
    return candidate.area * (dates.bloom - dates.potting)


def _first_that_fits(usage: Usage, at: int, numbers: Iterable[int] | None = None) -> Pick | None:
    """The first option with room and hours (None: by cost); with room only, where none keeps within the hours."""
    best: tuple[float, Pick] | None = None
    for number in range(len(usage.problem.candidates[at].options)) if numbers is None else numbers:
        if usage.fits(at, number):
            pulled, over = usage.pull(at, number)
            if best is None or over == 0.0 or over < best[0] - 1e-6:
                best = (over, Pick(number, pulled))
            if over == 0.0:
                break
    return None if best is None else best[1]


def whole_or_in_two(usage: Usage, at: int) -> Pick | None:
    """The cheapest way that fits: the lot together, or in two places where it may be split and that is better."""
    whole, candidate = _first_that_fits(usage, at), usage.problem.candidates[at]
    if not candidate.split:
        return whole
    ideal = candidate.lot.pots * (candidate.options[0].cost + SPLIT)
    if whole is not None and usage.problem.cost(at, whole) <= ideal + 1e-9:
        return whole
    divided = in_two(usage, at)
    if divided is None or (whole is not None and not _better(usage, at, divided, whole)):
        return whole
    return divided


def in_two(usage: Usage, at: int) -> Pick | None:
    """The cheapest way to grow a lot in two places that fits; None where there is none."""
    problem, candidate = usage.problem, usage.problem.candidates[at]
    pots, each, options = candidate.lot.pots, problem.each(at), candidate.options
    numbers = [n for n in range(min(len(options), LOOK_IN_TWO)) if usage.most(at, n) > 0]
    best: tuple[float, Pick] | None = None
    for one in numbers:
        first = min(usage.most(at, one), pots - 1)
        fixed, rest = first * options[one].cost, pots - first
        usage.shift(options[one], first * each)
        for other in numbers:
            cost = fixed + rest * options[other].cost
            if best is not None and cost >= best[0] - 1e-9:
                break  # options are in order of cost
            apart = (options[one].cooler, options[one].bench) != (options[other].cooler, options[other].bench)
            if apart and usage.most(at, other) >= rest:
                best = (cost, Pick(one, 0, Part(other, rest)))
                break
        usage.shift(options[one], -first * each)
    if best is None:
        return None
    larger = best[1].second
    assert larger is not None
    if larger.pots > pots - larger.pots:  # the larger part first, as everywhere
        return Pick(larger.option, 0, Part(best[1].option, pots - larger.pots))
    return best[1]
