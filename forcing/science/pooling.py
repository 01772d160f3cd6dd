"""What the lots of one season say of each other: season, class, cultivar and lot as parts of one normal law.

A lot's need over the need its recipe foretold is exp(y). y is the sum of what the season, the class, the cultivar and
the lot itself add, each normal about 0 with its share of the recipe's variance. What is seen of a lot is y with a known
error. All of it is normal, so that for given shares every posterior is in closed form: precisions add (Gelman et al.,
"Bayesian Data Analysis", 3rd ed. 2013, sections 2.5 and 5.4). How large the shares are, and so how much one lot says of
another, is learned with it: SPLITS are weighed by how well each foretells what was seen (section 7.4).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

# The recipe's spread counts for as much as that of so many lots. Common practice, no source; from memory.
SPREAD_LOTS = 10.0

_Z90 = NormalDist().inv_cdf(0.9)


@dataclass(frozen=True, slots=True)
class Split:
    """Variances of season, class, cultivar and lot over that of the recipe, and how likely that is beforehand."""

    season: float
    whole: float
    cultivar: float
    lot: float
    weight: float


# Seasons that hardly matter, are a quarter of the recipe's variance, or half; lots that differ by less than the rest of
# it, by that, or by more; lots of a class (a sixth) and cultivar (a third) much alike, or less so. On average the parts
# sum to 1: a lot nobody has seen keeps the recipe's spread. Practice, no source; from memory.
SPLITS = tuple(
    Split(
        season,
        rest * alike / 6,
        rest * alike / 3,
        rest - rest * alike / 6 - rest * alike / 3,
        often * also / 2,
    )
    for (season, often), (rest, also), alike in product(
        ((0.02, 0.3), (0.24, 0.4), (0.5, 0.3)), ((0.35, 0.3), (0.75, 0.45), (1.222, 0.25)), (0.1, 1.0)
    )
)


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


Key = tuple[Hashable, Hashable]  # class and cultivar
NOTHING_SAID = 1e-9  # a precision below this is what rounding leaves of nothing


@dataclass(frozen=True, slots=True)
class _Said:
    """What is said of one number, as a normal density: its precision, and its mean times that."""

    precision: float = 0.0
    weighted: float = 0.0

    def __add__(self, other: _Said) -> _Said:
        return _Said(self.precision + other.precision, self.weighted + other.weighted)

    def __sub__(self, other: _Said) -> _Said:
        return _Said(self.precision - other.precision, self.weighted - other.weighted)

    @property
    def law(self) -> tuple[float, float] | None:
        """Mean and variance; None: nothing is said."""
        if self.precision < NOTHING_SAID:
            return None
        return self.weighted / self.precision, 1.0 / self.precision

    def through(self, variance: float) -> _Said:
        """What it says of a number from which its own differs with that variance."""
        return _Said() if (law := self.law) is None else _said(law[0], law[1] + variance)


def _said(mean: float, variance: float) -> _Said:
    return _Said(1.0 / variance, mean / variance)


def _together(parts: Iterable[_Said]) -> tuple[_Said, float]:
    """What densities of one number say together, and the logarithm of how well they agree."""
    said = [part for part in parts if part.law is not None]
    precision, weighted = math.fsum(p.precision for p in said), math.fsum(p.weighted for p in said)
    if not said:
        return _Said(), 0.0
    squares = math.fsum(p.weighted**2 / p.precision for p in said) - weighted**2 / precision
    logs = math.fsum(math.log(p.precision / math.tau) for p in said) - math.log(precision / math.tau)
    return _Said(precision, weighted), 0.5 * (logs - squares)


class _Law:
    """Season, classes and cultivars after what was seen, for one split; all in standard deviations of the recipes.

    Lots tell of their cultivar, cultivars of their class, classes of the season: a tree, told from its leaves up.
    """

    def __init__(self, split: Split, lots: Mapping[Key, Sequence[tuple[float, float]]]) -> None:
        self.split = split
        by_cultivar = {key: _together(self.lot(*lot) for lot in mine) for key, mine in lots.items()}
        of_class: dict[Hashable, list[_Said]] = defaultdict(list)
        for (whole, _), (said, _) in by_cultivar.items():
            of_class[whole].append(said.through(split.cultivar))
        by_class = {whole: _together(said) for whole, said in of_class.items()}
        season = [_said(0.0, split.season), *(said.through(split.whole) for said, _ in by_class.values())]
        self.cultivars = {key: said for key, (said, _) in by_cultivar.items()}
        self.classes = {whole: said for whole, (said, _) in by_class.items()}
        self.season, fit = _together(season)
        fits = [fit, *(f for _, f in by_cultivar.values()), *(f for _, f in by_class.values())]
        self.log_weight = math.log(split.weight) + math.fsum(fits)

    def lot(self, value: float, error: float) -> _Said:
        """What a lot at `value`, seen with the variance `error`, says of its season, class and cultivar together."""
        return _said(value, self.split.lot + error)

    def _others(self, key: Key) -> tuple[_Said, _Said, _Said]:
        """What other classes say of the season, other cultivars of season and class, and its lots of all three."""
        mine, ours = self.cultivars.get(key, _Said()), self.classes.get(key[0], _Said())
        return self.season - ours.through(self.split.whole), ours - mine.through(self.split.cultivar), mine

    def of_lot(self, key: Key, without: _Said) -> tuple[float, float]:
        """Mean and variance of season, class and cultivar together, but for what one lot says."""
        season, whole, mine = self._others(key)
        law = ((season.through(self.split.whole) + whole).through(self.split.cultivar) + (mine - without)).law
        assert law is not None  # the prior of the season is always there
        return law

    def of_kind(self, key: Key, cultivar: bool) -> tuple[float, float]:
        """Mean and variance of the class's own part, with the cultivar's or without."""
        season, *told = self._others(key)
        assert season.law is not None
        mean, open_ = season.law
        class_part, cultivar_part = self.split.whole, self.split.cultivar * cultivar
        rows = [(law, share, extra) for said, share, extra in zip(
            told, (class_part, class_part + cultivar_part), (0.0, self.split.cultivar), strict=True
        ) if (law := said.law) is not None]  # fmt: skip
        shares = np.array([share for _, share, _ in rows])
        among = open_ + class_part + np.diag([law[1] + extra for law, _, extra in rows])
        gain = np.linalg.solve(among, shares) if rows else shares
        found = float(gain @ np.array([law[0] - mean for law, *_ in rows]))
        return found, class_part + cultivar_part - float(gain @ shares)


class Pool:
    """Lots of one season, seen (Measured) or not (None): what is known of season, class, cultivar and each lot.

    Raises ValueError where a sigma is not above 0.
    """

    def __init__(
        self, kinds: Sequence[Kind], seen: Sequence[Measured | None], splits: Sequence[Split] = SPLITS
    ) -> None:
        if not all(kind.sigma > 0 for kind in kinds):
            raise ValueError("sigma must be above 0")
        self.kinds, self.seen = tuple(kinds), tuple(seen)
        lots: dict[Key, list[tuple[float, float]]] = defaultdict(list)
        for kind, lot in zip(kinds, seen, strict=True):
            if lot is not None:
                lots[kind.whole, kind.cultivar].append(_standard(kind, lot))
        laws = [_Law(split, lots) for split in splits]
        most = max(law.log_weight for law in laws)
        weights = [math.exp(law.log_weight - most) for law in laws]
        self._laws = tuple(
            (weight / math.fsum(weights), law) for weight, law in zip(weights, laws, strict=True)
        )

    def season(self, sigma: float) -> Effect:
        """The season's own part for lots with this standard deviation."""
        return _mixed([(weight, *law.season.law) for weight, law in self._laws if law.season.law], sigma)

    def of_class(self, kind: Kind) -> Effect:
        """A class in a usual season."""
        return self._effect(kind, cultivar=False)

    def of_cultivar(self, kind: Kind) -> Effect:
        """A cultivar in a usual season."""
        return self._effect(kind, cultivar=True)

    def _effect(self, kind: Kind, cultivar: bool) -> Effect:
        key = kind.whole, kind.cultivar
        return _mixed([(weight, *law.of_kind(key, cultivar)) for weight, law in self._laws], kind.sigma)

    def from_others(self, number: int) -> Effect:
        """What all other lots say of this one in this season, its own part as open as it was."""
        kind, lot, found = self.kinds[number], self.seen[number], []
        for weight, law in self._laws:
            without = _Said() if lot is None else law.lot(*_standard(kind, lot))
            mean, variance = law.of_lot((kind.whole, kind.cultivar), without)
            found.append((weight, mean, variance + law.split.lot))
        return _mixed(found, kind.sigma)


def _standard(kind: Kind, lot: Measured) -> tuple[float, float]:
    """What was seen of a lot, and the variance of seeing it, in standard deviations of its recipe."""
    return lot.log_ratio / kind.sigma, (lot.error / kind.sigma) ** 2


def _mixed(laws: Sequence[tuple[float, float, float]], sigma: float) -> Effect:
    """The normal law with mean and variance of a mixture of (weight, mean, variance), in logarithms again."""
    mean = math.fsum(weight * m for weight, m, _ in laws)
    variance = math.fsum(weight * (v + (m - mean) ** 2) for weight, m, v in laws)
    return Effect(sigma * mean, sigma * math.sqrt(variance))


# ---------------------------------------------------------------- lots late together

SEASONS = 8192  # equally likely ones that are drawn: a chance of one in two is good to 0.5 %
_SEED = 1984


@dataclass(frozen=True, slots=True)
class Tie:
    """What makes a lot late together with others, as parts of the variance of all that is not known of its bloom.

    None seen: `common` is COMMON. `ahead` is that of the heat still to come, the same for all lots on its bench.
    """

    kind: Kind
    bench: Hashable
    common: float  # of season, class and cultivar together
    ahead: float = 0.0


# Of what a lot differs from its recipe by, what it has in common with other lots: the mean over the splits.
COMMON = math.fsum(s.weight * (s.season + s.whole + s.cultivar) for s in SPLITS)
# Season, class and cultivar (rows) by split, in the variance of a lot: in each split it keeps its recipe's spread.
_SHARES = np.array(
    [np.array((s.season, s.whole, s.cultivar)) / (s.season + s.whole + s.cultivar + s.lot) for s in SPLITS]
).T


def late_together(ties: Sequence[Tie], seasons: int = SEASONS) -> NDArray[np.float64]:
    """How late each lot is in so many drawn seasons, in its own standard deviations (shape: lots, seasons).

    Each lot alone is standard normal; two of them agree by what ties them. The same seasons are drawn each time.
    """
    dice = np.random.default_rng(_SEED)
    weights = np.array([split.weight for split in SPLITS])
    drawn = np.searchsorted(np.cumsum(weights / weights.sum()), (np.arange(seasons) + 0.5) / seasons)
    drawn = dice.permutation(drawn)
    parts: dict[Hashable, NDArray[np.float64]] = {}

    def part(name: Hashable) -> NDArray[np.float64]:
        if name not in parts:
            half = dice.standard_normal(seasons // 2)
            parts[name] = np.concatenate((half, -half))
        return parts[name]

    made = np.empty((len(ties), seasons))
    for i, tie in enumerate(ties):
        made[i] = math.sqrt(tie.ahead) * part(("bench", tie.bench))
        names = ("season",), ("class", tie.kind.whole), ("cultivar", tie.kind.whole, tie.kind.cultivar)
        for name, share in zip(names, _SHARES, strict=True):
            made[i] += np.sqrt(tie.common / COMMON * share)[drawn] * part(name)
        own = 1.0 - tie.ahead - tie.common / COMMON * _SHARES.sum(axis=0)[drawn]
        made[i] += np.sqrt(np.maximum(own, 0.0)) * part(("lot", i))
    return made


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
