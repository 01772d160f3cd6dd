"""The forward run, piece by piece: where a lot goes, when it waits and is held in the cold; reckoned by hand beside it.

As elsewhere: 24 days of 14 °C·d for 20 March is brought in on 24 February, 98 days after 18 November.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest

from forcing.dates import DAY, Span
from forcing.engine.climate import Series, WorkingDays, build_climate
from forcing.engine.log import NOTHING, History, Pin, Stay
from forcing.engine.simulate import LotSimulation, Waiting, simulation_of, suits_hold
from forcing.model import AgreedLot, Display, Lot, Normal, Override, Place, Season, Setpoint
from forcing.recipes.book import RecipeBook
from tests.builders import MON_FRI, house_figures, season

TARGET, COOLED, BROUGHT = date(2027, 3, 20), date(2026, 11, 18), date(2027, 2, 24)  # Saturday, Wednesdays
FIGURES = house_figures(
    "tulip", cold_min=12, cold_target=14, cold_max=18, base=2, cap=20, reference=16, bench_days=24,
    bench_days_min=12, days_saved=0, rooting=3, rooting_at=9, spread=0.1, shoots=0.2, bud=0.5, colour=0.85,
    precooled_max=14, hold=2, hold_max=14,
)  # fmt: skip
ROOMS = (
    Place("Cold", "cooler", day=9, night=9), Place("Bench", "bench", day=16, night=16),
    Place("Hold", "cooler", day=2, night=2), Place("Frame", "frame", day=6, night=6),
    Place("Court", "site", day=7, night=7),
)  # fmt: skip
SHOW = Display("D", 1, "Court", season().span)


def stated(figures: Iterable[Override] = (), places: tuple[Place, ...] = ROOMS, **other: Any) -> Season:
    """One lot A; what is not a column of the season is one of the lot."""
    lot_words = {k: other.pop(k) for k in list(other) if k in Lot.__dataclass_fields__}
    lot = Lot("A", "tulip", 10, **({"target": TARGET} | lot_words))
    return season([lot], places=places, displays=(SHOW,), overrides=(*FIGURES, *figures), **other)


def alone(of: Season, history: History = NOTHING, cooler: str | None = "Cold") -> LotSimulation:
    recipe = RecipeBook.from_overrides(of.overrides).recipe("tulip")
    return simulation_of(of, build_climate(of), of.lots[0], recipe, cooler, "Bench", history)


def stands(simulation: LotSimulation, **other: Any) -> list[tuple[str, str, int]]:
    """Step, place and days since bring in of its stays; none: it cannot be so."""
    need = other.pop("need", 336.0)
    stays = simulation.stays(BROUGHT, need)
    return [] if stays is None else [(s.step, s.place, (s.start - BROUGHT).days) for s in stays]


# ---------------------------------------------------------------- where it goes


def test_a_lot_is_set_out_as_stated_or_on_the_working_day_up_to_its_target() -> None:
    friday = TARGET - DAY
    for calendar, words, out in (
        (MON_FRI, {"display": "D"}, friday),
        (MON_FRI, {"display": "D", "target": None}, friday),  # the day on which the show opens
        (MON_FRI, {"display": "D", "install": TARGET}, TARGET),  # as stated, though nobody works
        (season().calendar, {"display": "D"}, TARGET),
        (MON_FRI, {}, None),
    ):
        found = alone(stated(calendar=calendar, **words))
        assert (found.target, found.set_out()) == (TARGET, out)
    with pytest.raises(KeyError):
        alone(stated(display="Nowhere"))


def test_a_lot_that_was_agreed_is_set_out_as_agreed_while_its_target_is_the_same() -> None:
    for target, out in (
        (TARGET, TARGET - 3 * DAY),
        (TARGET - DAY, TARGET),
    ):  # Wednesday; Saturday is not worked
        lot = AgreedLot("A", 10, target, "Cold", "Bench", 14.0, {"set out": TARGET - 3 * DAY})
        found = alone(stated(display="D", calendar=MON_FRI), History(agreed=Pin(lot, COOLED)))
        assert found.route.install == MON_FRI.on_or_before(out)
    lot = AgreedLot("A", 10, TARGET, "Cold", "Bench", 14.0, {})  # it was agreed without a day
    assert alone(stated(display="D"), History(agreed=Pin(lot, COOLED))).route.install == TARGET


def test_a_lot_is_hardened_so_many_days_from_a_working_day_on() -> None:
    hard = {"display": "D", "install": TARGET - DAY, "harden_at": "Frame", "calendar": MON_FRI}
    route = alone(stated(harden_days=6, **hard)).route  # from Saturday 13 March: Friday
    assert (route.harden_at, route.harden_start) == ("Frame", date(2027, 3, 12))
    for days in (None, 0):
        route = alone(stated(harden_days=days, **hard)).route
        assert (route.harden_at, route.harden_start) == (None, None)
    route = alone(stated(harden_at="Frame", harden_days=6)).route  # it is not set out
    assert (route.harden_at, route.harden_start, route.install) == (None, None, None)


def test_a_lot_is_in_two_coolers_one_or_none() -> None:
    for after, cooler, given, places in (
        ("Hold", "Cold", {}, ("Cold", "Hold")),
        ("Cold", "Cold", {}, ("Cold", None)),  # the same
        (None, "Cold", {}, ("Cold", None)),
        # Its bulbs bring all of their cold, and root on the bench.
        ("Hold", "Cold", {"precooled_weeks": 14.0}, (None, None)),
        ("Hold", "Cold", {"precooled_weeks": 13.0}, ("Cold", "Hold")),
    ):
        figures = house_figures("tulip", rooting=0 if given else 3)
        found = alone(stated(figures, cooler_after_rooting=after, **given), cooler=cooler)
        assert (found.route.cooler, found.route.after_rooting) == places
        assert found.route.last_cooler == (places[1] or places[0]) == found.held_at
    # By its log it was in the cooler all the same.
    logged = History(coolers=(Stay("cool", "Cold", COOLED),), last=COOLED)
    figures = house_figures("tulip", rooting=0)
    assert alone(stated(figures, precooled_weeks=14.0), logged).route.cooler == "Cold"


def test_a_lot_is_moved_to_its_second_cooler_once_rooted_on_a_working_day() -> None:
    # Three weeks from Wednesday 18 November: 9 December. 31 days: Saturday 19 December.
    first, day = Stay("cool", "Cold", COOLED), COOLED + DAY
    for weeks, calendar, moved in (
        (3, season().calendar, date(2026, 12, 9)), (31 / 7, season().calendar, date(2026, 12, 19)),
        (31 / 7, MON_FRI, date(2026, 12, 21)), (0, season().calendar, day),  # at the soonest the day after
        (400, MON_FRI, None),  # it is not known when
    ):  # fmt: skip
        found = alone(
            stated(house_figures("tulip", rooting=weeks), cooler_after_rooting="Hold", calendar=calendar)
        )
        second = () if moved is None else (Stay("cool", "Hold", moved),)
        assert found.cold_stays(COOLED) == (first, *second)
        assert found.rooted(COOLED) == (None if moved is None else COOLED + timedelta(days=round(weeks * 7)))
    # As logged: there already, or still in the first, where it was rooted early.
    there = (first, Stay("cool", "Hold", day))
    two = stated(cooler_after_rooting="Hold")
    assert alone(two, History(coolers=there, last=day)).cold_stays(COOLED) == there
    early = History(coolers=(first,), rooted=COOLED + 9 * DAY, last=day)
    assert alone(two, early).cold_stays(COOLED) == (first, Stay("cool", "Hold", COOLED + 9 * DAY))
    assert alone(stated(), early).cold_stays(COOLED) == (first,)
    assert alone(stated(), cooler=None).cold_stays(COOLED) == ()


def test_the_pots_of_a_lot_are_those_that_are_left() -> None:
    assert alone(stated(), History(lost=3, sold=4)).lot.pots == 3
    assert alone(stated(), History(lost=30)).lot.pots == 0


def test_a_lot_stands_on_its_bench_then_in_the_frame_and_outdoors() -> None:
    out = {"display": "D", "harden_at": "Frame", "harden_days": 4}
    for install, places in (
        (22, [("bench", "Bench", 0), ("harden", "Frame", 18), ("harden", "Court", 22)]),
        (5, [("bench", "Bench", 0), ("harden", "Frame", 1), ("harden", "Court", 5)]),
        (4, [("harden", "Frame", 0), ("harden", "Court", 4)]),  # brought in on the day it goes to the frame
        (1, [("harden", "Frame", 0), ("harden", "Court", 1)]),
        (0, [("harden", "Court", 0)]),
        (-9, [("harden", "Court", 0)]),
    ):
        assert stands(alone(stated(install=BROUGHT + install * DAY, **out))) == places


def test_moves_that_were_agreed_stay_until_the_log_has_gone_past_them() -> None:
    moves = tuple(
        Stay(step, place, BROUGHT + n * DAY)  # type: ignore[arg-type]
        for step, place, n in (("bench", "Warm", 5), ("hold", "Hold", 10), ("bench", "Bench", 15))
    )
    lot = AgreedLot("A", 10, TARGET, "Cold", "Bench", 14.0, {})

    def ahead(*logged: Stay) -> tuple[Stay, ...]:
        return alone(stated(), History(moves=logged, agreed=Pin(lot, BROUGHT, moves))).agreed_moves()

    assert ahead() == moves
    assert ahead(Stay("bench", "Bench", BROUGHT)) == moves
    assert ahead(Stay("bench", "Bench", BROUGHT), Stay("bench", "Warm", BROUGHT + 5 * DAY)) == moves[1:]
    assert ahead(Stay("bench", "Warm", BROUGHT + 4 * DAY)) == moves[1:]  # a day sooner: it is there
    assert ahead(Stay("bench", "Bench", BROUGHT + 6 * DAY)) == moves[1:]  # it never went
    assert ahead(Stay("hold", "Hold", BROUGHT + 11 * DAY)) == moves[2:]
    assert ahead(Stay("bench", "Bench", BROUGHT + 15 * DAY)) == ()
    assert alone(stated(), History(moves=(Stay("bench", "Bench", BROUGHT),))).agreed_moves() == ()


def test_a_lot_leaves_on_its_day_if_it_is_there_by_then_and_not_sold() -> None:
    for days, left in ((0, False), (1, True), (30, True)):
        found = alone(stated(leaves=BROUGHT + days * DAY))
        run = found.run(COOLED, BROUGHT)
        assert run is not None
        assert found.leaves(run) == (BROUGHT + days * DAY if left else None)
        sold = replace(found, history=replace(found.history, ended=BROUGHT))
        assert sold.leaves(run) is None
    assert alone(stated()).leaves(run) is None


# ---------------------------------------------------------------- when it is wanted


@pytest.mark.parametrize(
    ("install", "other", "due"),
    [
        (TARGET - 7 * DAY, {}, TARGET - 7 * DAY),
        (TARGET - 8 * DAY, {}, TARGET),  # more than a week: it finishes outdoors
        (TARGET, {}, TARGET),
        (TARGET + DAY, {}, TARGET),
        (TARGET - 7 * DAY, {"target": TARGET + DAY}, TARGET + DAY),  # a later wave
        (TARGET - 7 * DAY, {"display": None}, TARGET),
    ],
)
def test_a_lot_that_opens_a_display_is_due_when_it_is_set_out(
    install: date, other: dict[str, Any], due: date
) -> None:
    found = alone(stated(**({"display": "D", "install": install} | other)))
    assert found.due == due
    assert replace(found, finishes_outdoors=True).due == found.target


def test_the_first_bloom_of_a_kind_is_counted_from_september() -> None:
    # 20 weeks from 1 September 2026: 140 days, 19 January 2027. 20.1 weeks are 140.7 days.
    for weeks, target, first in (
        (20, TARGET, date(2027, 1, 19)),
        (20.1, TARGET, date(2027, 1, 20)),
        (20, date(2026, 12, 24), date(2027, 1, 19)),
        (20, date(2026, 9, 1), date(2027, 1, 19)),
        (20, date(2027, 8, 31), date(2027, 1, 19)),
        (0, TARGET, None),
    ):
        assert alone(stated(house_figures("tulip", earliest=weeks), target=target)).blooms_from == first
    assert alone(stated(house_figures("tulip", earliest=20), precooled_weeks=1.0)).blooms_from is None


# ---------------------------------------------------------------- rooms to be held in


def hold_suits(day: float, night: float, low: float | None = None) -> bool:
    room = Place("Hold", "cooler", day=day, night=night)
    figures = () if low is None else (Override("tulip", "hold", 2.0, low=low, high=4.0),)
    found = alone(stated(figures, places=(*ROOMS[:2], room)))
    return suits_hold(found.climate, "Hold", found.recipe, slice(100, 110))


def test_a_room_is_one_to_be_held_in_within_two_degrees_of_the_crops_own() -> None:
    # Held at 2 °C: a mean of 4 °C at most, and never below 0, or below the low of the figure.
    assert hold_suits(4, 4) and hold_suits(7, 1) and not hold_suits(4.1, 4.1) and not hold_suits(7.2, 1)
    assert hold_suits(0, 0) and hold_suits(4, 0) and not hold_suits(4, -0.1)
    assert hold_suits(3, 1, low=1.0) and not hold_suits(3, 0.9, low=1.0) and hold_suits(3, -1, low=-1.0)


def test_a_room_of_which_nothing_is_known_is_none_to_be_held_in() -> None:
    # The frame's normals are those of January and February alone: it is known all the year, by what is between.
    found = alone(stated(places=(*ROOMS, Place("Dark", "frame"))))
    assert not suits_hold(found.climate, "Dark", found.recipe, slice(100, 110))
    assert suits_hold(found.climate, "Hold", found.recipe, slice(100, 101))
    assert not suits_hold(found.climate, "Hold", found.recipe, slice(100, 100))


# ---------------------------------------------------------------- waiting in the cold

DAYS = np.arange(61)
EVERY = WorkingDays(DAYS, DAYS, DAYS)


def waits(**other: Any) -> Waiting:
    """Brought in on day 5, 10 °C·d a day on the bench and 1 in the cold, for sixty days; colour is half of the need."""
    heat, cold = Series.of(np.full(60, 10.0)), Series.of(np.ones(60))
    given = {
        "place": "Hold", "first": 5, "heat": heat, "cold": cold, "colour": 0.5, "wanted": 1.0, "soonest": 0,
        "back": 20, "longest": 30, "working": EVERY,
    }  # fmt: skip
    return Waiting(**(given | other))


def test_pots_wait_from_their_colour_until_they_are_taken_back() -> None:
    # Needs of 100, 80 and 310: colour after 50, 40 and 155 °C·d, on days 10, 9 and 21; the last waits not at all.
    needs = np.array([100.0, 80.0, 310.0])
    start, end = waits().spans(needs)
    assert start.tolist() == [10, 9, 21] and end.tolist() == [20, 20, 21]
    # 50 are had by day 10 and 10 more in the cold: 40 take four days. 40, 11 and 29: three days. 31 days of 10.
    assert waits().blooms(needs).tolist() == [24, 23, 36]
    # At most eight days; not before day 12.
    assert [days.tolist() for days in waits(longest=8).spans(needs)] == [[10, 9, 21], [18, 17, 21]]
    assert [days.tolist() for days in waits(soonest=12).spans(needs)] == [[12, 12, 21], [20, 20, 21]]
    # Taken back on day 10, none waits but the quick one, for a day.
    assert waits(back=10).blooms(needs).tolist() == [15, 14, 36]


def test_pots_that_are_in_bloom_in_the_cold_are_so_when_they_are_taken_back() -> None:
    # 8 °C·d a day in the cold: 50 of the 50 that are left after seven days, on day 17.
    warm = waits(cold=Series.of(np.full(60, 8.0)))
    assert warm.blooms(np.array([100.0])).tolist() == [20]


def test_pots_wanted_by_their_colour_do_not_wait_for_it() -> None:
    # 40 of 100 °C·d: four days; 50: five. A little more, and they wait first.
    for wanted, day in ((0.4, 9), (0.5, 10), (0.6, 24)):
        assert waits(wanted=wanted).blooms(np.array([100.0])).tolist() == [day]


def test_pots_are_carried_on_working_days_alone() -> None:
    # Nobody works from day 10 to 12 and from 17 to 19: into the cold on the 13th, and after five days back on the 16th,
    # the last working day up to the 18th.
    off = {10, 11, 12, 17, 18, 19}
    before = np.array([max(d for d in range(day + 1) if d not in off) for day in range(61)])
    after = np.array([min(d for d in range(day, 61) if d not in off) for day in range(61)])
    working = WorkingDays(np.array([d for d in range(61) if d not in off]), before, after)
    start, end = waits(working=working, longest=5).spans(np.array([100.0]))
    assert (start.tolist(), end.tolist()) == ([13], [16])


def test_pots_that_show_colour_only_after_all_days_that_are_known_wait_on_the_last() -> None:
    # 60 days of 10: a need of 1200 has its colour, 600, on no day that is known.
    start, end = waits().spans(np.array([1200.0]))
    assert (start.tolist(), end.tolist()) == ([60], [60])
    assert waits(soonest=61, working=WorkingDays(DAYS, np.append(DAYS, 60), np.append(DAYS, 68))).spans(
        np.array([100.0])
    )[0].tolist() == [60]
    assert waits().blooms(np.array([1200.0])).tolist() == [waits().heat.never]


SURE = {"confidence": 0.9, "hold_at": "Hold"}
# At a chance of 0.9 need * exp(z * sigma) = 336 * 1.1364 = 381.8 °C·d for the slow pot: 27.3 days of 14.


def waiting_of(history: History = NOTHING, need: float = 336.0, **other: Any) -> Waiting | None:
    return alone(stated(**(SURE | other)), history).waiting(BROUGHT - 10 * DAY, need)


def test_a_sure_lot_waits_from_its_colour_until_the_slow_pot_is_due() -> None:
    # Brought in ten days sooner: colour at 285.6 °C·d, on day 21, so on 7 March. The slow pot, with just its colour on,
    # has 0.15 of 381.8 = 57.3 to go: 4.09 days, five before the 20th. But its colour, 324.5, comes on day 24, with 336
    # had, and the 45.8 to go are 3.3 days: all still bloom in time where they go back on the 16th.
    found = waiting_of()
    assert found is not None
    climate = alone(stated()).climate
    assert (found.place, found.first, found.wanted) == ("Hold", climate.index(BROUGHT - 10 * DAY), 1.0)
    assert climate.day(found.back) == date(2027, 3, 16)
    sure = alone(stated(**SURE))
    assert sure.stays(BROUGHT - 10 * DAY, 336.0) == (
        Stay("bench", "Bench", BROUGHT - 10 * DAY), Stay("hold", "Hold", date(2027, 3, 7)),
        Stay("bench", "Bench", date(2027, 3, 16)),
    )  # fmt: skip
    run = sure.run(COOLED - 10 * DAY, BROUGHT - 10 * DAY)
    assert run is not None and run.waiting is not None
    # The typical pot has 294 of 336 on day 21 and nothing at 2 °C: 42 are three days. The slow one 45.8: four.
    assert (run.bloom, run.assured) == (date(2027, 3, 19), TARGET)


def test_a_lot_does_not_wait_where_it_need_not_or_may_not() -> None:
    assert waiting_of(confidence=0.5) is None  # not surer than the typical pot
    assert waiting_of(hold_days=0) is None and waiting_of(hold_days=3) is None  # it says how long
    assert waiting_of(History(stages={"bloom": BROUGHT})) is None  # it is in bloom
    assert waiting_of(History(stages={"bud": BROUGHT})) is not None
    assert waiting_of(target_stage="bud") is None and waiting_of(target_stage="colour") is not None
    assert waiting_of(hold_at="Cold") is None  # 9 °C is too warm
    on, held = Stay("bench", "Bench", BROUGHT - 10 * DAY), Stay("hold", "Hold", BROUGHT)
    assert waiting_of(History(moves=(on,))) is not None and waiting_of(History(moves=(on, held))) is None
    assert waiting_of(target=BROUGHT) is None  # it goes back before it comes


def test_a_lot_waits_two_days_at_least_unless_it_is_told_when_to_go_back() -> None:
    # A need of 300: colour, 255, on day 19. The slow pot's is 340.9: colour on day 21, bloom on day 25, and 51.1 to go
    # from colour, four days: back on 16 March; where that is later than its own colour, none can go back later. Brought
    # in 26, 25 and 24 days before the 20th, colour is on 13, 14 and 15 March.
    for sooner, waited in ((26, True), (25, True), (24, False)):
        assert (alone(stated(**SURE)).waiting(TARGET - sooner * DAY, 300.0) is not None) is waited
    told = replace(alone(stated(**SURE)), back_on=date(2027, 3, 16))
    assert (
        told.waiting(TARGET - 24 * DAY, 300.0) is not None and told.waiting(TARGET - 23 * DAY, 300.0) is None
    )


def test_a_lot_waits_where_it_says_else_where_it_was_cold_last_else_in_any_cooler() -> None:
    cool = (*ROOMS, Place("Also", "cooler", day=3, night=3))
    for words, places, where in (
        ({}, cool, "Also"),  # 9 °C where it was is too warm; of the others the first by name
        ({"cooler_after_rooting": "Hold"}, cool, "Hold"),
        ({"hold_at": "Hold"}, cool, "Hold"),
        ({"hold_at": "Cold"}, cool, None),
        ({}, ROOMS[:2], None),
        ({"hold_at": "Frame"}, ROOMS, None),  # 6 °C is too warm
    ):
        found = waiting_of(places=places, **({"hold_at": None} | words))
        assert (None if found is None else found.place) == where


def test_a_room_that_is_warm_before_the_lot_waits_is_one_to_wait_in() -> None:
    # 9 °C, and 2 °C from 13 March on. With just its colour on the slow pot would go back on the 15th: the 13th and the
    # 14th count. From the 14th on their mean is 5.5 °C.
    warm = (Setpoint("Hold", COOLED, 9, 9), Setpoint("Hold", date(2027, 3, 13), 2, 2))
    found = waiting_of(setpoints=warm)
    assert found is not None and found.place == "Hold"
    assert waiting_of(setpoints=(warm[0], replace(warm[1], start=date(2027, 3, 14)))) is None


def test_what_is_set_out_waits_until_then_and_not_past_it() -> None:
    # Set out on 12 March, on a court of 5 °C·d a day: what goes straight out from the cold does not go to the bench.
    out = {"display": "D", "target": TARGET + 20 * DAY, "install": date(2027, 3, 12)}
    sure = alone(stated(**SURE, **out))
    stays = sure.stays(BROUGHT - 10 * DAY, 336.0)
    assert stays == (
        Stay("bench", "Bench", BROUGHT - 10 * DAY), Stay("hold", "Hold", date(2027, 3, 7)),
        Stay("harden", "Court", date(2027, 3, 12)),
    )  # fmt: skip
    # 294 of 336 °C·d are had before it waits: 42 are nine days of 5. The slow pot waits from 10 March on, with 336.
    run = sure.run(COOLED - 10 * DAY, BROUGHT - 10 * DAY)
    assert run is not None and (run.bloom, run.assured) == (date(2027, 3, 21), date(2027, 3, 22))


# ---------------------------------------------------------------- held as stated


def test_a_lot_is_held_for_its_days_from_a_working_day_to_a_working_day() -> None:
    # Colour on day 21, Wednesday 17 March.
    held = [("bench", "Bench", 0), ("hold", "Hold", 21)]
    assert stands(alone(stated(hold_days=2, hold_at="Hold"))) == [*held, ("bench", "Bench", 23)]
    # Three days are up on Saturday: Monday.
    assert stands(alone(stated(hold_days=3, hold_at="Hold", calendar=MON_FRI))) == [
        *held,
        ("bench", "Bench", 26),
    ]
    # A need of 350 has its colour, 297.5, on day 22; of 380 on day 24, Saturday: Monday, day 26.
    late = stands(alone(stated(hold_days=1, hold_at="Hold", calendar=MON_FRI)), need=380.0)
    assert late == [("bench", "Bench", 0), ("hold", "Hold", 26), ("bench", "Bench", 27)]


def test_a_lot_is_held_where_it_was_cold_last_and_nowhere_if_it_was_not() -> None:
    for words, cooler, where in (
        ({}, "Cold", "Cold"),
        ({"cooler_after_rooting": "Hold"}, "Cold", "Hold"),
        ({"hold_at": "Frame"}, "Cold", "Frame"),
        ({}, None, None),
    ):
        found = stands(alone(stated(hold_days=2, **words), cooler=cooler))
        assert [place for step, place, _ in found if step == "hold"] == ([] if where is None else [where])


def test_a_held_lot_goes_from_the_cold_outdoors_and_is_not_held_past_that() -> None:
    out = {"hold_days": 4, "hold_at": "Hold", "display": "D"}
    for install, found in (
        (27, [("hold", "Hold", 21), ("bench", "Bench", 25), ("harden", "Court", 27)]),
        (25, [("hold", "Hold", 21), ("harden", "Court", 25)]),
        (24, []),  # the hold would not be over
    ):
        assert stands(alone(stated(install=BROUGHT + install * DAY, **out)))[1:] == found
    # One that has begun goes on without.
    begun = History(moves=(Stay("bench", "Bench", BROUGHT),), last=BROUGHT)
    assert stands(alone(stated(install=BROUGHT + 24 * DAY, **out), begun)) == [
        ("bench", "Bench", 0), ("harden", "Court", 24),
    ]  # fmt: skip
    # Colour never comes: 24 of 336 °C·d a day are not had at 2 °C.
    cold = (*ROOMS[:1], Place("Bench", "bench", day=2, night=2), *ROOMS[2:])
    assert stands(alone(stated(hold_days=4, hold_at="Hold", places=cold))) == []


def test_a_colour_that_was_seen_is_when_the_hold_begins() -> None:
    seen = History(
        moves=(Stay("bench", "Bench", BROUGHT),),
        stages={"colour": BROUGHT + 15 * DAY},
        last=BROUGHT + 15 * DAY,
    )
    assert stands(alone(stated(hold_days=4, hold_at="Hold"), seen)) == [
        ("bench", "Bench", 0), ("hold", "Hold", 15), ("bench", "Bench", 19),
    ]  # fmt: skip


def test_what_was_held_by_its_log_goes_back_for_its_target_on_a_working_day() -> None:
    # The typical pot with colour on has 0.15 of 336 = 50.4 °C·d to go, 3.6 days: four before its target, 16 March. For
    # Thursday 18 March it would be Sunday the 14th, when nobody works: Friday. Where no day is in time it goes at once.
    on = (Stay("bench", "Bench", BROUGHT), Stay("hold", "Hold", date(2027, 3, 10)))
    for target, as_of, calendar, back in (
        (TARGET, None, season().calendar, date(2027, 3, 16)),
        (date(2027, 3, 18), None, MON_FRI, date(2027, 3, 12)),
        (date(2027, 3, 10), None, season().calendar, date(2027, 3, 11)),  # at the soonest the day after
        (date(2027, 3, 10), date(2027, 3, 13), season().calendar, date(2027, 3, 13)),  # and not in the past
        (date(2027, 3, 10), date(2027, 3, 13), MON_FRI, date(2027, 3, 15)),
    ):
        found = alone(stated(target=target, calendar=calendar), History(moves=on, as_of=as_of, last=BROUGHT))
        assert found.stays(BROUGHT, 336.0) == (*on, Stay("bench", "Bench", back))
    # It goes back to where it was, not to where it was first brought in.
    warm = (*ROOMS, Place("Warm", "bench", day=16, night=16))
    moved = (on[0], Stay("bench", "Warm", date(2027, 3, 1)), on[1])
    assert alone(stated(places=warm), History(moves=moved, last=BROUGHT)).stays(BROUGHT, 336.0) == (
        *moved, Stay("bench", "Warm", date(2027, 3, 16)),
    )  # fmt: skip
    # Of no bench by its log: to the one it was meant for.
    assert alone(stated(), History(moves=on[1:], last=BROUGHT)).stays(BROUGHT, 336.0) == (
        on[1], Stay("bench", "Bench", date(2027, 3, 16)),
    )  # fmt: skip
    # In bloom it stays where it is.
    bloomed = History(moves=on, stages={"bloom": date(2027, 3, 12)}, last=BROUGHT)
    assert alone(stated(), bloomed).stays(BROUGHT, 336.0) == on


def test_what_was_held_and_is_set_out_before_it_would_go_back_goes_out_from_the_cold() -> None:
    # 50.4 °C·d to go from colour on. Outdoors at 5 a day: from the 12th to the 25th 65, to the 20th 40, and with a day
    # of the bench 54. Set out on the 19th it is due on that day: four days of the bench.
    on = (Stay("bench", "Bench", BROUGHT), Stay("hold", "Hold", date(2027, 3, 10)))
    for install, target, back in (
        (date(2027, 3, 12), date(2027, 3, 25), None),
        (date(2027, 3, 12), TARGET, date(2027, 3, 11)),
        (date(2027, 3, 19), TARGET, date(2027, 3, 15)),
        (date(2027, 3, 11), TARGET, None),  # out on the first day on which it could go back
    ):
        found = alone(stated(display="D", install=install, target=target), History(moves=on, last=BROUGHT))
        between = () if back is None else (Stay("bench", "Bench", back),)
        assert found.stays(BROUGHT, 336.0) == (*on, *between, Stay("harden", "Court", install))


# ---------------------------------------------------------------- its steps


def test_the_last_step_ends_when_it_fades_or_with_the_show_or_a_day_after_it_blooms() -> None:
    for target, fade, end in (
        (TARGET, date(2027, 4, 1), date(2027, 4, 1)),
        (TARGET, None, date(2027, 4, 19)),  # the show's end
        (date(2027, 4, 18), None, date(2027, 4, 19)),
        (date(2027, 4, 19), None, date(2027, 4, 20)),
        (date(2027, 6, 1), None, date(2027, 6, 2)),
    ):
        found, late = alone(stated(target=target)), target - TARGET
        run = found.run(COOLED + late, BROUGHT + late)
        assert run is not None
        steps = found.steps(COOLED + late - DAY, COOLED + late, run, fade)
        assert [(step.step, step.span.start) for step in steps] == [
            ("pot", COOLED + late - DAY), ("root", COOLED + late), ("cool", COOLED + late + 21 * DAY),
            ("bench", BROUGHT + late), ("show", target),
        ]  # fmt: skip
        assert [step.span.end for step in steps] == [*(step.span.start for step in steps[1:]), end]


def test_a_lot_that_roots_on_no_day_that_is_known_is_rooting_until_it_is_brought_in() -> None:
    found = alone(stated(house_figures("tulip", rooting=400)))
    run = found.run(COOLED, BROUGHT)
    assert run is not None
    steps = found.steps(COOLED - DAY, COOLED, run, None)
    assert [(step.step, step.span.start) for step in steps] == [
        ("pot", COOLED - DAY), ("root", COOLED), ("bench", BROUGHT), ("show", TARGET),
    ]  # fmt: skip


# ---------------------------------------------------------------- small sums


def test_a_lot_at_the_pace_of_its_plan_needs_what_that_says() -> None:
    found = alone(stated())
    run = found.run(COOLED, BROUGHT)
    assert run is not None and found.need(14.0) == pytest.approx(336)
    slow = replace(found, pace=1.25)
    assert slow.need(14.0) == pytest.approx(420)
    assert found.heat_between(run.stays, BROUGHT, BROUGHT + 3 * DAY) == pytest.approx(42)


def test_cold_outside_what_its_line_is_known_for_neither_saves_nor_costs() -> None:
    # Two of 24 days for each week more than 14, between 12 and 16 weeks: 28 days at the most, 20 at the least.
    found = alone(stated(house_figures("tulip", days_saved=2, line_from=12, line_to=16)))
    days = {10: 28, 12: 28, 13: 26, 14: 24, 16: 20, 18: 20}
    assert {weeks: round(found.need(weeks) / 14, 9) for weeks in days} == days


def test_normals_of_a_site_are_read_along_the_stays() -> None:
    """Half the days of a hold in the frame, and the court by its normals: 14, 4 and 5 °C·d a day."""
    normals = (Normal("Court", 3, 7, 7),)
    places = (*ROOMS[:4], Place("Court", "site"))
    found = alone(stated(places=places, normals=normals, display="D", install=BROUGHT + 10 * DAY,
                         harden_at="Frame", harden_days=4))  # fmt: skip
    stays = found.stays(BROUGHT, 336.0)
    assert stays is not None
    assert found.heat_between(stays, BROUGHT, BROUGHT + 12 * DAY) == pytest.approx(6 * 14 + 4 * 4 + 2 * 5)
    assert SHOW.span == Span(TARGET, TARGET + timedelta(days=30))
