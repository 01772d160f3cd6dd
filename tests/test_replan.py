"""A lot that has begun: what the log says is kept, what it does not say is taken from the plan or from the calendar.

Figures by hand: 24 days of 14 °C·d for 20 March is brought in on 24 February; 14 weeks before that into the cooler,
on 18 November; potted on the 17th.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import cache

import pytest

from forcing.engine.log import Pin
from forcing.engine.replan import Expectation, Failing, expectation, failing, replan_lot
from forcing.engine.simulate import LotSimulation
from forcing.model import AgreedLot, Display, LogEntry, Lot, LotPlan, Place, Reading, Season, Unplanned
from tests.builders import MON_FRI, house_figures, season, worked

DAY = timedelta(days=1)
TARGET = date(2027, 3, 20)
POTTED, COOLED, BROUGHT = date(2026, 11, 17), date(2026, 11, 18), date(2027, 2, 24)
FIGURES = house_figures(
    "tulip", cold_min=12, cold_target=14, cold_max=18, base=2, cap=20, reference=16, bench_days=24,
    bench_days_min=12, days_saved=0, rooting=3, rooting_at=9, spread=0.1, colour=0.85, precooled_max=14,
)  # fmt: skip
# The same on the bench, for a crop that needs no cold: brought in on 24 February, potted on the 23rd.
NO_COLD = house_figures(
    "paperwhite", base=2, cap=20, reference=16, bench_days=24, bench_days_min=24, spread=0.1
)


def logged(day: date, event: str, **other: object) -> LogEntry:
    return LogEntry(day, "A", event, **other)  # type: ignore[arg-type]


def grown(
    *log: LogEntry, crop: str = "tulip", figures: tuple = (), on: date = date(2027, 6, 1), **other: object
):  # type: ignore[no-untyped-def, type-arg]
    """The season worked out on a day."""
    lot_words = {k: other.pop(k) for k in list(other) if k in Lot.__dataclass_fields__}
    lot = Lot("A", crop, 10, **({"target": TARGET} | lot_words))  # type: ignore[arg-type]
    return worked(season([lot], overrides=(*FIGURES, *NO_COLD, *figures), log=log, **other), on)


def planned(*log: LogEntry, **other: object) -> LotPlan:
    made = grown(*log, **other).plan
    assert not made.unplanned, made.unplanned
    return made.lots[0]  # type: ignore[no-any-return]


def refused(*log: LogEntry, **other: object) -> Unplanned:
    (found,) = grown(*log, **other).plan.unplanned
    return found  # type: ignore[no-any-return]


def expected(on: date, *log: LogEntry, **other: object) -> Expectation | None:
    made = grown(*log, on=on, **other)
    simulation: LotSimulation = made.simulations[0]
    return expectation(simulation, on)


@cache
def begun_nowhere() -> LotSimulation:
    """The lot long before anything is done, as counted back above."""
    return grown(on=date(2026, 9, 1)).simulations[0]  # type: ignore[no-any-return]


def pinned(on: date, days: object = (), log: tuple[LogEntry, ...] = (), **other: object) -> LotSimulation:
    """The lot as agreed on the days counted back above but `days` (None: it has no such day), seen from `on`."""
    kept = {"potted": POTTED, "cooler in": COOLED, "brought in": BROUGHT, "bloom": TARGET, **dict(days)}  # type: ignore[call-overload]
    mine = {event: day for event, day in kept.items() if day is not None}
    lot = AgreedLot("A", 10, other.pop("agreed_target", TARGET), "Cold", "Bench", 14.0, mine)  # type: ignore[arg-type]
    simulation = grown(*log, on=on, **other).simulations[0] if log or other else begun_nowhere()
    return replace(simulation, history=replace(simulation.history, agreed=Pin(lot, on)))


# ---------------------------------------------------------------- when it was potted


@pytest.mark.parametrize(
    ("log", "potting"),
    [
        ((logged(date(2026, 11, 12), "potted"), logged(COOLED, "cooler in")), date(2026, 11, 12)),
        ((logged(date(2026, 11, 25), "cooler in"),), POTTED),  # as planned
        ((logged(POTTED, "cooler in"),), POTTED),  # as planned: on the same day
        ((logged(date(2026, 11, 10), "cooler in"),), date(2026, 11, 9)),  # the planned day is too late
    ],
)
def test_a_potting_not_logged_is_the_planned_one_or_the_day_before_the_cooler(
    log: tuple[LogEntry, ...], potting: date
) -> None:
    assert planned(*log).potting == potting


def test_where_there_is_no_plan_a_lot_was_potted_the_day_before_it_went_into_the_cooler() -> None:
    # Bulbs in hand on 10 December come too late for a plan. But it is in the cooler: 84 days from the 11th, 24 more.
    lot = planned(logged(date(2026, 12, 11), "cooler in"), bulbs_in_hand=date(2026, 12, 10))
    assert (lot.potting, lot.bring_in, lot.bloom) == (date(2026, 12, 10), date(2027, 3, 5), date(2027, 3, 29))


def test_a_crop_without_cold_was_potted_before_it_was_brought_in() -> None:
    early = planned(logged(date(2027, 2, 15), "brought in"), crop="paperwhite")
    assert (early.potting, early.cooler_in, early.bring_in) == (date(2027, 2, 14), None, date(2027, 2, 15))
    late = planned(logged(date(2027, 3, 1), "brought in"), crop="paperwhite")
    assert (late.potting, late.bloom) == (date(2027, 2, 23), date(2027, 3, 25))


# ---------------------------------------------------------------- when it went into the cooler


@pytest.mark.parametrize(
    ("brought", "cooler_in"),
    [
        (date(2027, 2, 20), COOLED),
        (date(2026, 11, 19), COOLED),
        (COOLED, POTTED),
        (date(2026, 11, 10), date(2026, 11, 9)),
    ],
)
def test_a_lot_on_the_bench_was_in_the_cooler_at_least_the_day_before(brought: date, cooler_in: date) -> None:
    assert planned(logged(brought, "brought in")).cooler_in == cooler_in


def test_without_a_plan_nothing_says_when_a_lot_on_the_bench_went_into_the_cooler() -> None:
    found = refused(logged(date(2027, 3, 1), "brought in"), bulbs_in_hand=date(2026, 12, 10))
    assert found.reason == (
        "even with 12 cold-weeks, the least it flowers with, potting when the bulbs are in hand, on 2026-12-10, "
        "is too late"
    )


def test_a_log_that_does_not_say_where_a_lot_is_does_not_make_up_for_a_plan() -> None:
    late = {"bulbs_in_hand": date(2026, 12, 10)}
    assert refused(logged(date(2026, 12, 11), "lost", pots=1), **late).reason == refused(**late).reason


def test_potted_it_goes_into_the_cooler_on_the_planned_day_or_the_day_after_potting() -> None:
    soon = date(2026, 11, 3)
    assert planned(logged(date(2026, 11, 2), "potted"), on=soon).cooler_in == COOLED
    assert planned(logged(date(2026, 11, 20), "potted"), on=date(2026, 11, 20)).cooler_in == date(
        2026, 11, 21
    )
    # No plan (see above), but it is potted: 84 days from 11 December.
    lot = planned(logged(date(2026, 12, 10), "potted"), bulbs_in_hand=date(2026, 12, 10))
    assert (lot.cooler_in, lot.bring_in) == (date(2026, 12, 11), date(2027, 3, 5))


@pytest.mark.parametrize(
    ("on", "cooler_in"),
    [
        (COOLED, COOLED),
        (COOLED + DAY, COOLED + DAY),  # overdue by a day: still to do
        (COOLED + 21 * DAY, COOLED + 21 * DAY),
        (COOLED + 22 * DAY, COOLED),  # by more than three weeks: done, and not logged
    ],
)
def test_a_move_to_the_cooler_that_is_overdue_is_still_to_do_for_three_weeks(
    on: date, cooler_in: date
) -> None:
    found = expected(on, logged(POTTED, "potted"))
    assert found is not None and found.plan.cooler_in == cooler_in


def test_what_is_overdue_on_the_day_it_is_looked_at_is_still_to_do_whenever_the_log_was_read() -> None:
    # Potted, and read on that day; two days after its planned day in the cooler it goes there on the day of the look.
    made = grown(logged(POTTED, "potted"), on=POTTED)
    found = expectation(made.simulations[0], COOLED + 2 * DAY)
    assert found is not None and found.plan.cooler_in == COOLED + 2 * DAY


# ---------------------------------------------------------------- whether agreed dates still do


@pytest.mark.parametrize(
    ("days", "on", "fails"),
    [
        ({}, 80, None),  # as counted back above
        ({"cooler in": None}, 80, Failing("cold", 12.0)),  # it needs 12 weeks and has none
        ({"cooler in": BROUGHT}, 80, Failing("cold", 12.0)),
        ({"cooler in": BROUGHT - 84 * DAY}, 80, None),  # 12 weeks
        ({"cooler in": BROUGHT - 83 * DAY}, 80, Failing("cold", pytest.approx(1 / 7))),
        # 24 days on the bench whatever the day: a day late may be, two may not.
        ({"brought in": BROUGHT + DAY}, 80, None),
        ({"brought in": BROUGHT + 2 * DAY}, 80, Failing("late", 2)),
        # Within two weeks of today three days may be.
        ({"brought in": BROUGHT + 3 * DAY}, 10, None),
        ({"brought in": BROUGHT + 4 * DAY}, 10, Failing("late", 4)),
        ({"brought in": BROUGHT + 3 * DAY}, 14 - 3, Failing("late", 3)),  # two weeks off to the day
        # Six days sooner than was handed out may be, seven may not.
        ({"bloom": TARGET + 6 * DAY}, 80, None),
        ({"bloom": TARGET + 7 * DAY}, 80, Failing("early", 7)),
    ],
)
def test_in_what_agreed_dates_would_fail_a_lot(
    days: dict[str, date | None], on: int, fails: Failing | None
) -> None:
    """`on`: so many days before its bring in as counted back."""
    assert failing(pinned(BROUGHT - on * DAY, days)) == fails


def test_how_soon_a_lot_blooms_is_told_against_what_was_agreed_for_its_target() -> None:
    # Agreed for the 10th, in bloom on the 9th; its target is ten days later now: to bloom on the 19th, a day too late.
    then = {"bloom": TARGET - 11 * DAY}
    assert failing(pinned(BROUGHT - 80 * DAY, then, agreed_target=TARGET - 10 * DAY)) is None
    # In bloom on the 17th then, it would be on the 27th now: seven days before that is too soon.
    then = {"bloom": TARGET - 3 * DAY}
    assert failing(pinned(BROUGHT - 80 * DAY, then, agreed_target=TARGET - 10 * DAY)) == Failing("early", 7)


@pytest.mark.parametrize(
    ("rooting", "fails"),
    [(14, None), (15, Failing("roots", 7)), (100, Failing("roots", 0))],  # weeks: of 98 days; not known
)
def test_a_lot_without_roots_by_its_bring_in_fails_on_them(rooting: int, fails: Failing | None) -> None:
    lot = pinned(BROUGHT - 80 * DAY)
    assert failing(replace(lot, recipe=replace(lot.recipe, rooting=rooting))) == fails


def test_a_place_without_temperature_says_nothing_of_agreed_dates() -> None:
    lot = pinned(BROUGHT - 80 * DAY, places=(*season().places, Place("Dark", "bench")))
    assert failing(replace(lot, route=replace(lot.route, bench="Dark"))) == Failing("unknown")
    # The cooler's: nobody knows when it is rooted.
    assert failing(replace(lot, route=replace(lot.route, cooler="Dark"))) == Failing("roots", 0)


def test_a_crop_without_cold_fails_on_its_bloom_alone() -> None:
    # 24 days on the bench from 24 February, whatever is written of a cooler.
    for late, fails in ((0, None), (2, Failing("late", 2))):
        days = {"cooler in": None, "brought in": BROUGHT + late * DAY}
        assert failing(pinned(BROUGHT - 80 * DAY, days, crop="paperwhite")) == fails


def test_the_day_in_the_cooler_that_is_logged_counts_before_the_agreed_one() -> None:
    # In the cooler on 3 December by its log, 83 days before 24 February: a day short of the least twelve weeks.
    lot = pinned(date(2026, 12, 4), log=(logged(BROUGHT - 83 * DAY, "cooler in"),))
    assert failing(lot) == Failing("cold", pytest.approx(1 / 7))


def test_the_cold_that_agreed_days_give_counts_in_their_bloom() -> None:
    # By the figures below it needs 26.86 days from 21 February after 88 days of cold: in bloom on 20 March.
    days = {"cooler in": date(2026, 11, 25), "brought in": date(2027, 2, 21)}
    assert failing(pinned(date(2026, 12, 1), days, figures=STEEP)) is None
    # A week less of it: 28.86 days, so 29, two days late.
    days["cooler in"] = date(2026, 12, 2)
    assert failing(
        pinned(date(2026, 12, 3), days, figures=house_figures("tulip", days_saved=2, cold_min=11))
    ) == (Failing("late", 2))


def test_a_lot_that_has_begun_is_brought_in_as_agreed_where_that_does() -> None:
    begun = (logged(date(2026, 11, 10), "potted"), logged(date(2026, 11, 12), "cooler in"))
    for days, brought in (
        (OTHERWISE, BROUGHT - DAY),
        (OTHERWISE | {"brought in": BROUGHT + 2 * DAY}, BROUGHT),
    ):
        lot = pinned(date(2026, 12, 1), days, log=begun)
        assert moves_of(lot) == (date(2026, 11, 10), date(2026, 11, 12), brought)


# ---------------------------------------------------------------- the days of a lot that was agreed

# Potted, into the cooler and onto the bench on days that counting back would not choose; they do all the same.
OTHERWISE = {
    "potted": date(2026, 11, 10), "cooler in": date(2026, 11, 12), "brought in": BROUGHT - DAY, "bloom": TARGET - DAY,
}  # fmt: skip
# Four weeks later: twelve weeks of cold are had on 4 March, and it blooms on the 28th, eight days late.
LATER = {
    "potted": date(2026, 12, 9), "cooler in": date(2026, 12, 10), "brought in": date(2027, 3, 4),
    "bloom": TARGET + 8 * DAY,
}  # fmt: skip


MORE = (date(2026, 11, 10), date(2026, 11, 11), BROUGHT)  # 15 weeks, 105 days before 24 February


def in_order(agreed: dict[str, date]) -> tuple[date, date, date]:
    return agreed["potted"], agreed["cooler in"], agreed["brought in"]


def moves_of(simulation: LotSimulation) -> tuple[date, date | None, date]:
    plan = replan_lot(simulation)
    assert isinstance(plan, LotPlan) and plan.lot == simulation.lot, plan
    return plan.potting, plan.cooler_in, plan.bring_in


def test_agreed_days_that_do_are_kept_to_the_day() -> None:
    for on in (date(2026, 11, 1), date(2026, 12, 1)):
        plan = replan_lot(pinned(on, OTHERWISE))
        assert isinstance(plan, LotPlan)
        assert (plan.potting, plan.cooler_in, plan.bring_in) == in_order(OTHERWISE)
        assert (plan.bloom, plan.cold_wanted) == (TARGET - DAY, 14)
        assert plan.cold_weeks == pytest.approx((BROUGHT - DAY - date(2026, 11, 12)).days / 7)


def test_of_agreed_days_that_do_not_the_bring_in_is_moved_first() -> None:
    # Two days late: it is brought in on the 24th instead; with the days before it as agreed, ahead or not.
    late = OTHERWISE | {"brought in": BROUGHT + 2 * DAY, "bloom": TARGET + 2 * DAY}
    for on in (date(2026, 11, 1), date(2026, 12, 1)):
        assert moves_of(pinned(on, late)) == (date(2026, 11, 10), date(2026, 11, 12), BROUGHT)


def test_potting_is_counted_back_anew_only_while_it_is_ahead_and_only_where_that_helps() -> None:
    assert moves_of(pinned(date(2026, 11, 1), LATER)) == (POTTED, COOLED, BROUGHT)
    # From 1 December on: potted then, and twelve weeks from the 2nd are had on 24 February, in time.
    assert moves_of(pinned(date(2026, 12, 1), LATER)) == (date(2026, 12, 1), date(2026, 12, 2), BROUGHT)
    # From the 2nd on it would be late, a day: nothing is gained for its target, and it stays as agreed.
    assert moves_of(pinned(date(2026, 12, 2), LATER)) == in_order(LATER)
    # On the day of the potting it is too late for that: the soonest bring in, as agreed.
    assert moves_of(pinned(date(2026, 12, 9), LATER)) == in_order(LATER)
    # Nor does it help where the bulbs come on the 8th: potted then, twelve weeks from the 9th are still too late.
    came = replace(pinned(date(2026, 11, 1), LATER), season=season(bulbs_in_hand=date(2026, 12, 8)))
    assert moves_of(came) == in_order(LATER)


@pytest.mark.parametrize(
    ("weeks", "on", "moves"),
    [
        (None, date(2026, 11, 1), in_order(OTHERWISE)),
        (14.0, date(2026, 11, 1), in_order(OTHERWISE)),
        (15.0, date(2026, 11, 1), MORE),
        (15.0, date(2026, 11, 9), MORE),
        (15.0, date(2026, 11, 10), in_order(OTHERWISE)),  # potted today
    ],
)
def test_a_lot_that_is_to_have_more_cold_than_agreed_is_counted_back_anew_until_it_is_potted(
    weeks: float | None, on: date, moves: tuple[date, ...]
) -> None:
    lot = pinned(on, OTHERWISE)
    assert moves_of(replace(lot, lot=replace(lot.lot, cold_weeks=weeks))) == moves


def test_a_lot_of_another_target_than_agreed_is_counted_back_anew_until_it_is_potted() -> None:
    # Agreed for the 18th: two days more of everything while it is not potted, then of the bench alone; two days early
    # is no reason to move that.
    days = {"potted": POTTED, "cooler in": COOLED, "brought in": BROUGHT, "bloom": TARGET}
    early = {event: day - 2 * DAY for event, day in days.items()}
    for on, kept in ((date(2026, 11, 1), days), (POTTED, early)):
        assert moves_of(pinned(on, early, agreed_target=TARGET - 2 * DAY)) == in_order(kept)


def test_what_is_counted_back_anew_is_not_potted_before_today() -> None:
    # Wanted on the 15th it would have been potted on 12 November. It is the 16th: into the cooler on the 17th, and 24
    # days before the 15th is 19 February, after 94 days in the cooler.
    lot = pinned(date(2026, 11, 16), agreed_target=TARGET, target=TARGET - 5 * DAY)
    assert moves_of(lot) == (date(2026, 11, 16), date(2026, 11, 17), date(2027, 2, 19))
    # Saturday the 14th: on Monday.
    lot = replace(pinned(date(2026, 11, 14), target=TARGET - 5 * DAY), season=season(calendar=MON_FRI))
    assert moves_of(lot) == (date(2026, 11, 16), date(2026, 11, 17), date(2027, 2, 19))
    # Wanted on 20 February no day from today on does: as agreed, and in twelve weeks from 18 November on the bench.
    lot = pinned(date(2026, 11, 16), target=date(2027, 2, 20))
    assert moves_of(lot) == (POTTED, COOLED, date(2027, 2, 10))
    # Nor is a lot planned that cannot be, whenever it is potted: 11 weeks are less than the least.
    found = replan_lot(replace(lot, lot=replace(lot.lot, cold_weeks=11.0)))
    assert isinstance(found, Unplanned) and found.reason.startswith("11 cold-weeks are chosen")


def test_a_lot_that_was_agreed_without_a_day_in_the_cooler_is_counted_back() -> None:
    assert moves_of(pinned(date(2026, 12, 1), OTHERWISE | {"cooler in": None})) == (POTTED, COOLED, BROUGHT)


def test_an_agreed_day_ahead_on_which_nobody_works_is_the_working_day_before() -> None:
    # 7, 14 and 21 November and 27 February are Saturdays. 24 days from Friday 26 February: Monday 22 March.
    days = {"potted": date(2026, 11, 7), "cooler in": date(2026, 11, 14), "brought in": date(2027, 2, 27)}
    for on, moves in (
        (date(2026, 11, 2), (date(2026, 11, 6), date(2026, 11, 13), date(2027, 2, 26))),
        (date(2026, 11, 7), (date(2026, 11, 6), date(2026, 11, 13), date(2027, 2, 26))),
        (date(2026, 11, 8), (date(2026, 11, 7), date(2026, 11, 13), date(2027, 2, 26))),
        (date(2026, 11, 16), (date(2026, 11, 7), date(2026, 11, 14), date(2027, 2, 26))),
        (date(2027, 3, 1), (date(2026, 11, 7), date(2026, 11, 14), date(2027, 2, 27))),
    ):
        target = date(2027, 3, 23)
        agreed = {**days, "bloom": target}
        assert moves_of(pinned(on, agreed, agreed_target=target, target=target, calendar=MON_FRI)) == moves


def test_a_bring_in_that_was_agreed_and_is_past_stays_though_it_blooms_late() -> None:
    # Ten days at 9 °C on the bench are 70 °C·d less: five days of 14. Nothing is logged; it was brought in as agreed.
    cool = tuple(Reading("Bench", BROUGHT + i * DAY, 9, 9) for i in range(10))
    for on in (BROUGHT + 10 * DAY, BROUGHT + 20 * DAY):
        plan = replan_lot(pinned(on, readings=cool))
        assert isinstance(plan, LotPlan) and (plan.bring_in, plan.bloom) == (BROUGHT, TARGET + 5 * DAY)


def test_a_lot_that_has_to_be_brought_in_sooner_is_brought_in_today_at_the_soonest() -> None:
    # Wanted on the 10th of March it would have been brought in on the 14th of February; it is Saturday the 20th.
    kept = {"brought in": BROUGHT, "bloom": TARGET}
    for calendar, day in ((season().calendar, date(2027, 2, 20)), (MON_FRI, date(2027, 2, 22))):
        lot = pinned(date(2027, 2, 20), kept, agreed_target=TARGET, target=date(2027, 3, 10))
        assert moves_of(replace(lot, season=season(calendar=calendar))) == (POTTED, COOLED, day)


def test_a_lot_that_was_agreed_and_cannot_open_its_display_in_bloom_finishes_outdoors() -> None:
    # Set out on 18 March, two days before its target, on a court as warm as the bench. In the cooler since 1 December
    # it has its twelve weeks on 23 February: 23 days of 14 °C·d until it is set out are 322 of 336, so whatever is done
    # it is not in bloom then. To bloom on its target outdoors it is brought in on the 24th, not on the 23rd.
    places = (*season().places, Place("Court", "site", day=16, night=16))
    show = (Display("D", 1, "Court", season().span),)
    given = {"places": places, "displays": show, "display": "D", "install": TARGET - 2 * DAY}
    agreed = {
        "potted": date(2026, 11, 30), "cooler in": date(2026, 12, 1), "brought in": BROUGHT + 3 * DAY, "bloom": TARGET,
    }  # fmt: skip
    kept = agreed | {"brought in": BROUGHT}
    assert moves_of(pinned(date(2026, 12, 3), agreed, **given)) == in_order(kept)


# ---------------------------------------------------------------- what is overdue


@pytest.mark.parametrize(
    ("on", "due"),
    [
        (COOLED, ()),  # today is not overdue
        (COOLED + DAY, (("cooler in", COOLED),)),
        (COOLED + 21 * DAY, (("cooler in", COOLED),)),
        (COOLED + 22 * DAY, ()),  # done and not logged
    ],
)
def test_a_move_to_the_cooler_put_off_until_now_says_when_it_was_due(
    on: date, due: tuple[object, ...]
) -> None:
    assert planned(logged(POTTED, "potted"), on=on).was_due == due


def test_a_bring_in_put_off_until_now_says_when_it_was_due() -> None:
    log = (logged(POTTED, "potted"), logged(COOLED, "cooler in"))
    late = planned(*log, on=BROUGHT + 2 * DAY)
    assert (late.bring_in, late.was_due) == (BROUGHT + 2 * DAY, (("brought in", BROUGHT),))
    assert planned(*log, on=BROUGHT).was_due == ()
    # By the log it is done, or it must have been: a stage was seen.
    assert planned(*log, logged(BROUGHT + 2 * DAY, "brought in"), on=BROUGHT + 2 * DAY).was_due == ()
    assert planned(*log, logged(BROUGHT + 3 * DAY, "shoots"), on=BROUGHT + 3 * DAY).was_due == ()
    # On Saturday 27 February what was due on the Friday before is to do on Monday; on the Friday it is not overdue.
    for on, due in ((date(2027, 2, 27), (("brought in", date(2027, 2, 26)),)), (date(2027, 2, 26), ())):
        assert planned(*log, on=on, target=date(2027, 3, 22), calendar=MON_FRI).was_due == due


def test_what_is_overdue_without_any_date_that_does_is_done_as_soon_as_can_be() -> None:
    # In the cooler on 11 December: twelve weeks on 5 March, too late for its target and the day it is due all the same.
    log = (logged(date(2026, 12, 11), "cooler in"),)
    late = planned(*log, bulbs_in_hand=date(2026, 12, 10), on=date(2027, 3, 8))
    assert (late.bring_in, late.was_due) == (date(2027, 3, 8), (("brought in", date(2027, 3, 5)),))


# ---------------------------------------------------------------- where it went, and what is not known


def test_a_lot_that_went_to_another_cooler_was_planned_for_that_one() -> None:
    # The cooler it names is too warm to count: no plan. In the one it went to it would be potted on 17 November.
    rooms = (*season().places, Place("Warm", "cooler", day=20, night=20))
    lot = planned(logged(date(2026, 11, 25), "cooler in", place="Cold"), places=rooms, cooler="Warm")
    assert (lot.potting, lot.bring_in) == (POTTED, BROUGHT)


def test_a_lot_in_a_place_of_unknown_temperature_is_refused_for_that() -> None:
    dark = (*season().places, Place("Dark", "bench"), Place("Frame", "frame"))
    given = {"places": dark, "bench": "Bench", "cooler": "Cold"}
    cooled, brought = logged(COOLED, "cooler in"), logged(BROUGHT, "brought in")
    found = refused(cooled, logged(BROUGHT, "brought in", place="Dark"), **given)
    assert (found.reason, found.earliest) == ("no temperature is known for Dark on 2027-02-24", None)
    # Its plan would do, but it is held where nobody knows how warm it is.
    found = refused(cooled, brought, logged(BROUGHT + 10 * DAY, "held", place="Frame"), **given)
    assert (found.reason, found.earliest) == ("a temperature of its places is not known", None)


def test_a_lot_that_never_gets_its_cold_or_its_roots_where_it_stands_is_refused_for_that() -> None:
    # 82 days at 9 °C are 11.7 weeks; at 20 °C nothing counts any more.
    rooms = (
        *season().places,
        Place("Warm", "cooler", day=20, night=20),
        Place("Icy", "cooler", day=0, night=0),
    )
    cooled, given = logged(date(2026, 11, 25), "cooler in", place="Cold"), {"places": rooms, "cooler": "Cold"}
    found = refused(cooled, logged(date(2027, 2, 15), "cooler in", place="Warm"), **given)
    assert (found.reason, found.earliest) == (
        "where it stands it gets 11.7 cold-weeks, and it needs at least 12 to flower", None,
    )  # fmt: skip
    # Cold enough, but in the first week at 9 °C it has not rooted, and at 0 °C it does not.
    found = refused(cooled, logged(date(2026, 12, 2), "cooler in", place="Icy"), **given)
    assert (found.reason, found.earliest) == ("it does not root where it stands", None)


def test_a_lot_that_is_all_sold_is_not_expected_and_one_that_is_all_lost_not_planned() -> None:
    log = (logged(POTTED, "potted"), logged(COOLED, "cooler in"), logged(BROUGHT, "brought in"))
    on = BROUGHT + 10 * DAY
    sold = grown(*log, logged(on, "sold", pots=10), on=on)
    assert expectation(sold.simulations[0], on) is None and sold.plan.lots[0].fade == on
    some = grown(*log, logged(on, "sold", pots=9), on=on)
    assert expectation(some.simulations[0], on) is not None
    (lost,) = grown(*log, logged(on, "lost", pots=10), on=on).plan.unplanned
    assert (lost.reason, lost.earliest, lost.lost) == (f"all its pots are lost by {on}", None, on)


def test_a_lot_that_was_moved_on_was_planned_for_the_cooler_it_went_to_first() -> None:
    # In a room of 20 °C since 20 February, which counts for nothing: it would never have been planned for that one.
    rooms = (*season().places, Place("Warm", "cooler", day=20, night=20))
    log = (
        logged(date(2026, 11, 25), "cooler in", place="Cold"),
        logged(date(2027, 2, 20), "cooler in", place="Warm"),
    )
    for words in ({}, {"cooler": "Cold"}, {"cooler": "Warm"}):
        assert planned(*log, places=rooms, **words).potting == POTTED


# ---------------------------------------------------------------- figures that lead nowhere


def test_figures_that_lead_to_no_dates_are_the_reason_of_one_lot() -> None:
    lot = grown().simulations[0]
    found = replan_lot(replace(lot, recipe=replace(lot.recipe, bench_days=float("nan"))))
    assert isinstance(found, Unplanned) and found.reason.startswith("its figures lead to no dates (")
    assert found.lot == lot.lot and found.earliest is None


# ---------------------------------------------------------------- when it was, or is to be, brought in


def test_a_stage_on_the_planned_day_says_it_was_brought_in_the_day_before() -> None:
    cooled = logged(COOLED, "cooler in")
    assert planned(cooled, logged(BROUGHT, "shoots")).bring_in == BROUGHT - DAY
    assert planned(cooled, logged(BROUGHT + DAY, "shoots")).bring_in == BROUGHT
    # Never before the day after it went into the cooler.
    assert planned(cooled, logged(COOLED + DAY, "faded")).bring_in == COOLED + DAY
    assert planned(cooled, logged(COOLED + 3 * DAY, "faded")).bring_in == COOLED + 2 * DAY


def test_a_crop_without_cold_that_shows_a_stage_was_on_the_bench_the_day_before() -> None:
    seen = planned(
        logged(date(2027, 2, 10), "potted"), logged(date(2027, 2, 20), "shoots"), crop="paperwhite"
    )
    assert (seen.cooler_in, seen.bring_in) == (None, date(2027, 2, 19))


def test_a_crop_without_cold_is_brought_in_for_its_target_or_the_day_after_potting() -> None:
    early = planned(logged(date(2027, 2, 1), "potted"), crop="paperwhite", on=date(2027, 2, 2))
    assert (early.cooler_in, early.bring_in, early.bloom) == (None, BROUGHT, TARGET)
    late = planned(logged(date(2027, 3, 1), "potted"), crop="paperwhite", on=date(2027, 3, 1))
    assert (late.bring_in, late.bloom) == (date(2027, 3, 2), date(2027, 3, 26))


STEEP = house_figures("tulip", days_saved=2)
# Into the cooler on 25 November, 115 days before 20 March. After d days of cold 24 - 2 (d / 7 - 14) = 52 - 2 d / 7 days
# at 16 °C are needed. d = 88: 26.86, so 27 days, 115 in all. d = 89: 26.57, 27 too: a day late. So 21 February.


def test_a_lot_in_the_cooler_is_brought_in_when_the_cold_it_has_by_then_still_brings_it_in_time() -> None:
    lot = planned(logged(date(2026, 11, 25), "cooler in"), figures=STEEP, on=date(2026, 11, 26))
    assert (lot.bring_in, lot.bloom) == (date(2027, 2, 21), TARGET)
    assert lot.cold_weeks == pytest.approx(88 / 7)
    assert lot.need == pytest.approx(14 * (52 - 2 * 88 / 7))


def test_bulbs_that_come_late_are_brought_in_by_the_cold_they_can_have() -> None:
    lot = planned(figures=STEEP, bulbs_in_hand=date(2026, 11, 24), on=date(2026, 11, 2))
    assert (lot.potting, lot.cooler_in, lot.bring_in) == (
        date(2026, 11, 24), date(2026, 11, 25), date(2027, 2, 21),
    )  # fmt: skip


def test_what_is_expected_is_run_with_the_cold_it_had_and_the_pace_its_stages_show() -> None:
    # Bud is seen two days after its half: the need is more than 336 °C·d, in the plan and in the run alike.
    log = (logged(COOLED, "cooler in"), logged(BROUGHT, "brought in"), logged(BROUGHT + 14 * DAY, "bud"))
    found = expected(BROUGHT + 14 * DAY, *log, looks=frozenset(range(7)))
    assert found is not None
    assert found.run.cold_weeks == pytest.approx(14)
    assert found.run.need == pytest.approx(found.plan.need) and found.run.need > 340
    assert found.simulation.pace == pytest.approx(found.plan.need / 336)
    # The same from its own looks alone.
    alone = replace(grown(*log, on=BROUGHT + 14 * DAY, looks=frozenset(range(7))).simulations[0], others=None)
    plan = replan_lot(alone)
    assert isinstance(plan, LotPlan) and plan.need > 340
    # Bud itself is where it was seen.
    assert found.run.stages["bud"] == BROUGHT + 14 * DAY


def test_a_lot_in_a_cooler_too_warm_to_count_is_refused_with_the_reason() -> None:
    warm = (Place("Cold", "cooler", day=20, night=20), Place("Bench", "bench", day=16, night=16))
    found = refused(logged(COOLED, "cooler in"), places=warm)
    assert found.reason == "no bring in before the target leads to bloom by it"


# ---------------------------------------------------------------- holds, as logged


HELD_AT_1 = (
    Place("Cold", "cooler", day=1, night=1), Place("Bench", "bench", day=16, night=16),
    Place("Court", "site", day=7, night=7),
)  # fmt: skip


def held(*log: LogEntry, **other: object) -> LotPlan:
    cooled, brought = logged(COOLED, "cooler in"), logged(BROUGHT, "brought in")
    return planned(
        cooled,
        brought,
        *log,
        places=HELD_AT_1,
        hold_days=6,
        figures=house_figures("tulip", rooting=0),
        **other,
    )


def test_a_hold_starts_on_the_day_that_colour_was_seen() -> None:
    # Colour is due on day 21 (0.85 of 336 at 14 a day); seen on day 18.
    due = held()
    assert next(s.span.start for s in due.steps if s.step == "hold") == BROUGHT + 21 * DAY
    seen = held(logged(BROUGHT + 18 * DAY, "colour"))
    (hold,) = (s for s in seen.steps if s.step == "hold")
    assert (hold.span.start, hold.span.days) == (BROUGHT + 18 * DAY, 6)


def test_a_lot_on_the_bench_that_is_set_out_in_its_hold_is_not_held() -> None:
    # Colour is on day 21. Set out on day 26 there are five days for the hold of six, on day 27 six.
    # Bloom without it: day 24.
    show = (Display("D", 1, "Court", season().span),)
    for days, steps in ((26, ["bench", "show", "on show"]), (27, ["bench", "hold", "harden"])):
        lot = held(display="D", displays=show, install=BROUGHT + days * DAY)
        after = [s.step for s in lot.steps if s.span.start >= BROUGHT]
        assert after[: len(steps)] == steps


def test_readings_after_the_bring_in_move_what_is_expected() -> None:
    # Five days at 9 °C on the bench give 7 of 14 each: 35 less, so two and a half days, bloom three days later.
    cool = tuple(Reading("Bench", BROUGHT + i * DAY, 9, 9) for i in range(5))
    log = (logged(COOLED, "cooler in"), logged(BROUGHT, "brought in"))
    assert planned(*log, readings=cool).bloom == TARGET + 3 * DAY


def test_the_pots_that_are_left_and_a_lot_all_lost() -> None:
    stated: Season = season([Lot("A", "tulip", 10, target=TARGET)], overrides=FIGURES)
    lost = replace(stated, log=(logged(date(2026, 12, 1), "lost", pots=10),))
    (found,) = worked(lost, date(2026, 12, 2)).plan.unplanned
    assert found.reason == "all its pots are lost by 2026-12-01"


# ---------------------------------------------------------------- moves, as logged

TWO_BENCHES = (
    Place("Cold", "cooler", day=1, night=1), Place("Bench", "bench", day=16, night=16),
    Place("Warm", "bench", day=19, night=19), Place("Frame", "frame", day=6, night=6),
    Place("Court", "site", day=7, night=7),
)  # fmt: skip
ON_BENCH = (logged(COOLED, "cooler in"), logged(BROUGHT, "brought in", place="Bench"))


def moved(*log: LogEntry, **other: object) -> list[tuple[str, str, int]]:
    """Step, place and days since bring in of all that comes after it."""
    figures = house_figures("tulip", rooting=0, display_days=10, display_reference=9)
    lot = planned(*ON_BENCH, *log, places=TWO_BENCHES, figures=figures, bench="Bench", **other)
    return [
        (s.step, s.place or "", (s.span.start - BROUGHT).days) for s in lot.steps if s.span.start >= BROUGHT
    ]


def test_a_lot_goes_on_where_it_was_moved_to() -> None:
    # 10 days of 14, then 17 a day: 196 left, 11.5 days, day 22.
    assert moved(logged(BROUGHT + 10 * DAY, "brought in", place="Warm")) == [
        ("bench", "Bench", 0), ("bench", "Warm", 10), ("show", "Warm", 22),
    ]  # fmt: skip


def test_a_lot_that_was_held_is_not_held_again() -> None:
    # Held at 1 °C from day 20 (280 of 336) to day 25, then four days more. It asked for six days from colour on.
    log = (
        logged(BROUGHT + 20 * DAY, "held", place="Cold"),
        logged(BROUGHT + 25 * DAY, "brought in", place="Bench"),
    )
    for hold in (0, 6):
        assert moved(*log, hold_days=hold) == [
            ("bench", "Bench", 0), ("hold", "Cold", 20), ("bench", "Bench", 25), ("show", "Bench", 29),
        ]  # fmt: skip


def test_a_lot_that_was_held_goes_back_in_time_to_bloom() -> None:
    # Held on day 21 with 294 of 336 °C·d, target day 32: with colour on (0.15 of 336 to go) it takes four days at 14 a
    # day, so it goes back on day 28, and three more days bring it into bloom on day 31. Still held on day 30,
    # it goes back then.
    later, log = TARGET + 8 * DAY, (logged(BROUGHT + 21 * DAY, "held", place="Cold"),)
    assert moved(*log, target=later, on=BROUGHT + 22 * DAY) == [
        ("bench", "Bench", 0), ("hold", "Cold", 21), ("bench", "Bench", 28), ("show", "Bench", 31),
    ]  # fmt: skip
    assert ("bench", "Bench", 30) in moved(*log, target=later, on=BROUGHT + 30 * DAY)


def test_a_lot_that_was_set_out_stays_out_whatever_was_planned() -> None:
    # 10 days of 14 and then 5 a day on the court: 196 left, 39.2 days, day 50. The frame was planned for day 18.
    show = (Display("D", 1, "Court", season().span),)
    planned_out = {
        "display": "D", "displays": show, "install": BROUGHT + 22 * DAY, "harden_at": "Frame", "harden_days": 4,
    }  # fmt: skip
    assert moved(logged(BROUGHT + 10 * DAY, "set out", place="Court"), **planned_out) == [
        ("bench", "Bench", 0), ("harden", "Court", 10), ("show", "Court", 50),
    ]  # fmt: skip
    # Not set out yet it goes on as planned: 18 days of 14 and 4 of 4 leave 68: 13.6 days of 5, day 36.
    assert moved(**planned_out) == [
        ("bench", "Bench", 0), ("harden", "Frame", 18), ("harden", "Court", 22), ("show", "Court", 36),
    ]  # fmt: skip
    # Held in the frame's time it goes from the hold to the court: 20 days of 14 and none leave 56: 11.2, day 34.
    assert moved(logged(BROUGHT + 20 * DAY, "held", place="Cold"), **planned_out)[1:] == [
        ("hold", "Cold", 20), ("harden", "Court", 22), ("show", "Court", 34),
    ]  # fmt: skip


def test_two_coolers_as_logged_are_where_the_cold_was_had() -> None:
    # Two weeks at 9 °C, then 1 °C. Rooted on 9 December, as logged.
    places = (
        Place("Cold", "cooler", day=9, night=9), Place("Colder", "cooler", day=1, night=1),
        Place("Bench", "bench", day=16, night=16),
    )  # fmt: skip
    log = (
        logged(POTTED, "potted"), logged(COOLED, "cooler in", place="Cold"),
        logged(date(2026, 12, 2), "cooler in", place="Colder"), logged(date(2026, 12, 9), "rooted"),
        logged(BROUGHT, "brought in"),
    )  # fmt: skip
    lot = planned(*log, places=places)
    assert [(s.step, s.place, s.span.start, s.basis) for s in lot.steps][:5] == [
        ("pot", None, POTTED, "actual"), ("root", "Cold", COOLED, "actual"),
        ("root", "Colder", date(2026, 12, 2), "actual"), ("cool", "Colder", date(2026, 12, 9), "actual"),
        ("bench", "Bench", BROUGHT, "expected"),
    ]  # fmt: skip


def test_rooting_that_goes_on_after_a_move_is_rooting_in_both_coolers() -> None:
    # 14 of 21 days at 9 °C; at 4.5 °C half a day a day: 14 days more, until 16 December.
    places = (
        Place("Cold", "cooler", day=9, night=9), Place("Colder", "cooler", day=4.5, night=4.5),
        Place("Bench", "bench", day=16, night=16),
    )  # fmt: skip
    log = (
        logged(COOLED, "cooler in", place="Cold"), logged(date(2026, 12, 2), "cooler in", place="Colder"),
        logged(BROUGHT, "brought in"),
    )  # fmt: skip
    lot = planned(*log, places=places)
    assert lot.rooted == date(2026, 12, 16)
    assert [(s.step, s.place, s.span.start) for s in lot.steps][1:4] == [
        ("root", "Cold", COOLED), ("root", "Colder", date(2026, 12, 2)), ("cool", "Colder", date(2026, 12, 16)),
    ]  # fmt: skip


def test_a_lot_that_faded_as_logged_has_its_last_step_until_then_and_all_of_it_is_actual() -> None:
    log = (
        logged(POTTED, "potted"), *ON_BENCH, logged(TARGET, "bloom"), logged(TARGET + 9 * DAY, "faded"),
    )  # fmt: skip
    lot = planned(*log)
    assert lot.fade == lot.steps[-1].span.end == TARGET + 9 * DAY
    assert [(s.step, s.basis) for s in lot.steps] == [
        ("pot", "actual"), ("root", "expected"), ("cool", "expected"), ("bench", "actual"), ("show", "actual"),
    ]  # fmt: skip


def test_roots_not_there_by_bring_in_leave_the_whole_time_in_the_cooler_as_rooting() -> None:
    # Two weeks in the cooler of the three it takes to root.
    lot = planned(logged(COOLED, "cooler in"), logged(COOLED + 14 * DAY, "brought in"))
    assert [(s.step, s.place, s.span.days) for s in lot.steps][1:3] == [
        ("root", "Cold", 14),
        ("bench", "Bench", 24),
    ]
    # Rooted on the day it is brought in: the same.
    lot = planned(logged(COOLED, "cooler in"), logged(COOLED + 21 * DAY, "brought in"))
    assert [(s.step, s.span.days) for s in lot.steps][1:3] == [("root", 21), ("bench", 24)]
    # A day later the last of it is cold.
    lot = planned(logged(COOLED, "cooler in"), logged(COOLED + 22 * DAY, "brought in"))
    assert [(s.step, s.span.days) for s in lot.steps][1:4] == [("root", 21), ("cool", 1), ("bench", 24)]
