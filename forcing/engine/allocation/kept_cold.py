"""Hours never quietly take cold: at most half a week from a lot, and a word on what more would save."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

import numpy as np

from forcing.dates import iso_week
from forcing.engine.allocation.milp import Limits
from forcing.engine.allocation.options import Candidate
from forcing.engine.allocation.problem import Answer, Pick, Problem, usage_of
from forcing.engine.allocation.search import Found, Keep, answer_in, answer_of, dealt, narrowed, search
from forcing.errors import Finding
from forcing.model import Recipe
from forcing.text import listed, some

COLD_FOR_HOURS = "cold-for-hours"
HALF = 0.5  # weeks of cold that hours may take from a lot: the step that people plan in
ROUNDED = 0.08  # weeks above the maximum that are half a day of rounding
SAVED = 0.5  # hours; fewer are not worth telling of


def search_keeping_cold(
    problem: Problem, recipes: Mapping[str, Recipe], limits: Limits, progress: Callable[[str], None]
) -> tuple[Found, tuple[Finding, ...]]:
    """The places found where hours move no lot's cold by more than half a week; the price of saving more hours.

    What room alone would choose comes first: hours choose only among what is near it. All within the one limit.
    """
    if problem.hours is None or problem.season.cold_for_hours:
        return search(problem, limits, progress), ()
    part = replace(limits, work=limits.work / 3, seconds=limits.seconds / 3)
    free = search(replace(problem, hours=None, known={}), part, progress)
    keep = near_cold(problem, free.answer, recipes)
    found = search(narrowed(problem, keep), part, progress, answer_in(free.answer, keep))
    found = replace(found, answer=dealt(problem, answer_of(found.answer, keep)))
    if usage_of(problem, found.answer).hours_over() < SAVED:
        return found, ()
    other = search(problem, part, progress, found.answer)
    return found, tuple(_price(problem, found.answer, other.answer))


def near_cold(problem: Problem, answer: Answer, recipes: Mapping[str, Recipe]) -> Keep:
    """Of each lot, the options whose cold is near that of the answer and not above the crop's maximum, and its own."""
    return [
        list(range(len(candidate.options)))
        if pick is None or candidate.begun
        else [n for n in range(len(candidate.options)) if _is_near(candidate, pick, n, recipes)]
        for candidate, pick in zip(problem.candidates, answer, strict=True)
    ]


def _is_near(candidate: Candidate, pick: Pick, number: int, recipes: Mapping[str, Recipe]) -> bool:
    option = candidate.options[number]
    if number in pick.options:
        return True
    most = recipes[candidate.lot.name].cold_max + ROUNDED
    if candidate.lot.cold_weeks is None and option.dates.cold_weeks > most:
        return False
    return any(
        abs(option.dates.cold_weeks - candidate.options[n].dates.cold_weeks) <= HALF + 1e-9
        for n in pick.options
    )


def _price(problem: Problem, found: Answer, other: Answer) -> Iterator[Finding]:
    """What hours would save if they took more cold: how much, in which week, and from whom."""
    limit, climate = problem.hours or 0.0, problem.climate_sums.climate
    over = [np.clip(usage_of(problem, answer).hours - limit, 0.0, None) for answer in (found, other)]
    saved = over[0] - over[1]
    would = [
        f"{some(len(lots), 'lot')} ({listed([lot for lot, _ in lots], 6)}) would get up to "
        f"{max(weeks for _, weeks in lots):.1f} weeks {word} cold"
        for word, sign in (("less", 1.0), ("more", -1.0))
        if (lots := [(lot, sign * less) for lot, less in _less(problem, found, other) if sign * less > HALF])
    ]
    if float(saved.sum()) < SAVED or not would:
        return
    busiest, most = (climate.day(max(0, problem.sunday(int(w.argmax())))) for w in (over[0], saved))
    yield Finding(
        COLD_FOR_HOURS, "warning", "season", None, "hours per week",
        f"{' and '.join(would)} to save {saved.sum():.0f} h in all, {saved.max():.0f} of them in {iso_week(most)}; "
        "the plan keeps their cold and needs the hours",
        f"Find {over[0].max():.0f} h of help in {iso_week(busiest)}, or accept it with yes in the season item "
        "cold for hours.",
        f"{limit:g}", week=iso_week(most), number=float(saved.sum()),
    )  # fmt: skip


def _less(problem: Problem, found: Answer, other: Answer) -> Iterator[tuple[str, float]]:
    """Each lot with the weeks of cold that it would get less."""
    for candidate, one, two in zip(problem.candidates, found, other, strict=True):
        if one is not None and two is not None:
            now, then = (candidate.options[p.option].dates.cold_weeks for p in (one, two))
            yield candidate.lot.name, now - then
