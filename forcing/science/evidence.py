"""What looks at a lot say of its need: the chance of what was seen and not seen, on a grid of the need's logarithm.

The need of a lot is log-normal. A stage comes when the lot has gathered a share of its need, give or take an error
that is normal on the same logarithm; people see it at the first look after that, or pass it over. What a look says is
therefore an interval, and an interval has no closed form (Bayes' rule on a grid: Gelman et al., "Bayesian Data
Analysis", 3rd ed. 2013, section 3.7).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from forcing.science.flowering import lognormal_sigma

_NORMAL = NormalDist()
_ERFC = np.frompyfunc(math.erfc, 1, 1)
Floats = NDArray[np.float64]

REACH, CELLS = 8.0, 192  # standard deviations that the grid reaches either way, and its cells


@dataclass(frozen=True, slots=True)
class Need:
    """A log-normal need: its median [°C·d] and the standard deviation of its logarithm; known to be above `above`."""

    median: float
    sigma: float
    above: float = 0.0

    def quantile(self, p: float) -> float:
        """Need [°C·d] that is not exceeded with chance p (0 < p < 1)."""
        known = self._share(self.above)
        if known >= 1.0 - 1e-9:
            return self.above
        return self.median * math.exp(self.sigma * _NORMAL.inv_cdf(known + p * (1.0 - known)))

    def chance(self, heat: float) -> float:
        """Chance that `heat` [°C·d] is enough."""
        if heat <= self.above or heat <= 0.0:
            return 0.0
        known = self._share(self.above)
        return 1.0 if known >= 1.0 - 1e-9 else max(0.0, self._share(heat) - known) / (1.0 - known)

    def widened(self, heat_sd: float) -> Need:
        """The same need with the uncertainty of the heat still to come, `heat_sd` [°C·d], added to its own."""
        return replace(self, sigma=math.hypot(self.sigma, heat_sd / self.median))

    def _share(self, heat: float) -> float:
        """Chance that `heat` is enough, whatever it is known to be above."""
        if heat <= 0.0:
            return 0.0
        if not self.sigma:
            return float(heat >= self.median)
        return _NORMAL.cdf(math.log(heat / self.median) / self.sigma)


@dataclass(frozen=True, slots=True)
class Sight:
    """What the looks say of one stage: it was reached at more than `low` and at no more than `high` [°C·d].

    `share`: of the need, at which it comes. `error`: of that on the logarithm; 0: just then. `high` infinite: nobody
    has seen it, though it may have been there at `low` already and was `missed`, with that chance.
    """

    share: float
    error: float
    low: float
    high: float
    missed: float = 0.0


def prior_need(need: float, spread: float) -> Need:
    """The need before anything is seen: median `need` [°C·d], coefficient of variation `spread`."""
    return Need(need, float(lognormal_sigma(spread)))


def posterior_need(prior: Need, sights: Sequence[Sight]) -> Need:
    """The need after the looks: the log-normal one with the same mean and variance of the logarithm.

    With no sights, with a prior that is sure, or after what cannot be at all, the prior itself.
    """
    if not sights or prior.sigma == 0.0:
        return prior
    centre = math.log(prior.median)
    grid = _grid(centre, prior.sigma, [sight for sight in sights if sight.error == 0.0])
    log_weight = -0.5 * ((grid - centre) / prior.sigma) ** 2
    weight = np.exp(log_weight - log_weight.max())
    for sight in sights:
        if sight.error:
            weight *= likelihood(sight, grid)
    total = float(weight.sum())
    if not total > 0.0:
        return prior
    mean = float((weight * grid).sum()) / total
    variance = float((weight * (grid - mean) ** 2).sum()) / total
    return replace(prior, median=math.exp(mean), sigma=math.sqrt(variance))


def _grid(centre: float, sigma: float, exact: Sequence[Sight]) -> Floats:
    """The middles of the cells: all that the prior, and stages without an error, leave possible."""
    low = max((_log(s.low / s.share) for s in exact), default=-math.inf)
    high = min((_log(s.high / s.share) for s in exact), default=math.inf)
    if not low < high:  # looks that contradict each other
        low, high = -math.inf, math.inf
    first = max(low, min(centre - REACH * sigma, high - sigma))
    last = min(high, max(centre + REACH * sigma, first + sigma))
    return np.asarray(first + (last - first) / CELLS * (np.arange(CELLS) + 0.5), dtype=np.float64)


def likelihood(sight: Sight, grid: Floats) -> Floats:
    """Chance of what was seen of a stage (with an error) where the logarithm of the need is that of `grid`.

    Reached by h: F(h). Seen between two looks: F(high) - F(low). Not seen at low, or passed over there with chance m:
    1 - (1 - m) F(low).
    """
    low, high = ((_log(heat / sight.share) - grid) / sight.error for heat in (sight.low, sight.high))
    tail = np.where(
        low > 0.0, -1.0, 1.0
    )  # of the two tails the one in which the difference is not lost in rounding
    reached = np.abs(_phi(tail * high) - _phi(tail * low))
    return sight.missed + (1.0 - sight.missed) * reached


def _phi(z: Floats) -> Floats:
    """The standard normal distribution, exact in its lower tail."""
    return 0.5 * np.asarray(_ERFC(-z / math.sqrt(2.0)), dtype=np.float64)


def _log(value: float) -> float:
    return math.log(value) if value > 0.0 else -math.inf


def autocorrelated_sum_sd(days: int, daily_sd: float, correlation: float) -> float:
    """Standard deviation of the sum of a first-order autoregressive daily error over `days` days.

    Variance s² [n (1-r²) - 2r (1-r^n)] / (1-r)² for daily standard deviation s and correlation r of one day
    with the next (Wilks, "Statistical Methods in the Atmospheric Sciences", 3rd ed. 2011, chapter 9, from the
    autocorrelation r^k).
    """
    if days <= 0:
        return 0.0
    r = correlation
    variance = daily_sd**2 * (days * (1 - r * r) - 2 * r * (1 - r**days)) / (1 - r) ** 2
    return math.sqrt(max(0.0, variance))
