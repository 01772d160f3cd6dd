"""Units, spans, ISO weeks and working days at their edges."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forcing.dates import Span, WorkCalendar, iso_week, monday, parse_date, week_span, weeks_of
from forcing.units import (
    c_to_f,
    c_to_f_difference,
    f_to_c,
    f_to_c_difference,
    from_celsius,
    show_temperature,
    to_celsius,
)


def test_fixed_points_of_the_scales() -> None:
    # NIST SP 811 (2008), appendix B.8: t/°F = 1.8 t/°C + 32. Freezing, boiling, and where the scales meet.
    for celsius, fahrenheit in ((0, 32), (100, 212), (-40, -40), (9, 48.2)):
        assert c_to_f(celsius) == pytest.approx(fahrenheit)
        assert f_to_c(fahrenheit) == pytest.approx(celsius)


def test_a_difference_is_not_a_temperature() -> None:
    assert c_to_f_difference(1) == pytest.approx(1.8) and f_to_c_difference(9) == pytest.approx(5)
    assert c_to_f(1) != pytest.approx(c_to_f_difference(1))


def test_the_edges_of_the_package_speak_either_unit() -> None:
    # NIST SP 811 (2008), appendix B.8: 50 °F is 10 °C.
    assert (to_celsius(50, "F"), to_celsius(50, "C")) == (pytest.approx(10), 50)
    assert (from_celsius(10, "F"), from_celsius(10, "C")) == (pytest.approx(50), 10)


@given(st.floats(-60, 60))
def test_there_and_back(celsius: float) -> None:
    assert f_to_c(c_to_f(celsius)) == pytest.approx(celsius, abs=1e-9)
    assert f_to_c_difference(c_to_f_difference(celsius)) == pytest.approx(celsius, abs=1e-9)


@pytest.mark.parametrize(
    ("celsius", "unit", "shown"),
    [
        (9, "C", "9 °C"), (9.25, "C", "9.2 °C"), (-0.04, "C", "0 °C"), (9, "F", "48 °F"), (1, "F", "34 °F"),
        (f_to_c(62.5), "F", "62.5 °F"), (f_to_c(62.25), "F", "62 °F"), (f_to_c(62.3), "F", "62.3 °F"),
        (f_to_c(61.75), "F", "62 °F"), (f_to_c(61.74), "F", "61.7 °F"), (10, "C", "10 °C"), (-0.06, "C", "-0.1 °C"),
        (100, "C", "100 °C"), (0, "C", "0 °C"), (9.3, "C", "9.3 °C"), (0.25, "C", "0.2 °C"),
    ],
)  # fmt: skip
def test_temperatures_for_people(celsius: float, unit: str, shown: str) -> None:
    assert show_temperature(celsius, unit) == shown  # type: ignore[arg-type]


def test_decimals_are_as_asked_and_never_trailing_zeros() -> None:
    assert show_temperature(9.256, "C", 2) == "9.26 °C" and show_temperature(9.5, "C", 2) == "9.5 °C"
    assert show_temperature(10.4, "C", 0) == "10 °C" and show_temperature(-0.4, "C", 0) == "0 °C"
    assert show_temperature(9.256, "C") == "9.3 °C"


def test_weeks_by_iso_8601() -> None:
    # ISO 8601 week dates, restated: 2026 has 53 weeks; the year of a week is the week's own.
    for day, week in (
        (date(2024, 12, 30), "2025-W01"), (date(2026, 1, 1), "2026-W01"), (date(2026, 12, 31), "2026-W53"),
        (date(2027, 1, 3), "2026-W53"), (date(2021, 1, 3), "2020-W53"),
    ):  # fmt: skip
        assert iso_week(day) == week
        assert day in week_span(week) and week_span(week).start == monday(day)
    assert week_span("2026-W53").start == date(2026, 12, 28)
    assert iso_week(date(2026, 3, 4)) == "2026-W10" and iso_week(date(2026, 2, 26)) == "2026-W09"
    assert week_span(" 2026-W10 ") == Span(date(2026, 3, 2), date(2026, 3, 9))
    for wrong in ("2027-W53", "2026-W54", "2026-W00", "2026W10", "week 10", "2026-W10x", "26-W10"):
        with pytest.raises(ValueError):
            week_span(wrong)


def test_spans_are_half_open() -> None:
    span = Span(date(2028, 2, 28), date(2028, 3, 1))
    assert span.days == 2 and list(span) == [date(2028, 2, 28), date(2028, 2, 29)]
    assert date(2028, 3, 1) not in span and date(2028, 2, 29) in span
    assert Span(span.end, span.end).days == 0 and weeks_of(Span(span.end, span.end)) == ()
    assert date(2028, 2, 28) in span and date(2028, 2, 27) not in span
    assert span.overlap(Span(date(2028, 2, 29), date(2028, 4, 1))) == 1
    assert span.overlap(span) == 2 and span.overlap(Span(date(2028, 1, 1), date(2028, 2, 29))) == 1
    # Side by side, apart, and one inside the other.
    assert span.overlap(Span(span.end, date(2028, 4, 1))) == 0
    assert span.overlap(Span(date(2028, 5, 1), date(2028, 6, 1))) == 0
    assert span.overlap(Span(date(2028, 1, 1), date(2028, 6, 1))) == 2
    with pytest.raises(ValueError):
        Span(span.end, span.start)


def test_the_weeks_that_a_span_touches() -> None:
    # Monday 1 March 2027: a week begins on it, and the Monday a span ends on belongs to the next.
    mon, sun = date(2027, 3, 1), date(2027, 2, 28)
    assert weeks_of(Span(mon, mon + timedelta(days=7))) == (mon,)
    assert weeks_of(Span(mon, mon + timedelta(days=1))) == (mon,)
    assert weeks_of(Span(mon, mon + timedelta(days=8))) == (mon, date(2027, 3, 8))
    assert weeks_of(Span(sun, mon)) == (date(2027, 2, 22),)
    assert weeks_of(Span(sun, date(2027, 3, 16))) == tuple(
        date(2027, 2, 22) + timedelta(weeks=i) for i in range(4)
    )


def test_spans_are_put_in_order_of_their_start() -> None:
    early, late = Span(date(2027, 3, 1), date(2027, 3, 9)), Span(date(2027, 3, 2), date(2027, 3, 3))
    assert sorted([late, early]) == [early, late]


def test_dates_are_year_month_day_and_nothing_else() -> None:
    assert parse_date(" 2028-02-29 ") == date(2028, 2, 29)
    for wrong in ("29/02/2028", "2028-2-29", "20280229", "2027-02-29", "2028-02-29T00:00", ""):
        with pytest.raises(ValueError):
            parse_date(wrong)


def test_working_days_by_hand() -> None:
    # Good Friday 26 March and Easter Monday 29 March 2027 off: from Thursday the next working day is Tuesday 30.
    calendar = WorkCalendar(frozenset(range(5)), frozenset({date(2027, 3, 26), date(2027, 3, 29)}))
    assert calendar.after(date(2027, 3, 25)) == date(2027, 3, 30)
    assert calendar.on_or_before(date(2027, 3, 29)) == date(2027, 3, 25)
    assert calendar.on_or_after(date(2027, 3, 25)) == date(2027, 3, 25)
    assert calendar.before(date(2027, 3, 30)) == date(2027, 3, 25)
    assert calendar.on_or_before(date(2027, 3, 25)) == date(2027, 3, 25)
    assert (
        calendar.on_or_after(date(2027, 3, 26))
        == calendar.on_or_after(date(2027, 3, 28))
        == date(2027, 3, 30)
    )
    assert calendar.before(date(2027, 3, 25)) == date(2027, 3, 24)
    assert calendar.after(date(2027, 3, 30)) == date(2027, 3, 31)
    assert not calendar.works(date(2027, 3, 26)) and not calendar.works(date(2027, 3, 27))
    assert calendar.works(date(2027, 3, 25)) and WorkCalendar().works(date(2027, 3, 27))
    for weekdays in (frozenset(), frozenset({7}), frozenset({-1, 0})):
        with pytest.raises(ValueError):
            WorkCalendar(weekdays)
    assert WorkCalendar(frozenset({6})).after(date(2027, 3, 1)) == date(2027, 3, 7)
    everything = frozenset(date(2027, 1, 1) + timedelta(days=i) for i in range(5000))
    with pytest.raises(ValueError):
        WorkCalendar(frozenset(range(7)), everything).after(date(2027, 1, 1))
