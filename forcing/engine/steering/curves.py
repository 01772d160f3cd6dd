"""Days off target against bench temperature, bench by bench, so that a person can choose otherwise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from forcing.engine.steering.answer import Curve
from forcing.engine.steering.model import KEEP, Answer, LiveLot, Problem
from forcing.engine.steering.setup import Setup


def curves(setup: Setup, answer: Answer) -> tuple[Curve, ...]:
    """A curve for each bench that lots stand on in the answer, its other benches as the answer has them."""
    return tuple(
        curve for stand in range(len(setup.problem.stands)) if (curve := _curve(setup, answer, stand)) is not None
    )  # fmt: skip


def _curve(setup: Setup, answer: Answer, stand: int) -> Curve | None:
    problem = setup.problem
    bench = problem.stands[stand]
    on_it = [i for i, lot in enumerate(problem.lots) if _stands_there(problem, lot, answer.options[i], stand)]
    row = answer.choices[stand]
    choices = [
        c for c in range(1, len(bench.means))
        if all(_allowed(problem, stand, c, k) for k in range(len(row)))
        and all(c in problem.lots[i].fits[stand] for i in on_it)
    ]  # fmt: skip
    if not on_it or len(bench.means) == 1:
        return None

    def off(choice_row: tuple[int, ...]) -> float:
        there = replace(answer, choices=(*answer.choices[:stand], choice_row, *answer.choices[stand + 1 :]))
        days = problem.days_off(there)
        pots = sum(problem.lots[i].pots for i in on_it)
        return sum(problem.lots[i].pots * abs(days[i]) for i in on_it) / pots

    keep = (KEEP,) * len(row)
    kept_mean = _mean(setup, stand, keep)
    points = sorted({(bench.means[c], off((c,) * len(row))) for c in choices} | {(kept_mean, off(keep))})
    return Curve(
        bench=bench.name,
        lots=tuple(problem.lots[i].name for i in on_it),
        means=tuple(mean for mean, _ in points),
        days_off=tuple(days for _, days in points),
        now=(kept_mean, off(keep)),
        chosen=(_mean(setup, stand, row), off(row)),
    )


def _stands_there(problem: Problem, lot: LiveLot, option: int, stand: int) -> bool:
    """Whether a lot is on a bench on any day that is steered."""
    return any(
        lot.options[option].path[k] == stand and max(first, lot.begin) < min(end, lot.leave)
        for k, (first, end) in enumerate(problem.blocks)
    )


def _allowed(problem: Problem, stand: int, choice: int, block: int) -> bool:
    """Whether a bench may be set so; the choice that is what it is set to anyway may not be listed again."""
    open_ = problem.stands[stand].choices[block]
    return choice in open_ or len(open_) > 1


def _mean(setup: Setup, stand: int, row: tuple[int, ...]) -> float:
    """Mean temperature [°C] over the days that are steered."""
    problem, bench = setup.problem, setup.problem.stands[stand]
    first = setup.worked.climate.index(setup.start)
    now = setup.worked.climate.mean(bench.name)[first : first + problem.days]
    total = sum(
        float(np.sum(now[a:b])) if choice == KEEP else bench.means[choice] * (b - a)
        for (a, b), choice in zip(problem.blocks, row, strict=True)
    )
    return total / problem.tail
