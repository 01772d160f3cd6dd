"""What every science function does with its arrays: numbers in, a gap stays a gap, plain numbers out."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Values = NDArray[np.float64] | float


def as_floats(values: ArrayLike, name: str) -> Array:
    """An array of floats; None becomes NaN, a gap. Raises ValueError for an infinite value, naming it."""
    array = np.asarray(values, dtype=np.float64)
    # A single number is the common case, of which numpy makes ten times the work.
    if math.isinf(array) if array.ndim == 0 else np.isinf(array).any():
        raise ValueError(f"{name} must be finite (a gap is NaN)")
    return array


def plain(values: Array) -> Values:
    """The array, or a Python float where it holds a single number without a dimension."""
    return float(values) if np.ndim(values) == 0 else values
