"""Lines by their curvature, against circles of known radius; what no calibration changes."""

from __future__ import annotations

import math
from dataclasses import asdict

import pytest

from companion.planner.timing import NO_CALIBRATION, lengths_by_curvature, rates_for
from companion.shop import tables

TIGHT, CURVED = 2.0, 9.0


@pytest.mark.parametrize("points", [48, 120])
@pytest.mark.parametrize(
    ("radius", "kind"), [(1.2, 2), (1.9, 2), (2.2, 1), (5.0, 1), (8.6, 1), (9.4, 0), (40.0, 0)]
)
def test_a_circle_is_as_tight_as_its_radius(radius: float, kind: int, points: int) -> None:
    """All of it, wherever the drawing begins it: circumference and nothing else."""
    angles = [2 * math.pi * k / points for k in range(points + 1)]
    ring = tuple((radius * math.cos(a), radius * math.sin(a)) for a in angles)
    found = lengths_by_curvature(ring, TIGHT, CURVED)
    whole = 2 * points * radius * math.sin(math.pi / points)
    want = [0.0, 0.0, 0.0]
    want[kind] = whole
    assert found == pytest.approx(want, abs=1e-6 * whole)


def test_an_oblong_is_straight_on_its_sides_and_curved_round_its_ends() -> None:
    """Two half circles of 5 mm and two sides of 30 mm."""
    n = 40
    right = [
        (15 + 5 * math.sin(math.pi * k / n), -5 * math.cos(math.pi * k / n)) for k in range(n + 1)
    ]
    ring = (*right, *((-x, -y) for x, y in right), right[0])
    straight, curved, tight = lengths_by_curvature(tuple(ring), TIGHT, CURVED)
    assert tight == 0.0
    assert curved == pytest.approx(10 * math.pi, rel=0.03)
    assert straight + curved == pytest.approx(60 + 10 * math.pi, rel=0.001)


def test_without_a_calibration_the_tables_spreads_hold() -> None:
    rates = rates_for("practised", NO_CALIBRATION)
    assert rates.task_spread == tables.number("timing", "seconds.spread", 0.01, 2)
    assert rates == rates_for("practised")
    others = {"depth_power": 0.0, "materials": ()}
    for name, value in asdict(NO_CALIBRATION).items():
        assert value == others.get(name, 1.0), name
