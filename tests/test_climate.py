"""Sums of a climate along the places of a lot: by hand, against plain loops, and the same one by one as all at once."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forcing.dates import WorkCalendar
from forcing.engine.climate import TOLERANCE, Series, build_climate
from forcing.engine.log import Stay
from forcing.engine.simulate import gathered, reached
from forcing.model import Place, Reading
from forcing.science.heat import degree_days
from tests.builders import season

NUDGE = 1e-6
DAY = timedelta(days=1)
START = date(2027, 1, 4)

# ---------------------------------------------------------------- one series


@pytest.mark.parametrize(
    ("wanted", "day"),
    [
        (-1.0, 0),
        (0.0, 0),
        (TOLERANCE / 2, 0),  # within the tolerance of nothing
        (2 * TOLERANCE, 1),
        (10.0 - 2 * TOLERANCE, 1),
        (10.0, 1),
        (10.0 + TOLERANCE / 2, 1),
        (10.0 + 2 * TOLERANCE, 2),
        (30.0, 3),
        (30.0 + 2 * TOLERANCE, None),
    ],
)
def test_first_day_of_three_days_of_ten(wanted: float, day: int | None) -> None:
    series = Series.of(np.full(3, 10.0))
    assert series.reach(0, wanted, 3) == day
    assert series.reaches(np.array([0]), np.array(wanted)).tolist() == [series.never if day is None else day]


def test_rounding_of_a_long_sum_does_not_cost_a_day() -> None:
    series = Series.of(np.full(30, 0.1))
    assert series.cumulative[10] < 1.0  # ten tenths, added one by one
    assert series.reach(0, 1.0, 30) == 10


def test_days_without_heat_delay_and_the_first_day_of_a_plateau_wins() -> None:
    series = Series.of(np.array([4.0, 0.0, 0.0, 6.0, 0.0]))
    assert (series.reach(0, 4.0, 5), series.reach(0, 10.0, 5)) == (1, 4)
    assert series.reach(0, 10.0, 3) is None  # not by then
    # Counted back the last day of a plateau wins: 6 from day 3 on, 10 only from the first.
    assert (series.begin(5, 6.0), series.begin(5, 6.0 + 2 * TOLERANCE), series.begin(5, 10.1)) == (3, 0, None)
    assert series.begin(5, 0.0) == 5


def test_a_gap_before_the_day_makes_it_unknown_and_one_after_does_not() -> None:
    series = Series.of(np.array([10.0, 10.0, np.nan, 10.0]))
    assert (series.reach(0, 20.0, 4), series.reach(0, 25.0, 4), series.reach(3, 10.0, 4)) == (2, None, 4)
    assert (series.total(0, 2), series.total(0, 3), series.total(3, 4)) == (20.0, None, 10.0)
    assert (series.begin(4, 10.0), series.begin(4, 15.0), series.begin(2, 20.0)) == (3, None, 0)


def test_linear_model_by_hand_days_at_a_constant_bench() -> None:
    # 350 °C·d above 2 °C in 21 days asks for 2 + 350/21 = 18.667 °C, and 392 °C·d at 16 °C for 28 days
    for need, bench, days in ((350.0, 2 + 350 / 21, 21), (392.0, 16.0, 28)):
        heat = degree_days(np.full(60, bench), np.full(60, bench), 2.0, 25.0)
        assert Series.of(np.asarray(heat)).reach(0, need, 60) == days


daily = st.lists(st.one_of(st.integers(0, 20).map(float), st.just(float("nan"))), min_size=1, max_size=40)


@settings(max_examples=150, deadline=None)
@given(daily, st.lists(st.integers(0, 300), min_size=1, max_size=5), st.data())
def test_walking_day_by_day_gives_the_same(
    values: list[float], wanted: list[int], data: st.DataObject
) -> None:
    series, n = Series.of(np.array(values)), len(values)
    starts = data.draw(st.lists(st.integers(0, n), min_size=len(wanted), max_size=len(wanted)))
    forward, back = [], []
    for start, sum_wanted in zip(starts, wanted, strict=True):
        ahead = (day for day in range(start, n + 1) if not sum(values[start:day]) < sum_wanted)
        day = next(ahead, n + 1)
        forward.append(n + 1 if day <= n and np.isnan(sum(values[start:day])) else day)
        behind = (day for day in range(start, -1, -1) if not sum(values[day:start]) < sum_wanted)
        day = next(behind, -1)
        back.append(-1 if day >= 0 and np.isnan(sum(values[day:start])) else day)
    assert series.reaches(np.array(starts), np.array(wanted, dtype=float)).tolist() == forward
    assert series.begins(np.array(starts), np.array(wanted, dtype=float)).tolist() == back
    one = [series.reach(start, float(w), n) for start, w in zip(starts, wanted, strict=True)]
    assert [n + 1 if day is None else day for day in one] == forward


# ---------------------------------------------------------------- along the stays of a lot


def test_sums_along_stays_by_a_plain_loop() -> None:
    # 12 days at 16, 5 at 5 and the rest at 20 °C above base 2; one day of the last place is not known.
    places = (
        Place("Bench", "bench", day=16, night=16), Place("Cold", "cooler", day=5, night=5), Place("Site", "site"),
    )  # fmt: skip
    known = [START + i * DAY for i in range(60) if i != 40]
    readings = tuple(Reading("Site", day, 20, 20) for day in known)
    climate = build_climate(season(places=places, readings=readings))
    stays = (
        Stay("bench", "Bench", START), Stay("hold", "Cold", START + 12 * DAY), Stay("bench", "Site", START + 17 * DAY)
    )  # fmt: skip
    each = [14.0] * 12 + [3.0] * 5 + [18.0] * 23

    def heat(place: str) -> Series:
        return climate.heat(place, 2.0, 25.0)

    for first in (0, 5, 14):
        start = START + first * DAY
        for last in (first, 12, 15, 17, 40):
            total = gathered(climate, stays, start, START + last * DAY, heat)
            assert total == pytest.approx(sum(each[first:last]))
        for wanted in (0, 100, 168, 169, 183, 184, 300):
            day = next(i for i in range(first, 41) if sum(each[first:i]) >= wanted)
            assert reached(climate, stays, start, wanted, heat) == START + day * DAY
    assert gathered(climate, stays, START, START + 41 * DAY, heat) is None
    assert reached(climate, stays, START, sum(each) + 1, heat) is None
    assert reached(climate, stays, START, 169, heat, START + 12 * DAY) is None
    # The same legs as one series.
    first = climate.index(START)
    legs = (("Bench", first), ("Cold", first + 12), ("Site", first + 17))
    along = climate.along(legs, "heat", 2.0, 25.0)
    assert (
        along.total(first, first + 40) == pytest.approx(sum(each)) and along.total(first, first + 41) is None
    )
    assert along.total(0, first) == 0.0


def test_working_days_of_a_climate_are_those_of_the_calendar() -> None:
    calendar = WorkCalendar(frozenset({0, 2, 4}), frozenset({START}))
    climate = build_climate(season())
    working = climate.working(calendar)
    for number in range(20, climate.days - 20, 7):
        day = climate.day(number)
        assert climate.day(int(working.before[number])) == calendar.on_or_before(day)
        assert climate.day(int(working.after[number])) == calendar.on_or_after(day)
    assert {climate.day(int(n)) for n in working.days} == {
        climate.day(n) for n in range(climate.days + 1) if calendar.works(climate.day(n))
    }
