"""What hangs behind a bridge of wood, where a tip ends, how far a board's middle is off."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from companion.planner import section
from companion.planner.axis import medial_axis
from companion.planner.necks import _usable, valleys, way_along
from companion.planner.network import network
from companion.planner.numbers import cut_of, cut_of_opening, numbered
from companion.planner.overhang import overhang
from companion.planner.plan import Board
from companion.planner.section import outermost
from companion.planner.snap import ring_snaps
from companion.planner.weak import _between_cuts, weak_places
from companion.shop import tables
from companion.shop.settings import default_settings
from companion.words import ENGLISH
from tests.planner.drawn import disc, pattern_of, plan
from tests.planner.test_reach import PLANNED_CUT


@pytest.mark.parametrize("hole", [5.0, 8.0])
def test_all_the_wood_behind_a_bridge_hangs_on_it(hole: float) -> None:
    """A body, a bar of 4 x 20 mm, and at its end a ring: areas of plane geometry."""
    middle = Point(84, 20)
    far = middle.buffer(12, quad_segs=32).difference(middle.buffer(hole, quad_segs=32))
    shape = shapely.union_all([box(0, 0, 50, 40), box(49, 18, 73, 22), far])
    assert isinstance(shape, Polygon)
    net = network(medial_axis(shape))
    bridges = [s for s in net.spans if s.bridge]
    areas = [net.area(net.hanging(s.lower)) for s in bridges]
    want = math.pi * (12.0**2 - hole**2)
    # the ring's own node lies where the bar meets it: some of the bar may be counted with it
    assert any(want * 0.93 <= a <= want + 25 * 4.0 for a in areas)
    assert net.area_before[-1] == pytest.approx(shape.area, rel=0.03)


def test_the_least_force_on_a_bar_between_two_openings_acts_on_the_bar() -> None:
    """A bar of 3 x 40 mm breaks by a push at its middle; no push acts in the air."""
    bar = box(68.5, 10, 71.5, 50)
    plate = box(0, 0, 100, 60).difference(box(10, 10, 90, 50)).union(bar)
    assert isinstance(plate, Polygon)
    net = network(medial_axis(plate))
    snaps = ring_snaps(net, valleys(net, 3.0), section.Board(tables.material("mdf"), 6.0, 2.6))
    pushes = [Point(s.push_at_mm) for s in snaps if s.push_at_mm is not None]
    assert len(pushes) >= 3 and all(plate.distance(p) < 0.1 for p in pushes)
    (on_bar,) = [p for p in pushes if bar.distance(p) < 0.1]
    assert on_bar.y == pytest.approx(30.0, abs=2.0)


@pytest.mark.parametrize(("across", "down"), [(1, 1), (-1, 1), (1, -1)])
def test_a_frame_is_broken_most_easily_by_a_push_at_its_corner(across: int, down: int) -> None:
    """The farthest lever, whichever way the drawing lies."""
    plate = box(0, 0, 160, 60).difference(box(10, 10, 150, 50)).union(box(72, 10, 88, 50))
    turned = affinity.scale(plate, across, down)
    assert isinstance(turned, Polygon)
    net = network(medial_axis(turned))
    snaps = ring_snaps(net, valleys(net, 3.0), section.Board(tables.material("mdf"), 6.0, 2.6))
    least = min((s for s in snaps if s.force_n is not None), key=lambda s: s.force_n or 0.0)
    assert least.push_at_mm is not None
    corners = [(x, y) for x in (0.0, 160.0) for y in (0.0, 60.0)]
    assert min(math.dist(least.push_at_mm, c) for c in corners) < 0.5


@pytest.mark.parametrize("apart", [0.2, 0.6, 1.0, 2.0])
def test_bars_that_meet_a_ring_close_together_leave_it_as_strong(apart: float) -> None:
    """Between them lies a stretch too short for a force; those beside it bear theirs still."""
    ring = Point(0, 0).buffer(30, quad_segs=32).difference(Point(3, 0).buffer(22, quad_segs=32))
    out, inward = box(-0.6, 25, 0.6, 36), box(apart - 0.6, 16, apart + 0.6, 25)
    forces = []
    for shape in (ring, shapely.union_all([ring, out, inward])):
        assert isinstance(shape, Polygon)
        net = network(medial_axis(shape, step_mm=0.5))
        found = [v for v in valleys(net, 3.0) if not v.span.bridge]
        snaps = ring_snaps(net, found, section.Board(tables.material("mdf"), 6.0, 2.6))
        forces.append(min(s.force_n for s in snaps if s.force_n is not None))
    assert forces[1] == pytest.approx(forces[0], rel=0.1)


@pytest.mark.parametrize("width", [2.0, 4.0])
def test_a_tip_is_measured_from_its_very_end(width: float) -> None:
    """A strip, whose places lie as far from its end as they say: half its width beyond the axis."""
    axis = medial_axis(box(0, 0, 80, width), step_mm=0.2)
    tip, seen = 5.0, 0
    for some in network(axis).spans:
        low, high = _usable(axis, some, tip)
        x = axis.xy[some.nodes][:, 0]
        end = np.minimum(x, 80.0 - x)
        thick = axis.thickness[some.nodes]
        needed = np.maximum(tip, 1.5 * thick)
        step = np.diff(way_along(axis, some)).max()
        for k, at_end in ((0, low), (len(x) - 1, high)):
            if axis.degree[some.nodes[k]] == 1:
                assert 0 <= at_end < len(x)
                assert end[at_end] >= needed[at_end] - 0.05
                assert end[at_end] <= needed[at_end] + step + 0.05
                seen += step < 0.25 * width
    assert seen >= 2


@given(
    st.tuples(st.floats(20, 480), st.floats(20, 280)),
    st.tuples(st.floats(20, 480), st.floats(20, 280)),
)
@settings(max_examples=60, deadline=None, derandomize=True)
def test_the_middle_is_as_far_aside_as_it_is_from_the_line_drawn_on(
    a: tuple[float, float], b: tuple[float, float]
) -> None:
    """A table too long to matter: only the distance to the straight line through the cut counts."""
    if math.dist(a, b) < 5.0:
        return
    saw = replace(default_settings().saw, table_length_mm=4000.0, table_width_mm=30.0)
    cut = replace(PLANNED_CUT, line_mm=(a, b))
    u = (np.array(b) - a) / math.dist(a, b) * 2000.0
    off = LineString([np.array(a) - u, np.array(b) + u]).distance(Point(250, 150)) - 15.0
    found = overhang(Board("mdf", 6.0, 1, 500.0, 300.0), [cut], saw, ENGLISH)
    assert [f.size_mm for f in found] == ([pytest.approx(off, abs=1e-6)] if found else [])
    assert bool(found) or off <= 1e-6


def test_every_contour_is_named_by_its_own_cut() -> None:
    p = plan(pattern_of((box(0, 0, 90, 40), [disc(8, (20, 20)), disc(8, (60, 20))], None)))
    assert [cut_of(c) for c in p.every[:2]] == [cut_of_opening(1), cut_of_opening(2)]
    names = {cut_of(c) for c in p.every}
    assert len(names) == len(p.every) and numbered([], []) == []


@pytest.mark.parametrize("place", [(20.0, 20.0), (60.0, 15.0), (10.0, 90.0), (30.0, 140.0)])
def test_the_corner_that_swings_farthest_is_told_with_its_distance(
    place: tuple[float, float],
) -> None:
    """From any point of the piece to any corner of the board, straight."""
    board = (340.0, 260.0)
    shape = Polygon([(0, 0), (180, 20), (150, 100), (30, 110)])
    pattern = pattern_of((shape, [], None))
    saw = replace(default_settings().saw, throat_mm=150.0, margin_mm=10.0)
    mdf, blade = tables.material("mdf"), tables.blade("3")
    result = weak_places(pattern, mdf, 6.0, blade, board_mm=board, place_mm=place, saw=saw)
    (found,) = [f for f in result.findings if f.code == "board-over-throat"]
    corners = [(x, y) for x in (0.0, board[0]) for y in (0.0, board[1])]
    want = max(
        math.dist((x + place[0], y + place[1]), c)
        for x, y in shape.exterior.coords
        for c in corners
    )
    assert found.size_mm == pytest.approx(want) and found.at_mm in list(shape.exterior.coords)


@pytest.mark.parametrize("count", [3, 150, 400])
@pytest.mark.parametrize("flat", [False, True])
def test_the_outermost_places_are_as_far_out_any_way_as_all_of_them(count: int, flat: bool) -> None:
    """Few or many, in a cloud or all in one line, where there is no hull."""
    points = np.random.default_rng(count).normal(0.0, 10.0, (count, 2))
    if flat:
        points[:, 1] = 0.5 * points[:, 0]
    found = outermost(points)
    assert len(found) <= len(points)
    for angle in np.radians(range(0, 360, 15)):
        u = np.array([math.cos(angle), math.sin(angle)])
        assert (found @ u).max() == pytest.approx((points @ u).max())


def test_a_neck_lies_between_cuts_when_its_walls_are_of_two_rings() -> None:
    """In a plate with two openings: between them, beside the edge, and within one outline."""
    plate = box(0, 0, 80, 40).difference(box(10, 10, 39, 30)).difference(box(41, 10, 70, 30))
    assert isinstance(plate, Polygon)
    axis = medial_axis(plate)
    assert _between_cuts(axis, (40.0, 20.0)) and _between_cuts(axis, (25.0, 5.0))
    bone = shapely.union_all([box(0, 0, 20, 20), box(20, 8, 40, 12), box(40, 0, 60, 20)])
    assert isinstance(bone, Polygon)
    assert not _between_cuts(medial_axis(bone), (30.0, 10.0))
    # a place beyond all walls has none across
    assert not _between_cuts(axis, (-30.0, 20.0))
