"""An answer without the work that is not worth it: what may be left out with every lot still on target."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from forcing.engine.steering.model import KEEP, Answer, Problem


def simplify(problem: Problem, answer: Answer, tolerance: int) -> Answer:
    """The answer with holds, moves and settings left out, as long as no lot is the worse for it.

    A lot within `tolerance` days of its target may go anywhere within them; one beyond may get no farther off;
    and the whole stays better than changing nothing. Tolerance 0 gives the answer back.
    """
    if tolerance == 0:
        return answer
    nothing = _pots_off(problem, problem.days_off(problem.unchanged()))
    off, shorter = problem.days_off(answer), True
    while shorter:
        shorter = False
        for fewer in _fewer(answer):
            days = problem.days_off(fewer)
            good = _no_worse(off, days, tolerance) and _pots_off(problem, days) < nothing
            if good and next(problem.faults(fewer), None) is None:
                answer, off, shorter = fewer, days, True
                break
    return answer


def _no_worse(before: Sequence[int], after: Sequence[int], tolerance: int) -> bool:
    return all(abs(b) <= max(tolerance, abs(a)) for a, b in zip(before, after, strict=True))


def _pots_off(problem: Problem, off: Sequence[int]) -> int:
    return sum(lot.pots * abs(days) for lot, days in zip(problem.lots, off, strict=True))


def _fewer(answer: Answer) -> Iterator[Answer]:
    """The answer with one thing less: a hold, a move, a bench left alone, a change put off or left out."""
    for i, hold in enumerate(answer.holds):
        if hold is not None:
            yield Answer(answer.choices, answer.options, (*answer.holds[:i], None, *answer.holds[i + 1 :]))
    for i, option in enumerate(answer.options):
        if option:
            yield Answer(answer.choices, (*answer.options[:i], 0, *answer.options[i + 1 :]), answer.holds)
    for s, row in enumerate(answer.choices):
        for simpler in _simpler(row):
            yield Answer(
                (*answer.choices[:s], simpler, *answer.choices[s + 1 :]), answer.options, answer.holds
            )


def _simpler(row: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """Rows with fewer changes: all as set, or one run of equal choices made like the run before or after it."""
    if any(choice != KEEP for choice in row):
        yield (KEEP,) * len(row)
    runs: list[tuple[int, int]] = []
    for k, choice in enumerate(row):
        if runs and row[runs[-1][0]] == choice:
            runs[-1] = (runs[-1][0], k + 1)
        else:
            runs.append((k, k + 1))
    for number, (first, end) in enumerate(runs):
        before = row[first - 1] if number else KEEP
        neighbours = [before] + ([row[end]] if end < len(row) else [])
        for choice in neighbours:
            if choice != row[first]:
                yield (*row[:first], *(choice,) * (end - first), *row[end:])
