"""Slots and corners: what is looked through is the whole line, and what is told has its depth."""

from __future__ import annotations

import math

import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon, box

from companion.planner.slots import (
    PIECE,
    Narrow,
    corner_findings,
    narrow_places,
    short_lines,
    widest_mm,
)
from companion.shop import tables
from companion.words import ENGLISH
from tests.planner.test_weak import BLADE, looked_at, told


@pytest.mark.parametrize("corners", [2, 3, PIECE, PIECE + 1, PIECE + 2, 2 * PIECE + 1, 40])
def test_short_pieces_of_a_line_are_the_line(corners: int) -> None:
    """None longer than it may be, none missing between two, and several lines kept apart."""
    lines = [LineString([(k, 7.0 * n + math.sin(k)) for k in range(corners + n)]) for n in range(3)]
    parts = short_lines(lines)
    assert all(shapely.get_num_points(parts) <= PIECE + 1)
    assert float(shapely.length(parts).sum()) == pytest.approx(sum(s.length for s in lines))
    assert shapely.union_all(parts).equals(shapely.union_all(lines))


def test_the_widest_spot_of_nothing_has_no_width() -> None:
    assert widest_mm(Polygon())[1] == 0.0
    assert widest_mm(Point(3, 3).buffer(2, quad_segs=32))[1] == pytest.approx(4.0, abs=0.03)


def rounded(place: Narrow) -> tuple[float, float, float]:
    """Place and depth to a hundredth of a millimetre."""
    return round(place.at_mm[0], 2), round(place.at_mm[1], 2), round(place.depth_mm, 2)


def test_narrow_places_of_many_regions_are_those_of_each_alone() -> None:
    """Wide, high, side by side, one above the other: none is measured against another."""
    regions = [
        box(60 * k, 7 * k * k, 60 * k + wide, 7 * k * k + high)
        for k, (wide, high) in enumerate([(50, 9), (9, 80), (30, 30), (55, 12), (12, 40)])
    ]
    together = narrow_places(regions, 3.0)
    alone = [p for r in regions for p in narrow_places([r], 3.0)]
    assert len(together) == len(alone) == 4 * len(regions)
    assert {rounded(p) for p in together} == {rounded(p) for p in alone}


@pytest.mark.parametrize(("share", "seen"), [(0.85, 0), (1.2, 1)])
def test_a_slot_is_told_from_so_many_kerfs_of_depth_on(share: float, seen: int) -> None:
    long = tables.number("weak", "slot.kerfs") * BLADE.kerf_mm
    hole = box(20, 20, 34, 40).union(box(33, 29.95, 34 + share * long, 30.05))
    found = told(looked_at(box(0, 0, 60, 60).difference(hole)), "slot-under-kerf")
    assert len(found) == seen
    for finding in found:
        assert finding.size_mm == pytest.approx(share * long, abs=0.1)


def test_of_full_corners_the_deepest_is_told_and_none_that_is_taken() -> None:
    corners = [Narrow((10.0, 10.0), 0.3), Narrow((30.0, 10.0), 0.9), Narrow((50.0, 10.0), 0.5)]
    (found,) = corner_findings(corners, [], BLADE, ENGLISH)
    assert found.at_mm == (30.0, 10.0) and found.text.startswith("3 inside corners")
    assert "0.9 mm" in found.text
    (left,) = corner_findings(corners, [(30.0, 10.0)], BLADE, ENGLISH)
    assert left.at_mm == (50.0, 10.0) and left.text.startswith("2 inside corners")
    assert corner_findings(corners, [c.at_mm for c in corners], BLADE, ENGLISH) == []
