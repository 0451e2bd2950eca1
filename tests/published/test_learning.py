"""Learning curves and time study against worked examples in print, a misprint among them.

Sources: T. P. Wright 1936 (cumulative average); an accounting textbook, p. 324 (80 %, 100 h);
a project-management text's appendix (both models, 75 %); ILO, Introduction to Work Study;
a work-time page (rating 110).
"""

from __future__ import annotations

import pytest

from companion.review.worktime import (
    average_of_first,
    exponent,
    first_unit,
    learning_rate,
    readings_needed,
    standard_time,
    total_of_first,
    total_of_units,
    unit_time,
)
from tests.published.registry import Compare, Source

SOURCE = Source(
    "T. P. Wright 1936; an accounting textbook, p. 324 (80 %, 100 h); a project-management "
    "text (both models, 75 %); ILO, Introduction to Work Study; a work-time page.",
    "C/D",
    "half of the last printed digit, or rounding of the machine",
)

DOUBLINGS = (1, 2, 4, 8, 16)


def test_eighty_percent_table(row: Compare) -> None:
    """Averages and totals of a first 100 h, and the time of each next block."""
    row(exponent(0.8), -0.321928, abs=1e-6)
    row([average_of_first(100, n, 0.8) for n in DOUBLINGS], [100, 80, 64, 51.2, 40.96])
    totals = [total_of_first(100, n, 0.8) for n in DOUBLINGS]
    row(totals, [100, 160, 256, 409.6, 655.36])
    blocks = [b - a for a, b in zip(totals, totals[1:], strict=False)]
    row(blocks, [60, 96, 153.6, 245.76])


def test_the_misprinted_block_is_not_reproduced() -> None:
    """The page prints 254.76 for the last eight; 655.36 - 409.6 is 245.76, 30.72 each."""
    last = total_of_first(100, 16, 0.8) - total_of_first(100, 8, 0.8)
    assert last == pytest.approx(245.76) and last / 8 == pytest.approx(30.72)
    assert abs(last - 254.76) > 8.9


def test_the_two_models_differ(row: Compare) -> None:
    row(total_of_first(100, 2, 0.8) - 100, 60)
    row(unit_time(100, 2, 0.8), 80)
    row(total_of_units(100, 2, 0.8), 180)
    row(total_of_units(100, 10, 0.8), 631.54, abs=0.005)
    row(total_of_first(100, 10, 0.8), 476.51, abs=0.005)


def test_seventy_five_percent_examples(row: Compare) -> None:
    row(unit_time(812, 250, 0.75), 82.096, abs=5e-4)
    row(first_unit(120, 100, 0.75), 811.44, abs=0.005)


def test_a_rate_is_found_again_and_not_from_two_points(row: Compare) -> None:
    times = [unit_time(812, n, 0.75) for n in range(1, 9)]
    found = learning_rate(times)
    row(found, (812, 0.75))
    assert learning_rate(times[:2]) is None and learning_rate([3.0, 0.0, 1.0]) is None


def test_time_study(row: Compare) -> None:
    """Constant allowances 5 and 4 %; work sampling needs 385."""
    row(standard_time(880, 0.05 + 0.04), 959.2)
    # p = .5, e = .05, z = 1.96: n = z2 p (1 - p) / e2, as readings of deviation .5 about .5
    assert readings_needed(1.96, 0.5, 0.1, 0.5) == 385
