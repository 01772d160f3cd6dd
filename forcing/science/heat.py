"""Heat of a day: degree-days from the day's low and high, or from readings through the day.

With I(x) the daily mean of max(T - x, 0) and F(x) the fraction of the day above x, every curve and
every cutoff is a combination of I and F at the base and at the cap. The six cases that handbooks
list (the day below both, above both, across one, across both, between) need no code of their own.

Sources: sine, Baskerville & Emin 1969, Ecology 50:514-517; triangle, Sevacherian, Stern & Mueller 1977,
J. Econ. Entomol. 70:399-402; cutoffs and double forms, Zalom et al. 1983, "Degree-days: the calculation
and use of heat units in pest management", University of California; the two ways to average,
McMaster & Wilhelm 1997, Agric. For. Meteorol. 87:291-300.
"""

from __future__ import annotations

from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

from forcing.science.arrays import Array, Values, as_floats, plain

Curve = Literal["sine", "triangle", "mean"]
Cutoff = Literal["none", "horizontal", "intermediate", "vertical"]

CURVES: tuple[Curve, ...] = get_args(Curve)
CUTOFFS: tuple[Cutoff, ...] = get_args(Cutoff)


def degree_days(
    low: ArrayLike,
    high: ArrayLike,
    base: ArrayLike,
    cap: ArrayLike | None = None,
    *,
    next_low: ArrayLike | None = None,
    curve: Curve = "sine",
    cutoff: Cutoff = "horizontal",
) -> Values:
    """Degree-days of each day [°C·d, or °F·d if the temperatures are °F].

    low, high: lowest and highest temperature of the day. base: no progress below it. cap: `horizontal`
    keeps the rate of the cap above it, `intermediate` lets the rate fall as fast as it rose (so that a day
    far above the cap comes out negative), `vertical` stops it; `none`, or no cap at all, lets it rise.
    next_low: lowest temperature of the following day; given, the afternoon and night run to it (double
    form), even where it is above `high`, as when pots move to a warmer place. The last day of a series
    has no following day: repeat its own low. curve `mean` is the 24 h mean, limited to the cap, less base.

    Arguments broadcast; all scalars give a float. NaN in any of them gives NaN: a gap is not a cold day.
    Raises ValueError if a high is below its low, a cap in use below its base, a temperature infinite, a
    curve or cutoff unknown, or the curve is `mean` and the cutoff is defined only along a curve.
    """
    if curve not in CURVES:
        raise ValueError(f"curve must be one of {', '.join(CURVES)}: {curve!r}")
    lows, highs = _day(low, high)
    bases, caps = _limits(base, cap, cutoff)
    if curve == "mean" and caps is not None and cutoff != "horizontal":
        raise ValueError(f"cutoff {cutoff!r} has no meaning for the daily mean; use sine or triangle")
    total = _single(lows, highs, bases, caps, curve, cutoff)
    if next_low is not None:
        following = as_floats(next_low, "next_low")
        lower, upper = np.minimum(following, highs), np.maximum(following, highs)
        total = (total + _single(lower, upper, bases, caps, curve, cutoff)) / 2.0
    return plain(total)


def clipped_mean_degree_days(
    low: ArrayLike, high: ArrayLike, base: ArrayLike, cap: ArrayLike | None = None
) -> Values:
    """Degree-days of each day [°C·d] with low and high brought within base and cap before averaging.

    Method 2 of McMaster & Wilhelm 1997; with base 50 °F and cap 86 °F the "modified average" for maize. No recipe
    counts so: needs in print that were summed this way are compared by it.
    Without a cap never below `degree_days(..., curve="mean")`. Broadcasting, NaN and errors as there.
    """
    lows, highs = _day(low, high)
    bases, caps = _limits(base, cap, "horizontal")
    lows, highs = np.maximum(lows, bases), np.maximum(highs, bases)
    if caps is not None:
        lows, highs = np.minimum(lows, caps), np.minimum(highs, caps)
    return plain((lows + highs) / 2.0 - bases)


def hourly_degree_days(
    temperatures: ArrayLike,
    base: ArrayLike,
    cap: ArrayLike | None = None,
    *,
    cutoff: Cutoff = "horizontal",
    axis: int = -1,
) -> Values:
    """Degree-days per day [°C·d] from readings evenly spaced through it: the mean of the rate over `axis`.

    Each reading stands for an equal part of the day, so 23 or 25 readings on the days the clocks change
    are right as they are. base and cap broadcast against what is left once `axis` is gone. One NaN makes
    its day NaN. Raises ValueError if `axis` holds no reading or is not there; else as `degree_days`.
    """
    readings = np.moveaxis(as_floats(temperatures, "temperatures"), axis, -1)
    if readings.shape[-1] == 0:
        raise ValueError("a day without readings has no degree-days; use NaN for a gap")
    bases, caps = _limits(base, cap, cutoff)
    bases = bases[..., np.newaxis]
    rate = np.maximum(readings - bases, 0.0)
    if caps is not None:
        caps = caps[..., np.newaxis]
        over = np.maximum(readings - caps, 0.0)
        rate = _cut(rate, over, (readings > caps).astype(np.float64), caps - bases, cutoff)
    return plain(rate.mean(axis=-1))


def _day(low: ArrayLike, high: ArrayLike) -> tuple[Array, Array]:
    lows, highs = as_floats(low, "low"), as_floats(high, "high")
    swapped = highs < lows
    if swapped.any():
        at = tuple(np.argwhere(swapped)[0])
        pair = np.broadcast_to(highs, swapped.shape)[at], np.broadcast_to(lows, swapped.shape)[at]
        raise ValueError(f"high {pair[0]:g} is below low {pair[1]:g} ({int(swapped.sum())} such)")
    return lows, highs


def _limits(base: ArrayLike, cap: ArrayLike | None, cutoff: Cutoff) -> tuple[Array, Array | None]:
    """Base, and the cap where it is in use."""
    if cutoff not in CUTOFFS:
        raise ValueError(f"cutoff must be one of {', '.join(CUTOFFS)}: {cutoff!r}")
    bases = as_floats(base, "base")
    if cap is None or cutoff == "none":
        return bases, None
    caps = as_floats(cap, "cap")
    if (caps < bases).any():
        raise ValueError("cap must not be below base")
    return bases, caps


def _single(
    lows: Array, highs: Array, bases: Array, caps: Array | None, curve: Curve, cutoff: Cutoff
) -> Array:
    if curve == "mean":
        mean = (lows + highs) / 2.0
        if caps is not None:
            mean = np.minimum(mean, caps)
        return np.maximum(mean - bases, 0.0)
    above_base, _ = _above(lows, highs, bases, curve)
    if caps is None:
        return above_base
    above_cap, share = _above(lows, highs, caps, curve)
    return _cut(above_base, above_cap, share, caps - bases, cutoff)


def _cut(above_base: Array, above_cap: Array, share: Array, band: Array, cutoff: Cutoff) -> Array:
    """I(base), I(cap), F(cap) and cap - base joined into what the cutoff leaves."""
    if cutoff == "intermediate":
        return above_base - 2.0 * above_cap
    kept = above_base - above_cap
    if cutoff == "vertical":
        kept = kept - band * share
    # Rounding alone can step over limits that hold exactly.
    return np.clip(kept, 0.0, band)


def _above(lows: Array, highs: Array, x: Array, curve: Curve) -> tuple[Array, Array]:
    """I(x) and F(x) of a day that swings between its low and its high.

    A day that only touches x is not above it, so a constant day (low == high) at x has I = F = 0.
    """
    mean = (lows + highs) / 2.0
    inside = (lows < x) & (x < highs)
    # Outside the swing any width will do: those values are replaced below.
    width = np.where(inside, highs - lows, 1.0)
    if curve == "sine":
        angle = np.arcsin(np.where(inside, np.clip(2.0 * (x - mean) / width, -1.0, 1.0), 0.0))
        share = 0.5 - angle / np.pi
        heat = (mean - x) * share + width / 2.0 * np.cos(angle) / np.pi
    else:
        share = (highs - x) / width
        heat = (highs - x) ** 2 / (2.0 * width)
    # Rounding must not take I below what the mean alone gives, nor above what the high gives.
    heat = np.clip(heat, np.maximum(mean - x, 0.0), np.maximum(highs - x, 0.0))
    heat = np.where(inside, heat, np.where(x >= highs, 0.0, mean - x))
    share = np.where(inside, share, np.where(x >= highs, 0.0, 1.0))
    gap = np.isnan(mean + x)
    return np.where(gap, np.nan, heat), np.where(gap, np.nan, share)
