"""A cooler, cold-weeks and a bench for every lot that leaves some of them open, within room and hours.

What the season states is kept; lots that have begun stay where they are. Rooms without temperatures get a
programme, and lots are dated in the temperatures that they will really get. Where nothing is left open, or the
ideal fits, no search is made.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from forcing.engine.allocation import audit
from forcing.engine.allocation.kept_cold import COLD_FOR_HOURS, search_keeping_cold
from forcing.engine.allocation.milp import Limits
from forcing.engine.allocation.options import (
    MOVED,
    TOO_WARM,
    UNROOTED,
    Candidate,
    ClimateSums,
    OptionBuilder,
    cold_choices,
    exact,
    places_of,
)
from forcing.engine.allocation.problem import Answer, Pick, Problem, Usage
from forcing.engine.allocation.repairs import findings_of
from forcing.engine.allocation.search import earliest_first
from forcing.engine.climate import Climate, build_climate
from forcing.engine.context import Context
from forcing.engine.coolers import (
    Places,
    Settled,
    grows_in_the_dark,
    held_back,
    in_cooler,
    planned_in,
    pot_area,
    programmes,
    room_elsewhere,
    rooms_apart,
    settle,
    steps_down_before_rooted,
    waits_with_shoots,
)
from forcing.engine.loads import place_loads
from forcing.engine.log import NOTHING, History
from forcing.engine.parts import divided
from forcing.engine.work.hours import hours_by_week, hours_short, potted_on
from forcing.engine.work.house_work import as_tasks, daily_rounds
from forcing.engine.work.tasks import all_tasks
from forcing.errors import Finding
from forcing.model import Lot, LotPlan, Occupancy, Recipe, RoomSetting, Season, Task, Unplanned

TURNS = 3  # rooms are set by the lots of the turn before; the last turn keeps them and searches in earnest

MANY, MANY_GAP = 400, 0.03  # with more lots a wider gap is enough


@dataclass(frozen=True, slots=True)
class Allocation:
    """Lots as they are to be grown, where, and the plans that follow. `findings`: what did not fit, and why."""

    season: Season  # with the cold-weeks chosen, and the parts of lots that are split
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
    histories: Mapping[str, History]
    context: Context
    limits: Limits = field(default_factory=Limits)
    occupancy: Sequence[Occupancy] = ()  # what stands there beside the lots
    tasks: Sequence[Task] = ()  # work that there is beside that of the lots
    in_two: Collection[str] = ()  # lots that may be moved to a colder cooler once rooted
    kept_cold: Collection[str] = ()  # coolers that open lots come to rooted only

    def short_weeks(self, season: Season, settled: Settled) -> dict[date, float]:
        """The weeks, by their Monday, in which all the work takes more hours than there are, and by how many."""
        tasks = all_tasks(season, settled.lots, settled.programme, self.context)
        rounds = as_tasks(daily_rounds(season, place_loads(season, settled.lots, self.occupancy)))
        return hours_short(season, hours_by_week((*tasks, *self.tasks, *rounds)))

    def open_lots(self) -> list[Lot]:
        """Lots with a recipe and somewhere to go, in order of name: the order of rows decides nothing."""
        found = [lot for lot in self.season.lots if lot.name in self.recipes and self.homeless(lot) is None]
        return sorted(found, key=lambda lot: lot.name)

    def places(self, lot: Lot) -> tuple[list[str | None], list[str]]:
        """Coolers and benches that the lot may go to, or stands on by its log."""
        coolers, benches = places_of(
            self.season, lot, self.recipes[lot.name], self.histories.get(lot.name, NOTHING)
        )
        return [name for name in coolers if name not in self.kept_cold or len(coolers) == 1], benches

    def homeless(self, lot: Lot) -> str | None:
        """Why a lot has nowhere to go; None if it has."""
        fault = _fault(self.season, lot)
        if fault is None and not all(self.places(lot)):
            return _nowhere(self.season, self.recipes[lot.name])
        return fault


def allocate(request: Request) -> Allocation:
    """Places and cold-weeks of every lot, with the plans, re-counted before they are given back."""
    lots = request.open_lots()
    homeless = tuple(
        Unplanned(lot, reason, None)
        for lot in request.season.lots
        if lot.name in request.recipes and (reason := request.homeless(lot)) is not None
    )
    return _through_two(request, _each_in_one(request, lots, homeless), lots, homeless)


def _each_in_one(request: Request, lots: Sequence[Lot], homeless: tuple[Unplanned, ...]) -> Allocation:
    """The allocation in which no lot is moved from one cooler to another, but for those that state it."""
    season = request.season
    options = {lot.name: request.places(lot) for lot in lots}
    single = all(len(coolers) * len(benches) == 1 for coolers, benches in options.values())
    if single:
        placed = {name: (coolers[0], benches[0]) for name, (coolers, benches) in options.items()}
        settled = settle(
            season, season.lots, request.recipes, placed, request.histories, request.context.progress
        )
        made = Allocation(season, placed, settled, (*homeless, *settled.refused))
        if _fits(request, settled) or not any(_open(request, lot) for lot in lots):
            return _told(request, made)
        # Other cold-weeks or an earlier potting may make it fit; where they do not, the plan stays as usual.
        other = _searched(request, lots, homeless)
        price = tuple(f for f in other.findings if f.code == COLD_FOR_HOURS)
        sound = other.findings == price and len(other.settled.lots) >= len(settled.lots)
        if sound and _fits(request, other.settled):
            return other
        told = _told(request, made)
        return replace(told, findings=(*told.findings, *price))
    return _searched(request, lots, homeless)


def _open(request: Request, lot: Lot) -> bool:
    """Whether anything about the lot is left to choose."""
    history, recipe = request.histories.get(lot.name, NOTHING), request.recipes[lot.name]
    coolers, benches = request.places(lot)
    choices = 1 if history.fixed else len(cold_choices(lot, recipe))
    return len(coolers) * len(benches) * choices > 1


def _fits(request: Request, settled: Settled) -> bool:
    """Whether plans keep within room and hours."""
    season = request.season
    return not audit.overfull(season, settled.lots, request.occupancy) and not request.short_weeks(
        season, settled
    )


# ---------------------------------------------------------------- searching


def _searched(request: Request, lots: Sequence[Lot], homeless: tuple[Unplanned, ...]) -> Allocation:
    season, progress = request.season, request.context.progress
    programme = programmes(season, ())
    for turn in range(TURNS if programme else 1):
        progress(f"finding places for {len(lots)} lots" + (f", round {turn + 1}" if programme else ""))
        last = not programme or turn == TURNS - 1
        # Rooms that were agreed bind from the first turn on.
        problem = problem_in(request, lots, programme, rooms_set=turn > 0 or bool(season.agreed))
        if not last:
            # Lots not placed yet have a say in the rooms too, or these would be stepped down without them.
            picks = zip(problem.candidates, earliest_first(problem), strict=True)
            chosen = _chosen(request, problem, tuple(pick or _usual(c) for c, pick in picks))
            programme = programmes(season, _planned(request, chosen, programme).lots)
    return _answered(request, problem, programme, homeless)


def _answered(
    request: Request, problem: Problem, programme: tuple[RoomSetting, ...], homeless: tuple[Unplanned, ...]
) -> Allocation:
    """The allocation that the search finds in rooms of a programme, with the rooms settled by it."""
    season, lots, progress, limits = (
        request.season,
        problem.candidates,
        request.context.progress,
        request.limits,
    )
    if len(lots) > MANY:
        limits = replace(limits, gap=max(limits.gap, MANY_GAP))
    found, price = search_keeping_cold(problem, request.recipes, limits, progress)
    chosen = _chosen(request, problem, found.answer)
    settled = _planned(request, chosen, programme)
    if programme:
        settled = _settled_rooms(request, chosen, settled)
        chosen, settled = _kept_apart(request, chosen, settled)
    known = (
        f"within {found.gap * 100:.1f} % of the best there can be" if found.gap < 1 else "no bound is known"
    )
    progress(f"places chosen: {known}")
    left = [c for c, pick in zip(problem.candidates, found.answer, strict=True) if pick is None]
    refused = tuple(replace(c.refused, lot=_stated(season, c.lot)) for c in left if c.refused is not None)
    made = Allocation(
        chosen.season, chosen.placed, settled, (*homeless, *settled.refused, *refused), gap=found.gap
    )
    told = _told(request, made, problem, found.answer)
    return replace(told, findings=(*told.findings, *price))


def problem_in(
    request: Request, lots: Sequence[Lot], programme: Sequence[RoomSetting], rooms_set: bool
) -> Problem:
    """The numbers of the allocation in rooms of a programme; `rooms_set`: its step-downs bind the lots."""
    season = request.season
    climate_sums = ClimateSums(season, build_climate(season, programme))
    rooms = tuple(programme) if rooms_set else ()
    maker = OptionBuilder(season, climate_sums, rooms, request.histories, request.in_two)
    candidates = []
    for lot in lots:
        recipe = request.recipes[lot.name]
        candidates.append(maker.candidate(lot, recipe, *request.places(lot)))
    return Problem(
        season, climate_sums, tuple(candidates), request.context.minutes, season.hours_per_week, request.occupancy, request.tasks  # noqa: E501
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Chosen:
    """What an answer means for the season: lots with their cold-weeks and in parts, places, potting ahead."""

    season: Season
    placed: Mapping[str, Places]
    early: Mapping[str, date]  # potting that is pulled ahead


def _chosen(request: Request, problem: Problem, answer: Answer) -> Chosen:
    """The lots that have a place, with what differs from the usual."""
    placed: dict[str, Places] = {}
    cold: dict[str, float] = {}
    early: dict[str, date] = {}
    after: dict[str, str] = {}
    parts: dict[str, tuple[int, int]] = {}
    for at, (candidate, pick) in enumerate(zip(problem.candidates, answer, strict=True)):
        if pick is None:
            continue
        lot, recipe = candidate.lot, request.recipes[candidate.lot.name]
        names: tuple[str, ...] = (lot.name,)
        if pick.second is not None:
            names, parts[lot.name] = lot.part_names, (lot.pots - pick.second.pots, pick.second.pots)
        usual = recipe.cold_target if lot.cold_weeks is None else lot.cold_weeks
        for name, number in zip(names, pick.options, strict=True):
            option = candidate.options[number]
            placed[name] = (option.cooler, option.bench)
            if option.after_rooting is not None and lot.name in request.in_two:
                after[name] = option.after_rooting
            if recipe.needs_cold and abs(option.dates.wanted - usual) > 1e-9:
                cold[name] = option.dates.wanted
        day = problem.potting_day(at, pick)
        if pick.pulled and day is not None:
            early[lot.name] = problem.climate_sums.climate.day(day)
    season = divided(request.season, parts)
    lots = tuple(replace(lot, cold_weeks=cold[lot.name]) if lot.name in cold else lot for lot in season.lots)
    lots = tuple(replace(x, cooler_after_rooting=after[x.name]) if x.name in after else x for x in lots)
    return Chosen(replace(season, lots=lots), placed, early)


def _stated(season: Season, lot: Lot) -> Lot:
    return next(stated for stated in season.lots if stated.name == lot.name)


def _planned(request: Request, chosen: Chosen, programme: tuple[RoomSetting, ...]) -> Settled:
    season = chosen.season
    settled = planned_in(season, season.lots, request.recipes, chosen.placed, request.histories, programme)
    return _potted(settled, chosen)


def _potted(settled: Settled, chosen: Chosen) -> Settled:
    early = chosen.early
    ahead = (min(plan.potting, early.get(plan.lot.name, plan.potting)) for plan in settled.lots)
    return replace(settled, lots=tuple(map(potted_on, settled.lots, ahead)))


def _settled_rooms(request: Request, chosen: Chosen, kept: Settled) -> Settled:
    """The same lots in rooms stepped down as soon as they allow, where that comes to rest and still fits."""
    season, occupancy = chosen.season, request.occupancy
    tried = _potted(
        settle(season, season.lots, request.recipes, chosen.placed, request.histories, request.context.progress, kept.programme),  # noqa: E501
        chosen,
    )  # fmt: skip
    fixed = [name for name, history in request.histories.items() if history.fixed]
    sound = tried.agreed and not audit.broken(season, tried.lots, fixed) and len(tried.lots) >= len(kept.lots)
    full = [bool(audit.overfull(season, s.lots, occupancy)) for s in (tried, kept)]
    if not sound or (full[0] and not full[1]):
        return kept
    hours = [len(request.short_weeks(season, s)) for s in (tried, kept)]
    return tried if hours[0] <= hours[1] else kept


def _kept_apart(request: Request, chosen: Chosen, settled: Settled) -> tuple[Chosen, Settled]:
    """The same with lots that keep a room from its step-down in another that has room for them, where that is sound."""
    season = chosen.season
    if season.agreed:
        return chosen, settled

    def waiting(plans: Settled, *names: str) -> int:
        rooms = [place for place in season.places if place.name in names]
        found = [held_back(season, r, in_cooler(plans.lots, r.name), plans.programme) for r in rooms]
        return sum(len(held.waiting) for held in found if held is not None)

    for place in season.places:
        held = held_back(season, place, in_cooler(settled.lots, place.name), settled.programme)
        other = room_elsewhere(season, settled.lots, held) if held is not None and held.waiting else None
        if held is None or other is None or not all(other in request.places(p.lot)[0] for p in held.holders):
            continue
        there = {p.lot.name: (other, chosen.placed[p.lot.name][1]) for p in held.holders}
        moved = replace(chosen, placed={**chosen.placed, **there})
        then = _settled_rooms(request, moved, settled)
        if then is not settled and waiting(then, place.name, other) < waiting(settled, place.name, other):
            chosen, settled = moved, then
    return chosen, settled


# ---------------------------------------------------------------- through two coolers


def _through_two(
    request: Request, made: Allocation, lots: Sequence[Lot], homeless: tuple[Unplanned, ...]
) -> Allocation:
    """The same with lots that one cooler does not suit moved to a colder one once rooted, where that pays its hours.

    First in the rooms as they are; then with rooms that are to root in and rooms for what is rooted.
    """
    names = _ill_suited(request, made)
    if names:
        rooms = _rooms_for_two(request, made, names)
        made = _moved_once_rooted(request, made, lots, homeless, names, rooms)
    ill = _ill_suited(request, made) & {p.lot.stated_name for p in made.settled.lots}
    full = any(f.code == "place-overfull" for f in made.findings)
    if ill and not full and not request.season.agreed:
        made = _in_rooms_apart(request, made, lots, homeless)
    return made


def _moved_once_rooted(
    request: Request, made: Allocation, lots: Sequence[Lot], homeless: tuple[Unplanned, ...],
    names: frozenset[str], programme: tuple[RoomSetting, ...], *, all_of_them: bool = False,
) -> Allocation:  # fmt: skip
    """The better of what is made and of what a search finds in which lots may go through two coolers.

    These are those of the `names` that would gain or, so that they make room for each other, all of them.
    """
    climate = build_climate(request.season, programme)
    names -= {p.lot.stated_name for p in made.settled.lots if not _suited_by(request.season, climate, p)}
    few = replace(request.limits, work=request.limits.work / 4, seconds=request.limits.seconds / 4)
    asked = replace(request, in_two=names, limits=few)
    some_lots = [lot for lot in lots if all_of_them or lot.name in names]
    problem = problem_in(asked, some_lots, programme, rooms_set=True)
    gain = frozenset(_would_gain(problem, made, names)) & _ill_suited(request, made)
    if not gain:
        return made
    if not all_of_them:
        asked = replace(asked, in_two=gain)
        problem = problem_in(asked, lots, programme, rooms_set=True)
    request.context.progress(f"trying a second cooler for {len(asked.in_two)} lots")
    other = _answered(asked, problem, programme, homeless)
    return other if _better(request, other, made) else made


def _in_rooms_apart(
    request: Request, made: Allocation, lots: Sequence[Lot], homeless: tuple[Unplanned, ...]
) -> Allocation:
    """The better of what is made and of what is found with coolers to root in and coolers for what is rooted."""
    free, settled = _free(request), made.settled
    apart = rooms_apart(made.season, settled.climate, settled.lots, free)
    if apart is None:
        return made
    season, placed = apart.lots_in(made.season, made.placed)
    rooms = settle(
        season,
        season.lots,
        request.recipes,
        placed,
        request.histories,
        request.context.progress,
        settled.programme,
    ).programme
    planned = {room.place for room in rooms}
    asked = replace(request, kept_cold=[name for name in apart.cold if name in planned])
    return _moved_once_rooted(asked, made, lots, homeless, free, rooms, all_of_them=True)


def _suited_by(season: Season, climate: Climate, plan: LotPlan) -> bool:
    """Whether some cooler is cold enough for the shoots of a lot, on the days on which it has them now."""
    if plan.sprouted is None or plan.sprouted >= plan.bring_in:
        return True
    shown, out = climate.index(plan.sprouted), climate.index(plan.bring_in)
    rooms = [place.name for place in season.places if place.kind == "cooler"]
    return any(not grows_in_the_dark(climate, [(room, shown, out)], plan.recipe) for room in rooms)


def _would_gain(problem: Problem, made: Allocation, names: Collection[str]) -> Iterator[str]:
    """Those of the lots that some way through two coolers suits better than what they have.

    There must be room for it where all lots but these stand as they do: in a full house a search would find none.
    """
    climate, usage = problem.climate_sums.climate, Usage(problem)
    for plan in made.settled.lots:
        if plan.lot.stated_name not in names:
            for place, start, end in exact(climate, plan).stands:
                if place in usage.taken:
                    usage.taken[place][start:end] += pot_area(plan)
    for at, candidate in enumerate(problem.candidates):
        least = 1 if candidate.split else candidate.lot.pots
        through = [
            o.cost
            for number, o in enumerate(candidate.options)
            if o.after_rooting is not None and usage.most(at, number) >= least
        ]
        plans = [p for p in made.settled.lots if p.lot.stated_name == candidate.lot.name]
        days = {(p.cooler_in and climate.index(p.cooler_in), climate.index(p.bring_in)) for p in plans}
        placed = {made.placed[p.lot.name] for p in plans}
        now = [
            o.cost
            for o in candidate.options
            if o.after_rooting is None
            and (o.cooler, o.bench) in placed
            and (o.dates.cooler_in, o.dates.bring_in) in days
        ]
        if candidate.lot.name in names and through and min(through) < max(now, default=math.inf):
            yield candidate.lot.name


def _ill_suited(request: Request, made: Allocation) -> frozenset[str]:
    """Lots, not begun, in no stated cooler, that wait there with shoots, are not rooted at a step, or are left out."""
    season, climate = request.season, made.settled.climate
    if sum(place.kind == "cooler" for place in season.places) < 2:
        return frozenset()
    planned = {plan.lot.stated_name for plan in made.settled.lots}
    ill = {
        plan.lot.stated_name
        for plan in made.settled.lots
        if waits_with_shoots(climate, plan) or steps_down_before_rooted(climate, plan)
    }
    return frozenset(name for name in _free(request) if name in ill or name not in planned)


def _free(request: Request) -> frozenset[str]:
    """Lots, not begun, that need cold and state no cooler."""
    return frozenset(
        lot.name
        for lot in request.open_lots()
        if lot.cooler is None
        and lot.cooler_after_rooting is None
        and not request.histories.get(lot.name, NOTHING).fixed
        and request.places(lot)[0] != [None]
    )


def _rooms_for_two(request: Request, made: Allocation, names: Collection[str]) -> tuple[RoomSetting, ...]:
    """The rooms as they were settled; one that stands empty as it would be with those lots in it once rooted."""
    settings, season = made.settled.programme, made.season
    empty = next((s.place for s in settings if not in_cooler(made.settled.lots, s.place)), None)
    if empty is None:
        return settings
    moved = tuple(
        replace(lot, cooler_after_rooting=empty) if lot.stated_name in names else lot for lot in season.lots
    )
    plans = planned_in(season, moved, request.recipes, made.placed, request.histories, settings).lots
    return tuple(s for s in settings if s.place != empty) + tuple(
        s for s in programmes(season, plans) if s.place == empty
    )


def _better(request: Request, other: Allocation, made: Allocation) -> bool:
    """Whether the other is sound and leaves fewer pots out, or as many with no more hours short and at less cost."""
    if any(f.code == "plan-broken" for f in other.findings):
        return False
    over = [len(audit.overfull(a.season, a.settled.lots, request.occupancy)) for a in (other, made)]
    if over[0] > over[1] or (made.settled.agreed and not other.settled.agreed):
        return False
    planned = [sum(plan.lot.pots for plan in a.settled.lots) for a in (other, made)]
    if planned[0] != planned[1]:
        return planned[0] > planned[1]
    hours = [sum(request.short_weeks(a.season, a.settled).values()) for a in (other, made)]
    return hours[0] <= hours[1] + 1e-6 and _cost(request, other) < _cost(request, made) - 1e-6


def _cost(request: Request, made: Allocation) -> float:
    """What the coolers of an allocation cost, in weeks of distance from the ideal cold for each pot."""
    stated = {lot.name: lot.cold_weeks for lot in request.season.lots}
    climate, total = made.settled.climate, 0.0
    for plan in made.settled.lots:
        ideal = stated.get(plan.lot.stated_name)
        distance = abs(plan.cold_wanted - (plan.recipe.cold_target if ideal is None else ideal))
        warm, unrooted = waits_with_shoots(climate, plan), steps_down_before_rooted(climate, plan)
        moved = plan.lot.cooler_after_rooting is not None
        total += plan.lot.pots * (distance + TOO_WARM * warm + UNROOTED * unrooted + MOVED * moved)
    return total


# ---------------------------------------------------------------- telling


def _told(
    request: Request, made: Allocation, problem: Problem | None = None, answer: Answer | None = None
) -> Allocation:
    """The allocation counted again, with findings: what is overfull or left out, who contends, what would mend it."""
    made = replace(made, findings=tuple(_broken(request, made)))
    over = audit.overfull(made.season, made.settled.lots, request.occupancy)
    left = answer is not None and any(
        pick is None and candidate.options
        for pick, candidate in zip(answer, problem.candidates if problem else (), strict=True)
    )
    if not over and not left:
        return made
    if problem is None or answer is None:
        problem = problem_in(request, request.open_lots(), made.settled.programme, rooms_set=False)
        answer = tuple(_usual(candidate) for candidate in problem.candidates)
    findings, unplanned = findings_of(problem, answer, request.recipes, request.histories, request.context.on)
    return replace(made, findings=(*made.findings, *findings), unplanned=(*made.unplanned, *unplanned))


def _broken(request: Request, made: Allocation) -> Iterator[Finding]:
    """What the independent count finds against the rules that hold for every plan; nothing, if the search is right."""
    fixed = [name for name, history in request.histories.items() if history.fixed]
    for fault in audit.broken(made.season, made.settled.lots, fixed):
        yield Finding(
            "plan-broken", "error", "lots", None, None, f"the plan made here breaks a rule of its own: {fault}",
            "Do not act on that date: state the lot's cooler, bench and cold weeks yourself, and report this fault.",
        )  # fmt: skip


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
    named = [lot.cooler, lot.cooler_after_rooting, lot.bench, lot.harden_at, sites.get(lot.display or "")]
    strange = [place for place in named if place and place not in names]
    return f"there is no place {', '.join(strange)}" if strange else None


def _nowhere(season: Season, recipe: Recipe) -> str:
    kinds = {place.kind for place in season.places}
    missing = [
        kind for kind in ("cooler", "bench") if kind not in kinds and (recipe.needs_cold or kind == "bench")
    ]
    return f"it names no {' and no '.join(missing)}, and the table places has none"
