"""Work by the day: no day takes more than its share where another working day is free; reckoned by hand beside it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from forcing.dates import DAY, Span
from forcing.dates import WEEK as SEVEN_DAYS
from forcing.engine.work.hours import (
    day_limit,
    hours_by_day,
    hours_findings,
    levelled,
    off_full_days,
    spread_over_days,
)
from forcing.model import Display, Lot, LotPlan, Normal, Place, Season, Task
from tests.builders import MON_FRI, season, worked
from tests.test_allocate_audit import grown

MONDAY = date(2026, 11, 9)
WEEK = [MONDAY + timedelta(days=n) for n in range(5)]


def pot(lot: str, day: date, hours: float) -> Task:
    return Task(f"pot/{lot}/1", day, lot, "pot", 10, hours, None)


def moved(tasks: list[Task], **stated: float) -> dict[str, date]:
    """Every lot may be potted on any day of the week."""
    return off_full_days(
        season(calendar=MON_FRI, **stated), tasks, "pot", {t.lot: WEEK for t in tasks if t.lot is not None}
    )


def test_the_limit_of_a_day_is_stated_or_a_third_of_the_weeks() -> None:
    assert [day_limit(season(**s)) for s in ({}, {"hours_per_week": 30.0}, {"hours_per_day": 7.0, "hours_per_week": 30.0})] == [  # noqa: E501
        None, 10.0, 7.0,
    ]  # fmt: skip


def test_a_full_day_gives_its_largest_task_that_finds_room_to_the_emptiest_day() -> None:
    # Wednesday has 5 + 4 + 3 = 12 h of 8. The 5 h go to Monday, the first of the empty days; 7 are left, and fit.
    tasks = [pot("A", WEEK[2], 5), pot("B", WEEK[2], 4), pot("C", WEEK[2], 3)]
    assert moved(tasks, hours_per_day=8.0) == {"A": WEEK[0]}
    # With 6 h on Monday and 1 h on Tuesday the emptiest that takes 5 h is Thursday (0 h): Tuesday would have 6.
    other = [*tasks, Task("x", WEEK[0], None, "x", 0, 6, None), Task("y", WEEK[1], None, "y", 0, 1, None)]
    assert moved(other, hours_per_day=8.0) == {"A": WEEK[3]}
    # Nothing to tell what a day takes: nothing is moved.
    assert moved(tasks) == {}


def test_a_task_larger_than_a_day_stays_and_a_week_is_not_brought_over_its_own_limit() -> None:
    assert moved([pot("A", WEEK[2], 9), pot("B", WEEK[2], 4)], hours_per_day=8.0) == {"B": WEEK[0]}
    last_week = MONDAY - timedelta(days=3)  # a Friday with 20 h in its week of 22
    tasks = [
        pot("A", WEEK[0], 6),
        pot("B", WEEK[0], 6),
        Task("x", last_week - timedelta(days=1), None, "x", 0, 20, None),
    ]
    stated = season(calendar=MON_FRI, hours_per_day=8.0, hours_per_week=22.0)
    assert off_full_days(stated, tasks, "pot", {"A": [last_week], "B": [last_week]}) == {}
    assert off_full_days(stated, tasks, "pot", {"A": [WEEK[1]], "B": [last_week]}) == {"A": WEEK[1]}


def test_what_a_lot_does_not_bear_is_not_done() -> None:
    tasks = [pot("A", WEEK[2], 5), pot("B", WEEK[2], 5)]
    stated = season(calendar=MON_FRI, hours_per_day=8.0)
    days = {"A": WEEK, "B": WEEK}
    assert off_full_days(stated, tasks, "pot", days, lambda name, day: name == "B") == {"B": WEEK[0]}
    assert off_full_days(stated, tasks, "pot", days, lambda name, day: False) == {}
    assert off_full_days(stated, tasks, "pot", days, lambda name, day: day == WEEK[3]) == {"A": WEEK[3]}


def test_of_equal_tasks_the_first_by_name_goes_and_a_day_may_become_just_full() -> None:
    # 5 + 5 h on Wednesday; 3 h on each other day, where 3 + 5 are the 8 h that a day may take.
    others = [Task(f"x{day}", day, None, "x", 0, 3, None) for day in WEEK if day != WEEK[2]]
    assert moved([pot("B", WEEK[2], 5), pot("A", WEEK[2], 5), *others], hours_per_day=8.0) == {"A": WEEK[0]}
    others[0] = replace(others[0], hours=3.01)
    assert moved([pot("B", WEEK[2], 5), pot("A", WEEK[2], 5), *others], hours_per_day=8.0) == {"A": WEEK[1]}


def test_what_is_moved_counts_in_its_new_week_and_no_more_in_its_old_one() -> None:
    stated = season(calendar=MON_FRI, hours_per_day=8.0, hours_per_week=30.0)
    friday, thursday, next_monday = MONDAY - 3 * DAY, MONDAY - 4 * DAY, MONDAY + SEVEN_DAYS
    more = [Task(f"x{day}", day, None, "x", 0, 8, None) for day in (WEEK[3], WEEK[4])]
    full = [pot("A", MONDAY, 6), pot("B", MONDAY, 6), *more]
    assert off_full_days(stated, full, "pot", {"A": [friday]}) == {"A": friday}
    # 12 + 16 h, 6 of which go to the week before: 22 h are left, and 6 + 2 more fill the 30.
    then = [pot("C", next_monday, 6), pot("D", next_monday, 6), Task("y", WEEK[2], None, "y", 0, 2, None)]
    days = {"A": [friday], "C": [WEEK[1]]}
    assert off_full_days(stated, [*full, *then], "pot", days) == {"A": friday, "C": WEEK[1]}
    then[-1] = replace(then[-1], hours=2.5)
    assert off_full_days(stated, [*full, *then], "pot", days) == {"A": friday}
    # The week before has 24 h: A fills it, so that nothing of the day is left for B, though the Thursday is empty.
    last = [Task(f"z{n}", MONDAY - n * DAY, None, "z", 0, 8, None) for n in (5, 6, 7)]
    three = [*full, pot("E", MONDAY, 6), *last]
    assert off_full_days(stated, three, "pot", {"A": [friday], "B": [thursday]}) == {"A": friday}


# ---------------------------------------------------------------- days on which a lot may be potted
#
# Potted on Tuesday 17 November and in the cooler on the 18th, 5 h; 6 h besides on that day, of the 8 h of a day.

TUESDAY = date(2026, 11, 17)


def potted(
    taken: dict[date, float], lot: LotPlan | None = None, on: date = date(2026, 9, 1), **stated: Any
) -> date:
    """The day on which the lot is potted, with so many hours of other work on other days."""
    plan = grown() if lot is None else lot
    tasks = [pot("A", TUESDAY, 5), Task("x", TUESDAY, None, "x", 0, 6, None)]
    tasks += [Task(f"x{day}", day, None, "x", 0, hours, None) for day, hours in taken.items()]
    kept = stated.pop("fixed", ())
    (made,) = spread_over_days(season(calendar=MON_FRI, hours_per_day=8.0, **stated), [plan], tasks, kept, on)
    first = replace(plan.steps[0], span=Span(made.potting, plan.cooler_in or plan.bring_in))
    assert made == replace(plan, potting=made.potting, steps=(first, *plan.steps[1:]))
    return made.potting


def all_but(*days: int) -> dict[date, float]:
    """Eight hours on each day of the two weeks before but on these days of November."""
    return {TUESDAY - n * DAY: 8.0 for n in range(1, 15) if (TUESDAY - n * DAY).day not in days}


def test_a_lot_is_potted_on_the_emptiest_day_of_the_week_before_the_latest_of_equals() -> None:
    assert potted({}) == date(2026, 11, 16)
    assert potted({date(2026, 11, 16): 1}) == date(2026, 11, 13)  # Friday: nobody works on the days between
    assert potted(all_but(10)) == date(2026, 11, 10)  # a week before
    assert potted(all_but(9)) == TUESDAY  # more than a week before
    assert potted(all_but(14, 15)) == TUESDAY


def test_a_lot_is_not_potted_before_its_bulbs_today_or_longer_before_its_cold_than_it_bears() -> None:
    on = date(2026, 11, 16)
    assert potted(all_but(13), on=date(2026, 11, 13)) == date(2026, 11, 13)
    assert potted(all_but(13), on=date(2026, 11, 14)) == TUESDAY
    assert potted(all_but(13), on=date(2026, 11, 14), bulbs_in_hand=date(2026, 9, 1)) == TUESDAY
    assert potted(all_but(13), bulbs_in_hand=date(2026, 11, 13)) == date(2026, 11, 13)
    assert potted(all_but(13), bulbs_in_hand=date(2026, 11, 14)) == TUESDAY
    # In the cooler on the 18th: five days before is the 13th.
    for days, day in ((5.0, date(2026, 11, 13)), (4.0, TUESDAY)):
        plan = grown()
        assert potted(all_but(13), replace(plan, recipe=replace(plan.recipe, potted_wait=days))) == day
    assert potted({}, fixed=("A",)) == TUESDAY and potted({}, on=on) == on
    assert potted({}, grown(cooler_in=None)) == TUESDAY


def test_a_lot_potted_sooner_than_it_must_be_may_be_potted_later() -> None:
    # In the cooler on the 25th only: any day up to the 24th, the last of them first.
    assert potted({}, grown(cooler_in=date(2026, 11, 25))) == date(2026, 11, 24)
    # In the cooler on the day it is potted: only before.
    assert potted({}, grown(cooler_in=TUESDAY)) == date(2026, 11, 16)


def test_potting_that_bears_no_week_before_the_cold_stays_in_its_week() -> None:
    # Friday 13 November is five days before the cooler: a lot that bears four is not potted in the week before.
    plan, on = grown(), date(2026, 9, 1)
    tasks = [pot("A", TUESDAY, 3), Task("x", TUESDAY, None, "x", 0, 9, None)]
    for days, day in ((5.0, date(2026, 11, 13)), (4.0, TUESDAY)):
        mine = replace(plan, recipe=replace(plan.recipe, potted_wait=days))
        assert levelled(season(calendar=MON_FRI), [mine], tasks, (), on)[0].potting == day


def test_what_was_moved_to_a_week_is_work_of_that_week() -> None:
    # 3 + 3 + x h. A goes, and 3 + x are left; B would leave x here and 3 + 3 there: two less from x = 5 on.
    for more, days in ((5.0, [13, 13]), (4.9, [13, 17])):
        plans = [grown("A"), grown("B")]
        tasks = [pot("A", TUESDAY, 3), pot("B", TUESDAY, 3), Task("x", TUESDAY, None, "x", 0, more, None)]
        made = levelled(season(calendar=MON_FRI), plans, tasks, (), date(2026, 9, 1))
        assert [plan.potting.day for plan in made] == days


# ---------------------------------------------------------------- what would mend a week


FEWER = "fewer pots in the lots moved that week, or their targets in different weeks."


def hint(
    potting: dict[str, float], hours: float, taken: dict[int, float] | None = None, **stated: Any
) -> str:
    """What is offered for a week with so much potting of lots, of so many hours; other work so many weeks before."""
    tasks = [pot(name, TUESDAY, needed) for name, needed in potting.items()]
    tasks += [
        Task(f"x{n}", TUESDAY - n * SEVEN_DAYS, None, "x", 0, work, None) for n, work in (taken or {}).items()
    ]
    stated = {"calendar": MON_FRI} | stated
    found = [f for f in hours_findings(season(hours_per_week=hours, **stated), tasks) if f.week == "2026-W47"]
    return found[0].hint


@pytest.mark.parametrize(
    ("potting", "besides", "names"),
    [
        ({"A": 2, "B": 5, "C": 4}, 0, "C"),  # 3 h over: the smallest that is enough
        ({"C": 3, "B": 5, "A": 3}, 0, "A"),  # just enough, of equals the first by name
        ({"A": 2.5, "B": 2, "C": 2}, 4.5, "B and C"),  # no lot is enough: the smallest first
    ],
)
def test_the_fewest_pots_that_mend_a_week_are_offered_a_week_sooner(
    potting: dict[str, float], besides: float, names: str
) -> None:
    assert hint(potting, 8, {0: besides}) == (
        "Any one of these would mend it: 3.0 more hours of help that week; "
        f"pot {names} 7 days sooner, in 2026-W46."
    )


def test_potting_is_offered_up_to_eight_weeks_sooner_where_there_is_room() -> None:
    # 6 h of 5, and 1 h in the weeks before; the 4 h of A are more than the 1 h that is over.
    two, full = {"A": 4, "B": 2}, dict.fromkeys(range(1, 12), 1.1)
    assert "pot B 7 days sooner, in 2026-W46" in hint(two, 5)
    assert "pot B 14 days sooner, in 2026-W45" in hint(two, 5, {1: 3.1})
    assert "pot A 56 days sooner, in 2026-W39" in hint({"A": 4}, 4, {0: 1} | full | {8: 0.0})
    # No week has the hours: the bulbs are no matter.
    assert hint({"A": 4}, 4, {0: 1} | full | {9: 0.0}).endswith("that week; " + FEWER)
    # Nobody works in W46: W45.
    holidays = frozenset(date(2026, 11, 9) + n * DAY for n in range(5))
    assert "in 2026-W45" in hint(two, 5, calendar=replace(MON_FRI, holidays=holidays))


def test_bulbs_of_one_lot_that_come_late_are_no_matter_of_another() -> None:
    # The last working day of W46 is Friday the 13th.
    for came, words in (
        (date(2026, 11, 13), "pot A 7 days sooner"),
        (date(2026, 11, 14), "the bulbs in hand sooner"),
    ):
        lots = [Lot("A", "tulip", 40, in_hand=came), Lot("B", "tulip", 40, in_hand=date(2026, 12, 24))]
        assert words in hint({"A": 4, "B": 5}, 5, lots=lots, bulbs_in_hand=date(2026, 12, 24))


def test_a_week_without_enough_potting_is_offered_help_or_fewer_pots() -> None:
    assert hint({"A": 1}, 4, {0: 6.0}) == (
        f"Any one of these would mend it: 3.0 more hours of help that week; {FEWER}"
    )


# ---------------------------------------------------------------- whole seasons


def lots_of_a_day(**stated: float) -> Season:
    """Six equal lots: at 3 min a pot and 20 min each time 100 pots are 5.33 h, six of them 32 h on one day."""
    lots = [
        Lot(f"T{i}", "tulip", 100, "mid", target=date(2027, 3, 20), cooler="Cold", bench="Bench")
        for i in range(6)
    ]
    return season(lots, calendar=MON_FRI, **stated)


def test_six_lots_of_one_day_are_potted_over_several() -> None:
    plain = worked(lots_of_a_day(), date(2026, 9, 1)).plan
    most = max(hours_by_day(plain.tasks).values())
    assert most > 15.9  # three lots and more on one day, the rest the week before
    made = worked(lots_of_a_day(hours_per_week=40.0, hours_per_day=11.0), date(2026, 9, 1)).plan
    load = hours_by_day(made.tasks)
    assert max(load[p.potting] for p in made.lots) <= 11.0
    assert all(p.cooler_in is not None and p.potting < p.cooler_in for p in made.lots)
    assert [p.cooler_in for p in made.lots] == [p.cooler_in for p in plain.lots]


def test_lots_of_one_opening_are_set_out_over_several_days_where_they_bear_it() -> None:
    """In a court as warm as the bench a day sooner makes no difference, in a frosty one it makes them late."""
    for outdoors, spread in ((16, True), (0, False)):
        places = (
            Place("Cold", "cooler", day=9, night=9), Place("Bench", "bench", day=16, night=16), Place("Court", "site"),
        )  # fmt: skip
        normals = tuple(Normal("Court", month, outdoors, outdoors) for month in range(1, 13))
        opens = date(2027, 3, 19)  # a Friday
        display = Display("Tubs", 60, "Court", Span(opens, opens + timedelta(days=30)))
        lots = [
            Lot(f"T{i}", "tulip", 100, "mid", target=opens, cooler="Cold", bench="Bench", display="Tubs")
            for i in range(6)
        ]
        made = worked(
            season(lots, calendar=MON_FRI, opens=opens, places=places, normals=normals, displays=(display,),
                   hours_per_day=8.0),
            date(2026, 9, 1),
        )  # fmt: skip
        # 2 min a pot and 20 min each time: 3.67 h a lot, two of them a day within 8 h.
        out = [p.install for p in made.plan.lots]
        assert (len(set(out)) >= 3) == spread and max(d for d in out if d) == opens
        assert all(p.bloom <= opens for p in made.plan.lots)
        load = hours_by_day(made.plan.tasks)
        assert not spread or max(load[day] for day in out if day) <= 8.0
