"""Work study and learning curves: the few formulas a review and a quote need.

Sources: ILO, Introduction to Work Study (standard time, readings needed); J. L. Hodges,
E. L. Lehmann 1963 (the middle of the means of all pairs);
T. P. Wright 1936 (cumulative average falls by a fixed share with each doubling) and the
unit model after Crawford (the unit itself does). The two differ: name the one you mean.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import linear_regression, median


def standard_time(basic: float, allowance: float) -> float:
    """Basic time with a share added for rest and needs.

    >>> round(standard_time(100.0, 0.09), 6)
    109.0
    """
    return basic * (1.0 + allowance)


def readings_needed(z: float, deviation: float, accuracy: float, mean: float) -> int:
    """How many readings put the mean within a share of itself.

    Args:
        z: of the normal law, e.g. 1.96 for 95 %.
        deviation: of one reading.
        accuracy: share of the mean.
        mean: of the readings, in the deviation's unit.

    >>> readings_needed(1.96, 2.0, 0.05, 10.0)
    62
    """
    return math.ceil((z * deviation / (accuracy * mean)) ** 2)


def hodges_lehmann(values: Sequence[float]) -> float:
    """Median of the means of all pairs, each with itself included (Walsh averages).

    As sure as a mean when nothing is wrong, and a telephone call hardly moves it.

    Args:
        values: some; time and room grow with the square of their number.

    >>> hodges_lehmann([1.0, 2.0, 9.0])
    3.5
    """
    return median((a + b) / 2.0 for i, a in enumerate(values) for b in values[i:])


def exponent(rate: float) -> float:
    """Of a learning curve, by what is left of a time when the number doubles.

    >>> round(exponent(0.8), 6)
    -0.321928
    """
    return math.log2(rate)


def average_of_first(first: float, n: int, rate: float) -> float:
    """Wright: average time of units 1 to n."""
    return first * math.exp(exponent(rate) * math.log(n))


def total_of_first(first: float, n: int, rate: float) -> float:
    """Wright: time of units 1 to n together."""
    return n * average_of_first(first, n, rate)


def unit_time(first: float, n: int, rate: float) -> float:
    """Unit model: time of the n-th unit."""
    return first * math.exp(exponent(rate) * math.log(n))


def total_of_units(first: float, n: int, rate: float) -> float:
    """Unit model: time of units 1 to n together."""
    return sum(unit_time(first, i, rate) for i in range(1, n + 1))


def first_unit(nth: float, n: int, rate: float) -> float:
    """Unit model: time of the first unit, from that of the n-th."""
    return nth / math.exp(exponent(rate) * math.log(n))


def learning_rate(times: Sequence[float]) -> tuple[float, float] | None:
    """First unit's time and rate of the unit model through some times, in order.

    Returns:
        None for fewer than three times: two points show a difference, not a curve.

    >>> first, rate = learning_rate([unit_time(50.0, n, 0.9) for n in range(1, 6)])
    >>> round(first, 6), round(rate, 6)
    (50.0, 0.9)
    """
    if len(times) < 3 or min(times) <= 0.0:
        return None
    # a straight line needs no arrays: their import is a sixth of a review's time
    at = [math.log(n) for n in range(1, len(times) + 1)]
    line = linear_regression(at, [math.log(t) for t in times])
    return math.exp(line.intercept), 2.0**line.slope
