"""Last freezes, percentiles, covers: against print, hand counts and other libraries."""

from __future__ import annotations

import math
from datetime import date, datetime, timedelta

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forcing.science.frost import (
    COVERS,
    LEAF_MARGIN,
    NORTH,
    FreezeSeason,
    SpringWindow,
    chance_from,
    cover_holds,
    cover_wanted,
    frost_date,
    last_freezes,
    pooled_nights,
    share_freezing,
)
from tests.outside import library
from tests.published import frost_covers

DAY = timedelta(days=1)
# Day numbers of a common year, made up; figures worked out by hand in the tests.
TEN_YEARS = (96, 101, 104, 107, 110, 112, 115, 118, 121, 128)


def chance_after(seasons, day, *how):  # type: ignore[no-untyped-def]
    """The chance of a freeze later than a day: on the next day or after it."""
    return chance_from(seasons, day + timedelta(days=1), *how)


def nightly_chance(dates, minima, threshold=0.0, pooled=7):  # type: ignore[no-untyped-def]
    """The share of freezing nights by calendar day."""
    nights = pooled_nights(dates, minima, pooled)
    return {day: share_freezing(lows, threshold) for day, lows in nights.items()}


def froze(numbers: tuple[int, ...], first: int = 2001) -> list[FreezeSeason]:
    """Springs whose last freezes fall on the dates that have these numbers in a common year."""
    dates = [date(2001, 1, 1) + timedelta(days=n - 1) for n in numbers]
    return [FreezeSeason(first + i, "froze", d.replace(year=first + i), 0) for i, d in enumerate(dates)]


def no_freeze(count: int) -> list[FreezeSeason]:
    return [FreezeSeason(2101 + i, "no freeze", None, 0) for i in range(count)]


def span(first: date, last: date) -> list[date]:
    return [first + timedelta(days=i) for i in range((last - first).days + 1)]


@pytest.fixture(scope="module")
def seattle() -> tuple[list[date], list[float]]:
    """Daily minima [°C] of Seattle, 2012 to 2015: 1461 days, NOAA data in the package vega_datasets."""
    data = library("vega_datasets").local_data.seattle_weather()
    return [stamp.date() for stamp in data["date"]], [float(low) for low in data["temp_min"]]


# ---------------------------------------------------------------- last freezes


def test_seattle_by_hand(seattle) -> None:
    # Counted in the file: 2012-03-19 -1.1; 2013-03-04 0.0; 2014-02-09 0.0; 2015-03-04 -0.5 are the last
    # minima at or below 0 °C before August.
    last = [s.last for s in last_freezes(*seattle)]
    assert last == [date(2012, 3, 19), date(2013, 3, 4), date(2014, 2, 9), date(2015, 3, 4)]
    # At or below -2.2 °C (28 °F): 2012-02-27 -2.2; 2013-01-17 -2.8; 2014-02-07 -4.9; 2015-01-01 -3.2.
    last = [s.last for s in last_freezes(*seattle, threshold=-2.2)]
    assert last == [date(2012, 2, 27), date(2013, 1, 17), date(2014, 2, 7), date(2015, 1, 1)]
    # The coldest night of 2015 before August was -3.2, of 2014 -6.0.
    outcomes = [s.outcome for s in last_freezes(*seattle, threshold=-5.9)]
    assert outcomes == ["no freeze", "no freeze", "froze", "no freeze"]


def test_seattle_against_xclim(seattle) -> None:
    indices = library("xclim.indices")
    xarray = library("xarray")
    dates, lows = seattle
    series = xarray.DataArray(
        lows, dims="time", coords={"time": [datetime(d.year, d.month, d.day) for d in dates]}
    ).assign_attrs(units="degC")
    for threshold in (0.0, -1.1, -2.2, 3.0):
        theirs = indices.last_spring_frost(
            series, thresh=f"{threshold} degC", op="<=", before_date="07-31"
        ).values
        mine = [s.last.timetuple().tm_yday for s in last_freezes(dates, lows, threshold)]
        assert mine == theirs.tolist()
    # Frost days (minimum below 0 °C) of the years, xclim frost_days: 18, 26, 18, 10. Minima come in tenths.
    theirs = indices.frost_days(series).values.tolist()
    assert theirs == [18, 26, 18, 10]
    for year, count in zip((2012, 2013, 2014, 2015), theirs, strict=True):
        mine = [(d, low) for d, low in zip(dates, lows, strict=True) if d.year == year]
        shares = nightly_chance(*zip(*mine, strict=True), threshold=-0.05, pooled=1)
        assert sum(share or 0 for share in shares.values()) == count


def test_seattle_percentiles_by_hand_and_by_numpy(seattle) -> None:
    springs = last_freezes(*seattle)
    # Days from 1 January with 29 February in every year: 9 Feb 39, 4 Mar 63 (twice), 19 Mar 78.
    # Rank r = (1 - risk) · 5. Risk 0.5: r 2.5, 63. Risk 0.25: r 3.75, 63 + 0.75 · 15 = 74.25.
    assert frost_date(springs, 0.5).in_year(2027) == date(2027, 3, 4)
    assert frost_date(springs, 0.25).number == pytest.approx(74.25)
    assert frost_date(springs, 0.25).in_year(2027) == date(2027, 3, 16)  # 74.25 goes up to 75
    assert frost_date(springs, 0.2).in_year(2028) == date(2028, 3, 19)
    for risk in (0.2, 0.3, 0.45, 0.6, 0.8):
        theirs = numpy.quantile([39, 63, 63, 78], 1 - risk, method="weibull")
        assert frost_date(springs, risk).number == pytest.approx(float(theirs))
    # Four years give no rank for a risk below 1 in 5.
    found = frost_date(springs, 0.1)
    assert (found.number, found.years, found.in_year(2027)) == (None, 4, None)
    assert "1 in 5" in found.reason
    # Normal: mean 60.75, deviation √(780.75 / 3) = 16.132; 10 % later: 60.75 + 1.28155 · 16.132 = 81.424.
    found = frost_date(springs, 0.1, "normal")
    assert found.number == pytest.approx(81.424, abs=5e-4)
    assert found.in_year(2027) == date(2027, 3, 23)


def test_missing_days_make_a_season_not_known() -> None:
    days = span(date(2024, 1, 1), date(2024, 7, 31))
    lows: list[float | None] = [5.0] * len(days)
    lows[40] = -1.0
    assert last_freezes(days, lows) == (FreezeSeason(2024, "froze", date(2024, 2, 10), 0),)
    nine: list[float | None] = [None] * 9 + lows[9:]
    assert last_freezes(days, nine) == (FreezeSeason(2024, "froze", date(2024, 2, 10), 9),)
    ten: list[float | None] = [math.nan] * 10 + lows[10:]
    assert last_freezes(days, ten) == (FreezeSeason(2024, "not known", None, 10),)
    # Days after the last freeze seen could hide a later one: they count as well, left out or empty.
    assert last_freezes(days[:-10], lows[:-10])[0].outcome == "not known"
    assert last_freezes(days[:-9], lows[:-9])[0].outcome == "froze"
    assert frost_date(last_freezes(days[:-10], lows[:-10]), 0.5).reason != ""


def test_edges_of_the_window_and_of_the_threshold() -> None:
    days = span(date(2023, 1, 1), date(2023, 12, 31))
    at = {date(2023, 7, 31): 0.0, date(2023, 8, 1): -3.0}
    assert last_freezes(days, [at.get(d, 9.0) for d in days])[0].last == date(2023, 7, 31)
    at = {date(2023, 7, 31): 0.1, date(2023, 1, 1): 0.0}
    assert last_freezes(days, [at.get(d, 9.0) for d in days])[0].last == date(2023, 1, 1)
    assert last_freezes([], []) == ()
    assert last_freezes([date(2023, 9, 1)], [-5.0]) == ()  # no day of any spring


def test_a_year_without_data_between_others_is_not_known() -> None:
    days = span(date(2020, 1, 1), date(2020, 7, 31)) + span(date(2022, 1, 1), date(2022, 7, 31))
    springs = last_freezes(days, [-1.0] * len(days))
    assert [(s.year, s.outcome) for s in springs] == [
        (2020, "froze"), (2021, "not known"), (2022, "froze"),
    ]  # fmt: skip
    assert springs[1].missing == 212  # 1 January to 31 July of a common year


SOUTH = SpringWindow((7, 1), (1, 31))


def test_a_southern_spring_crosses_the_new_year() -> None:
    days = span(date(2022, 7, 1), date(2024, 1, 31))
    cold = {date(2022, 11, 3), date(2023, 6, 20), date(2024, 1, 2)}
    springs = last_freezes(days, [-1.0 if d in cold else 8.0 for d in days], window=SOUTH)
    assert [(s.year, s.last) for s in springs] == [(2022, date(2022, 11, 3)), (2023, date(2024, 1, 2))]
    assert SOUTH.season(date(2024, 2, 1)) is None
    assert SOUTH.season(date(2024, 1, 31)) == 2023
    assert SOUTH.season(date(2024, 7, 1)) == 2024
    middle = frost_date(springs, 0.5, window=SOUTH)
    # 3 Nov is 125 days after 1 July, 2 Jan 185: middle 155, 3 December.
    assert middle.number == 155
    assert middle.in_year(2026) == date(2026, 12, 3)


def test_like_dates_have_like_numbers_in_leap_and_common_years() -> None:
    window = SpringWindow()
    for month, day in ((1, 1), (2, 28), (3, 1), (7, 31)):
        assert window.number(date(2023, month, day)) == window.number(date(2024, month, day))
    assert window.number(date(2024, 2, 29)) == 59
    assert window.day(59, 2024) == date(2024, 2, 29)
    assert window.day(59, 2023) == date(2023, 3, 1)  # the later one where there is none
    with pytest.raises(ValueError, match="day"):
        SpringWindow((2, 29), (7, 31))


WINDOWS = (SpringWindow(), SOUTH, SpringWindow((2, 1), (6, 30)), SpringWindow((3, 1), (2, 28)))


@given(st.dates(date(1990, 1, 1), date(2040, 12, 31)), st.sampled_from(WINDOWS))
def test_number_and_day_are_each_other_undone(day: date, window: SpringWindow) -> None:
    year = window.season(day)
    if year is not None:
        assert window.day(window.number(day), year) == day
        assert day in window.days(year)


def test_wrong_series_are_refused() -> None:
    day = date(2024, 3, 1)
    with pytest.raises(ValueError, match="twice"):
        last_freezes([day, day], [1.0, 2.0])
    with pytest.raises(ValueError, match="1 dates but 2 minima"):
        last_freezes([day], [1.0, 2.0])
    with pytest.raises(ValueError, match="finite"):
        nightly_chance([day], [math.inf])
    with pytest.raises(ValueError, match="moments"):
        last_freezes([datetime(2024, 3, 1)], [1.0])
    for pooled in (0, -1, 4):
        with pytest.raises(ValueError, match="odd"):
            nightly_chance([day], [1.0], pooled=pooled)
    for risk in (0.0, 1.0, math.nan):
        with pytest.raises(ValueError, match="risk"):
            frost_date(froze(TEN_YEARS), risk)


# ---------------------------------------------------------------- percentiles


def test_ten_years_worked_by_hand() -> None:
    springs = froze(TEN_YEARS)
    # Rank 0.9 · 11 = 9.9: 121 + 0.9 · 7 = 127.3, 8 May upward.
    assert frost_date(springs, 0.1).number == pytest.approx(127.3)
    assert frost_date(springs, 0.1).method == "rank"
    assert frost_date(springs, 0.1).in_year(2027) == date(2027, 5, 8)
    # Normal: 111.2 + 1.28155 · 9.693 = 123.62.
    assert frost_date(springs, 0.1, "normal").number == pytest.approx(123.6, abs=0.05)
    # Φ((121 - 111.2) / 9.693) = 0.844; day 121 is 1 May, and the next night is the 122nd.
    assert chance_after(springs, date(2023, 5, 1), "normal") == pytest.approx(0.156, abs=5e-4)
    assert chance_from(springs, date(2024, 5, 2), "normal") == pytest.approx(0.156, abs=5e-4)
    # By count: one year of ten froze after day 121, two on it or later.
    assert chance_after(springs, date(2024, 5, 1)) == pytest.approx(0.1)
    assert chance_from(springs, date(2024, 5, 1)) == pytest.approx(0.2)


def test_years_without_a_freeze_are_counted() -> None:
    springs = froze(TEN_YEARS) + no_freeze(2)
    # q = 10/12; F = 1 - 0.1 / q = 0.88; z = 1.175; 111.2 + 1.175 · 9.693 = 122.59.
    assert frost_date(springs, 0.1, "normal").number == pytest.approx(122.6, abs=0.05)
    # Rank 0.9 · 13 = 11.7 of twelve, the first two without a freeze: 121 + 0.7 · 7.
    assert frost_date(springs, 0.1).number == pytest.approx(125.9)
    assert chance_after(springs, date(2023, 1, 1)) == pytest.approx(10 / 12)
    rare = froze((100,)) + no_freeze(9)
    for method in ("rank", "normal"):
        found = frost_date(rare, 0.5, method)
        assert found.number is None
        assert "only 1 of 10 years" in found.reason
    assert frost_date(no_freeze(5), 0.1).number is None
    assert chance_after(no_freeze(5), date(2023, 3, 1)) == 0.0
    # Those that are not known count for nothing.
    unknown = [FreezeSeason(2090, "not known", None, 30)]
    assert frost_date(springs + unknown, 0.1).years == 12
    assert chance_after(unknown, date(2023, 3, 1)) is None


def test_the_edges_of_what_ranks_can_show_by_hand() -> None:
    # Ten of ten: risk 1/11 asks for rank 10, the latest, day 128; a little less asks for more than there is.
    springs = froze(TEN_YEARS)
    assert frost_date(springs, 1 / 11).number == pytest.approx(128)
    beyond = frost_date(springs, 0.0909)
    assert beyond.number is None
    assert "below 1 in 11" in beyond.reason
    # One of ten, the nine without a freeze first: risk 2/11 asks for rank 9 of them, none; a little less for what lies
    # between there and the freeze, which is taken.
    rare = froze((100,)) + no_freeze(9)
    assert frost_date(rare, 2 / 11).number is None
    assert frost_date(rare, 0.18).number == 100
    # By the curve: as many as freeze at all is no date, a little less is one.
    half = froze((100, 110)) + no_freeze(2)
    assert frost_date(half, 0.5, "normal").number is None
    assert frost_date(half, 0.49, "normal").number is not None


def test_the_default_is_rank_below_twenty_years() -> None:
    assert frost_date(froze(tuple(range(100, 119))), 0.1).method == "rank"
    assert frost_date(froze(tuple(range(100, 120))), 0.1).method == "normal"


def test_the_default_chance_is_by_rank_below_twenty_years_too() -> None:
    # 19 years, days 100 to 118: by rank 9 of 19 are later than day 109. A curve says one half there.
    day = NORTH.day(109, 2023)
    assert chance_after(froze(tuple(range(100, 119))), day) == pytest.approx(9 / 19)
    # 20 years, days 100 to 119: mean 109.5, standard deviation sqrt(35) = 5.916; (109 - 109.5) / 5.916 = -0.0845;
    # 1 - Φ(-0.0845) = 0.5337 (printed tables: Φ(0.08) = 0.5319, Φ(0.09) = 0.5359). By rank 10 of 20.
    assert chance_after(froze(tuple(range(100, 120))), day) == pytest.approx(0.5337, abs=5e-5)


def test_two_years_make_a_curve() -> None:
    # Days 100 and 110: mean 105, standard deviation 7.0711; day 105 halves it, day 112.07 is one deviation up.
    two = froze((100, 110))
    assert chance_after(two, NORTH.day(105, 2023), "normal") == pytest.approx(0.5)
    # (110 - 105) / 7.0711 = 0.7071; 1 - Φ(0.7071) = 0.2398.
    assert chance_after(two, NORTH.day(110, 2023), "normal") == pytest.approx(0.2398, abs=5e-5)
    assert frost_date(two, 0.5, "normal").number == pytest.approx(105)
    # Three of four known years froze on day 100: the share that freezes, and none once it is past.
    like = froze((100, 100, 100)) + no_freeze(1)
    assert chance_after(like, NORTH.day(99, 2023), "normal") == pytest.approx(0.75)


def test_one_year_and_like_years() -> None:
    assert frost_date(froze((100,)), 0.5).number == 100
    assert frost_date(froze((100,)), 0.5, "normal").number is None
    assert chance_after(froze((100,)), date(2023, 4, 1), "normal") is None
    same = froze((100, 100, 100))
    assert frost_date(same, 0.1, "normal").number == pytest.approx(100)
    assert chance_after(same, date(2023, 4, 9), "normal") == 1.0  # day 99
    assert chance_after(same, date(2023, 4, 10), "normal") == 0.0
    with pytest.raises(ValueError, match="outside the spring window"):
        chance_after(same, date(2023, 9, 1))


@settings(max_examples=60)
@given(
    st.lists(st.integers(61, 200), min_size=2, max_size=30),
    st.integers(0, 6),
    st.sampled_from(["rank", "normal"]),
    st.floats(0.02, 0.98),
    st.floats(0.02, 0.98),
)
def test_less_risk_is_a_later_date(numbers, warm, method, one, other) -> None:
    springs = froze(tuple(numbers)) + no_freeze(warm)
    small, large = sorted((one, other))
    later, earlier = frost_date(springs, small, method), frost_date(springs, large, method)
    if later.number is not None and earlier.number is not None:
        assert later.number >= earlier.number - 1e-9
    if method == "rank" and later.number is not None:
        assert min(numbers) <= later.number <= max(numbers)


@settings(max_examples=60)
@given(
    st.lists(st.integers(61, 200), min_size=2, max_size=30),
    st.integers(0, 6),
    st.sampled_from(["rank", "normal"]),
)
def test_the_chance_only_falls_as_spring_goes_on(numbers, warm, method) -> None:
    springs = froze(tuple(numbers)) + no_freeze(warm)
    days = span(date(2027, 1, 1), date(2027, 7, 31))[::9]
    chances = [chance_after(springs, day, method) for day in days]
    assert all(0.0 <= c <= len(numbers) / (len(numbers) + warm) + 1e-12 for c in chances)
    assert chances == sorted(chances, reverse=True)


# ---------------------------------------------------------------- chance by night


def test_the_chance_of_a_night_is_a_share_of_years() -> None:
    # Three years; 10 April at or below 0 °C in one of them, exactly at 0.
    days = [date(year, 4, d) for year in (2023, 2024, 2025) for d in range(1, 21)]
    lows = [0.0 if d == date(2024, 4, 10) else 4.0 for d in days]
    plain = nightly_chance(days, lows, pooled=1)
    assert plain[4, 10] == pytest.approx(1 / 3)
    assert plain[4, 9] == plain[4, 11] == 0.0
    assert plain[5, 1] is None
    week = nightly_chance(days, lows)
    assert week[4, 7] == week[4, 10] == week[4, 13] == pytest.approx(1 / 21)
    assert week[4, 6] == week[4, 14] == 0.0
    # 1 April has only itself and three nights after it in each year.
    assert nightly_chance(days, [-1.0 if d.day == 4 else 1.0 for d in days])[4, 1] == pytest.approx(3 / 12)
    assert len(week) == 366
    assert set(nightly_chance([], []).values()) == {None}


def test_pooling_goes_by_dates_over_leap_day_and_new_year() -> None:
    days = span(date(2023, 1, 1), date(2024, 12, 31))
    lows = [-1.0 if (d.month, d.day) == (2, 26) else 5.0 for d in days]
    chance = nightly_chance(days, lows)
    # 1 March is three nights after 26 February in 2023, four in 2024: one night of 14 froze.
    assert chance[3, 1] == pytest.approx(1 / 14)
    assert chance[2, 29] == pytest.approx(1 / 7)  # of 2024 alone
    lows = [-1.0 if d == date(2023, 12, 31) else 5.0 for d in days]
    chance = nightly_chance(days, lows)
    # Nights within three of 3 January: seven in each year; of 2024's one is 31 December 2023.
    assert chance[1, 3] == pytest.approx(1 / 14)
    assert chance[1, 4] == 0.0


# ---------------------------------------------------------------- leaves and covers


def test_margins_and_covers_are_those_printed() -> None:
    # A difference of 1 °F is 5/9 °C.
    least, most = frost_covers.FORECAST_MISSES
    assert least < LEAF_MARGIN * 1.8 < most
    assert pytest.approx(frost_covers.COVER_AT) == LEAF_MARGIN * 1.8
    thin, thick, half, one, heavy = COVERS
    assert (thin.low, thick.high) == (frost_covers.FAO_THIN, frost_covers.FAO_THICK)
    assert (half.low * 1.8, half.high * 1.8) == pytest.approx(frost_covers.TRADE_HALF_OUNCE)
    assert (one.low * 1.8, one.high * 1.8) == pytest.approx(frost_covers.TRADE_HALF_TO_ONE_OUNCE)
    assert heavy.high * 1.8 == pytest.approx(frost_covers.TRADE_HEAVY_UP_TO)
    assert [c.basis for c in COVERS] == ["published", "published", "trade", "trade", "trade"]
    assert all(c.source for c in COVERS)
    # Where only an upper figure is printed nothing is promised.
    assert (thick.counted_on, heavy.counted_on, half.counted_on) == (0.0, 0.0, half.low)
    # 1 oz/yd² is 28.3495 g on 0.836127 m²: 33.906 g/m².
    assert [round(w * 33.906) for w in (0.5, 1.0, 1.5, 2.2)] == [17, 34, 51, 75]


def test_cover_at_the_margin_from_both_sides() -> None:
    # Stands 28 °F, margin 4 °F: cover at 32 °F (0 °C), not at 32.2 °F.
    limit = (28 - 32) * 5 / 9
    assert cover_wanted(0.0, limit)
    assert not cover_wanted(0.1, limit)
    assert cover_wanted(-10.0, limit)
    # Under 2 °C of cover, leaves 2 °C below air: held to a forecast of the limit itself, no lower.
    assert cover_holds(-2.0, -2.0, 2.0, margin=2.0)
    assert not cover_holds(-2.1, -2.0, 2.0, margin=2.0)
