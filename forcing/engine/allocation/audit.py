"""An allocation counted again, pot by pot and day by day, from the finished plans: independent of the search.

It shares no code with the search: it knows steps, dates and capacities only. What it finds wrong is not used.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from forcing.model import LotPlan, Occupancy, Season

SLACK = 1e-3  # pots


@dataclass(frozen=True, slots=True)
class Overfull:
    """A day on which more stands in a place than it holds."""

    place: str
    day: date
    pots: float  # 15 cm-pot equivalents standing there
    capacity: float
    lots: tuple[str, ...]


def count(plans: Sequence[LotPlan], occupancy: Sequence[Occupancy] = ()) -> Mapping[tuple[str, date], float]:
    """Pots (15 cm-pot equivalents) in each place on each day, by walking every lot through every day."""
    standing: dict[tuple[str, date], float] = defaultdict(float)
    for place, span, room in occupancy:
        for i in range(span.days):
            standing[place, span.start + timedelta(days=i)] += room
    for plan in plans:
        width = plan.recipe.pot if plan.lot.pot_cm is None else plan.lot.pot_cm
        room = plan.lot.pots * width * width / 225.0
        for step in plan.steps:
            day = step.span.start
            while step.place is not None and day < step.span.end:
                standing[step.place, day] += room
                day += timedelta(days=1)
    return standing


def overfull(
    season: Season, plans: Sequence[LotPlan], occupancy: Sequence[Occupancy] = ()
) -> tuple[Overfull, ...]:
    """Every day and place over capacity with lots in it, in order of place and day."""
    capacity = {place.name: place.pots for place in season.places if place.pots is not None}
    out = []
    for (place, day), pots in sorted(count(plans, occupancy).items()):
        if place in capacity and pots > capacity[place] + SLACK:
            there = [
                p.lot.name
                for p in plans
                if any(s.place == place and s.span.start <= day < s.span.end for s in p.steps)
            ]
            if there:
                out.append(Overfull(place, day, pots, capacity[place], tuple(sorted(there))))
    return tuple(out)


def broken(season: Season, plans: Sequence[LotPlan], fixed: Collection[str] = ()) -> tuple[str, ...]:
    """What the plans break of the rules that hold for all: in words; none if sound.

    `fixed`: lots whose dates are not chosen any more; those that have begun are not either.
    """
    works, out = season.calendar.works, []
    begun = {entry.lot for entry in season.log} | set(fixed)
    for plan in plans:
        if plan.lot.name in begun:
            continue
        name = plan.lot.name
        moves = [plan.potting, plan.bring_in] + ([plan.cooler_in] if plan.cooler_in else [])
        out += [f"{name} is moved on {day}, when nobody works" for day in moves if not works(day)]
        in_hand = season.in_hand(plan.lot)
        if in_hand is not None and plan.potting < in_hand:
            out.append(f"{name} is potted before its bulbs are there")
        if plan.recipe.needs_cold and plan.cold_weeks < plan.recipe.cold_least - 1e-3:
            out.append(f"{name} gets {plan.cold_weeks:.2f} cold-weeks, fewer than it needs")
        if plan.ready > plan.target:
            out.append(f"{name} is ready after its target")
    return tuple(out)
