"""Units, spans, ISO weeks and working days at their edges."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forcing.dates import Span, WorkCalendar, iso_week, monday, parse_date, week_span, weeks_of
from forcing.units import (
    Measures,
    TemperatureUnit,
    c_to_f,
    c_to_f_difference,
    f_to_c,
    f_to_c_difference,
    from_celsius,
    in_degrees,
    order_unit,
    show_area,
    show_box,
    show_difference,
    show_length,
    show_mix,
    show_offset,
    show_pot,
    show_temperature,
    to_celsius,
    told,
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


def test_differences_for_people() -> None:
    # NIST SP 811 (2008), appendix B.8: a difference of 1 °C is one of 1.8 °F. 0.37 °C: 0.666 °F; 1.26 °C: 2.268 °F.
    assert (in_degrees(5, "F"), in_degrees(5, "C")) == (pytest.approx(9), 5)
    assert [show_difference(d, "C") for d in (1, 1.26, 10, -0.04)] == ["1 °C", "1.3 °C", "10 °C", "0 °C"]
    assert [show_difference(d, "F") for d in (1, 1.26, 5, -5)] == ["1.8 °F", "2.3 °F", "9 °F", "-9 °F"]
    assert [show_difference(0.37, "F", digits) for digits in (0, 1, 2)] == ["1 °F", "0.7 °F", "0.67 °F"]
    assert show_difference(1.26, "C", 2) == "1.26 °C"


def test_how_far_off_is_said_in_words() -> None:
    assert (show_offset(1.5, "C"), show_offset(-1.5, "C")) == ("1.5 °C warmer", "1.5 °C colder")
    assert (show_offset(0.5, "F"), show_offset(-5, "F")) == ("0.9 °F warmer", "9 °F colder")


@pytest.mark.parametrize(
    ("cm", "inches"),
    # Trade widths: the pot of 6 in is that of 15 cm, so 2.5 cm an inch, to the quarter:
    # 9 / 2.5 = 3.6, nearest 3.5; 11 / 2.5 = 4.4, nearest 4.5; 8 / 2.5 = 3.2, nearest 3.25; 7 / 2.5 = 2.8, nearest 2.75.
    [(15, "6"), (10, "4"), (9, "3.5"), (11, "4.5"), (8, "3.25"), (7, "2.75"), (30, "12")],
)
def test_pots_are_sold_by_a_round_width(cm: float, inches: str) -> None:
    assert show_pot(cm, "US") == f"{inches} in" and show_pot(cm, "metric") == f"{cm} cm"


@pytest.mark.parametrize(
    ("cm", "inches"),
    # An inch is 2.54 cm: 30 cm are 11.81 in, 4 cm 1.57, 3 cm 1.18, 3.5 cm 1.38, 45 cm 17.72; to the half inch.
    [(2.54, "1"), (5.08, "2"), (30, "12"), (4, "1.5"), (3, "1"), (3.5, "1.5"), (45, "17.5")],
)
def test_lengths_for_people(cm: float, inches: str) -> None:
    assert show_length(cm, "US") == f"{inches} in" and show_length(cm, "metric") == f"{cm} cm"
    # 0.5 cm are 0.197 in, 1 cm 0.394, 1.9 cm 0.748: quarters below an inch, so that no length is 0.
    assert [show_length(x, "US") for x in (0.5, 1, 1.9, 2.54)] == ["0.25 in", "0.5 in", "0.75 in", "1 in"]
    # Fixed prose speaks of lengths in the same way.
    assert told(f"{cm} cm", "C", "US") == f"{inches} in"


def test_areas_for_people() -> None:
    # A foot is 0.3048 m, a square foot 0.09290304 m²: 1 m² is 10.76 of them, 100 m² 1076.4.
    assert [show_area(m2, "US") for m2 in (0.09290304, 1, 100)] == ["1 sq ft", "11 sq ft", "1,076 sq ft"]
    assert [show_area(2.346, "metric", digits) for digits in (0, 1, 2)] == ["2 m²", "2.3 m²", "2.35 m²"]
    assert show_area(2.346, "metric") == "2.3 m²" and show_area(12, "metric") == "12.0 m²"


def test_boxes_for_people() -> None:
    # 60 / 2.54 = 23.62, nearest half 23.5; 39 / 2.54 = 15.35, nearest half 15.5. 50.8 × 25.4 cm is 20 × 10 in.
    assert show_box((60, 39), "metric") == "60 × 39 cm" and show_box((60, 39), "US") == "23.5 × 15.5 in"
    assert (
        show_box((50.8, 25.4), "metric") == "50.8 × 25.4 cm" and show_box((50.8, 25.4), "US") == "20 × 10 in"
    )


@pytest.mark.parametrize(
    ("litres", "metric", "us"),
    # NIST SP 811 (2008), appendix B.8: a US liquid quart is 0.946352946 L; a cubic foot, 0.3048³ m³, 28.316846592 L.
    # 10 / 0.946353 = 10.57; 28.3 / 0.946353 = 29.904; 42.475 / 28.3168 = 1.49999; 50 / 28.3168 = 1.766.
    [
        (0, "0 L", "0 qt"), (0.946352946, "0.9 L", "1 qt"), (10, "10 L", "10.6 qt"), (12.34, "12.3 L", "13 qt"),
        (28.3, "28.3 L", "29.9 qt"), (28.316846592, "28.3 L", "1 cu ft"), (42.475, "42.5 L", "1.5 cu ft"),
        (50, "50 L", "1.8 cu ft"), (283.16846592, "283.2 L", "10 cu ft"),
    ],
)  # fmt: skip
def test_potting_mix_for_people(litres: float, metric: str, us: str) -> None:
    assert (show_mix(litres, "metric"), show_mix(litres, "US")) == (metric, us)


@pytest.mark.parametrize(
    ("text", "unit", "measures", "shown"),
    [
        # 1.8 × 9 + 32 = 48.2; 13: 55.4; -2: 28.4; -5: 23; -3: 26.6; 2: 35.6; 4: 39.2; 1.5: 34.7; 7: 44.6.
        ("cool at 9 °C.", "F", "metric", "cool at 48 °F."),
        ("9 to 13 °C by day, -2 °C by night", "F", "metric", "48 to 55 °F by day, 28 °F by night"),
        ("2-4 °C, -5 - -3 °C", "F", "metric", "36-39 °F, 23 - 27 °F"),
        ("13 down to 1.5 °C; 2, 4 and 7 °C", "F", "metric", "55 down to 35 °F; 36, 39 and 45 °F"),
        # What a source says in °F stands as it is printed there.
        ("at 2 to 4 °C (35 to 40 °F), then", "F", "US", "at 35 to 40 °F, then"),
        ("at 2 to 4 °C (35 to 40 °F), then", "C", "US", "at 2 to 4 °C (35 to 40 °F), then"),
        # A sum of heat was worked out in °C·d, with the base that stands beside it.
        ("120 °C·d above 5 °C", "F", "US", "120 °C·d above 5 °C"),
        # 10 cm: 3.94 in. A pound is 0.45359237 kg: 10 kg, 22.05 lb; 15 kg, 33.07 lb.
        # An ounce (pound / 16) a square yard (0.9144² m²) is 33.9057 g/m²: 17 g/m², 0.501; 50 g/m², 1.475.
        ("10 cm, 10 or 15 kg, 17 to 50 g/m²", "C", "US", "4 in, 22 or 33 lb, 0.5 to 1.5 oz/sq yd"),
        ("10 cm, 10 or 15 kg, 17 g/m²", "F", "metric", "10 cm, 10 or 15 kg, 17 g/m²"),
        ("10 cm at 9 °C", "C", "US", "4 in at 9 °C"),
        ("10 cm at 9 °C", "F", "metric", "10 cm at 48 °F"),
        ("10 cm at 9 °C", "F", "US", "4 in at 48 °F"),
        ("10 cm at 9 °C", "C", "metric", "10 cm at 9 °C"),
        ("8 weeks in 6 pots", "F", "US", "8 weeks in 6 pots"),
        ("", "F", "US", ""),
    ],
)  # fmt: skip
def test_fixed_prose_in_the_units_of_a_season(
    text: str, unit: TemperatureUnit, measures: Measures, shown: str
) -> None:
    assert told(text, unit, measures) == shown


def test_mix_is_ordered_by_the_cubic_foot_and_cloth_by_the_square_foot() -> None:
    # 0.3048³ m³ = 28.316846592 L; 0.3048² m² = 0.09290304 m².
    assert order_unit("litres", "US") == ("cu ft", pytest.approx(28.316846592))
    assert order_unit("m²", "US") == ("sq ft", pytest.approx(0.09290304))
    assert order_unit("bulbs", "US") == ("bulbs", 1)
    for unit in ("litres", "m²", "bulbs"):
        assert order_unit(unit, "metric") == (unit, 1)


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
