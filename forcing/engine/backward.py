"""Counting back: the latest dates that still bring a lot into bloom on its target.

Dates are looked for as arrays, over every working day a lot could be brought in and every number of cold-weeks it
could be given, so that one lot and ten thousand options are counted by the same few lines. The forward run
(`LotSimulation.run`) judges what is found.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from forcing.dates import DAY, Span
from forcing.engine.climate import TOLERANCE, Climate, Floats, Ints, Legs, Series, WorkingDays
from forcing.engine.simulate import LotSimulation, Run
from forcing.model import LotPlan, Unplanned

Bools = NDArray[np.bool_]


def chosen_cold(simulation: LotSimulation) -> float:
    """The cold-weeks to plan on: the lot's own figure, else what was agreed, else the recipe's."""
    lot, recipe, pin = simulation.lot, simulation.recipe, simulation.history.agreed
    if lot.cold_weeks is not None:
        return lot.cold_weeks
    return recipe.cold_target if pin is None or not recipe.needs_cold else pin.lot.cold_weeks


# ---------------------------------------------------------------- many days at once


@dataclass(frozen=True, slots=True)
class Dates:
    """Day numbers of a lot's moves; `cooler_in` None: no cold."""

    potting: int
    cooler_in: int | None
    bring_in: int


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why there are no dates. `late`: a later target would have some. `soonest`: not before that day."""

    reason: str
    late: bool = False
    soonest: date | None = None


@dataclass(frozen=True, slots=True, eq=False)
class CountBack:
    """A lot on its route as running sums over the day numbers of its climate."""

    simulation: LotSimulation
    legs: Legs  # the bench, and what comes after it
    heat: Series
    cold: Series
    roots: Series
    working: WorkingDays
    target: int  # the day on which it is due
    after: Series | None  # the cold of the cooler that it is moved to once rooted; None: it stays
    moved: Ints  # by each day in the cooler, the day on which it is moved to that

    @classmethod
    def of(cls, simulation: LotSimulation) -> CountBack:
        climate, recipe, cooler = simulation.climate, simulation.recipe, simulation.route.cooler
        later = [(stay.place, climate.index(stay.start)) for stay in simulation.later_stays()]
        legs = _legs(climate, [(simulation.route.bench, 0), *later])
        came = simulation.history.cooler_in
        stays = () if came is None else simulation.cold_stays(came)
        logged = [(stay.place, climate.index(stay.start)) for stay in stays]
        cool = _legs(climate, logged) if logged or cooler is None else ((cooler, 0),)
        roots, working = (
            climate.along(cool, "rooting", recipe.rooting_at),
            climate.working(simulation.season.calendar),
        )
        after, moved = None, np.full(climate.days + 1, climate.days)
        if simulation.route.after_rooting is not None and not logged and cooler is not None:
            after = climate.along(((simulation.route.after_rooting, 0),), "cold", recipe.cold_curve)
            rooted = roots.reaches(np.arange(climate.days + 1), np.array(recipe.rooting * 7))
            moved = np.minimum(working.after[np.minimum(rooted, climate.days)], climate.days)
        return cls(
            simulation,
            legs,
            climate.along(legs, "heat", recipe.base, recipe.cap),
            climate.along(cool, "cold", recipe.cold_curve),
            roots,
            working,
            climate.index(simulation.due),
            after,
            moved,
        )

    def latest_in(self, out: Ints, weeks: Floats) -> Ints:
        """Latest working day in the cooler that gives so much cold, and roots, by each day out; below 1: none."""
        if self.after is not None:
            return self._latest_in_two(*np.broadcast_arrays(out, weeks))
        got = np.maximum(0.0, weeks - self.simulation.precooled) * 7
        roots = self.roots.begins(out, np.array(self.simulation.recipe.rooting * 7))
        into = np.minimum(self.cold.begins(out, got), roots)
        return np.where(into < 0, -1, self.working.before[into])

    def _latest_in_two(self, out: Ints, weeks: Floats) -> Ints:
        """The same where it is cold in two rooms: the sum hangs on the day it is moved, so every day is tried.

        On a working day that it is rooted by it has been moved: what it has then is a part of the day in and one of
        the day out.
        """
        assert self.after is not None
        days, latest = self.working.days, np.full(out.shape, -1)
        ends, moved = np.unique(out), np.maximum(days, self.moved[days])
        roots = self.roots.reaches(days, np.array(self.simulation.recipe.rooting * 7))
        first = self.cold.cumulative[moved] - self.cold.cumulative[days] - self.after.cumulative[moved]
        cold = (first + self.after.cumulative[ends][:, None]) / 7 + self.simulation.precooled
        gaps = self.cold.gaps[moved] - self.cold.gaps[days] - self.after.gaps[moved]
        possible = (days < ends[:, None]) & (roots <= ends[:, None])
        possible &= gaps + self.after.gaps[ends][:, None] == 0
        for wanted in np.unique(weeks):
            at = _last(possible & (cold >= wanted - TOLERANCE / 7))
            mine = weeks == wanted
            found = at[np.searchsorted(ends, out[mine])]
            latest[mine] = np.where(found < 0, -1, days[found])
        return latest

    def cold_weeks(self, into: Ints, out: Ints) -> Floats:
        """Weeks of cold from each day in to each day out; not a number across a gap."""
        moved = np.maximum(into, np.minimum(self.moved[into], out))
        legs = [(self.cold, into, moved), (self.after or self.cold, moved, out)]
        weeks = sum(s.cumulative[b] - s.cumulative[a] for s, a, b in legs) / 7 + self.simulation.precooled
        return np.where(sum(s.gaps[b] - s.gaps[a] for s, a, b in legs) == 0, weeks, np.nan)

    def bloom(self, into: Ints, out: Ints) -> Ints:
        """Day of bloom, or of the stage wanted instead, as surely as is asked, by days in the cooler and out.

        `never`: not known.
        """
        need = self.simulation.needs(self.cold_weeks(into, out))
        sure = need * max(1.0, self.simulation.slowness) * self.simulation.wanted
        if self.simulation.lot.hold_days and self.simulation.held_at is not None:
            return self._held(out, need, sure)
        return self.heat.reaches(out, sure)

    def _held(self, out: Ints, need: Floats, sure: Floats) -> Ints:
        """The same with the hold that is asked for, from the first working day with colour on."""
        simulation, last, never = self.simulation, self.heat.never - 1, self.heat.never
        assert simulation.held_at is not None and simulation.lot.hold_days is not None
        colour = self.heat.reaches(out, need * simulation.recipe.colour)
        start = np.minimum(self.working.after[np.minimum(colour, last)], last)
        end = np.minimum(self.working.after[np.minimum(start + simulation.lot.hold_days, last)], last)
        starts = np.array([*(start for _, start in self.legs[1:]), never])
        leaves = starts[np.searchsorted(starts[:-1], out, side="right")]
        cold = simulation.heat(simulation.held_at)
        before = self.heat.reaches(out, sure)
        left = sure - (self.heat.cumulative[start] - self.heat.cumulative[out])
        held = cold.reaches(start, left)
        after = self.heat.reaches(end, left - (cold.cumulative[end] - cold.cumulative[start]))
        day = np.where(before <= start, before, np.where(held <= end, held, after))
        known = (colour <= last) & (leaves >= end) & (cold.gaps[start] == cold.gaps[end])
        return np.where(known, day, never)

    def in_time(self, into: Ints, out: Ints) -> Bools:
        return np.asarray(self.bloom(into, out) <= self.target)

    def days(self, first: int = 1) -> Ints:
        """Working days from `first` on, and before the target."""
        days = self.working.days
        return days[np.searchsorted(days, first) : np.searchsorted(days, self.target)]

    def latest(self, weeks: Floats) -> tuple[Ints, Ints]:
        """For each number of cold-weeks the latest days into the cooler and out of it; -1 where there are none.

        First the latest day out whose own latest day in gives the cold and bloom by the target. With that day in, a
        still later day out has more cold, and where cold buys much heat it may bloom in time too. What cold that
        gathers above what is chosen is given back as far as the target allows.
        """
        days = self.days()
        rows, out, wanted = np.arange(weeks.size), days[None, :], weeks[:, None]
        cooled = self.simulation.in_cooler
        into = self.latest_in(out, wanted) if cooled else np.broadcast_to(out, (weeks.size, days.size))
        fits = (self.working.before[np.maximum(into, 1) - 1] >= 0) & (into > 0) & self.in_time(into, out)
        at = _last(fits)
        if not days.size or (at < 0).all():
            return at, at
        start = into[rows, at]
        if cooled:
            fits = ~self.in_time(start[:, None], out) & (out > days[at][:, None])
            at = np.where(at < 0, at, np.where(fits.any(axis=1), fits.argmax(axis=1), days.size) - 1)
            end = days[at]
            most = self.latest_in(end, weeks)
            fits = self.in_time(out, end[:, None]) & (out > start[:, None]) & (out <= most[:, None])
            fits &= self.cold_weeks(np.minimum(out, end[:, None]), end[:, None]) >= wanted - TOLERANCE / 7
            back = _last(fits)
            start = np.where(back < 0, start, days[back])
        return np.where(at < 0, -1, start), np.where(at < 0, -1, days[at])

    def with_cooler_in(self, cooler_in: int | None, first: int) -> int | None:
        """Latest day out from `first` on that blooms in time after that day in; None if there is none."""
        out = self.days(first)
        at = _last(self.in_time(out if cooler_in is None else np.array(cooler_in), out)[None, :])[0]
        return None if at < 0 else int(out[at])

    def soonest_bloom(self, cooler_in: int | None, first: int) -> int | None:
        """Soonest bloom of all days out from `first` on: not always of the first, as more cold can bloom sooner."""
        out = self.working.days[np.searchsorted(self.working.days, first) :]
        bloom = self.bloom(out if cooler_in is None else np.array(cooler_in), out)
        soonest = bloom.min(initial=self.heat.never)
        return None if soonest >= self.heat.never else int(soonest)


def _legs(climate: Climate, legs: Sequence[tuple[str, int]]) -> Legs:
    """Legs that last at least a day, each until the next begins."""
    return tuple(leg for leg, after in pairwise([*legs, ("", climate.days + 1)]) if leg[1] < after[1])


def _last(fits: Bools) -> Ints:
    """Number of the last that fits of each row; -1: none."""
    if not fits.shape[1]:
        return np.full(fits.shape[0], -1)
    last = fits.shape[1] - 1 - fits[:, ::-1].argmax(axis=1)
    return np.where(fits.any(axis=1), last, -1)


def count_back(count: CountBack, weeks: Sequence[float]) -> list[Dates | Refusal]:
    """The dates of a lot not begun for each of the cold-weeks, or why there are none."""
    simulation, working = count.simulation, count.working
    reasons = [_not_asked_for(simulation, wanted) for wanted in weeks]
    late: Dates | Refusal | None = None
    in_hand = simulation.season.in_hand(simulation.lot)
    found: list[Dates | Refusal] = []
    for reason, into, out in zip(reasons, *count.latest(np.array(weeks, dtype=float)), strict=True):
        if reason is not None or out < 0:
            found.append(reason or Refusal(no_bring_in(simulation)))
            continue
        potting = int(working.before[into - 1])
        if in_hand is None or simulation.climate.day(potting) >= in_hand:
            found.append(Dates(potting, int(into) if simulation.in_cooler else None, int(out)))
            continue
        late = late or _from_bulbs_in_hand(count, in_hand)
        found.append(late)
    return found


def _not_asked_for(simulation: LotSimulation, wanted: float) -> Refusal | None:
    """Why a lot with so much cold is not counted back at all; None where it is."""
    recipe = simulation.recipe
    if wanted < recipe.cold_least and recipe.needs_cold:
        return Refusal(
            f"{wanted:g} cold-weeks are chosen but {recipe.crop} needs at least {recipe.cold_least:g} to flower",
            late=True,
        )
    first = simulation.blooms_from
    if first is not None and simulation.target < first:
        return Refusal(
            f"{recipe.crop} that was not cooled before it came does not bloom before {first}", True, first
        )
    missing = _unknown_temperature(simulation, wanted)
    return None if missing is None else Refusal(missing)


def _unknown_temperature(simulation: LotSimulation, wanted: float) -> str | None:
    """Which place of the route has no temperature when the lot would be there; None if all are known."""
    climate, route, target = simulation.climate, simulation.route, simulation.due
    bench_span = Span(target - timedelta(days=int(simulation.recipe.bench_days)), target)
    cold_days = int(7 * max(0.0, wanted - simulation.precooled))
    needed = [(route.bench, bench_span)]
    if route.cooler is not None:
        needed.append((route.cooler, Span(bench_span.start - timedelta(days=cold_days), bench_span.start)))
    if route.after_rooting is not None:
        rest = timedelta(days=max(0, cold_days - int(simulation.recipe.rooting * 7)))
        needed.append((route.after_rooting, Span(bench_span.start - rest, bench_span.start)))
    if route.install is not None and route.site is not None and route.install < target:
        needed.append((route.site, Span(route.install, target)))
    if route.harden_at is not None and route.harden_start is not None and route.install is not None:
        needed.append((route.harden_at, Span(route.harden_start, max(route.install, route.harden_start))))
    for place, span in needed:
        gap = climate.first_gap(place, span)
        if gap is not None:
            return f"no temperature is known for {place} on {gap}"
    return None


def no_bring_in(simulation: LotSimulation) -> str:
    days = simulation.lot.hold_days
    held = f" with a hold of {days} days on the way" if days else ""
    return f"no bring in before the target leads to bloom by it{held}"


# ---------------------------------------------------------------- bulbs that come late


def _from_bulbs_in_hand(count: CountBack, in_hand: date) -> Dates | Refusal:
    """Potting as soon as the bulbs are there, with as much cold as still blooms in time."""
    recipe, climate = count.simulation.recipe, count.simulation.climate
    potting, cooler_in = _soonest(count.simulation, in_hand)
    ready = ready_from(count.simulation, potting, cooler_in)
    into = None if cooler_in is None else climate.index(cooler_in)
    bring_in = None if ready is None else count.with_cooler_in(into, climate.index(ready))
    if bring_in is not None:
        return Dates(climate.index(potting), into, bring_in)
    cold = (
        f"even with {recipe.cold_least:g} cold-weeks, the least it flowers with, "
        if recipe.needs_cold
        else ""
    )
    return Refusal(f"{cold}potting when the bulbs are in hand, on {in_hand}, is too late", late=True)


def _soonest(simulation: LotSimulation, in_hand: date) -> tuple[date, date | None]:
    """Soonest potting, and day in the cooler (None: no cold), once the bulbs are in hand."""
    calendar = simulation.season.calendar
    potting = calendar.on_or_after(in_hand)
    return potting, calendar.after(potting) if simulation.route.cooler is not None else None


def ready_from(simulation: LotSimulation, potting: date | None, cooler_in: date | None) -> date | None:
    """Soonest day on which it can be brought in, rooted and with the least cold it flowers with; None if not known."""
    calendar = simulation.season.calendar
    if cooler_in is None:
        return None if potting is None else calendar.after(potting)
    enough = simulation.enough_cold(cooler_in, simulation.recipe.cold_least)
    rooted = simulation.rooted(cooler_in)
    if enough is None or rooted is None:
        return None
    return calendar.on_or_after(max(enough, rooted, cooler_in + DAY))


def earliest_bloom(simulation: LotSimulation, in_hand: date) -> date | None:
    """Earliest bloom with the least cold, potting as soon as the bulbs are in hand; None if not known."""
    potting, cooler_in = _soonest(simulation, in_hand)
    ready, climate = ready_from(simulation, potting, cooler_in), simulation.climate
    if ready is None:
        return None
    into = None if cooler_in is None else climate.index(cooler_in)
    bloom = CountBack.of(simulation).soonest_bloom(into, climate.index(ready))
    if bloom is None:
        return None
    return max(climate.day(bloom), simulation.blooms_from or climate.day(bloom))


# ---------------------------------------------------------------- one lot


def plan_lot(simulation: LotSimulation) -> LotPlan | Unplanned:
    """The dates of one lot on its route, or why there are none.

    A lot that opens a display and cannot be in bloom when it is set out may finish outdoors.
    """
    plan = plan_as_due(simulation)
    if isinstance(plan, LotPlan) or simulation.due == simulation.target:
        return plan
    return plan_as_due(replace(simulation, finishes_outdoors=True))


def plan_as_due(simulation: LotSimulation) -> LotPlan | Unplanned:
    """The dates of one lot in bloom when it is due, or why there are none."""
    lot, climate, wanted = simulation.lot, simulation.climate, chosen_cold(simulation)
    found = count_back(CountBack.of(simulation), (wanted,))[0]
    if isinstance(found, Refusal):
        in_hand = simulation.season.in_hand(lot)
        earliest = earliest_bloom(simulation, in_hand) if found.late and in_hand is not None else None
        soonest = max((day for day in (earliest, found.soonest) if day is not None), default=None)
        return Unplanned(lot, found.reason, soonest, too_early=found.soonest is not None)
    potting, bring_in = climate.day(found.potting), climate.day(found.bring_in)
    cooler_in = None if found.cooler_in is None else climate.day(found.cooler_in)
    run = simulation.run(cooler_in, bring_in)
    if run is None:
        return Unplanned(lot, no_bring_in(simulation), None)
    return lot_plan(simulation, wanted, potting, cooler_in, run)


def lot_plan(
    simulation: LotSimulation, wanted: float, potting: date, cooler_in: date | None, run: Run
) -> LotPlan:
    """The lot's dates written out: steps, stages, fade, cold and what working days cost."""
    bring_in = run.stays[0].start
    history = simulation.history
    fade = history.ended or history.faded or simulation.fade(run)
    leaves = simulation.leaves(run)
    ends = min((day for day in (fade, leaves) if day is not None), default=None)
    steps = simulation.steps(potting, cooler_in, run, ends)
    return LotPlan(
        lot=simulation.lot,
        recipe=simulation.recipe,
        steps=steps,
        target=simulation.target,
        potting=potting,
        cooler_in=cooler_in,
        rooted=simulation.rooted(cooler_in) if cooler_in else None,
        sprouted=simulation.sprouted(cooler_in, bring_in) if cooler_in else None,
        bring_in=bring_in,
        stages=run.stages,
        bloom=run.bloom,
        fade=fade,
        install=simulation.set_out(),
        cold_weeks=run.cold_weeks,
        cold_wanted=wanted,
        need=run.need,
        days_early=(simulation.target - run.ready).days,
        assumed_days=sum(simulation.climate.assumed(s.place, s.span) for s in steps if s.place),
        leaves=leaves,
        gone=history.gone,
    )
