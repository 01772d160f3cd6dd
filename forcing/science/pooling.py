"""What the lots of one season say of each other: season, class, cultivar and lot as parts of one normal law.

A lot's need over the need its recipe foretold is exp(y). y is the sum of what the season, the class, the cultivar and
the lot itself add, each normal about 0 with its share of the recipe's variance. What is seen of a lot is y with a known
error. All of it is normal, so that for given shares every posterior is in closed form: precisions add (Gelman et al.,
"Bayesian Data Analysis", 3rd ed. 2013, sections 2.5 and 5.4). How large the shares are, and so how much one lot says of
another, is learned with it: SPLITS are weighed by how well each foretells what was seen (section 7.4).
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from itertools import product
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

# The recipe's spread counts for as much as that of so many lots. Common practice, no source; from memory.
SPREAD_LOTS = 10.0

_Z90 = NormalDist().inv_cdf(0.9)
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Split:
    """Variances of season, class, cultivar and lot over that of the recipe, and how likely that is beforehand."""

    season: float
    whole: float
    cultivar: float
    lot: float
    weight: float

    @property
    def parts(self) -> tuple[float, float, float]:
        """What a lot shares with others."""
        return self.season, self.whole, self.cultivar


def _splits() -> tuple[Split, ...]:
    """Seasons that hardly matter, are a quarter of the recipe's variance, or half; lots that differ by less than the
    rest of it, by that, or by more; lots of a class (a sixth) and cultivar (a third) much alike, or less so.

    On average the parts sum to 1: a lot nobody has seen keeps the recipe's spread. Practice, no source; from memory.
    """
    found = []
    seasons = ((0.02, 0.3), (0.24, 0.4), (0.5, 0.3))
    rests = ((0.35, 0.3), (0.75, 0.45), (1.222, 0.25))
    for (season, often), (rest, as_often), alike in product(seasons, rests, (0.1, 1.0)):
        whole, cultivar = rest * alike / 6, rest * alike / 3
        weight = often * as_often / 2
        found.append(Split(season, whole, cultivar, rest - whole - cultivar, weight))
    return tuple(found)


SPLITS = _splits()


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


@dataclass(frozen=True, slots=True, eq=False)
class _Law:
    """Season, classes and cultivars after what was seen, for one split: mean, covariance, and its weight then."""

    split: Split
    mean: Floats
    cover: Floats
    log_weight: float


class Pool:
    """Lots of one season, seen (Measured) or not (None): what is known of season, class, cultivar and each lot.

    Raises ValueError where a sigma is not above 0.
    """

    def __init__(
        self, kinds: Sequence[Kind], seen: Sequence[Measured | None], splits: Sequence[Split] = SPLITS
    ):
        if not all(kind.sigma > 0 for kind in kinds):
            raise ValueError("sigma must be above 0")
        self.kinds, self.seen = tuple(kinds), tuple(seen)
        keys: list[tuple[Hashable, ...]] = [()]
        keys += dict.fromkeys((kind.whole,) for kind in kinds)
        keys += dict.fromkeys((kind.whole, kind.cultivar) for kind in kinds)
        self._at = {key: i for i, key in enumerate(keys)}
        laws = [self._law(split, [len(key) for key in keys]) for split in splits]
        most = max(law.log_weight for law in laws)
        weights = [math.exp(law.log_weight - most) for law in laws]
        self._laws = tuple(
            (weight / math.fsum(weights), law) for weight, law in zip(weights, laws, strict=True)
        )

    def _law(self, split: Split, levels: Sequence[int]) -> _Law:
        """The law of all parts for one split; `levels`: 0 of the season, 1 of a class, 2 of a cultivar."""
        prior = np.array([split.parts[level] for level in levels])
        precision, weighted = np.diag(1.0 / prior), np.zeros(prior.size)
        fit = math.log(split.weight)
        for kind, lot in zip(self.kinds, self.seen, strict=True):
            if lot is None:
                continue
            rows, part = self._parts(kind), 1.0 / _alone(split, kind, lot)
            precision[np.ix_(rows, rows)] += kind.sigma**2 * part
            weighted[rows] += kind.sigma * part * lot.log_ratio
            fit += 0.5 * (math.log(part) - part * lot.log_ratio**2)
        cover = np.asarray(np.linalg.inv(precision), dtype=np.float64)
        mean = cover @ weighted
        fit += 0.5 * float(weighted @ mean - np.log(prior).sum() - np.linalg.slogdet(precision)[1])
        return _Law(split, mean, cover, fit)

    def _parts(self, kind: Kind) -> list[int]:
        """Numbers of season, class and cultivar of a lot."""
        return [self._at[key] for key in ((), (kind.whole,), (kind.whole, kind.cultivar))]

    def _effect(self, rows: Sequence[int], sigma: float) -> Effect:
        """The sum of some parts."""
        return _mixed([(weight, *_sum(law, rows, sigma)) for weight, law in self._laws])

    def season(self, sigma: float) -> Effect:
        """The season's own part for lots with this standard deviation."""
        return self._effect([0], sigma)

    def of_class(self, kind: Kind) -> Effect:
        """A class in a usual season."""
        return self._effect(self._parts(kind)[1:2], kind.sigma)

    def of_cultivar(self, kind: Kind) -> Effect:
        """A cultivar in a usual season."""
        return self._effect(self._parts(kind)[1:], kind.sigma)

    def from_others(self, number: int) -> Effect:
        """What all other lots say of this one in this season, its own part as open as it was."""
        kind, lot, laws = self.kinds[number], self.seen[number], []
        for weight, law in self._laws:
            mean, variance = _sum(law, self._parts(kind), kind.sigma)
            if lot is not None:  # its own word is taken out again: precisions subtract
                alone = _alone(law.split, kind, lot)
                rest = 1.0 / variance - 1.0 / alone
                mean, variance = (mean / variance - lot.log_ratio / alone) / rest, 1.0 / rest
            laws.append((weight, mean, variance + law.split.lot * kind.sigma**2))
        return _mixed(laws)


def _alone(split: Split, kind: Kind, lot: Measured) -> float:
    """Variance of what is seen of a lot, its season, class and cultivar given."""
    return split.lot * kind.sigma**2 + lot.error**2


def _sum(law: _Law, rows: Sequence[int], sigma: float) -> tuple[float, float]:
    """Mean and variance of the sum of some parts, for lots with this standard deviation."""
    return sigma * float(law.mean[list(rows)].sum()), sigma**2 * float(law.cover[np.ix_(rows, rows)].sum())


def _mixed(laws: Sequence[tuple[float, float, float]]) -> Effect:
    """The normal law with mean and variance of a mixture of (weight, mean, variance)."""
    mean = math.fsum(weight * m for weight, m, _ in laws)
    return Effect(mean, math.sqrt(math.fsum(weight * (v + (m - mean) ** 2) for weight, m, v in laws)))


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
