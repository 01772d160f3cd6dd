"""The autumn allocation against brute force, an independent count, and seasons built to fit or not to fit.

Figures of the crop are the tests' own (FIGURES of test_rooms_and_tasks): by hand, a tulip for 20 March is brought in on
24 February (24 days at its reference) and goes into the cooler on 18 November (14 weeks).
"""

from __future__ import annotations

import itertools
import math
import random
import re
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forcing.dates import WorkCalendar
from forcing.engine.allocation import allocate as face
from forcing.engine.allocation import audit
from forcing.engine.allocation.milp import Limits, peak_days, relaxed
from forcing.engine.allocation.options import dates_of, exact
from forcing.engine.allocation.problem import Problem, key, usage_of
from forcing.engine.allocation.search import earliest_first, good_start, search
from forcing.engine.backward import plan_lot
from forcing.engine.climate import build_climate
from forcing.engine.simulate import simulation_of
from forcing.model import Display, LogEntry, Lot, LotPlan, Place, Plan, Season, Setpoint
from tests.allocation_seasons import drawn_season, problem_of, tight_season
from tests.builders import EVERY_DAY, MON_FRI, RecipeBook, Span, house_figures, plan, season, seen_on
from tests.season_text import season as read_season_text

TARGET = date(2027, 3, 20)
FIGURES = house_figures(
    "tulip", cold_min=12, cold_target=14, cold_max=18, base=2, cap=20, reference=16, bench_days=24,
    bench_days_min=12, days_saved=0, rooting=3, rooting_at=9, cooled_at=5, kept_at=1, sprouting=10,
)  # fmt: skip
UNHURRIED = Limits(seconds=math.inf)  # ended by its count of nodes, on a busy machine too
EXACT = replace(UNHURRIED, gap=0.0)


def silent(text: str) -> None:
    """Progress that nobody watches."""


def tulips(name: str, pots: int, **other: object) -> Lot:
    return Lot(name, "tulip", pots, **({"target": TARGET} | other))  # type: ignore[arg-type]


def codes(made: Plan) -> set[str]:
    return {f.code for f in made.findings}


def bench_of(made: Plan, name: str) -> str | None:
    return next(s.place for s in made.lot(name).steps if s.step == "bench")


# ---------------------------------------------------------------- dates


def test_dates_looked_up_are_the_dates_of_the_engine() -> None:
    rng, book = random.Random(5), RecipeBook.from_overrides(())
    compared = 0
    for _ in range(25):
        stated, lot = a_lot_on_its_way(rng)
        climate = build_climate(stated)
        recipe = book.recipe(lot.crop, lot.bloom_class, None)
        for cooler, bench in itertools.product(("C1", "C2"), ("B1", "B2")):
            simulation = simulation_of(stated, climate, lot, recipe, cooler, bench)
            for weeks in (recipe.cold_min, recipe.cold_target, recipe.cold_max):
                answer = plan_lot(replace(simulation, lot=replace(lot, cold_weeks=weeks)))
                found = dates_of(simulation, (weeks,))
                assert bool(found) == isinstance(answer, LotPlan)
                if isinstance(answer, LotPlan):
                    theirs = exact(climate, answer)
                    mine = found[0]
                    assert mine.stands[0][:2] == (cooler, theirs.cooler_in)
                    for name in ("potting", "cooler_in", "rooted", "bring_in", "bloom", "stages"):
                        assert getattr(mine, name) == getattr(theirs, name), (lot, cooler, bench, weeks, name)
                    assert where(mine.stands) == where(theirs.stands)
                    compared += 1
    assert compared > 200


def where(stands: tuple[tuple[str, int, int], ...]) -> set[tuple[str, int]]:
    return {(place, day) for place, start, end in stands for day in range(start, end)}


def a_lot_on_its_way(rng: random.Random) -> tuple[Season, Lot]:
    days_off = frozenset(date(2026, 12, 24) + timedelta(days=i) for i in range(9))
    places = (
        Place("C1", "cooler", day=9, night=9), Place("C2", "cooler", day=rng.choice([3, 5, 10.5]), night=4),
        Place("B1", "bench", day=18, night=14), Place("B2", "bench", day=15, night=11),
        Place("F", "frame", day=8, night=4), Place("S", "site", day=10, night=3),
    )  # fmt: skip
    crop = rng.choice(["tulip", "hyacinth", "narcissus", "crocus", "muscari", "scilla"])
    lot = Lot(
        "A", crop, 10, rng.choice([None, "early", "mid", "late"]), precooled_weeks=rng.choice([0, 0, 2]),
        target=date(2027, 1, 15) + timedelta(days=rng.randrange(100)), hold_days=rng.choice([0, 0, 3]),
        cooler_after_rooting=rng.choice([None, None, "C2"]),
    )  # fmt: skip
    shows: tuple[Display, ...] = ()
    if rng.random() < 0.6:
        assert lot.target is not None
        out = rng.choice([None, lot.target - timedelta(days=rng.randrange(-5, 12))])
        lot = replace(lot, display="D", install=out, harden_at=rng.choice([None, "F"]), harden_days=4)
        shows = (Display("D", 4, "S", Span(date(2027, 3, 20), date(2027, 4, 20))),)
    stated = season(
        [lot], places=places, displays=shows, confidence=rng.choice([0.5, 0.5, 0.8, 0.3]),
        calendar=rng.choice([EVERY_DAY, MON_FRI, WorkCalendar(frozenset(range(5)), days_off)]),
        bulbs_in_hand=rng.choice([None, None, date(2026, 10, 1)]),
        setpoints=(Setpoint("C1", date(2026, 12, 5), 5, 5),),
    )  # fmt: skip
    return stated, lot


def test_a_load_is_highest_on_a_peak_day() -> None:
    assert peak_days([]) == []
    assert peak_days([(3, 9)]) == [3]
    assert peak_days([(1, 4), (2, 6), (4, 8)]) == [2, 4]  # on day 4 one leaves and one comes
    rng = random.Random(1)
    for _ in range(50):
        stays = [(a, a + rng.randint(1, 9)) for a in (rng.randrange(40) for _ in range(8))]
        load = [sum(a <= day < b for a, b in stays) for day in range(60)]
        assert max(load[d] for d in peak_days(stays)) == max(load)


# ---------------------------------------------------------------- the best there is


def brute_force(problem: Problem) -> tuple[float, float]:
    """Pots (and lots) left out and cost of the best answer, by trying every combination of options."""
    best = (float("inf"), float("inf"))
    lots = problem.candidates

    def go(at: int, taken: dict[tuple[str, int], float], left: float, cost: float) -> None:
        nonlocal best
        if (left, cost) >= best:
            return
        if at == len(lots):
            best = (left, cost)
            return
        candidate = lots[at]
        for option in candidate.options:
            stands = where(option.dates.stands)
            if all(
                taken.get(s, 0.0) + candidate.area <= problem.room[s[0]] + 1e-6
                for s in stands
                if s[0] in problem.room
            ):
                for s in stands:
                    taken[s] = taken.get(s, 0.0) + candidate.area
                go(at + 1, taken, left, cost + candidate.lot.pots * option.cost)
                for s in stands:
                    taken[s] -= candidate.area
        if not candidate.kept:
            go(at + 1, taken, left + candidate.lot.pots + 1, cost)

    go(0, {}, 0.0, 0.0)
    return best


@pytest.mark.parametrize("seed", range(24))
def test_small_seasons_reach_the_optimum_of_brute_force(seed: int) -> None:
    rng = random.Random(seed)
    stated = drawn_season(
        4, 1 + seed % 2, 2, seed, room=rng.choice([0.7, 0.9, 1.1, 1.6]), days=rng.choice([8, 25])
    )
    problem = problem_of(stated)
    found = search(problem, EXACT, silent)
    _, left, _, cost = key(problem, found.answer)
    assert (left, cost) == pytest.approx(brute_force(problem), abs=1e-3)


@pytest.mark.parametrize("seed", range(4))
def test_the_bound_of_divided_lots_is_below_the_optimum_and_so_is_that_of_each_option(seed: int) -> None:
    problem = problem_of(drawn_season(3, 1, 2, seed, room=1.3, days=8))
    left, cost = brute_force(problem)
    assert left == 0
    worth = relaxed(problem)
    assert worth is not None and worth.bound <= cost + 1e-6
    for at, candidate in enumerate(problem.candidates):
        for number in range(0, len(candidate.options), 7):
            alone = replace(candidate, options=(candidate.options[number],))
            lots = (*problem.candidates[:at], alone, *problem.candidates[at + 1 :])
            out, dearer = brute_force(replace(problem, candidates=lots, known={}))
            assert out > 0 or worth.bound + worth.dearer[at][number] <= dearer + 1e-6


# ---------------------------------------------------------------- whole seasons


@pytest.mark.parametrize("seed", range(3))
def test_a_season_that_fits_by_construction_is_solved(seed: int) -> None:
    problem = problem_of(tight_season(14, 2, 3, seed))
    found = search(problem, UNHURRIED, silent)
    assert all(found.answer)
    assert key(problem, found.answer)[1:3] == (0, 0)


def test_a_search_that_is_ended_by_its_work_gives_the_same_answer_again() -> None:
    problem = problem_of(drawn_season(20, 2, 3, 3))
    short = replace(UNHURRIED, gap=0.0, work=1e7)
    one, other = (search(problem, short, silent) for _ in range(2))
    assert one == other and one.gap > short.gap


def test_an_allocated_season_is_sound_by_an_independent_count() -> None:
    stated = drawn_season(24, 2, 3, 7, room=1.6, days=30)
    made = plan(stated, date(2026, 9, 1))
    assert not made.unplanned
    assert audit.overfull(stated, made.lots) == ()
    assert audit.broken(stated, made.lots) == ()


def test_the_count_sees_what_is_wrong() -> None:
    made = plan(
        season(
            [tulips("A", 40), tulips("B", 30)],
            places=(Place("Cold", "cooler", 500), BENCH_60),
            overrides=FIGURES,
        )
    )
    over = audit.overfull(made.season, made.lots)
    assert {o.place for o in over} == {"Small"} and over[0].lots == ("A", "B")
    assert over[0].pots == pytest.approx(70)
    assert over[0].day == date(2027, 2, 24)  # bring in, by hand
    late = replace(made.lots[0], bloom=TARGET + timedelta(days=1), cold_weeks=11.9)
    assert len(audit.broken(made.season, [late])) == 2


BENCH_60 = Place("Small", "bench", 60, day=16, night=16)
OTHER_50 = Place("Other", "bench", 50, day=15, night=15)


def test_cold_weeks_move_to_make_room_and_the_lots_stay_in_time() -> None:
    # Two lots of 60 in a cooler of 100. A leaves on 24 February; B is brought in 90 days later, so that 14 weeks
    # (98 days) would have it come while A is there. 13 weeks (91 days) would too; 12 weeks (84 days) would not.
    later = TARGET + timedelta(days=90)
    lots = [tulips("A", 60, bench="Bench"), tulips("B", 60, bench="Bench", target=later)]
    places = (Place("Cold", "cooler", 100, day=9, night=9), Place("Bench", "bench", 500, day=16, night=16))
    made = plan(season(lots, places=places, overrides=FIGURES))
    assert not made.unplanned and "place-overfull" not in codes(made)
    a, b = made.lot("A"), made.lot("B")
    assert a.bring_in == date(2027, 2, 24) and a.cold_wanted == 14
    assert b.cold_wanted == 12 and b.bloom <= later
    assert b.cooler_in == b.bring_in - timedelta(days=84)


def test_stated_cold_weeks_cooler_and_bench_are_kept() -> None:
    lots = [tulips("A", 40, bench="Other", cold_weeks=13), tulips("B", 40), tulips("C", 15, cooler="Store")]
    places = (Place("Cold", "cooler", 500), Place("Store", "cooler", 100, day=5, night=5), BENCH_60, OTHER_50)
    made = plan(season(lots, places=places, overrides=FIGURES))
    a, c = made.lot("A"), made.lot("C")
    assert bench_of(made, "A") == "Other" and a.cold_wanted == 13
    assert {s.place for s in c.steps if s.step in ("root", "cool")} == {"Store"}
    assert bench_of(made, "B") == "Small" and bench_of(made, "C") == "Small"


def test_nothing_is_searched_where_nothing_is_open_or_the_ideal_fits(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: object) -> None:
        raise AssertionError("searched")

    monkeypatch.setattr(face, "search_keeping_cold", never)
    places = (Place("Cold", "cooler", 500), BENCH_60)
    fits = plan(season([tulips("A", 60)], places=places, overrides=FIGURES))
    assert fits.lots[0].cooler_in == date(2026, 11, 18)
    over = plan(
        season(
            [tulips("A", 70, cold_weeks=14, cooler="Cold", bench="Small")], places=places, overrides=FIGURES
        )
    )
    assert [f.severity for f in over.findings if f.code == "place-overfull"] == ["warning"]


def test_a_lot_that_has_begun_stays_where_it_is() -> None:
    places = (
        Place("Cold", "cooler", 100, day=9, night=9),
        Place("Store", "cooler", 100, day=9, night=9),
        BENCH_60,
        OTHER_50,
    )
    log = (LogEntry(date(2026, 11, 10), "A", "cooler in", "Store"),)
    lots = [tulips("A", 80), tulips("B", 40), tulips("C", 60)]
    made = plan(season(lots, places=places, overrides=FIGURES, log=log), date(2026, 11, 11))
    a = made.lot("A")
    assert a.cooler_in == date(2026, 11, 10)
    assert {s.place for s in a.steps if s.step in ("root", "cool")} == {"Store"}


def test_rooms_without_temperatures_are_stepped_down_when_their_lots_are_rooted() -> None:
    rooms = (Place("Cold", "cooler", 400), Place("Store", "cooler", 300))
    benches = (Place("B1", "bench", 400, day=16, night=16), Place("B2", "bench", 400, day=15, night=15))
    stated = drawn_season(16, 1, 1, 3, days=30)
    made = plan(replace(stated, places=(*rooms, *benches)), date(2026, 9, 1))
    assert not made.unplanned
    assert not codes(made) & {"stepped-before-rooted", "place-overfull", "rooms-unsettled"}
    for p in made.lots:
        assert p.rooted is not None and p.cold_weeks >= p.recipe.cold_min - 1e-3


# ---------------------------------------------------------------- what does not fit


def test_a_season_that_cannot_fit_says_where_when_whose_and_what_would_mend_it() -> None:
    # 40 + 40 + 40 pots on benches of 60 and 50 at once: one lot of 40 is left, the larger bench lacks 20.
    lots = [
        tulips("A", 40),
        tulips("B", 40),
        tulips("C", 40),
        tulips("D", 30, target=TARGET + timedelta(days=40)),
    ]
    places = (Place("Cold", "cooler", 500), BENCH_60, OTHER_50)
    stated = season(lots, places=places, overrides=FIGURES)
    made = plan(stated)
    assert len(made.unplanned) == 1 and len(made.lots) == 3
    finding = next(f for f in made.findings if f.code == "place-overfull")
    assert finding.severity == "error" and finding.message.startswith("Small is over its capacity of 60 pots")
    assert "2027-W08" in finding.message and "at worst by 20" in finding.message  # from 24 February, a W08
    assert "room for 20 more pots in Small" in finding.hint
    assert "no place has room" in made.unplanned[0].reason
    assert any(f.code == "lot-unplanned" and f.severity == "error" for f in made.findings)
    for more, left in ((20, 0), (19, 1)):
        bigger = tuple(replace(p, pots=p.pots + more) if p.name == "Small" and p.pots else p for p in places)
        assert len(plan(replace(stated, places=bigger)).unplanned) == left


def test_repairs_that_are_told_work() -> None:
    # Both lots name the small bench; the other has room for B alone.
    places = (Place("Cold", "cooler", 500), BENCH_60, OTHER_50)
    lots = [tulips("A", 55, cooler="Cold", bench="Small"), tulips("B", 45, cooler="Cold", bench="Small")]
    stated = season(lots, places=places, overrides=FIGURES)
    made = plan(stated)
    finding = next(f for f in made.findings if f.code == "place-overfull")
    assert len(made.lots) == 2 and finding.severity == "warning"
    assert "A and B contend" in finding.message and "by 40" in finding.message
    assert "give B (45 pots) the bench Other" in finding.hint
    mended = plan(replace(stated, lots=(lots[0], replace(lots[1], bench="Other"))))
    assert "place-overfull" not in codes(mended)


def test_a_lot_that_stands_in_a_room_made_smaller_is_offered_the_other_room() -> None:
    # By hand: three lots of 40 stand in a cooler for 100 since November; seen on Sunday 10 January the weeks gone by
    # cannot be mended, and one lot in the other cooler from Monday on leaves 80.
    lots = [tulips(name, 40, cooler="Warm", bench="Bench") for name in "ABC"]
    places = (
        Place("Warm", "cooler", 100, day=9, night=9), Place("Cold", "cooler", 500, day=5, night=5),
        Place("Bench", "bench", 200, day=16, night=16),
    )  # fmt: skip
    log = tuple(LogEntry(date(2026, 11, 18), name, "cooler in", "Warm") for name in "ABC")
    stated = season(lots, places=places, overrides=FIGURES, calendar=MON_FRI, log=log)
    found = next(f for f in plan(stated, date(2027, 1, 10)).findings if f.code == "place-overfull")
    assert "in 2027-W02" in found.message
    assert "carry A (40 pots) to Cold on 2027-01-11" in found.hint
    moved = LogEntry(date(2027, 1, 11), "A", "cooler in", "Cold")
    after = plan(replace(stated, log=(*log, moved)), date(2027, 1, 11))
    left = [f.days for f in after.findings if f.code == "place-overfull"]
    assert all(days and days[-1] < date(2027, 1, 11) for days in left)  # of the weeks gone by only


def test_fewer_cold_weeks_are_offered_where_they_mend_it() -> None:
    # The cooler holds one lot at a time. A leaves on 24 February; B, stated at 16 weeks, would come on 7 February.
    lots = [
        tulips("A", 60, cold_weeks=14, cooler="Cold", bench="Bench"),
        tulips("B", 60, cold_weeks=16, cooler="Cold", bench="Bench", target=TARGET + timedelta(days=95)),
    ]
    places = (Place("Cold", "cooler", 100, day=9, night=9), Place("Bench", "bench", 500, day=16, night=16))
    stated = season(lots, places=places, overrides=FIGURES)
    finding = next(f for f in plan(stated).findings if f.code == "place-overfull")
    match = re.search(r"([\d.]+) cold-weeks instead of 1[46].0 for (A|B) ", finding.hint)
    assert match is not None, finding.hint
    changed = tuple(replace(x, cold_weeks=float(match[1])) if x.name == match[2] else x for x in lots)
    assert "place-overfull" not in codes(plan(replace(stated, lots=changed)))


def test_a_frame_is_offered_for_some_of_the_pots() -> None:
    places = (
        Place("Cold", "cooler", 90, day=9, night=9), Place("Bench", "bench", 500, day=16, night=16),
        Place("Lath", "frame", 40, day=7, night=3),
    )  # fmt: skip
    lots = [
        tulips("A", 60, cold_weeks=14, cooler="Cold", bench="Bench"),
        tulips("B", 40, cold_weeks=14, cooler="Cold", bench="Bench"),
    ]
    finding = next(
        f for f in plan(season(lots, places=places, overrides=FIGURES)).findings if f.code == "place-overfull"
    )
    assert "10 pots of A in the frame Lath instead" in finding.hint


@pytest.mark.parametrize("seed", range(6))
def test_infeasible_by_construction_names_the_place_and_the_week(seed: int) -> None:
    # Equal lots for one date: the benches take `spaces` of them, one more is given.
    rng = random.Random(seed)
    pots, spaces = rng.randint(10, 40), rng.randint(3, 5)
    benches = [Place(f"B{i}", "bench", pots * (1 + (i == 0)), day=16, night=16) for i in range(spaces - 1)]
    target = TARGET + timedelta(days=rng.randrange(20))
    lots = [tulips(f"L{i}", pots, target=target) for i in range(spaces + 1)]
    made = plan(
        season(lots, places=(Place("Cold", "cooler", 500, day=9, night=9), *benches), overrides=FIGURES)
    )
    assert len(made.unplanned) == 1 and len(made.lots) == spaces
    finding = next(f for f in made.findings if f.code == "place-overfull")
    first = target - timedelta(days=24)  # 24 bench days at the reference, by hand
    assert finding.message.startswith("B") and f"by {pots}" in finding.message
    assert "{}-W{:02d}".format(*first.isocalendar()[:2]) in finding.message


# ---------------------------------------------------------------- hours


@pytest.mark.parametrize("accepted", [False, True])
def test_hours_take_no_more_than_half_a_week_of_cold_unless_the_season_says_so(accepted: bool) -> None:
    # By hand: 60 pots take 20 min + 60 x 3 min = 3.33 h of potting and 10 min + 60 x 0.5 min = 0.67 h into the cooler.
    # Six lots of a day may be potted in its week or the week before: three in each are 10 h and, with the coolers',
    # 14 h, where there are 5.
    lots = [tulips(name, 60) for name in "ABCDEF"]
    room = {"pots": 5000.0, "day": 16.0, "night": 16.0}
    places = (
        Place("Cold", "cooler", 5000, day=9, night=9),
        Place("B1", "bench", **room),
        Place("B2", "bench", **room),
    )
    stated = season(lots, places=places, overrides=FIGURES, calendar=MON_FRI)
    made = plan(replace(stated, hours_per_week=5.0, cold_for_hours=accepted), date(2026, 9, 1))
    price = [f for f in made.findings if f.code == "cold-for-hours"]
    short = [f.number for f in made.findings if f.code == "hours-short"]
    if accepted:
        assert not price and not short and max(abs(p.cold_weeks - 14) for p in made.lots) >= 0.9
    else:
        assert all(abs(p.cold_weeks - 14) <= 0.5 for p in made.lots)
        assert short == pytest.approx([10 - 5, 14 - 5], abs=0.01)
        assert len(price) == 1 and price[0].number == pytest.approx(sum(short), abs=0.01)
        assert "cold for hours" in price[0].hint


def test_lots_that_could_change_places_are_dealt_with_in_order_of_name() -> None:
    # Three equal lots on three benches that hold one each: the names go by the benches, whatever the rows' order.
    benches = [Place(f"B{i}", "bench", 60, day=16, night=16) for i in range(3)]
    lots = [tulips(name, 60) for name in "CAB"]
    stated = season(lots, places=(Place("Cold", "cooler", 500, day=9, night=9), *benches), overrides=FIGURES)
    made = plan(stated, date(2026, 9, 1))
    assert {p.lot.name: bench_of(made, p.lot.name) for p in made.lots} == {"A": "B0", "B": "B1", "C": "B2"}


def test_potting_is_pulled_ahead_of_a_week_that_is_short_of_hours() -> None:
    # By hand: 60 pots take 20 min + 60 x 3 min = 3.33 h of potting a lot; three in a week are 10 h, the limit is 8.
    lots = [tulips(name, 60) for name in "ABC"]
    places = (Place("Cold", "cooler", 500, day=9, night=9), Place("Bench", "bench", 500, day=16, night=16))
    stated = season(lots, places=places, overrides=FIGURES, calendar=MON_FRI)
    made = plan(replace(stated, hours_per_week=8.0), date(2026, 9, 1))
    weeks: dict[tuple[int, int], float] = {}
    for task in made.tasks:
        weeks[task.date.isocalendar()[:2]] = weeks.get(task.date.isocalendar()[:2], 0.0) + task.hours
    assert max(weeks.values()) <= 8.0 + 1e-6 and "hours-short" not in codes(made)
    assert sum(p.cooler_in is not None and p.potting < MON_FRI.before(p.cooler_in) for p in made.lots) >= 1
    assert all(MON_FRI.works(p.potting) and p.steps[0].span.start == p.potting for p in made.lots)


# ---------------------------------------------------------------- properties


@st.composite
def small_seasons(draw: st.DrawFn) -> Season:
    return drawn_season(
        draw(st.integers(1, 5)), draw(st.integers(1, 2)), draw(st.integers(1, 3)), draw(st.integers(0, 10_000)),
        room=draw(st.sampled_from([0.5, 0.9, 1.3])), days=draw(st.integers(1, 30)),
    )  # fmt: skip


@settings(max_examples=15, deadline=None)
@given(small_seasons())
def test_no_day_is_overfull_no_lot_short_of_cold_or_late(stated: Season) -> None:
    made = plan(stated, date(2026, 9, 1))
    assert len(made.lots) + len(made.unplanned) == len(stated.lots)
    assert audit.broken(stated, made.lots) == ()
    if not any(f.code == "place-overfull" and f.severity == "warning" for f in made.findings):
        assert audit.overfull(stated, made.lots) == ()


@settings(max_examples=10, deadline=None)
@given(small_seasons(), st.randoms(use_true_random=False))
def test_the_same_season_gives_the_same_answer_whatever_the_order_of_rows(
    stated: Season, rng: random.Random
) -> None:
    lots, places = list(stated.lots), list(stated.places)
    rng.shuffle(lots)
    rng.shuffle(places)
    one, other = plan(stated), plan(replace(stated, lots=tuple(lots), places=tuple(places)))
    assert {p.lot.name: p.steps for p in one.lots} == {p.lot.name: p.steps for p in other.lots}
    assert {u.lot.name for u in one.unplanned} == {u.lot.name for u in other.unplanned}


def test_nothing_is_left_out_of_a_greedy_plan_that_the_search_leaves_out() -> None:
    for seed in range(3):
        problem = problem_of(drawn_season(16, 2, 3, seed, room=1.2, days=25))
        found = key(problem, search(problem, UNHURRIED, silent).answer)
        for plain in (earliest_first(problem), good_start(problem)):
            assert found[1] <= key(problem, plain)[1]
        for load, room in (
            (usage_of(problem, earliest_first(problem)).taken[p], r) for p, r in problem.room.items()
        ):
            assert load.max() <= room + 1e-6


def test_progress_tells_the_gap_and_the_solver_is_silent(capfd: pytest.CaptureFixture[str]) -> None:
    from forcing.engine.plan import work_out

    stated = drawn_season(14, 1, 3, 4, room=1.25, days=20)
    book, said = RecipeBook.from_overrides(()), list[str]()
    work_out(stated, book, replace(seen_on(date(2026, 9, 1)), progress=said.append))
    assert any("finding places for 14 lots" in text for text in said)
    assert any(re.search(r"places chosen: within [0-9.]+ % of the best", text) for text in said)
    assert capfd.readouterr() == ("", "")
    work_out(stated, book, replace(seen_on(date(2026, 9, 1)), progress=said.append))
    assert any("finding places for 14 lots" in text for text in said)
    assert any(re.search(r"places chosen: within [0-9.]+ % of the best", text) for text in said)
    assert capfd.readouterr() == ("", "")


def test_where_there_is_no_cooler_an_overfull_place_is_told_without_another_cooler_to_offer() -> None:
    # `Cold` was typed as a bench: the lots that name it as their cooler stand there, and there is no cooler at all.
    stated = read_season_text(
        "[places]\nplace | kind | pots | day | night\nCold | bench | 30 | 5 | 5\nBench | bench | 90 | 18 | 14\n"
        "[lots]\nlot | crop | pots | cooler | bench\nA | tulip | 20 | Cold | Bench\nB | tulip | 20 | Cold | Bench\n"
    )
    codes = {finding.code for finding in plan(stated, date(2026, 9, 1)).findings}
    assert "place-overfull" in codes and not any(code.startswith("fault-in") for code in codes)
