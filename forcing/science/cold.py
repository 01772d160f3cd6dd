"""Cold that a bulb is credited with, the narcissus cold sum, and how fast roots grow in the cold.

No full curve of credit against temperature is in print for tulip, hyacinth or narcissus: published
needs are weeks inside a band. The curve is therefore named nodes that a recipe chooses, and this
module only reads between them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from forcing.science.arrays import Array, Values, as_floats, plain

# Rees & Hanks 1984, "Storage treatments for very early forcing of narcissus", J. Hort. Sci. 59:229-239:
# the sum counts from 30 °C downward; two sums, and the days from housing at 16 °C to flower after each.
NARCISSUS_SUM_FROM = 30.0
NARCISSUS_SUMS = (2000.0, 2250.0)
NARCISSUS_DAYS = (30.0, 21.0)


def cold_credit(mean: ArrayLike, node_temperatures: ArrayLike, node_weights: ArrayLike) -> Values:
    """Days of cold credited for each day [d/d, 0 to 1], from its mean temperature [°C].

    Linear between the nodes (temperature [°C], weight); beyond the first and last node their own weight
    holds. A credit is never below 0 nor above 1, so warm breaks earn nothing and no day counts twice.
    Shape of `mean`; NaN gives NaN. Raises ValueError unless nodes strictly increase, one weight for each.
    """
    temperatures, weights = _nodes(node_temperatures, node_weights)
    means = as_floats(mean, "mean")
    return plain(np.clip(np.asarray(np.interp(means, temperatures, weights)), 0.0, 1.0))


def narcissus_cold_sum(mean: ArrayLike, axis: int | None = None) -> Values:
    """Cold sum of narcissus [°C·d below 30 °C] of daily means [°C], over `axis` or over all of them.

    Rees & Hanks 1984. No recipe counts so: it is the second measure of cold in print, to check a narcissus programme
    stated in weeks against theirs. Use it near 5-9 °C only: the sum rewards colder storage although the same paper
    finds 9 °C best for the stems. A day at 30 °C or more adds nothing. NaN among the days gives NaN.
    """
    means = as_floats(mean, "mean")
    return plain(np.asarray(np.maximum(NARCISSUS_SUM_FROM - means, 0.0).sum(axis=axis)))


def narcissus_days_at_16(cold_units: ArrayLike) -> Values:
    """Days from housing at 16 °C to flower [d] after a narcissus cold sum [°C·d below 30 °C].

    Rees & Hanks 1984 print two points, 2000 -> 30 d and 2250 -> 21 d; between them a straight line, ours. What their
    sum is worth on the bench; no recipe counts so.
    NaN gives NaN. Raises ValueError outside the two points: nothing is published there.
    """
    units = as_floats(cold_units, "cold_units")
    if ((units < NARCISSUS_SUMS[0]) | (units > NARCISSUS_SUMS[1])).any():
        raise ValueError(f"cold units must lie within {NARCISSUS_SUMS[0]:g} to {NARCISSUS_SUMS[1]:g}")
    return plain(np.asarray(np.interp(units, NARCISSUS_SUMS, NARCISSUS_DAYS)))


def rooting_rate(mean: ArrayLike, best: ArrayLike) -> Values:
    """Rooting progress of each day [days at `best` per day, 0 to 1] at its mean temperature [°C].

    0 at 0 °C and below, 1 at `best` [°C] and above, a straight line between. Cornell Flower Bulb Research
    Program newsletter, June 2013, gives the order for tulip: fast at 9 °C, slower at 4 °C, strongly
    reduced at 1 °C; the line through it is ours. NaN gives NaN. Raises ValueError unless best is above 0.
    """
    means, bests = as_floats(mean, "mean"), as_floats(best, "best")
    if (bests <= 0.0).any():
        raise ValueError("the best rooting temperature must be above 0 °C")
    return plain(np.clip(means / bests, 0.0, 1.0))


def _nodes(node_temperatures: ArrayLike, node_weights: ArrayLike) -> tuple[Array, Array]:
    temperatures = as_floats(node_temperatures, "node temperatures")
    weights = as_floats(node_weights, "node weights")
    if temperatures.ndim != 1 or temperatures.size == 0 or temperatures.shape != weights.shape:
        raise ValueError("a cold curve needs at least one node, and one weight for each temperature")
    if np.isnan(temperatures).any() or np.isnan(weights).any():
        raise ValueError("a node of a cold curve is not a number")
    if (np.diff(temperatures) <= 0.0).any():
        raise ValueError("the node temperatures of a cold curve must strictly increase")
    return temperatures, weights
