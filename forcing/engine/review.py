"""Looking back: planned beside actual, lot by lot; what made the difference; next year's figures."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from itertools import pairwise
from typing import Literal, get_args

from forcing.dates import Span
from forcing.engine.agreed import handed_out
from forcing.engine.climate import Series, horizon
from forcing.engine.context import Context
from forcing.engine.log import NOTHING, History, histories, with_looks
from forcing.engine.need import figure_sigma, heat_ahead_sd, kind_of, seen_of
from forcing.engine.parts import as_logged
from forcing.engine.plan import PlanResult, work_out
from forcing.engine.show.waves import lots_from_displays
from forcing.engine.simulate import STAGES, LotSimulation, Run, gathered, pieces, simulation_of
from forcing.engine.work.rules import RULES, TaskRule
from forcing.errors import Finding, RecipeError
from forcing.model import BloomClass, Event, LogEntry, Lot, LotPlan, Override, Recipe, Season, Task
from forcing.recipes.book import RecipeBook
from forcing.science.flowering import lognormal_sigma
from forcing.science.pooling import Effect, Kind, Measured, Pool, SeenSpread, pooled_spread
from forcing.text import fold, some

EVENTS: tuple[Event, ...] = (
    "potted", "cooler in", "rooted", "brought in", "shoots", "bud", "colour", "bloom", "set out", "faded",
)  # fmt: skip
# What moved the day of bloom: the day it was brought in, its cold, where it stood and how warm, its own need.
PARTS = ("brought in", "cold", "warmth", "need")


@dataclass(frozen=True, slots=True)
class LotReview:
    """A lot, planned and real. None and missing dates: not logged, or not known (a note says why)."""

    lot: Lot
    recipe: Recipe
    target: date | None = None
    planned: Mapping[Event, date] = field(default_factory=dict)  # as it was agreed, or else planned
    actual: Mapping[Event, date] = field(default_factory=dict)  # logged days only
    started: bool = False  # whether anything is logged of it
    potted: int | None = None  # pots, as logged
    lost: int | None = None  # pots, as logged
    cold_planned: float | None = None  # weeks
    cold_credited: float | None = None  # weeks, from what the cooler really was
    need_planned: float | None = None  # °C·d after the cold planned
    need_predicted: float | None = None  # °C·d after the cold it really had
    need_seen: float | None = None  # °C·d from bring in to bloom
    life_predicted: float | None = None  # °C·d from bloom to fade
    life_seen: float | None = None
    need: Measured | None = None  # what it says of the need, against need_predicted
    life: Measured | None = None
    basis: Literal["bloom", "stages"] | None = None  # what `need` rests on
    unmeasured: int = 0  # days from bring in to bloom
    parts: Mapping[str, int] = field(
        default_factory=dict
    )  # of PARTS: days, their sum is the lateness of bloom
    notes: tuple[str, ...] = ()

    def days_late(self, event: Event) -> int | None:
        """Days from planned to logged, negative when early; None where one of them is missing."""
        planned, actual = self.planned.get(event), self.actual.get(event)
        return None if planned is None or actual is None else (actual - planned).days

    @property
    def factor(self) -> float | None:
        """The need seen over the need foretold."""
        if self.need_seen is None or self.need_predicted is None:
            return None
        return self.need_seen / self.need_predicted

    @property
    def missing(self) -> tuple[str, ...]:
        """Events that must have been, for a later one is logged, but are not logged themselves."""
        done = [i for i, event in enumerate(EVENTS) if event in self.actual and event != "set out"]
        last = max(done, default=0)  # of a lot without a log nothing must have been
        cold = self.recipe.needs_cold and (not self.planned or "cooler in" in self.planned)
        return tuple(
            event
            for event in EVENTS[:last]
            if event not in self.actual
            and (cold or event not in ("cooler in", "rooted"))
            and (event != "set out" or event in self.planned)
        )


Quantity = Literal["need", "life"]
# Spread of the life on display where a recipe gives no low and high of display_days. Practice, no source.
LIFE_SIGMA = 0.25
MOST_SAVED = 6.9  # days a week of cold may save: a recipe with 7 contradicts itself


@dataclass(frozen=True, slots=True)
class Posterior:
    """A class (cultivar None) or a cultivar of a crop: the factor on its recipe, and what that rests on."""

    crop: str
    bloom_class: BloomClass | None
    cultivar: str | None
    effect: Effect
    lots: int  # seen to the end: to bloom, or to fade
    stages: int  # known by the stages on the way to bloom only
    seen: float | None  # the plain mean of the lots seen to the end, before it is pulled; None: none was
    recipe: (
        Recipe | None
    )  # of just this reach; None: there is no such recipe (a crop known by cultivars only)
    spread: SeenSpread | None = (
        None  # between the lots of a class; None: of a cultivar, or fewer than two lots
    )


@dataclass(frozen=True, slots=True)
class HoursSpent:
    """Work of one kind whose hours are logged: those planned for the same lots beside them."""

    event: Event  # of the log that shows it done
    lots: int
    planned: float
    logged: float


@dataclass(frozen=True, slots=True)
class Review:
    """A season looked back on. `figures` are next year's rows of `crops`; `crops` that whole table."""

    season: Season
    on: date
    lots: tuple[LotReview, ...]
    need: tuple[Posterior, ...]  # of the heat from bring in to bloom, classes and cultivars with data
    life: tuple[Posterior, ...]  # of the heat from bloom to fade
    figures: tuple[Override, ...]
    crops: tuple[Override, ...]  # the season's own rows that still hold, then `figures`
    findings: tuple[Finding, ...]
    hours: tuple[HoursSpent, ...] = ()


def last_day(season: Season) -> date:
    """The last day that the log or a measured reading tells of; where there is none, the day the show has closed."""
    days = [entry.date for entry in season.log]
    days += [r.date for r in season.readings if r.kind == "measured"]
    return max(days, default=season.span.end)


def review_season(
    season: Season, book: RecipeBook, context: Context, findings: Sequence[Finding] = ()
) -> Review:
    """The season as it was agreed, or would have been planned without log and readings, beside what really came.

    What was logged and read after the day it is seen from is left out. Arguments as for `work_out`.
    """
    on, progress = context.on, context.progress
    season, part_findings = as_logged(lots_from_displays(season, book), on)
    findings = (*findings, *part_findings)
    agreed = handed_out(season, histories(season, on)[0])
    start = horizon(season).start
    blank = replace(
        season, log=(), readings=(), agreed=() if agreed is None else (replace(agreed, on=start),)
    )
    progress("planning the season as it was before it began")
    planned = work_out(blank, book, replace(context, on=start))
    progress("working out the season as it was")
    actual = work_out(season, book, context, findings)
    return review(planned, actual, book, on)


def review(planned: PlanResult, actual: PlanResult, book: RecipeBook, on: date) -> Review:
    """The review of a season from its plan without a log, and its plan with all that is known on day `on`."""
    season = actual.plan.season
    logged, _ = with_looks(season, histories(season, on)[0], on)
    plans = {plan.lot.name: plan for plan in planned.plan.lots}
    as_planned = {t.lot.name: t for t in planned.simulations}
    agreed = {} if planned.agreement is None else {lot.name: lot.days for lot in planned.agreement.lots}
    rows = []
    for lot in season.lots:
        recipe = _recipe(book, lot.crop, lot.bloom_class, lot.cultivar)
        if recipe is None:
            continue  # a crop nobody has a recipe for: its own finding says so
        history, plan = logged.get(lot.name, NOTHING), plans.get(lot.name)
        row = _dates(season, LotReview(lot, recipe), plan, history, agreed.get(lot.name))
        simulation = _simulation(actual, lot, recipe, history)
        if simulation is not None and history.brought_in is not None:
            row = _grown(row, simulation, plan, as_planned.get(lot.name), history.brought_in)
        rows.append(row)
    need, life = posteriors(rows, book, "need"), posteriors(rows, book, "life")
    figures = next_figures(season, need, life, rows)
    return Review(
        season, on, tuple(rows), need, life, figures, next_table(season, figures), actual.plan.findings,
        tuple(hours_spent(season.log, planned.plan.tasks, on)),
    )  # fmt: skip


def hours_spent(log: Iterable[LogEntry], tasks: Iterable[Task], on: date) -> Iterator[HoursSpent]:
    """Hours logged by day `on` beside those planned for the same work, in the order of a lot's life.

    Work of which no task was planned is left out: there is nothing to set beside it.
    """
    logged: dict[tuple[str, Event], float] = {}
    for entry in log:
        if entry.hours is not None and entry.date <= on:
            logged[entry.lot, entry.event] = logged.get((entry.lot, entry.event), 0.0) + entry.hours
    planned: dict[tuple[str, Event], float] = {}
    for task in tasks:
        proof = RULES.get(task.task, TaskRule()).proof
        if task.lot is not None and proof is not None and task.task not in ("order", "swap"):
            planned[task.lot, proof] = planned.get((task.lot, proof), 0.0) + task.hours
    for event in get_args(Event):
        both = [key for key in logged if key[1] == event and key in planned]
        if both:
            yield HoursSpent(
                event, len(both), sum(planned[key] for key in both), sum(logged[key] for key in both)
            )


def _recipe(book: RecipeBook, crop: str, kind: BloomClass | None, cultivar: str | None) -> Recipe | None:
    try:
        return book.sound_recipe(crop, kind, cultivar)
    except RecipeError:
        return None


def _simulation(actual: PlanResult, lot: Lot, recipe: Recipe, history: History) -> LotSimulation | None:
    """The lot with its log; one that is no longer planned (all pots lost) is put where the log says it stood."""
    for simulation in actual.simulations:
        if simulation.lot.name == lot.name:
            return simulation
    cooler = history.coolers[0].place if history.coolers else lot.cooler
    bench = next((m.place for m in history.moves if m.step == "bench"), lot.bench)
    if not history.started or bench is None:
        return None
    try:
        made = simulation_of(actual.plan.season, actual.climate, lot, recipe, cooler, bench, history)
    except KeyError:
        return None  # a display that the season does not have: its own finding says so
    there = {None, *(place.name for place in actual.plan.season.places)}
    return (
        made if {made.route.cooler, made.route.bench, made.route.site} <= there else None
    )  # as of a display


# ---------------------------------------------------------------- dates and pots


def _dates(
    season: Season,
    row: LotReview,
    plan: LotPlan | None,
    history: History,
    agreed: Mapping[Event, date] | None,
) -> LotReview:
    """The row with its days and pots; `agreed`: the days that were handed out, instead of the plan's."""
    mine = [e for e in season.log if e.lot == row.lot.name]
    counted = [e.pots for e in mine if e.event == "potted" and e.date == history.potted]
    set_out = next((m.start for m in history.moves if m.step == "harden"), None)
    row = replace(
        row,
        actual=_events(
            history.potted, history.cooler_in, history.rooted, history.brought_in, history.stages, set_out,
            history.faded,
        ),
        potted=counted[0] if counted else None,
        lost=history.lost if history.lost or any(e.event == "lost" and e.pots == 0 for e in mine) else None,
        started=history.started,
    )  # fmt: skip
    if plan is None:
        return replace(row, notes=("it could not be planned",))
    return replace(
        row,
        lot=replace(row.lot, pots=plan.lot.pots),  # a lot that took its pots from its display has them now
        target=plan.target,
        planned=plan.days if agreed is None else agreed,
        cold_planned=plan.cold_weeks if row.recipe.needs_cold else None,
        need_planned=plan.need,
    )


def _events(
    potted: date | None, cooler_in: date | None, rooted: date | None, brought_in: date | None,
    stages: Mapping[str, date], set_out: date | None, faded: date | None,
  ) -> dict[Event, date]:  # fmt: skip
    """The days that are known, by event in the order of EVENTS."""
    on_the_way = (stages.get(stage) for stage in STAGES)
    days = (potted, cooler_in, rooted, brought_in, *on_the_way, set_out, faded)
    return {event: day for event, day in zip(EVENTS, days, strict=True) if day is not None}


# ---------------------------------------------------------------- cold and heat


def _grown(
    row: LotReview,
    simulation: LotSimulation,
    plan: LotPlan | None,
    as_planned: LotSimulation | None,
    bring_in: date,
) -> LotReview:
    """The row with cold, heat, life and the parts of its lateness; `bring_in` is logged."""
    history, notes = simulation.history, list(row.notes)
    cooler_in = history.cooler_in
    if cooler_in is None and simulation.in_cooler:
        cooler_in = plan.cooler_in if plan is not None else None
        if cooler_in is None or cooler_in >= bring_in or simulation.route.cooler is None:
            note = "cooler in is not logged, so its cold and the need after it are not known"
            return replace(row, notes=(*notes, note))
        notes.append("cooler in is not logged: the planned day is taken for the need")
    cold = simulation.cold_weeks(cooler_in or bring_in, bring_in)
    if cold is None:
        return replace(row, notes=(*notes, "the temperature of its cooler is not known on some days"))
    need = simulation.need(cold)
    stays = simulation.stays(bring_in, need) or history.moves
    logged_cold = history.cooler_in is not None and row.recipe.needs_cold
    row = replace(row, cold_credited=cold if logged_cold else None, need_predicted=need)
    run = Run(cold, need, stays, dict(history.stages), bring_in)
    row, notes = _need_seen(row, simulation, run, notes)
    row, notes = _life_seen(row, simulation, run, notes)
    parts = None
    if plan is not None and as_planned is not None and row.planned.get("bloom") == plan.bloom:
        parts = _parts(plan, as_planned, simulation, run, bring_in)
    return replace(row, parts=parts or {}, notes=tuple(notes))


Noted = tuple[LotReview, list[str]]


def _need_seen(row: LotReview, simulation: LotSimulation, run: Run, notes: list[str]) -> Noted:
    """The row with what is seen of the need: at all looks, those before and at bloom among them."""
    bring_in, bloom = run.stays[0].start, simulation.history.stages.get("bloom")
    measured = seen_of(simulation, run)
    if bloom is None:
        return replace(row, need=measured, basis="stages" if measured else None), notes
    heats = _heats(simulation, run, simulation.heat, bring_in, bloom)
    if heats is None:
        return row, [*notes, "a temperature between bring in and bloom is not known"]
    days = _unmeasured(simulation, run, bring_in, bloom)
    if days:
        of = (bloom - bring_in).days
        notes = [*notes, f"{days} of {of} days on the way to bloom were not measured"]
        row = replace(row, unmeasured=days)
    if measured is not None:
        off = heat_ahead_sd(simulation, run, bring_in, bloom) / run.need
        row = replace(row, need=replace(measured, error=math.hypot(measured.error, off)), basis="bloom")
    return replace(row, need_seen=sum(heats) / 2 if heats[1] > 0 else None), notes


def _life_seen(row: LotReview, simulation: LotSimulation, run: Run, notes: list[str]) -> Noted:
    """The row with what is seen of the life on display, without a cap, from the logged bloom to the logged fade."""
    bloom, faded = simulation.history.stages.get("bloom"), simulation.history.faded
    life = simulation.recipe.display_life
    if bloom is None or faded is None or faded <= bloom:
        return row, notes
    heats = _heats(simulation, run, simulation.ageing, bloom, faded)
    if heats is None:
        return row, [*notes, "a temperature between bloom and fade is not known"]
    seen = _between(*heats, heat_ahead_sd(simulation, run, bloom, faded))
    if seen is not None:
        measured = Measured(math.log(seen[0] / life), seen[1])
        row = replace(row, life_predicted=life, life_seen=seen[0], life=measured)
    return row, notes


def _heats(
    simulation: LotSimulation, run: Run, of: Callable[[str], Series], start: date, end: date
) -> tuple[float, float] | None:
    """What is gathered from `start` by the look before that of day `end`, and by `end`; None across a gap."""
    last = max([start, *(day for day in simulation.history.looks if day < end)])
    before, by = (gathered(simulation.climate, run.stays, start, day, of) for day in (last, end))
    return None if before is None or by is None else (before, by)


def _between(before: float, by: float, sd: float) -> tuple[float, float] | None:
    """What was reached between two looks, and its error on the logarithm.

    The middle of the heat between them; the error is even within it, and `sd` besides. None: there was no heat.
    """
    half, reached = (by - before) / 2, (by + before) / 2
    return None if reached <= 0 else (reached, math.hypot(half / math.sqrt(3), sd) / reached)


def _unmeasured(simulation: LotSimulation, run: Run, start: date, end: date) -> int:
    return sum(simulation.climate.assumed(place, Span(a, b)) for place, a, b in pieces(run.stays, start, end))


# ---------------------------------------------------------------- why it was late


def _parts(
    plan: LotPlan, as_planned: LotSimulation, simulation: LotSimulation, run: Run, bring_in: date
) -> dict[str, int] | None:
    """Days late of bloom in parts that sum to it: each in turn is let be as it was, the others still as planned.

    First the day it was brought in, then the need that its real cold left it with, then where it stood and how warm
    that was, and last the need itself. None where bloom is not logged or a temperature is missing.
    """
    bloom = simulation.history.stages.get("bloom")
    days: list[date | None] = [plan.bloom]
    for need in (plan.need, run.need):
        stays = as_planned.stays(bring_in, need)
        days.append(None if stays is None else as_planned.day_reaching(stays, bring_in, need))
    days += [simulation.day_reaching(run.stays, bring_in, run.need), bloom]
    known = [day for day in days if day is not None]
    if len(known) < len(days):
        return None
    steps: list[timedelta] = [later - earlier for earlier, later in pairwise(known)]
    return {name: step.days for name, step in zip(PARTS, steps, strict=True)}


# ---------------------------------------------------------------- what the lots say together


def posteriors(rows: Sequence[LotReview], book: RecipeBook, quantity: Quantity) -> tuple[Posterior, ...]:
    """Each class with data, in the order of its first lot, followed by its cultivars with data."""
    rows = [row for row in rows if measured_of(row, quantity) is not None]
    groups: dict[tuple[str, BloomClass | None], list[LotReview]] = defaultdict(list)
    for row in rows:
        groups[row.recipe.crop, row.lot.bloom_class].append(row)
    pool = pool_of(rows, quantity)
    return tuple(p for group in groups.values() for p in _group(group, book, quantity, pool))


def pool_of(rows: Sequence[LotReview], quantity: Quantity) -> Pool:
    """What all lots say of a quantity together: the season apart from the classes and cultivars."""
    return Pool([_kind(row, quantity) for row in rows], [measured_of(row, quantity) for row in rows])


def _kind(row: LotReview, quantity: Quantity) -> Kind:
    kind = kind_of(row.lot, row.recipe)
    return kind if quantity == "need" else replace(kind, sigma=_sigma(row.recipe, quantity))


def _group(
    group: Sequence[LotReview], book: RecipeBook, quantity: Quantity, pool: Pool
) -> Iterator[Posterior]:
    cultivars: dict[object, list[LotReview]] = defaultdict(list)
    for row in group:
        cultivars[_kind(row, quantity).cultivar].append(row)
    whole, first = _SeenLots(group, quantity, None, book), _kind(group[0], quantity)
    sigma = _sigma(whole.recipe or group[0].recipe, quantity)
    ratios = [m.log_ratio for m in whole.ends]
    effect = pool.of_class(replace(first, sigma=sigma))
    yield whole.posterior(effect, pooled_spread(ratios, sigma) if len(ratios) > 1 else None)
    for rows in cultivars.values():
        if rows[0].lot.cultivar:
            one = _SeenLots(rows, quantity, rows[0].lot.cultivar, book)
            yield one.posterior(pool.of_cultivar(_kind(rows[0], quantity)))


def measured_of(row: LotReview, quantity: Quantity) -> Measured | None:
    """What a lot says of the quantity; None: nothing."""
    return row.need if quantity == "need" else row.life


class _SeenLots:
    """Lots of one class or cultivar that say something of a quantity: what they say, and which to the end."""

    def __init__(
        self, rows: Sequence[LotReview], quantity: Quantity, cultivar: str | None, book: RecipeBook
    ) -> None:
        self.crop, self.kind, self.cultivar = rows[0].recipe.crop, rows[0].lot.bloom_class, cultivar
        self.recipe = _recipe(book, self.crop, self.kind, cultivar)
        found = [(row, m) for row in rows if (m := measured_of(row, quantity)) is not None]
        self.measured = [m for _, m in found]
        self.ends = [m for row, m in found if quantity == "life" or row.basis == "bloom"]

    def posterior(self, effect: Effect, spread: SeenSpread | None = None) -> Posterior:
        count, ratios = len(self.ends), [m.log_ratio for m in self.ends]
        mean = math.exp(math.fsum(ratios) / count) if ratios else None
        return Posterior(
            self.crop, self.kind, self.cultivar, effect, count, len(self.measured) - count, mean, self.recipe, spread
        )  # fmt: skip


def _sigma(recipe: Recipe, quantity: Quantity) -> float:
    """Standard deviation of the logarithm that the recipe gives to the quantity."""
    if quantity == "need":
        return float(lognormal_sigma(recipe.spread))
    return figure_sigma(recipe, "display_days", LIFE_SIGMA)


# ---------------------------------------------------------------- rows for next year


def next_figures(
    season: Season,
    need: Sequence[Posterior],
    life: Sequence[Posterior],
    rows: Sequence[LotReview],
) -> tuple[Override, ...]:
    """Next year's figures: classes before cultivars, need before life; none where nothing was seen."""
    name = season_name(season, rows)
    found = [row for p in need for row in _need_rows(p, name)]
    found += [row for p in life for row in _life_rows(p, name)]
    return tuple(found)


def season_name(season: Season, rows: Sequence[LotReview]) -> str:
    """The season as people call it: 2026/27, or 2027 where it lies in one year."""
    first = min((day for row in rows for day in row.actual.values()), default=season.span.start)
    last = season.span.start.year
    return f"{first.year}/{last % 100:02d}" if first.year < last else str(last)


def _need_rows(p: Posterior, name: str) -> Iterator[Override]:
    if p.recipe is None:
        return
    r, f, source = p.recipe, p.effect.factor, _source(p, name, "bloom")
    yield _row(p, "bench_days", r.bench_days * f, source, r.bench_days * p.effect.low,
               r.bench_days * p.effect.high)  # fmt: skip
    # The factor is on the whole need, whatever the cold: the floor and what cold saves go with it.
    scaled = f"{source}: in step with bench_days"
    yield _row(p, "bench_days_min", r.bench_days_min * f, scaled)
    yield _row(p, "days_saved", min(MOST_SAVED, r.days_saved * f), scaled, digits=2)
    if p.spread is not None:
        yield _row(p, "spread", p.spread.typical, source, p.spread.low, p.spread.high, digits=3)


def _life_rows(p: Posterior, name: str) -> Iterator[Override]:
    if p.recipe is not None:
        days = p.recipe.display_days
        yield _row(p, "display_days", days * p.effect.factor, _source(p, name, "fade"), days * p.effect.low,
                   days * p.effect.high)  # fmt: skip


def _row(
    p: Posterior, parameter: str, typical: float, source: str, low: float | None = None,
    high: float | None = None, digits: int = 1,
) -> Override:  # fmt: skip
    least = 0.0 if parameter == "days_saved" else 10.0**-digits  # a recipe cannot have 0 days
    values = [None if v is None else max(least, round(v, digits)) for v in (typical, low, high)]
    assert values[0] is not None
    return Override(p.crop, parameter, values[0], p.bloom_class, p.cultivar, values[1], values[2], source)


def _source(p: Posterior, name: str, end: str) -> str:
    """Like 'house, season 2026/27, 3 lots'."""
    parts = [f"house, season {name}", f"{some(p.lots, 'lot')} seen to {end}"]
    if p.stages:
        parts.append(f"{p.stages} by {'its' if p.stages == 1 else 'their'} stages")
    return ", ".join(parts if p.lots else [parts[0], *parts[2:]])


def next_table(season: Season, figures: Sequence[Override]) -> tuple[Override, ...]:
    """The whole `crops` table of next year: this season's own rows, but for those that `figures` replace."""
    replaced = {_reach(row) for row in figures}
    return (*(row for row in season.overrides if _reach(row) not in replaced), *figures)


def _reach(row: Override) -> tuple[object, ...]:
    return fold(row.crop), row.bloom_class, fold(row.cultivar or ""), row.parameter
