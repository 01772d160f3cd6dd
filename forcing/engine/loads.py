"""How full each place is, day by day, and the findings where it is too full."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from forcing.dates import Span, iso_week
from forcing.engine.companions import CompanionPlan
from forcing.engine.coolers import area_of
from forcing.engine.show.pots import TRAY_ROOM
from forcing.errors import Finding
from forcing.model import LotPlan, Occupancy, PlaceLoad, Season
from forcing.text import some

FULL = 1e-6  # rounding of pot areas is not an overfull room


def companion_stays(plan: CompanionPlan) -> tuple[Occupancy, ...]:
    """The room of each stay, so that it is counted with the bulbs.

    Room is pots times the square of their width. On a site it is the pots of the displays there; a companion of no
    display is counted up to its set-out day.
    """
    width = plan.recipe.pot / 15.0
    return tuple(
        Occupancy(s.place, s.span, s.trays * TRAY_ROOM if s.trays else s.pots * width**2)
        for s in plan.steps if s.place is not None
    )  # fmt: skip


def place_loads(
    season: Season, plans: Sequence[LotPlan], occupancy: Iterable[Occupancy] = ()
) -> tuple[PlaceLoad, ...]:
    """Pots (15 cm-pot equivalents) standing in each place on each day that anything is anywhere.

    `occupancy`: what stands there beside the lots.
    """
    stays = [stay for plan in plans for stay in room_taken(plan)]
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


def room_taken(plan: LotPlan) -> Iterator[Occupancy]:
    """The room that a lot takes; lost, sold and lifted pots take theirs until the day on which they go."""
    width = area_of(replace(plan.lot, pots=1), plan.recipe)
    for step in plan.steps:
        if step.place is None:
            continue
        days = sorted({day for day, _ in (*plan.gone, *plan.lifted) if step.span.start < day < step.span.end})
        for start, end in pairwise((step.span.start, *days, step.span.end)):
            yield Occupancy(step.place, Span(start, end), plan.pots_on(start) * width)


def pot_days(plan: LotPlan, place: str) -> float:
    """Pot-days (15 cm-pot equivalents) that a lot takes of a place."""
    return sum(area * span.days for at, span, area in room_taken(plan) if at == place)


class Lack(NamedTuple):
    """A place that is too full, and by how many pots (15 cm-pot equivalents) at worst."""

    place: str
    pots: float

    @property
    def short(self) -> str:
        """'5 pots short'."""
        return f"{some(math.ceil(self.pots - FULL), 'pot')} short"


@dataclass(frozen=True, slots=True)
class Rooms:
    """How full each place is by day, with plans in it that are only tried."""

    loads: Mapping[str, PlaceLoad]
    tried: Mapping[tuple[str, date], float] = field(default_factory=dict)  # pots more, by place and day

    @classmethod
    def of(cls, loads: Iterable[PlaceLoad]) -> Rooms:
        return cls({load.place: load for load in loads})

    def lacking(self, plan: LotPlan, instead_of: LotPlan | None = None) -> Lack | None:
        """The first place that would be too full with a plan, and by how much; None: there is room for it."""
        return next(self._lacks(_change(plan, instead_of), ahead=True), None)

    def lacks(self) -> dict[str, Lack]:
        """The places that are too full with the plans that are tried, on days on which these put more there."""
        return {lack.place: lack for lack in self._lacks(self.tried, ahead=False)}

    def taking(self, plan: LotPlan, instead_of: LotPlan | None = None) -> Rooms:
        """The rooms with a plan in them."""
        tried = Counter(self.tried)
        tried.update(_change(plan, instead_of))
        return replace(self, tried=tried)

    def _lacks(self, change: Mapping[tuple[str, date], float], *, ahead: bool) -> Iterator[Lack]:
        """What is lacking on the days of a change; `ahead`: one that is not among the plans tried yet."""
        over: dict[str, float] = {}
        for (place, day), more in change.items():
            load = self.loads[place]
            if more > FULL and load.capacity is not None:
                at = (day - load.start).days
                stands = load.pots[at] if 0 <= at < len(load.pots) else 0.0
                full = stands + self.tried.get((place, day), 0.0) + ahead * more
                over[place] = max(over.get(place, 0.0), full - load.capacity)
        return (Lack(place, pots) for place, pots in over.items() if pots > FULL)


def _change(plan: LotPlan, instead_of: LotPlan | None) -> Counter[tuple[str, date]]:
    """Pots more by place and day with a plan, instead of another."""
    change: Counter[tuple[str, date]] = Counter()
    for sign, each in ((-1, instead_of), (1, plan)):
        for place, span, area in room_taken(each) if each else ():
            change.update({(place, day): sign * area for day in span})
    return change


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
