"""Rooms apart: coolers that stay as warm as roots want, and coolers for what is rooted.

Where lots come in week by week, no one step-down of a room suits them all: whoever comes early has shoots before
whoever comes late has roots.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from forcing.engine.climate import Climate, Floats
from forcing.engine.coolers import Places, in_cooler, pot_area, rooting_in, states_its_own, stay_in
from forcing.engine.simulate import UNSUITED
from forcing.model import LotPlan, Season


@dataclass(frozen=True, slots=True)
class Apart:
    """Coolers to root in, coolers for what is rooted, and the lots that are to be moved, by name."""

    warm: tuple[str, ...]
    cold: tuple[str, ...]
    moving: tuple[str, ...]

    def lots_in(self, season: Season, placed: Mapping[str, Places]) -> tuple[Season, dict[str, Places]]:
        """The season and places with these lots rooted in the first rooms and moved to the others, each in turn."""
        first = dict(zip(self.moving, itertools.cycle(self.warm)))
        then = dict(zip(self.moving, itertools.cycle(self.cold)))
        lots = tuple(
            replace(lot, cooler_after_rooting=then.get(lot.name, lot.cooler_after_rooting))
            for lot in season.lots
        )
        return replace(season, lots=lots), {
            name: (first.get(name, cooler), bench) for name, (cooler, bench) in placed.items()
        }


def rooms_apart(
    season: Season, climate: Climate, plans: Sequence[LotPlan], free: Collection[str]
) -> Apart | None:
    """The coolers set apart as the `free` lots (by their stated names) need room at one time; None: it cannot be.

    Rooms that state their temperatures are what they are; of the others those are to be warm with which least stands
    over what they hold, and of such the smallest.
    """
    mine = [plan for plan in plans if plan.lot.stated_name in free and plan.cooler_in is not None]
    others = [plan for plan in plans if plan.lot.stated_name not in free]
    moving = [plan for plan in mine if plan.recipe.rooting_at - plan.recipe.kept_at > UNSUITED]
    if not moving:
        return None
    names = [place.name for place in season.places if place.kind == "cooler"]
    left = {name: _left(season, climate, name, others) for name in names}
    wanted = _wanted(climate, mine, moving)
    must = _must_be_warm(season, climate, names, moving, others)

    def lack(warm: Collection[str]) -> tuple[float, float]:
        over = [
            np.clip(need - sum(left[name] for name in names if (name in warm) == (role == 0)), 0.0, None)
            for role, need in enumerate(wanted)
        ]
        return round(float(np.sum(over)), 3), sum(season.place(name).pots or np.inf for name in warm)

    ways = [
        warm
        for count in range(1, len(names))
        for warm in itertools.combinations(names, count)
        if all(warmth is None or (name in warm) == warmth for name, warmth in must.items())
    ]
    if not ways:
        return None
    warm = min(ways, key=lack)
    cold = tuple(name for name in names if name not in warm)
    return Apart(warm, cold, tuple(plan.lot.name for plan in moving))


def _left(season: Season, climate: Climate, name: str, others: Sequence[LotPlan]) -> Floats:
    """Room in a cooler by day beside other lots."""
    room = np.full(climate.days + 1, season.place(name).pots or np.inf, dtype=float)
    for plan in in_cooler(others, name):
        stay = stay_in(plan, name)
        room[climate.index(stay.start) : climate.index(stay.end)] -= pot_area(plan)
    return np.asarray(np.maximum(room, 0.0))


def _wanted(climate: Climate, mine: Sequence[LotPlan], moving: Sequence[LotPlan]) -> tuple[Floats, Floats]:
    """Room by day of what roots or stays where it is as warm, and of what is to be moved once rooted."""
    warm, cold = np.zeros(climate.days + 1), np.zeros(climate.days + 1)
    for plan in mine:
        assert plan.cooler_in is not None
        start, end = climate.index(plan.cooler_in), climate.index(plan.bring_in)
        rooted = min(end, start + math.ceil(7 * plan.recipe.rooting)) if plan in moving else end
        warm[start:rooted] += pot_area(plan)
        cold[rooted:end] += pot_area(plan)
    return warm, cold


def _must_be_warm(
    season: Season,
    climate: Climate,
    names: Sequence[str],
    moving: Sequence[LotPlan],
    others: Sequence[LotPlan],
) -> dict[str, bool | None]:
    """Of each cooler, whether it is to root in; None: that is open. A room in which other lots root is no cold one."""
    shoots = float(np.median([plan.recipe.kept_at for plan in moving])) + UNSUITED
    first = min(climate.index(plan.cooler_in) for plan in moving if plan.cooler_in is not None)
    last = max(climate.index(plan.bring_in) for plan in moving)
    found: dict[str, bool | None] = {}
    for name in names:
        stated = states_its_own(season, season.place(name))
        mean = float(climate.mean(name)[first:last].mean())
        found[name] = mean > shoots if stated else True if rooting_in(others, name) else None
    return found
