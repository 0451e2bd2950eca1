"""Largest circles inside shapes against published answers and geometry.

Sources: the test file of polylabel 1.0.2 (ISC), whose two water bodies lie beside this
file; the true maxima of both from an independent script (facts section 2, D); plane
geometry for the shapes whose inscribed circle is known. The published bound is that the
distance found is at most the precision under the maximum: the place is not asserted.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
import shapely
from shapely.geometry import MultiPolygon, Point, Polygon, box

from companion.planner.holes import widest_spot
from tests.planner.drawn import disc, regular, star
from tests.published.registry import Compare, Source

SOURCE = Source(
    "polylabel 1.0.2, test/test.js (ISC); independent maxima; Euclid IV.4 and plane "
    "geometry; SVG 2 examples.",
    "C/D",
    "the precision asked for: the published bound",
)

DATA = Path(__file__).parent / "data" / "polylabel"

TRUE_MAXIMUM = {"water1": 288.9605, "water2": 960.566}
PUBLISHED = [
    ("water1", 1.0, 288.8493574779127),
    ("water1", 50.0, 278.5795872381558),
    ("water2", 1.0, 960.5),
]


def water(name: str) -> Polygon:
    """The published rings, which touch themselves, mended to a valid polygon."""
    shell, *holes = json.loads((DATA / f"{name}.json").read_text())
    mended = Polygon(shell, holes).buffer(0)
    parts = [g for g in shapely.get_parts(mended) if isinstance(g, Polygon)]
    return max(parts, key=lambda g: g.area)


@pytest.mark.parametrize(("name", "precision", "published"), PUBLISHED)
def test_water_bodies(row: Compare, name: str, precision: float, published: float) -> None:
    body = water(name)
    at, radius = widest_spot(body, precision)
    assert radius >= TRUE_MAXIMUM[name] - precision
    assert radius <= TRUE_MAXIMUM[name] + 1e-2
    assert radius >= published - precision, "as good as the published answer"
    row(body.boundary.distance(Point(at)), radius, abs=1e-6)


def test_published_polygon_of_13_points(row: Compare) -> None:
    """Published answer at precision 1 is 7.38933; the true maximum is 7.697453 (D)."""
    ring = [
        (47.9110451487389, -44.1096212330437), (47.8991367655973, -71.2555371703825),
        (47.8994056568125, -77.227879331536), (45.3626133593456, -77.2222141041101),
        (45.3688717696369, -80.4158717914029), (34.2709994158039, -80.4094586953846),
        (34.2635145329713, -55.2594231186565), (18.1742987232491, -55.2501256891529),
        (18.1817831793031, -80.4001618747756), (8.8880123733129, -80.3947913098013),
        (8.88803613296443, -80.4746328778399), (3.61157281151532, -80.4715837829468),
        (3.60074437508024, -44.0838724342666),
    ]  # fmt: skip
    _, radius = widest_spot(Polygon(ring), 0.001)
    row(radius, 7.697453, abs=0.0011)


@pytest.mark.parametrize(
    "ring", [[(0, 0), (1, 0), (2, 0), (0, 0)], [(0, 0), (1, 0), (1, 1), (1, 0), (0, 0)]]
)
def test_degenerate_rings_hold_no_circle(ring: list[tuple[float, float]]) -> None:
    assert widest_spot(Polygon(ring))[1] == 0.0


KNOWN = [
    ("3-4-5 triangle, Euclid IV.4: 2A/P", Polygon([(0, 0), (3, 0), (0, 4)]), 1.0),
    ("rectangle: half the shorter side", box(0, 0, 12, 5), 2.5),
    ("L of 2 x 2 less a corner: 2 - sqrt 2",
     Polygon([(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)]), 2 - math.sqrt(2)),
    ("ring: half its width", Polygon(disc(10, points=720).exterior, [disc(4, points=720).exterior]),
     3.0),
    ("square", regular(4, math.sqrt(2)), 1.0),
    ("star of the SVG specification (polygon01), r 49.1370",
     Polygon([(350, 75), (379, 161), (469, 161), (397, 215), (423, 301), (350, 250),
              (277, 301), (303, 215), (231, 161), (321, 161)]), 49.1370),
    ("hexagon of the SVG specification (polygon01), r 108",
     Polygon([(850, 75), (958, 137.5), (958, 262.5), (850, 325), (742, 262.6), (742, 137.5)]),
     108.0),
    ("triangle01 of the SVG specification", Polygon([(100, 100), (300, 100), (200, 300)]),
     61.803399),
]  # fmt: skip


@pytest.mark.parametrize(("what", "shape", "radius"), KNOWN, ids=[k[0] for k in KNOWN])
def test_known_inscribed_circles(row: Compare, what: str, shape: Polygon, radius: float) -> None:
    at, got = widest_spot(shape, 1e-3 * radius)
    row(got, radius, rel=1.1e-3, place=what)
    assert shape.buffer(1e-9).covers(Point(at))


def test_of_several_parts_the_widest_counts() -> None:
    two = MultiPolygon([box(0, 0, 1, 9), box(20, 0, 26, 6)])
    (x, _), radius = widest_spot(two)
    assert radius == pytest.approx(3.0, abs=0.02) and x > 20


def test_a_star_is_not_its_hull() -> None:
    """The comparer can fail: a star's circle is far smaller than its hull's."""
    s = star(5, 10, 4)
    assert widest_spot(s)[1] < 0.7 * widest_spot(s.convex_hull)[1]
