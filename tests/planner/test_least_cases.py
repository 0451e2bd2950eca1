"""The least, the emptiest and the widest that each part of the planner may be asked for."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon, box
from svgpathtools import parse_path

from companion.planner.axis import medial_axis
from companion.planner.blades import Detail, _enters, passing, stroke_mm
from companion.planner.bridges import bridges
from companion.planner.drilling import holes_of
from companion.planner.fasteners import fasteners
from companion.planner.necks import _minima, way_along
from companion.planner.network import network
from companion.planner.plan import Board
from companion.planner.practice_letters import ADVANCE, skeleton
from companion.planner.room import rope, thinned
from companion.planner.thicken import _peaks, thicken
from companion.shop import tables
from companion.shop.model import Drill
from tests.planner.drawn import DRILLS, NO_3, pattern_of, plan


@pytest.mark.parametrize("radius", [0.02, 0.05])
def test_a_dot_has_its_middle_for_an_axis(radius: float) -> None:
    """So small that all of its outline counts as ripple."""
    axis = medial_axis(Point(3, 4).buffer(radius, quad_segs=8))
    assert len(axis.xy) == 1 and not axis.branches
    assert axis.xy[0] == pytest.approx((3.0, 4.0), abs=1e-6)
    assert axis.thickness[0] == pytest.approx(2 * radius, rel=0.03)


def test_no_outline_is_no_stroke() -> None:
    assert stroke_mm(0.0, 0.0) == math.inf


def test_a_blade_enters_an_opening_that_fits_it_to_the_last_bit() -> None:
    slack, clear = 0.05, 0.4
    thin = passing(NO_3, DRILLS, slack)[0]
    opening = thin.diameter_mm + 2 * clear
    detail = Detail(opening, clear, slack)
    assert _enters(NO_3, detail, DRILLS)
    assert not _enters(NO_3, replace(detail, opening_mm=opening - 1e-6), DRILLS)
    just = Drill("just", NO_3.passes_mm + slack)
    assert passing(NO_3, (just,), slack) == (just,)


def test_islands_that_no_bar_can_reach_are_told_loose_and_left_as_they_are() -> None:
    """Bars as wide as both islands together: each would run over the other."""
    outer, inner = box(0, 0, 100, 60), box(10, 10, 90, 50)
    pattern = pattern_of(
        (outer, [inner], None), (box(20, 20, 40, 40), [], 1), (box(60, 20, 80, 40), [], 1)
    )
    done = bridges(pattern, 80.0)
    assert done.loose == (2, 3) and done.bridges == ()
    assert done.pattern.pieces == pattern.pieces
    assert bridges(pattern, 3.0).loose == ()


def test_where_no_drill_fits_the_hole_has_no_size() -> None:
    p = plan(pattern_of((box(0, 0, 60, 30), [box(10, 10, 50, 10.3)], None)))
    assert p.entries[0].drill is None
    (hole, other) = holes_of(dict(enumerate(p.entries)), (0, 1))
    assert (hole.drill_mm, hole.drill_name) == (0.0, "")
    assert other.drill_mm > 0.0 and other.drill_name


@pytest.mark.parametrize("size", [(200.0, 200.0), (500.0, 400.0), (300.0, 700.0)])
def test_a_pin_for_each_stretch_of_the_boards_edge(size: tuple[float, float]) -> None:
    """Nothing in the way: as many as the edge has stretches of the shop's spacing, at least 4."""
    board = Board("mdf", 6.0, 3, *size)
    spacing = tables.limit("fastener-spacing").value
    pins, found = fasteners(board, [Point(60, 60).buffer(5)], (), ())
    assert found == ()
    stretches = 2 * sum(size) / spacing
    assert max(4.0, stretches) <= len(pins) < max(4.0, stretches) + 2
    assert np.ptp([x for x, _ in pins]) > 0.9 * size[0] - 30.0


@pytest.mark.parametrize("size", [(200.0, 200.0), (300.0, 700.0), (900.0, 160.0), (160.0, 900.0)])
def test_no_part_of_a_free_edge_is_farther_from_a_pin_than_their_spacing(
    size: tuple[float, float],
) -> None:
    pins, _ = fasteners(Board("mdf", 6.0, 2, *size), [Point(60, 60).buffer(5)], (), ())
    edge = box(0, 0, *size).exterior
    for along in np.arange(0.0, edge.length, 10.0):
        at = edge.interpolate(along)
        spacing = tables.limit("fastener-spacing").value
        assert min(at.distance(Point(p)) for p in pins) <= spacing


@pytest.mark.parametrize("kerf", [0.0, 2.0])
def test_a_pin_keeps_its_clearance_from_what_a_loop_frees(kerf: float) -> None:
    """A loop laid so near to the corner's own place that it must go."""
    board, clear = Board("mdf", 6.0, 2, 200.0, 200.0), tables.limit("fastener-clearance").value
    at = 2 * clear - 0.3 + kerf / 2
    way = np.array([(at, 0.0), (at + 20, 0.0), (at + 20, 30.0), (at, 30.0), (at, 0.0)])
    outlines = [Point(100, 100).buffer(5)]
    pins, _ = fasteners(board, outlines, (), (), loops=[way])
    if kerf:
        pins, _ = fasteners(board, outlines, (), (), loops=[way], kerf_mm=kerf)
    freed = Polygon(way)
    assert len(pins) >= 4
    assert min(freed.distance(Point(p)) for p in pins) >= clear + kerf / 2 - 0.02


@pytest.mark.parametrize("width", [2.0, 4.0, 10.0])
def test_the_axis_of_a_strip_ends_where_its_last_circle_stands(width: float) -> None:
    """Half its width before either end, straight or round."""
    for shape, ends in (
        (box(0, 0, 40, width), (width / 2, 40 - width / 2)),
        (LineString([(5, 0), (45, 0)]).buffer(width / 2, quad_segs=16), (5.0, 45.0)),
    ):
        x = medial_axis(shape).xy[:, 0]
        assert (x.min(), x.max()) == pytest.approx(ends, abs=0.06)


@pytest.mark.parametrize("sign", sorted(ADVANCE))
def test_a_letter_is_as_wide_and_as_tall_as_the_table_says(sign: str) -> None:
    """Its strokes' own box, measured by another library's arcs."""
    boxes = [parse_path(stroke).bbox() for stroke in skeleton(sign, (0.0, 0.0), 1.0)]
    assert min(b[0] for b in boxes) == pytest.approx(0.0, abs=1e-6)
    assert max(b[1] for b in boxes) == pytest.approx(ADVANCE[sign], abs=1e-6)
    assert (min(b[2] for b in boxes), max(b[3] for b in boxes)) == pytest.approx((0, 1), abs=1e-6)


def test_no_area_is_swept_where_the_circle_has_shrunk_to_nothing() -> None:
    """Discs and the hulls between them: a place of no radius draws nothing towards itself."""
    xy = np.array([(0.0, 0.0), (10.0, 0.0), (20.0, 0.0), (30.0, 0.0)])
    assert rope(xy, np.array([2.0, 0.0, 0.0, 0.0])).area == pytest.approx(4 * math.pi, rel=0.03)
    both = rope(xy, np.array([2.0, 2.0, 0.0, 1.0]))
    assert both.area == pytest.approx(4 * math.pi + 40.0 + math.pi, rel=0.03)
    assert rope(xy, np.zeros(4)).is_empty


def test_even_steps_along_a_line_begin_and_end_with_it() -> None:
    """A line of uneven stretches, whose value rises by the way."""
    xy = np.array([(0.0, 0.0), (3.0, 4.0), (3.0, 5.0), (10.0, 5.0)])
    places, value, way = thinned(xy, np.array([1.0, 6.0, 7.0, 14.0]), 0.5)
    line = LineString(xy)
    assert way == pytest.approx(np.linspace(0.0, 13.0, 27))
    assert value == pytest.approx(1.0 + way)
    for at, far in zip(places, way, strict=True):
        assert at == pytest.approx(line.interpolate(far).coords[0])


def test_a_peak_between_two_steps_along_a_span_is_seen_at_both() -> None:
    net = network(medial_axis(box(0, 0, 80, 4), step_mm=0.3))
    span = max(net.spans, key=lambda s: len(s.nodes))
    way = way_along(net.axis, span)
    even = np.linspace(0.0, way[-1], 9)
    for node in range(len(way)):
        peak = np.where(np.arange(len(way)) == node, 3.0, 0.0)
        seen = np.flatnonzero(_peaks(net, span, peak, even) == 3.0)
        assert even[seen[0]] <= way[node] <= even[seen[-1]] and len(seen) == 2


def test_a_span_of_one_place_has_its_neck_there() -> None:
    assert _minima([2.0]) == [(0, 0, 0)]
    assert _minima([9.0, 2.0, 9.0]) == [(0, 1, 2)]


def test_openings_of_a_thickened_piece_are_the_holes_of_its_new_shape() -> None:
    """Two openings 1 mm apart, and one far off that keeps its size."""
    holes = [box(10, 10, 39.5, 40), box(40.5, 10, 70, 40), box(85, 10, 95, 20)]
    old = pattern_of((box(0, 0, 105, 50), holes, None))
    done = thicken(old, tables.material("mdf"), 6.0, tables.blade("3"), wanted_mm=3.0)
    (piece,) = done.pattern.pieces
    assert done.changes and [o.number for o in piece.openings] == [1, 2, 3]
    inner = [Polygon(ring) for ring in piece.shape.interiors]
    for opening, hole in zip(piece.openings, holes, strict=True):
        assert sum(opening.ring.equals(ring) for ring in inner) == 1
        assert opening.ring.intersection(hole).area > 0.8 * opening.ring.area
    assert piece.openings[0].ring.area < holes[0].area - 5.0
