"""Pulling cultivars toward their class: by hand, by brute force on the joint normal, and what must always hold."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2

from forcing.science.pooling import (
    CLASS_SHARE,
    CULTIVAR_SHARE,
    LOT_SHARE,
    SPREAD_LOTS,
    Effect,
    Measured,
    Split,
    chi_square_quantile,
    pooled,
    pooled_spread,
)

SPLIT = Split(lot=0.006, cultivar=0.004, whole=0.002)


def test_shrinkage_by_hand() -> None:
    # Cultivar A: 0.10 and 0.14, precision 2/0.006 = 333.33, mean 0.12. B: -0.02 alone, precision 166.67.
    # Class: A counts 1/(0.004 + 0.003) = 142.857, B 1/(0.004 + 0.006) = 100, the recipe 1/0.002 = 500 at 0:
    #   mean (142.857*0.12 - 100*0.02) / 742.857 = 15.142857/742.857 = 0.0203846; variance 1/742.857 = 0.00134615.
    # A: its own share 333.33/(333.33 + 250) = 0.571429: 0.571429*0.12 + 0.428571*0.0203846 = 0.0773077;
    #   variance 1/583.33 + 0.428571²*0.00134615 = 0.00171429 + 0.00024725 = 0.00196154.
    # B: its own share 166.67/416.67 = 0.4: -0.008 + 0.6*0.0203846 = 0.00423077;
    #   variance 1/416.67 + 0.36*0.00134615 = 0.00288462. One lot is pulled further than two.
    whole, (a, b) = pooled([[Measured(0.10), Measured(0.14)], [Measured(-0.02)]], SPLIT)
    assert (whole.mean, whole.sigma**2) == pytest.approx((0.0203846, 0.00134615), rel=1e-5)
    assert (a.mean, a.sigma**2) == pytest.approx((0.0773077, 0.00196154), rel=1e-5)
    assert (b.mean, b.sigma**2) == pytest.approx((0.00423077, 0.00288462), rel=1e-5)
    assert a.factor == pytest.approx(math.exp(0.0773077), rel=1e-6)
    # 10 and 90 %: 1.2815516 standard deviations of sqrt(0.00196154) = 0.0442893 either way.
    assert math.log(a.low) == pytest.approx(0.0773077 - 1.2815516 * 0.0442893, rel=1e-4)
    assert math.log(a.high) == pytest.approx(0.0773077 + 1.2815516 * 0.0442893, rel=1e-4)
    assert a.differs
    assert not b.differs


def test_against_the_joint_normal_conditioned_as_a_whole() -> None:
    # Everything at once: (class, cultivars, lots) as one normal vector, conditioned on the lots by linear algebra.
    rng = random.Random(7)
    lots = [[Measured(rng.gauss(0.05, 0.1), rng.uniform(0, 0.1)) for _ in range(n)] for n in (3, 1, 0, 2)]
    flat = [(i, lot) for i, group in enumerate(lots) for lot in group]
    unknowns = 1 + len(lots)
    prior = np.full((unknowns, unknowns), SPLIT.whole)
    prior[1:, 1:] += np.eye(len(lots)) * SPLIT.cultivar
    design = np.zeros((len(flat), unknowns))
    for row, (i, _) in enumerate(flat):
        design[row, 1 + i] = 1.0
    noise = np.diag([SPLIT.lot + lot.error**2 for _, lot in flat])
    gain = prior @ design.T @ np.linalg.inv(design @ prior @ design.T + noise)
    mean = gain @ np.array([lot.log_ratio for _, lot in flat])
    cover = prior - gain @ design @ prior
    whole, effects = pooled(lots, SPLIT)
    for k, effect in enumerate((whole, *effects)):
        assert effect.mean == pytest.approx(mean[k], abs=1e-12)
        assert effect.sigma**2 == pytest.approx(cover[k, k], rel=1e-9)


def test_without_lots_the_factor_is_exactly_1_and_the_doubt_the_recipes_own() -> None:
    split = Split.of(0.1)
    whole, (one,) = pooled([[]], split)
    assert whole.factor == one.factor == 1.0
    assert not one.differs
    # What a lot never seen may be: cultivar and class still open, and the lot's own part: the recipe's variance.
    assert one.sigma**2 + split.lot == pytest.approx(0.01)
    assert pytest.approx(1) == LOT_SHARE + CULTIVAR_SHARE + CLASS_SHARE


@settings(max_examples=60, deadline=None)
@given(mean=st.floats(-0.5, 0.5), swing=st.floats(0, 0.2), sigma=st.floats(0.02, 0.3))
def test_with_much_data_the_factor_tends_to_the_mean_seen(mean: float, swing: float, sigma: float) -> None:
    def factor(pairs: int) -> float:
        lots = [Measured(mean + swing), Measured(mean - swing)] * pairs
        return pooled([lots], Split.of(sigma))[1][0].mean

    assert factor(2000) == pytest.approx(mean, abs=1e-3)
    # and never past it, nearer with every lot more
    away = [abs(mean - factor(pairs)) for pairs in (1, 3, 10, 100)]
    assert away == sorted(away, reverse=True)
    assert all(factor(pairs) * mean >= 0 for pairs in (1, 10))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.lists(st.floats(-0.5, 0.5), max_size=4), min_size=1, max_size=4), st.floats(0.02, 0.3),
    st.floats(0, 0.3),
)  # fmt: skip
def test_effects_lie_among_the_recipe_and_the_lots_and_are_surer_than_before(
    groups: list[list[float]], sigma: float, error: float
) -> None:
    split = Split.of(sigma)
    whole, effects = pooled([[Measured(y, error) for y in g] for g in groups], split)
    all_lots = [0.0, *(y for g in groups for y in g)]
    for effect in (whole, *effects):
        assert min(all_lots) - 1e-12 <= effect.mean <= max(all_lots) + 1e-12
    assert whole.sigma**2 <= split.whole * (1 + 1e-12)
    assert all(e.sigma**2 <= (split.whole + split.cultivar) * (1 + 1e-12) for e in effects)


def test_a_lot_seen_badly_counts_for_less() -> None:
    sharp, blurred = (pooled([[Measured(0.2, error)]], SPLIT)[1][0].mean for error in (0.0, 0.3))
    assert 0 < blurred < sharp < 0.2


@pytest.mark.parametrize(
    ("mean", "differs"), [(0.1282, True), (0.1281, False), (-0.1281, False), (-0.1282, True)]
)
def test_a_factor_differs_where_its_range_leaves_1(mean: float, differs: bool) -> None:
    # 1.28155 standard deviations of 0.1 are 0.128155: nearer to 0 the range from 10 to 90 % holds 1.
    assert Effect(mean, 0.1).differs == differs


def test_the_spread_by_hand() -> None:
    # sigma 0.1 for 10 lots, and 0.2, 0, -0.2 about their mean 0 for 2: (10*0.01 + 0.08) / 12 = 0.015;
    # as a coefficient of variation sqrt(e^0.015 - 1) = 0.122935.
    assert SPREAD_LOTS == 10
    spread = pooled_spread([0.2, 0.0, -0.2], 0.1)
    assert spread.typical == pytest.approx(0.122935, abs=1e-6)
    # Chi-square with 12 degrees of freedom is below 18.549 with 9 chances in 10 and 6.304 with 1 (printed tables):
    # sqrt(e^(0.18/18.549) - 1) = 0.09875 and sqrt(e^(0.18/6.304) - 1) = 0.17019, near enough as the quantiles are.
    assert spread.low == pytest.approx(0.09875, rel=0.006)
    assert spread.high == pytest.approx(0.17019, rel=0.006)
    assert pooled_spread([], 0.1).typical == pytest.approx(math.sqrt(math.expm1(0.01)))
    # One lot says nothing of the spread between lots: it stays the recipe's.
    assert pooled_spread([0.4], 0.1).typical == pytest.approx(math.sqrt(math.expm1(0.01)))
    # Of very many lots nothing but their own spread is left.
    many = pooled_spread([0.05, -0.05] * 5000, 0.3)
    assert many.typical == pytest.approx(math.sqrt(math.expm1(0.0025)), rel=0.05)


@pytest.mark.parametrize("freedom", [10, 11, 15, 30, 100])
@pytest.mark.parametrize("p", [0.1, 0.5, 0.9])
def test_chi_square_quantiles_against_scipy(freedom: int, p: float) -> None:
    assert chi_square_quantile(p, freedom) == pytest.approx(chi2.ppf(p, freedom), rel=0.01)


@pytest.mark.parametrize("sigma", [0.0, -0.1, math.nan])
def test_a_recipe_without_spread_cannot_be_split(sigma: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        Split.of(sigma)


def test_the_spread_of_two_lots_by_hand() -> None:
    # Logarithms 0.2 and 0.4 lie 0.1 either side of their mean: squares 0.02. The recipe's 0.1² counts for 10 lots:
    #   (10 · 0.01 + 0.02) / (10 + 1) = 0.0109091; sqrt(e^0.0109091 - 1) = 0.104733.
    # 10 and 90 % of chi-square with 11 degrees of freedom are 5.578 and 17.275 (printed tables):
    #   sqrt(e^(0.12/17.275) - 1) = 0.083491, sqrt(e^(0.12/5.578) - 1) = 0.147461.
    seen = pooled_spread([0.2, 0.4], 0.1)
    assert seen.typical == pytest.approx(0.104733, abs=1e-6)
    assert (seen.low, seen.high) == pytest.approx((0.083491, 0.147461), rel=0.005)


def test_one_lot_or_none_say_nothing_of_the_spread() -> None:
    # sqrt(e^0.01 - 1) = 0.100250
    for seen in (pooled_spread([], 0.1), pooled_spread([0.7], 0.1)):
        assert seen.typical == pytest.approx(0.100250, abs=1e-6)
        assert seen == pooled_spread([], 0.1)


def test_lots_that_say_little_still_count() -> None:
    # Variances 4 of lot, 2 of cultivar, 1 of class; one lot at 0.7: 1/(2 + 4) = 1/6 beside the recipe's 1 at 0:
    #   mean 0.7/6 / (7/6) = 0.1, variance 6/7.
    whole, _ = pooled([[Measured(0.7)]], Split(lot=4.0, cultivar=2.0, whole=1.0))
    assert (whole.mean, whole.sigma**2) == pytest.approx((0.1, 6 / 7))
