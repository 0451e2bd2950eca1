"""Linear least squares by orthogonal reduction: the core under every fit of the log.

Columns are scaled to length one first and the triangle is found by Householder
reflections (LAPACK), never through the normal equations: those lose half of the digits,
and sums of times by technique are nearly dependent. What is already known (a prior) is
given as further rows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Fit:
    """What was found."""

    values: Array
    """One for each column."""
    inverse: Array
    """Inverse of the rows' cross product; times the variance of a row: the covariance."""
    residuals: Array
    """Given less fitted, one for each row."""
    deviation: float
    """Residual standard deviation; 0 when there are no more rows than columns."""
    r_squared: float
    """Share explained, about the mean or about zero as asked."""

    @property
    def standard_errors(self) -> Array:
        """Of the values, from the residual standard deviation."""
        return np.asarray(self.deviation * np.sqrt(np.diag(self.inverse)))


def least_squares(rows: ArrayLike, wanted: ArrayLike, about_mean: bool = True) -> Fit:
    """Fit ``rows @ values`` to what is wanted.

    Args:
        rows: n by k, n >= k, of full rank.
        wanted: n numbers.
        about_mean: whether r squared is taken about the mean; False for fits through zero.

    Raises:
        ValueError: fewer rows than columns, or columns that depend on each other.

    >>> least_squares([[1, 0], [1, 1], [1, 2]], [1, 3, 5]).values.round(6).tolist()
    [1.0, 2.0]
    """
    a, y = np.asarray(rows, dtype=float), np.asarray(wanted, dtype=float)
    n, k = a.shape
    size = np.linalg.norm(a, axis=0)
    if n < k or not np.all(size > 0.0):
        raise ValueError("too few rows, or an empty column")
    q, r = np.linalg.qr(a / size)
    if np.abs(np.diag(r)).min() < 1e-13:
        raise ValueError("columns depend on each other")
    first = np.linalg.solve(r, q.T @ y)
    # one step of refinement takes back what rounding lost
    first = first + np.linalg.solve(r, q.T @ (y - (a / size) @ first))
    back = np.linalg.solve(r, np.eye(k)) / size[:, None]
    values = first / size
    left = y - a @ values
    centre = float(y.mean()) if about_mean else 0.0
    total = float(((y - centre) ** 2).sum())
    squares = float(left @ left)
    deviation = (squares / (n - k)) ** 0.5 if n > k else 0.0
    return Fit(
        values, back @ back.T, left, deviation, 1.0 - squares / total if total > 0.0 else 1.0
    )
