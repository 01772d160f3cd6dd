"""The need after what was seen: by hand, by scipy's log-normal, by a plain double sum; every edge from both sides."""

from __future__ import annotations

import math

import pytest
from scipy.stats import lognorm

from forcing.science.evidence import Need, Seen, autocorrelated_sum_sd, posterior_need, prior_need

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
    assert NEED.chance(above + more, above) == pytest.approx((enough - known) / (1 - known), abs=1e-12)


@pytest.mark.parametrize("above", [0.0, 250.0, 330.0])
@pytest.mark.parametrize("p", [0.1, 0.5, 0.9])
def test_quantiles_are_scipys_of_what_is_left(p: float, above: float) -> None:
    known = law(NEED).cdf(above)
    assert NEED.quantile(p, above) == pytest.approx(law(NEED).ppf(known + p * (1 - known)), rel=1e-9)


def test_half_of_the_pots_bloom_at_the_median() -> None:
    assert NEED.chance(300.0) == pytest.approx(0.5, abs=1e-15)
    assert NEED.quantile(0.5) == pytest.approx(300.0)


def test_heat_that_is_none_or_was_not_enough_has_no_chance() -> None:
    for heat in (0.0, -1.0):
        assert NEED.chance(heat) == 0.0
    assert NEED.chance(300.0, above=300.0) == NEED.chance(299.0, above=300.0) == 0.0
    # A shade more than what was not enough: density · 0.001 / (1 - Φ(0)) = 1/(300·0.1·√(2π)) · 0.001 / 0.5.
    assert NEED.chance(300.001, above=300.0) == pytest.approx(2.6596e-5, rel=1e-3)
    # Heat below nothing was gathered by nobody: it takes nothing out.
    assert NEED.chance(0.5, above=-1.0) == NEED.chance(0.5)
    assert Need(0.5, 0.1).chance(0.5) == pytest.approx(0.5)  # 0.5 °C·d is some heat, not none
    assert Need(0.8, 0.1).chance(0.9, above=0.8) == pytest.approx(2 * (law(Need(0.8, 0.1)).cdf(0.9) - 0.5))


def test_what_can_hardly_be_is_as_good_as_here() -> None:
    """450 °C·d were not enough although 300 ± 1 % were expected: forty standard deviations out."""
    sure = Need(300.0, 0.01)
    assert sure.chance(460.0, above=450.0) == 1.0
    assert sure.quantile(0.1, above=450.0) == sure.quantile(0.9, above=450.0) == 450.0
    # Five out (z = 5: 2.9e-7 is left) is still worked out: half of what is left lies above its median.
    five = 300.0 * math.exp(0.05)
    left = law(sure).sf(five)
    assert five < sure.quantile(0.5, above=five) == pytest.approx(law(sure).isf(left / 2), rel=1e-6)
    assert sure.chance(law(sure).isf(left / 2), above=five) == pytest.approx(0.5, abs=1e-6)
    # At six (1.0e-9) and further no share can be told apart from none: 5.9 is worked out (1.8e-9), 6.1 (5e-10) is not.
    near, far = (300.0 * math.exp(0.01 * z) for z in (5.9, 6.1))
    assert sure.quantile(0.9, above=near) > near and sure.quantile(0.9, above=far) == far
    assert sure.chance(near + 0.001, above=near) < 0.1 and sure.chance(far + 0.001, above=far) == 1.0


def test_a_need_without_spread_is_a_step() -> None:
    exact = Need(300.0, 0.0)
    assert (exact.chance(299.999), exact.chance(300.0), exact.chance(300.001)) == (0.0, 1.0, 1.0)
    assert exact.quantile(0.1) == exact.quantile(0.9) == 300.0
    assert exact.chance(300.0, above=200.0) == 1.0 and exact.chance(250.0, above=200.0) == 0.0


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


def test_two_stages_seen_by_hand() -> None:
    # Precisions: prior 1/0.1² = 100, seen 1/0.2² = 25 and 1/0.1² = 100, together 225.
    # Logarithms from 300 on: 0, ln 1.2 = 0.1823216, ln 0.9 = -0.1053605:
    #   (25 · 0.1823216 - 100 · 0.1053605) / 225 = (4.558039 - 10.536052) / 225 = -0.0265690 -> 292.1344.
    after = posterior_need(NEED, [Seen(360.0, 0.2), Seen(270.0, 0.1)])
    assert after.median == pytest.approx(292.1344, abs=1e-3)
    assert after.sigma == pytest.approx(1 / 15, rel=1e-12)
    assert posterior_need(NEED, [Seen(270.0, 0.1), Seen(360.0, 0.2)]).median == pytest.approx(after.median)


def test_nothing_seen_or_nothing_to_learn_leaves_the_need() -> None:
    assert posterior_need(NEED, []) is NEED
    exact = Need(300.0, 0.0)
    assert posterior_need(exact, [Seen(360.0, 0.1)]) is exact
