"""A closed line by arc length: its neighbours at a place are those of the line written out."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from companion.planner.contours import Contour
from companion.planner.linework import Line, Linework, line_of
from tests.planner.drawn import disc, star


def line(shape: Polygon) -> Line:
    return line_of(Contour(0, "inside", 1, 1, shape, None, ()))


@pytest.mark.parametrize(
    "shape",
    [box(0, 0, 9, 4), star(5, 20, 8), disc(3.0, points=7), star(9, 1100.7, 800.3)],
)
def test_what_lies_before_and_after_a_place_is_what_the_whole_line_says(shape: Polygon) -> None:
    """At every vertex, between any two, and a lap farther on; on lines of any length."""
    ring = line(shape)
    places = np.concatenate([ring.along, (ring.along[:-1] + ring.along[1:]) / 2])
    for arc in [*places, *(places + ring.length)]:
        at, before, after = ring.around(float(arc))
        whole = ring.part(float(arc), float(arc) + ring.length)
        assert at == pytest.approx(whole[0], abs=1e-9)
        assert before == pytest.approx(whole[-2], abs=1e-9)
        assert after == pytest.approx(whole[1], abs=1e-9)
    assert np.hypot(*np.diff(ring.xy, axis=0).T).sum() == pytest.approx(ring.length)


def test_sharp_points_are_the_corners_however_the_line_turns() -> None:
    """A bay, whose corners turn both ways; two that bend by less than is sharp are none."""
    corners = [(0, 0), (10, 0), (10, 4), (20, 4), (20, 0), (30, 0.5), (40, 0), (36, 20), (3, 20)]
    shape = Polygon([*corners, (1.4, 10)])
    found = {(x, y) for x, y in line(shape).sharp_points().tolist()}
    assert found == {(float(x), float(y)) for x, y in corners}
    assert len(line(disc(20.0, points=90)).sharp_points()) == 0


def test_where_veins_alone_are_cut_no_line_has_places() -> None:
    work = Linework(())
    assert work.samples == () and len(work.points) == 0
