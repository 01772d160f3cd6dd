"""How full each place is, day by day, and the findings where it is too full."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta

import numpy as np

from forcing.dates import iso_week
from forcing.engine.rooms import pot_area
from forcing.errors import Finding
from forcing.model import LotPlan, PlaceLoad, Season

FULL = 1e-6  # rounding of pot areas is not an overfull room


def place_loads(season: Season, plans: Sequence[LotPlan]) -> tuple[PlaceLoad, ...]:
    """Pots (15 cm-pot equivalents) standing in each place on each day that any lot is anywhere."""
    steps = [step for plan in plans for step in plan.steps]
    if not steps:
        return tuple(PlaceLoad(p.name, p.pots, season.span.start, ()) for p in season.places)
    start = min(step.span.start for step in steps)
    days = (max(step.span.end for step in steps) - start).days
    changes = {place.name: np.zeros(days + 1) for place in season.places}
    for plan in plans:
        area = pot_area(plan)
        for step in plan.steps:
            if step.place is not None:
                changes[step.place][(step.span.start - start).days] += area
                changes[step.place][(step.span.end - start).days] -= area
    return tuple(
        PlaceLoad(p.name, p.pots, start, tuple(np.round(np.cumsum(changes[p.name])[:-1], 6).tolist()))
        for p in season.places
    )


def overfull_findings(season: Season, loads: Sequence[PlaceLoad]) -> Iterator[Finding]:
    """One finding for each place that is over its capacity: which weeks, how many pots over at worst."""
    for load in loads:
        if load.capacity is None or not load.pots:
            continue
        over = [(day, pots) for day, pots in _days(load) if pots > load.capacity + FULL]
        if not over:
            continue
        weeks = sorted({iso_week(day) for day, _ in over})
        peak = max(pots for _, pots in over)
        place = season.place(load.place)
        when = weeks[0] if len(weeks) == 1 else f"{weeks[0]} to {weeks[-1]} ({len(weeks)} weeks)"
        yield Finding(
            "place-overfull", "warning", "places", place.row, "pots",
            f"{place.name} is over its capacity of {load.capacity:g} pots in {when}, "
            f"at worst by {peak - load.capacity:.0f}",
            "Move lots to another place, stagger their targets, or find more room.",
            f"{peak:.0f} pots",
        )  # fmt: skip


def _days(load: PlaceLoad) -> Iterator[tuple[date, float]]:
    return ((load.start + timedelta(days=i), pots) for i, pots in enumerate(load.pots))
