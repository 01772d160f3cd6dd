"""A lot whose life has begun: what is logged stands, and what follows from it is planned again.

A lot without log entries is planned as ever, so a season with no log gives its plan back exactly.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from forcing.dates import DAY
from forcing.engine.backward import Dates, chosen_cold, lot_plan, plan_lot
from forcing.engine.evidence import paced
from forcing.engine.history import NOTHING
from forcing.engine.timeline import Traveller
from forcing.model import LotPlan, Unplanned

# A move overdue by less than this is taken to be still to do; one overdue by more, to have been done as planned and
# not logged. Practice, no source: nobody leaves pots standing for three weeks, many forget to write it down.
FORGOTTEN = timedelta(days=21)


def replan_lot(traveller: Traveller, not_before: date | None = None) -> LotPlan | Unplanned:
    """The dates of a lot, logged ones kept. With `not_before`, moves not logged are not before that day."""
    history = traveller.history
    if not history.started:
        return plan_lot(traveller)
    if traveller.lot.pots == 0:
        return Unplanned(traveller.lot, f"all its pots are lost by {history.last}", None)
    planned = plan_lot(replace(traveller, history=NOTHING))
    base = planned if isinstance(planned, LotPlan) else None
    cooler_in = _cooler_in(traveller, base, not_before)
    if cooler_in is None and traveller.recipe.needs_cold:
        return planned
    dates = _dates(traveller, base, cooler_in, not_before)
    if dates is not None and history.stages:
        traveller = paced(traveller, dates.run)
        dates = _dates(traveller, base, cooler_in, not_before)
    if dates is None:
        reason = (
            planned.reason if isinstance(planned, Unplanned) else "a temperature of its places is not known"
        )
        return Unplanned(traveller.lot, reason, None)
    return lot_plan(traveller, chosen_cold(traveller), dates)


def _cooler_in(traveller: Traveller, base: LotPlan | None, not_before: date | None) -> date | None:
    """When it went into the cold: as logged, else as planned but after it was potted; None without cold."""
    history, calendar = traveller.history, traveller.season.calendar
    if history.cooler_in is not None:
        return history.cooler_in
    if not traveller.recipe.needs_cold or (history.brought_in is not None and base is None):
        return None
    day = base.cooler_in if base is not None else None
    if history.brought_in is not None:
        # It is on the bench, so it was in the cold, on the planned day for want of a logged one.
        return None if day is None else min(day, history.brought_in - DAY)
    if history.potted is not None:
        potted = calendar.after(history.potted)
        day = potted if day is None else max(day, potted)
    return day if day is None else _still_to_do(traveller, day, not_before)


def _still_to_do(traveller: Traveller, day: date, not_before: date | None) -> date:
    """The day of a planned move that is not logged: not in the past, unless it lies so far back that it was done."""
    if not_before is None or day >= not_before or day < not_before - FORGOTTEN:
        return day
    return traveller.season.calendar.on_or_after(not_before)


def _dates(
    traveller: Traveller, base: LotPlan | None, cooler_in: date | None, not_before: date | None
) -> Dates | None:
    history, calendar = traveller.history, traveller.season.calendar
    potting = history.potted or (base.potting if base is not None else None)
    first = cooler_in or history.brought_in
    if potting is None or (first is not None and potting > first):
        potting = calendar.before(first) if first is not None else None
    if history.brought_in is not None:
        bring_in: date | None = history.brought_in
    elif history.first_sign is not None:
        bring_in = _before_first_sign(traveller, base, cooler_in, history.first_sign)
    else:
        bring_in = _bring_in(traveller, cooler_in, potting, not_before)
    if bring_in is None:
        return None
    run = traveller.run(cooler_in or bring_in, bring_in)
    return None if run is None else Dates(potting or calendar.before(bring_in), cooler_in, bring_in, run)


def _before_first_sign(
    traveller: Traveller, base: LotPlan | None, cooler_in: date | None, sign: date
) -> date:
    """When a lot was brought in that has shown a stage since: as planned, or on the last working day before it."""
    if base is not None and base.bring_in < sign:
        return base.bring_in
    day = traveller.season.calendar.before(sign)
    return day if cooler_in is None else max(day, cooler_in + DAY)


def _bring_in(
    traveller: Traveller, cooler_in: date | None, potting: date | None, not_before: date | None
) -> date | None:
    """Latest bring in that blooms in time with the least cold had; where none does, the soonest there is."""
    calendar, recipe = traveller.season.calendar, traveller.recipe
    if cooler_in is None:
        soonest = None if potting is None else calendar.after(potting)
    else:
        enough, rooted = traveller.enough_cold(cooler_in, recipe.cold_min), traveller.rooted(cooler_in)
        soonest = (
            None
            if enough is None or rooted is None
            else calendar.on_or_after(max(enough, rooted, cooler_in + DAY))
        )
    if soonest is None:
        return None
    best, bring_in = soonest, soonest
    while bring_in < traveller.target:
        run = traveller.run(cooler_in or bring_in, bring_in)
        if run is None:
            break
        if max(run.bloom, run.assured) <= traveller.target:
            best = bring_in
        bring_in = calendar.after(bring_in)
    return _still_to_do(traveller, best, not_before)
