"""Pulling cultivars toward their class: by hand, by brute force on the joint normal, and what must always hold."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2, multivariate_normal

from forcing.science.pooling import (
    COMMON,
    SEASONS,
    SPLITS,
    SPREAD_LOTS,
    Effect,
    Kind,
    Measured,
    Pool,
    Split,
    Tie,
    chi_square_quantile,
    late_together,
    pooled_spread,
)

ONE = Split(season=0.3, whole=0.1, cultivar=0.2, lot=0.4, weight=1.0)


def test_a_single_lot_by_hand() -> None:
    # Variance 0.01 in all, seen with 0.02² = 0.0004: y = 0.13 of 0.0104 is 12.5 for each 1 of variance. The season gets
    # 0.003 · 12.5 = 0.0375, the class 0.0125, class and cultivar 0.003 · 12.5 = 0.0375, the lot the rest.
    kind = Kind("early", "Plain Jane", 0.1)
    pool = Pool([kind], [Measured(0.13, 0.02)], [ONE])
    assert pool.season(0.1).mean == pytest.approx(0.0375)
    assert pool.of_class(kind).mean == pytest.approx(0.0125)
    assert pool.of_cultivar(kind).mean == pytest.approx(0.0375)
    # Its variance falls by the same share of itself: 0.003 - 0.003²/0.0104.
    assert pool.of_cultivar(kind).sigma ** 2 == pytest.approx(0.003 - 0.003**2 / 0.0104)
    # Of the lot itself the others say nothing: they do not exist.
    assert (pool.from_others(0).mean, pool.from_others(0).sigma) == pytest.approx((0.0, 0.1), abs=1e-9)


def conditioned(
    kinds: list[Kind], seen: list[Measured | None], split: Split, wanted: np.ndarray, own: float
) -> tuple[float, float, float]:
    """Mean and variance of a sum of parts, and the log density of what was seen, by the joint normal law of
    (season, classes, cultivars) conditioned as a whole. `wanted`: how much of each part.
    """
    parts: list[object] = ["season", *dict.fromkeys(k.whole for k in kinds)]
    parts += list(dict.fromkeys((k.whole, k.cultivar) for k in kinds))
    variances = {str: split.whole, tuple: split.cultivar}
    prior = np.diag([split.season if p == "season" else variances[type(p)] for p in parts])
    flat = [(k, m) for k, m in zip(kinds, seen, strict=True) if m is not None]
    design = np.array([
        [k.sigma * (p in ("season", k.whole, (k.whole, k.cultivar))) for p in parts] for k, _ in flat
    ])  # fmt: skip
    noise = np.diag([split.lot * k.sigma**2 + m.error**2 for k, m in flat])
    law = design @ prior @ design.T + noise
    gain = wanted @ prior @ design.T @ np.linalg.inv(law)
    y = np.array([m.log_ratio for _, m in flat])
    density = float(multivariate_normal.logpdf(y, np.zeros(y.size), law))
    return float(gain @ y), float(wanted @ prior @ wanted - gain @ design @ prior @ wanted + own), density


def many() -> tuple[list[Kind], list[Measured | None]]:
    rng = random.Random(7)
    kinds = [Kind(c, f"{c} {n % 3}", s) for c, s in (("early", 0.1), ("late", 0.15)) for n in range(5)]
    seen = [None if i in (2, 7) else Measured(rng.gauss(0.06, 0.1), rng.uniform(0, 0.1)) for i in range(10)]
    return kinds, seen


def test_against_the_joint_normal_conditioned_as_a_whole() -> None:
    # Parts: season, early, late, then early 0, 1, 2 and late 0, 1, 2.
    kinds, seen = many()
    pool = Pool(kinds, seen, [ONE])
    cultivar = np.array([0, 0.1, 0, 0, 0.1, 0, 0, 0, 0])
    mean, variance, _ = conditioned(kinds, seen, ONE, cultivar, 0.0)
    assert pool.of_cultivar(kinds[1]).mean == pytest.approx(mean, abs=1e-12)
    assert pool.of_cultivar(kinds[1]).sigma ** 2 == pytest.approx(variance, rel=1e-9)
    # What the others say of a lot that was seen itself: all of it again, without that lot.
    for i, own in ((1, 4), (2, 5)):
        whole = np.array([0.1 * (part in (0, 1, own)) for part in range(9)])
        others = [None if j == i else m for j, m in enumerate(seen)]
        mean, variance, _ = conditioned(kinds, others, ONE, whole, 0.4 * 0.1**2)
        assert pool.from_others(i).mean == pytest.approx(mean, abs=1e-12)
        assert pool.from_others(i).sigma ** 2 == pytest.approx(variance, rel=1e-9)


def test_ways_to_split_the_variance_count_as_they_foretell_what_was_seen() -> None:
    kinds, seen = many()
    whole = np.array([0, 0.1, 0, 0, 0, 0, 0, 0, 0])
    laws = [(split.weight, *conditioned(kinds, seen, split, whole, 0.0)) for split in SPLITS]
    weights = [weight * math.exp(density) for weight, _, _, density in laws]
    mean = sum(w * law[1] for w, law in zip(weights, laws, strict=True)) / sum(weights)
    square = sum(w * (law[2] + law[1] ** 2) for w, law in zip(weights, laws, strict=True)) / sum(weights)
    effect = Pool(kinds, seen).of_class(kinds[0])
    assert effect.mean == pytest.approx(mean, rel=1e-9)
    assert effect.sigma == pytest.approx(math.sqrt(square - mean**2), rel=1e-9)


def test_the_ways_to_split_the_variance_by_hand() -> None:
    # Three seasons by three rests by two ways to be alike. A class and its cultivars have a half of the rest between
    # them where they are much alike, a twentieth where they are not; of it a class has a third.
    rests = {0.35: 0.3, 0.75: 0.45, 1.222: 0.25}
    table = {
        (season, rest, common): often * rests[rest] / 2
        for season, often in {0.02: 0.3, 0.24: 0.4, 0.5: 0.3}.items()
        for rest in rests
        for common in (0.5, 0.05)
    }
    assert len(SPLITS) == len(table) == 18
    for split in SPLITS:
        rest, common = split.whole + split.cultivar + split.lot, split.whole + split.cultivar
        key = (split.season, round(rest, 9), round(common / rest, 9))
        assert split.weight == pytest.approx(table.pop(key))
        assert split.cultivar == pytest.approx(2 * split.whole)


def test_very_many_lots_that_differ_by_far_more_than_was_foretold_are_still_weighed() -> None:
    # 400 cultivars of one class, five standard deviations to either side: the chance of that is below e^-4000 for every
    # split, and least small for the one that leaves most to lot and cultivar: 1.222 without the class's sixth of a
    # tenth, 1.20163. The mean of the 400 is known to a 400th of that.
    kinds = [Kind("mid", n, 0.1) for n in range(401)]
    foretold = Pool(kinds, [*(Measured(0.5 * (-1) ** n) for n in range(400)), None]).from_others(400)
    assert foretold.mean == pytest.approx(0.0, abs=1e-12)
    assert foretold.sigma == pytest.approx(0.1 * math.sqrt(1.20163 * (1 + 1 / 400)), rel=1e-4)


def test_lots_that_differ_little_leave_less_open_and_lots_that_differ_much_more() -> None:
    def left(swing: float) -> float:
        kinds = [Kind("mid", n, 0.1) for n in range(13)]
        seen = [Measured(0.05 + swing * (-1) ** n, 0.01) for n in range(12)]
        return Pool(kinds, [*seen, None]).from_others(12).sigma

    assert left(0.02) < left(0.08) < left(0.16)


def test_without_lots_the_factor_is_exactly_1_and_the_doubt_the_recipes_own() -> None:
    kind = Kind("mid", "A", 0.1)
    pool = Pool([kind], [None])
    assert pool.of_class(kind).factor == pool.of_cultivar(kind).factor == 1.0
    assert not pool.of_cultivar(kind).differs
    assert pool.from_others(0).sigma == pytest.approx(0.1)
    assert sum(split.weight for split in SPLITS) == pytest.approx(1)
    assert sum(s.weight * (s.season + s.whole + s.cultivar + s.lot) for s in SPLITS) == pytest.approx(1)


@settings(max_examples=40, deadline=None)
@given(mean=st.floats(-0.5, 0.5), swing=st.floats(0, 0.2), sigma=st.floats(0.02, 0.3))
def test_with_much_data_a_lot_is_foretold_as_the_others_were(mean: float, swing: float, sigma: float) -> None:
    def foretold(pairs: int) -> float:
        kind = Kind("mid", "A", sigma)
        seen = [Measured(mean + swing), Measured(mean - swing)] * pairs
        return Pool([kind] * (2 * pairs + 1), [*seen, None]).from_others(2 * pairs).mean

    # nearer with many lots than with few, and never past it
    few, many = abs(mean - foretold(1)), abs(mean - foretold(100))
    assert many <= few + 1e-9
    assert many <= 0.1 * abs(mean) + 1e-9
    assert all(-1e-9 <= foretold(pairs) * mean <= mean**2 + 1e-9 for pairs in (1, 10))


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.lists(st.floats(-0.3, 0.3), min_size=1, max_size=4), min_size=1, max_size=4), st.floats(0.05, 0.3),
    st.floats(0, 0.3),
)  # fmt: skip
def test_effects_lie_among_the_recipe_and_the_lots(
    groups: list[list[float]], sigma: float, error: float
) -> None:
    kinds = [Kind("mid", i, sigma) for i, group in enumerate(groups) for _ in group]
    values = [y for group in groups for y in group]
    pool = Pool(kinds, [Measured(y, error) for y in values])
    for i, kind in enumerate(kinds):
        for effect in (pool.from_others(i), pool.of_class(kind), pool.season(sigma)):
            assert min(0.0, *values) - 1e-9 <= effect.mean <= max(0.0, *values) + 1e-9


def test_a_lot_seen_badly_counts_for_less() -> None:
    kind = Kind("mid", "A", 0.1)
    sharp, blurred = (Pool([kind], [Measured(0.2, error)]).of_cultivar(kind).mean for error in (0.0, 0.3))
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
        Pool([Kind("mid", "A", sigma)], [None])


def test_each_lot_is_seen_or_not() -> None:
    with pytest.raises(ValueError, match="shorter"):
        Pool([Kind("mid", "A", 0.1)] * 2, [None])


# ---------------------------------------------------------------- lots late together

JANE, JOHN = Kind("mid", "Plain Jane", 0.1), Kind("mid", "Plain John", 0.2)
LATE, OTHER = Kind("late", "Plain Jane", 0.1), Kind("mid", 7, 0.1)
TIES = [
    Tie(JANE, "Bench 1", COMMON), Tie(JANE, "Bench 2", COMMON), Tie(JOHN, "Bench 1", COMMON / 2, 0.3),
    Tie(LATE, "Bench 1", COMMON, 0.1), Tie(OTHER, "Bench 2", 0.0, 0.9), Tie(OTHER, "Bench 2", 0.0, 0.4),
]  # fmt: skip


def shared(split: Split, one: Tie, other: Tie) -> float:
    """What two lots agree by in seasons of one split, by the parts that both have, of a whole of 1."""
    parts = split.season
    if one.kind.whole == other.kind.whole:
        parts += split.whole
        parts += split.cultivar if one.kind.cultivar == other.kind.cultivar else 0.0
    whole = split.season + split.whole + split.cultivar + split.lot
    seen = math.sqrt(one.common * other.common) / COMMON
    heat = math.sqrt(one.ahead * other.ahead) if one.bench == other.bench else 0.0
    return seen * parts / whole + heat


def test_lots_are_late_together_by_what_they_share() -> None:
    # Of 200,000 seasons a correlation is good to 1/447: 0.01 is more than four times that.
    made = late_together(TIES, 200_000)
    assert made.shape == (6, 200_000)
    found = made @ made.T / 200_000
    for i, one in enumerate(TIES):
        for j, other in enumerate(TIES):
            alike = 1.0 if i == j else sum(s.weight * shared(s, one, other) for s in SPLITS)
            assert found[i, j] == pytest.approx(alike, abs=0.01), (i, j)
    # Each alone is standard normal: a tenth is later than 1.28155, give or take 0.0007.
    assert [np.mean(row > 1.28155) for row in made] == pytest.approx([0.1] * 6, abs=0.003)
    # Of heat that is still to come lateness and earliness are drawn in pairs.
    (heat,) = late_together([Tie(JANE, "Bench", 0.0, 1.0)], 1000)
    assert math.fsum(heat) == pytest.approx(0.0, abs=1e-9) and np.std(heat) == pytest.approx(1.0, abs=0.1)


def test_how_much_lots_share_is_the_same_for_all_lots_of_a_drawn_season() -> None:
    # The chance that both of two lots of a cultivar are two standard deviations late: of each split by scipy's normal
    # law of two, over the splits. With what they share on average it would be 0.0035, not 0.0042.
    made = late_together(TIES[:2], 400_000)
    chance = sum(
        s.weight * multivariate_normal.cdf([-2, -2], cov=[[1, r := shared(s, *TIES[:2])], [r, 1]])
        for s in SPLITS
    )
    assert np.mean((made[0] > 2) & (made[1] > 2)) == pytest.approx(chance, abs=3e-4)


def test_the_same_seasons_are_drawn_each_time() -> None:
    made = late_together(TIES)
    assert made.shape == (6, SEASONS) and np.array_equal(made, late_together(TIES))
    assert 0.5 / math.sqrt(SEASONS) == pytest.approx(
        0.0055, abs=5e-4
    )  # what a chance of one in two is good to


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
