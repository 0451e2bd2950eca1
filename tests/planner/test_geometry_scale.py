"""How the planner's geometry grows: near linear, and within reach of the bare calls."""

from __future__ import annotations

import pytest

from tests.benchmarks.planner_geometry import measure


def test_four_times_the_openings_take_about_four_times_as_long() -> None:
    """Processor time, so that other work on the machine does not count; 2.2 for noise."""
    measure(2)
    small, large = measure(5), measure(10)
    assert large.planned_s / small.planned_s < 4 * 2.2


@pytest.mark.slow
def test_a_thousand_openings_of_120_points() -> None:
    """Issue of the planner: 1,000 openings; at most 3 times the bare library calls."""
    big = measure(32)
    assert big.planned_s < 30.0
    assert big.planned_s <= 3.0 * big.bare_s
