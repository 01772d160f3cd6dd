"""Cold credit between its nodes, the narcissus sum against print, and roots in the cold."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forcing.science.cold import cold_credit, narcissus_cold_sum, narcissus_days_at_16, rooting_rate
from tests.published import rees_hanks_1984 as rees_hanks

# Nodes for these tests alone: full credit 0 to 9 °C, none at -2 and from 13 °C. Slopes 1/2 and 1/4 per °C.
TEMPERATURES = (-2.0, 0.0, 9.0, 13.0)
WEIGHTS = (0.0, 1.0, 1.0, 0.0)
NUDGE = 1e-6

# ---------------------------------------------------------------- credit


@pytest.mark.parametrize(
    ("mean", "credit"),
    [
        (-30.0, 0.0),
        (-2.0 - NUDGE, 0.0),
        (-2.0, 0.0),
        (-2.0 + NUDGE, NUDGE / 2),
        (-1.0, 0.5),
        (0.0 - NUDGE, 1.0 - NUDGE / 2),
        (0.0, 1.0),
        (0.0 + NUDGE, 1.0),
        (5.0, 1.0),
        (9.0, 1.0),
        (9.0 + NUDGE, 1.0 - NUDGE / 4),
        (10.0, 0.75),
        (12.0, 0.25),
        (13.0 - NUDGE, NUDGE / 4),
        (13.0, 0.0),
        (13.0 + NUDGE, 0.0),
        (30.0, 0.0),
    ],
)
def test_credit_at_and_beside_every_node(mean, credit):
    assert cold_credit(mean, TEMPERATURES, WEIGHTS) == pytest.approx(credit, abs=1e-12)


def test_end_weights_hold_beyond_the_nodes():
    assert cold_credit([-5.0, 40.0], [0.0, 10.0], [0.6, 0.2]).tolist() == [0.6, 0.2]
    assert cold_credit([-5.0, 3.0, 40.0], [3.0], [0.6]).tolist() == [0.6, 0.6, 0.6]


def test_credit_is_limited_to_a_day_a_day_and_never_negative():
    # line from 2 at 0 °C to -2 at 10 °C: 1.2 at 2 °C, 0.4 at 4 °C, -0.4 at 6 °C
    assert cold_credit([2.0, 4.0, 6.0], [0.0, 10.0], [2.0, -2.0]) == pytest.approx([1.0, 0.4, 0.0])


def test_credit_keeps_the_shape_and_plain_numbers_plain():
    assert type(cold_credit(5, TEMPERATURES, WEIGHTS)) is float
    assert cold_credit(np.zeros((2, 3, 4)), TEMPERATURES, WEIGHTS).shape == (2, 3, 4)
    assert cold_credit([], TEMPERATURES, WEIGHTS).shape == (0,)


@pytest.mark.parametrize(
    ("temperatures", "weights", "said"),
    [
        ((), (), "at least one node"),
        ((0.0, 1.0), (1.0,), "one weight for each"),
        (5.0, 1.0, "at least one node"),
        ((0.0, 9.0, 9.0), (1.0, 1.0, 0.0), "strictly increase"),
        ((9.0, 0.0), (1.0, 0.0), "strictly increase"),
        ((0.0, np.nan), (1.0, 0.0), "not a number"),
        ((0.0, 9.0), (1.0, np.nan), "not a number"),
        ((0.0, np.inf), (1.0, 0.0), "finite"),
    ],
)
def test_nodes_that_make_no_curve_are_refused(temperatures, weights, said):
    with pytest.raises(ValueError, match=said):
        cold_credit([5.0], temperatures, weights)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.floats(-40, 50), min_size=1, max_size=20),
    st.lists(st.integers(-20, 30), min_size=1, max_size=6, unique=True),
    st.data(),
)
def test_credit_lies_within_0_and_1(means, nodes, data):
    weights = data.draw(st.lists(st.floats(-3, 3), min_size=len(nodes), max_size=len(nodes)))
    credit = cold_credit(means, sorted(nodes), weights)
    assert ((credit >= 0.0) & (credit <= 1.0)).all()


def test_gaps_stay_gaps_and_are_silent():
    days = [5.0, np.nan, 20.0]
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert np.isnan(cold_credit(days, TEMPERATURES, WEIGHTS)).tolist() == [False, True, False]
        assert np.isnan(narcissus_cold_sum(days))
        assert np.isnan(narcissus_days_at_16(np.nan))
        assert np.isnan(rooting_rate(days, 9.0)).tolist() == [False, True, False]


# ---------------------------------------------------------------- narcissus, Rees & Hanks 1984


@pytest.mark.parametrize(("units", "days"), rees_hanks.POINTS)
def test_rees_hanks_1984_printed_points(units, days):
    assert narcissus_days_at_16(units) == days


@pytest.mark.parametrize(("store", "days_to_2000", "days_to_2250"), rees_hanks.STORES)
def test_rees_hanks_1984_days_in_store(store, days_to_2000, days_to_2250):
    per_day = narcissus_cold_sum(store)
    assert 2000 / per_day == pytest.approx(days_to_2000, abs=0.05)
    assert 2250 / per_day == pytest.approx(days_to_2250, abs=0.05)
    whole = int(np.ceil(days_to_2000))
    assert narcissus_cold_sum(np.full(whole, store)) >= 2000 > narcissus_cold_sum(np.full(whole - 1, store))


def test_rees_hanks_1984_best_store_is_9_degrees_and_needs_15_weeks():
    # 9 °C for the 15 weeks that the paper asks for at least: 105 · 21 = 2205 units, 30 - 205·9/250 = 22.62 d
    units = narcissus_cold_sum(np.full(105, 9.0))
    assert units == 2205.0
    assert narcissus_days_at_16(units) == pytest.approx(22.62)


def test_two_more_weeks_of_cold_end_later_though_they_force_faster():
    # the paper's own finding; 14 days at 5 °C are 350 units, more than between its points, so take 10 (250)
    assert narcissus_days_at_16(2000) - narcissus_days_at_16(2000 + narcissus_cold_sum(np.full(10, 5.0))) < 10


def test_sum_counts_down_from_30_and_no_further():
    assert narcissus_cold_sum([29.0, 30.0, 31.0, -1.0]) == 1 + 0 + 0 + 31
    assert narcissus_cold_sum([]) == 0.0


def test_sum_over_an_axis():
    means = np.array([[9.0, 9.0, 5.0], [30.0, 20.0, 10.0]])
    assert narcissus_cold_sum(means, axis=1).tolist() == [67.0, 30.0]
    assert narcissus_cold_sum(means, axis=0).tolist() == [21.0, 31.0, 45.0]
    assert narcissus_cold_sum(means) == 97.0
    assert type(narcissus_cold_sum(means)) is float


def test_days_at_16_between_the_points_and_never_beyond():
    assert narcissus_days_at_16(2125) == pytest.approx(25.5)
    assert narcissus_days_at_16([2000 + NUDGE, 2250 - NUDGE]) == pytest.approx([30.0, 21.0], abs=1e-6)
    assert type(narcissus_days_at_16(2125)) is float
    for outside in (2000 - NUDGE, 2250 + NUDGE, 0.0, [2100.0, 2300.0]):
        with pytest.raises(ValueError, match="within 2000 to 2250"):
            narcissus_days_at_16(outside)


# ---------------------------------------------------------------- roots


@pytest.mark.parametrize(
    ("mean", "rate"),
    [
        (-5.0, 0.0),
        (-NUDGE, 0.0),
        (0.0, 0.0),
        (NUDGE, NUDGE / 9),
        (1.0, 1 / 9),
        (4.5, 0.5),
        (9.0 - NUDGE, 1 - NUDGE / 9),
        (9.0, 1.0),
        (9.0 + NUDGE, 1.0),
        (17.0, 1.0),
    ],
)
def test_rooting_rate_at_and_beside_its_edges(mean, rate):
    assert rooting_rate(mean, 9.0) == pytest.approx(rate, abs=1e-12)


def test_rooting_order_of_cornell_june_2013():
    fast, slower, reduced = rooting_rate([9.0, 4.0, 1.0], 9.0)
    assert fast == 1.0
    assert slower < fast
    assert reduced < slower / 2


def test_rooting_broadcasts_over_lots_and_refuses_a_best_at_freezing():
    assert rooting_rate([[4.5], [9.0]], [9.0, 18.0]).tolist() == [[0.5, 0.25], [1.0, 0.5]]
    assert type(rooting_rate(5, 9)) is float
    for best in (0.0, -1.0, [9.0, 0.0]):
        with pytest.raises(ValueError, match="above 0 °C"):
            rooting_rate(5.0, best)


@settings(max_examples=80, deadline=None)
@given(st.floats(-30, 40), st.floats(0, 20), st.floats(1, 20))
def test_warmer_never_roots_slower(mean, more, best):
    assert 0.0 <= rooting_rate(mean, best) <= rooting_rate(mean + more, best) <= 1.0
