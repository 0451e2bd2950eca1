"""A closed line by arc length: its neighbours at a place are those of the line written out."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from companion.planner.contours import Contour
from companion.planner.linework import Line, line_of
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
