"""What each room is set to, and the fixed point between the dates of lots and the programmes of their coolers."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

import numpy as np

from forcing.dates import DAY, Span
from forcing.engine.climate import Climate, Floats, build_climate, horizon
from forcing.engine.log import NOTHING, History
from forcing.engine.replan import replan_lot
from forcing.engine.simulate import UNSUITED, LotSimulation, simulation_of
from forcing.errors import Finding, Several
from forcing.model import Lot, LotPlan, Place, Recipe, RoomSetting, Season, Unplanned
from forcing.text import listed, some
from forcing.units import show_temperature, told

SPROUTED = 7  # days with shoots in the dark that a warm room harms: a week, the step that people plan in
STEP = 0.5  # °C by which a room that is stepped down is colder from one day to the next
LOST = 3.5  # days of cold lost in a season that are worth telling: half a week, the step that people plan in


def in_cooler(plans: Sequence[LotPlan], place: str) -> tuple[LotPlan, ...]:
    """The lots that get their cold in `place`."""
    return tuple(p for p in plans if any(s.place == place and s.step in ("root", "cool") for s in p.steps))


def stay_in(plan: LotPlan, place: str) -> Span:
    """The days that a lot is cold in `place`."""
    spans = [s.span for s in plan.steps if s.place == place and s.step in ("root", "cool")]
    return Span(spans[0].start, spans[-1].end)


def rooting_in(plans: Sequence[LotPlan], place: str) -> list[LotPlan]:
    """The lots that root in `place`: not those that come rooted from another room."""
    return [p for p in plans if any(s.place == place and s.step == "root" for s in p.steps)]


def pot_area(plan: LotPlan) -> float:
    """Room a lot takes, in 15 cm-pot equivalents: pots times the square of their width."""
    return area_of(plan.lot, plan.recipe)


def area_of(lot: Lot, recipe: Recipe) -> float:
    """Room a lot takes, in 15 cm-pot equivalents: pots times the square of their width."""
    width = recipe.pot if lot.pot_cm is None else lot.pot_cm
    return lot.pots * (width / 15.0) ** 2


def states_its_own(season: Season, place: Place) -> bool:
    """Whether the season states the temperatures of a place, so that the plan must keep them."""
    return place.day is not None or any(s.place == place.name for s in season.setpoints)


# A room that no lot uses yet waits at the first step of the standard sequence (Cornell: 9 -> 5 -> 1 °C).
EMPTY_AT = 9.0
# A room in which shoots are out once all is rooted stays so long at the middle step, to go down by degrees; practice.
STAYS = 4 * DAY


def programmes(season: Season, plans: Sequence[LotPlan]) -> tuple[RoomSetting, ...]:
    """The programme of every cooler that states no temperature of its own: the agreed one where its lots bear it."""
    return tuple(
        setting
        for place in season.places
        if place.kind == "cooler" and not states_its_own(season, place)
        for mine in [in_cooler(plans, place.name)]
        for setting in _agreed_programme(season, place, mine) or _programme(season, place, mine)
    )


def _agreed_programme(season: Season, place: Place, plans: Sequence[LotPlan]) -> tuple[RoomSetting, ...]:
    """What was agreed for a room in use; empty where nothing was, or a lot would not be rooted at a step-down."""
    if not season.agreed or not any(
        place.name in (lot.cooler, lot.cooler_after_rooting) for lot in season.agreed[-1].lots
    ):
        return ()
    mine = [s for s in season.agreed[-1].settings if s.place == place.name and s.basis == "planned"]
    steps = [after.span.start for before, after in itertools.pairwise(mine) if after.mean < before.mean]
    if not mine or any(unrooted_at(rooting_in(plans, place.name), day) for day in steps):
        return ()
    span = horizon(season)  # it may have grown since
    mine[0] = replace(mine[0], span=Span(span.start, mine[0].span.end))
    mine[-1] = replace(mine[-1], span=Span(mine[-1].span.start, span.end))
    return tuple(mine)


def unrooted_at(plans: Sequence[LotPlan], day: date) -> list[LotPlan]:
    """The lots that are in the cold on that day and not rooted."""
    return [
        p
        for p in plans
        if p.cooler_in is not None and p.cooler_in < day < (p.rooted or p.bring_in) and day < p.bring_in
    ]


def _programme(season: Season, place: Place, plans: Sequence[LotPlan]) -> tuple[RoomSetting, ...]:
    span = horizon(season)
    if not plans:
        empty_at = _limited(place, EMPTY_AT)
        return (RoomSetting(place.name, span, empty_at, empty_at, "planned", "empty"),)
    calendar, rooting = season.calendar, rooting_in(plans, place.name)
    stays = {p.lot.name: stay_in(p, place.name) for p in plans}
    # What is moved on once rooted has no say in how the room is stepped down; where nothing stays, it is not.
    staying = [p for p in plans if stays[p.lot.name].end >= p.bring_in]
    first = _limited(place, _most_wanted(plans, _rooting_at))
    second, third = (
        _limited(place, _most_wanted(staying, wanted)) if staying else first
        for wanted in (_cooled_at, _kept_at)
    )
    last_out = max(stay.end for stay in stays.values())
    rooted = calendar.on_or_after(max((p.rooted or p.bring_in for p in rooting), default=span.start))
    if not rooting:
        first = second  # a room of rooted lots needs no step-down
    shown = [(p.sprouted, stays[p.lot.name].end) for p in plans]
    sprouts = [day for day, end in shown if day is not None and end > max(rooted, day)]
    sprouted = max(rooted, calendar.on_or_after(min(sprouts))) if sprouts else last_out
    why = "rooting temperature" if rooting else "all its lots come rooted"
    changes: list[tuple[date, float, str]] = [(span.start, first, why)]
    if second < first and rooted < last_out:
        changes.append((rooted, second, "all its lots are rooted"))
        sprouted = max(sprouted, calendar.on_or_after(rooted + STAYS))
    if third < changes[-1][1] and sprouted < last_out:
        changes.append(
            (sprouted, third, told("rooted, and the first shoots are about 2.5 cm", "C", season.measures))
        )
    ends = [c[0] for c in changes[1:]] + [span.end]
    return tuple(
        RoomSetting(place.name, Span(start, end), degrees, degrees, "planned", reason)
        for (start, degrees, reason), end in zip(changes, ends, strict=True)
    )


def _rooting_at(recipe: Recipe) -> float:
    return recipe.rooting_at


def _cooled_at(recipe: Recipe) -> float:
    return recipe.cooled_at


def _kept_at(recipe: Recipe) -> float:
    return recipe.kept_at


def _most_wanted(plans: Sequence[LotPlan], wanted: Callable[[Recipe], float]) -> float:
    """The temperature that most of the room's pots want; the warmer one where they are equal."""
    votes: dict[float, float] = defaultdict(float)
    for plan in plans:
        votes[wanted(plan.recipe)] += pot_area(plan)
    return max(votes, key=lambda degrees: (votes[degrees], degrees))


def _limited(place: Place, degrees: float) -> float:
    if place.lowest is not None:
        degrees = max(degrees, place.lowest)
    return degrees if place.highest is None else min(degrees, place.highest)


def stated_settings(season: Season) -> tuple[RoomSetting, ...]:
    """Stated temperatures as settings over the season's days, place by place."""
    span, out = horizon(season), []
    for place in season.places:
        points = sorted((s for s in season.setpoints if s.place == place.name), key=lambda s: s.start)
        first = points[0].start if points else span.end
        if place.day is not None and place.night is not None and span.start < first:
            standing = Span(span.start, min(first, span.end))
            out.append(RoomSetting(place.name, standing, place.day, place.night, "stated"))
        for point, end in zip(points, [*(p.start for p in points), span.end][1:], strict=True):
            start = max(point.start, span.start)
            if start < end:
                basis: Literal["stated", "steered"] = "steered" if point.agreed else "stated"
                out.append(RoomSetting(place.name, Span(start, end), point.day, point.night, basis))
    return tuple(out)


# ---------------------------------------------------------------- findings


def room_findings(
    season: Season, climate: Climate, plans: Sequence[LotPlan], rooms: Sequence[RoomSetting]
) -> tuple[Finding, ...]:
    """Rooms stepped down too soon or too late for a lot, and lots that want different temperatures."""
    out: list[Finding] = []
    for place in season.places:
        mine = in_cooler(plans, place.name)
        settings = sorted((r for r in rooms if r.place == place.name), key=lambda r: r.span.start)
        if mine and settings:
            out.extend(_stepped_too_soon(season, place, mine, settings))
            out.extend(_at_odds(season, climate, place, mine))
            out.extend(_kept_back(season, place, mine, plans, settings))
    return tuple(out)


def _stepped_too_soon(
    season: Season, place: Place, plans: Sequence[LotPlan], settings: Sequence[RoomSetting]
) -> Iterator[Finding]:
    for before, after in itertools.pairwise(settings):
        if after.mean >= before.mean:
            continue
        day = after.span.start
        unrooted = [p.lot.name for p in unrooted_at(rooting_in(plans, place.name), day)]
        if unrooted:
            last = max(p.rooted or p.bring_in for p in plans if p.lot.name in unrooted)
            yield Finding(
                "stepped-before-rooted", "warning", "setpoints", _setpoint_row(season, place, day), "from",
                f"{place.name} goes from {show_temperature(before.mean, season.unit)} to "
                f"{show_temperature(after.mean, season.unit)} before {listed(unrooted, 6)} "
                f"{'is' if len(unrooted) == 1 else 'are'} rooted",
                f"Step down on {last} or later, when roots show at the drain holes, or put these lots in "
                "another cooler.",
                str(day), place=place.name, days=(day,),
            )  # fmt: skip


def _at_odds(season: Season, climate: Climate, place: Place, plans: Sequence[LotPlan]) -> Iterator[Finding]:
    """Lots that the room does not suit, since a room has one temperature: set by the season or by most pots."""
    losing: list[LotPlan] = []
    growing: list[LotPlan] = []
    for plan in plans:
        assert plan.cooler_in is not None
        credited, stay = (
            (plan.cold_weeks - plan.recipe.precooled(plan.lot.precooled_weeks)) * 7,
            stay_in(plan, place.name),
        )
        if stay.end >= plan.bring_in and (plan.bring_in - plan.cooler_in).days - credited >= LOST:
            losing.append(plan)
        if plan.sprouted is not None and plan.sprouted < stay.end:
            shown = max(plan.sprouted, stay.start)
            after = climate.mean(place.name)[climate.index(shown) : climate.index(stay.end)]
            if too_warm(after, plan.recipe):
                growing.append(plan)
    if losing:
        yield Finding(
            "room-credits-less", "warning", "places", place.row, "place",
            f"part of the time there does not count in full as cold for {_who(losing)}: the room is at other "
            "temperatures than they want",
            f"They want {_wants(season, losing)} as they root, rest and sprout. Give them another cooler, or "
            "accept the longer stay that the plan reckons with.",
            place.name, place=place.name, lots=tuple(p.lot.name for p in losing), several=Several(
                "part of the time in {names} does not count in full as cold, the rooms being at other temperatures "
                "than these lots want: {lots}",
                "Give them another cooler, or accept the longer stay that the plan reckons with.", place.name,
            ),
        )  # fmt: skip
    if growing:
        yield Finding(
            "room-too-warm", "warning", "places", place.row, "place",
            f"the room stays too warm for {_who(growing)} once they have shoots: these will grow in the dark",
            f"They want {_wants(season, growing)} as they root, rest and sprout. Step the room down, give them "
            "another cooler, or leave head room above the pots.",
            place.name, place=place.name, lots=tuple(p.lot.name for p in growing), several=Several(
                "{names} stay too warm for lots with shoots, which will grow in the dark: {lots}",
                "Step the rooms down, give these lots another cooler, or leave head room above the pots.", place.name,
            ),
        )  # fmt: skip


def too_warm(means: Floats, recipe: Recipe) -> bool:
    """Whether a lot with shoots grows in the dark of a room: `means` [°C] of its days from sprouting to bring in."""
    return means.size >= SPROUTED and float(np.quantile(means, 0.5)) - recipe.kept_at > UNSUITED


def waits_with_shoots(climate: Climate, plan: LotPlan) -> bool:
    """Whether a lot stands with shoots for a week or more in coolers that are warmer than they bear."""
    if plan.sprouted is None:
        return False
    stays = [s for s in plan.steps if s.place is not None and s.step in ("root", "cool")]
    spans = [
        (s.place or "", climate.index(max(s.span.start, plan.sprouted)), climate.index(s.span.end))
        for s in stays
    ]
    return grows_in_the_dark(climate, spans, plan.recipe)


def grows_in_the_dark(climate: Climate, stays: Sequence[tuple[str, int, int]], recipe: Recipe) -> bool:
    """Whether a week or more of these stays with shoots (place, from, to; day numbers) is warmer than they bear."""
    warm = (
        climate.mean(place)[start:end] - recipe.kept_at > UNSUITED
        for place, start, end in stays
        if start < end
    )
    return sum(int(days.sum()) for days in warm) >= SPROUTED


def steps_down_before_rooted(climate: Climate, plan: LotPlan) -> bool:
    """Whether the cooler that a lot goes to first is made colder before it is rooted."""
    first = next((s.place for s in plan.steps if s.step in ("root", "cool")), None)
    if first is None or plan.cooler_in is None:
        return False
    rooted = min(plan.rooted or plan.bring_in, plan.bring_in)
    means = climate.mean(first)[climate.index(plan.cooler_in) : climate.index(rooted)]
    return bool((np.diff(means) < -STEP).any())


def _who(plans: Sequence[LotPlan]) -> str:
    return f"{listed([p.lot.name for p in plans], 6)} ({listed(sorted({p.recipe.crop for p in plans}), 6)})"


def _wants(season: Season, plans: Sequence[LotPlan]) -> str:
    wants = {(p.recipe.rooting_at, p.recipe.cooled_at, p.recipe.kept_at) for p in plans}
    return " or ".join("/".join(show_temperature(t, season.unit) for t in want) for want in sorted(wants))


FEW = (
    0.25  # lots that are no more of a room's, and take no more of its room, keep it for the others; practice
)


@dataclass(frozen=True, slots=True)
class HeldBack:
    """A room that a few lots keep from being stepped down."""

    place: str
    holders: tuple[LotPlan, ...]
    since: date  # the others are rooted
    until: date  # all are
    waiting: tuple[LotPlan, ...]  # lots that have shoots before that


def held_back(
    season: Season, place: Place, plans: Sequence[LotPlan], settings: Sequence[RoomSetting]
) -> HeldBack | None:
    """Which lots keep a room at the first step of its planned programme while others have shoots; None: none do."""
    planned = [s for s in settings if s.place == place.name and s.basis == "planned"]
    rooting = sorted(rooting_in(plans, place.name), key=lambda p: (p.rooted or p.bring_in, p.lot.name))
    if len(planned) < 2 or not rooting:
        return None
    until, whole = planned[1].span.start, sum(map(pot_area, plans))
    found: HeldBack | None = None
    for kept in range(len(rooting) - 1, -1, -1):
        holders, others = rooting[kept:], rooting[:kept]
        few = len(holders) <= FEW * len(plans) and sum(map(pot_area, holders)) <= FEW * whole
        if len(holders) > 1 and not few:
            break
        ready = others[-1].rooted or others[-1].bring_in if others else holders[0].cooler_in
        since = season.calendar.on_or_after(ready or until)
        names = {p.lot.name for p in holders}
        shown = [(p, p.sprouted) for p in plans if p.lot.name not in names]
        waiting = tuple(p for p, day in shown if day and day < min(until, stay_in(p, place.name).end))
        if since < until and waiting:
            found = HeldBack(place.name, tuple(holders), since, until, waiting)
    return found


def room_elsewhere(season: Season, plans: Sequence[LotPlan], held: HeldBack) -> str | None:
    """Another cooler with room for the lots that keep one back, where they would keep none; None: there is none."""
    wanted = sum(map(pot_area, held.holders))
    for place in season.places:
        if place.kind != "cooler" or place.name == held.place:
            continue
        there = in_cooler(plans, place.name)
        rooted = [p.rooted or p.bring_in for p in rooting_in(there, place.name)]
        sprouted = [p.sprouted for p in there if p.sprouted is not None]
        kept = bool(sprouted) and min(sprouted) < held.until and max(rooted, default=held.until) < held.until
        if not kept and _most_in(there, place.name, held.holders) + wanted <= (place.pots or np.inf):
            return place.name
    return None


def _most_in(plans: Sequence[LotPlan], place: str, beside: Sequence[LotPlan]) -> float:
    """The most that stands in a room on a day on which others are in the cold."""
    stays = [(stay_in(p, place), pot_area(p)) for p in plans]
    first, last = min(p.cooler_in or p.bring_in for p in beside), max(p.bring_in for p in beside)
    days = [first, *(stay.start for stay, _ in stays if first < stay.start < last)]
    return max(sum(area for stay, area in stays if day in stay) for day in days)


def _kept_back(
    season: Season, place: Place, plans: Sequence[LotPlan], all_plans: Sequence[LotPlan],
    settings: Sequence[RoomSetting],
) -> Iterator[Finding]:  # fmt: skip
    """Lots that keep the room warm for others: which, how long, what that costs, and where they could stand."""
    held = held_back(season, place, plans, settings)
    if held is None:
        return
    names, weeks = (
        listed([p.lot.name for p in held.holders], 6),
        max(1, round((held.until - held.since).days / 7)),
    )
    pots, few = sum(p.lot.pots for p in held.holders), len(held.holders) == 1
    other = room_elsewhere(season, all_plans, held)
    where = "another cooler" if other is None else f"{other}, which has room for {'it' if few else 'them'}"
    it = "it" if few else "them"
    yield Finding(
        "shoots-before-step-down", "warning", "places", place.row, "place",
        f"{names} ({some(pots, 'pot')}) {'keeps' if few else 'keep'} {place.name} from being stepped down for "
        f"{some(weeks, 'week')}, until {held.until}: the others are rooted on {held.since}; "
        f"{listed([p.lot.name for p in held.waiting], 6)} will have shoots before that",
        f"Put {names} in {where}, pot {it} earlier, or leave head room above the pots.",
        place.name, place=place.name, days=(held.since, held.until), number=weeks,
        lots=tuple(p.lot.name for p in held.holders),
    )  # fmt: skip


def _setpoint_row(season: Season, place: Place, day: date) -> int | None:
    for setpoint in season.setpoints:
        if setpoint.place == place.name and setpoint.start == day:
            return setpoint.row
    return place.row


Places = tuple[str | None, str]  # cooler (None: no cold needed) and bench
ROUNDS = 8  # dates move rooms and rooms move dates; a handful of rounds settles every season seen


@dataclass(frozen=True, slots=True)
class Settled:
    """Lots planned and refused in the rooms of `programme`. `agreed`: planning again would change nothing."""

    lots: tuple[LotPlan, ...]
    refused: tuple[Unplanned, ...]
    programme: tuple[RoomSetting, ...]
    climate: Climate
    agreed: bool


def settle(
    season: Season,
    lots: Sequence[Lot],
    recipes: Mapping[str, Recipe],
    placed: Mapping[str, Places],
    histories: Mapping[str, History],
    progress: Callable[[str], None],
    start: tuple[RoomSetting, ...] | None = None,
) -> Settled:
    """Plan the placed lots, set the rooms by them, and again until both agree. `start`: rooms to begin with."""
    programme = programmes(season, ()) if start is None else start
    for turn in range(ROUNDS):
        progress(f"counting back {len(placed)} lots, round {turn + 1}")
        settled = planned_in(season, lots, recipes, placed, histories, programme)
        agreed = programmes(season, settled.lots)
        if agreed == programme:
            break
        if turn < ROUNDS - 1:
            programme = agreed
    return Settled(settled.lots, settled.refused, programme, settled.climate, agreed == programme)


def planned_in(
    season: Season,
    lots: Sequence[Lot],
    recipes: Mapping[str, Recipe],
    placed: Mapping[str, Places],
    histories: Mapping[str, History],
    programme: tuple[RoomSetting, ...],
) -> Settled:
    """The placed lots planned once, in the rooms of a programme that stays as it is."""
    climate = build_climate(season, programme)
    planned: list[LotPlan] = []
    refused: list[Unplanned] = []
    for simulation in simulations_of(season, climate, lots, recipes, placed, histories):
        answer = replan_lot(simulation)
        if isinstance(answer, LotPlan):
            planned.append(answer)
        else:
            refused.append(answer)
    return Settled(tuple(planned), tuple(refused), programme, climate, True)


def simulations_of(
    season: Season,
    climate: Climate,
    lots: Sequence[Lot],
    recipes: Mapping[str, Recipe],
    placed: Mapping[str, Places],
    histories: Mapping[str, History],
) -> tuple[LotSimulation, ...]:
    """Every placed lot ready to be run forward, in the order of `lots`."""
    return tuple(
        simulation_of(
            season, climate, lot, recipes[lot.name], *placed[lot.name], histories.get(lot.name, NOTHING)
        )
        for lot in lots
        if lot.name in placed
    )


# ---------------------------------------------------------------- rooms apart

# Where lots come in week by week, no one step-down of a room suits them all: whoever comes early has shoots before
# whoever comes late has roots.


@dataclass(frozen=True, slots=True)
class Apart:
    """Coolers to root in, coolers for what is rooted, and the lots that are to be moved, by name."""

    warm: tuple[str, ...]
    cold: tuple[str, ...]
    moving: tuple[str, ...]

    def lots_in(self, season: Season, placed: Mapping[str, Places]) -> tuple[Season, dict[str, Places]]:
        """The season and places with these lots rooted in the first rooms and moved to the others, each in turn."""
        first = dict(zip(self.moving, itertools.cycle(self.warm)))
        then = dict(zip(self.moving, itertools.cycle(self.cold)))
        lots = tuple(
            replace(lot, cooler_after_rooting=then.get(lot.name, lot.cooler_after_rooting))
            for lot in season.lots
        )
        return replace(season, lots=lots), {
            name: (first.get(name, cooler), bench) for name, (cooler, bench) in placed.items()
        }


def rooms_apart(
    season: Season, climate: Climate, plans: Sequence[LotPlan], free: Collection[str]
) -> Apart | None:
    """The coolers set apart as the `free` lots (by their stated names) need room at one time; None: it cannot be.

    Rooms that state their temperatures are what they are; of the others those are to be warm with which least stands
    over what they hold, and of such the smallest; of many, some of the smallest or of the largest.
    """
    mine = [plan for plan in plans if plan.lot.stated_name in free and plan.cooler_in is not None]
    others = [plan for plan in plans if plan.lot.stated_name not in free]
    moving = [plan for plan in mine if plan.recipe.rooting_at - plan.recipe.kept_at > UNSUITED]
    if not moving:
        return None
    names = [place.name for place in season.places if place.kind == "cooler"]
    left = {name: _left(season, climate, name, others) for name in names}
    wanted = _wanted(climate, mine, moving)
    must = _must_be_warm(season, climate, names, moving, others)

    def lack(warm: Collection[str]) -> tuple[float, float]:
        over = [
            np.clip(need - sum(left[name] for name in names if (name in warm) == (role == 0)), 0.0, None)
            for role, need in enumerate(wanted)
        ]
        return round(float(np.sum(over)), 3), sum(season.place(name).pots or np.inf for name in warm)

    by_size = sorted((n for n in names if must[n] is None), key=lambda n: (season.place(n).pots or np.inf, n))
    ways = {
        tuple(name for name in names if must[name] or name in order[:count])
        for order in (by_size, by_size[::-1])
        for count in range(len(order) + 1)
    }
    ways = {warm for warm in ways if 0 < len(warm) < len(names)}
    if not ways:
        return None
    warm = min(sorted(ways), key=lack)
    cold = tuple(name for name in names if name not in warm)
    return Apart(warm, cold, tuple(plan.lot.name for plan in moving))


def _left(season: Season, climate: Climate, name: str, others: Sequence[LotPlan]) -> Floats:
    """Room in a cooler by day beside other lots."""
    room = np.full(climate.days + 1, season.place(name).pots or np.inf, dtype=float)
    for plan in in_cooler(others, name):
        stay = stay_in(plan, name)
        room[climate.index(stay.start) : climate.index(stay.end)] -= pot_area(plan)
    return np.asarray(np.maximum(room, 0.0))


def _wanted(climate: Climate, mine: Sequence[LotPlan], moving: Sequence[LotPlan]) -> tuple[Floats, Floats]:
    """Room by day of what roots or stays where it is as warm, and of what is to be moved once rooted."""
    warm, cold = np.zeros(climate.days + 1), np.zeros(climate.days + 1)
    for plan in mine:
        assert plan.cooler_in is not None
        start, end = climate.index(plan.cooler_in), climate.index(plan.bring_in)
        rooted = min(end, start + math.ceil(7 * plan.recipe.rooting)) if plan in moving else end
        warm[start:rooted] += pot_area(plan)
        cold[rooted:end] += pot_area(plan)
    return warm, cold


def _must_be_warm(
    season: Season,
    climate: Climate,
    names: Sequence[str],
    moving: Sequence[LotPlan],
    others: Sequence[LotPlan],
) -> dict[str, bool | None]:
    """Of each cooler, whether it is to root in; None: that is open. A room in which other lots root is no cold one."""
    shoots = float(np.median([plan.recipe.kept_at for plan in moving])) + UNSUITED
    first = min(climate.index(plan.cooler_in) for plan in moving if plan.cooler_in is not None)
    last = max(climate.index(plan.bring_in) for plan in moving)
    found: dict[str, bool | None] = {}
    for name in names:
        stated = states_its_own(season, season.place(name))
        mean = float(climate.mean(name)[first:last].mean())
        found[name] = mean > shoots if stated else True if rooting_in(others, name) else None
    return found
