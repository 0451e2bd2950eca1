"""Statistics that a telephone call in the middle of a cut does not move."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from companion.review.least_squares import Array

NORMAL = 1.482602218505602
"""1 / 0.6745: makes the median absolute deviation of a normal law its standard deviation."""
HUBER = 1.345
"""Bend of Huber's weights: 95 % efficient when nothing is wrong."""

TUKEY = 4.685
"""Bend of Tukey's weights, likewise."""


def mad(values: ArrayLike, scale: float = NORMAL) -> float:
    """Median absolute deviation from the median.

    >>> mad([1, 1, 2, 2, 4, 6, 9], scale=1.0)
    1.0
    """
    x = np.asarray(values, dtype=float)
    return float(scale * np.median(np.abs(x - np.median(x))))


def huber_weights(scaled: ArrayLike, bend: float = HUBER) -> Array:
    """Weights of residuals that are measured in their own standard deviation."""
    x = np.maximum(np.abs(np.asarray(scaled, dtype=float)), 1e-300)
    return np.asarray(np.minimum(1.0, bend / x))


def biweights(scaled: ArrayLike, bend: float = TUKEY) -> Array:
    """Tukey's weights: nothing at all for what lies beyond the bend."""
    x = np.asarray(scaled, dtype=float) / bend
    return np.asarray(np.where(np.abs(x) < 1.0, (1.0 - x**2) ** 2, 0.0))


def share_within(values: ArrayLike, share: float) -> float:
    """The size that so large a share of the absolute values does not exceed."""
    return float(np.quantile(np.abs(np.asarray(values, dtype=float)), share))
