"""Units, spans, ISO weeks and working days at their edges."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forcing.dates import Span, WorkCalendar, iso_week, monday, parse_date, week_span, weeks_of
from forcing.units import c_to_f, c_to_f_difference, f_to_c, f_to_c_difference, show_temperature


def test_fixed_points_of_the_scales() -> None:
    # NIST SP 811 (2008), appendix B.8: t/°F = 1.8 t/°C + 32. Freezing, boiling, and where the scales meet.
    for celsius, fahrenheit in ((0, 32), (100, 212), (-40, -40), (9, 48.2)):
        assert c_to_f(celsius) == pytest.approx(fahrenheit)
        assert f_to_c(fahrenheit) == pytest.approx(celsius)


def test_a_difference_is_not_a_temperature() -> None:
    assert c_to_f_difference(1) == pytest.approx(1.8) and f_to_c_difference(9) == pytest.approx(5)
    assert c_to_f(1) != pytest.approx(c_to_f_difference(1))


@given(st.floats(-60, 60))
def test_there_and_back(celsius: float) -> None:
    assert f_to_c(c_to_f(celsius)) == pytest.approx(celsius, abs=1e-9)
    assert f_to_c_difference(c_to_f_difference(celsius)) == pytest.approx(celsius, abs=1e-9)


@pytest.mark.parametrize(
    ("celsius", "unit", "shown"),
    [
        (9, "C", "9 °C"), (9.25, "C", "9.2 °C"), (-0.04, "C", "0 °C"), (9, "F", "48 °F"), (1, "F", "34 °F"),
        (f_to_c(62.5), "F", "62.5 °F"), (f_to_c(62.25), "F", "62 °F"), (f_to_c(62.3), "F", "62.3 °F"),
    ],
)  # fmt: skip
def test_temperatures_for_people(celsius: float, unit: str, shown: str) -> None:
    assert show_temperature(celsius, unit) == shown  # type: ignore[arg-type]


def test_weeks_by_iso_8601() -> None:
    # ISO 8601 week dates, restated: 2026 has 53 weeks; the year of a week is the week's own.
    for day, week in (
        (date(2024, 12, 30), "2025-W01"), (date(2026, 1, 1), "2026-W01"), (date(2026, 12, 31), "2026-W53"),
        (date(2027, 1, 3), "2026-W53"), (date(2021, 1, 3), "2020-W53"),
    ):  # fmt: skip
        assert iso_week(day) == week
        assert day in week_span(week) and week_span(week).start == monday(day)
    assert week_span("2026-W53").start == date(2026, 12, 28)
    for wrong in ("2027-W53", "2026-W54", "2026-W00", "2026W10", "week 10"):
        with pytest.raises(ValueError):
            week_span(wrong)


def test_spans_are_half_open() -> None:
    span = Span(date(2028, 2, 28), date(2028, 3, 1))
    assert span.days == 2 and list(span) == [date(2028, 2, 28), date(2028, 2, 29)]
    assert date(2028, 3, 1) not in span and date(2028, 2, 29) in span
    assert Span(span.end, span.end).days == 0 and weeks_of(Span(span.end, span.end)) == ()
    assert span.overlap(Span(date(2028, 2, 29), date(2028, 4, 1))) == 1
    with pytest.raises(ValueError):
        Span(span.end, span.start)


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
    with pytest.raises(ValueError):
        WorkCalendar(frozenset())
    everything = frozenset(date(2027, 1, 1) + timedelta(days=i) for i in range(5000))
    with pytest.raises(ValueError):
        WorkCalendar(frozenset(range(7)), everything).after(date(2027, 1, 1))
