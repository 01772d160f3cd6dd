"""Counting back: the latest dates that still bring a lot into bloom on its target.

Bring in is the latest working day whose forward run blooms in time; cooler-in the latest working day that
gives the chosen cold-weeks (and roots) by then; potting the working day before. Where the bulbs come too
late for that, the cold is shortened, but never below the least the crop needs: then the lot is refused and
the earliest bloom that is possible is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from forcing.dates import DAY, Span
from forcing.engine.timeline import Run, Traveller
from forcing.model import LotPlan, Unplanned


@dataclass(frozen=True, slots=True)
class Dates:
    """Potting, cooler-in (None: no cold) and bring in, with the forward run that proves them."""

    potting: date
    cooler_in: date | None
    bring_in: date
    run: Run


def chosen_cold(traveller: Traveller) -> float:
    """The cold-weeks to plan on: the lot's own figure, else the recipe's."""
    lot, recipe = traveller.lot, traveller.recipe
    return recipe.cold_target if lot.cold_weeks is None else lot.cold_weeks


def plan_lot(traveller: Traveller) -> LotPlan | Unplanned:
    """The dates of one lot on its route, or why there are none."""
    recipe, wanted = traveller.recipe, chosen_cold(traveller)
    if wanted < recipe.cold_min and recipe.needs_cold:
        return _refused(
            traveller,
            f"{wanted:g} cold-weeks are chosen but {recipe.crop} needs at least {recipe.cold_min:g} to flower",
        )
    missing = _unknown_temperature(traveller)
    if missing is not None:
        return Unplanned(traveller.lot, missing, None)
    dates = _in_time(traveller, wanted) if recipe.needs_cold else _without_cold(traveller)
    if dates is None:
        held = f" with a hold of {traveller.lot.hold_days} days on the way" if traveller.lot.hold_days else ""
        return Unplanned(traveller.lot, f"no bring in before the target leads to bloom by it{held}", None)
    in_hand = traveller.season.bulbs_in_hand
    if in_hand is not None and dates.potting < in_hand:
        late = _from_bulbs_in_hand(traveller, in_hand)
        if late is None:
            least = (
                f"even with {recipe.cold_min:g} cold-weeks, the least it flowers with, "
                if recipe.needs_cold
                else ""
            )
            return _refused(
                traveller, f"{least}potting when the bulbs are in hand, on {in_hand}, is too late"
            )
        dates = late
    return lot_plan(traveller, wanted, dates)


# ---------------------------------------------------------------- searching


def _blooms_in_time(traveller: Traveller, cooler_in: date, bring_in: date) -> Run | None:
    run = traveller.run(cooler_in, bring_in)
    return run if run is not None and max(run.bloom, run.assured) <= traveller.target else None


def _in_time(traveller: Traveller, wanted: float) -> Dates | None:
    """Latest bring in whose own latest cooler-in gives the chosen cold and bloom on or before the target."""
    calendar = traveller.season.calendar
    bring_in = calendar.on_or_before(_first_guess(traveller, wanted))
    while bring_in > traveller.climate.start:
        cooler_in = traveller.latest_cooler_in(bring_in, wanted)
        if cooler_in is None:
            return None
        run = _blooms_in_time(traveller, cooler_in, bring_in)
        if run is not None:
            bring_in, run = _latest_bring_in(traveller, cooler_in, bring_in, run)
            cooler_in, run = _latest_cooler_in(traveller, cooler_in, bring_in, run, wanted)
            return Dates(calendar.before(cooler_in), cooler_in, bring_in, run)
        bring_in = calendar.before(bring_in)
    return None


def _without_cold(traveller: Traveller) -> Dates | None:
    """Latest bring in of a crop that needs no cold; it is potted on the working day before."""
    calendar = traveller.season.calendar
    bring_in = calendar.on_or_before(_first_guess(traveller, 0.0))
    while bring_in > traveller.climate.start:
        run = _blooms_in_time(traveller, bring_in, bring_in)
        if run is not None:
            return Dates(calendar.before(bring_in), None, bring_in, run)
        bring_in = calendar.before(bring_in)
    return None


def _first_guess(traveller: Traveller, cold_weeks: float) -> date:
    """A bring-in date that is surely too late or right: backward from the target at the place's warmest.

    The least need at the highest daily rate cannot take longer than any run will.
    """
    recipe, climate = traveller.recipe, traveller.climate
    reference_rate = max(recipe.cap, recipe.reference) - recipe.base
    least = traveller.need(max(cold_weeks, recipe.cold_max) + 8)
    days = int(min(least / reference_rate, climate.days / 2))
    return traveller.target - timedelta(days=days)


def _latest_bring_in(traveller: Traveller, cooler_in: date, bring_in: date, run: Run) -> tuple[date, Run]:
    """The latest working day that still blooms in time with this cooler-in: later means more cold too."""
    later = traveller.season.calendar.after(bring_in)
    while later < traveller.target:
        later_run = _blooms_in_time(traveller, cooler_in, later)
        if later_run is None:
            break
        bring_in, run = later, later_run
        later = traveller.season.calendar.after(later)
    return bring_in, run


def _latest_cooler_in(
    traveller: Traveller, cooler_in: date, bring_in: date, run: Run, wanted: float
) -> tuple[date, Run]:
    """The latest cooler-in that still gives the chosen cold and bloom in time with this bring in.

    Where cold buys much heat, a later bring in has gathered cold that nobody asked for; it is given back as far
    as the target allows. A bring in a working day later still misses: less cold never blooms sooner.
    """
    later = traveller.latest_cooler_in(bring_in, wanted)
    while later is not None and later > cooler_in:
        later_run = _blooms_in_time(traveller, later, bring_in)
        if later_run is not None:
            return later, later_run
        later = traveller.season.calendar.before(later)
    return cooler_in, run


def _from_bulbs_in_hand(traveller: Traveller, in_hand: date) -> Dates | None:
    """Potting as soon as the bulbs are there, with as much cold as still blooms in time; None if too little."""
    potting, cooler_in, ready = _soonest(traveller, in_hand)
    if ready is None:
        return None
    best: Dates | None = None
    bring_in = ready
    while bring_in < traveller.target:
        run = _blooms_in_time(traveller, cooler_in or bring_in, bring_in)
        if run is not None:
            best = Dates(potting, cooler_in, bring_in, run)
        bring_in = traveller.season.calendar.after(bring_in)
    return best


def _soonest(traveller: Traveller, in_hand: date) -> tuple[date, date | None, date | None]:
    """Soonest potting, cooler-in and bring in (rooted, with the least cold) once the bulbs are in hand."""
    calendar, recipe = traveller.season.calendar, traveller.recipe
    potting = calendar.on_or_after(in_hand)
    if not recipe.needs_cold or traveller.route.cooler is None:
        return potting, None, calendar.after(potting)
    cooler_in = calendar.after(potting)
    enough = traveller.enough_cold(cooler_in, recipe.cold_min)
    rooted = traveller.rooted(cooler_in)
    if enough is None or rooted is None:
        return potting, cooler_in, None
    return potting, cooler_in, calendar.on_or_after(max(enough, rooted, cooler_in + DAY))


def earliest_bloom(traveller: Traveller, in_hand: date) -> date | None:
    """Earliest bloom with the least cold, potting as soon as the bulbs are in hand; None if not known."""
    _, cooler_in, bring_in = _soonest(traveller, in_hand)
    if bring_in is None:
        return None
    best: date | None = None
    # More cold can bloom sooner, so the first possible bring in is not always the best one.
    while best is None or bring_in < best:
        run = traveller.run(cooler_in or bring_in, bring_in)
        if run is None:
            break
        bloom = max(run.bloom, run.assured)
        best = bloom if best is None else min(best, bloom)
        bring_in = traveller.season.calendar.after(bring_in)
    return best


# ---------------------------------------------------------------- answers


def _unknown_temperature(traveller: Traveller) -> str | None:
    """Which place of the route has no temperature when the lot would be there; None if all are known."""
    climate, route, target = traveller.climate, traveller.route, traveller.target
    recipe = traveller.recipe
    bench_span = Span(target - timedelta(days=int(recipe.bench_days)), target)
    cold_days = int(7 * max(0.0, chosen_cold(traveller) - traveller.lot.precooled_weeks))
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


def _refused(traveller: Traveller, reason: str) -> Unplanned:
    in_hand = traveller.season.bulbs_in_hand
    return Unplanned(traveller.lot, reason, None if in_hand is None else earliest_bloom(traveller, in_hand))


def lot_plan(traveller: Traveller, wanted: float, dates: Dates) -> LotPlan:
    """The lot's dates written out: steps, stages, fade, cold and what working days cost."""
    lot, run = traveller.lot, dates.run
    cooler_in = dates.cooler_in
    fade = traveller.history.faded or traveller.fade(run)
    steps = traveller.steps(dates.potting, cooler_in, run, fade)
    return LotPlan(
        lot=lot,
        recipe=traveller.recipe,
        steps=steps,
        target=traveller.target,
        potting=dates.potting,
        cooler_in=cooler_in,
        rooted=traveller.rooted(cooler_in) if cooler_in else None,
        sprouted=traveller.sprouted(cooler_in, dates.bring_in) if cooler_in else None,
        bring_in=dates.bring_in,
        stages=run.stages,
        bloom=run.bloom,
        fade=fade,
        install=traveller.set_out(),
        cold_weeks=run.cold_weeks,
        cold_wanted=wanted,
        need=run.need,
        days_early=(traveller.target - run.bloom).days,
        assumed_days=sum(traveller.climate.assumed(s.place, s.span) for s in steps if s.place),
    )
