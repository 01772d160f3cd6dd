"""How one lot's dates came about: week by week, the cold and the heat it is credited with, as the engine adds them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from forcing.dates import WEEK, Span, monday
from forcing.engine.climate import MEASURED, Climate
from forcing.model import LotPlan, Step

IN_THE_COLD = ("root", "cool")
GATHERING = ("bench", "hold", "harden")  # what it gathers after bloom is its life on display, not its need


@dataclass(frozen=True, slots=True)
class LotWeek:
    """A lot in one place for the days of one ISO week, or less. None: a temperature there is not known."""

    step: str
    place: str  # empty: before the bulbs came
    span: Span
    mean: float | None  # °C
    measured: int  # days of the span whose temperature was read, and not assumed
    cold: float | None  # weeks credited in the span
    cold_so_far: float | None  # weeks, with what the bulbs came with
    heat: float | None  # °C·d gathered in the span
    heat_so_far: float | None  # °C·d since bring in


def lot_weeks(plan: LotPlan, climate: Climate) -> tuple[LotWeek, ...]:
    """The weeks of a lot from cooler to bloom; a first row of no days where its bulbs came precooled.

    The cold adds up to the plan's cold-weeks, and the heat to its need on the morning of bloom, or to as much more
    as the last day gave.
    """
    rows: list[LotWeek] = []
    brought = plan.recipe.precooled(plan.lot.precooled_weeks) if plan.recipe.needs_cold else 0.0
    cold: float | None = brought
    heat: float | None = 0.0
    if brought:
        start = plan.cooler_in or plan.bring_in
        rows.append(LotWeek("precooled", "", Span(start, start), None, 0, brought, brought, 0.0, 0.0))
    for step, span in _spans(plan):
        place = step.place or ""
        first, last = climate.index(span.start), climate.index(span.end)
        credited: float | None = 0.0
        gathered: float | None = 0.0
        if step.step in IN_THE_COLD:
            days = climate.cold(place, plan.recipe.cold_curve).total(first, last)
            credited = None if days is None else days / 7
        else:
            gathered = climate.heat(place, plan.recipe.base, plan.recipe.cap).total(first, last)
        cold, heat = _sum(cold, credited), _sum(heat, gathered)
        mean = float(np.mean(climate.mean(place)[first:last]))
        measured = int(np.count_nonzero(climate.basis[place][first:last] == MEASURED))
        rows.append(
            LotWeek(step.step, place, span, None if np.isnan(mean) else mean, measured, credited, cold, gathered, heat)
        )  # fmt: skip
    return tuple(rows)


def _spans(plan: LotPlan) -> Iterator[tuple[Step, Span]]:
    """The steps that give cold or heat, cut at Mondays."""
    for step in plan.steps:
        day = step.span.start
        while step.step in (*IN_THE_COLD, *GATHERING) and day < step.span.end:
            end = min(monday(day) + WEEK, step.span.end)
            yield step, Span(day, end)
            day = end


def _sum(so_far: float | None, more: float | None) -> float | None:
    return None if so_far is None or more is None else so_far + more
