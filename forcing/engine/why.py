"""How one lot's dates came about: its weeks as the engine adds them, what moved it, its slack, and what if.

What if is worked out on the lot alone, on its own route: everything else stays as it is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

import numpy as np

from forcing.dates import WEEK, Span, WorkCalendar, monday
from forcing.engine.backward import CountBack, plan_lot, ready_from
from forcing.engine.climate import MEASURED, Climate
from forcing.engine.log import NOTHING
from forcing.engine.simulate import LotSimulation, Run
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


# ---------------------------------------------------------------- what moved it, slack, what if

Case = Literal["bench cooler", "bench warmer", "a week later", "weather colder", "weather warmer"]
BENCH, WEATHER = 1.0, 2.0  # °C by which the bench, and what is outdoors, are put cooler and warmer


@dataclass(frozen=True, slots=True)
class WhatIf:
    """A lot on its own dates if one thing were otherwise."""

    case: Case
    bloom: date | None  # None: a temperature is not known, or it lies too far
    days: int | None  # by which that is later than planned; negative: sooner
    bring_in: (
        date | None
    )  # the latest that would then be in time; None: none would, or it is brought in already


@dataclass(frozen=True, slots=True)
class Moved:
    """A lot counted back alone, with every day a working day: what it would be without room, staff and weekends."""

    bring_in: date
    cold_weeks: float
    potting: date


@dataclass(frozen=True, slots=True)
class Reasons:
    """All that a page on one lot says beside its weeks."""

    slack: (
        int | None
    )  # working days by which it may be brought in later and still bloom in time; None: it has been
    days_needed: float  # on the bench at the reference temperature, after its cold
    alone: Moved | None  # None: it cannot be counted back so
    what_if: tuple[WhatIf, ...]


def reasons(plan: LotPlan, simulation: LotSimulation) -> Reasons:
    """Slack, the arithmetic of its need, what it would be alone, and what if."""
    recipe = plan.recipe
    free = replace(
        simulation, history=NOTHING, pace=1.0, others=None, lot=replace(plan.lot, pots=max(1, plan.lot.pots)),
        season=replace(simulation.season, calendar=WorkCalendar()),
    )  # fmt: skip
    alone = plan_lot(free)
    return Reasons(
        _slack(plan, simulation),
        plan.need / (recipe.reference - recipe.base),
        Moved(alone.bring_in, alone.cold_weeks, alone.potting) if isinstance(alone, LotPlan) else None,
        tuple(_what_ifs(plan, simulation)),
    )


def _run(plan: LotPlan, simulation: LotSimulation, bring_in: date) -> Run | None:
    return simulation.run(plan.cooler_in or bring_in, bring_in)


def _slack(plan: LotPlan, simulation: LotSimulation) -> int | None:
    if simulation.history.brought_in is not None:
        return None
    days, day, calendar = 0, plan.bring_in, simulation.season.calendar
    while day < plan.target:
        day = calendar.after(day)
        run = _run(plan, simulation, day)
        if run is None or run.assured > plan.target:
            return days
        days += 1
    return days


def on_its_route(plan: LotPlan, simulation: LotSimulation) -> LotSimulation:
    """The lot with all that is planned of its waiting in the cold kept: whether it does, and until when."""
    run = _run(plan, simulation, plan.bring_in)
    if run is None or simulation.lot.hold_days is not None:
        return simulation
    if run.waiting is None:
        return replace(simulation, lot=replace(simulation.lot, hold_days=0))
    return replace(simulation, back_on=simulation.climate.day(run.waiting.back))


def _what_ifs(plan: LotPlan, simulation: LotSimulation) -> Iterator[WhatIf]:
    simulation = on_its_route(plan, simulation)
    places = {place.name: place.kind for place in simulation.season.places}
    benches = {step.place for step in plan.steps if step.place and places.get(step.place) == "bench"}
    outdoors = {name for name, kind in places.items() if kind in ("site", "frame")}
    climate = simulation.climate
    cases: list[tuple[Case, LotSimulation, date]] = [
        ("bench cooler", replace(simulation, climate=climate.shifted(benches, -BENCH)), plan.bring_in),
        ("bench warmer", replace(simulation, climate=climate.shifted(benches, BENCH)), plan.bring_in),
    ]
    if simulation.history.brought_in is None:
        later = simulation.season.calendar.on_or_after(plan.bring_in + WEEK)
        cases.append(("a week later", simulation, later))
    cases += [
        ("weather colder", replace(simulation, climate=climate.shifted(outdoors, -WEATHER)), plan.bring_in),
        ("weather warmer", replace(simulation, climate=climate.shifted(outdoors, WEATHER)), plan.bring_in),
    ]
    for case, changed, bring_in in cases:
        run = _run(plan, changed, bring_in)
        bloom = None if run is None else run.bloom
        days = None if bloom is None else (bloom - plan.bloom).days
        yield WhatIf(case, bloom, days, None if case == "a week later" else _in_time(plan, changed))


def _in_time(plan: LotPlan, simulation: LotSimulation) -> date | None:
    """The latest day out of its cooler, rooted and with the least cold it flowers with, that blooms in time.

    None if it is out already, or there is no such day.
    """
    soonest = ready_from(simulation, plan.potting, plan.cooler_in)
    if simulation.history.brought_in is not None or soonest is None:
        return None
    climate = simulation.climate
    into = None if plan.cooler_in is None else climate.index(plan.cooler_in)
    found = CountBack.of(simulation).with_cooler_in(into, climate.index(soonest))
    return None if found is None else climate.day(found)
