"""One cell of a season at a time: what is understood, and what is refused with what to write instead."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from datetime import time as clock

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from forcing.season.cells import Percent, read_cell
from forcing.season.hints import CellProblem
from forcing.season.notation import Notation, expand_holidays, parse_holidays, parse_weekdays
from forcing.season.schema import Column, table
from tests.season_text import (
    ONE_LOT,
    reading_findings,
    season,
)


def one_cell(kind: str, raw: object, **column: object) -> object:
    return read_cell(Column("it", kind, "Help.", **column), raw, Notation())  # type: ignore[arg-type]


# ---------------------------------------------------------------- one cell


@pytest.mark.parametrize("raw", ["12", "12.0", " 12 ", "\u00a012\u00a0", 12, 12.0, "1.2e1", "+12"])
def test_whole_numbers_that_are_understood(raw: object) -> None:
    assert one_cell("count", raw) == 12


@pytest.mark.parametrize(
    ("raw", "code"),
    [
        ("12 pots", "cell-number"),
        ("twelve", "cell-number"),
        ("12,5", "cell-number"),
        ("1,200", "cell-number"),
        ("0x0c", "cell-number"),
        ("1_000", "cell-number"),
        ("nan", "cell-number"),
        ("inf", "cell-number"),
        (float("nan"), "cell-number"),
        (float("inf"), "cell-number"),
        ("1e999", "cell-number"),
        (10**400, "cell-number"),
        (True, "cell-number"),
        (False, "cell-number"),
        (date(2027, 3, 20), "cell-number"),
        (clock(3, 4), "cell-number"),
        (timedelta(hours=3), "cell-number"),
        (Percent(0.12), "cell-number"),
        (12.5, "cell-whole"),
        ("12.5", "cell-whole"),
        ("#REF!", "cell-error"),
        ("#n/a", "cell-error"),
        ("1\x002", "cell-control"),
    ],
)
def test_whole_numbers_that_are_refused(raw: object, code: str) -> None:
    problem = one_cell("count", raw)
    assert isinstance(problem, CellProblem) and problem.code == code


def test_refused_numbers_say_what_to_write() -> None:
    assert "12.5" in one_cell("number", "12,5").hint  # type: ignore[attr-defined]
    assert "1200" in one_cell("number", "1,200").hint  # type: ignore[attr-defined]
    assert "5 alone" in one_cell("temperature", "5 °C").hint  # type: ignore[attr-defined]
    assert "a whole number" in one_cell("count", "forty").hint  # type: ignore[attr-defined]
    assert "Write 1200." in one_cell("count", "1,200").hint  # type: ignore[attr-defined]
    assert "Write 1200." in one_cell("count", "1 200").hint  # type: ignore[attr-defined]
    assert "1200 if thousands" in one_cell("count", "1.200").hint  # type: ignore[attr-defined]
    assert "1234567 if thousands" in one_cell("number", "1'234'567").hint  # type: ignore[attr-defined]
    assert "0.8" in one_cell("fraction", 80, lowest=0.01, highest=0.99).hint  # type: ignore[attr-defined]


# 1 in is 2.54 cm, 1 ft 30.48 cm, a US gallon 3.785 l, an imperial one 4.546 l (NIST SP 811): 6 in is 15.24 cm, 4 ft
# 121.92 cm, 5 gal 18.9 or 22.7 l, 10 sq ft 0.929 m². °C is (°F - 32) / 1.8: 48 °F is 8.89 °C.
@pytest.mark.parametrize(
    ("name", "column", "raw", "unit", "hint"),
    [
        ("lots", "pot cm", "6 in", "C", "Write 15: 6 in is 15 cm."),
        ("lots", "pot cm", '6"', "F", 'Write 15: 6 " is 15 cm.'),
        ("lots", "pot cm", "3 inches", "C", "Write 7.6: 3 inches is 7.6 cm."),
        ("lots", "pot cm", "150 mm", "C", "Write 15: 150 mm is 15 cm."),
        ("lots", "pot cm", "15cm", "C", "Write 15 alone; the header says what it is."),
        ("lots", "pot cm", "12,5 cm", "C", "Write 12.5 alone; the header says what it is."),
        ("lots", "pot cm", "2 gal", "C", "Write it in cm, digits alone."),
        ("lots", "pots", "40 pots", "C", "Write 40 alone; the header says what it is."),
        ("lots", "pots", "3 trays", "C", "Write it in pots, digits alone."),
        ("lots", "cold weeks", "98 days", "C", "Write 14: 98 days is 14 weeks."),
        ("lots", "hold days", "2 weeks", "C", "Write 14: 2 weeks is 14 days."),
        (
            "displays",
            "litres",
            "5 gal",
            "C",
            "Write 19 for US or 23 for imperial measure: the column is in litres.",
        ),
        ("displays", "length cm", "4 ft", "C", "Write 122: 4 ft is 122 cm."),
        ("displays", "cover m2", "10 sq ft", "C", "Write 0.93: 10 sq ft is 0.93 m²."),
        ("places", "pots", "400 sq ft", "C", "Write it in 15 cm pots, digits alone."),
        ("minutes", "minutes per pot", "0.5 h", "C", "Write 30: 0.5 h is 30 minutes."),
        ("places", "day", "48F", "C", "Write 8.9: 48 °F is 8.9 °C, the season's unit."),
        ("places", "day", "48 °F", "F", "Write 48 alone; the unit is the season's, °F."),
        ("places", "day", "9 °C", "F", "Write 48.2: 9 °C is 48.2 °F, the season's unit."),
        ("places", "day", "0 deg F", "C", "Write -17.8: 0 °F is -17.8 °C, the season's unit."),
        ("places", "day", "18°", "C", "Write 18 alone; the unit is the season's, °C."),
        ("places", "day", "16-18°", "C", None),
        ("places", "day", "280 K", "C", "Write it in °C, digits alone."),
    ],
)
def test_a_number_with_a_unit_is_never_another_number_without_it(
    name: str, column: str, raw: str, unit: str, hint: str | None
) -> None:
    problem = read_cell(table(name).column(column), raw, Notation(unit))  # type: ignore[arg-type]
    if hint is None:
        assert isinstance(problem, CellProblem) and problem.message == "not a number"
    else:
        assert problem == CellProblem("cell-number", "more than a number", hint)


def test_a_unit_behind_a_figure_or_an_item_is_that_of_the_figure() -> None:
    text = "[crops]\ncrop | parameter | typical\ntulip | bench_days | 3 weeks\ntulip | base | 36 F\n"
    text += "[season]\nitem | value\nopens | 2027-03-20\ncloses | 2027-04-20\nfrost margin | 4 F\n"
    hints = [f.hint for f in reading_findings(text + ONE_LOT)]
    assert hints == [  # 36 °F is 2.2 °C as a temperature, and 4 °F is 2.2 °C as a difference
        "Write 21: 3 weeks is 21 days.",
        "Write 2.2: 36 °F is 2.2 °C, the season's unit.",
        "Write 2.2: a difference of 4 °F is one of 2.2 °C.",
    ]
    text = text.replace("frost margin | 4 F", "frost margin | 2 °C\ntemperature unit | F")
    assert reading_findings(text + ONE_LOT)[-1].hint == "Write 3.6: a difference of 2 °C is one of 3.6 °F."


_SLIPS = st.one_of(
    st.from_regex(r"[+-]?[0-9.,' ]{1,12} ?[a-zA-Z°\"'²/%]{0,8}", fullmatch=True),
    st.from_regex(r"[0-9]{1,4}[-/. ][0-9A-Za-z]{1,9}[-/. ][0-9]{1,4}", fullmatch=True),
    st.from_regex(r"[0-9]{4}-?W[0-9]{1,2}(-[1-7])?", fullmatch=True),
    st.text(max_size=12),
)


@given(text=_SLIPS, unit=st.sampled_from(["C", "F"]))
@example(text="9999-W52", unit="C")
@example(text="9" * 400 + " in", unit="C")
def test_whatever_is_typed_is_a_value_or_words(text: str, unit: str) -> None:
    for name, column in (("lots", "pots"), ("lots", "pot cm"), ("lots", "target bloom"), ("displays", "litres"),
                         ("places", "day"), ("lots", "hold days")):  # fmt: skip
        read = read_cell(table(name).column(column), text, Notation(unit))  # type: ignore[arg-type]
        if isinstance(read, CellProblem):
            assert read.message and read.hint.endswith(".") and "inf" not in read.hint.split()


@pytest.mark.parametrize("raw", ["", "  ", "\u00a0", "\u200b", None, "\n"])
def test_cells_that_are_empty(raw: object) -> None:
    assert one_cell("count", raw) is None and one_cell("date", raw) is None and one_cell("name", raw) is None


@pytest.mark.parametrize("raw", ["2027-03-20", " 2027-03-20 ", date(2027, 3, 20), datetime(2027, 3, 20)])
def test_dates_that_are_understood(raw: object) -> None:
    assert one_cell("date", raw) == date(2027, 3, 20)


@pytest.mark.parametrize(
    ("raw", "code", "hint"),
    [
        ("03/04/2026", "cell-date-ambiguous", "2026-04-03 for 3 April or 2026-03-04 for 4 March"),
        ("04.03.2026", "cell-date-ambiguous", "2026-03-04"),
        ("25/12/2026", "cell-date", "2026-12-25"),
        ("12/25/2026", "cell-date", "2026-12-25"),
        ("04/04/2026", "cell-date", "2026-04-04"),
        ("2026/12/25", "cell-date", "2026-12-25"),
        ("25/12/26", "cell-date", "2027-03-20"),
        ("20 March 2027", "cell-date", "2027-03-20"),
        ("2027-W12-6", "cell-date", "Write 2027-03-27"),  # its Monday is 22 March
        ("2026-W53", "cell-date", "from 2026-12-28 to 2027-01-03"),
        ("2027-W53-1", "cell-date", "calendar"),  # 2027 has 52 weeks
        ("20-Mar-2027", "cell-date", "Write 2027-03-20"),
        ("March 20th, 2027", "cell-date", "Write 2027-03-20"),
        ("4 Sept 2027", "cell-date", "Write 2027-09-04"),
        ("4 Ma 2027", "cell-date", "2027-03-20"),  # March or May
        ("29 Feb 2027", "cell-date", "calendar"),
        ("29/2/2027", "cell-date", "calendar"),
        ("46466", "cell-date", "date format"),
        ("20270320", "cell-date", "2027-03-20"),
        ("2027-03-20 00:00:00", "cell-date", "2027-03-20"),
        ("2027-02-29", "cell-date", "calendar"),
        (86400, "cell-date", "2027-03-20"),
        (46466.0, "cell-date", "2027-03-20"),
        (True, "cell-date", "2027-03-20"),
        (datetime(2027, 3, 20, 12), "cell-date", "2027-03-20"),
        (clock(0, 0), "cell-date", "2027-03-20"),
        (timedelta(days=3), "cell-date", "2027-03-20"),
        (date(27, 3, 20), "cell-date", "four digits"),
        ("0027-03-20", "cell-date", "four digits"),
        (datetime(1900, 1, 1), "cell-date", "four digits"),
    ],
)
def test_dates_that_are_refused(raw: object, code: str, hint: str) -> None:
    problem = one_cell("date", raw)
    assert isinstance(problem, CellProblem) and problem.code == code and hint in problem.hint


def test_names_are_text_as_it_is_seen() -> None:
    assert one_cell("name", " Bench \u00a0 1 ") == "Bench 1"
    assert one_cell("name", "E\u0301te\u0301") == "Été"  # composed, so that names from two machines match
    assert one_cell("name", 12) == "12" and one_cell("name", 12.0) == "12"
    assert one_cell("name", "012") == "012"
    assert one_cell("name", "=T1") == "=T1"
    assert one_cell("note", "one\r\n two ") == "one\ntwo"
    for raw in (True, datetime(2027, 3, 4), clock(1)):
        assert isinstance(one_cell("name", raw), CellProblem)


def test_percent_cells() -> None:
    assert one_cell("percent", Percent(0.05)) == one_cell("percent", 5) == one_cell("percent", "5 %") == 5
    assert one_cell("fraction", Percent(0.8)) == one_cell("fraction", "80%") == pytest.approx(0.8)


@pytest.mark.parametrize(
    ("column", "raw", "read"),
    [
        ("event", "Cooler_In", "cooler in"),
        ("event", "BROUGHT  IN", "brought in"),
        ("event", "color", "colour"),
    ],
)
def test_words(column: str, raw: str, read: str) -> None:
    assert read_cell(table("log").column(column), raw, Notation()) == read


def test_unknown_words_are_refused_with_the_nearest() -> None:
    problem = read_cell(table("log").column("event"), "bloomed", Notation())
    assert isinstance(problem, CellProblem) and "Did you mean bloom?" in problem.hint
    problem = read_cell(table("places").column("kind"), "xyz", Notation())
    assert isinstance(problem, CellProblem) and "cooler, bench, frame, site" in problem.hint


@pytest.mark.parametrize(
    ("low", "high", "inside", "outside"),
    [(1, 12, (1, 12), (0, 13)), (0, 60, (0, 60), (-0.01, 60.01))],
)
def test_limits_from_both_sides(
    low: float, high: float, inside: tuple[float, ...], outside: tuple[float, ...]
) -> None:
    for value in inside:
        assert one_cell("number", value, lowest=low, highest=high) == value
    for value in outside:
        problem = one_cell("number", value, lowest=low, highest=high)
        assert isinstance(problem, CellProblem) and problem.code == "cell-limits"


# ---------------------------------------------------------------- working days and holidays


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("Mon-Fri", {0, 1, 2, 3, 4}),
        ("Mon-Sat", {0, 1, 2, 3, 4, 5}),
        ("Mon Wed Fri", {0, 2, 4}),
        ("Mon, Wed-Fri", {0, 2, 3, 4}),
        ("Sun-Thu", {6, 0, 1, 2, 3}),
        ("every day", set(range(7))),
        ("Monday to Friday", {0, 1, 2, 3, 4}),
        ("tue – thurs", {1, 2, 3}),
        ("Sat and Sun", {5, 6}),
        ("Mon-Mon", {0}),
    ],
)
def test_working_days(text: str, days: set[int]) -> None:
    assert parse_weekdays(text) == days


@pytest.mark.parametrize("text", ["weekdays", "Mon-Fry", "1-5", "Mon-Wed-Fri", "-", "Mon-", "M T W"])
def test_working_days_that_are_refused(text: str) -> None:
    with pytest.raises(ValueError):
        parse_weekdays(text)


def test_holidays_of_dates_stretches_and_countries() -> None:
    parts = parse_holidays("2026-12-24 to 2027-01-01; gb, 2027-02-28")
    days = expand_holidays(parts, (2026, 2027))
    assert {date(2026, 12, 24), date(2027, 1, 1), date(2027, 2, 28)} <= days
    # Good Friday 2027 is 26 March (the Easter rule), a bank holiday in the United Kingdom by statute
    assert date(2027, 3, 26) in days and date(2027, 3, 25) not in days
    # Connecticut keeps Lincoln's birthday, 12 February, as a state holiday; the United States do not
    assert date(2026, 2, 12) in expand_holidays(parse_holidays("US-CT"), (2026,))
    assert date(2026, 2, 12) not in expand_holidays(parse_holidays("US"), (2026,))


@pytest.mark.parametrize(
    "text", ["XX", "Easter", "25/12/2026", "2027-01-01 to 2026-12-24", "2026-13-01", "US-ZZ", "Mon-Fri"]
)
def test_holidays_that_are_refused(text: str) -> None:
    with pytest.raises(ValueError):
        parse_holidays(text)


def test_holidays_of_a_show_that_crosses_the_new_year() -> None:
    stated = season(
        "[season]\nitem | value\nopens | 2026-12-20\ncloses | 2027-01-10\nholidays | NL\n" + ONE_LOT
    )
    assert {date(2026, 12, 25), date(2027, 1, 1), date(2025, 12, 25)} <= stated.calendar.holidays


# ---------------------------------------------------------------- how the season says that it is written


@given(st.dates(date(1980, 1, 1), date(2199, 12, 31)), st.sampled_from("/.- "), st.booleans())
def test_a_date_in_figures_is_read_in_the_order_stated(day: date, mark: str, padded: bool) -> None:
    figures = {"d": f"{day.day:02d}" if padded else str(day.day), "y": str(day.year),
               "m": f"{day.month:02d}" if padded else str(day.month)}  # fmt: skip
    for order, letters in (("day first", "dmy"), ("month first", "mdy"), ("year first", "ymd")):
        how = Notation(date_order=order)  # type: ignore[arg-type]
        column = Column("it", "date", "Help.")
        assert read_cell(column, mark.join(figures[letter] for letter in letters), how) == day
        assert read_cell(column, day.isoformat(), how) == day


def test_dates_that_are_not_as_stated_are_refused() -> None:
    column, how = Column("it", "date", "Help."), Notation(date_order="day first")
    for wrong, hint in (("3/20/2027", "Write 2027-03-20."), ("31/2/2027", "Look it up in a calendar.")):
        problem = read_cell(column, wrong, how)
        assert isinstance(problem, CellProblem) and problem.hint == hint
    unstated = read_cell(column, "4/3/2027", Notation())
    assert isinstance(unstated, CellProblem) and "state the date order" in unstated.hint


@given(st.integers(0, 10**9), st.integers(0, 99))
def test_numbers_are_read_in_the_style_stated(whole: int, hundredths: int) -> None:
    written = f"{whole:,}.{hundredths:02d}"  # Python's own marks: 1,234.50
    column = Column("it", "number", "Help.")
    value = float(f"{whole}.{hundredths:02d}")
    assert read_cell(column, written, Notation(number_style="comma for thousands")) == value
    turned = written.translate(str.maketrans(",.", ".,"))
    assert read_cell(column, turned, Notation(number_style="comma for decimals")) == value


def test_a_mark_that_is_not_of_the_style_is_refused() -> None:
    column = Column("it", "number", "Help.")
    thousands, decimals = (
        Notation(number_style="comma for thousands"),
        Notation(number_style="comma for decimals"),
    )
    for text, how in (
        ("12,5", thousands),
        ("1,20,000", thousands),
        ("1.2.3", decimals),
        ("1,200,5", decimals),
    ):
        assert isinstance(read_cell(column, text, how), CellProblem)
    assert read_cell(column, "18.5", decimals) == 18.5  # as a board writes it


def test_a_season_is_read_as_it_says_it_is_written() -> None:
    stated = season("""
        [season]
        item         | value
        opens        | 3/20/2027
        closes       | 5/2/2027
        holidays     | 12/24/2026 to 1/1/2027
        number style | comma for thousands
        date order   | month first
        [places]
        place  | kind   | pots   | day | night
        Cellar | cooler | 1,400  | 5   | 5
        South  | bench  | 2,000  | 18  | 14
        [lots]
        lot | crop  | pots  | target bloom
        T1  | tulip | 1,200 | 4/3/2027
    """)
    assert (stated.span.start, stated.span.end) == (date(2027, 3, 20), date(2027, 5, 3))
    assert (stated.lots[0].pots, stated.lots[0].target) == (1200, date(2027, 4, 3))
    assert date(2026, 12, 31) in stated.calendar.holidays and stated.places[0].pots == 1400
