"""What the lots of one house say of a figure: cultivars pulled toward their class, classes toward the recipe.

A lot's need over the need its recipe foretold is exp(y). Normal model on y, with known variances: a lot lies about
its cultivar, the cultivar about its class, the class about 0, which is the recipe. Every posterior is normal in
closed form: precisions add (Gelman et al., "Bayesian Data Analysis", 3rd ed. 2013, sections 2.5 and 5.4).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

# How a recipe's variance of the need is split: half lies between lots of one cultivar (bulbs of the year, light,
# the eye that logs), a third between cultivars of a class, a sixth is the house and class as a whole.
# Common practice, no source; from memory. The parts sum to 1, so that a lot nobody has seen keeps the recipe's spread.
LOT_SHARE, CULTIVAR_SHARE, CLASS_SHARE = 1 / 2, 1 / 3, 1 / 6
# The recipe's spread counts for as much as that of so many lots. Common practice, no source; from memory.
SPREAD_LOTS = 10.0

_Z90 = NormalDist().inv_cdf(0.9)


@dataclass(frozen=True, slots=True)
class Split:
    """Variances of the logarithm: between lots of a cultivar, cultivars of a class, and of the class itself."""

    lot: float
    cultivar: float
    whole: float

    @classmethod
    def of(cls, sigma: float) -> Split:
        """The documented shares of the variance of a log-normal quantity with standard deviation `sigma`.

        Raises ValueError unless sigma is above 0.
        """
        if not sigma > 0:
            raise ValueError(f"sigma must be above 0: {sigma!r}")
        return cls(LOT_SHARE * sigma**2, CULTIVAR_SHARE * sigma**2, CLASS_SHARE * sigma**2)


@dataclass(frozen=True, slots=True)
class Measured:
    """One lot: the logarithm of what was seen over what was foretold, and the error of seeing it."""

    log_ratio: float
    error: float = 0.0


@dataclass(frozen=True, slots=True)
class Effect:
    """A factor on a figure: its logarithm is normal. Nothing known beyond the recipe: mean 0, factor 1."""

    mean: float
    sigma: float

    @property
    def factor(self) -> float:
        """The median."""
        return math.exp(self.mean)

    @property
    def low(self) -> float:
        """Not below this with 9 chances in 10."""
        return math.exp(self.mean - _Z90 * self.sigma)

    @property
    def high(self) -> float:
        """Not above this with 9 chances in 10."""
        return math.exp(self.mean + _Z90 * self.sigma)

    @property
    def differs(self) -> bool:
        """Whether the factor is away from 1 by more than its own range from 10 to 90 %."""
        return self.low > 1.0 or self.high < 1.0


def pooled(cultivars: Sequence[Sequence[Measured]], split: Split) -> tuple[Effect, tuple[Effect, ...]]:
    """The effect of a class, and of each of its cultivars, from the lots of each cultivar.

    A cultivar without lots is as its class; a class without lots is as its recipe, factor exactly 1.
    """
    sums = [_weighted(lots, split.lot) for lots in cultivars]
    precision, weighted = 1.0 / split.whole, 0.0
    for weight, mean in sums:
        if weight > 0:
            part = 1.0 / (split.cultivar + 1.0 / weight)
            precision, weighted = precision + part, weighted + part * mean
    whole = Effect(weighted / precision, math.sqrt(1.0 / precision))
    return whole, tuple(_cultivar(weight, mean, whole, split) for weight, mean in sums)


def _weighted(lots: Sequence[Measured], lot_variance: float) -> tuple[float, float]:
    """Precision of the mean of a cultivar's lots, and that mean; (0, 0) without any."""
    weights = [1.0 / (lot_variance + lot.error**2) for lot in lots]
    if not weights:
        return 0.0, 0.0
    total = math.fsum(weights)
    return total, math.fsum(w * lot.log_ratio for w, lot in zip(weights, lots, strict=True)) / total


def _cultivar(weight: float, mean: float, whole: Effect, split: Split) -> Effect:
    own = weight / (weight + 1.0 / split.cultivar)  # the share of its own lots; the rest is its class
    variance = 1.0 / (weight + 1.0 / split.cultivar) + ((1.0 - own) * whole.sigma) ** 2
    return Effect(own * mean + (1.0 - own) * whole.mean, math.sqrt(variance))


@dataclass(frozen=True, slots=True)
class SeenSpread:
    """A coefficient of variation with its 10 to 90 % range."""

    typical: float
    low: float
    high: float


def pooled_spread(log_ratios: Sequence[float], sigma: float) -> SeenSpread:
    """The spread between lots, pulled toward the recipe's `sigma` (of the logarithm).

    The variance is scaled inverse chi-square: the recipe counts for SPREAD_LOTS lots, n lots about their own mean
    for n - 1 (Gelman et al. 2013, sections 2.6 and 3.2). Fewer than two lots say nothing of it.
    """
    n = len(log_ratios)
    mean = math.fsum(log_ratios) / n if n else 0.0
    freedom = SPREAD_LOTS + max(0, n - 1)
    scale = SPREAD_LOTS * sigma**2 + math.fsum((y - mean) ** 2 for y in log_ratios)
    return SeenSpread(
        _variation(scale / freedom),
        _variation(scale / chi_square_quantile(0.9, freedom)),
        _variation(scale / chi_square_quantile(0.1, freedom)),
    )


def _variation(variance: float) -> float:
    """Coefficient of variation of a log-normal quantity from the variance of its logarithm."""
    return math.sqrt(math.expm1(variance))


def chi_square_quantile(p: float, freedom: float) -> float:
    """Quantile of chi-square, near enough (1 % from 10 degrees of freedom up, 0.1 <= p <= 0.9).

    The cube-root rule of Wilson & Hilferty 1931, Proc. Natl. Acad. Sci. 17:684-688.
    """
    part = 2.0 / (9.0 * freedom)
    return freedom * (1.0 - part + NormalDist().inv_cdf(p) * math.sqrt(part)) ** 3
