"""How one lot's dates came about: its weeks as the engine adds them, what moved it, its slack, and what if.

What if is worked out on the lot alone, on its own route: everything else stays as it is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from statistics import NormalDist
from typing import Literal

import numpy as np

from forcing.dates import WEEK, Span, WorkCalendar, monday
from forcing.engine.backward import CountBack, plan_lot, ready_from
from forcing.engine.climate import MEASURED, Climate
from forcing.engine.log import NOTHING
from forcing.engine.simulate import LotSimulation, Run
from forcing.errors import Finding, Several
from forcing.model import LotPlan, Season, Step
from forcing.science.flowering import lognormal_sigma
from forcing.text import some
from forcing.units import show_difference

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


Cause = Literal["cold", "days off", "agreed", "logged", "hours"]


@dataclass(frozen=True, slots=True)
class Moved:
    """A lot counted back alone: what it would be without room, staff and weekends, and what moved it from there."""

    bring_in: date
    cold_weeks: float
    potting: date
    by: tuple[tuple[Cause, int], ...]  # days by which each made it later; negative: sooner


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
    return Reasons(
        _slack(plan, simulation),
        plan.need / (plan.recipe.reference - plan.recipe.base),
        _moved(plan, simulation),
        tuple(_what_ifs(plan, simulation)),
    )


def _moved(plan: LotPlan, simulation: LotSimulation) -> Moved | None:
    """The lot alone on the cold of its recipe and then, one after another, with what keeps it from that."""
    alone = replace(
        simulation, history=NOTHING, pace=1.0, others=None, season=replace(simulation.season, calendar=WorkCalendar()),
        lot=replace(plan.lot, pots=max(1, plan.lot.pots), cold_weeks=None),
    )  # fmt: skip
    chosen = replace(
        alone, lot=replace(alone.lot, cold_weeks=plan.cold_wanted if plan.recipe.needs_cold else None)
    )
    first = plan_lot(alone)
    if not isinstance(first, LotPlan):
        return None
    history = simulation.history
    last: Cause = "logged" if history.started else "hours" if history.agreed is None else "agreed"
    ways: tuple[tuple[Cause, LotSimulation], ...] = (
        ("cold", chosen), ("days off", replace(chosen, season=simulation.season)),
    )  # fmt: skip
    days: list[tuple[Cause, date]] = []
    for cause, way in ways:
        made = plan_lot(way)
        if isinstance(made, LotPlan):
            days.append((cause, made.bring_in))
    days.append((last, plan.bring_in))
    befores = (first.bring_in, *(day for _, day in days))
    by = tuple(
        (cause, (day - was).days) for (cause, day), was in zip(days, befores, strict=False) if day != was
    )
    return Moved(first.bring_in, first.cold_weeks, first.potting, by)


def _run(plan: LotPlan, simulation: LotSimulation, bring_in: date) -> Run | None:
    return simulation.run(plan.cooler_in, bring_in)


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
    outdoors = {p.name for p in simulation.season.places if p.kind in ("site", "frame")}
    climate = simulation.climate
    cases: list[tuple[Case, LotSimulation, date]] = [
        ("bench cooler", on_benches(simulation, -BENCH), plan.bring_in),
        ("bench warmer", on_benches(simulation, BENCH), plan.bring_in),
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
        bloom = None if run is None else _never_odd(plan, run.bloom, _SIGNS[case])
        days = None if bloom is None else (bloom - plan.bloom).days
        yield WhatIf(case, bloom, days, None if case == "a week later" else _in_time(plan, changed))


_SIGNS: dict[Case, int] = {
    "bench cooler": -1, "bench warmer": 1, "a week later": -1, "weather colder": -1, "weather warmer": 1,
}  # fmt: skip


def _never_odd(plan: LotPlan, bloom: date, warmer: int) -> date:
    """A bloom that is never sooner for less warmth (`warmer` -1), nor later for more (1).

    Colour a day later may mean a shorter wait in the cold, as staff carry on working days: no effect of warmth.
    """
    return min(plan.bloom, bloom) if warmer > 0 else max(plan.bloom, bloom)


def on_benches(simulation: LotSimulation, by: float) -> LotSimulation:
    """The lot with the benches so many °C warmer than planned: its own are all that it feels of it."""
    benches = {place.name for place in simulation.season.places if place.kind == "bench"}
    return replace(simulation, climate=simulation.climate.shifted(benches, by))


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


# ---------------------------------------------------------------- what its dates bear

HALF = 0.5  # °C: what a bench is easily off without anybody seeing it; common practice, no source
BORNE = 1  # day by which bloom may fall with that, and nothing is said


@dataclass(frozen=True, slots=True)
class Leeway:
    """What the date of a lot bears: its slack, and its bloom on its own dates with its bench 1 °C off."""

    slack: int | None  # working days, as in Reasons
    cooler: date | None  # None: a temperature is not known, or it lies too far
    warmer: date | None


def leeway(plan: LotPlan, simulation: LotSimulation) -> Leeway:
    """What the dates of a lot bear, as its page says it."""
    route = on_its_route(plan, simulation)
    runs = [(sign, _run(plan, on_benches(route, sign * BENCH), plan.bring_in)) for sign in (-1, 1)]
    cooler, warmer = (None if run is None else _never_odd(plan, run.bloom, sign) for sign, run in runs)
    return Leeway(_slack(plan, simulation), cooler, warmer)


def half_degree_findings(
    season: Season, lots: Sequence[tuple[LotPlan, LotSimulation]], on: date
) -> Iterator[Finding]:
    """Lots still to be brought in that come days after they are due where their bench is half a degree too cool.

    Those that wait in the cold, or are brought in early enough, take it up.
    """
    off = show_difference(HALF, season.unit)
    for plan, simulation in lots:
        if plan.bring_in < on or simulation.history.brought_in is not None or not plan.lot.pots:
            continue
        run = _run(plan, on_benches(on_its_route(plan, simulation), -HALF), plan.bring_in)
        falls = 0 if run is None else (run.ready - plan.ready).days
        if run is None or falls <= BORNE or run.ready <= max(simulation.due, plan.ready):
            continue
        late, sure, bench = (
            (run.ready - simulation.due).days,
            season.confidence_of(plan.lot),
            simulation.route.bench,
        )
        tell = "with {bench} {off} cooler than planned {who} {late} after {whose} target"
        yield Finding(
            "half-degree", "note", "lots", plan.lot.row, "confidence",
            tell.format(bench=bench, off=off, who=f"{plan.lot.name} blooms", late=some(late, "day"), whose="its"),
            f"It is timed for the typical pot (confidence {sure:g}), as sooner it would fade sooner. Read the bench "
            f"daily; a confidence of {_bearing(plan, run):g} has it sooner, and held in the cold until it is wanted.",
            lot=plan.lot.name, place=bench, number=late,
            several=Several(
                tell.format(bench=bench, off=off, who="{names} bloom", late="up to {most} days", whose="their"),
                f"They are timed for the typical pot (confidence {sure:g}), as sooner they would fade sooner. Read the "
                "bench daily; a higher confidence has them sooner, and held in the cold until they are wanted.",
            ),
        )  # fmt: skip


def _bearing(plan: LotPlan, cooler: Run) -> float:
    """The confidence, in steps of 0.05, whose margin is the heat that half a degree takes by bloom."""
    days = (cooler.ready - plan.bring_in).days
    score = HALF * days / (plan.need * float(lognormal_sigma(plan.recipe.spread)))
    return min(0.95, math.ceil(NormalDist().cdf(score) * 20 - 1e-9) / 20)
