"""A cooler, cold-weeks and a bench for every lot that leaves some of them open, within room and hours.

What the season states is kept; lots that have begun stay where they are. Rooms without temperatures get a
programme, and lots are dated in the temperatures that they will really get. Where nothing is left open, or the
ideal fits, no search is made.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field, replace
from datetime import date

from forcing.dates import Span
from forcing.engine.allocation import audit
from forcing.engine.allocation.dates import Almanac
from forcing.engine.allocation.greedy import earliest_first
from forcing.engine.allocation.options import Candidate, Maker, cold_choices, places_of
from forcing.engine.allocation.problem import Answer, Pick, Problem
from forcing.engine.allocation.repairs import findings_of
from forcing.engine.allocation.search import search
from forcing.engine.allocation.solver import Limits
from forcing.engine.climate import build_climate
from forcing.engine.history import NOTHING, History
from forcing.engine.linear import Hush
from forcing.engine.rooms import programmes
from forcing.engine.settle import Places, Settled, planned_in, settle
from forcing.engine.tasks import all_tasks, week_hours_findings
from forcing.errors import Finding
from forcing.model import Lot, LotPlan, Minutes, Recipe, RoomSetting, Season, Unplanned

Progress = Callable[[str], None]
TURNS = 3  # rooms are set by the lots of the turn before; the last turn keeps them and searches in earnest

MANY, MANY_GAP = 400, 0.03  # with more lots a wider gap is enough


@dataclass(frozen=True, slots=True)
class Allocation:
    """Lots as they are to be grown, where, and the plans that follow. `findings`: what did not fit, and why."""

    lots: tuple[Lot, ...]  # with the cold-weeks chosen
    placed: Mapping[str, Places]
    settled: Settled
    unplanned: tuple[Unplanned, ...]
    findings: tuple[Finding, ...] = ()
    gap: float | None = None  # share by which it may be dearer than the best; None: nothing was to choose


@dataclass(frozen=True, slots=True)
class Request:
    """What an allocation starts from."""

    season: Season
    recipes: Mapping[str, Recipe]
    lived: Mapping[str, History]
    minutes: Mapping[str, Minutes]
    on: date
    progress: Progress = lambda text: None
    hush: Hush = nullcontext
    limits: Limits = field(default_factory=Limits)

    def open_lots(self) -> list[Lot]:
        """Lots with a recipe and somewhere to go, in order of name: the order of rows decides nothing."""
        found = [lot for lot in self.season.lots if lot.name in self.recipes and self.homeless(lot) is None]
        return sorted(found, key=lambda lot: lot.name)

    def homeless(self, lot: Lot) -> str | None:
        """Why a lot has nowhere to go; None if it has."""
        fault = _fault(self.season, lot)
        if fault is None and not all(places_of(self.season, lot, self.recipes[lot.name])):
            return _nowhere(self.season, self.recipes[lot.name])
        return fault


def allocate(request: Request) -> Allocation:
    """Places and cold-weeks of every lot, with the plans, re-counted before they are given back."""
    season, lots = request.season, request.open_lots()
    homeless = tuple(
        Unplanned(lot, reason, None)
        for lot in season.lots
        if lot.name in request.recipes and (reason := request.homeless(lot)) is not None
    )
    options = {lot.name: places_of(season, lot, request.recipes[lot.name]) for lot in lots}
    single = all(len(coolers) * len(benches) == 1 for coolers, benches in options.values())
    if single:
        placed = {name: (coolers[0], benches[0]) for name, (coolers, benches) in options.items()}
        settled = settle(season, season.lots, request.recipes, placed, request.lived, request.progress)
        made = Allocation(season.lots, placed, settled, (*homeless, *settled.refused))
        if _fits(request, settled) or not any(_open(request, lot) for lot in lots):
            return _told(request, made)
        # Other cold-weeks or an earlier potting may make it fit; where they do not, the plan stays as usual.
        other = _searched(request, lots, homeless)
        sound = not other.findings and len(other.settled.lots) >= len(settled.lots)
        return other if sound and _fits(request, other.settled) else _told(request, made)
    return _searched(request, lots, homeless)


def _open(request: Request, lot: Lot) -> bool:
    """Whether anything about the lot is left to choose."""
    history, recipe = request.lived.get(lot.name, NOTHING), request.recipes[lot.name]
    if history.started:
        return False
    named = lot.bench is not None and (lot.cooler is not None or not recipe.needs_cold)
    return not named or len(cold_choices(lot, recipe)) > 1


def _fits(request: Request, settled: Settled) -> bool:
    """Whether plans keep within room and hours."""
    season = request.season
    tasks = all_tasks(season, settled.lots, settled.programme, request.minutes, request.on)
    return not audit.overfull(season, settled.lots) and not list(week_hours_findings(season, tasks))


# ---------------------------------------------------------------- searching


def _searched(request: Request, lots: Sequence[Lot], homeless: tuple[Unplanned, ...]) -> Allocation:
    season, progress = request.season, request.progress
    programme = programmes(season, ())
    for turn in range(TURNS if programme else 1):
        progress(f"finding places for {len(lots)} lots" + (f", round {turn + 1}" if programme else ""))
        last = not programme or turn == TURNS - 1
        problem = problem_in(request, lots, programme, rooms_set=turn > 0)
        if not last:
            # Lots not placed yet have a say in the rooms too, or these would be stepped down without them.
            picks = zip(problem.candidates, earliest_first(problem), strict=True)
            chosen = _chosen(request, problem, tuple(pick or _usual(c) for c, pick in picks))
            programme = programmes(season, _planned(request, problem, chosen, programme).lots)
    limits = request.limits
    if len(lots) > MANY:
        limits = replace(limits, gap=max(limits.gap, MANY_GAP))
    found = search(problem, limits, progress, request.hush)
    chosen = _chosen(request, problem, found.answer)
    settled = _planned(request, problem, chosen, programme)
    if programme:
        settled = _settled_rooms(request, problem, chosen, settled)
    known = (
        f"within {found.gap * 100:.1f} % of the best there can be" if found.gap < 1 else "no bound is known"
    )
    progress(f"places chosen: {known}")
    left = [c for c, pick in zip(problem.candidates, found.answer, strict=True) if pick is None]
    refused = tuple(replace(c.refused, lot=_stated(season, c.lot)) for c in left if c.refused is not None)
    placed, cold, _ = chosen
    made = Allocation(_with_cold(season, cold), placed, settled, (*homeless, *settled.refused, *refused),
                      gap=found.gap)  # fmt: skip
    return _told(request, made, problem, found.answer)


def problem_in(
    request: Request, lots: Sequence[Lot], programme: Sequence[RoomSetting], rooms_set: bool
) -> Problem:
    """The numbers of the allocation in rooms of a programme; `rooms_set`: its step-downs bind the lots."""
    season = request.season
    almanac = Almanac(season, build_climate(season, programme))
    maker = Maker(season, almanac, tuple(programme) if rooms_set else (), request.lived)
    candidates = []
    for lot in lots:
        recipe = request.recipes[lot.name]
        candidates.append(maker.candidate(lot, recipe, *places_of(season, lot, recipe)))
    return Problem(season, almanac, tuple(candidates), request.minutes, season.hours_per_week)


Chosen = tuple[
    dict[str, Places], dict[str, float], dict[str, date]
]  # places, cold-weeks, potting pulled ahead


def _chosen(request: Request, problem: Problem, answer: Answer) -> Chosen:
    """Places of the lots that have one, cold-weeks that differ from the usual, potting that is pulled ahead."""
    placed: dict[str, Places] = {}
    cold: dict[str, float] = {}
    early: dict[str, date] = {}
    for at, (candidate, pick) in enumerate(zip(problem.candidates, answer, strict=True)):
        if pick is None:
            continue
        option, name = candidate.options[pick.option], candidate.lot.name
        placed[name] = (option.cooler, option.bench)
        recipe = request.recipes[name]
        usual = recipe.cold_target if candidate.lot.cold_weeks is None else candidate.lot.cold_weeks
        if recipe.needs_cold and abs(option.dates.wanted - usual) > 1e-9:
            cold[name] = option.dates.wanted
        day = problem.potting_day(at, pick)
        if pick.pulled and day is not None:
            early[name] = problem.almanac.climate.day(day)
    return placed, cold, early


def _with_cold(season: Season, cold: Mapping[str, float]) -> tuple[Lot, ...]:
    return tuple(replace(lot, cold_weeks=cold[lot.name]) if lot.name in cold else lot for lot in season.lots)


def _stated(season: Season, lot: Lot) -> Lot:
    return next(stated for stated in season.lots if stated.name == lot.name)


def _planned(
    request: Request, problem: Problem, chosen: Chosen, programme: tuple[RoomSetting, ...]
) -> Settled:
    placed, cold, early = chosen
    lots = _with_cold(request.season, cold)
    settled = planned_in(request.season, lots, request.recipes, placed, request.lived, programme)
    return replace(settled, lots=tuple(potted_on(plan, early.get(plan.lot.name)) for plan in settled.lots))


def _settled_rooms(request: Request, problem: Problem, chosen: Chosen, kept: Settled) -> Settled:
    """The same lots in rooms stepped down as soon as they allow, where that comes to rest and still fits."""
    placed, cold, early = chosen
    season = request.season
    lots = _with_cold(season, cold)
    tried = settle(season, lots, request.recipes, placed, request.lived, request.progress, kept.programme)
    tried = replace(tried, lots=tuple(potted_on(plan, early.get(plan.lot.name)) for plan in tried.lots))
    sound = tried.agreed and not audit.broken(season, tried.lots) and len(tried.lots) >= len(kept.lots)
    if not sound or (audit.overfull(season, tried.lots) and not audit.overfull(season, kept.lots)):
        return kept
    hours = [len(list(week_hours_findings(season, all_tasks(season, s.lots, s.programme, request.minutes, request.on))))
             for s in (tried, kept)]  # fmt: skip
    return tried if hours[0] <= hours[1] else kept


def potted_on(plan: LotPlan, day: date | None) -> LotPlan:
    """The plan with its potting on an earlier day; the pots wait at the potting bench. None: as it is."""
    if day is None or day >= plan.potting:
        return plan
    first = replace(plan.steps[0], span=Span(day, plan.steps[0].span.end))
    return replace(plan, potting=day, steps=(first, *plan.steps[1:]))


# ---------------------------------------------------------------- telling


def _told(
    request: Request, made: Allocation, problem: Problem | None = None, answer: Answer | None = None
) -> Allocation:
    """The allocation with its findings: what is overfull or left out, who contends, what would mend it."""
    season = request.season
    over = audit.overfull(season, made.settled.lots)
    left = answer is not None and any(
        pick is None and candidate.options
        for pick, candidate in zip(answer, problem.candidates if problem else (), strict=True)
    )
    if not over and not left:
        return made
    if problem is None or answer is None:
        problem = problem_in(request, request.open_lots(), made.settled.programme, rooms_set=False)
        answer = tuple(_usual(candidate) for candidate in problem.candidates)
    findings, unplanned = findings_of(problem, answer, request.recipes, request.lived)
    return replace(made, findings=findings, unplanned=(*made.unplanned, *unplanned))


def _usual(candidate: Candidate) -> Pick | None:
    """The pick that plans the lot as usual: on its ideal cold."""
    near = min(range(len(candidate.options)), key=lambda n: (candidate.options[n].distance, n), default=None)
    return None if near is None else Pick(near)


# ---------------------------------------------------------------- nowhere to go


def _fault(season: Season, lot: Lot) -> str | None:
    """What the lot names that is not there; None if all of it is."""
    names = {place.name for place in season.places}
    sites = {display.name: display.site for display in season.displays}
    if lot.display and lot.display not in sites:
        return f"there is no display {lot.display}"
    named = [lot.cooler, lot.bench, lot.harden_at, sites.get(lot.display or "")]
    strange = [place for place in named if place and place not in names]
    return f"there is no place {', '.join(strange)}" if strange else None


def _nowhere(season: Season, recipe: Recipe) -> str:
    kinds = {place.kind for place in season.places}
    missing = [
        kind for kind in ("cooler", "bench") if kind not in kinds and (recipe.needs_cold or kind == "bench")
    ]
    return f"it names no {' and no '.join(missing)}, and the table places has none"
