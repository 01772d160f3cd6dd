"""The need after what was seen: by hand, by scipy's log-normal, by a plain double sum; every edge from both sides."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr
from scipy.stats import lognorm

from forcing.science.evidence import (
    Need,
    Sight,
    autocorrelated_sum_sd,
    likelihood,
    posterior_need,
    prior_need,
)

NEED = Need(300.0, 0.1)


def law(need: Need):
    """The same need by an independent library."""
    return lognorm(need.sigma, scale=need.median)


# ---------------------------------------------------------------- chances and quantiles


@pytest.mark.parametrize("heat", [200.0, 270.0, 300.0, 330.0, 400.0])
def test_the_chance_that_heat_is_enough_is_scipys(heat: float) -> None:
    assert NEED.chance(heat) == pytest.approx(law(NEED).cdf(heat), abs=1e-12)


@pytest.mark.parametrize("above", [250.0, 300.0, 330.0])
@pytest.mark.parametrize("more", [0.5, 20.0, 100.0])
def test_what_was_not_enough_is_taken_out(above: float, more: float) -> None:
    known, enough = law(NEED).cdf([above, above + more])
    assert replace(NEED, above=above).chance(above + more) == pytest.approx(
        (enough - known) / (1 - known), abs=1e-12
    )


@pytest.mark.parametrize("above", [0.0, 250.0, 330.0])
@pytest.mark.parametrize("p", [0.1, 0.5, 0.9])
def test_quantiles_are_scipys_of_what_is_left(p: float, above: float) -> None:
    known = law(NEED).cdf(above)
    assert replace(NEED, above=above).quantile(p) == pytest.approx(
        law(NEED).ppf(known + p * (1 - known)), rel=1e-9
    )


def test_half_of_the_pots_bloom_at_the_median() -> None:
    assert NEED.chance(300.0) == pytest.approx(0.5, abs=1e-15)
    assert NEED.quantile(0.5) == pytest.approx(300.0)


def test_heat_that_is_none_or_was_not_enough_has_no_chance() -> None:
    for heat in (0.0, -1.0):
        assert NEED.chance(heat) == 0.0
    from_300 = replace(NEED, above=300.0)
    assert from_300.chance(300.0) == from_300.chance(299.0) == 0.0
    # A shade more than what was not enough: density · 0.001 / (1 - Φ(0)) = 1/(300·0.1·√(2π)) · 0.001 / 0.5.
    assert from_300.chance(300.001) == pytest.approx(2.6596e-5, rel=1e-3)
    # Heat below nothing was gathered by nobody: it takes nothing out.
    assert replace(NEED, above=-1.0).chance(0.5) == NEED.chance(0.5)
    assert Need(0.5, 0.1).chance(0.5) == pytest.approx(0.5)  # 0.5 °C·d is some heat, not none
    assert Need(0.8, 0.1, 0.8).chance(0.9) == pytest.approx(2 * (law(Need(0.8, 0.1)).cdf(0.9) - 0.5))


def test_what_can_hardly_be_is_as_good_as_here() -> None:
    """450 °C·d were not enough although 300 ± 1 % were expected: forty standard deviations out."""
    sure = Need(300.0, 0.01, 450.0)
    assert sure.chance(460.0) == 1.0 and sure.chance(450.0) == sure.chance(440.0) == 0.0
    assert sure.quantile(0.1) == sure.quantile(0.9) == 450.0
    # Five out (z = 5: 2.9e-7 is left) is still worked out: half of what is left lies above its median.
    five = 300.0 * math.exp(0.05)
    left, sure = law(sure).sf(five), replace(sure, above=five)
    assert five < sure.quantile(0.5) == pytest.approx(law(sure).isf(left / 2), rel=1e-6)
    assert sure.chance(law(sure).isf(left / 2)) == pytest.approx(0.5, abs=1e-6)
    # At six (1.0e-9) and further no share can be told apart from none: 5.9 is worked out (1.8e-9), 6.1 (5e-10) is not.
    near, far = (replace(sure, above=300.0 * math.exp(0.01 * z)) for z in (5.9, 6.1))
    assert near.quantile(0.9) > near.above and far.quantile(0.9) == far.above
    assert near.chance(near.above + 0.001) < 0.1 and far.chance(far.above + 0.001) == 1.0


def test_a_need_without_spread_is_a_step() -> None:
    exact = Need(300.0, 0.0)
    assert (exact.chance(299.999), exact.chance(300.0), exact.chance(300.001)) == (0.0, 1.0, 1.0)
    assert exact.quantile(0.1) == exact.quantile(0.9) == 300.0
    from_200 = replace(exact, above=200.0)
    assert from_200.chance(300.0) == 1.0 and from_200.chance(250.0) == 0.0


# ---------------------------------------------------------------- what is still to come


def test_the_uncertainty_of_the_weather_widens_the_need() -> None:
    # 24 °C·d of 300 are 0.08 on the logarithm; beside 0.06 that makes 0.1, as 6, 8 and 10 do.
    assert Need(300.0, 0.06).widened(24.0) == Need(300.0, pytest.approx(0.1, rel=1e-12))
    assert Need(300.0, 0.06).widened(0.0) == Need(300.0, 0.06)


def test_the_error_of_a_sum_of_days_is_the_double_sum_of_covariances() -> None:
    for n, r in ((1, 0.7), (2, 0.7), (5, 0.7), (30, 0.5), (7, 0.0)):
        double = sum(9.0 * r ** abs(i - j) for i in range(n) for j in range(n))
        assert autocorrelated_sum_sd(n, 3.0, r) == pytest.approx(math.sqrt(double), rel=1e-12)


def test_no_days_have_no_error() -> None:
    assert autocorrelated_sum_sd(0, 2.0, 0.5) == autocorrelated_sum_sd(-1, 2.0, 0.5) == 0.0
    assert autocorrelated_sum_sd(1, 0.0, 0.5) == 0.0


# ---------------------------------------------------------------- what was seen


def test_the_need_before_anything_is_seen() -> None:
    # ln 1.01 = 0.00995033, root 0.0997513.
    assert prior_need(336.0, 0.1) == Need(336.0, pytest.approx(0.0997513, abs=5e-8))


def by_loop(prior: Need, sights: list[Sight]) -> tuple[float, float]:
    """Median and sigma after the sights by a plain loop over 4,001 needs, with scipy's normal integral."""
    total = first = second = 0.0
    for i in range(4001):
        n = math.log(prior.median) + prior.sigma * (i - 2000) / 250
        weight = math.exp(-(((i - 2000) / 250) ** 2) / 2)  # of the normal law; its constant falls out
        for s in sights:
            if s.error:
                after = ndtr((math.log(s.low / s.share) - n) / s.error) if s.low else 0.0
                by = ndtr((math.log(s.high / s.share) - n) / s.error) if s.high < math.inf else 1.0
                weight *= by - (1 - s.missed) * after
            else:
                weight *= s.low < s.share * math.exp(n) <= s.high
        total, first, second = total + weight, first + weight * n, second + weight * n * n
    mean = first / total
    return math.exp(mean), math.sqrt(second / total - mean**2)


BUD = Sight(0.5, 0.15, 140.0, 189.0)
CASES = {
    "seen between two looks": [BUD],
    "two stages": [Sight(0.2, 0.2, 40.0, 80.0), BUD],
    "not there yet at the last look": [Sight(0.85, 0.1, 280.0, math.inf)],
    "not there, or passed over": [Sight(0.85, 0.1, 280.0, math.inf, 0.4)],
    "there before anybody looked": [Sight(0.5, 0.15, 0.0, 120.0)],
    "bloom between two looks": [BUD, Sight(1.0, 0.0, 290.0, 360.0)],
    "not in bloom yet": [BUD, Sight(1.0, 0.0, 310.0, math.inf)],
    "far from what was foretold": [Sight(0.5, 0.05, 200.0, 210.0)],
    "a stage that comes just at its share": [Sight(0.5, 0.0, 150.03, 169.97)],
    "bloom that contradicts itself, beside a bud": [BUD, Sight(1.0, 0.0, 350.0, 340.0)],
    "bloom at no time, beside a bud": [BUD, Sight(1.0, 0.0, 350.0, 350.0)],
}
CONTRADICTED = {case for case in CASES if case.endswith("beside a bud")}


@pytest.mark.parametrize("case", CASES)
def test_what_looks_say_of_the_need_is_that_of_a_plain_loop(case: str) -> None:
    after = posterior_need(NEED, CASES[case])
    told = [BUD] if case in CONTRADICTED else CASES[case]
    assert (after.median, after.sigma) == pytest.approx(by_loop(NEED, told), rel=2e-3)


def test_needs_that_are_wide_open_or_smaller_than_a_degree_day_are_learned_too() -> None:
    for prior, sight in ((Need(300.0, 1.0), BUD), (Need(0.8, 0.1), Sight(1.0, 0.0, 0.75, 0.85))):
        after = posterior_need(prior, [sight])
        assert (after.median, after.sigma) == pytest.approx(by_loop(prior, [sight]), rel=2e-3)


@pytest.mark.parametrize(
    ("low", "high"), [(450.0, 452.0), (450.0, 460.0), (0.0, 200.0), (199.0, 200.0), (450.0, math.inf)]
)
def test_bloom_that_nobody_could_foretell_is_believed(low: float, high: float) -> None:
    # 300 ± 1 % was foretold, and 450 or 200 are forty standard deviations out: only there the need can be. Against a
    # loop over a hundred thousand needs next to the nearer limit, where all the chance is; beyond it falls e-fold by
    # each fortieth of a standard deviation.
    near = max(low, min(high, 300.0))
    step = 5e-7 if near == low else -5e-7
    total = first = second = 0.0
    for i in range(20_000):
        n = math.log(near) + (i + 0.5) * step
        if low < math.exp(n) <= high:
            weight = math.exp((math.log(near / 300.0) ** 2 - (n - math.log(300.0)) ** 2) / (2 * 0.01**2))
            total, first, second = total + weight, first + weight * n, second + weight * n * n
    mean = first / total
    after = posterior_need(Need(300.0, 0.01), [Sight(1.0, 0.0, low, high)])
    assert low < after.median < high
    assert after.median == pytest.approx(math.exp(mean), rel=1e-4)
    assert after.sigma == pytest.approx(math.sqrt(second / total - mean**2), rel=0.1)


@pytest.mark.parametrize(("low", "high"), [(250.0, 260.0), (80.0, 90.0)])
def test_what_can_hardly_have_been_seen_is_not_lost_in_rounding(low: float, high: float) -> None:
    # Ten errors out on either side, where one less the chance is one: scipy's lower tail, mirrored above.
    out = [(math.log(heat / 0.5) - math.log(300.0)) / 0.05 for heat in (low, high)]
    tails = [float(ndtr(-abs(z))) for z in out]
    (found,) = likelihood(Sight(0.5, 0.05, low, high), np.array([math.log(300.0)]))
    assert found == pytest.approx(abs(tails[0] - tails[1]), rel=1e-9, abs=0.0) and 0 < found < 1e-22


def test_a_stage_seen_the_day_it_comes_is_two_normal_laws_in_one() -> None:
    # Of an interval of no width the error alone is left. Bud at 189 of 0.5 implies 378, error 0.15, precision 44.44,
    # beside 300 ± 0.1, 100: ln 300 + ln(378/300) 44.44/144.44 = 300 e^0.0711083 = 322.11, sigma 144.44^-0.5 = 0.083205.
    after = posterior_need(NEED, [Sight(0.5, 0.15, 188.999, 189.001)])
    assert (after.median, after.sigma) == pytest.approx((322.11, 0.083205), rel=1e-4)


def test_what_may_have_been_missed_says_less_and_what_surely_was_nothing() -> None:
    late, half, none = (
        posterior_need(NEED, [Sight(0.85, 0.05, 290.0, math.inf, m)]).median for m in (0.0, 0.5, 1.0)
    )
    assert NEED.median == pytest.approx(none, rel=1e-6)
    assert none < half < late


def test_looks_that_contradict_each_other_are_looked_past() -> None:
    after = posterior_need(NEED, [Sight(1.0, 0.0, 350.0, 340.0)])
    assert (after.median, after.sigma) == pytest.approx((300.0, 0.1), rel=1e-3)
    assert (
        posterior_need(NEED, [Sight(0.5, 0.02, 3.0, 3.1)]) == NEED
    )  # a hundredth of what can be: not at all


def test_nothing_seen_or_nothing_to_learn_leaves_the_need() -> None:
    assert posterior_need(NEED, []) is NEED
    exact = Need(300.0, 0.0)
    assert posterior_need(exact, [BUD]) is exact
