"""A season worked out: every lot counted back and run forward, rooms set, places counted, tasks listed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from forcing.dates import Span
from forcing.engine.agreed import Change, Choice, changes, decide, pinned, with_agreement
from forcing.engine.allocation.allocate import Allocation, Request
from forcing.engine.backward import earliest_bloom, plan_lot
from forcing.engine.climate import Climate, build_climate
from forcing.engine.context import Context, unwatched
from forcing.engine.coolers import programmes, room_findings, simulations_of, stated_settings
from forcing.engine.events import (
    bulbs_findings,
    date_findings,
    delivery_findings,
    explained,
    lost_findings,
    unplanned_finding,
    warm_findings,
)
from forcing.engine.faults import without_culprits
from forcing.engine.loads import crowded_findings, place_loads
from forcing.engine.log import NOTHING, History, histories, with_looks
from forcing.engine.need import with_others
from forcing.engine.off_setting import off_findings
from forcing.engine.parts import ShortPotting, as_logged, short_of, split_findings
from forcing.engine.replan import Expectation, as_expected, expectations, replan_lot
from forcing.engine.show.cover import Cover
from forcing.engine.show.show import SeasonExtras, beside, known_before
from forcing.engine.show.standing import lifted, standings, waits
from forcing.engine.show.waves import lots_from_displays
from forcing.engine.simulate import IN_BLOOM, LotSimulation, simulation_of
from forcing.engine.why import Leeway, half_degree_findings, leeway
from forcing.engine.work.hours import (
    AWAY,
    day_limit,
    hours_findings,
    levelled,
    off_full_days,
    spread_over_days,
)
from forcing.engine.work.house_work import after_tasks, as_tasks, daily_rounds, round_hours, weekly
from forcing.engine.work.orders import full_containers
from forcing.engine.work.store import store_findings, unpacking
from forcing.engine.work.tasks import all_tasks, in_order, log_gaps
from forcing.errors import Finding, ForcingError, RecipeError, Several, sort_findings
from forcing.model import Agreement, LotPlan, PlaceLoad, Plan, Recipe, RoomSetting, Season, Task, Unplanned
from forcing.recipes.book import RecipeBook
from forcing.text import listed, some
from forcing.units import show_temperature

# Faults found while reading that say by themselves why a lot is not planned.
REPORTED = ("place-unknown", "display-unknown", "crop-unknown", "recipe-unsound")
ROUNDING = 1e-6  # weeks of cold that are only how numbers are kept
WORTH_TELLING = 0.5  # weeks of cold short of those chosen: half a week, the step that people plan in


@dataclass(frozen=True, slots=True)
class PlanResult:
    """A plan with what it was worked out from: each planned lot's simulation, the climate of its places, the show."""

    plan: Plan
    simulations: tuple[LotSimulation, ...]
    climate: Climate
    beside: SeasonExtras
    expected: Mapping[str, Expectation | None]  # of each planned lot, as seen on the day
    choices: Mapping[str, Choice]  # of cooler, bench and cold-weeks
    changes: tuple[Change, ...] = ()  # against what was agreed; empty also where nothing was

    @property
    def agreement(self) -> Agreement | None:
        """What was agreed last, as seen from the day; None: nothing was."""
        return self.plan.season.agreed[-1] if self.plan.season.agreed else None

    def leeways(self) -> dict[str, Leeway]:
        """What the dates of each planned lot bear, by its name."""
        by_name = {simulation.lot.name: simulation for simulation in self.simulations}
        return {plan.lot.name: leeway(plan, by_name[plan.lot.name]) for plan in self.plan.lots}


@dataclass(frozen=True, slots=True)
class Resolved:
    """A season as it is known on a day: lots with pots, target, recipe and history."""

    season: Season
    recipes: Mapping[str, Recipe]  # of the lots that have one, and of their parts
    histories: Mapping[str, History]
    unplanned: tuple[Unplanned, ...]
    findings: tuple[Finding, ...]
    short: Mapping[str, ShortPotting]  # lots of which fewer pots were potted than are wanted


@dataclass(frozen=True, slots=True)
class Grown:
    """The lots as they are grown, each ready to be run forward, in rooms as they are set."""

    season: Season  # with the cold-weeks chosen, and lots in parts
    lots: tuple[LotPlan, ...]
    simulations: tuple[LotSimulation, ...]
    rooms: tuple[RoomSetting, ...]
    climate: Climate

    def with_lot(self, simulation: LotSimulation) -> Grown:
        """With one lot run another way; as it was where it cannot be planned so."""
        name, plan = simulation.lot.name, replan_lot(simulation)
        if not isinstance(plan, LotPlan):
            return self
        return replace(
            self,
            lots=tuple(plan if p.lot.name == name else p for p in self.lots),
            simulations=tuple(simulation if t.lot.name == name else t for t in self.simulations),
        )


def work_out(
    season: Season, book: RecipeBook, context: Context, findings: Sequence[Finding] = (),
    choices: Mapping[str, Choice] | None = None,
) -> PlanResult:  # fmt: skip
    """The plan of a season with what it rests on. `findings` are those made while it was read and checked.

    choices: of cooler, bench and cold-weeks that stay, as an earlier result has them; None: they are made.

    What was read after the day it is seen from is left out; lots that state no pots or target take them from their
    displays. A show whose end is not stated closes when the last lot fades. Where the program itself fails on a lot,
    companion, display or place, that one is told and left out.
    """
    try:
        return _worked_out(season, book, context, findings, choices)
    except ForcingError:
        raise
    except Exception as error:
        quiet = replace(context, progress=unwatched)
        rest, faults, lots = without_culprits(
            season, lambda part: _worked_out(part, book, quiet, (), choices), error
        )
        made = _worked_out(rest, book, context, (*findings, *faults), choices)
        left_out = (
            Unplanned(lot, "forcing could not work it out, by a fault of its own", None) for lot in lots
        )
        return replace(made, plan=replace(made.plan, unplanned=(*made.plan.unplanned, *left_out)))


def _worked_out(
    season: Season, book: RecipeBook, context: Context, findings: Sequence[Finding],
    choices: Mapping[str, Choice] | None,
) -> PlanResult:  # fmt: skip
    resolved = resolve(season, book, context.on)
    # Companions stand on benches and outdoors: what is chosen for the coolers does not move them.
    known = known_before(
        resolved.season, build_climate(resolved.season, programmes(resolved.season, ())), context
    )
    decision = decide(Request(
        resolved.season, resolved.recipes, resolved.histories, context, occupancy=known.occupancy, tasks=known.tasks
    ), choices)  # fmt: skip
    made = decision.made
    grown = set_out_for_places(grow(resolved, made))
    rounds = as_tasks(daily_rounds(grown.season, place_loads(grown.season, grown.lots, known.occupancy)))
    grown = set_out_in_turn(grown, resolved.histories, (*known.tasks, *rounds), context)
    expected = expectations(grown.simulations, context.on)
    extras = beside(
        grown.season, grown.lots, grown.simulations, grown.climate, expected, known, book, context
    )
    lots, tasks = work(grown, resolved.histories, extras.tasks, rounds, context)
    lots = lifted(lots, extras.show.standings)
    loads = place_loads(grown.season, lots, known.occupancy)
    walked = daily_rounds(grown.season, loads, known.companions)
    tasks = in_order((*tasks, *after_tasks(grown.season, lots, extras.show.standings, loads, context)))
    unplanned = (*resolved.unplanned, *made.unplanned)
    found = [
        *findings,
        *resolved.findings,
        *(_unplanned_finding(grown.season, u, findings, context.on) for u in unplanned if u.lost is None),
        *made.findings,
        *extras.findings,
        *_grown_findings(resolved, grown, lots, context.on),
        *_event_findings(grown, unplanned, extras.show.covers, loads, context.on),
        *crowded_findings(
            grown.season, loads, {f.place for f in made.findings if f.code == "place-overfull"}, context.on
        ),
        *hours_findings(grown.season, tasks, weekly(round_hours(walked))),
        *store_findings(grown.season, lots, loads, context.on),
        *log_gaps(grown.season, tasks, context.on),
        None if made.settled.agreed else _unsettled(),
    ]
    order = {lot.name: i for i, lot in enumerate(grown.season.lots)}
    plan = Plan(
        season=grown.season,
        on=context.on,
        lots=tuple(sorted(lots, key=lambda p: order[p.lot.name])),
        unplanned=tuple(sorted(unplanned, key=lambda u: order[u.lot.name])),
        rooms=grown.rooms,
        loads=loads,
        tasks=tasks,
        findings=sort_findings(explained([f for f in found if f is not None])),
        rounds=walked,
    )
    companions, covers = extras.companions, extras.show.covers
    short = (*delivery_findings(plan, covers, companions), *full_containers(plan, companions))
    plan = replace(plan, findings=sort_findings((*plan.findings, *short))) if short else plan
    agreed = resolved.season.agreed
    changed = changes(agreed[-1], plan, grown.simulations, decision.crowded) if agreed else ()
    return PlanResult(plan, grown.simulations, grown.climate, extras, expected, decision.choices, changed)


# ---------------------------------------------------------------- stages


def resolve(season: Season, book: RecipeBook, on: date) -> Resolved:
    """What is known of a season on a day: without later readings, lots in the parts that the log names."""
    read = tuple(r for r in season.readings if r.kind == "forecast" or r.date <= on)
    season = lots_from_displays(replace(season, readings=read), book)
    short = short_of(season, on)
    season, of_parts = as_logged(season, on)
    season = with_agreement(season, on)
    recipes, unplanned = _recipes(season, book)
    logged, of_log = histories(season, on)
    logged, of_looks = with_looks(season, logged, on)
    found = (*of_parts, *of_log, *of_looks)
    return Resolved(season, recipes, pinned(season, logged, on), unplanned, found, short)


def _recipes(season: Season, book: RecipeBook) -> tuple[dict[str, Recipe], tuple[Unplanned, ...]]:
    recipes: dict[str, Recipe] = {}
    unplanned: list[Unplanned] = []
    for lot in season.lots:
        try:
            recipe = book.sound_recipe(lot.crop, lot.bloom_class, lot.cultivar, season.unit)
        except RecipeError as error:
            unplanned.append(Unplanned(lot, str(error), None))
        else:
            recipes |= dict.fromkeys((lot.name, *(lot.part_names if lot.split else ())), recipe)
    return recipes, tuple(unplanned)


def grow(resolved: Resolved, made: Allocation) -> Grown:
    """The lots that have a place, in the rooms that were settled with them."""
    settled = made.settled
    season = _closing(made.season, settled.lots)
    planned = {plan.lot.name: plan for plan in settled.lots}
    lots = [lot for lot in season.lots if lot.name in planned]
    simulations = simulations_of(
        season, settled.climate, lots, resolved.recipes, made.placed, resolved.histories
    )
    runs = {
        s.lot.name: s.run(plan.cooler_in, plan.bring_in)
        for s in simulations
        if s.history.looks and (plan := planned[s.lot.name])
    }
    simulations = with_others(simulations, runs)
    expected = tuple(as_expected(s, planned[s.lot.name]) for s in simulations)
    rooms = (*stated_settings(season), *settled.programme)
    return Grown(season, expected, simulations, rooms, settled.climate)


def _closing(season: Season, lots: Sequence[LotPlan]) -> Season:
    """The season; a show whose end is not stated closes at the last fade, with the displays open until then."""
    last = max((plan.fade for plan in lots if plan.fade is not None), default=season.span.end)
    if season.show_stated or last <= season.span.start:
        return season

    def closed(span: Span) -> Span:
        return Span(span.start, last) if span.end == season.span.end and span.start < last else span

    displays = tuple(replace(display, span=closed(display.span)) for display in season.displays)
    return replace(season, span=closed(season.span), displays=displays)


def work(
    grown: Grown,
    logged: Mapping[str, History],
    other: Sequence[Task],
    rounds: Sequence[Task],
    context: Context,
) -> tuple[tuple[LotPlan, ...], tuple[Task, ...]]:
    """The lots, some potted sooner for a full week's sake, and all tasks with the `other` ones; `rounds` are none."""

    def tasks_of(lots: Sequence[LotPlan]) -> tuple[Task, ...]:
        arrivals = unpacking(grown.season, lots, context)
        return in_order((*all_tasks(grown.season, lots, grown.rooms, context), *arrivals, *other))

    tasks = tasks_of(grown.lots)
    fixed = _fixed(logged)
    lots = tuple(levelled(grown.season, grown.lots, (*tasks, *rounds), fixed, context.on))
    if lots != grown.lots:
        tasks = tasks_of(lots)
    spread = spread_over_days(grown.season, lots, (*tasks, *rounds), fixed, context.on)
    return spread, tasks if spread == lots else tasks_of(spread)


def _fixed(logged: Mapping[str, History]) -> list[str]:
    return [name for name, history in logged.items() if history.fixed]


def set_out_for_places(grown: Grown) -> Grown:
    """The lots, those whose day is open waiting until the places that they take in a display are free."""
    of = {t.lot.name: t for t in grown.simulations}
    settled = {
        name for name, t in of.items()
        if not t.lot.install_open or any(move.step == "harden" for move in t.history.moves)
    }  # fmt: skip
    for name in [name for name in of if name not in settled]:
        pin = of[name].history.agreed
        if pin is not None:  # its day was handed out
            settled.add(name)
            if pin.lot.install not in (None, of[name].route.install) and pin.lot.target == of[name].target:
                grown = grown.with_lot(_set_out(grown, of[name], pin.lot.install))
    while (found := waits(grown.season, grown.lots, grown.simulations, settled)) is not None:
        name, day = found
        settled.add(name)
        grown = grown.with_lot(_set_out(grown, of[name], day))
    return grown


def _set_out(grown: Grown, t: LotSimulation, day: date | None) -> LotSimulation:
    """A lot set out on a day that the plan chose."""
    lot = replace(t.lot, install=day, install_chosen=True)
    moved = simulation_of(
        grown.season, grown.climate, lot, t.recipe, t.route.cooler, t.route.bench, t.history
    )
    return replace(moved, pace=t.pace, others=t.others)


def set_out_in_turn(
    grown: Grown, logged: Mapping[str, History], other: Sequence[Task], context: Context
) -> Grown:
    """The lots, some set out some working days sooner where the day is too full and they still bloom in time."""
    season, fixed = grown.season, set(_fixed(logged))
    fixed |= {s.into for stand in standings(season, grown.lots, grown.simulations) for s in stand.swaps}
    open_ = {
        t.lot.name: t
        for t in grown.simulations
        if t.lot.name not in fixed and t.lot.install is None and t.route.site and t.route.install
    }
    if not open_ or day_limit(season) is None:
        return grown
    plans = {plan.lot.name: plan for plan in grown.lots}
    sooner: dict[tuple[str, date], LotSimulation] = {}

    def days(name: str) -> list[date]:
        day, found = open_[name].route.install, list[date]()
        while day is not None and len(found) < AWAY and (day := season.calendar.before(day)) >= context.on:
            found.append(day)
        return found

    def bears(name: str, day: date) -> bool:
        was, t = plans[name], open_[name]
        opens = season.opened_by(t.lot)
        # Where it opens a display its slowest pots may finish outdoors, in time all the same; the typical one only
        # where that makes it no later.
        moved = replace(_set_out(grown, t, day), finishes_outdoors=opens)
        plan = replan_lot(moved)
        latest = max(day, was.ready) if opens else t.target
        if not isinstance(plan, LotPlan) or plan.bring_in >= day or plan.ready > latest:
            return False
        sooner[name, day] = moved
        return (plan.potting, plan.cooler_in, plan.bring_in) == (was.potting, was.cooler_in, was.bring_in)

    tasks = (*all_tasks(season, grown.lots, grown.rooms, context), *other)
    chosen = off_full_days(season, tasks, "set out", {name: days(name) for name in open_}, bears)
    for name, day in chosen.items():
        grown = grown.with_lot(sooner[name, day])
    return grown


# ---------------------------------------------------------------- findings


def _unplanned_finding(
    season: Season, unplanned: Unplanned, known: Sequence[Finding], on: date
) -> Finding | None:
    lot = unplanned.lot
    if any(f.code in REPORTED and f.table == "lots" and f.row == lot.row for f in known):
        return None  # the fault that keeps it unplanned is already told, at its own cell
    return unplanned_finding(season, unplanned, on)


def _event_findings(
    grown: Grown,
    unplanned: Sequence[Unplanned],
    covers: Sequence[Cover],
    loads: Sequence[PlaceLoad],
    on: date,
) -> Iterator[Finding]:
    """What happened: rooms off their settings, bulbs that are late, lots that are lost, warm weather."""
    season, both = grown.season, list(zip(grown.simulations, grown.lots, strict=True))
    yield from off_findings(season, grown.climate, both, loads, on)
    yield from bulbs_findings(season, unplanned, grown.lots, on)
    yield from lost_findings(season, unplanned, both, covers, on)
    yield from warm_findings(season, grown.climate, both, on)


def _plan_findings(grown: Grown, lots: Sequence[LotPlan], on: date) -> Iterator[Finding]:
    season = grown.season
    yield from split_findings(season)
    for plan in lots:
        if plan.lot.pots:  # of pots that are all sold nothing is expected any more
            yield from _cold_findings(season, plan, on)
            yield from date_findings(season, plan, on)
    yield from _outdoors_findings(season, lots, on)
    yield from _short_cold_findings(season, lots)
    yield from _bench_findings(season, lots)
    yield from room_findings(season, grown.climate, lots, grown.rooms)


def _grown_findings(resolved: Resolved, grown: Grown, lots: Sequence[LotPlan], on: date) -> Iterator[Finding]:
    """What there is to say of the lots as they are grown."""
    yield from _plan_findings(grown, lots, on)
    yield from _short_findings(resolved.short, grown, on)
    yield from half_degree_findings(grown.season, list(zip(grown.lots, grown.simulations, strict=True)), on)


def _short_findings(short: Mapping[str, ShortPotting], grown: Grown, on: date) -> Iterator[Finding]:
    """Lots of which more pots are wanted than were potted, and when those that are missing could still be potted."""
    for simulation in grown.simulations:
        name, missing = simulation.lot.stated_name, short.get(simulation.lot.stated_name)
        if missing is None or simulation.lot.name not in (name, f"{name} a"):
            continue
        few = missing.wanted - missing.potted
        anew = replace(simulation, lot=replace(simulation.lot, pots=few), history=NOTHING, pace=1.0)
        planned = plan_lot(anew)
        days: tuple[date, ...] = ()
        hint = f"Write the {missing.potted} pots that there are"
        if isinstance(planned, LotPlan) and planned.potting >= on:
            hint += f"; or pot the others by {planned.potting}, as a lot of their own, to have them by the target."
            days = (planned.potting,)
        elif (bloom := earliest_bloom(anew, max(on, grown.season.in_hand(anew.lot) or on))) is not None:
            hint += f". The others come too late for the target: potted now they bloom on {bloom} at the earliest."
            days = (bloom,)
        else:
            hint += ". The others cannot be had any more."
        yield Finding(
            "pots-not-potted", "warning", "lots", simulation.lot.row, "pots",
            f"{missing.wanted} pots of {name} are wanted, and {missing.potted} were potted on {missing.entry.date}: "
            f"{some(few, 'pot does not exist', 'pots do not exist')}",
            hint, str(missing.wanted), lot=name, number=few, days=days,
        )  # fmt: skip


def _cold_findings(season: Season, plan: LotPlan, on: date) -> Iterator[Finding]:
    lot, recipe, got = plan.lot, plan.recipe, plan.cold_weeks
    if not recipe.needs_cold:
        return
    if got < plan.cold_wanted - WORTH_TELLING and not _flowers_short(plan):
        in_hand = season.in_hand(lot)
        why = (
            f"of when it goes into the cooler ({plan.cooler_in}), how warm that is and when it is brought in"
        )
        why_several = "of when they go into the cooler, how warm that is and when they are brought in"
        if in_hand is not None and plan.potting <= season.calendar.on_or_after(in_hand):
            why = why_several = f"the bulbs are in hand only on {in_hand}"
        flowers = got >= recipe.cold_least - ROUNDING
        of_many = (
            f"They can flower, later on the bench and shorter{_more_cold(plan, on)}." if flowers else
            "That is too little to flower: do not count on them. Check their log; if that is right, put them back "
            "into the cold or have other pots ready."
        )  # fmt: skip
        yield Finding(
            "cold-short", "warning" if flowers else "error", "lots", lot.row, "cold weeks",
            f"{lot.name} gets {got:.1f} cold-weeks instead of {plan.cold_wanted:g}, because {why}",
            f"It can flower (it needs {recipe.cold_least:g}), later on the bench and shorter{_more_cold(plan, on)}."
            if flowers else
            f"It needs {recipe.cold_least:g} to flower: do not count on it. Check its log; if that is right, put it "
            "back into the cold or have other pots ready.",
            lot=lot.name, number=got, days=() if plan.cooler_in is None else (plan.cooler_in,), several=Several(
                "{count} lots get {least} to {most} cold-weeks, fewer than were chosen, because " + why_several
                + ": {names}", of_many,
            ),
        )  # fmt: skip
    stated_so = lot.cold_weeks is not None and lot.cold_weeks > recipe.cold_max  # told where it was read
    if got > recipe.cold_max + ROUNDING and not stated_so:
        digits = 1 if got >= recipe.cold_max + 0.05 else 2
        yield Finding(
            "cold-above-max", "warning", "lots", lot.row, "cold weeks",
            f"{lot.name} gets {got:.{digits}f} cold-weeks, above the {recipe.cold_max:g} that suit {recipe.crop}",
            f"Expect tall weak stems; {_less_cold(plan, on)}.", lot=lot.name, number=got, several=Several(
                f"{{count}} lots get {{least}} to {{most}} cold-weeks, above the {recipe.cold_max:g} that suit "
                f"{recipe.crop}: {{names}}", f"Expect tall weak stems; {_less_cold(plan, on, 'them', 'their')}.",
            ),
        )  # fmt: skip


def _flowers_short(plan: LotPlan) -> bool:
    """Whether a lot gets less cold than is usual for good stems, and still enough to flower."""
    least, usual = plan.recipe.cold_least - ROUNDING, plan.recipe.cold_min - ROUNDING
    return plan.recipe.needs_cold and least <= plan.cold_weeks < usual


def _short_cold_findings(season: Season, plans: Sequence[LotPlan]) -> Iterator[Finding]:
    """For each crop and class: the lots that get less cold than is usual, and what that does to them."""
    short: dict[tuple[str, str | None], list[LotPlan]] = {}
    for plan in plans:
        if plan.lot.pots and _flowers_short(plan):
            short.setdefault((plan.recipe.crop, plan.recipe.bloom_class), []).append(plan)
    for (crop, bloom_class), these in short.items():
        weeks, kind = [p.cold_weeks for p in these], f"{bloom_class} {crop}" if bloom_class else crop
        longer = max(p.need / (p.recipe.reference - p.recipe.base) - p.recipe.bench_days for p in these)
        came = [season.in_hand(p.lot) for p in these]
        late = all(
            day is not None and p.potting <= season.calendar.on_or_after(day)
            for p, day in zip(these, came, strict=True)
        )
        days = listed([str(day) for day in sorted({day for day in came if day is not None})], 3)
        why = f", as the bulbs are in hand only on {days}" if late else ""
        expect = "Expect shorter stems and smaller flowers"
        if longer > 0.5:
            at = show_temperature(these[0].recipe.reference, season.unit)
            about = "about" if len(these) == 1 else "up to"
            if any(p.recipe.beyond_line(p.cold_weeks) > 0 for p in these):
                about = "at least"  # nobody has measured how much longer
            expect += f", and {about} {some(round(longer), 'day')} longer on a bench at {at}; the dates allow for that"
        stated = all(p.lot.cold_weeks is not None for p in these)
        mend = "State more cold weeks, or none" if stated else "Start earlier, or buy precooled bulbs"
        yield Finding(
            "cold-below-usual", "warning", "lots", these[0].lot.row, "cold weeks",
            f"{listed([p.lot.name for p in these], 6)} ({kind}) {'gets' if len(these) == 1 else 'get'} "
            f"{_from_to(min(weeks), max(weeks))} cold-weeks; {these[0].recipe.cold_min:g} or more are usual{why}",
            f"{expect}. {mend}, where that is possible.",
            lot=these[0].lot.name if len(these) == 1 else None, number=min(weeks),
            lots=tuple(p.lot.name for p in these),
        )  # fmt: skip


def _from_to(low: float, high: float) -> str:
    return f"{low:.1f}" if f"{low:.1f}" == f"{high:.1f}" else f"{low:.1f} to {high:.1f}"


def _more_cold(plan: LotPlan, on: date) -> str:
    """What can still give a lot more cold."""
    if plan.bring_in <= on:
        return ""
    begun = plan.cooler_in is not None and plan.cooler_in <= on
    return (
        "; a later bring in would mend it" if begun else "; precooled bulbs or an earlier start would mend it"
    )


def _less_cold(plan: LotPlan, on: date, it: str = "it", its: str = "its") -> str:
    """What can still give a lot less cold."""
    if plan.bring_in <= on:
        return f"stake {it}, and keep {its} bench cool and light"
    begun = plan.cooler_in is not None and plan.cooler_in <= on
    return f"bring {it} in sooner" if begun else f"pot {it} later or choose fewer cold-weeks"


def _outdoors_findings(season: Season, plans: Sequence[LotPlan], on: date) -> Iterator[Finding]:
    """Lots that open a display and are yet to be set out in bud, where nothing says that they finish outdoors."""
    for display in season.displays:
        mine = [
            p for p in plans
            if p.lot.display == display.name and p.install is not None and season.opened_by(p.lot)
            and on <= p.install < p.bloom and p.target <= p.install + IN_BLOOM
        ]  # fmt: skip
        if mine:
            names = listed([p.lot.name for p in mine])
            yield Finding(
                "bloom-outdoors", "warning", "lots", mine[0].lot.row, "install",
                f"{names} {'opens' if len(mine) == 1 else 'open'} {display.name} and would be set out in bud: what "
                "opens outdoors waits for a warm day",
                "Set out later, or give a warmer bench or an earlier start; where that is meant, state an install "
                f"more than {some(IN_BLOOM.days, 'day')} before the target.",
                lot=mine[0].lot.name, place=display.site, number=sum(p.lot.pots for p in mine),
                days=tuple(sorted({p.install for p in mine if p.install is not None})),
            )  # fmt: skip


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
        lots = listed([p.lot.name for p in there], 6)
        yield Finding(
            "bench-outside-limits", "warning", "lots", there[0].lot.row, "bench",
            f"{lots} ({crop}) {'stands' if len(there) == 1 else 'stand'} where the bench averages "
            f"{show_temperature(means[name], unit)}, outside the {low} to {high} that {crop} bears",
            "Choose another bench or change its setpoints.", name, place=name,
        )  # fmt: skip


def _unsettled() -> Finding:
    return Finding(
        "rooms-unsettled", "warning", "places", None, None,
        "the dates of the lots and the programmes of their coolers do not come to rest",
        "State day and night temperatures (or setpoints) for the coolers, or cold weeks for the lots.",
    )  # fmt: skip
