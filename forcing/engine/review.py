"""Looking back: what was planned beside what the log and the readings say, lot by lot, and what made the difference."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise

from forcing.crops.loader import RecipeBook
from forcing.dates import DAY, Span
from forcing.engine.climate import horizon
from forcing.engine.evidence import evidence, heat_ahead_sd
from forcing.engine.history import NOTHING, History, Stay, histories
from forcing.engine.linear import Hush
from forcing.engine.parts import as_logged
from forcing.engine.plan import Worked, work_out
from forcing.engine.reviewing.figures import Posterior, next_figures, next_table, posteriors
from forcing.engine.reviewing.lot import EVENTS, PARTS, LotReview
from forcing.engine.timeline import Run, Traveller, traveller_of
from forcing.errors import Finding, RecipeError
from forcing.model import LotPlan, Minutes, Override, Recipe, Season
from forcing.science.flowering import display_life
from forcing.science.pooling import Measured

__all__ = ["EVENTS", "PARTS", "LotReview", "Review", "last_day", "review", "review_season"]
Progress = Callable[[str], None]


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


def last_day(season: Season) -> date:
    """The last day that the log or a measured reading tells of; where there is none, the day the show has closed."""
    days = [entry.date for entry in season.log]
    days += [r.date for r in season.readings if r.kind == "measured"]
    return max(days, default=season.span.end)


def review_season(
    season: Season,
    book: RecipeBook,
    minutes: Mapping[str, Minutes],
    on: date | None = None,
    findings: Sequence[Finding] = (),
    progress: Progress = lambda text: None,
    hush: Hush = nullcontext,
) -> Review:
    """The season as it would have been planned without log and readings, beside what really came.

    `on`: what was logged and read after that day is left out; None means all of it counts. The other arguments are
    as for `work_out`.
    """
    on = last_day(season) if on is None else on
    season, part_findings = as_logged(season, on)
    findings = (*findings, *part_findings)
    blank = replace(season, log=(), readings=())
    progress("planning the season as it was before it began")
    planned = work_out(blank, book, minutes, horizon(season).start, (), progress, hush)
    known = replace(season, readings=tuple(r for r in season.readings if r.date <= on))
    progress("working out the season as it was")
    actual = work_out(known, book, minutes, on, findings, progress, hush)
    return review(planned, actual, book, on)


def review(planned: Worked, actual: Worked, book: RecipeBook, on: date) -> Review:
    """The review of a season from its plan without a log, and its plan with all that is known on day `on`."""
    season = actual.plan.season
    lived, _ = histories(season, on)
    before = {plan.lot.name: plan for plan in planned.plan.lots}
    walked = {t.lot.name: t for t in planned.travellers}
    rows = []
    for lot in season.lots:
        try:
            recipe = book.recipe(lot.crop, lot.bloom_class, lot.cultivar)
        except RecipeError:
            continue  # a crop nobody has a recipe for: its own finding says so
        history = lived.get(lot.name, NOTHING)
        plan = before.get(lot.name)
        row = _dates(season, LotReview(lot, recipe), plan, history)
        traveller = _traveller(actual, lot.name, recipe, history)
        if traveller is not None and history.brought_in is not None:
            row = _grown(row, traveller, plan, walked.get(lot.name), history.brought_in)
        rows.append(row)
    need = posteriors(rows, book, "need")
    life = posteriors(rows, book, "life")
    figures = next_figures(season, book, need, life, rows)
    return Review(
        season, on, tuple(rows), need, life, figures, next_table(season, figures), actual.plan.findings
    )


def _traveller(actual: Worked, name: str, recipe: Recipe, history: History) -> Traveller | None:
    """The lot with its log; one that is no longer planned (all pots lost) is put where the log says it stood."""
    known = {t.lot.name: t for t in actual.travellers}
    if name in known:
        return known[name]
    season = actual.plan.season
    lot = next(lot for lot in season.lots if lot.name == name)
    cooler = history.coolers[0].place if history.coolers else lot.cooler
    bench = next((m.place for m in history.moves if m.step == "bench"), lot.bench)
    if not history.started or bench is None:
        return None
    try:
        return traveller_of(season, actual.climate, lot, recipe, cooler, bench, history)
    except KeyError:
        return None  # a display that the season does not have: its own finding says so


# ---------------------------------------------------------------- dates and pots


def _dates(season: Season, row: LotReview, plan: LotPlan | None, history: History) -> LotReview:
    actual: dict[str, date | None] = {
        "potted": history.potted,
        "cooler in": history.cooler_in,
        "rooted": history.rooted,
        "brought in": history.brought_in,
        **history.stages,
        "set out": next((m.start for m in history.moves if m.step == "harden"), None),
        "faded": history.faded,
    }
    name = row.lot.name
    mine = [e for e in season.log if e.lot == name]
    counted = [e.pots for e in mine if e.event == "potted" and e.date == history.potted]
    row = replace(
        row,
        actual={event: day for event in EVENTS if (day := actual.get(event)) is not None},
        potted=counted[0] if counted else None,
        lost=history.lost if history.lost or any(e.event == "lost" and e.pots == 0 for e in mine) else None,
        started=history.started,
    )
    if plan is None:
        return replace(row, notes=("it could not be planned",))
    dates: dict[str, date | None] = {
        "potted": plan.potting,
        "cooler in": plan.cooler_in,
        "rooted": plan.rooted,
        "brought in": plan.bring_in,
        **plan.stages,
        "set out": plan.install,
        "faded": plan.fade,
    }
    return replace(
        row,
        lot=replace(row.lot, pots=plan.lot.pots),  # a lot that took its pots from its display has them now
        target=plan.target,
        planned={event: day for event in EVENTS if (day := dates.get(event)) is not None},
        cold_planned=plan.cold_weeks if row.recipe.needs_cold else None,
        need_planned=plan.need,
    )


# ---------------------------------------------------------------- cold and heat


def _grown(
    row: LotReview, traveller: Traveller, plan: LotPlan | None, walked: Traveller | None, bring_in: date
) -> LotReview:
    """The row with cold, heat, life and the parts of its lateness; `bring_in` is logged."""
    history, notes = traveller.history, list(row.notes)
    cooler_in = history.cooler_in
    if cooler_in is None and row.recipe.needs_cold:
        cooler_in = plan.cooler_in if plan is not None else None
        if cooler_in is None or cooler_in >= bring_in or traveller.route.cooler is None:
            note = "cooler in is not logged, so its cold and the need after it are not known"
            return replace(row, notes=(*notes, note))
        notes.append("cooler in is not logged: the planned day is taken for the need")
    cold = traveller.cold_weeks(cooler_in or bring_in, bring_in)
    if cold is None:
        return replace(row, notes=(*notes, "the temperature of its cooler is not known on some days"))
    need = traveller.need(cold)
    stays = traveller.stays(bring_in, need) or history.moves
    logged_cold = history.cooler_in is not None and row.recipe.needs_cold
    row = replace(row, cold_credited=cold if logged_cold else None, need_predicted=need)
    run = Run(cold, need, stays, dict(history.stages), bring_in)
    row = _observed(row, traveller, run, _need_seen(traveller, run, notes))
    life = _life_seen(traveller, run, notes)
    if life is not None:
        r = row.recipe
        foretold = float(display_life(r.display_days, r.display_reference, r.base))
        measured = Measured(math.log(life[0] / foretold), life[1])
        row = replace(row, life_predicted=foretold, life_seen=life[0], life=measured)
    parts = None if plan is None or walked is None else _parts(plan, walked, traveller, run, bring_in)
    return replace(row, parts=parts or {}, notes=tuple(notes))


def _observed(row: LotReview, traveller: Traveller, run: Run, seen: tuple[float, float] | None) -> LotReview:
    """The row with what is seen of the need: from bloom, or else from the stages on the way there."""
    if seen is not None:
        heat, error = seen
        measured = Measured(math.log(heat / run.need), error)
        return replace(row, need_seen=heat, need=measured, basis="bloom")
    stages = evidence(traveller, run)
    if not stages or "bloom" in traveller.history.stages:
        return row
    precision = math.fsum(1 / s.error**2 for s in stages)
    mean = math.fsum(math.log(s.need / run.need) / s.error**2 for s in stages) / precision
    return replace(row, need=Measured(mean, math.sqrt(1 / precision)), basis="stages")


def _need_seen(traveller: Traveller, run: Run, notes: list[str]) -> tuple[float, float] | None:
    """Heat [°C·d] from bring in to the logged bloom, and its error on the logarithm."""
    bloom, bring_in = traveller.history.stages.get("bloom"), run.stays[0].start
    if bloom is None:
        return None
    heat = traveller.heat_between(run.stays, bring_in, bloom)
    before = traveller.heat_between(run.stays, bring_in, bloom - DAY)
    if heat is None or before is None:
        notes.append("a temperature between bring in and bloom is not known")
        return None
    days = _unmeasured(traveller, run.stays, bring_in, bloom)
    if days:
        notes.append(f"{days} of {(bloom - bring_in).days} days on the way to bloom were not measured")
    return _between(heat, before, heat_ahead_sd(traveller, run, bring_in, bloom))


def _life_seen(traveller: Traveller, run: Run, notes: list[str]) -> tuple[float, float] | None:
    """Heat [°C·d] without a cap from the logged bloom to the logged fade, and its error on the logarithm."""
    bloom, faded = traveller.history.stages.get("bloom"), traveller.history.faded
    if bloom is None or faded is None or faded <= bloom:
        return None
    heat, before = (_uncapped(traveller, run.stays, bloom, day) for day in (faded, faded - DAY))
    if heat is None or before is None:
        notes.append("a temperature between bloom and fade is not known")
        return None
    return _between(heat, before, heat_ahead_sd(traveller, run, bloom, faded))


def _between(heat: float, before: float, sd: float) -> tuple[float, float] | None:
    """What was reached in the course of a day: the middle of the day's heat, even within it, and `sd` besides."""
    half = (heat - before) / 2
    reached = heat - half
    return None if reached <= 0 else (reached, math.hypot(half / math.sqrt(3), sd) / reached)


def _uncapped(traveller: Traveller, stays: Sequence[Stay], start: date, end: date) -> float | None:
    climate, heat = traveller.climate, 0.0
    for place, begin, stop in traveller.pieces(stays, start, end):
        part = climate.heat(place, traveller.recipe.base, None).total(
            climate.index(begin), climate.index(stop)
        )
        if part is None:
            return None
        heat += part
    return heat


def _unmeasured(traveller: Traveller, stays: Sequence[Stay], start: date, end: date) -> int:
    pieces = traveller.pieces(stays, start, end)
    return sum(traveller.climate.assumed(place, Span(a, b)) for place, a, b in pieces)


# ---------------------------------------------------------------- why it was late


def _parts(
    plan: LotPlan, walked: Traveller, traveller: Traveller, run: Run, bring_in: date
) -> dict[str, int] | None:
    """Days late of bloom in parts that sum to it: each in turn is let be as it was, the others still as planned.

    First the day it was brought in, then the need that its real cold left it with, then where it stood and how warm
    that was, and last the need itself. None where bloom is not logged or a temperature is missing.
    """
    bloom = traveller.history.stages.get("bloom")
    days: list[date | None] = [plan.bloom]
    for need in (plan.need, run.need):
        stays = walked.stays(bring_in, need)
        days.append(None if stays is None else walked.day_reaching(stays, bring_in, need))
    days += [traveller.day_reaching(run.stays, bring_in, run.need), bloom]
    known = [day for day in days if day is not None]
    if len(known) < len(days):
        return None
    steps: list[timedelta] = [later - earlier for earlier, later in pairwise(known)]
    return {name: step.days for name, step in zip(PARTS, steps, strict=True)}
