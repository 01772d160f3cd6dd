"""What the lots of one season say of each other: season, class, cultivar and lot as parts of one normal law.

A lot's need over the need its recipe foretold is exp(y). y is the recipe's standard deviation times the sum of what the
season, the class, the cultivar and the lot itself add, each normal about 0 with its share of the variance. What is
seen of a lot is y with a known error. Everything is normal, so that every posterior is in closed form: precisions add
(Gelman et al., "Bayesian Data Analysis", 3rd ed. 2013, sections 2.5 and 5.4).
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

# How a recipe's variance of the need is split: a quarter is the season (bulbs of the year, light, the house's own
# thermometers), an eighth the class in this house, a quarter the cultivar within its class, the rest the lot itself and
# the eye that logs it. Common practice, no source; from memory. The parts sum to 1, so that a lot nobody has seen keeps
# the recipe's spread.
SEASON_SHARE, CLASS_SHARE, CULTIVAR_SHARE, LOT_SHARE = 1 / 4, 1 / 8, 1 / 4, 3 / 8
# The recipe's spread counts for as much as that of so many lots. Common practice, no source; from memory.
SPREAD_LOTS = 10.0

_Z90 = NormalDist().inv_cdf(0.9)
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Measured:
    """One lot: the logarithm of what was seen over what was foretold, and the error of seeing it."""

    log_ratio: float
    error: float = 0.0


@dataclass(frozen=True, slots=True)
class Kind:
    """What a lot shares with others, and its recipe's standard deviation of the logarithm (above 0)."""

    whole: Hashable  # its class
    cultivar: Hashable
    sigma: float


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


class Pool:
    """Lots of one season, seen (Measured) or not (None): what is known of season, class, cultivar and each lot.

    Raises ValueError where a sigma is not above 0.
    """

    def __init__(self, kinds: Sequence[Kind], seen: Sequence[Measured | None]) -> None:
        if not all(kind.sigma > 0 for kind in kinds):
            raise ValueError("sigma must be above 0")
        self.kinds, self.seen = tuple(kinds), tuple(seen)
        keys: list[tuple[Hashable, ...]] = [("season",)]
        keys += dict.fromkeys(("class", kind.whole) for kind in kinds)
        keys += dict.fromkeys(("cultivar", kind.whole, kind.cultivar) for kind in kinds)
        self._at = {key: i for i, key in enumerate(keys)}
        shares = {"season": SEASON_SHARE, "class": CLASS_SHARE, "cultivar": CULTIVAR_SHARE}
        precision = np.diag([1.0 / shares[str(key[0])] for key in keys])
        weighted = np.zeros(len(keys))
        for kind, lot in zip(kinds, seen, strict=True):
            if lot is not None:
                rows, part = self._parts(kind), 1.0 / self._alone(kind, lot)
                precision[np.ix_(rows, rows)] += kind.sigma**2 * part
                weighted[rows] += kind.sigma * part * lot.log_ratio
        self._cover: Floats = np.linalg.inv(precision)
        self._mean: Floats = self._cover @ weighted

    def _parts(self, kind: Kind) -> list[int]:
        """Numbers of season, class and cultivar of a lot."""
        return [self._at["season",], self._at["class", kind.whole], self._at["cultivar", kind.whole, kind.cultivar]]

    @staticmethod
    def _alone(kind: Kind, lot: Measured) -> float:
        """Variance of what is seen of a lot, its season, class and cultivar given."""
        return LOT_SHARE * kind.sigma**2 + lot.error**2

    def _sum(self, rows: Sequence[int], sigma: float) -> Effect:
        mean = sigma * float(self._mean[list(rows)].sum())
        return Effect(mean, sigma * math.sqrt(float(self._cover[np.ix_(rows, rows)].sum())))

    def season(self, sigma: float) -> Effect:
        """The season's own part for lots with this standard deviation."""
        return self._sum([0], sigma)

    def of_class(self, kind: Kind) -> Effect:
        """A class in a usual season."""
        return self._sum(self._parts(kind)[1:2], kind.sigma)

    def of_cultivar(self, kind: Kind) -> Effect:
        """A cultivar in a usual season."""
        return self._sum(self._parts(kind)[1:], kind.sigma)

    def from_others(self, number: int) -> Effect:
        """What all other lots say of this one in this season, its own part as open as it was."""
        kind, lot = self.kinds[number], self.seen[number]
        all_say = self._sum(self._parts(kind), kind.sigma)
        mean, variance = all_say.mean, all_say.sigma**2
        if lot is not None:  # take its own word out again: precisions subtract
            alone = self._alone(kind, lot)
            rest = 1.0 / variance - 1.0 / alone
            mean, variance = (mean / variance - lot.log_ratio / alone) / rest, 1.0 / rest
        return Effect(mean, math.sqrt(variance + LOT_SHARE * kind.sigma**2))


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
