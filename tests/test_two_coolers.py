"""Lots that root in one cooler and are then moved to a colder one: dates, rooms, work and the words for them."""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Collection
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from forcing.engine.agreed import agreement_of
from forcing.engine.allocation import audit
from forcing.engine.backward import plan_lot
from forcing.engine.climate import build_climate
from forcing.engine.plan import work_out
from forcing.engine.simulate import LotSimulation, simulation_of
from forcing.model import LogEntry, Lot, LotPlan, Place, Plan, Season
from forcing.recipes.book import RecipeBook
from forcing.reports.agreed import write_record
from forcing.season.agreed import read_records
from tests.builders import MON_FRI, plan, season, seen_on, worked
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


# ---------------------------------------------------------------- left to the plan

JULY = date(2026, 7, 1)
SIXTEEN = Place("Bench", "bench", 500, day=16, night=16)
STEPS = [
    ("pot", None, date(2026, 11, 17)), ("root", "Warm", date(2026, 11, 18)), ("cool", "Cold", date(2026, 12, 9)),
    ("bench", "Bench", date(2027, 2, 24)),
]  # fmt: skip


def two_stores(*lots: Lot, leaves: date = date(2026, 11, 30), **other: object) -> Season:
    """A room at 9 °C and one at 2 °C for 100 pots each; E fills the cold one until the day on which it `leaves` it.

    By hand: E is brought in 24 days before its target, a lot for 20 March on Wed 24 February after 14 weeks: it goes in
    on Wed 18 November, is rooted at 9 °C on Wed 9 December, and has shoots (10 weeks) on 27 January.
    """
    places = (
        Place("Warm", "cooler", 100, day=9, night=9), Place("Cold", "cooler", 100, day=2, night=2), SIXTEEN,
    )  # fmt: skip
    early = tulips("E", 80, cooler="Cold", cold_weeks=14, target=leaves + timedelta(days=24))
    return season((early, *lots), **({"places": places, "overrides": FIGURES, "calendar": MON_FRI} | other))


def first_steps(made: Plan, name: str) -> list[tuple[str, str | None, date]]:
    return [(s.step, s.place, s.span.start) for s in made.lot(name).steps[:4]]


def test_a_lot_that_would_have_shoots_in_the_warm_is_moved_to_the_cold_room_once_rooted() -> None:
    # The cold room is free from 30 November: for A alone only with 12 weeks, two from its ideal. At 9 °C it would stand
    # four weeks with shoots.
    stated = two_stores(tulips("A", 40))
    made = plan(stated, JULY)
    assert first_steps(made, "A") == STEPS
    assert made.lot("A").lot.cooler_after_rooting == "Cold" and not audit.overfull(made.season, made.lots)
    assert "room-too-warm" not in {f.code for f in made.findings}
    assert [(t.date, t.place, t.to) for t in made.tasks if t.task == "move"] == [
        (date(2026, 12, 9), "Warm", "Cold")
    ]
    # By the independent count it is in one room each day, and in the second from the day that it is moved on.
    days = audit.count([made.lot("A")])
    moved = date(2026, 12, 9)
    assert [days.get((p, d), 0) for p in ("Warm", "Cold") for d in (moved - timedelta(days=1), moved)] == [
        40,
        0,
        0,
        40,
    ]


def test_a_full_second_cooler_is_not_used_and_a_stated_cooler_is_kept() -> None:
    # E leaves the cold room on 14 December, five days after A is rooted.
    for stated in (
        two_stores(tulips("A", 40), leaves=date(2026, 12, 14)), two_stores(tulips("A", 40, cooler="Warm"))
    ):  # fmt: skip
        made = plan(stated, JULY)
        assert {s.place for s in made.lot("A").steps if s.step in ("root", "cool")} == {"Warm"}
        assert made.lot("A").lot.cooler_after_rooting is None
        assert "room-too-warm" in {f.code for f in made.findings}


@pytest.mark.parametrize(("leaves", "searches"), [(date(2026, 12, 14), 0), (date(2026, 12, 9), 1)])
def test_a_second_cooler_that_is_full_is_not_searched_for(leaves: date, searches: int) -> None:
    # A is rooted on 9 December, by when E has to have left the cold room.
    said: list[str] = []
    context = replace(seen_on(JULY), progress=said.append)
    stated = two_stores(tulips("A", 40), leaves=leaves)
    work_out(stated, RecipeBook.from_overrides(stated.overrides), context)
    assert len([text for text in said if "second cooler" in text]) == searches


def test_a_lot_that_no_one_cooler_has_room_for_is_grown_in_two() -> None:
    # E leaves the cold room on 7 December, too late for the least cold of 12 weeks (2 December); F comes to the warm
    # one on 10 December, 14 weeks and 24 days before 11 April.
    late = tulips("F", 80, cooler="Warm", cold_weeks=14, target=date(2027, 4, 11))
    stated = two_stores(tulips("A", 40), late, leaves=date(2026, 12, 7))
    made = plan(stated, JULY)
    assert not made.unplanned and first_steps(made, "A") == STEPS
    assert not audit.overfull(made.season, made.lots)
    closed = replace(stated, lots=tuple(replace(x, cooler=x.cooler or "Warm") for x in stated.lots))
    assert "place-overfull" in {f.code for f in plan(closed, JULY).findings}


def test_a_move_that_makes_a_week_short_of_hands_is_not_made() -> None:
    # Where there are next to no hours, carrying 40 pots is work more that nobody has time for.
    stated = two_stores(tulips("A", 40), hours_per_week=0.001, cold_for_hours=True)
    made = plan(stated, JULY)
    assert not [t for t in made.tasks if t.task == "move"]


@pytest.mark.parametrize("again", [JULY, date(2026, 11, 25)])
def test_what_was_agreed_of_two_coolers_stays(again: date, tmp_path: Path) -> None:
    stated = two_stores(tulips("A", 40))
    made = worked(stated, JULY)
    write_record(agreement_of(made.plan, made.simulations), "C", folder := tmp_path / f"{JULY}")
    (agreement,) = read_records(folder.parent).agreements
    # Since then the cold room stands empty: chosen now, A would go there at once.
    free = replace(stated, lots=stated.lots[1:], agreed=(agreement,))
    log = (LogEntry(date(2026, 11, 18), "A", "cooler in", "Warm"),) if again > JULY else ()
    for then in (replace(stated, agreed=(agreement,)), free):
        now = worked(replace(then, log=log), again)
        assert first_steps(now.plan, "A") == STEPS
        assert not [c for c in now.changes if c.subject == "A"]


def test_a_log_alone_keeps_the_second_cooler() -> None:
    log = (LogEntry(date(2026, 11, 18), "A", "cooler in", "Warm"),)
    made = plan(replace(two_stores(tulips("A", 40)), log=log), date(2026, 11, 25))
    assert first_steps(made, "A")[1:] == STEPS[1:]


# ---------------------------------------------------------------- every choice tried

Way = tuple[float, LotPlan]  # cost in weeks for each pot


def ways_of(stated: Season, lot: Lot) -> list[Way]:
    """Every way of a lot, planned alone with all of it stated, and what it costs by a plain count of its days."""
    found: list[Way] = []
    for cooler, other in (("Warm", "Cold"), ("Cold", "Warm")):
        for after, weeks in itertools.product((None, other), (12, 13, 14, 15)):
            alone = replace(lot, cooler=cooler, cooler_after_rooting=after, cold_weeks=weeks)
            for planned in plan(replace(stated, lots=(alone,)), JULY).lots:
                shown = planned.sprouted or planned.bring_in
                warm = sum(
                    s.place == "Warm" and s.step in ("root", "cool") and s.span.start <= day < s.span.end
                    for s in planned.steps
                    for day in (shown + timedelta(days=i) for i in range((planned.bring_in - shown).days))
                )
                moved = len({s.place for s in planned.steps if s.step in ("root", "cool")}) > 1
                if after is None or moved:
                    found.append((abs(weeks - 14) + 0.5 * (warm >= 7) + 0.05 * moved, planned))
    return found


def best_of(
    stated: Season, ways: dict[str, list[Way]], in_two: Collection[str]
) -> tuple[float, list[LotPlan]]:
    """The cheapest that fits of all combinations; only some lots may go through two coolers."""
    room = {place.name: place.pots or 0.0 for place in stated.places}
    stays = {id(p): audit.count([p]) for mine in ways.values() for _, p in mine}
    best: tuple[float, list[LotPlan]] = (float("inf"), [])
    for picked in itertools.product(*ways.values()):
        cost = sum(c * p.lot.pots for c, p in picked)
        if cost >= best[0] or any(p.lot.cooler_after_rooting and p.lot.name not in in_two for _, p in picked):
            continue
        full: dict[tuple[str, date], float] = defaultdict(float)
        for _, planned in picked:
            for at, pots in stays[id(planned)].items():
                full[at] += pots
        if all(pots <= room[place] + 1e-6 for (place, _), pots in full.items() if place in room):
            best = (cost, [p for _, p in picked])
    return best


@pytest.mark.parametrize("room", [130, 100, 85])
def test_a_small_season_is_as_good_as_the_best_of_all_choices(room: float) -> None:
    # Beside E there is room for A at once, for both once it has left, or then for one of them.
    lots = [tulips("A", 50), tulips("B", 45, target=TARGET + timedelta(days=5))]
    stated = two_stores(*lots)
    places = tuple(replace(p, pots=room) if p.name == "Cold" else p for p in stated.places)
    stated = replace(stated, places=places)
    early = stated.lots[0]
    ways = {"E": [(0.0, plan(replace(stated, lots=(early,)), JULY).lot("E"))]}
    ways |= {lot.name: ways_of(stated, lot) for lot in lots}
    one, alone = best_of(stated, ways, ())
    ill = {p.lot.name for p in alone if p.lot.cooler == "Warm"}
    two, _ = best_of(stated, ways, ill)
    assert two < one
    made = plan(stated, JULY)
    cost = 0.0
    for name in ("A", "B"):
        p = made.lot(name)
        rooms = {s.place for s in p.steps if s.step in ("root", "cool")}
        same = [c for c, q in ways[name] if (q.cooler_in, q.bring_in) == (p.cooler_in, p.bring_in) and rooms == {
            s.place for s in q.steps if s.step in ("root", "cool")}]  # fmt: skip
        cost += min(same) * p.lot.pots
    assert cost == pytest.approx(two) and not audit.overfull(made.season, made.lots)
