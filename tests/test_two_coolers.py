"""Lots that root in one cooler and are then moved to a colder one: dates, rooms, work and the words for them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from forcing.engine.backward import plan_lot
from forcing.engine.climate import build_climate
from forcing.engine.simulate import LotSimulation, simulation_of
from forcing.model import LogEntry, LotPlan, Place, Season
from forcing.recipes.book import RecipeBook
from tests.builders import MON_FRI, plan, season
from tests.season_text import season as read_season_text
from tests.test_allocate import FIGURES, TARGET, tulips

MONDAY = date(2026, 11, 2)


def house(warm: float = 9, cold: float = 2, **other: object) -> Season:
    """A cooler to root in, a colder one, a bench at 16 °C; one lot of 40 that is moved once rooted."""
    lot = tulips("A", 40, cooler="Warm", bench="Bench", cooler_after_rooting="Cold")
    places = (
        Place("Warm", "cooler", 100, day=warm, night=warm), Place("Cold", "cooler", 100, day=cold, night=cold),
        Place("Bench", "bench", 100, day=16, night=16),
    )  # fmt: skip
    return season([lot], **({"places": places, "overrides": FIGURES, "calendar": MON_FRI} | other))


def test_a_lot_is_rooted_in_the_first_room_and_cold_in_the_second() -> None:
    # By hand: bloom on Sat 20 March, 24 days at 16 °C: in on Wed 24 Feb; 14 weeks of cold before: Wed 18 Nov; rooted
    # after 3 weeks at 9 °C on Wed 9 Dec, a working day, and moved on it.
    made = plan(house(), MONDAY)
    steps = [(s.step, s.place, s.span.start) for s in made.lots[0].steps[:4]]
    assert steps == [
        ("pot", None, date(2026, 11, 17)), ("root", "Warm", date(2026, 11, 18)), ("cool", "Cold", date(2026, 12, 9)),
        ("bench", "Bench", date(2027, 2, 24)),
    ]  # fmt: skip
    moves = [(t.date, t.place, t.to) for t in made.tasks if t.task == "move"]
    assert moves == [(date(2026, 12, 9), "Warm", "Cold")]
    for place, before, after in (("Warm", 40, 0), ("Cold", 0, 40)):
        load = next(row for row in made.loads if row.place == place)
        at = (date(2026, 12, 9) - load.start).days
        assert (load.pots[at - 1], load.pots[at]) == (before, after)


def simulated(stated: Season) -> LotSimulation:
    lot = stated.lots[0]
    recipe = RecipeBook.from_overrides(stated.overrides).recipe("tulip", None, None)
    return simulation_of(stated, build_climate(stated), lot, recipe, "Warm", "Bench")


@pytest.mark.parametrize("warm", [7.0, 9.0, 11.0, 13.0])
@pytest.mark.parametrize("cold", [-0.5, 1.0, 4.0])
def test_dates_counted_back_are_the_latest_that_the_forward_run_allows(warm: float, cold: float) -> None:
    # Judged by the forward run alone, in a plain loop over every working day in and out.
    stated = house(warm, cold)
    simulation, works = simulated(stated), stated.calendar.works
    made = plan_lot(simulation)
    days = [day for i in range(330) if works(day := TARGET - timedelta(days=i))]

    def blooms(into: date, out: date) -> bool:
        run, rooted = simulation.run(into, out), simulation.rooted(into)
        return run is not None and run.bloom <= TARGET and rooted is not None and rooted <= out

    def cold_of(into: date, out: date) -> float:
        return simulation.cold_weeks(into, out) or 0.0

    if not isinstance(made, LotPlan):
        assert not any(
            cold_of(into, out) >= 14 and blooms(into, out)
            for out in days[15:40]
            for into in days[60:]
            if into < out
        )
        return
    into, out = made.cooler_in, made.bring_in
    assert into is not None and blooms(into, out) and cold_of(into, out) >= 14 - 1e-3
    later_in = [day for day in days if into < day < out and cold_of(day, out) >= 14 and blooms(day, out)]
    later_out = [day for day in days if day > out and blooms(into, day)]
    assert not later_in and not later_out


def test_a_room_of_rooted_lots_is_cold_from_the_start_and_the_first_is_not_stepped_down_for_them() -> None:
    stated = house()
    unset = tuple(replace(p, day=None, night=None) if p.kind == "cooler" else p for p in stated.places)
    made = plan(replace(stated, places=unset), MONDAY)
    of = {place: [r.mean for r in made.rooms if r.place == place] for place in ("Warm", "Cold")}
    assert of["Warm"] == [9.0] and of["Cold"][0] <= 5.0
    assert not [f for f in made.findings if f.code == "stepped-before-rooted"]


def test_a_lot_logged_in_its_first_room_is_still_to_be_moved() -> None:
    into = LogEntry(date(2026, 11, 18), "A", "cooler in", "Warm")
    made = plan(replace(house(), log=(into,)), date(2026, 11, 23))
    assert [(s.step, s.place, s.span.start) for s in made.lots[0].steps[1:3]] == [
        ("root", "Warm", date(2026, 11, 18)), ("cool", "Cold", date(2026, 12, 9)),
    ]  # fmt: skip


def test_it_is_read_from_the_lots_table_and_a_strange_name_is_told() -> None:
    places = (
        "[places]\nplace | kind | pots | day | night\nWarm | cooler | 90 | 9 | 9\nCold | cooler | 90 | 2 | 2\n"
        "Bench | bench | 90 | 18 | 14\n"
    )
    lots = "[lots]\nlot | crop | pots | cooler | cooler after rooting | bench\nA | tulip | 20 | Warm | {} | Bench\n"
    stated = read_season_text(places + lots.format("Cold"))
    assert stated.lots[0].cooler_after_rooting == "Cold"
