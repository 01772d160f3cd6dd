"""Rooms that run off what they are set to: which, since when, what it costs whom, what to check."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date

import numpy as np

from forcing.dates import DAY, Span
from forcing.engine.climate import LATEST, Climate, RoomOffset
from forcing.engine.simulate import LotSimulation
from forcing.errors import Finding
from forcing.model import LotPlan, Season
from forcing.text import listed, some
from forcing.units import TemperatureUnit, show_difference

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
        costs = cost_in_days(climate, place.name, spell, lots)
        yield Finding(
            "place-off-setting", "warning", "places", place.row, "place",
            f"{place.name} ran {_differs(off, season.unit)} than it is set to from {spell.start} to {spell.end - DAY} "
            f"({some(count, 'day')} read): {_cost_words(costs)}",
            "Check its thermostat, heating and vents, and the sensor beside a second one. Where it was set "
            f"differently, write that into setpoints. {_ahead(offset, season.unit)}",
            place.name, place=place.name, days=(spell.start, spell.end - DAY), number=off,
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


def cost_in_days(
    climate: Climate, place: str, spell: Span, lots: Sequence[tuple[LotSimulation, LotPlan]]
) -> dict[str, int]:
    """Days by which bloom, not seen yet, comes later (negative: sooner) than in the room as set from `spell` on."""
    as_set, found = _as_set(climate, place, spell), {}
    for simulation, plan in lots:
        stands = any(s.place == place and s.span.end > spell.start and s.step != "show" for s in plan.steps)
        if not stands or "bloom" in simulation.history.stages:
            continue
        paced = replace(simulation, pace=plan.need / simulation.need(plan.cold_weeks))
        run = replace(paced, climate=as_set).run(plan.cooler_in or plan.bring_in, plan.bring_in)
        if run is not None and run.bloom != plan.bloom:
            found[plan.lot.name] = (plan.bloom - run.bloom).days
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


def _cost_words(costs: dict[str, int]) -> str:
    """'bloom 2 days later of T1 and T2, 1 day later of T3'; the costliest first."""
    if not costs:
        return "no bloom still to come moves by a day"
    parts = []
    for days in sorted(set(costs.values()), key=lambda d: (-abs(d), d)):
        names = [name for name, d in costs.items() if d == days]
        parts.append(f"{some(abs(days), 'day')} {'later' if days > 0 else 'sooner'} of {listed(names, 6)}")
    return f"bloom comes {'; '.join(parts)}"
