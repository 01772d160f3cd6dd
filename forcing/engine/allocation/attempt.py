"""One attempt of the solver at an answer: with some of the options only, from the best answer known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from forcing.engine.allocation.model import Goal
from forcing.engine.allocation.problem import Answer, Pick, Problem, score, standing_of
from forcing.engine.allocation.solver import Limits, solve
from forcing.engine.linear import Hush

Keep = list[list[int]]  # of each candidate, the numbers of the options that are looked at


def attempt(
    problem: Problem, best: Answer, goal: Goal, caps: tuple[float, float] | None, limits: Limits,
    progress: Callable[[str], None], hush: Hush, keep: Keep | None = None, fresh: bool = False,
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
    solved = solve(narrow, None if fresh else known, goal, caps, limits, progress, hush)
    if solved.answer is not None:
        answer = tuple(
            None if pick is None else _renumbered(pick, numbers.__getitem__)
            for pick, numbers in zip(solved.answer, keep, strict=True)
        )
        if key(problem, answer) < key(problem, best):
            best = answer
    return best, solved.status, solved.bound


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


def key(problem: Problem, answer: Answer) -> tuple[float, float, float, float]:
    """What makes one answer better than another: less over capacity, less left out, fewer hours over, cheaper."""
    standing = standing_of(problem, answer)
    over = sum(
        float(np.clip(taken - problem.room[place] - 1e-6, 0.0, None).sum())
        for place, taken in standing.taken.items()
    )
    left, hours, cost = score(problem, answer)
    return round(over, 3), left, hours, cost
