"""A season worked out: every lot counted back and run forward, rooms set, places counted, tasks listed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

from forcing.engine.allocation.allocate import Request, allocate
from forcing.engine.climate import Climate, build_climate
from forcing.engine.context import Context
from forcing.engine.coolers import programmes, room_findings, simulations_of, stated_settings
from forcing.engine.extras import SeasonExtras, beside, known_before
from forcing.engine.loads import crowded_findings, place_loads
from forcing.engine.log import as_logged, histories, split_findings
from forcing.engine.show.waves import lots_from_displays
from forcing.engine.simulate import LotSimulation
from forcing.engine.work.hours import hours_findings, levelled
from forcing.engine.work.tasks import all_tasks, in_order
from forcing.errors import Finding, RecipeError, sort_findings
from forcing.model import LotPlan, Plan, Recipe, Season, Unplanned
from forcing.recipes.book import RecipeBook
from forcing.units import show_temperature

# Faults found while reading that say by themselves why a lot is not planned.
TOLD = ("place-unknown", "display-unknown", "crop-unknown", "recipe-unsound")
SLIP = 60  # days late that are a slip of the pen rather than a slow lot; practice, no source
WORTH_TELLING = 0.5  # weeks of cold short of those chosen: half a week, the step that people plan in


@dataclass(frozen=True, slots=True)
class PlanResult:
    """A plan with what it was worked out from: each planned lot's simulation, the climate of its places, the show."""

    plan: Plan
    simulations: tuple[LotSimulation, ...]
    climate: Climate
    beside: SeasonExtras


def work_out(
    season: Season, book: RecipeBook, context: Context, findings: Sequence[Finding] = ()
) -> PlanResult:
    """The plan of a season with what it rests on. `findings` are those made while it was read and checked.

    What was read after the day it is seen from is left out; lots that state no pots or target take them from their
    displays.
    """
    on = context.on
    season = lots_from_displays(_known_by(season, on), book)
    season, part_findings = as_logged(season, on)
    recipes, unplanned = _recipes(season, book)
    lived, log_findings = histories(season, on)
    # Companions stand on benches and outdoors: what is chosen for the coolers does not move them.
    known = known_before(season, build_climate(season, programmes(season, ())), context)
    made = allocate(Request(season, recipes, lived, context, occupancy=known.occupancy, tasks=known.tasks))
    season = made.season
    unplanned += made.unplanned
    lots, settled, climate = made.settled.lots, made.settled.agreed, made.settled.climate
    rooms = (*stated_settings(season), *made.settled.programme)
    grown = {plan.lot.name for plan in lots}
    stated = [lot for lot in season.lots if lot.name in grown]
    simulations = simulations_of(season, climate, stated, recipes, made.placed, lived)
    other = beside(season, lots, simulations, climate, known, book, context)
    loads = place_loads(season, lots, known.occupancy)
    tasks = in_order((*all_tasks(season, lots, rooms, context), *other.tasks))
    level = levelled(season, lots, tasks, lived, on)
    if level != lots:
        lots = level
        tasks = in_order((*all_tasks(season, lots, rooms, context), *other.tasks))
    overfull = [f.message for f in made.findings if f.code == "place-overfull"]
    full = {place.name for place in season.places for text in overfull if text.startswith(f"{place.name} ")}
    found = [
        *findings,
        *part_findings,
        *log_findings,
        *split_findings(season),
        *(_unplanned_finding(season, u, findings) for u in unplanned),
        *(f for plan in lots for f in _lot_findings(season, plan)),
        *_bench_findings(season, lots),
        *room_findings(season, climate, lots, rooms),
        *made.findings,
        *other.findings,
        *crowded_findings(season, loads, full),
        *hours_findings(season, tasks),
    ]
    if not settled:
        found.append(_unsettled())
    order = {lot.name: i for i, lot in enumerate(season.lots)}
    plan = Plan(
        season=season,
        on=on,
        lots=tuple(sorted(lots, key=lambda p: order[p.lot.name])),
        unplanned=tuple(sorted(unplanned, key=lambda u: order[u.lot.name])),
        rooms=rooms,
        loads=loads,
        tasks=tasks,
        findings=sort_findings(f for f in found if f is not None),
    )
    return PlanResult(plan, simulations, climate, other)


# ---------------------------------------------------------------- lots


def _known_by(season: Season, on: date) -> Season:
    known = tuple(r for r in season.readings if r.kind == "forecast" or r.date <= on)
    return replace(season, readings=known)


def _recipes(season: Season, book: RecipeBook) -> tuple[dict[str, Recipe], list[Unplanned]]:
    recipes: dict[str, Recipe] = {}
    unplanned: list[Unplanned] = []
    for lot in season.lots:
        try:
            recipe = book.recipe(lot.crop, lot.bloom_class, lot.cultivar)
        except RecipeError as error:
            unplanned.append(Unplanned(lot, str(error), None))
            continue
        problems = book.check(recipe, season.unit)
        if problems:
            unplanned.append(Unplanned(lot, f"its recipe contradicts itself: {'; '.join(problems)}", None))
        else:
            recipes |= dict.fromkeys((lot.name, *(lot.part_names if lot.split else ())), recipe)
    return recipes, unplanned


# ---------------------------------------------------------------- findings


def _unplanned_finding(season: Season, unplanned: Unplanned, known: Sequence[Finding]) -> Finding | None:
    lot = unplanned.lot
    if any(f.code in TOLD and f.table == "lots" and f.row == lot.row for f in known):
        return None  # the fault that keeps it unplanned is already told, at its own cell
    target = lot.target or season.span.start
    if unplanned.earliest is None:
        message, hint = f"{lot.name} is not planned: {unplanned.reason}", "Mend that and plan again."
    else:
        message = f"{lot.name} cannot bloom by its target: {unplanned.reason}"
        hint = (
            f"The earliest bloom possible is {unplanned.earliest}; set the target there or later, start potting "
            "sooner, or buy precooled bulbs."
        )
    return Finding("lot-unplanned", "error", "lots", lot.row, "target bloom", message, hint, str(target))


def _lot_findings(season: Season, plan: LotPlan) -> Iterator[Finding]:
    lot, recipe = plan.lot, plan.recipe
    if recipe.needs_cold and plan.cold_weeks < plan.cold_wanted - WORTH_TELLING:
        why = (
            f"of when it goes into the cooler ({plan.cooler_in}), how warm that is and when it is brought in"
        )
        if season.bulbs_in_hand is not None and plan.potting <= season.calendar.on_or_after(
            season.bulbs_in_hand
        ):
            why = f"the bulbs are in hand only on {season.bulbs_in_hand}"
        flowers = plan.cold_weeks >= recipe.cold_min - 1e-6
        yield Finding(
            "cold-short", "warning" if flowers else "error", "lots", lot.row, "cold weeks",
            f"{lot.name} gets {plan.cold_weeks:.1f} cold-weeks instead of {plan.cold_wanted:g}, because {why}",
            f"It can flower (it needs {recipe.cold_min:g}), later on the bench and shorter; precooled bulbs or an "
            "earlier start would mend it." if flowers else
            f"It needs {recipe.cold_min:g} to flower: do not count on it. Check its log; if that is right, put it back "
            "into the cold or have other pots ready.",
        )  # fmt: skip
    if plan.bloom > plan.target:
        late = (plan.bloom - plan.target).days
        yield Finding(
            "lot-late", "warning", "lots", lot.row, "target bloom",
            f"{lot.name} is now expected to bloom on {plan.bloom}, {_days(late)} late",
            "Warm its bench within its limits, or bring another lot forward to stand in for it." if late < SLIP else
            "Check the year and month of its target and of its log: nothing done to a lot makes up so many days.",
            str(plan.target),
        )  # fmt: skip
    stated_so = lot.cold_weeks is not None and lot.cold_weeks > recipe.cold_max  # told where it was read
    if recipe.needs_cold and plan.cold_weeks > recipe.cold_max + 0.05 and not stated_so:
        yield Finding(
            "cold-above-max", "warning", "lots", lot.row, "cold weeks",
            f"{lot.name} gets {plan.cold_weeks:.1f} cold-weeks, above the {recipe.cold_max:g} that suit {recipe.crop}",
            "Expect tall weak stems; pot it later or choose fewer cold-weeks.",
        )  # fmt: skip
    if lot.hold_days > recipe.hold_max:
        yield Finding(
            "hold-too-long", "warning", "lots", lot.row, "hold days",
            f"{lot.name} is to be held cold longer than the {recipe.hold_max:g} days that suit {recipe.crop}",
            "Hold it for less, or start it later.", str(lot.hold_days),
        )  # fmt: skip
    if plan.install is not None and not season.calendar.works(plan.install):
        yield Finding(
            "install-day-off", "warning", "lots", lot.row, "install",
            f"{lot.name} is to be set out on a day when nobody works",
            f"Set it out on {season.calendar.on_or_before(plan.install)} or arrange for staff.", str(plan.install),
        )  # fmt: skip
    if plan.fade is None:
        yield Finding(
            "fade-unknown", "note", "lots", lot.row, "display",
            f"how long {lot.name} lasts on show is not known: its place has no temperatures that far ahead",
            "Give the site its normals (table normals) or day and night temperatures.",
        )  # fmt: skip


def _days(number: int) -> str:
    return "1 day" if number == 1 else f"{number} days"


def _bench_findings(season: Season, plans: Sequence[LotPlan]) -> Iterator[Finding]:
    """For each bench and crop: the lots that stand there outside what their recipe bears."""
    outside: dict[tuple[str, str], list[LotPlan]] = {}
    means = {
        p.name: (p.day + p.night) / 2 for p in season.places if p.day is not None and p.night is not None
    }
    for plan in plans:
        recipe = plan.recipe
        for name in dict.fromkeys(s.place for s in plan.steps if s.step == "bench"):
            mean = means.get(name or "")
            if mean is not None and not recipe.bench_low - 1e-6 <= mean <= recipe.bench_high + 1e-6:
                outside.setdefault((name or "", recipe.crop), []).append(plan)
    for (name, crop), there in outside.items():
        recipe, unit = there[0].recipe, season.unit
        low, high = (show_temperature(t, unit) for t in (recipe.bench_low, recipe.bench_high))
        lots = ", ".join(p.lot.name for p in there[:6]) + (
            f" and {len(there) - 6} more" if len(there) > 6 else ""
        )
        yield Finding(
            "bench-outside-limits", "warning", "lots", there[0].lot.row, "bench",
            f"{lots} ({crop}) {'stands' if len(there) == 1 else 'stand'} where the bench averages "
            f"{show_temperature(means[name], unit)}, outside the {low} to {high} that {crop} bears",
            "Choose another bench or change its setpoints.", name,
        )  # fmt: skip


def _unsettled() -> Finding:
    return Finding(
        "rooms-unsettled", "warning", "places", None, None,
        "the dates of the lots and the programmes of their coolers do not come to rest",
        "State day and night temperatures (or setpoints) for the coolers, or cold weeks for the lots.",
    )  # fmt: skip
