"""Corners of outside drawings: where a ring begins and how many points it has is no matter."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon

from companion.pattern.options import ReadOptions
from companion.pattern.reader import read_pattern
from companion.planner.contours import Contour, contours
from companion.planner.corners import Corner, corners
from companion.planner.linework import line_of
from companion.planner.plan import Side
from tests.planner.drawn import NO_3

OUTSIDE = Path(__file__).parents[1] / "data" / "outside"
DRAWINGS = (
    "words/caladea-bakery", "words/lobster-willow-oak", "clipart/castilla_y_leon_01",
)  # fmt: skip
"""Those in which a coarser look at the lines was found to miss or merge corners."""


def found(ring: Polygon, side: Side, least: float) -> tuple[Corner, ...]:
    line = line_of(Contour(0, side, 1, 1, ring, None, ()))
    return corners(line, side, NO_3.width_mm, least)


def other_points(ring: Polygon) -> Iterator[Polygon]:
    """The same line begun elsewhere, and with points between its own."""
    xy = shapely.get_coordinates(ring.exterior)[:-1]
    yield Polygon(np.roll(xy, -(len(xy) // 3), axis=0))
    yield ring.segmentize(0.37)


def assert_same(some: tuple[Corner, ...], others: tuple[Corner, ...]) -> None:
    assert len(some) == len(others)
    left = list(others)
    for c in some:
        k = min(range(len(left)), key=lambda i: np.hypot(*np.subtract(left[i].at_mm, c.at_mm)))
        same = left.pop(k)
        assert same.at_mm == pytest.approx(c.at_mm, abs=0.05)
        assert same.bend_deg == pytest.approx(c.bend_deg, abs=0.5)


@pytest.mark.parametrize("name", DRAWINGS)
def test_corners_are_the_lines_own(name: str) -> None:
    pattern = read_pattern(OUTSIDE / f"{name}.svg", ReadOptions(width_mm=120.0))
    every = [
        (c, least, found(c.ring, c.side, least))
        for c in contours(pattern, (15.0, 15.0))
        for least in (33.0, 42.0)
    ]
    assert sum(len(seen) for _, _, seen in every) > 4
    for contour, least, seen in every:
        for ring in other_points(contour.ring):
            assert_same(seen, found(ring, contour.side, least))
