"""Counting back: the latest dates that still bring a lot into bloom on its target, for one lot or for many options."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from forcing.dates import DAY, Span
from forcing.engine.climate import TOLERANCE, Climate
from forcing.engine.log import NOTHING
from forcing.engine.need import paced
from forcing.engine.simulate import LotSimulation, Run
from forcing.model import LotPlan, Recipe, Season, Unplanned
from forcing.science.flowering import display_life, need_at_confidence


@dataclass(frozen=True, slots=True)
class Dates:
    """Potting, cooler-in (None: no cold) and bring in, with the forward run that proves them."""

    potting: date
    cooler_in: date | None
    bring_in: date
    run: Run


def chosen_cold(simulation: LotSimulation) -> float:
    """The cold-weeks to plan on: the lot's own figure, else the recipe's."""
    lot, recipe = simulation.lot, simulation.recipe
    return recipe.cold_target if lot.cold_weeks is None else lot.cold_weeks


def plan_lot(simulation: LotSimulation) -> LotPlan | Unplanned:
    """The dates of one lot on its route, or why there are none."""
    recipe, wanted = simulation.recipe, chosen_cold(simulation)
    if wanted < recipe.cold_min and recipe.needs_cold:
        return _refused(
            simulation,
            f"{wanted:g} cold-weeks are chosen but {recipe.crop} needs at least {recipe.cold_min:g} to flower",
        )
    missing = _unknown_temperature(simulation)
    if missing is not None:
        return Unplanned(simulation.lot, missing, None)
    dates = _in_time(simulation, wanted) if recipe.needs_cold else _without_cold(simulation)
    if dates is None:
        held = (
            f" with a hold of {simulation.lot.hold_days} days on the way" if simulation.lot.hold_days else ""
        )
        return Unplanned(simulation.lot, f"no bring in before the target leads to bloom by it{held}", None)
    in_hand = simulation.season.bulbs_in_hand
    if in_hand is not None and dates.potting < in_hand:
        late = _from_bulbs_in_hand(simulation, in_hand)
        if late is None:
            least = (
                f"even with {recipe.cold_min:g} cold-weeks, the least it flowers with, "
                if recipe.needs_cold
                else ""
            )
            return _refused(
                simulation, f"{least}potting when the bulbs are in hand, on {in_hand}, is too late"
            )
        dates = late
    return lot_plan(simulation, wanted, dates)


# ---------------------------------------------------------------- searching


def _blooms_in_time(simulation: LotSimulation, cooler_in: date, bring_in: date) -> Run | None:
    run = simulation.run(cooler_in, bring_in)
    return run if run is not None and max(run.bloom, run.assured) <= simulation.target else None


def _in_time(simulation: LotSimulation, wanted: float) -> Dates | None:
    """Latest bring in whose own latest cooler-in gives the chosen cold and bloom on or before the target."""
    calendar = simulation.season.calendar
    bring_in = calendar.on_or_before(_first_guess(simulation, wanted))
    while bring_in > simulation.climate.start:
        cooler_in = simulation.latest_cooler_in(bring_in, wanted)
        if cooler_in is None:
            return None
        run = _blooms_in_time(simulation, cooler_in, bring_in)
        if run is not None:
            bring_in, run = _latest_bring_in(simulation, cooler_in, bring_in, run)
            cooler_in, run = _latest_cooler_in(simulation, cooler_in, bring_in, run, wanted)
            return Dates(calendar.before(cooler_in), cooler_in, bring_in, run)
        bring_in = calendar.before(bring_in)
    return None


def _without_cold(simulation: LotSimulation) -> Dates | None:
    """Latest bring in of a crop that needs no cold; it is potted on the working day before."""
    calendar = simulation.season.calendar
    bring_in = calendar.on_or_before(_first_guess(simulation, 0.0))
    while bring_in > simulation.climate.start:
        run = _blooms_in_time(simulation, bring_in, bring_in)
        if run is not None:
            return Dates(calendar.before(bring_in), None, bring_in, run)
        bring_in = calendar.before(bring_in)
    return None


def _first_guess(simulation: LotSimulation, cold_weeks: float) -> date:
    """A bring-in date that is surely too late or right: backward from the target at the place's warmest.

    The least need at the highest daily rate cannot take longer than any run will.
    """
    recipe, climate = simulation.recipe, simulation.climate
    reference_rate = max(recipe.cap, recipe.reference) - recipe.base
    least = simulation.need(max(cold_weeks, recipe.cold_max) + 8)
    days = int(min(least / reference_rate, climate.days / 2))
    return simulation.target - timedelta(days=days)


def _latest_bring_in(
    simulation: LotSimulation, cooler_in: date, bring_in: date, run: Run
) -> tuple[date, Run]:
    """The latest working day that still blooms in time with this cooler-in: later means more cold too."""
    later = simulation.season.calendar.after(bring_in)
    while later < simulation.target:
        later_run = _blooms_in_time(simulation, cooler_in, later)
        if later_run is None:
            break
        bring_in, run = later, later_run
        later = simulation.season.calendar.after(later)
    return bring_in, run


def _latest_cooler_in(
    simulation: LotSimulation, cooler_in: date, bring_in: date, run: Run, wanted: float
) -> tuple[date, Run]:
    """The latest cooler-in that still gives the chosen cold and bloom in time with this bring in.

    Where cold buys much heat, a later bring in has gathered cold that nobody asked for; it is given back as far
    as the target allows. A bring in a working day later still misses: less cold never blooms sooner.
    """
    later = simulation.latest_cooler_in(bring_in, wanted)
    while later is not None and later > cooler_in:
        later_run = _blooms_in_time(simulation, later, bring_in)
        if later_run is not None:
            return later, later_run
        later = simulation.season.calendar.before(later)
    return cooler_in, run


def _from_bulbs_in_hand(simulation: LotSimulation, in_hand: date) -> Dates | None:
    """Potting as soon as the bulbs are there, with as much cold as still blooms in time; None if too little."""
    potting, cooler_in, ready = _soonest(simulation, in_hand)
    if ready is None:
        return None
    best: Dates | None = None
    bring_in = ready
    while bring_in < simulation.target:
        run = _blooms_in_time(simulation, cooler_in or bring_in, bring_in)
        if run is not None:
            best = Dates(potting, cooler_in, bring_in, run)
        bring_in = simulation.season.calendar.after(bring_in)
    return best


def _soonest(simulation: LotSimulation, in_hand: date) -> tuple[date, date | None, date | None]:
    """Soonest potting, cooler-in and bring in (rooted, with the least cold) once the bulbs are in hand."""
    calendar, recipe = simulation.season.calendar, simulation.recipe
    potting = calendar.on_or_after(in_hand)
    if not recipe.needs_cold or simulation.route.cooler is None:
        return potting, None, calendar.after(potting)
    cooler_in = calendar.after(potting)
    enough = simulation.enough_cold(cooler_in, recipe.cold_min)
    rooted = simulation.rooted(cooler_in)
    if enough is None or rooted is None:
        return potting, cooler_in, None
    return potting, cooler_in, calendar.on_or_after(max(enough, rooted, cooler_in + DAY))


def earliest_bloom(simulation: LotSimulation, in_hand: date) -> date | None:
    """Earliest bloom with the least cold, potting as soon as the bulbs are in hand; None if not known."""
    _, cooler_in, bring_in = _soonest(simulation, in_hand)
    if bring_in is None:
        return None
    best: date | None = None
    # More cold can bloom sooner, so the first possible bring in is not always the best one.
    while best is None or bring_in < best:
        run = simulation.run(cooler_in or bring_in, bring_in)
        if run is None:
            break
        bloom = max(run.bloom, run.assured)
        best = bloom if best is None else min(best, bloom)
        bring_in = simulation.season.calendar.after(bring_in)
    return best


# ---------------------------------------------------------------- answers


def _unknown_temperature(simulation: LotSimulation) -> str | None:
    """Which place of the route has no temperature when the lot would be there; None if all are known."""
    climate, route, target = simulation.climate, simulation.route, simulation.target
    recipe = simulation.recipe
    bench_span = Span(target - timedelta(days=int(recipe.bench_days)), target)
    cold_days = int(7 * max(0.0, chosen_cold(simulation) - simulation.lot.precooled_weeks))
    needed = [(route.bench, bench_span)]
    if route.cooler is not None:
        needed.append((route.cooler, Span(bench_span.start - timedelta(days=cold_days), bench_span.start)))
    if route.install is not None and route.site is not None and route.install < target:
        needed.append((route.site, Span(route.install, target)))
    if route.harden_at is not None and route.harden_start is not None and route.install is not None:
        needed.append((route.harden_at, Span(route.harden_start, max(route.install, route.harden_start))))
    for place, span in needed:
        gap = climate.first_gap(place, span)
        if gap is not None:
            return f"no temperature is known for {place} on {gap}"
    return None


def _refused(simulation: LotSimulation, reason: str) -> Unplanned:
    in_hand = simulation.season.bulbs_in_hand
    return Unplanned(simulation.lot, reason, None if in_hand is None else earliest_bloom(simulation, in_hand))


def lot_plan(simulation: LotSimulation, wanted: float, dates: Dates) -> LotPlan:
    """The lot's dates written out: steps, stages, fade, cold and what working days cost."""
    lot, run = simulation.lot, dates.run
    cooler_in = dates.cooler_in
    fade = simulation.history.faded or simulation.fade(run)
    steps = simulation.steps(dates.potting, cooler_in, run, fade)
    return LotPlan(
        lot=lot,
        recipe=simulation.recipe,
        steps=steps,
        target=simulation.target,
        potting=dates.potting,
        cooler_in=cooler_in,
        rooted=simulation.rooted(cooler_in) if cooler_in else None,
        sprouted=simulation.sprouted(cooler_in, dates.bring_in) if cooler_in else None,
        bring_in=dates.bring_in,
        stages=run.stages,
        bloom=run.bloom,
        fade=fade,
        install=simulation.set_out(),
        cold_weeks=run.cold_weeks,
        cold_wanted=wanted,
        need=run.need,
        days_early=(simulation.target - run.bloom).days,
        assumed_days=sum(simulation.climate.assumed(s.place, s.span) for s in steps if s.place),
    )


# A move overdue by less than this is taken to be still to do; one overdue by more, to have been done as planned and
# not logged. Practice, no source: nobody leaves pots standing for three weeks, many forget to write it down.
FORGOTTEN = timedelta(days=21)


def replan_lot(simulation: LotSimulation, not_before: date | None = None) -> LotPlan | Unplanned:
    """The dates of a lot, logged ones kept. With `not_before`, moves not logged are not before that day."""
    history = simulation.history
    if not history.started:
        return plan_lot(simulation)
    if simulation.lot.pots == 0:
        return Unplanned(simulation.lot, f"all its pots are lost by {history.last}", None)
    planned = plan_lot(replace(simulation, history=NOTHING))
    base = planned if isinstance(planned, LotPlan) else None
    cooler_in = _cooler_in(simulation, base, not_before)
    if cooler_in is None and simulation.recipe.needs_cold:
        return planned
    dates = _dates(simulation, base, cooler_in, not_before)
    if dates is not None and history.stages:
        simulation = paced(simulation, dates.run)
        dates = _dates(simulation, base, cooler_in, not_before)
    if dates is None:
        reason = (
            planned.reason if isinstance(planned, Unplanned) else "a temperature of its places is not known"
        )
        return Unplanned(simulation.lot, reason, None)
    return lot_plan(simulation, chosen_cold(simulation), dates)


@dataclass(frozen=True, slots=True)
class Expectation:
    """A lot as it is now expected to go on: its plan, and its forward run at the pace that its stages show."""

    plan: LotPlan
    simulation: LotSimulation
    run: Run


def expectation(simulation: LotSimulation, on: date) -> Expectation | None:
    """What is now expected of a lot, as seen on day `on`; None where it cannot be planned.

    For lots that have a log, a move that was due not long ago and is not logged is taken to happen on the next
    working day (FORGOTTEN); a lot without a log is taken to have lived as planned.
    """
    plan = replan_lot(simulation, on if simulation.history.started else None)
    if not isinstance(plan, LotPlan):
        return None
    paced = replace(simulation, pace=plan.need / simulation.need(plan.cold_weeks))
    run = paced.run(plan.cooler_in or plan.bring_in, plan.bring_in)
    return None if run is None else Expectation(plan, paced, run)


def _cooler_in(simulation: LotSimulation, base: LotPlan | None, not_before: date | None) -> date | None:
    """When it went into the cold: as logged, else as planned but after it was potted; None without cold."""
    history, calendar = simulation.history, simulation.season.calendar
    if history.cooler_in is not None:
        return history.cooler_in
    if not simulation.recipe.needs_cold or (history.brought_in is not None and base is None):
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


def _dates(
    simulation: LotSimulation, base: LotPlan | None, cooler_in: date | None, not_before: date | None
) -> Dates | None:
    history, calendar = simulation.history, simulation.season.calendar
    potting = history.potted or (base.potting if base is not None else None)
    first = cooler_in or history.brought_in
    if potting is None or (first is not None and potting > first):
        potting = calendar.before(first) if first is not None else None
    if history.brought_in is not None:
        bring_in: date | None = history.brought_in
    elif history.first_sign is not None:
        bring_in = _before_first_sign(simulation, base, cooler_in, history.first_sign)
    else:
        bring_in = _bring_in(simulation, cooler_in, potting, not_before)
    if bring_in is None:
        return None
    run = simulation.run(cooler_in or bring_in, bring_in)
    return None if run is None else Dates(potting or calendar.before(bring_in), cooler_in, bring_in, run)


def _before_first_sign(
    simulation: LotSimulation, base: LotPlan | None, cooler_in: date | None, sign: date
) -> date:
    """When a lot was brought in that has shown a stage since: as planned, or on the last working day before it."""
    if base is not None and base.bring_in < sign:
        return base.bring_in
    day = simulation.season.calendar.before(sign)
    return day if cooler_in is None else max(day, cooler_in + DAY)


def _bring_in(
    simulation: LotSimulation, cooler_in: date | None, potting: date | None, not_before: date | None
) -> date | None:
    """Latest bring in that blooms in time with the least cold had; where none does, the soonest there is."""
    calendar, recipe = simulation.season.calendar, simulation.recipe
    if cooler_in is None:
        soonest = None if potting is None else calendar.after(potting)
    else:
        enough, rooted = simulation.enough_cold(cooler_in, recipe.cold_min), simulation.rooted(cooler_in)
        soonest = (
            None
            if enough is None or rooted is None
            else calendar.on_or_after(max(enough, rooted, cooler_in + DAY))
        )
    if soonest is None:
        return None
    best, bring_in = soonest, soonest
    while bring_in < simulation.target:
        run = simulation.run(cooler_in or bring_in, bring_in)
        if run is None:
            break
        if max(run.bloom, run.assured) <= simulation.target:
            best = bring_in
        bring_in = calendar.after(bring_in)
    return _still_to_do(simulation, best, not_before)


Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
BACK = 200  # days before its target within which a bring in is looked for; farther ones are left to plan_lot


@dataclass(frozen=True, slots=True)
class OptionDates:
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
class ClimateSums:
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


def dates_of(
    climate_sums: ClimateSums, simulation: LotSimulation, wanted: tuple[float, ...]
) -> list[OptionDates]:
    """Dates of the lot on its route for each of the cold-weeks `wanted`; those that cannot be are left out."""
    out: list[OptionDates] = []
    by_hand: OptionDates | Unplanned | None = None
    for weeks in wanted:
        found = _looked_up(climate_sums, simulation, weeks)
        if found is None:
            lot = (
                replace(simulation.lot, cold_weeks=weeks) if simulation.recipe.needs_cold else simulation.lot
            )
            if by_hand is None or not _from_in_hand(by_hand, simulation):
                answer = plan_lot(replace(simulation, lot=lot))
                by_hand = exact(simulation.climate, answer) if isinstance(answer, LotPlan) else answer
            found = by_hand if isinstance(by_hand, OptionDates) else None
        if found is not None:
            out.append(found)
    return out


def exact(climate: Climate, plan: LotPlan) -> OptionDates:
    """The day numbers of a plan that the engine made."""

    def number(day: date) -> int:
        return climate.index(day)

    into = None if plan.cooler_in is None else number(plan.cooler_in)
    early = plan.rooted is not None and plan.rooted <= plan.bring_in
    return OptionDates(
        number(plan.potting), into, number(plan.rooted) if early and plan.rooted else None,
        number(plan.bring_in), number(plan.bloom),
        (number(plan.stages["shoots"]), number(plan.stages["bud"]), number(plan.stages["colour"])),
        plan.cold_weeks, plan.cold_wanted,
        tuple((s.place, number(s.span.start), number(s.span.end)) for s in plan.steps if s.place is not None),
    )  # fmt: skip


def _from_in_hand(known: OptionDates | Unplanned, simulation: LotSimulation) -> bool:
    """Whether an earlier answer was forced by the day the bulbs come: then more cold-weeks change nothing."""
    in_hand = simulation.season.bulbs_in_hand
    if in_hand is None or not isinstance(known, OptionDates):
        return False
    potting = simulation.climate.day(known.potting)
    return known.cold_weeks < known.wanted - 0.05 and potting <= simulation.season.calendar.on_or_after(
        in_hand
    )


# ---------------------------------------------------------------- looking up


def _looked_up(climate_sums: ClimateSums, simulation: LotSimulation, wanted: float) -> OptionDates | None:
    """The dates by running sums; None where the engine has to be asked."""
    lot, recipe, route = simulation.lot, simulation.recipe, simulation.route
    if lot.hold_days or not recipe.needs_cold or route.cooler is None or wanted < recipe.cold_min:
        return None
    climate, target = climate_sums.climate, climate_sums.climate.index(simulation.target)
    legs = legs_of(simulation)
    heat, gaps = climate_sums.path(legs, recipe, recipe.cap)
    cold, cold_gaps = climate_sums.sums("cold", route.cooler, recipe.cold_curve)
    roots, _ = climate_sums.sums("rooting", route.cooler, recipe.rooting_at)
    first = max(0, target - BACK - int(7 * wanted) - 120)
    if gaps[target] != gaps[first] or cold_gaps[target] != cold_gaps[first]:
        return None
    lowest, highest = np.searchsorted(climate_sums.working, [max(first, target - BACK), target - 1])
    days = climate_sums.working[lowest:highest]  # bring-in days that could be
    got = 7 * max(0.0, wanted - lot.precooled_weeks)

    def latest(days: Ints) -> Ints:
        """Latest working day in the cooler that gives the cold and the roots by each day."""
        into = np.minimum(
            np.searchsorted(cold, cold[days] - got + TOLERANCE, side="right"),
            np.searchsorted(roots, roots[days] - recipe.rooting * 7 + TOLERANCE, side="right"),
        )
        before: Ints = climate_sums.before[np.minimum(np.maximum(into - 1, 0), days)]
        return before

    into = latest(days)
    sums = (heat, cold, target)
    fits = _in_time_fast(simulation, sums, into, days)
    if not fits.any() or into.size == 0:
        return None
    at = int(np.flatnonzero(fits)[-1])
    if into[at] <= first or into[at] >= days[at]:
        return None
    cooler_in, bring_in = int(into[at]), int(days[at])
    later = days[at + 1 :]
    misses = np.flatnonzero(~_in_time_fast(simulation, sums, np.full(later.size, cooler_in), later))
    stop = int(misses[0]) if misses.size else later.size
    if stop:
        bring_in = int(later[stop - 1])
        a, b = np.searchsorted(climate_sums.working, [cooler_in, int(latest(later[stop - 1 : stop])[0]) + 1])
        back = climate_sums.working[a:b]
        kept = np.flatnonzero(_in_time_fast(simulation, sums, back, np.full(back.size, bring_in)))
        cooler_in = int(back[kept[-1]]) if kept.size else cooler_in
    potting = int(climate_sums.before[cooler_in - 1])
    in_hand = simulation.season.bulbs_in_hand
    if potting < 0 or (in_hand is not None and climate.day(potting) < in_hand):
        return None
    return _written(climate_sums, simulation, legs, heat, (potting, cooler_in, bring_in), wanted)


def _in_time_fast(
    simulation: LotSimulation, sums: tuple[Floats, Floats, int], into: Ints, days: Ints
) -> NDArray[np.bool_]:
    """Whether each pair of cooler-in and bring-in days blooms, as surely as is asked, by the target."""
    heat, cold, target = sums
    weeks = (cold[days] - cold[into]) / 7 + simulation.lot.precooled_weeks
    recipe = simulation.recipe
    bench = np.maximum(
        recipe.bench_days - recipe.days_saved * (weeks - recipe.cold_target), recipe.bench_days_min
    )
    need = simulation.pace * bench * (recipe.reference - recipe.base)
    slow = float(need_at_confidence(1.0, recipe.spread, simulation.season.confidence))
    return np.asarray(heat[target] - heat[days] >= need * max(1.0, slow) - TOLERANCE)


def legs_of(simulation: LotSimulation) -> tuple[tuple[str, int], ...]:
    """(place, from day number) of the bench and what comes after it."""
    route, climate = simulation.route, simulation.climate
    legs = [(route.bench, 0)]
    if route.install is not None and route.site is not None:
        if route.harden_at is not None and route.harden_start is not None:
            legs.append((route.harden_at, climate.index(route.harden_start)))
        legs.append((route.site, climate.index(route.install)))
    return tuple(leg for leg, after in pairwise([*legs, ("", climate.days + 1)]) if leg[1] < after[1])


def _written(
    climate_sums: ClimateSums, simulation: LotSimulation, legs: tuple[tuple[str, int], ...], heat: Floats,
    days: tuple[int, int, int], wanted: float,
) -> OptionDates | None:  # fmt: skip
    """All dates that follow from potting, cooler-in and bring-in; None where bloom is not known to come."""
    recipe, climate = simulation.recipe, climate_sums.climate
    potting, cooler_in, bring_in = days
    assert simulation.route.cooler is not None
    cold, _ = climate_sums.sums("cold", simulation.route.cooler, recipe.cold_curve)
    roots, _ = climate_sums.sums("rooting", simulation.route.cooler, recipe.rooting_at)
    weeks = float(cold[bring_in] - cold[cooler_in]) / 7 + simulation.lot.precooled_weeks
    need = simulation.need(weeks)
    fractions = np.array([recipe.shoots, recipe.bud, recipe.colour, 1.0])
    stages = np.searchsorted(heat, heat[bring_in] + need * fractions - TOLERANCE)
    stages = np.maximum(stages, bring_in)
    bloom = int(stages[3])
    if bloom > climate.days:
        return None
    life, life_gaps = climate_sums.path(legs, recipe, None)
    last = float(display_life(recipe.display_days, recipe.display_reference, recipe.base))
    fade = max(bloom, int(np.searchsorted(life, life[bloom] + last - TOLERANCE)))
    if fade > climate.days or life_gaps[fade] != life_gaps[bloom]:
        fade = max(climate.index(simulation.season.span.end), bloom + 1)
    rooted = int(np.searchsorted(roots, roots[cooler_in] + recipe.rooting * 7 - TOLERANCE))
    stands = [(simulation.route.cooler, cooler_in, bring_in)]
    for (place, start), after in pairwise([*legs, ("", climate.days)]):
        begin, end = max(start, bring_in), min(after[1], fade)
        if begin < end:
            stands.append((place, begin, end))
    return OptionDates(
        potting, cooler_in, rooted if rooted <= bring_in else None, bring_in, bloom,
        (int(stages[0]), int(stages[1]), int(stages[2])), weeks, wanted, tuple(stands),
    )  # fmt: skip
