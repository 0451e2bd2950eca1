"""Corners against the bend itself, measured densely along the line with another library."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely import get_coordinates, line_interpolate_point
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.polygon import orient

from companion.planner.contours import Contour
from companion.planner.corners import DIP, SHARP_CHORDS, Corner, corners
from companion.planner.linework import line_of
from tests.planner.drawn import NO_3

Floats = NDArray[np.float64]
CHORD = NO_3.width_mm
LEAST = 42.0


def walked(steps: list[tuple[float, float]], radius: float = 25.0) -> Polygon:
    """A closed shape from turns and stretches, closed by one gentle arc.

    Args:
        steps: (turn in degrees, length of the stretch after it) from one place on; in all
            20 to 160 degrees.
        radius: of the arc, far too wide to be a corner.
    """

    def ahead(heading: float) -> Floats:
        return np.array([math.cos(heading), math.sin(heading)])

    def left(heading: float) -> Floats:
        return np.array([-math.sin(heading), math.cos(heading)])

    heading = first = 0.3
    at = [np.zeros(2)]
    for k, (turn, length) in enumerate(steps):
        heading += math.radians(turn)
        if k < len(steps) - 1:
            at.append(at[-1] + length * ahead(heading))
    # the circle that both stretches run into, on their left
    both = np.array([left(first), left(heading)])
    far = np.array([left(first) @ at[0], left(heading) @ at[-1]]) + radius
    middle = np.linalg.solve(both, far)
    sweep = 2 * math.pi - (heading - first)
    arcs = [middle - radius * left(heading + sweep * k) for k in np.linspace(0.0, 1.0, 400)]
    shape = Polygon([*at, *arcs])
    assert shape.is_valid
    return shape


def bends(shape: Polygon) -> tuple[Floats, Floats]:
    """Arc lengths every hundredth of a millimetre, and the bend over one chord there, degrees."""
    ring = LineString(shape.exterior.coords)
    arc = np.arange(0.0, ring.length, 0.01)

    def at(s: Floats) -> Floats:
        return get_coordinates(line_interpolate_point(ring, np.mod(s, ring.length)))

    p, q = at(arc) - at(arc - CHORD), at(arc + CHORD) - at(arc)
    cross = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    return arc, np.degrees(np.arctan2(cross, (p * q).sum(axis=1)))


def test_near_one_another_each_corner_turns_by_its_own_largest_bend() -> None:
    """A tight bend one way and a sharp one back, a chord and a half apart, and none else."""
    curve = [(15.0, 0.15)] * 10
    shape = walked([*curve[:-1], (15.0, 1.0 * CHORD), (-100.0, 0.0)])
    arc, bend = bends(shape)
    found = corners(line_of(Contour(0, "inside", 1, 1, shape, None, ())), "inside", CHORD, LEAST)
    assert [math.copysign(1.0, c.bend_deg) for c in found] == [1.0, -1.0]
    assert found[0].bend_deg == pytest.approx(bend.max(), abs=0.5)
    assert found[1].bend_deg == pytest.approx(bend.min(), abs=0.5)


@pytest.mark.parametrize("turns", [(30, 30, 60, 10), (25, 35, 40, 15), (15, 40, 30, 30)])
def test_a_tight_curve_lies_at_the_middle_of_its_bend(turns: tuple[int, ...]) -> None:
    """The mean of the places, each weighed by its bend, over all that is past the threshold."""
    shape = walked([(float(t), 0.55) for t in turns])
    arc, bend = bends(shape)
    over = bend >= DIP * LEAST
    arc = np.where(arc > arc[-1] / 2, arc - shape.length, arc)
    assert np.ptp(arc[over]) > SHARP_CHORDS * CHORD
    middle = float((arc * bend)[over].sum() / bend[over].sum())
    line = line_of(Contour(0, "inside", 1, 1, shape, None, ()))
    (found,) = corners(line, "inside", CHORD, LEAST)
    place = found.arc_mm - (line.length if found.arc_mm > line.length / 2 else 0.0)
    assert place == pytest.approx(middle, abs=0.01)
    assert found.bend_deg == pytest.approx(sum(turns), abs=4.0), "and turns as the line does"


def ring_of(shape: Polygon) -> tuple[Corner, ...]:
    line = line_of(Contour(0, "inside", 1, 1, orient(shape), None, ()))
    return corners(line, "inside", CHORD, LEAST)


def test_a_sharp_corner_is_the_drawings_own_point() -> None:
    """A wedge whose sides are cut short at odd lengths: to a millionth of a millimetre."""
    points = [(0.0, 0.0), (20.0, 3.0), (20.9, 14.0), (17.3, 17.1), (9.0, 16.0), (8.2, 27.0)]
    found = ring_of(Polygon(points))
    assert len(found) == len(points)
    for c in found:
        assert min(math.dist(c.at_mm, p) for p in points) < 1e-6


@pytest.mark.parametrize("long_mm", [20.0, 300.0])
def test_a_tight_bend_turns_a_quarter_however_long_the_line_is(long_mm: float) -> None:
    """A slot 8 mm wide with corners rounded too tightly to be steered."""
    shape = box(0, 0, long_mm, 8).buffer(-0.8).buffer(0.8, quad_segs=12)
    assert isinstance(shape, Polygon)
    found = ring_of(shape)
    assert len(found) == 4
    assert all(c.bend_deg == pytest.approx(90.0, abs=1.0) for c in found)


@pytest.mark.parametrize("begun", [0, 101, 250])
def test_a_bend_too_weak_to_be_a_corner_is_seen_beside_one_wherever_the_ring_begins(
    begun: int,
) -> None:
    """35 degrees at one point: over four fifths of the threshold for a hair's breadth only.

    The tight bend beside it then turns by its own largest bend, not by what lies around it.
    """
    shape = walked([*[(15.0, 0.2)] * 6, (15.0, 1.4 * CHORD), (35.0, 0.0)])
    xy = get_coordinates(shape.exterior)[:-1]
    shape = Polygon(np.roll(xy, -begun, axis=0))
    _, bend = bends(shape)
    (found,) = ring_of(shape)
    assert found.bend_deg == pytest.approx(bend.max(), abs=0.5)
    assert found.bend_deg < 100.0, "the line itself turns by 105 degrees there"
