"""Rooms that run off what they are set to: which, since when, what it costs whom, what to check."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from typing import NamedTuple

import numpy as np

from forcing.dates import DAY, Span
from forcing.engine.climate import LATEST, Climate, RoomOffset
from forcing.engine.simulate import LotSimulation
from forcing.errors import Finding
from forcing.model import LotPlan, Season
from forcing.text import listed, some
from forcing.units import TemperatureUnit, show_difference

LOST = 0.1  # weeks of cold that are worth a word
OFF, FOR_DAYS = (
    1.5,
    5,
)  # °C off on average, over so many days that were read, is worth a finding; the house's rule


def off_findings(
    season: Season, climate: Climate, lots: Sequence[tuple[LotSimulation, LotPlan]], on: date
) -> Iterator[Finding]:
    """One finding for each room that lately ran far off its setting. `lots`: with the plans they are to follow."""
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
        lost = _cold_words(cold) if place.kind == "cooler" else ""
        yield Finding(
            "place-off-setting", "warning", "places", place.row, "place",
            f"{place.name} ran {_differs(off, season.unit)} than it is set to from {spell.start} to {spell.end - DAY} "
            f"({some(count, 'day')} read): {lost}{_cost_words(days)}",
            f"{_still(lots, cold, on)}Check its thermostat, heating and vents, and the sensor beside a second one. "
            f"Where it was set differently, write that into setpoints. {_ahead(offset, season.unit)}",
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
        run = replace(simulation.at_pace_of(plan), climate=as_set).run(
            plan.cooler_in or plan.bring_in, plan.bring_in
        )
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


# ---------------------------------------------------------------- words


def _differs(off: float, unit: TemperatureUnit) -> str:
    return f"{show_difference(abs(off), unit)} {'warmer' if off > 0 else 'colder'}"


def _ahead(offset: RoomOffset, unit: TemperatureUnit) -> str:
    if not offset.learned:
        return "The days ahead are reckoned as set."
    return f"The days ahead are reckoned {_differs(offset.learned, unit)} than set, as its readings show."


def _cold_words(cold: dict[str, float]) -> str:
    """'1.4 weeks of cold are lost to A, B and C; '; of several the most; empty where none is."""
    if not cold:
        return ""
    most = f"{'up to ' if len(cold) > 1 else ''}{max(cold.values()):.1f} weeks of cold"
    return f"{most} are lost to {listed(sorted(cold, key=lambda name: -cold[name]), 6)}; "


def _still(lots: Sequence[tuple[LotSimulation, LotPlan]], cold: dict[str, float], on: date) -> str:
    """What can still be done on a day for lots that lost cold: those still in it may stay longer, others may not."""
    plans = {plan.lot.name: plan for _, plan in lots if plan.lot.name in cold}
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


def _cost_words(costs: dict[str, int]) -> str:
    """'bloom 2 days later of T1 and T2, 1 day later of T3'; the costliest first."""
    if not costs:
        return "no bloom still to come moves by a day"
    parts = []
    for days in sorted(set(costs.values()), key=lambda d: (-abs(d), d)):
        names = [name for name, d in costs.items() if d == days]
        parts.append(f"{some(abs(days), 'day')} {'later' if days > 0 else 'sooner'} of {listed(names, 6)}")
    return f"bloom comes {'; '.join(parts)}"
