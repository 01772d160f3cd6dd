"""How full each place is, day by day, and the findings where it is too full."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

from forcing.dates import Span, iso_week
from forcing.engine.coolers import area_of
from forcing.errors import Finding
from forcing.model import LotPlan, Occupancy, PlaceLoad, Season

FULL = 1e-6  # rounding of pot areas is not an overfull room


def place_loads(
    season: Season, plans: Sequence[LotPlan], occupancy: Iterable[Occupancy] = ()
) -> tuple[PlaceLoad, ...]:
    """Pots (15 cm-pot equivalents) standing in each place on each day that anything is anywhere.

    `occupancy`: what stands there beside the lots.
    """
    stays = [stay for plan in plans for stay in _stays(plan)]
    stays += [stay for stay in occupancy if stay.span.days]
    if not stays:
        return tuple(PlaceLoad(p.name, p.pots, season.span.start, ()) for p in season.places)
    start = min(stay.span.start for stay in stays)
    days = (max(stay.span.end for stay in stays) - start).days
    changes = {place.name: np.zeros(days + 1) for place in season.places}
    for place, span, area in stays:
        changes[place][(span.start - start).days] += area
        changes[place][(span.end - start).days] -= area
    return tuple(
        PlaceLoad(p.name, p.pots, start, tuple(np.round(np.cumsum(changes[p.name])[:-1], 6).tolist()))
        for p in season.places
    )


def _stays(plan: LotPlan) -> Iterator[Occupancy]:
    """The room that a lot takes; lost, sold and lifted pots take theirs until the day on which they go."""
    width = area_of(replace(plan.lot, pots=1), plan.recipe)
    for step in plan.steps:
        if step.place is None:
            continue
        days = sorted({day for day, _ in (*plan.gone, *plan.lifted) if step.span.start < day < step.span.end})
        for start, end in pairwise((step.span.start, *days, step.span.end)):
            yield Occupancy(step.place, Span(start, end), plan.pots_on(start) * width)


def taking(loads: Sequence[PlaceLoad], plan: LotPlan, sign: int = 1) -> tuple[PlaceLoad, ...]:
    """The loads with the pots of a plan in them too, on the days that they have; `sign` -1: without them."""
    pots = {load.place: np.array(load.pots) for load in loads}
    starts = {load.place: load.start for load in loads}
    for place, span, area in _stays(plan):
        if place in pots:
            first, end = ((day - starts[place]).days for day in (span.start, span.end))
            pots[place][max(0, first) : max(0, end)] += sign * area
    return tuple(replace(load, pots=tuple(pots[load.place].tolist())) for load in loads)


def no_room(loads: Sequence[PlaceLoad], plan: LotPlan, until: date | None = None) -> str | None:
    """The place where a plan that is to come finds no room beside the loads before it blooms; None: it finds it.

    `until`: the day before which room is looked for instead of that of its bloom.
    """
    until = until or plan.bloom
    of = {load.place: load for load in taking(loads, plan)}
    for place, span, area in _stays(plan):
        load = of.get(place)
        if load is None or load.capacity is None or span.start >= until:
            continue
        there = [pots for day, pots in _days(load) if day in span and day < until]
        if max(there, default=area) > load.capacity + FULL:
            return place
    return None


def crowded_findings(
    season: Season, loads: Sequence[PlaceLoad], reported: Collection[str | None], on: date
) -> Iterator[Finding]:
    """One finding for each place, not `reported` already, over its capacity with the companions from day `on`."""
    for load in loads:
        if load.capacity is None or not load.pots or load.place in reported:
            continue
        over = [(day, pots) for day, pots in _days(load) if day >= on and pots > load.capacity + FULL]
        if not over:
            continue
        peak = max(pots for _, pots in over)
        place = season.place(load.place)
        yield Finding(
            "place-overfull", "warning", "places", place.row, "pots",
            f"with the companions, {place.name} is over its capacity of {load.capacity:g} pots in "
            f"{weeks_words([day for day, _ in over])}, at worst by {peak - load.capacity:.0f}",
            "Grow the companions elsewhere, move lots to another place, or find more room.",
            f"{peak:.0f} pots", place=place.name, week=iso_week(over[0][0]), number=peak - load.capacity,
            days=(over[0][0], over[-1][0]),
        )  # fmt: skip


def _days(load: PlaceLoad) -> Iterator[tuple[date, float]]:
    return ((load.start + timedelta(days=i), pots) for i, pots in enumerate(load.pots))


def weeks_words(days: Sequence[date]) -> str:
    """ISO weeks of some days: one, or from the first to the last with their number."""
    weeks = sorted({iso_week(day) for day in days})
    return weeks[0] if len(weeks) == 1 else f"{weeks[0]} to {weeks[-1]} ({len(weeks)} weeks)"
