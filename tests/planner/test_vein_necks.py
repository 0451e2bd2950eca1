"""The neck that a vein leaves to an edge: by hand on drawn ones."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import box

from companion.findings import Finding
from companion.planner.vein_gaps import vein_necks
from companion.shop import tables
from companion.words import ENGLISH
from tests.planner.drawn import pattern_of, plan

KERF, BOARD = 0.5, 6.0
PLATE = plan(pattern_of((box(0, 0, 100, 60), [], None)))
LOST = tables.limit("cuts-merge").value
ASKED = tables.limit("neck-fragile").value * BOARD


def told(gap: float, radius: float = 0.0) -> list[Finding]:
    """What is said of a vein of 40 mm along the edge, so far from it."""
    line = np.array([(30.0, gap), (70.0, gap)]) + PLATE.shift
    return vein_necks([line], [radius], PLATE.work, KERF, BOARD, ENGLISH)


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_beside_a_vein_stands_what_half_the_kerf_leaves(share: float) -> None:
    wood = LOST + share * (ASKED - LOST)
    (found,) = told(wood + KERF / 2)
    assert found.size_mm == pytest.approx(wood, abs=1e-6)


def test_what_is_as_thick_as_a_neck_may_be_is_not_told_nor_what_breaks_out_at_the_saw() -> None:
    assert ASKED > LOST + 0.2
    assert told(ASKED + KERF / 2 + 0.01) == []
    assert told(LOST + KERF / 2 - 0.01) == [], "another finding tells that"


def test_at_its_hole_the_holes_own_radius_counts() -> None:
    radius = 1.5
    (found,) = told(radius + 0.5 * ASKED, radius)
    assert found.size_mm == pytest.approx(0.5 * ASKED, abs=1e-6)
    assert found.at_mm == pytest.approx(
        (30.0 + PLATE.shift[0], radius + 0.5 * ASKED + PLATE.shift[1])
    )
    assert told(radius + ASKED + 0.01, radius) == []
