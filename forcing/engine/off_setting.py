"""Rooms that run off what they are set to: which, since when, what it costs whom, what to check."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from datetime import date
from typing import Literal, NamedTuple

import numpy as np

from forcing.dates import DAY, Span
from forcing.engine.backward import CountBack, lot_plan, ready_from
from forcing.engine.climate import LATEST, Climate, RoomOffset
from forcing.engine.loads import Rooms, pot_days
from forcing.engine.replan import replan_lot
from forcing.engine.simulate import LotSimulation
from forcing.errors import Finding
from forcing.model import LotPlan, PlaceLoad, Season
from forcing.text import later, listed, number, some
from forcing.units import TemperatureUnit, show_difference, show_offset

LOST = 0.1  # weeks of cold that are worth a word
SHORTER = (
    0.5  # weeks of cold short of those chosen that show in the stems: the step that people plan in; practice
)
OFF, FOR_DAYS = (
    1.5,
    5,
)  # °C off on average, over so many days that were read, is worth a finding; the house's rule


WARMEST = (
    6  # °C by which a bench is looked at warmer, never above what its lots and it bear; the house's rule
)


def off_findings(
    season: Season, climate: Climate, lots: Sequence[tuple[LotSimulation, LotPlan]], loads: Sequence[PlaceLoad],
    on: date,
) -> Iterator[Finding]:  # fmt: skip
    """One finding for each room that lately ran far off its setting. `lots`: with the plans they are to follow.

    A store that cost lots cold leaves a choice, which is put with what each way costs in room. `loads`: of the places.
    """
    for place in season.places:
        offset = climate.offsets.get(place.name)
        spell = None if offset is None else off_spell(climate, offset)
        if offset is None or spell is None or spell.end + LATEST * DAY < on:
            continue
        there = (climate.index(spell.start) <= offset.days) & (offset.days < climate.index(spell.end))
        off, count = float(offset.off[there].mean()), int(np.count_nonzero(there))
        costs = costs_of(climate, place.name, spell, lots)
        days = {name: cost.days for name, cost in costs.items() if cost.days}
        cold = {name: cost.cold for name, cost in costs.items() if cost.cold >= LOST}
        lost, lefts = "", list[LeftTo]()
        if place.kind == "cooler":
            lost = _cold_words(cold)
            hit = [pair for pair in lots if pair[1].lot.name in cold and pair[1].bring_in > on]
            lefts = _ways_on(hit, _as_set(climate, place.name, spell), on)
        open_ = {left.plan.lot.name for left in lefts}  # what becomes of their bloom is to be chosen
        moved = _cost_words({name: late for name, late in days.items() if name not in open_}, bool(open_))
        yield Finding(
            "place-off-setting", "warning", "places", place.row, "place",
            f"{place.name} ran {show_offset(off, season.unit)} than it is set to from {spell.start} to "
            f"{spell.end - DAY} ({some(count, 'day')} read): {'; '.join(filter(None, (lost, moved)))}",
            f"{_choice(lefts, Rooms.of(loads), season.unit)}{_still(lots, cold, on, open_)}Check its thermostat, "
            "heating and vents, and the sensor beside a second one. Where it was set differently, write that into "
            f"setpoints. {_ahead(offset, season.unit)}",
            place.name, place=place.name, days=(spell.start, spell.end - DAY), number=off,
            lots=tuple(dict.fromkeys((*cold, *days))), most=float(max(days.values(), default=0)),
        )  # fmt: skip


def off_spell(climate: Climate, offset: RoomOffset) -> Span | None:
    """The latest days, in fives that were read, on which the room was off by OFF on average one way; None: none."""
    if offset.off.size < FOR_DAYS:
        return None
    means = np.convolve(offset.off, np.full(FOR_DAYS, 1 / FOR_DAYS), "valid").tolist()
    first = last = None
    for i in reversed(range(len(means))):
        if abs(means[i]) < OFF or (last is not None and means[i] * means[last] < 0):
            if last is not None:
                break
            continue
        last, first = i if last is None else last, i
    if first is None or last is None:
        return None
    days = offset.days[first : last + FOR_DAYS]
    return Span(climate.day(int(days[0])), climate.day(int(days[-1])) + DAY)


class Cost(NamedTuple):
    """What a room off its setting costs a lot: days by which bloom comes later (negative: sooner), weeks of cold."""

    days: int
    cold: float


def costs_of(
    climate: Climate, place: str, spell: Span, lots: Sequence[tuple[LotSimulation, LotPlan]]
) -> dict[str, Cost]:
    """What it costs the lots that stood there, of bloom not seen yet, against the room as set from `spell` on."""
    as_set, found = _as_set(climate, place, spell), {}
    for simulation, plan in lots:
        stands = any(s.place == place and s.span.end > spell.start and s.step != "show" for s in plan.steps)
        if not stands or "bloom" in simulation.history.stages:
            continue
        run = replace(simulation.at_pace_of(plan), climate=as_set).run(plan.cooler_in, plan.bring_in)
        if run is not None:
            found[plan.lot.name] = Cost((plan.bloom - run.bloom).days, run.cold_weeks - plan.cold_weeks)
    return found


def _as_set(climate: Climate, place: str, spell: Span) -> Climate:
    """The climate with one room as it was set, on the days of the spell that were read and on all to come."""
    offset, start, end = climate.offsets[place], climate.index(spell.start), climate.index(spell.end)
    ahead = climate.as_it_is(place) & (np.arange(climate.days) >= start)
    back = np.where(ahead, offset.learned, 0.0)
    mine = (offset.days >= start) & (offset.days < end)
    back[offset.days[mine]] = offset.off[mine]
    hours = {day: parts for day, parts in climate.hours.get(place, {}).items() if not start <= day < end}
    return Climate(
        climate.start,
        climate.days,
        climate.low | {place: climate.low[place] - back},
        climate.high | {place: climate.high[place] - back},
        climate.basis,
        climate.hours | {place: hours},
    )


# ---------------------------------------------------------------- the choice that is left

WayName = Literal["as planned", "earlier", "warmer", "later"]


class WayOn(NamedTuple):
    """A way on for a lot that lost cold: its plan, out of the cooler on another day or onto a warmer bench."""

    plan: LotPlan
    warmer: int = 0  # °C, of its bench


class LeftTo(NamedTuple):
    """The ways on of one lot still in the cold."""

    plan: LotPlan
    before: LotPlan  # as it would have been, had the room kept its setting
    cooler: str
    bench: str
    ways: dict[WayName, WayOn]

    def late(self, name: WayName) -> int:
        return max(0, -self.ways[name].plan.days_early)


def _ways_on(lots: Sequence[tuple[LotSimulation, LotPlan]], as_set: Climate, on: date) -> list[LeftTo]:
    """What is left to each lot that would not be ready in time on the day it was to be brought in; the others none."""
    found = []
    for simulation, plan in lots:
        before = replan_lot(replace(simulation, climate=as_set))
        cooler = simulation.route.last_cooler
        if (
            isinstance(before, LotPlan)
            and plan.cooler_in is not None
            and cooler is not None
            and plan.target > on
        ):
            ways = _ways_of(simulation.at_pace_of(plan), plan, before, on)
            left = LeftTo(plan, before, cooler, simulation.route.bench, ways)
            if left.ways and ("as planned" not in left.ways or left.late("as planned")):
                found.append(left)
    return found


def _ways_of(paced: LotSimulation, plan: LotPlan, before: LotPlan, on: date) -> dict[WayName, WayOn]:
    """The ways on of one lot; without those that do not flower, are no other, or do not bring it in time."""
    assert plan.cooler_in is not None
    calendar, climate, into = paced.season.calendar, paced.climate, plan.cooler_in
    soonest = ready_from(paced, plan.potting, into)
    if soonest is None:
        return {}
    soonest = max(soonest, calendar.on_or_after(on))
    usual = max(before.bring_in, calendar.on_or_after(on))
    ways: dict[WayName, WayOn] = {}

    def put(name: WayName, day: date, warmer: int = 0) -> bool:
        hotter = climate.shifted((paced.route.bench,), float(warmer)) if warmer else climate
        tried = replace(paced, climate=hotter)
        run = tried.run(into, day)
        if run is None or (name in ("earlier", "warmer") and run.ready > plan.target):
            return False
        ways[name] = WayOn(lot_plan(tried, plan.cold_wanted, plan.potting, into, run), warmer)
        return True

    if soonest <= usual:
        put("as planned", usual)
        latest = CountBack.of(paced).with_cooler_in(climate.index(into), climate.index(soonest))
        if latest is not None and (day := climate.day(latest)) < usual:
            put("earlier", day)
        any(put("warmer", usual, warmer) for warmer in range(1, _bears(paced, usual) + 1))
    full = paced.enough_cold(into, plan.cold_wanted)
    longer = None if full is None else max(soonest, calendar.on_or_after(full))
    if longer is not None and longer > usual:
        put("later", longer)
    return ways


def _bears(simulation: LotSimulation, day: date) -> int:
    """Whole °C by which the bench of a lot may be warmer from a day on."""
    climate, bench = simulation.climate, simulation.route.bench
    at = climate.index(day)
    place, mean = simulation.season.place(bench), float(climate.mean(bench)[at])
    room = [simulation.recipe.bench_high - mean]
    if place.highest is not None:
        room.append(place.highest - float(climate.high[bench][at]))
    return max(0, min(WARMEST, int(min(room) + 1e-6)))


def _room_words(lefts: Sequence[LeftTo], name: WayName, rooms: Rooms) -> str:
    """'60 pot-days more of Bench, which has room': against the plan as it would have been."""
    more: dict[str, float] = {}
    for left in lefts:
        way = left.ways[name].plan
        rooms = rooms.taking(way, left.plan)
        for place in (left.cooler, left.bench):
            most = max(0.0, pot_days(way, place) - pot_days(left.before, place))
            more[place] = more.get(place, 0.0) + most
    said, lacks = [], rooms.lacks()
    for place, pots in more.items():
        if pots >= 1 or place in lacks:
            has = f"which is {lacks[place].short} then" if place in lacks else "which has room"
            said.append(f"{number(round(pots))} pot-days more of {place}, {has}")
    return " and ".join(said) or "no more room"


# ---------------------------------------------------------------- words


def _choice(lefts: Sequence[LeftTo], rooms: Rooms, unit: TemperatureUnit) -> str:
    """The choice in words: each way, for whom, when ready, what it takes in room; empty where none is to be made."""
    if not lefts:
        return ""
    names: tuple[WayName, ...] = ("as planned", "earlier", "warmer", "later")
    said, refused = list[str](), list[str]()
    for name in names:
        mine = [left for left in lefts if name in left.ways]
        if mine:
            whom = "" if len(mine) == len(lefts) else f" (only {_named(mine)})"
            late = max(left.late(name) for left in mine)
            ready = f"{_from_to([left.late(name) for left in mine])} late" if late else "in time"
            said.append(
                f"({len(said) + 1}) {name}{whom}: {_how(mine, name, unit)}: {ready}; {_room_words(mine, name, rooms)}."
            )
        else:
            refused.append(name)
    if refused:
        said.append(f"Not open any more: {listed(refused)}.")
    days: dict[date, list[str]] = {}
    for left in lefts:
        days.setdefault(left.plan.bring_in, []).append(left.plan.lot.name)
    now = listed([f"{listed(those, 6)} in on {day}" for day, those in sorted(days.items())], 4)
    return f"Choose for {_named(lefts)}. {' '.join(said)} Now planned: {now}; log or state another choice. "


def _how(lefts: Sequence[LeftTo], name: WayName, unit: TemperatureUnit) -> str:
    """What is done in a way on, and on how much cold."""
    ways = [left.ways[name] for left in lefts]
    least, most = (f"{pick(way.plan.cold_weeks for way in ways):.1f}" for pick in (min, max))
    cold = f"{least if least == most else f'{least} to {most}'} cold-weeks"
    off = _from_to(
        [abs((way.plan.bring_in - left.before.bring_in).days) for left, way in zip(lefts, ways, strict=True)]
    )
    short = max(left.plan.cold_wanted - way.plan.cold_weeks for left, way in zip(lefts, ways, strict=True))
    stems = ", stems shorter" if short > SHORTER else ""
    if name == "later":
        return f"bring in {off} later, {cold}"
    if name == "earlier":
        return f"bring in {off} sooner, {cold}{stems}"
    benches = listed(list(dict.fromkeys(left.bench for left in lefts)))
    by = show_difference(float(max(way.warmer for way in ways)), unit)
    warmer = f", {benches} {by} warmer" if name == "warmer" else ""
    return f"bring in on the day that was planned{warmer}, {cold}{stems}"


def _from_to(days: Sequence[int]) -> str:
    """'3 days', '1 to 4 days'."""
    least, most = min(days), max(days)
    return some(most, "day") if least == most else f"{least} to {some(most, 'day')}"


def _ahead(offset: RoomOffset, unit: TemperatureUnit) -> str:
    if not offset.learned:
        return "The days ahead are reckoned as set."
    return f"The days ahead are reckoned {show_offset(offset.learned, unit)} than set, as its readings show."


def _cold_words(cold: dict[str, float]) -> str:
    """'1.4 weeks of cold are lost to A, B and C'; of several the most; empty where none is."""
    if not cold:
        return ""
    most = f"{'up to ' if len(cold) > 1 else ''}{max(cold.values()):.1f} weeks of cold"
    return f"{most} are lost to {listed(sorted(cold, key=lambda name: -cold[name]), 6)}"


def _still(
    lots: Sequence[tuple[LotSimulation, LotPlan]], cold: dict[str, float], on: date, open_: Collection[str]
) -> str:
    """What is left for lots that lost cold, but for those of which it is `open_`: to stay, or what to expect."""
    plans = {plan.lot.name: plan for _, plan in lots if plan.lot.name in cold and plan.lot.name not in open_}
    poor = [name for name, p in plans.items() if p.cold_weeks < p.recipe.cold_least - 1e-6]
    inside = [name for name, p in plans.items() if p.bring_in > on]
    late = [name for name in inside if plans[name].bloom > plans[name].target]
    out = [name for name in plans if name not in inside and name not in poor]
    said = []
    if inside:
        answer = (
            f"{listed(late, 6)} then too late for the target: warm the bench"
            if late
            else "none is late by it"
        )
        said.append(f"Leave {listed(inside, 6)} in the cold until the day of the plan ({answer}).")
    if out:
        said.append(
            f"{listed(out, 6)} had to do with less cold: expect shorter stems, and bloom later on the bench."
        )
    if poor:
        said.append(f"Do not count on {listed(poor, 6)}: have other pots ready.")
    return "".join(f"{each} " for each in said)


def _cost_words(costs: dict[str, int], others: bool) -> str:
    """'bloom 2 days later of T1 and T2, 1 day later of T3'; the costliest first. `others`: of more it is told apart."""
    if not costs:
        return "" if others else "no bloom still to come moves by a day"
    parts = []
    for days in sorted(set(costs.values()), key=lambda d: (-abs(d), d)):
        names = [name for name, d in costs.items() if d == days]
        parts.append(f"{later(days)} of {listed(names, 6)}")
    return f"bloom comes {'; '.join(parts)}"


def _named(lefts: Sequence[LeftTo]) -> str:
    return listed([left.plan.lot.name for left in lefts], 6)
