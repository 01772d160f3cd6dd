"""What a stage that was seen says of a lot's need: Bayes in closed form on the logarithm of the need.

The need of a lot is log-normal. A stage seen when the lot had gathered heat h, and expected at a fraction f of
the need, says that the need is about h/f, with an error that is normal on the same logarithm. The product of
normal densities is normal: precisions add, means are weighted by them (Gelman et al., "Bayesian Data
Analysis", 3rd ed. 2013, section 2.5).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

from forcing.science.flowering import lognormal_sigma

_NORMAL = NormalDist()


@dataclass(frozen=True, slots=True)
class Need:
    """A log-normal need: its median [°C·d] and the standard deviation of its logarithm."""

    median: float
    sigma: float

    def quantile(self, p: float, above: float = 0.0) -> float:
        """Need [°C·d] that is not exceeded with chance p (0 < p < 1), given that it is more than `above`."""
        known = self.chance(above)
        if known >= 1.0 - 1e-9:
            return above
        return self.median * math.exp(self.sigma * _NORMAL.inv_cdf(known + p * (1.0 - known)))

    def chance(self, heat: float, above: float = 0.0) -> float:
        """Chance that `heat` [°C·d] is enough, given that `above` was not."""
        if heat <= above or heat <= 0.0:
            return 0.0
        known = self.chance(above) if above > 0.0 else 0.0
        enough = (
            _NORMAL.cdf(math.log(heat / self.median) / self.sigma)
            if self.sigma
            else float(heat >= self.median)
        )
        return 1.0 if known >= 1.0 - 1e-9 else max(0.0, enough - known) / (1.0 - known)

    def widened(self, heat_sd: float) -> Need:
        """The same need with the uncertainty of the heat still to come, `heat_sd` [°C·d], added to its own."""
        return Need(self.median, math.hypot(self.sigma, heat_sd / self.median))


@dataclass(frozen=True, slots=True)
class Seen:
    """A stage seen: the need [°C·d] it implies, and the standard deviation of that on the logarithm."""

    need: float
    error: float


def prior_need(need: float, spread: float) -> Need:
    """The need before anything is seen: median `need` [°C·d], coefficient of variation `spread`."""
    return Need(need, float(lognormal_sigma(spread)))


def posterior_need(prior: Need, seen: Sequence[Seen]) -> Need:
    """The need after stages were seen; with none, the prior itself."""
    if not seen or prior.sigma == 0.0:
        return prior
    precision = 1.0 / prior.sigma**2
    weighted = math.log(prior.median) * precision
    for stage in seen:
        precision += 1.0 / stage.error**2
        weighted += math.log(stage.need) / stage.error**2
    return Need(math.exp(weighted / precision), math.sqrt(1.0 / precision))


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
