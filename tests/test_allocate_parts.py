"""Lots that are split over two places, companions that take room first, and the labour peak.

Figures of the crop are the tests' own (FIGURES of test_allocate): by hand, a tulip for 20 March is brought in on
24 February (24 days at its reference) and goes into the cooler on 18 November (14 weeks before).
"""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from datetime import date, timedelta

import pytest

from forcing.engine.allocation import audit
from forcing.engine.allocation.milp import Effort, Limits
from forcing.engine.allocation.problem import SPLIT, Answer, Problem, key, usage_of
from forcing.engine.allocation.search import Searching, earliest_first, search
from forcing.engine.parts import as_logged, divided
from forcing.engine.show.standing import planted
from forcing.model import Companion, Display, Job, LogEntry, Occupancy, Place, Plan, Planting, Season
from tests.allocation_seasons import drawn_season, problem_of
from tests.builders import MON_FRI, Span, plan, season
from tests.test_allocate import (
    BENCH_60,
    EXACT,
    FIGURES,
    OTHER_50,
    TARGET,
    UNHURRIED,
    brute_force,
    codes,
    silent,
    tulips,
    where,
)

COLD = Place("Cold", "cooler", 500, day=9, night=9)


# ---------------------------------------------------------------- split


def test_a_lot_that_may_be_split_fills_two_benches_and_nothing_is_lost() -> None:
    # 100 pots on benches of 60 and 50: no bench takes them all. Small is at the reference, so it is filled first.
    lots = [tulips("A", 100, split=True)]
    made = plan(season(lots, places=(COLD, BENCH_60, OTHER_50), overrides=FIGURES))
    assert not made.unplanned
    assert {(p.lot.name, p.lot.pots) for p in made.lots} == {("A a", 60), ("A b", 40)}
    assert {s.place for s in made.lot("A a").steps if s.step == "bench"} == {"Small"}
    assert {s.place for s in made.lot("A b").steps if s.step == "bench"} == {"Other"}
    assert made.lot("A a").bring_in == date(2027, 2, 24)  # by hand, at the reference
    assert audit.overfull(made.season, made.lots) == () and audit.broken(made.season, made.lots) == ()
    said = next(f for f in made.findings if f.code == "lot-split")
    assert "in two parts, A a (60 pots) and A b (40 pots)" in said.message and said.column == "split"
    potting = [t for t in made.tasks if t.task == "pot"]
    assert sum(t.pots for t in potting) == 100


def test_a_lot_that_does_not_say_so_is_not_split_and_splitting_is_offered() -> None:
    made = plan(season([tulips("A", 100)], places=(COLD, BENCH_60, OTHER_50), overrides=FIGURES))
    assert [u.lot.name for u in made.unplanned] == ["A"]
    finding = next(f for f in made.findings if f.code == "place-overfull")
    assert "yes in split for A (100 pots): 40 of them would go to Cold and Other" in finding.hint


def test_a_lot_that_fits_together_stays_together() -> None:
    made = plan(season([tulips("A", 60, split=True)], places=(COLD, BENCH_60, OTHER_50), overrides=FIGURES))
    assert [p.lot.name for p in made.lots] == ["A"] and "lot-split" not in codes(made)


def test_two_places_that_are_too_small_together_leave_the_lot_out() -> None:
    made = plan(season([tulips("A", 111, split=True)], places=(COLD, BENCH_60, OTHER_50), overrides=FIGURES))
    assert [u.lot.name for u in made.unplanned] == ["A"] and not made.lots


def test_a_lot_of_one_pot_cannot_be_split() -> None:
    big = tulips("A", 1, split=True, pot_cm=150)  # 100 places of a 15 cm pot
    made = plan(season([big], places=(COLD, BENCH_60, OTHER_50), overrides=FIGURES))
    assert [u.lot.name for u in made.unplanned] == ["A"]


def brute_force_in_parts(problem: Problem) -> tuple[float, float]:
    """Pots left out and cost of the best answer where every lot may be split, by trying all there is."""
    best = (float("inf"), float("inf"))
    lots = problem.candidates

    def ways(candidate):  # type: ignore[no-untyped-def]
        pots, options = candidate.lot.pots, candidate.options
        for option in options:
            yield ((option, pots),), pots * option.cost
        if not candidate.split:
            return
        for one, other in itertools.permutations(options, 2):
            if (one.cooler, one.bench) == (other.cooler, other.bench):
                continue
            for part in range(1, pots // 2 + 1):
                cost = (pots - part) * one.cost + part * other.cost + SPLIT * pots
                yield ((one, pots - part), (other, part)), cost

    def go(at: int, taken: dict[tuple[str, int], float], left: float, cost: float) -> None:
        nonlocal best
        if (left, round(cost, 9)) >= best:
            return
        if at == len(lots):
            best = (left, round(cost, 9))
            return
        candidate = lots[at]
        for parts, price in ways(candidate):
            if (left, cost + price) >= best:
                continue
            now = dict(taken)
            for option, pots in parts:
                for place, day in where(option.dates.stands):
                    if place in problem.room:
                        now[place, day] = (
                            now.get((place, day), 0.0) + pots * candidate.area / candidate.lot.pots
                        )
            if all(room <= problem.room[place] + 1e-6 for (place, _), room in now.items()):
                go(at + 1, now, left, cost + price)
        go(at + 1, taken, left + candidate.lot.pots + 1, cost)

    go(0, {}, 0.0, 0.0)
    return best


@pytest.mark.parametrize("seed", range(8))
def test_small_seasons_in_parts_reach_the_optimum_of_brute_force(seed: int) -> None:
    # Few pots and few ways each, so that every way of splitting can be tried.
    rng = random.Random(seed)
    drawn = drawn_season(2, 1, 2, seed, room=10.0, days=6)
    lots = tuple(replace(lot, pots=rng.randint(2, 5), split=True, cold_weeks=15.0) for lot in drawn.lots)
    lots = tuple(replace(lot, crop="tulip", bloom_class="mid") for lot in lots)
    room = {"Cooler 0": rng.randint(5, 9), "Bench 0": rng.randint(2, 5), "Bench 1": rng.randint(2, 4)}
    places = tuple(replace(p, pots=float(room[p.name])) for p in drawn.places)
    problem = problem_of(replace(drawn, lots=lots, places=places))
    found = search(problem, EXACT, silent)
    _, left, _, cost = key(problem, found.answer)
    assert (left, cost) == pytest.approx(brute_force_in_parts(problem), abs=1e-3)


@pytest.mark.parametrize("seed", range(6))
def test_seasons_with_some_lots_split_are_sound_by_an_independent_count(seed: int) -> None:
    rng = random.Random(seed)
    drawn = drawn_season(12, 2, 3, seed, room=1.15, days=20)
    stated = replace(drawn, lots=tuple(replace(lot, split=rng.random() < 0.5) for lot in drawn.lots))
    made = plan(stated, date(2026, 9, 1))
    whole = {lot.name: lot for lot in stated.lots}
    pots: dict[str, int] = {}
    for p in (*made.lots, *made.unplanned):
        pots[p.lot.stated_name] = pots.get(p.lot.stated_name, 0) + p.lot.pots
        assert p.lot.part_of is None or whole[p.lot.part_of].split
    assert pots == {lot.name: lot.pots for lot in stated.lots}
    assert audit.overfull(made.season, made.lots) == () and audit.broken(made.season, made.lots) == ()
    together = plan(replace(stated, lots=drawn.lots), date(2026, 9, 1))
    missing = [sum(u.lot.pots + 1 for u in m.unplanned) for m in (made, together)]
    assert missing[0] <= missing[1]


def shown(pots: int, *plantings: int) -> Season:
    displays = tuple(
        Display(f"D{i}", 10, "Bed", Span(date(2027, 3, 20), date(2027, 4, 20))) for i in range(len(plantings))
    )
    rows = tuple(Planting(f"D{i}", "A", each) for i, each in enumerate(plantings))
    return season([tulips("A", pots, split=True)], displays=displays, plantings=rows)


def test_parts_share_what_is_planted_of_the_lot() -> None:
    # 60 and 40 of 100: of 70 planted, 42 and 28; of 30 planted, 18 and 12.
    parted = divided(shown(100, 7, 3), {"A": (60, 40)})
    assert planted(parted) == {"D0": {"A a": 42, "A b": 28}, "D1": {"A a": 18, "A b": 12}}
    odd = planted(divided(shown(10, 1), {"A": (7, 3)}))["D0"]
    assert sum(odd.values()) == 10 and odd == {"A a": 7, "A b": 3}


def test_the_log_says_which_pots_are_in_which_part() -> None:
    rows = [
        LogEntry(date(2026, 11, 10), "A a", "potted", None, 30), LogEntry(date(2026, 11, 11), "A b", "potted"),
        LogEntry(date(2026, 11, 12), "A", "cooler in", "Cold"),
        LogEntry(date(2026, 12, 1), "A", "lost", None, 4, row=9),
    ]  # fmt: skip
    stated = season([tulips("A", 100, split=True)], log=tuple(rows))
    found, said = as_logged(stated, date(2026, 12, 31))
    assert [(lot.name, lot.pots, lot.part_of) for lot in found.lots] == [("A a", 30, "A"), ("A b", 70, "A")]
    assert [(e.lot, e.event) for e in found.log if e.event == "cooler in"] == [
        ("A a", "cooler in"),
        ("A b", "cooler in"),
    ]
    assert [(f.code, f.row) for f in said] == [("part-lost-unnamed", 9)]
    before, nothing = as_logged(stated, date(2026, 11, 9))
    assert before == stated and nothing == ()
    half, asks = as_logged(replace(stated, log=(replace(rows[0], pots=None, row=5),)), date(2026, 12, 31))
    assert [lot.pots for lot in half.lots] == [50, 50] and [(f.code, f.row) for f in asks] == [
        ("part-pots-unknown", 5)
    ]


def test_a_split_that_has_begun_is_kept_as_logged() -> None:
    places = (COLD, replace(COLD, name="Store"), BENCH_60, OTHER_50)
    rows = (
        LogEntry(date(2026, 11, 16), "A a", "potted", None, 55),
        LogEntry(date(2026, 11, 16), "A b", "potted", None, 45),
        LogEntry(date(2026, 11, 17), "A a", "cooler in", "Store"),
        LogEntry(date(2026, 11, 17), "A b", "cooler in", "Cold"),
    )  # fmt: skip
    lots = [tulips("A", 100, split=True)]
    made = plan(season(lots, places=places, overrides=FIGURES, log=rows), date(2026, 11, 20))
    assert {(p.lot.name, p.lot.pots) for p in made.lots} == {("A a", 55), ("A b", 45)}
    assert {s.place for s in made.lot("A a").steps if s.step in ("root", "cool")} == {"Store"}
    assert made.lot("A b").cooler_in == date(2026, 11, 17)


# ---------------------------------------------------------------- begun


def test_lots_that_have_begun_still_share_out_the_benches() -> None:
    # Both are in the cooler by the log; neither bench takes the two, and nothing is logged of benches yet.
    lots = [tulips("A", 50), tulips("B", 45)]
    log = tuple(LogEntry(date(2026, 11, 18), name, "cooler in", "Cold") for name in "AB")
    stated = season(lots, places=(COLD, BENCH_60, OTHER_50), overrides=FIGURES, log=log)
    made = plan(stated, date(2026, 11, 20))
    assert "place-overfull" not in codes(made) and audit.overfull(made.season, made.lots) == ()
    assert sorted(s.place for p in made.lots for s in p.steps if s.step == "bench" and s.place) == [
        "Other",
        "Small",
    ]
    assert {p.cooler_in for p in made.lots} == {date(2026, 11, 18)}
    # The one that is brought in stays where it stands, and the other goes where there is room.
    brought = (*log, LogEntry(date(2027, 2, 24), "A", "brought in", "Other"))
    later = plan(replace(stated, log=brought), date(2027, 2, 24))
    assert {s.place for s in later.lot("A").steps if s.step == "bench"} == {"Other"}
    assert {s.place for s in later.lot("B").steps if s.step == "bench"} == {"Small"}


@pytest.mark.parametrize("seed", range(3))
def test_a_log_of_what_was_planned_leaves_every_lot_on_its_bench(seed: int) -> None:
    stated = drawn_season(12, 1, 3, seed, room=1.5, days=25)
    made = plan(stated, date(2026, 9, 1))
    assert not made.unplanned
    benches = {p.lot.name: {s.place for s in p.steps if s.step == "bench"} for p in made.lots}
    log = [
        entry
        for p in made.lots
        for entry in (
            LogEntry(p.potting, p.lot.name, "potted"),
            LogEntry(p.cooler_in or p.potting, p.lot.name, "cooler in", p.steps[1].place),
        )
        if entry.date < date(2026, 12, 1)
    ]
    assert log
    later = plan(replace(stated, log=tuple(log)), date(2026, 12, 1))
    assert {p.lot.name: {s.place for s in p.steps if s.step == "bench"} for p in later.lots} == benches
    assert {p.lot.name: p.bloom for p in later.lots} == {p.lot.name: p.bloom for p in made.lots}


def test_a_lot_that_is_only_potted_may_still_go_to_any_cooler() -> None:
    small = Place("Cold", "cooler", 60, day=9, night=9)
    places = (
        small,
        Place("Store", "cooler", 60, day=9, night=9),
        Place("Bench", "bench", 500, day=16, night=16),
    )
    log = tuple(LogEntry(date(2026, 11, 17), name, "potted") for name in "AB")
    stated = season(
        [tulips("A", 50), tulips("B", 50)], places=places, overrides=FIGURES, log=log, hours_per_week=40.0
    )
    made = plan(stated, date(2026, 11, 17))
    assert sorted({s.place for p in made.lots for s in p.steps if s.step == "root" and s.place}) == [
        "Cold",
        "Store",
    ]
    assert {p.potting for p in made.lots} == {date(2026, 11, 17)}


# ---------------------------------------------------------------- companions


def test_companions_take_their_room_before_the_lots() -> None:
    # Violas fill 30 places of Small until they are hardened off; 45 tulips no longer fit there and go to Other.
    viola = Companion("V", "viola", 30, ready=date(2027, 4, 20), place="Small")
    places = (COLD, replace(BENCH_60, day=14, night=14), replace(OTHER_50, day=12, night=12))
    lot = tulips("A", 45)
    alone = plan(season([lot], places=places, overrides=FIGURES))
    assert {s.place for s in alone.lots[0].steps if s.step == "bench"} == {"Small"}
    width = 10 / 15  # of a viola's pot, against the 15 cm of the count
    pots = round(30 / width**2)
    beside = plan(season([lot], places=places, overrides=FIGURES, companions=(replace(viola, pots=pots),)))
    assert {s.place for s in beside.lots[0].steps if s.step == "bench"} == {"Other"}
    assert "place-overfull" not in codes(beside)
    load = next(load for load in beside.loads if load.place == "Small")
    assert max(load.pots) <= 60


def test_lots_that_companions_leave_no_room_for_are_told_so() -> None:
    viola = Companion("V", "viola", 130, ready=date(2027, 4, 20), place="Small")
    lots = [tulips("A", 45, bench="Small", cooler="Cold")]
    places = (COLD, replace(BENCH_60, day=14, night=14))
    made = plan(season(lots, places=places, overrides=FIGURES, companions=(viola,)))
    finding = next(f for f in made.findings if f.code == "place-overfull")
    assert "with the companions that stand there" in finding.message and "A" in finding.message
    assert len([f for f in made.findings if f.code == "place-overfull"]) == 1


@pytest.mark.parametrize("seed", range(8))
def test_small_seasons_beside_companions_reach_the_optimum_of_brute_force(seed: int) -> None:
    # What stands there anyway is given to the brute force as a lot that has one way only.
    rng = random.Random(seed)
    stated = drawn_season(3, 1, 2, seed, room=rng.choice([1.2, 1.6]), days=10)
    start = date(2027, 1, 20) + timedelta(days=rng.randrange(40))
    others = [
        Occupancy(
            "Bench 0", Span(start, start + timedelta(days=rng.randint(5, 30))), float(rng.randint(5, 25))
        )
    ]
    others += [Occupancy("Bench 1", Span(start, start + timedelta(days=9)), 7.0)]
    problem = problem_of(stated)
    problem = replace(problem, occupancy=others, known={})
    found = search(problem, EXACT, silent)
    _, left, _, cost = key(problem, found.answer)
    assert (left, cost) == pytest.approx(best_beside(problem, others), abs=1e-3)


def best_beside(problem: Problem, others: list[Occupancy]) -> tuple[float, float]:
    climate, best = problem.climate_sums.climate, (float("inf"), float("inf"))
    taken: dict[tuple[str, int], float] = {}
    for place, span, area in others:
        for day in range(climate.index(span.start), climate.index(span.end)):
            taken[place, day] = taken.get((place, day), 0.0) + area
    ways = [[*c.options, None] for c in problem.candidates]
    for chosen in itertools.product(*ways):
        left = sum(c.lot.pots + 1 for c, o in zip(problem.candidates, chosen, strict=True) if o is None)
        cost = sum(
            c.lot.pots * o.cost for c, o in zip(problem.candidates, chosen, strict=True) if o is not None
        )
        if (left, cost) >= best:
            continue
        now = dict(taken)
        for candidate, option in zip(problem.candidates, chosen, strict=True):
            for place, day in where(option.dates.stands) if option is not None else ():
                now[place, day] = now.get((place, day), 0.0) + candidate.area
        if all(room <= problem.room.get(place, float("inf")) + 1e-6 for (place, _), room in now.items()):
            best = (left, cost)
    return best


# ---------------------------------------------------------------- the labour peak


def weekly(made: Plan) -> dict[date, float]:
    out: dict[date, float] = {}
    for task in made.tasks:
        week = task.date - timedelta(days=task.date.weekday())
        out[week] = out.get(week, 0.0) + task.hours
    return out


def three(pots: int, **other: object) -> Season:
    lots = [tulips(name, pots, cooler="Cold", bench="Bench", cold_weeks=14) for name in "ABC"]
    places = (COLD, Place("Bench", "bench", 500, day=16, night=16))
    return season(lots, places=places, overrides=FIGURES, calendar=MON_FRI, **other)


def potted(made: Plan) -> list[int]:
    assert {p.cooler_in for p in made.lots} == {date(2026, 11, 18)} and {p.bloom for p in made.lots} == {
        TARGET
    }
    assert all(p.steps[0].span.start == p.potting for p in made.lots)
    return [p.potting.day for p in made.lots if p.potting.month == 11]


def test_potting_comes_a_week_sooner_where_that_takes_two_hours_off_the_busier_week() -> None:
    # Three lots go into the cooler on Wednesday 18 November and would be potted on Tuesday the 17th. By hand, with
    # 20 min + 3 min a pot to pot and 10 min + 0.5 min a pot into the cooler: lots of 54 pots take 3.03 h to pot, and
    # 1.85 h for all three into the cooler. One lot sooner leaves 7.92 h and 3.03 h; a second would leave 4.88 h and
    # 6.07 h, a gain of 1.85 h. Lots of 66 pots: 3.63 h, and 2.15 h for all three, which the second lot gains.
    assert potted(plan(three(54), date(2026, 9, 1))) == [13, 17, 17]
    assert potted(plan(three(66), date(2026, 9, 1))) == [13, 13, 17]


@pytest.mark.parametrize(("hours", "days"), [(20.0, [16, 17, 17]), (14.0, [13, 16, 17])])
def test_a_week_well_within_its_hours_is_not_spared(hours: float, days: list[int]) -> None:
    # By hand, as above: the week of lots of 54 pots has 10.95 h, below three quarters of 20 h (15 h) and above those of
    # 14 h (10.5 h). A day takes a third of the week's: of 3 * 3.03 h one lot leaves the Tuesday where that is 6.67 h,
    # of two another where it is 4.67 h.
    assert potted(plan(three(54, hours_per_week=hours), date(2026, 9, 1))) == days


def test_potting_stays_where_it_is_too_late_or_the_bulbs_are_not_there_or_it_is_done() -> None:
    assert potted(plan(three(66), date(2026, 11, 13))) == [13, 13, 17]
    assert potted(plan(three(66), date(2026, 11, 14))) == [17, 17, 17]
    # In hand on the 13th they are unpacked in that week too: 15 min and 0.1 min a pot, 0.58 h, so that the second lot
    # would gain 2.15 - 0.58 h, less than two.
    assert potted(plan(three(66, bulbs_in_hand=date(2026, 11, 13)), date(2026, 9, 1))) == [13, 17, 17]
    assert potted(plan(three(66, bulbs_in_hand=date(2026, 11, 16)), date(2026, 9, 1))) == [17, 17, 17]
    log = tuple(LogEntry(date(2026, 11, 17), name, "potted") for name in "ABC")
    assert potted(plan(three(66, log=log), date(2026, 11, 17))) == [17, 17, 17]


@pytest.mark.parametrize("seed", range(4))
def test_levelling_never_makes_the_busiest_week_busier_and_moves_nothing_else(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    stated = drawn_season(20, 2, 3, seed, room=2.0, days=30)
    level = plan(stated, date(2026, 9, 1))
    monkeypatch.setattr("forcing.engine.plan.levelled", lambda season, plans, *_: plans)
    plain = plan(stated, date(2026, 9, 1))
    assert max(weekly(level).values()) <= max(weekly(plain).values()) + 1e-9
    assert sum(weekly(level).values()) == pytest.approx(sum(weekly(plain).values()))
    for one, other in zip(level.lots, plain.lots, strict=True):
        assert one.potting <= other.potting and one.steps[1:] == other.steps[1:]
        assert (other.potting - one.potting).days < 14 and MON_FRI.works(one.potting)


def test_levelled_seasons_keep_the_order_of_rows_out_of_it() -> None:
    stated = drawn_season(15, 1, 2, 3, room=2.0, days=10)
    turned = replace(stated, lots=tuple(reversed(stated.lots)))
    one, other = plan(stated, date(2026, 9, 1)), plan(turned, date(2026, 9, 1))
    assert {p.lot.name: p.potting for p in one.lots} == {p.lot.name: p.potting for p in other.lots}


def test_a_plan_that_the_independent_count_finds_broken_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(audit, "broken", lambda *_: ("A blooms after its target",))
    made = plan(season([tulips("A", 20)], places=(COLD, BENCH_60), overrides=FIGURES))
    finding = next(f for f in made.findings if f.code == "plan-broken")
    assert finding.severity == "error" and "A blooms after its target" in finding.message


# ---------------------------------------------------------------- a few lots at a time


def polished(problem: Problem, answer: Answer, limits: Limits) -> Answer:
    """The answer after rounds of a few lots."""
    found = Searching(problem, Effort(limits, len(answer)), silent, answer)
    found.rounds(1.0)
    return found.best


@pytest.mark.parametrize("seed", range(4))
def test_a_plain_answer_is_polished_to_the_optimum_of_brute_force(seed: int) -> None:
    # With no more lots than are placed anew together, one round is the whole season.
    problem = problem_of(drawn_season(4, 1, 2, seed, room=1.6, days=20))
    plain = earliest_first(problem)
    if None in plain:
        pytest.skip("the plain answer leaves a lot out, and polishing keeps it out")
    cost = key(problem, polished(problem, plain, EXACT))[3]
    assert cost == pytest.approx(brute_force(problem)[1], abs=1e-3)


def test_polishing_gains_places_no_fewer_and_overfills_nothing() -> None:
    problem = problem_of(drawn_season(40, 2, 3, 5, room=1.25, days=25))
    plain = earliest_first(problem)
    better = polished(problem, plain, UNHURRIED)
    assert [pick is None for pick in better] == [pick is None for pick in plain]
    assert key(problem, better)[3] < key(problem, plain)[3]
    standing = usage_of(problem, better)
    assert all(float(standing.taken[p].max()) <= room + 1e-6 for p, room in problem.room.items())


def test_hours_that_own_jobs_take_are_not_there_for_potting(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("forcing.engine.plan.levelled", lambda season, plans, *_: plans)
    # By hand: three lots of 60 pots take 3 x 3.33 h to pot and 3 x 0.67 h into the cooler, 12 h in the week of
    # 17 November, which a limit of 13 h allows. A job of 6 h that week leaves 7: two lots at least are potted sooner.
    lots = [tulips(name, 60) for name in "ABC"]
    places = (COLD, Place("Bench", "bench", 500, day=16, night=16))
    stated = season(lots, places=places, overrides=FIGURES, calendar=MON_FRI, hours_per_week=13.0)
    opens = stated.span.start
    job = Job("Signs", "paint", (opens - date(2026, 11, 18)).days, hours=6.0)
    made = plan(replace(stated, jobs=(job,)), date(2026, 9, 1))
    assert [t.date for t in made.tasks if "Signs" in t.key] == [date(2026, 11, 18)]
    assert max(weekly(made).values()) <= 13.0 + 1e-6 and "hours-short" not in codes(made)
    assert sum(p.potting < date(2026, 11, 16) for p in made.lots) >= 2
