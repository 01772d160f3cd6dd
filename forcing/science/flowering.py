"""Heat from bring in to bloom, its spread between pots, stages on the way, and life on display.

Progress is linear in temperature above a base, so that days at one reference temperature and
degree-days are the same statement: need = days · (reference - base). Flowering follows the daily mean
at equal means (Blanchard & Runkle 2011, HortScience 46:599-603, for dahlia, French marigold, zinnia).
"""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

from forcing.science.arrays import Array, Values, as_floats, plain


def bench_need(
    cold_weeks: ArrayLike,
    *,
    cold_target: ArrayLike,
    bench_days: ArrayLike,
    bench_days_min: ArrayLike,
    days_saved: ArrayLike,
    reference: ArrayLike,
    base: ArrayLike,
) -> Values:
    """Heat from bring in to bloom [°C·d] after `cold_weeks` of cold [weeks]: cold buys heat.

    At `reference` [°C] it takes `bench_days` [d] after `cold_target` [weeks], `days_saved` [d] fewer for
    each week above it and as many more for each week below, never under `bench_days_min` [d]. That bulbs
    force faster after longer cold: Marcinek, Laskowska & Szmagara 2013, Ann. Warsaw Univ. Life Sci. - SGGW,
    Hort. 34:27-33 (tulip), and Rees & Hanks 1984, J. Hort. Sci. 59:229-239 (narcissus); the straight line
    and its floor are ours. Arguments broadcast. Raises ValueError unless reference is above base.
    """
    days = as_floats(bench_days, "bench_days") - as_floats(days_saved, "days_saved") * (
        as_floats(cold_weeks, "cold_weeks") - as_floats(cold_target, "cold_target")
    )
    days = np.maximum(days, as_floats(bench_days_min, "bench_days_min"))
    return plain(days * _above_base(reference, base))


def lognormal_sigma(spread: ArrayLike) -> Values:
    """Standard deviation of the logarithm of a log-normal need, from its coefficient of variation.

    Raises ValueError for a spread below 0.
    """
    spreads = as_floats(spread, "spread")
    if (spreads < 0.0).any():
        raise ValueError("spread cannot be below 0")
    return plain(np.sqrt(np.log1p(spreads**2)))


def need_at_confidence(need: ArrayLike, spread: ArrayLike, confidence: float) -> Values:
    """Heat [°C·d] by which a pot blooms with the chance `confidence`, where `need` [°C·d] is the median.

    The need of pots is log-normal with coefficient of variation `spread`; confidence 0.5 gives `need`
    itself. Raises ValueError unless confidence is above 0 and below 1, and for a spread below 0.
    """
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence must be above 0 and below 1: {confidence!r}")
    score = NormalDist().inv_cdf(confidence)
    return plain(as_floats(need, "need") * np.exp(score * np.asarray(lognormal_sigma(spread))))


def stage_heat(need: ArrayLike, fraction: ArrayLike) -> Values:
    """Heat since bring in [°C·d] at which a stage is reached, `fraction` of the way to bloom (bloom = 1).

    Raises ValueError for a fraction outside 0 to 1.
    """
    fractions = as_floats(fraction, "fraction")
    if ((fractions < 0.0) | (fractions > 1.0)).any():
        raise ValueError("a stage is a fraction of the need, 0 to 1")
    return plain(as_floats(need, "need") * fractions)


def display_life(display_days: ArrayLike, display_reference: ArrayLike, base: ArrayLike) -> Values:
    """Heat from bloom to fade [°C·d] of pots that last `display_days` [d] at `display_reference` [°C].

    Raises ValueError unless the reference is above base [°C].
    """
    return plain(as_floats(display_days, "display_days") * _above_base(display_reference, base))


def first_day(cumulative: ArrayLike, needed: float, *, tolerance: float = 1e-6) -> int | None:
    """Number of days after which `needed` heat [°C·d] is gathered, or None.

    cumulative[i]: heat gathered in the days before day i [°C·d], so cumulative[0] is 0, the sum never
    falls, and n days give n + 1 numbers. The answer is the first i with cumulative[i] >= needed -
    tolerance: the day i counted from the first, on whose morning the heat is there. None if the days
    do not suffice, or if a gap (NaN) comes before them: then it is not known. Raises ValueError unless
    `cumulative` has one dimension.
    """
    sums = np.asarray(cumulative, dtype=np.float64)
    if sums.ndim != 1:
        raise ValueError("cumulative heat must have one dimension, the days")
    reached = sums >= needed - tolerance
    if not reached.any():
        return None
    day = int(reached.argmax())
    return None if np.isnan(sums[:day]).any() else day


def _above_base(reference: ArrayLike, base: ArrayLike) -> Array:
    references, bases = as_floats(reference, "reference"), as_floats(base, "base")
    if (references <= bases).any():
        raise ValueError("the reference temperature must be above base")
    return np.asarray(references - bases)
