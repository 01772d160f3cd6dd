"""Steering: what it advises is carried out here in plain loops, and compared with every answer there is."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from forcing.dates import WorkCalendar
from forcing.engine.outlook import outlook_of
from forcing.engine.steering.choices import set_up
from forcing.engine.steering.steer import Steering
from forcing.model import Display, LogEntry, Lot, Place, Season, Setpoint
from forcing.units import c_to_f
from tests.builders import EVERY_DAY, MON_FRI
from tests.steer_cases import (
    BASE,
    NEED,
    ON,
    bench,
    brute_force,
    case,
    random_case,
    simulate,
    steered,
    work,
    worked,
)


def days(count: int) -> timedelta:
    return timedelta(days=count)


def unstamped(answer: Steering) -> Steering:
    return replace(answer, seconds=0.0)


# ---------------------------------------------------------------- one bench, by hand


def test_a_late_bench_is_set_warmer() -> None:
    # 10 days at 15 °C: 130 of 300 °C·d. The 170 left take 13.1 days at 15 °C, so bloom is day 14; wanted day 10:
    # 170/10 = 17 °C·d a day, so 19 °C on all days, or warmer first. One change is enough.
    answer = steered(case([("A", 20, "Bench", 10, 10)], [bench("Bench", 15)]))
    (setting,) = answer.settings
    assert (setting.place, setting.span.start, setting.mean, setting.basis) == ("Bench", ON, 19.0, "steered")
    (outcome,) = answer.lots
    assert (outcome.off_before, outcome.off_after) == (4, 0)
    assert outcome.before.likely == ON + days(14)
    assert answer.words[0].startswith("Set Bench to ")
    assert "instead of 15 °C" in answer.words[0]


def test_an_early_bench_is_set_cooler() -> None:
    # 130 of 300 °C·d had; wanted on day 17: 170/17 = 10 °C·d a day, 12 °C; 12.5 °C blooms on day 17 too
    # (16 days give 168, 17 give 178.5).
    answer = steered(case([("A", 20, "Bench", 10, 17)], [bench("Bench", 15)]))
    assert answer.lots[0].off_after == 0
    assert len(answer.settings) == 1
    assert simulate(case([("A", 20, "Bench", 10, 17)], [bench("Bench", 15)]), answer) == {"A": 0}


def test_day_and_night_keep_their_difference_inside_the_limits() -> None:
    # Mean 15 with 18 by day and 12 by night; highest 20 is for the day, so the mean may be 17 at most.
    # 7 days at 13: 91 had, 209 left at 15 a day: 13.9, bloom on day 14 at best; at 16.5 it would be day 15.
    place = Place("Bench", "bench", day=18, night=12, lowest=8, highest=20)
    stated = case([("A", 20, "Bench", 7, 10)], [place])
    answer = steered(stated)
    assert answer.settings[0].day == 20
    assert answer.settings[0].night == 14
    assert answer.lots[0].after.likely == ON + days(14)


def test_a_lot_that_cannot_be_saved_is_told_with_its_best_date() -> None:
    # 2 days at 15 °C: 26 had, 274 left; at the hottest 20 °C 18 a day: 15.2 days, bloom on day 16, target day 8.
    stated = case([("A", 20, "Bench", 2, 8)], [bench("Bench", 15)])
    answer = steered(stated)
    assert answer.lots[0].soonest == ON + days(16) == date(2027, 3, 17)
    told = answer.words[-1]
    assert "A (20 pots, target 2027-03-09) cannot be saved" in told
    assert "it blooms on 2027-03-17, 8 days late" in told
    assert answer.lots[0].after.likely == ON + days(16)


def test_nothing_off_target_nothing_to_change() -> None:
    # 130 had, 170 left at 13 a day: 13.1, bloom on day 14.
    for target in (13, 14, 15):
        answer = steered(case([("A", 20, "Bench", 10, target)], [bench("Bench", 15)]))
        assert not work(answer)
        assert answer.settings == answer.moves == answer.holds == ()
        assert answer.words == ("Nothing to change: every lot is expected within a day of its target.",)
    assert work(steered(case([("A", 20, "Bench", 10, 16)], [bench("Bench", 15)])))


def test_nothing_that_helps_is_told_as_such() -> None:
    # The bench cannot be set to anything else: lowest and highest are what it is set to.
    answer = steered(
        case([("A", 20, "Bench", 10, 10)], [bench("Bench", 15, 15, 15)], figures={"hold_max": 0})
    )
    assert not work(answer)
    assert answer.words[0].startswith("Nothing to change: no setting, move or hold")
    assert "A (20 pots, target 2027-03-11) cannot be saved" in answer.words[1]
    assert answer.lots[0].before == answer.lots[0].after


def test_no_lot_on_a_bench() -> None:
    answer = steered(case([], [bench("Bench", 15)]))
    assert (answer.span, answer.lots, answer.settings) == (None, (), ())
    assert answer.words[0].startswith("Nothing to change: no lot is on a bench")


def test_bloomed_faded_and_set_out_lots_are_left_alone() -> None:
    stated = case([("A", 20, "Bench", 20, 3), ("B", 20, "Bench", 10, 10)], [bench("Bench", 15)])
    stated = replace(stated, log=(*stated.log, LogEntry(ON - days(1), "A", "bloom")))
    assert [o.lot for o in steered(stated).lots] == ["B"]


# ---------------------------------------------------------------- several benches and lots


def test_a_late_lot_moves_to_a_warmer_bench_when_it_cannot_be_warmed_where_it_is() -> None:
    # Benches fixed at 15 and 19 °C: 170 left at 17 a day is day 10.
    places = [bench("Cool", 15, 15, 15), bench("Warm", 19, 19, 19)]
    answer = steered(case([("A", 20, "Cool", 10, 10)], places))
    assert [(m.lot, m.pots, m.place, m.to, m.on) for m in answer.moves] == [("A", 20, "Cool", "Warm", ON)]
    assert answer.settings == ()
    assert answer.lots[0].off_after == 0
    assert "Move A (20 pots) from Cool to Warm on 2027-03-01." in answer.words


def test_a_full_bench_takes_no_more() -> None:
    # A: 208 had, 92 left: day 8 at 15 °C, day 6 at 19 °C. B: 272 had, 28 left: day 2 at 19, day 3 at 15 °C, and
    # 45 pots a day late cost more than 20 pots two days late, so that B does not make room.
    places = [bench("Cool", 15, 15, 15), bench("Warm", 19, 19, 19, pots=64)]
    lots = [("A", 20, "Cool", 16, 6), ("B", 45, "Warm", 16, 2)]
    answer = steered(case(lots, places, figures={"hold_max": 0}))
    assert not work(answer)
    roomy = [places[0], replace(places[1], pots=65.0)]
    (move,) = steered(case(lots, roomy, figures={"hold_max": 0})).moves
    assert (move.lot, move.to) == ("A", "Warm")


def test_moves_only_on_working_days_and_at_the_start_of_weeks() -> None:
    # On a Saturday, with a holiday on the Monday: the first day to act is Tuesday.
    on = date(2027, 3, 6)
    calendar = WorkCalendar(frozenset(range(5)), frozenset({date(2027, 3, 8)}))
    places = [bench("Cool", 15, 15, 15), bench("Warm", 20, 20, 20)]
    answer = steered(case([("A", 20, "Cool", 5, 14)], places, on=on, calendar=calendar), on)
    assert [m.on for m in answer.moves] in ([date(2027, 3, 9)], [date(2027, 3, 15)])
    warm = case([("A", 20, "Bench", 5, 14)], [bench("Bench", 15)], on=on, calendar=calendar)
    assert all(calendar.works(s.span.start) for s in steered(warm, on).settings)


def test_pots_count() -> None:
    # One bench, one lot wants 19 °C, one 12 °C: the one with more pots has its way, whichever it is.
    for many, few in ((90, 10), (10, 90)):
        lots = [("late", many, "Bench", 10, 10), ("early", few, "Bench", 10, 17)]
        answer = steered(case(lots, [bench("Bench", 15)], figures={"hold_max": 0}))
        off = {o.lot: abs(o.off_after) for o in answer.lots}
        assert off["late" if many > few else "early"] == 0
        assert off["early" if many > few else "late"] > 0


def test_limits_of_every_lot_on_a_bench_hold() -> None:
    # The house says 16 °C at most; the bench could do 20. 91 had, 209 left: 14.9 days at 16 °C, 15.5 at 15.5 °C.
    stated = case([("A", 20, "Bench", 7, 10)], [bench("Bench", 15)], figures={"bench_high": 16})
    answer = steered(stated)
    assert max(s.mean for s in answer.settings) == 16
    assert "steer-blasting" in {f.code for f in answer.findings}
    assert all(curve.means[-1] <= 16 for curve in answer.curves)


def test_a_bench_outside_a_lots_limits_may_stay_but_is_told() -> None:
    # Set to 22 although 16 is the most that A stands; a lot on time there, and another that is late.
    lots = [("A", 20, "Hot", 5, 11), ("B", 30, "Bench", 10, 10)]
    stated = case(lots, [bench("Hot", 22, 22, 22), bench("Bench", 15)], figures={"bench_high": 20})
    answer = steered(stated)
    assert "steer-outside-limits" in {f.code for f in answer.findings}
    assert not [s for s in answer.settings if s.place == "Hot"]


def test_warmth_is_warned_of() -> None:
    answer = steered(case([("A", 20, "Bench", 10, 10)], [bench("Bench", 15)]))
    assert "steer-warmer" in {f.code for f in answer.findings}
    assert "stems" in next(f.message for f in answer.findings if f.code == "steer-warmer")
    cooler = steered(case([("A", 20, "Bench", 10, 17)], [bench("Bench", 15)]))
    assert cooler.findings == ()


# ---------------------------------------------------------------- holds, finishing outdoors, lots to come


def cold_case(until: int, **figures: float) -> Season:
    cold = Place("Cold", "cooler", day=1, night=1)
    stated = case([("A", 20, "Bench", 18, until)], [bench("Bench", 15, 15, 15)], figures=figures)
    return replace(stated, places=(cold, *stated.places[1:]))


def test_an_early_lot_in_colour_is_held_cold() -> None:
    # 18 days at 13: 234 of 300. In colour from 255, on day 2 (260). Bloom on day 6 (312). Wanted on day 11: held for
    # 5 days, in which 1 °C gives nothing.
    answer = steered(cold_case(11))
    into, back = answer.holds
    assert (into.place, into.to, back.place, back.to) == ("Bench", "Cold", "Cold", "Bench")
    assert (back.on - into.on).days == 5
    assert ON + days(2) <= into.on < ON + days(6)
    assert answer.lots[0].off_after == 0
    assert simulate(cold_case(11), answer) == {"A": 0}


def test_a_hold_is_never_longer_than_the_lot_stands() -> None:
    answer = steered(cold_case(18, hold_max=4))
    into, back = answer.holds
    assert (back.on - into.on).days == 4
    assert answer.lots[0].after.likely == ON + days(10)
    assert "cannot be kept back to its target" in answer.words[-1]


def test_a_cooler_that_is_not_cold_enough_holds_nothing() -> None:
    stated = cold_case(11)
    mild = Place("Cold", "cooler", day=9, night=9)
    assert steered(replace(stated, places=(mild, *stated.places[1:]))).holds == ()


def test_finishing_outdoors_is_reckoned_with() -> None:
    # Set out on day 6 to a site at 7 °C (5 °C·d a day). At 15 °C it has 130 + 78 by then, and 92 left: day 25.
    # At 19.5 °C: 130 + 105, and 65 left: 13, day 19. At 19: 130 + 102, and 68 left: day 20. Wanted day 19.
    site = Place("Site", "site", day=7, night=7)
    stated = case([("A", 20, "Bench", 10, 19)], [bench("Bench", 15), site])
    lot = replace(stated.lots[0], display="Show", install=ON + days(6))
    show = Display("Show", 1, "Site", stated.span)
    stated = replace(stated, lots=(lot,), displays=(show,))
    answer = steered(stated)
    assert answer.lots[0].before.likely == ON + days(25)
    assert answer.lots[0].after.likely == ON + days(19)
    assert [s.mean for s in answer.settings] == [19.5]


def test_a_lot_to_come_may_be_brought_to_another_bench() -> None:
    # B comes in on day 3 as planned for the cool bench, which is to be heated for A; it fits the mild one.
    stated = case([("A", 50, "Cool", 10, 10)], [bench("Cool", 15), bench("Mild", 15, 15, 15)])
    other = Lot("B", "tulip", 20, "mid", pot_cm=15.0, target=ON + days(27), cooler="Cold", bench="Cool")
    cooler_in = ON - days(7 * 16)
    log = (
        LogEntry(cooler_in - days(1), "B", "potted"),
        LogEntry(cooler_in, "B", "cooler in", place="Cold"),
    )
    stated = replace(stated, lots=(*stated.lots, other), log=(*stated.log, *log))
    answer = steered(stated)
    assert {o.lot: abs(o.off_after) <= 1 for o in answer.lots} == {"A": True, "B": True}


def test_a_forecast_reading_is_not_steered_against() -> None:
    from forcing.model import Reading

    stated = case([("A", 20, "Bench", 10, 10)], [bench("Bench", 15)])
    readings = tuple(Reading("Bench", ON + days(i), mean=15.0, kind="forecast") for i in range(30))
    assert not work(steered(replace(stated, readings=readings)))


def test_a_setpoint_already_stated_in_the_time_ahead_is_kept_or_replaced() -> None:
    # Stated: 20 °C from day 5 on. 130 + 5·13 = 195 on day 5, then 18 a day: 5.8, bloom on day 11. Wanted day 14.
    stated = case([("A", 20, "Bench", 10, 14)], [bench("Bench", 15)])
    stated = replace(stated, setpoints=(Setpoint("Bench", ON + days(5), 20, 20),))
    answer = steered(stated)
    assert answer.lots[0].before.likely == ON + days(11)
    assert answer.lots[0].off_after == 0


# ---------------------------------------------------------------- against other ways to the answer


def test_unchanged_expectation_is_the_outlook() -> None:
    made = worked(random_case(5))
    setup = set_up(made, ON, 7)
    assert setup is not None
    for live in setup.lots:
        simulation = next(t for t in made.simulations if t.lot.name == live.name)
        outlook = outlook_of(simulation, ON)
        assert outlook is not None
        assert (live.bloom.early, live.bloom.likely, live.bloom.late) == (
            outlook.early, outlook.likely, outlook.late,
        )  # fmt: skip


@pytest.mark.parametrize("seed", range(20))
def test_feasible_cases_land_within_a_day(seed: int) -> None:
    stated = random_case(seed)
    answer = steered(stated)
    landed = simulate(stated, answer)
    assert all(abs(off) <= 1 for off in landed.values()), landed
    assert {o.lot: o.off_after for o in answer.lots} == landed
    within_limits(stated, answer)


def within_limits(stated: Season, answer: Steering) -> None:
    for setting in answer.settings:
        place = stated.place(setting.place)
        assert place.lowest is not None and place.highest is not None
        assert place.lowest <= min(setting.day, setting.night)
        assert max(setting.day, setting.night) <= place.highest
        assert 8 <= setting.mean <= 22  # the house's limits of the crop
        assert setting.mean * 2 == round(setting.mean * 2)
        assert stated.calendar.works(setting.span.start)
    assert len({m.lot for m in answer.moves}) == len(answer.moves)
    assert all(stated.calendar.works(m.on) for m in (*answer.moves, *answer.holds))


def score(answer: Steering, stated: Season) -> tuple[int, int, int]:
    """Pots × days off, changes counted from the settings by hand, and moves."""
    off = sum(o.pots * abs(o.off_after) for o in answer.lots)
    changes = 0
    assert answer.span is not None
    for place in (p for p in stated.places if p.kind == "bench"):
        now = place.day
        mine = [s for s in answer.settings if s.place == place.name]
        for day in answer.span:
            then = next((s.mean for s in mine if day in s.span), place.day)
            changes += then != now
            now = then
    return off, changes, len(answer.moves)


def small_cases() -> dict[str, tuple[Season, int, dict[str, float]]]:
    """Case, day after the last that is steered (the later of target + 1 and the likely bloom), capacities."""
    one = [bench("Bench", 15, 14, 17)]
    two = [bench("Cool", 14, 13, 14.5), bench("Warm", 16, 16, 17, pots=40)]
    return {
        "two lots that pull apart": (
            case([("A", 30, "Bench", 10, 12), ("B", 20, "Bench", 5, 20)], one, figures={"hold_max": 0}), 21, {},
        ),
        "three lots, two weeks": (
            case([("A", 7, "Bench", 12, 9), ("B", 5, "Bench", 9, 16), ("C", 6, "Bench", 11, 11)], one,
                 figures={"hold_max": 0}), 17, {},
        ),
        "two benches, one with little room": (
            case([("A", 30, "Cool", 12, 9), ("B", 20, "Warm", 12, 12), ("C", 15, "Cool", 13, 8)], two,
                 figures={"hold_max": 0}), 13, {"Warm": 40},
        ),
        "two benches, changing places": (
            case([("A", 25, "Cool", 12, 9), ("B", 20, "Warm", 12, 13)], two, figures={"hold_max": 0}), 14, {"Warm": 40},
        ),
    }  # fmt: skip


@pytest.mark.parametrize("name", small_cases())
def test_small_cases_equal_every_answer_there_is(name: str) -> None:
    stated, end, capacity = small_cases()[name]
    answer = steered(stated, tolerance=0)
    assert answer.span is not None
    assert answer.span.end == ON + days(end)
    assert score(answer, stated) == brute_force(stated, answer.span.end, capacity)
    assert simulate(stated, answer) == {o.lot: o.off_after for o in answer.lots}


# ---------------------------------------------------------------- properties


def test_the_same_again() -> None:
    stated = random_case(3)
    assert unstamped(steered(stated)) == unstamped(steered(stated))
    assert unstamped(steered(stated, threads=2)).settings == steered(stated).settings


@given(
    until=st.lists(st.integers(4, 30), min_size=1, max_size=4),
    since=st.integers(0, 15),
    working=st.sampled_from((EVERY_DAY, MON_FRI)),
    pots=st.sampled_from((None, 60.0)),
)
@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_never_worse_and_never_beyond_limits(
    until: list[int], since: int, working: WorkCalendar, pots: float | None
) -> None:
    benches = [bench("Bench 1", 15, 10, 18, pots), bench("Bench 2", 16, 12, 20, pots)]
    lots = [(f"L{i}", 10 + i, f"Bench {i % 2 + 1}", max(0, since - i), day) for i, day in enumerate(until)]
    stated = case(lots, benches, calendar=working)
    answer = steered(stated)
    assert sum(o.pots * abs(o.off_after) for o in answer.lots) <= sum(
        o.pots * abs(o.off_before) for o in answer.lots
    )
    for outcome in answer.lots:
        assert outcome.soonest <= outcome.after.likely <= outcome.latest
    within_limits(stated, answer)


def test_fahrenheit_seasons_get_whole_degrees() -> None:
    fahrenheit = Place("Bench", "bench", day=(59 - 32) / 1.8, night=(59 - 32) / 1.8, lowest=10, highest=20)
    stated = replace(case([("A", 20, "Bench", 10, 10)], [fahrenheit]), unit="F")
    answer = steered(stated)
    assert answer.lots[0].off_after == 0
    for setting in answer.settings:
        assert c_to_f(setting.mean) == pytest.approx(round(c_to_f(setting.mean)), abs=1e-4)
    assert "°F" in answer.words[0]


def test_curves_show_what_each_mean_would_bring() -> None:
    stated = case([("A", 20, "Bench", 10, 10)], [bench("Bench", 15)])
    (curve,) = steered(stated).curves
    assert (curve.bench, curve.lots) == ("Bench", ("A",))
    assert curve.now == (15.0, 4.0)
    assert curve.chosen[1] == 0.0
    for mean, off in zip(curve.means, curve.days_off, strict=True):
        left, day = NEED - 130, 0
        while left > 1e-6:  # by hand: constant mean to the last steered day (14), then 15 °C again
            left -= (mean if day < 14 else 15) - BASE
            day += 1
        assert off == abs(day - 10), mean


def test_the_solver_is_not_heard() -> None:
    code = (
        "from tests.steer_cases import case, bench, steered\n"
        "print('before')\n"
        "made = steered(case([('A', 20, 'Bench', 10, 10)], [bench('Bench', 15)]))\n"
        "print('after', len(made.settings) > 0)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["before", "after", "True"]
