"""Work by the day: no day takes more than its share where another working day is free; reckoned by hand beside it."""

from __future__ import annotations

from datetime import date, timedelta

from forcing.dates import Span
from forcing.engine.work.hours import day_limit, hours_by_day, off_full_days
from forcing.model import Display, Lot, Normal, Place, Season, Task
from tests.builders import MON_FRI, season, worked

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
