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


def spread_beyond(spread: ArrayLike, unknown: ArrayLike) -> Values:
    """Coefficient of variation of a need that is `unknown` by a further share of itself [fraction, 0 or more].

    That share is what a straight line would add where nobody has measured; it is taken as two standard deviations, so
    that the line carried on and the line ended both lie within what is thought possible. The rule is ours.
    """
    return plain(np.hypot(as_floats(spread, "spread"), as_floats(unknown, "unknown") / 2))


def need_at_confidence(need: ArrayLike, spread: ArrayLike, confidence: float) -> Values:
    """Heat [°C·d] by which a pot blooms with the chance `confidence`, where `need` [°C·d] is the median.

    The need of pots is log-normal with coefficient of variation `spread`; confidence 0.5 gives `need`
    itself. Raises ValueError unless confidence is above 0 and below 1, and for a spread below 0.
    """
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence must be above 0 and below 1: {confidence!r}")
    score = NormalDist().inv_cdf(confidence)
    return plain(as_floats(need, "need") * np.exp(score * np.asarray(lognormal_sigma(spread))))


def _above_base(reference: ArrayLike, base: ArrayLike) -> Array:
    references, bases = as_floats(reference, "reference"), as_floats(base, "base")
    if (references <= bases).any():
        raise ValueError("the reference temperature must be above base")
    return np.asarray(references - bases)
