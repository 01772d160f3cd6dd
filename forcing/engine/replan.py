"""The days of a lot that was agreed, or that has begun: what stands is kept, and the least of the rest is moved."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

from forcing.dates import DAY
from forcing.engine.backward import CountBack, chosen_cold, lot_plan, plan_lot, ready_from
from forcing.engine.climate import TOLERANCE
from forcing.engine.need import paced
from forcing.engine.simulate import LotSimulation, Run
from forcing.model import Event, LotPlan, Unplanned

# ---------------------------------------------------------------- a lot that was agreed

# Days by which a lot may be expected late, or sooner than when it was agreed, before its handed-out dates are moved:
# late is worse than early, and a forecast moves by some days from week to week. Practice, no source.
LATE, EARLY = 1, 6
SETTLED, SETTLED_LATE = (
    timedelta(days=14),
    3,
)  # within the next two weeks people have their orders: the same, practice


@dataclass(frozen=True, slots=True)
class Failing:
    """In what a lot would fail on given dates: days late or early, weeks of cold or days of rooting that it lacks."""

    kind: Literal["late", "early", "cold", "roots", "unknown"]
    number: float = 0.0  # unknown: 0, a temperature is not known


def failing(simulation: LotSimulation) -> Failing | None:
    """In what the lot would fail on its agreed dates, those logged kept; None: in nothing."""
    _, cooler_in, bring_in = _agreed_days(simulation)
    return _failing(simulation, simulation.history.cooler_in or cooler_in, bring_in)


def _failing(simulation: LotSimulation, cooler_in: date | None, bring_in: date) -> Failing | None:
    recipe, pin = simulation.recipe, simulation.history.agreed
    assert pin is not None
    if simulation.in_cooler:
        if cooler_in is None or cooler_in >= bring_in:
            return Failing("cold", recipe.cold_least)
        cold, rooted = simulation.cold_weeks(cooler_in, bring_in), simulation.rooted(cooler_in)
        if cold is not None and cold < recipe.cold_least - TOLERANCE:
            return Failing("cold", recipe.cold_least - cold)
        if rooted is None or rooted > bring_in:
            return Failing("roots", 0 if rooted is None else (rooted - bring_in).days)
    run = simulation.run(cooler_in, bring_in)
    if run is None:
        return Failing("unknown")
    late = (run.assured - simulation.target).days
    early = (pin.lot.bloom + (simulation.target - pin.lot.target) - run.bloom).days
    soon = pin.on <= pin.lot.bring_in < pin.on + SETTLED
    if late > (SETTLED_LATE if soon else LATE):
        return Failing("late", late)
    return Failing("early", early) if early > EARLY else None


def _agreed_days(simulation: LotSimulation) -> tuple[date, date | None, date]:
    """Potting, cooler-in and bring-in as agreed; one ahead on which nobody works is the working day before."""
    pin, calendar = simulation.history.agreed, simulation.season.calendar
    assert pin is not None

    def kept(day: date) -> date:
        return day if day < pin.on else calendar.on_or_before(day)

    cooler_in = pin.lot.cooler_in if simulation.in_cooler else None
    return kept(pin.lot.potting), None if cooler_in is None else kept(cooler_in), kept(pin.lot.bring_in)


def _as_agreed(simulation: LotSimulation) -> LotPlan | Unplanned:
    """A lot of which nothing is logged on its agreed dates; where they fail it, with the least of them moved.

    First the day it is brought in; its potting and its day in the cooler only while they lie ahead. What is past was
    done as agreed, whatever comes of it.
    """
    pin = simulation.history.agreed
    assert pin is not None
    potting, cooler_in, bring_in = _agreed_days(simulation)
    ahead = potting > pin.on
    same = simulation.lot.cold_weeks in (None, pin.lot.cold_weeks) and simulation.target == pin.lot.target
    if cooler_in is None and simulation.in_cooler:
        return plan_lot(simulation)
    if ahead and not same:
        anew = _planned_from(simulation, pin.on)
        if isinstance(anew, LotPlan) or isinstance(plan_lot(simulation), Unplanned):
            return anew
    day: date | None = bring_in
    if bring_in >= pin.on and _failing(simulation, cooler_in, bring_in) is not None:
        day, in_time = _brought_in_again(simulation, potting, cooler_in)
        if ahead and not in_time and isinstance(anew := _planned_from(simulation, pin.on), LotPlan):
            return anew
    run = None if day is None else simulation.run(cooler_in, day)
    if run is None:
        return plan_lot(simulation)
    return lot_plan(simulation, chosen_cold(simulation), potting, cooler_in, run)


def _planned_from(simulation: LotSimulation, on: date) -> LotPlan | Unplanned:
    """The lot counted back, but potted on `on` at the soonest: it was agreed for later, so nobody has potted it yet."""
    lot, in_hand = simulation.lot, simulation.season.in_hand(simulation.lot)
    plan = plan_lot(replace(simulation, lot=replace(lot, in_hand=max(on, in_hand or on))))
    return replace(plan, lot=lot)


def _brought_in_again(
    simulation: LotSimulation, potting: date | None, cooler_in: date | None
) -> tuple[date | None, bool]:
    """Latest day out of the cooler that blooms in time, or else the soonest there is; and whether it is in time."""
    soonest, climate = ready_from(simulation, potting, cooler_in), simulation.climate
    if soonest is None:
        return None, False
    pin = simulation.history.agreed
    if pin is not None and pin.lot.bring_in >= pin.on:
        soonest = max(
            soonest, simulation.season.calendar.on_or_after(pin.on)
        )  # nobody is told to have done it before
    into = None if cooler_in is None else climate.index(cooler_in)
    latest = CountBack.of(simulation).with_cooler_in(into, climate.index(soonest))
    if latest is None and simulation.due < simulation.target:
        return _brought_in_again(replace(simulation, finishes_outdoors=True), potting, cooler_in)
    return (soonest, False) if latest is None else (climate.day(latest), True)


# ---------------------------------------------------------------- a lot that has begun


# A move overdue by less than this is taken to be still to do; one overdue by more, to have been done as planned and
# not logged. Practice, no source: nobody leaves pots standing for three weeks, many forget to write it down.
FORGOTTEN = timedelta(days=21)


def replan_lot(simulation: LotSimulation) -> LotPlan | Unplanned:
    """The dates of a lot, logged ones kept.

    A move of a lot that has a log which was due not long ago and is not logged is taken to happen on the next working
    day (FORGOTTEN); a lot without a log is taken to have lived as planned.

    Moves still to come are counted back at the recipe's pace, so that they stay; what comes of them is expected at the
    pace that is known. Figures that no date can be worked out from are the reason why this one lot is not planned.
    """
    try:
        plan = _replanned(simulation, simulation.history.as_of)
        return as_expected(simulation, plan) if isinstance(plan, LotPlan) else plan
    except (ArithmeticError, ValueError) as error:
        return Unplanned(simulation.lot, f"its figures lead to no dates ({error})", None)


def as_expected(simulation: LotSimulation, plan: LotPlan) -> LotPlan:
    """The plan on its own dates, with stages, bloom and fade at the pace that looks at it, and at other lots, show."""
    if simulation.others is None and not simulation.history.looks:
        return plan
    run = simulation.run(plan.cooler_in, plan.bring_in)
    known = None if run is None else paced(simulation, run)
    run = None if known is None else known.run(plan.cooler_in, plan.bring_in)
    if known is None or run is None:
        return plan
    plan_known = lot_plan(known, plan.cold_wanted, plan.potting, plan.cooler_in, run)
    return replace(plan_known, was_due=plan.was_due)


def _replanned(simulation: LotSimulation, not_before: date | None) -> LotPlan | Unplanned:
    history = simulation.history
    if not history.started:
        return _never_logged(simulation)
    if simulation.lot.pots == 0 and history.ended is None:
        return Unplanned(simulation.lot, f"all its pots are lost by {history.last}", None, history.last)
    planned = _never_logged(_as_begun(simulation))
    base = planned if isinstance(planned, LotPlan) else None
    cooler_in = _cooler_in(simulation, base, not_before)
    if cooler_in is None and simulation.in_cooler:
        return planned
    potting = _potting(simulation, base, cooler_in)
    run = _run(simulation, base, potting, cooler_in, not_before)
    if run is None:
        reason = planned.reason if isinstance(planned, Unplanned) else _why_it_stops(simulation, cooler_in)
        return Unplanned(simulation.lot, reason, None)
    potting = potting or simulation.season.calendar.before(run.stays[0].start)
    plan = lot_plan(simulation, chosen_cold(simulation), potting, cooler_in, run)
    return replace(plan, was_due=_was_due(simulation, base, plan))


def _why_it_stops(simulation: LotSimulation, cooler_in: date | None) -> str:
    """What is missing for a lot to go on from where its log has brought it."""
    least, climate = simulation.recipe.cold_least, simulation.climate
    if cooler_in is not None and simulation.history.brought_in is None:
        had = simulation.cold_weeks(cooler_in, climate.day(climate.days))
        if had is not None and had < least:
            return f"where it stands it gets {had:.1f} cold-weeks, and it needs at least {least:g} to flower"
        if had is not None and simulation.rooted(cooler_in) is None:
            return "it does not root where it stands"
    return "a temperature of its places is not known"


def _never_logged(simulation: LotSimulation) -> LotPlan | Unplanned:
    return plan_lot(simulation) if simulation.history.agreed is None else _as_agreed(simulation)


def _as_begun(simulation: LotSimulation) -> LotSimulation:
    """The lot as it was before anything was logged, on its way to the cooler that it first went to."""
    coolers, route = simulation.history.coolers, simulation.route
    cooler = coolers[0].place if coolers and route.cooler is not None else route.cooler
    return replace(simulation, history=simulation.history.blank, route=replace(route, cooler=cooler))


@dataclass(frozen=True, slots=True)
class Expectation:
    """A lot as it is now expected to go on: its plan, and its forward run at the pace that is known."""

    plan: LotPlan
    simulation: LotSimulation
    run: Run


def expectation(simulation: LotSimulation, on: date) -> Expectation | None:
    """What is now expected of a lot, as seen on day `on`; None where it cannot be planned, or is all sold."""
    if simulation.history.as_of != on:  # seen from another day than its log was read for
        simulation = replace(simulation, history=replace(simulation.history, as_of=on))
    plan = replan_lot(simulation)
    if not isinstance(plan, LotPlan) or simulation.history.ended is not None:
        return None
    paced = simulation.at_pace_of(plan)
    run = paced.run(plan.cooler_in, plan.bring_in)
    return None if run is None else Expectation(plan, paced, run)


def expectations(simulations: Iterable[LotSimulation], on: date) -> dict[str, Expectation | None]:
    """What is now expected of each lot, by its name."""
    return {simulation.lot.name: expectation(simulation, on) for simulation in simulations}


def _cooler_in(simulation: LotSimulation, base: LotPlan | None, not_before: date | None) -> date | None:
    """When it went into the cold: as logged, else as planned but after it was potted; None without cold."""
    history, calendar = simulation.history, simulation.season.calendar
    if history.cooler_in is not None:
        return history.cooler_in
    if not simulation.in_cooler:
        return None
    day = base.cooler_in if base is not None else None
    if history.brought_in is not None:
        # It is on the bench, so it was in the cold, on the planned day for want of a logged one.
        return None if day is None else min(day, history.brought_in - DAY)
    if history.potted is not None:
        potted = calendar.after(history.potted)
        day = potted if day is None else max(day, potted)
    return day if day is None else _still_to_do(simulation, day, not_before)


def _still_to_do(simulation: LotSimulation, day: date, not_before: date | None) -> date:
    """The day of a planned move that is not logged: not in the past, unless it lies so far back that it was done."""
    if not_before is None or day >= not_before or day < not_before - FORGOTTEN:
        return day
    return simulation.season.calendar.on_or_after(not_before)


def _was_due(
    simulation: LotSimulation, base: LotPlan | None, plan: LotPlan
) -> tuple[tuple[Event, date], ...]:
    """The moves that a plan has put off until now, each with the day on which it was due."""
    history, calendar = simulation.history, simulation.season.calendar
    if history.as_of is None or history.brought_in is not None or history.first_sign is not None:
        return ()
    today = calendar.on_or_after(history.as_of)
    days: dict[Event, date | None] = {}
    if history.cooler_in is None and plan.cooler_in == today:
        days["cooler in"] = _cooler_in(simulation, base, None)
    elif plan.bring_in == today:
        days["brought in"] = _bring_in(simulation, plan.potting, plan.cooler_in, None)
    return tuple((event, day) for event, day in days.items() if day is not None and day < history.as_of)


def _potting(simulation: LotSimulation, base: LotPlan | None, cooler_in: date | None) -> date | None:
    """When it was potted: as logged, else as planned but before it went anywhere; None where nothing tells."""
    potting = simulation.history.potted or (base.potting if base is not None else None)
    first = cooler_in or simulation.history.brought_in
    if first is not None and (potting is None or potting > first):
        return simulation.season.calendar.before(first)
    return potting


def _run(
    simulation: LotSimulation, base: LotPlan | None, potting: date | None, cooler_in: date | None,
    not_before: date | None,
) -> Run | None:  # fmt: skip
    """The lot run forward from the day it was brought in, by the log, or is to be; None where that is not known."""
    bring_in, sign = simulation.history.brought_in, simulation.history.first_sign
    if bring_in is None and sign is not None:
        bring_in = _before_first_sign(simulation, base, cooler_in, sign)
    elif bring_in is None:
        bring_in = _bring_in(simulation, potting, cooler_in, not_before)
    return None if bring_in is None else simulation.run(cooler_in, bring_in)


def _before_first_sign(
    simulation: LotSimulation, base: LotPlan | None, cooler_in: date | None, sign: date
) -> date:
    """When a lot was brought in that has shown a stage since: as planned, or on the last working day before it."""
    if base is not None and base.bring_in < sign:
        return base.bring_in
    day = simulation.season.calendar.before(sign)
    return day if cooler_in is None else max(day, cooler_in + DAY)


def _bring_in(
    simulation: LotSimulation, potting: date | None, cooler_in: date | None, not_before: date | None
) -> date | None:
    """The agreed bring in, where it still does; else the latest that blooms in time with the least cold had.

    Where none does, the soonest there is.
    """
    day: date | None = None
    if simulation.history.agreed is not None:
        agreed = _agreed_days(simulation)[2]
        day = agreed if _failing(simulation, cooler_in, agreed) is None else None
    day = day or _brought_in_again(simulation, potting, cooler_in)[0]
    return None if day is None else _still_to_do(simulation, day, not_before)
