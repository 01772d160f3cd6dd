"""Need, spread, stages and the day they are reached: against print, by hand, and by brute force."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forcing.science.flowering import bench_need, lognormal_sigma, need_at_confidence, spread_beyond
from tests.published import marcinek_2013 as marcinek
from tests.published import rees_hanks_1984 as rees_hanks

# A recipe for these tests alone: 24 days at 16 °C after 15 weeks, base 2 °C, 2.5 days a week, 18 days at least.
RECIPE = {
    "cold_target": 15.0,
    "bench_days": 24.0,
    "bench_days_min": 18.0,
    "days_saved": 2.5,
    "reference": 16.0,
    "base": 2.0,
}
NUDGE = 1e-6

# ---------------------------------------------------------------- cold buys heat


@pytest.mark.parametrize(
    ("cold", "days"),
    [
        (12.0, 31.5),  # 24 + 3 · 2.5
        (15.0 - NUDGE, 24.0 + 2.5 * NUDGE),
        (15.0, 24.0),
        (15.0 + NUDGE, 24.0 - 2.5 * NUDGE),
        (16.0, 21.5),
        (17.4 - NUDGE, 18.0 + 2.5 * NUDGE),  # (24 - 18) / 2.5 = 2.4 weeks to the floor
        (17.4, 18.0),
        (17.4 + NUDGE, 18.0),
        (23.0, 18.0),
    ],
)
def test_need_falls_with_cold_down_to_its_floor(cold, days):
    assert bench_need(cold, **RECIPE) == pytest.approx(days * 14.0, abs=1e-9)


def test_marcinek_2013_tulip_two_more_weeks_save_about_five_days():
    short, long = (
        bench_need(weeks, **RECIPE | {"cold_target": marcinek.LONG_COLD, "bench_days": 28.0})
        for weeks in (marcinek.SHORT_COLD, marcinek.LONG_COLD)
    )
    saved = (short - long) / (RECIPE["reference"] - RECIPE["base"])
    # "about 5" is a whole day's precision
    assert saved == pytest.approx(marcinek.DAYS_SHORTER, abs=0.5)
    # days after short and long cold stay within what the cultivars there took, latest and earliest
    days = [need / 14.0 for need in (short, long)]
    assert marcinek.EARLIEST_AFTER_LONG <= days[1] < days[0] <= marcinek.LATEST_AFTER_SHORT


def test_rees_hanks_1984_narcissus_points_as_a_recipe():
    # at 9 °C a week is 7 · 21 = 147 units, so the printed points lie 2000/147 and 2250/147 weeks along
    (few, slow), (many, quick) = rees_hanks.POINTS
    week = 7 * (rees_hanks.FROM - 9.0)
    recipe = {
        "cold_target": many / week,
        "bench_days": quick,
        "bench_days_min": quick,
        "days_saved": (slow - quick) / ((many - few) / week),
        "reference": rees_hanks.HOUSE,
        "base": 0.0,
    }
    assert bench_need(many / week, **recipe) == pytest.approx(336.0)  # 21 · 16
    assert bench_need(few / week, **recipe) == pytest.approx(480.0)  # 30 · 16


def test_need_of_many_lots_and_weeks_at_once():
    weeks = np.array([[12.0], [15.0], [23.0]])
    got = bench_need(weeks, **RECIPE | {"bench_days": np.array([24.0, 30.0])})
    assert got == pytest.approx(np.array([[31.5, 37.5], [24.0, 30.0], [18.0, 18.0]]) * 14.0)
    assert type(bench_need(15, **RECIPE)) is float
    assert np.isnan(bench_need(np.nan, **RECIPE))


@pytest.mark.parametrize("base", [16.0, 17.0])
def test_a_reference_not_above_base_is_refused(base):
    with pytest.raises(ValueError, match="reference temperature must be above base"):
        bench_need(15.0, **RECIPE | {"base": base})


@settings(max_examples=100, deadline=None)
@given(st.floats(0, 30), st.floats(0, 10), st.floats(0, 6))
def test_more_cold_never_needs_more_heat(cold, more, saved):
    recipe = RECIPE | {"days_saved": saved}
    assert bench_need(cold, **recipe) >= bench_need(cold + more, **recipe) >= 18.0 * 14.0


# ---------------------------------------------------------------- spread and confidence


def test_sigma_by_hand():
    # ln 1.01 = 0.00995033, root 0.0997513; ln 2 = 0.693147, root 0.832555
    assert lognormal_sigma(0.1) == pytest.approx(0.0997513, abs=5e-8)
    assert lognormal_sigma([0.0, 1.0]) == pytest.approx([0.0, 0.832555], abs=5e-7)


def test_need_at_nine_in_ten_by_hand():
    # z = 1.28155 (printed in tables of the normal law); 300 · exp(1.28155 · 0.0997513) = 340.91
    assert need_at_confidence(300.0, 0.1, 0.9) == pytest.approx(340.91, abs=0.005)
    assert need_at_confidence(300.0, 0.1, 0.1) == pytest.approx(300.0**2 / 340.91, abs=0.005)


def test_an_even_chance_is_the_handbook_arithmetic():
    assert need_at_confidence(336.0, 0.15, 0.5) == 336.0
    assert need_at_confidence(336.0, 0.0, 0.99) == 336.0


def test_the_stated_share_of_simulated_pots_is_in_bloom():
    # pots drawn by exponentiating normal draws whose own coefficient of variation is then measured
    pots = 300.0 * np.exp(np.random.default_rng(11).normal(0.0, lognormal_sigma(0.2), 400_000))
    assert pots.std() / pots.mean() == pytest.approx(0.2, abs=0.002)
    for confidence in (0.1, 0.5, 0.8, 0.95):
        share = (pots <= need_at_confidence(300.0, 0.2, confidence)).mean()
        assert share == pytest.approx(confidence, abs=0.004)


@pytest.mark.parametrize("confidence", [0.0, 1.0, -0.1, 1.1, 50.0, math.nan])
def test_a_chance_is_between_0_and_1(confidence):
    with pytest.raises(ValueError, match="above 0 and below 1"):
        need_at_confidence(300.0, 0.1, confidence)


def test_a_negative_spread_is_refused():
    with pytest.raises(ValueError, match="spread cannot be below 0"):
        lognormal_sigma(-0.01)
    with pytest.raises(ValueError, match="spread cannot be below 0"):
        need_at_confidence(300.0, [0.1, -0.1], 0.5)


def test_spread_broadcasts_over_lots():
    got = need_at_confidence(np.array([300.0, 400.0]), np.array([[0.0], [0.1]]), 0.9)
    assert got == pytest.approx(np.array([[300.0, 400.0], [340.91, 454.55]]), abs=0.01)
    assert type(need_at_confidence(300, 0.1, 0.9)) is float
    assert type(lognormal_sigma(0.1)) is float


@settings(max_examples=100, deadline=None)
@given(st.floats(1, 1000), st.floats(0, 1), st.floats(0.01, 0.99), st.floats(0.01, 0.99))
def test_surer_needs_more(need, spread, one, other):
    low, high = sorted((one, other))
    assert need_at_confidence(need, spread, low) <= need_at_confidence(need, spread, high) * (1 + 1e-12)


def test_a_need_that_nobody_has_measured_is_less_sure():
    # half of the unknown share is one more deviation: sqrt(0.12² + (0.5/2)²) = 0.2773
    assert spread_beyond(0.12, 0.5) == pytest.approx(0.2773, abs=5e-5)
    assert spread_beyond([0.1, 0.0], [0.0, 0.3]).tolist() == pytest.approx([0.1, 0.15])
