"""The engine's own dates for many places and cold-weeks of a lot at once.

Counting back a lot costs the engine a millisecond or two; an allocation asks for tens of thousands. Here the same
rules (backward.plan_lot) are looked up in running sums. What they do not cover - holds, gaps in the temperatures,
bulbs that come late - is handed to plan_lot itself.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from forcing.engine.backward import plan_lot
from forcing.engine.climate import TOLERANCE, Climate
from forcing.engine.timeline import Traveller
from forcing.model import LotPlan, Recipe, Season, Unplanned
from forcing.science.flowering import display_life, need_at_confidence

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
BACK = 200  # days before its target within which a bring in is looked for; farther ones are left to plan_lot


@dataclass(frozen=True, slots=True)
class Dates:
    """Day numbers of a lot's life in a climate. `stands`: (place, from, to) of every stay, half-open."""

    potting: int
    cooler_in: int | None
    rooted: int | None  # None: not before bring in
    bring_in: int
    bloom: int
    stages: tuple[int, int, int]  # shoots, bud, colour
    cold_weeks: float
    wanted: float
    stands: tuple[tuple[str, int, int], ...]


@dataclass(slots=True)
class Almanac:
    """Running sums of a climate as arrays, and the working days around every day of it."""

    season: Season
    climate: Climate
    before: Ints = field(init=False)  # latest working day on or before each day number; -1: none
    after: Ints = field(init=False)  # earliest working day on or after; past the end: none
    working: Ints = field(init=False)  # day numbers of all working days
    _sums: dict[tuple[object, ...], tuple[Floats, Ints]] = field(default_factory=dict)
    _paths: dict[tuple[object, ...], tuple[Floats, Ints]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        days = self.climate.days
        works = np.array([self.season.calendar.works(self.climate.day(i)) for i in range(days + 1)])
        self.working = np.flatnonzero(works)
        numbers = np.where(works, np.arange(days + 1), days + 8)
        self.after = np.minimum.accumulate(numbers[::-1])[::-1]
        self.before = np.maximum.accumulate(np.where(works, np.arange(days + 1), -1))

    def sums(self, kind: str, *key: object) -> tuple[Floats, Ints]:
        """Running sum and running count of gaps of the climate's series `kind` (heat, cold, rooting)."""
        name = (kind, *key)
        if name not in self._sums:
            series = getattr(self.climate, kind)(*key)
            self._sums[name] = (np.array(series.cumulative), np.array(series.gaps))
        return self._sums[name]

    def path(
        self, legs: tuple[tuple[str, int], ...], recipe: Recipe, cap: float | None
    ) -> tuple[Floats, Ints]:
        """Running sums of heat along legs (place, from day number): each until the next begins."""
        name = (legs, recipe.base, cap)
        if name not in self._paths:
            daily, missing = np.zeros(self.climate.days), np.zeros(self.climate.days, dtype=np.int64)
            ends = [start for _, start in legs[1:]] + [self.climate.days]
            for (place, start), end in zip(legs, ends, strict=True):
                sums, gaps = self.sums("heat", place, recipe.base, cap)
                daily[start:end] = np.diff(sums)[start:end]
                missing[start:end] = np.diff(gaps)[start:end]
            total = np.concatenate(([0.0], np.cumsum(daily)))
            self._paths[name] = (total, np.concatenate(([0], np.cumsum(missing))))
        return self._paths[name]


def dates_of(almanac: Almanac, traveller: Traveller, wanted: tuple[float, ...]) -> list[Dates]:
    """Dates of the lot on its route for each of the cold-weeks `wanted`; those that cannot be are left out."""
    out: list[Dates] = []
    by_hand: Dates | Unplanned | None = None
    for weeks in wanted:
        found = _looked_up(almanac, traveller, weeks)
        if found is None:
            lot = replace(traveller.lot, cold_weeks=weeks) if traveller.recipe.needs_cold else traveller.lot
            if by_hand is None or not _from_in_hand(by_hand, traveller):
                answer = plan_lot(replace(traveller, lot=lot))
                by_hand = exact(traveller.climate, answer) if isinstance(answer, LotPlan) else answer
            found = by_hand if isinstance(by_hand, Dates) else None
        if found is not None:
            out.append(found)
    return out


def exact(climate: Climate, plan: LotPlan) -> Dates:
    """The day numbers of a plan that the engine made."""

    def number(day: date) -> int:
        return climate.index(day)

    into = None if plan.cooler_in is None else number(plan.cooler_in)
    early = plan.rooted is not None and plan.rooted <= plan.bring_in
    return Dates(
        number(plan.potting), into, number(plan.rooted) if early and plan.rooted else None,
        number(plan.bring_in), number(plan.bloom),
        (number(plan.stages["shoots"]), number(plan.stages["bud"]), number(plan.stages["colour"])),
        plan.cold_weeks, plan.cold_wanted,
        tuple((s.place, number(s.span.start), number(s.span.end)) for s in plan.steps if s.place is not None),
    )  # fmt: skip


def _from_in_hand(known: Dates | Unplanned, traveller: Traveller) -> bool:
    """Whether an earlier answer was forced by the day the bulbs come: then more cold-weeks change nothing."""
    in_hand = traveller.season.bulbs_in_hand
    if in_hand is None or not isinstance(known, Dates):
        return False
    potting = traveller.climate.day(known.potting)
    return known.cold_weeks < known.wanted - 0.05 and potting <= traveller.season.calendar.on_or_after(
        in_hand
    )


# ---------------------------------------------------------------- looking up


def _looked_up(almanac: Almanac, traveller: Traveller, wanted: float) -> Dates | None:
    """The dates by running sums; None where the engine has to be asked."""
    lot, recipe, route = traveller.lot, traveller.recipe, traveller.route
    if lot.hold_days or not recipe.needs_cold or route.cooler is None or wanted < recipe.cold_min:
        return None
    climate, target = almanac.climate, almanac.climate.index(traveller.target)
    legs = legs_of(traveller)
    heat, gaps = almanac.path(legs, recipe, recipe.cap)
    cold, cold_gaps = almanac.sums("cold", route.cooler, recipe.cold_curve)
    roots, _ = almanac.sums("rooting", route.cooler, recipe.rooting_at)
    first = max(0, target - BACK - int(7 * wanted) - 120)
    if gaps[target] != gaps[first] or cold_gaps[target] != cold_gaps[first]:
        return None
    lowest, highest = np.searchsorted(almanac.working, [max(first, target - BACK), target - 1])
    days = almanac.working[lowest:highest]  # bring-in days that could be
    got = 7 * max(0.0, wanted - lot.precooled_weeks)

    def latest(days: Ints) -> Ints:
        """Latest working day in the cooler that gives the cold and the roots by each day."""
        into = np.minimum(
            np.searchsorted(cold, cold[days] - got + TOLERANCE, side="right"),
            np.searchsorted(roots, roots[days] - recipe.rooting * 7 + TOLERANCE, side="right"),
        )
        before: Ints = almanac.before[np.minimum(np.maximum(into - 1, 0), days)]
        return before

    into = latest(days)
    sums = (heat, cold, target)
    fits = _in_time(traveller, sums, into, days)
    if not fits.any() or into.size == 0:
        return None
    at = int(np.flatnonzero(fits)[-1])
    if into[at] <= first or into[at] >= days[at]:
        return None
    cooler_in, bring_in = int(into[at]), int(days[at])
    later = days[at + 1 :]
    misses = np.flatnonzero(~_in_time(traveller, sums, np.full(later.size, cooler_in), later))
    stop = int(misses[0]) if misses.size else later.size
    if stop:
        bring_in = int(later[stop - 1])
        a, b = np.searchsorted(almanac.working, [cooler_in, int(latest(later[stop - 1 : stop])[0]) + 1])
        back = almanac.working[a:b]
        kept = np.flatnonzero(_in_time(traveller, sums, back, np.full(back.size, bring_in)))
        cooler_in = int(back[kept[-1]]) if kept.size else cooler_in
    potting = int(almanac.before[cooler_in - 1])
    in_hand = traveller.season.bulbs_in_hand
    if potting < 0 or (in_hand is not None and climate.day(potting) < in_hand):
        return None
    return _written(almanac, traveller, legs, heat, (potting, cooler_in, bring_in), wanted)


def _in_time(
    traveller: Traveller, sums: tuple[Floats, Floats, int], into: Ints, days: Ints
) -> NDArray[np.bool_]:
    """Whether each pair of cooler-in and bring-in days blooms, as surely as is asked, by the target."""
    heat, cold, target = sums
    weeks = (cold[days] - cold[into]) / 7 + traveller.lot.precooled_weeks
    recipe = traveller.recipe
    bench = np.maximum(
        recipe.bench_days - recipe.days_saved * (weeks - recipe.cold_target), recipe.bench_days_min
    )
    need = traveller.pace * bench * (recipe.reference - recipe.base)
    slow = float(need_at_confidence(1.0, recipe.spread, traveller.season.confidence))
    return np.asarray(heat[target] - heat[days] >= need * max(1.0, slow) - TOLERANCE)


def legs_of(traveller: Traveller) -> tuple[tuple[str, int], ...]:
    """(place, from day number) of the bench and what comes after it."""
    route, climate = traveller.route, traveller.climate
    legs = [(route.bench, 0)]
    if route.install is not None and route.site is not None:
        if route.harden_at is not None and route.harden_start is not None:
            legs.append((route.harden_at, climate.index(route.harden_start)))
        legs.append((route.site, climate.index(route.install)))
    return tuple(leg for leg, after in pairwise([*legs, ("", climate.days + 1)]) if leg[1] < after[1])


def _written(
    almanac: Almanac, traveller: Traveller, legs: tuple[tuple[str, int], ...], heat: Floats,
    days: tuple[int, int, int], wanted: float,
) -> Dates | None:  # fmt: skip
    """All dates that follow from potting, cooler-in and bring-in; None where bloom is not known to come."""
    recipe, climate = traveller.recipe, almanac.climate
    potting, cooler_in, bring_in = days
    assert traveller.route.cooler is not None
    cold, _ = almanac.sums("cold", traveller.route.cooler, recipe.cold_curve)
    roots, _ = almanac.sums("rooting", traveller.route.cooler, recipe.rooting_at)
    weeks = float(cold[bring_in] - cold[cooler_in]) / 7 + traveller.lot.precooled_weeks
    need = traveller.need(weeks)
    fractions = np.array([recipe.shoots, recipe.bud, recipe.colour, 1.0])
    stages = np.searchsorted(heat, heat[bring_in] + need * fractions - TOLERANCE)
    stages = np.maximum(stages, bring_in)
    bloom = int(stages[3])
    if bloom > climate.days:
        return None
    life, life_gaps = almanac.path(legs, recipe, None)
    last = float(display_life(recipe.display_days, recipe.display_reference, recipe.base))
    fade = max(bloom, int(np.searchsorted(life, life[bloom] + last - TOLERANCE)))
    if fade > climate.days or life_gaps[fade] != life_gaps[bloom]:
        fade = max(climate.index(traveller.season.span.end), bloom + 1)
    rooted = int(np.searchsorted(roots, roots[cooler_in] + recipe.rooting * 7 - TOLERANCE))
    stands = [(traveller.route.cooler, cooler_in, bring_in)]
    for (place, start), after in pairwise([*legs, ("", climate.days)]):
        begin, end = max(start, bring_in), min(after[1], fade)
        if begin < end:
            stands.append((place, begin, end))
    return Dates(
        potting, cooler_in, rooted if rooted <= bring_in else None, bring_in, bloom,
        (int(stages[0]), int(stages[1]), int(stages[2])), weeks, wanted, tuple(stands),
    )  # fmt: skip
