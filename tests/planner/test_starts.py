"""Starts, directions, leads and pins."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from companion.pattern.model import Pattern
from companion.planner.pins import unknown
from companion.planner.places import lateness
from companion.planner.project import Pin
from companion.planner.starts import DIRECTIONS, Entry
from companion.words import ENGLISH
from tests.planner.drawn import disc, panel, pattern_of, patterns, plan, regular, star


def heading_at_start(e: Entry) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    d = np.array(e.line_mm[1]) - np.array(e.line_mm[0])
    return np.asarray(d / np.hypot(*d))


@given(patterns())
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_the_line_is_the_whole_contour_in_travel_order(pattern: Pattern) -> None:
    p = plan(pattern)
    for c, e in zip(p.every, p.entries, strict=True):
        assert e.line_mm[0] == e.line_mm[-1] == e.start_mm == e.lead_mm[-1]
        assert e.lead_mm[0] == e.hole_mm
        ring = shapely.LinearRing(e.line_mm)
        assert ring.is_ccw == (e.direction == "clockwise"), "y runs down"
        assert ring.length == pytest.approx(c.ring.exterior.length)
        assert ring.hausdorff_distance(c.ring.exterior) < 1e-6
        at = shapely.line_interpolate_point(c.ring.exterior, e.start_arc_mm)
        assert at.distance(Point(e.start_mm)) < 1e-6


@given(patterns())
@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_the_same_pattern_gives_the_same_entries(pattern: Pattern) -> None:
    assert plan(pattern).entries == plan(pattern).entries


def test_a_start_is_straight_or_a_corner_never_on_the_curve() -> None:
    """A pill and a letter-like D: half of each outline is curve."""
    pill = LineString([(20, 30), (50, 30)]).buffer(8, quad_segs=32)
    half = joined_d()
    for shape in (pill, half):
        assert isinstance(shape, Polygon)
        p = plan(pattern_of((box(0, 0, 80, 60), [shape], None)))
        start = Point(p.entries[0].start_mm)
        line = p.every[0].ring.exterior
        straight = [
            LineString([a, b])
            for a, b in zip(line.coords, line.coords[1:], strict=False)
            if Point(a).distance(Point(b)) > 5.0
        ]
        assert min(s.distance(start) for s in straight) < 1.6, "on or just beside a straight side"


def joined_d() -> Polygon:
    """A straight side of 30 mm and a bow."""
    angle = np.linspace(-np.pi / 2, np.pi / 2, 60)
    return Polygon(np.stack([30 + 15 * np.cos(angle), 30 + 15 * np.sin(angle)], axis=1))


def test_a_start_has_thick_wood_behind_it() -> None:
    """Two square openings 2 mm apart: neither starts at the thin bridge."""
    left, right = box(10, 10, 29, 40), box(31, 10, 50, 40)
    p = plan(pattern_of((box(0, 0, 60, 50), [left, right], None)))
    for e in p.entries[:2]:
        assert abs(e.start_mm[0] - p.shift[0] - 30) > 5.0


def test_the_delicate_side_is_cut_early() -> None:
    """One long side of the slot runs along a 1.5 mm strip: it is done in the first half."""
    slot = box(20, 1.5, 60, 9)
    p = plan(pattern_of((box(0, 0, 80, 40), [slot], None)))
    e = p.entries[0]
    line = np.array(e.line_mm)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    thin = [a for a, y in zip(along, line[:, 1], strict=True) if abs(y - p.shift[1] - 1.5) < 1e-6]
    middle = (min(thin) + max(thin)) / 2 if max(thin) - min(thin) <= 41 else None
    assert middle is not None and middle < along[-1] / 2


@pytest.mark.parametrize(("x", "way"), [(20.0, "clockwise"), (60.0, "anticlockwise")])
def test_from_a_pinned_corner_the_delicate_side_comes_first(x: float, way: str) -> None:
    """The strip of 1.5 mm above the slot, from either end of it."""
    pin = Pin(opening=1, start_mm=(15.0 + x, 15.0 + 1.5))
    p = plan(pattern_of((box(0, 0, 80, 40), [box(20, 1.5, 60, 9)], None)), pins=(pin,))
    assert p.findings == () and p.entries[0].start_mm == pytest.approx(pin.start_mm)
    assert p.entries[0].direction == way


def test_lateness_is_one_minus_itself_the_other_way_round() -> None:
    rng = np.random.default_rng(5)
    arc, weight = np.sort(rng.uniform(0, 100, 50)), rng.uniform(0, 1, 50)
    starts = rng.uniform(0, 100, 20)
    there = lateness(starts, arc, weight, 100.0)
    for s, got in zip(starts, there, strict=True):
        want = float((weight * np.mod(arc - s, 100.0)).sum() / weight.sum() / 100.0)
        assert got == pytest.approx(want, abs=1e-9)


def test_a_lead_into_a_straight_side_merges_at_45_degrees() -> None:
    p = plan(pattern_of((box(0, 0, 120, 120), [disc(45, (60, 60), 180)], None)))
    e = p.entries[0]
    lead = np.array(e.lead_mm[1]) - np.array(e.lead_mm[0])
    angle = np.degrees(np.arccos(heading_at_start(e) @ lead / np.hypot(*lead)))
    assert angle == pytest.approx(45.0, abs=3.0)


def test_a_start_at_a_point_of_the_piece_leaves_on_the_lead() -> None:
    """A plain plaque is entered on the drawn-out line of one side: no turn at the start."""
    p = plan(pattern_of((box(0, 0, 80, 50), [], None)))
    e = p.entries[0]
    lead = np.array(e.lead_mm[1]) - np.array(e.lead_mm[0])
    assert heading_at_start(e) @ lead / np.hypot(*lead) == pytest.approx(1.0, abs=1e-6)


# ------------------------------------------------------------------------ pins


def test_a_pin_on_the_line_is_kept_with_its_direction() -> None:
    pattern = panel(2, 30.0, 9.0)
    for direction in DIRECTIONS:
        at = (15.0 + 15.0 + 9.0, 15.0 + 15.0)
        pin = Pin(opening=1, start_mm=at, direction=direction)
        p = plan(pattern, pins=(pin,))
        assert p.findings == ()
        assert Point(p.entries[0].start_mm).distance(Point(at)) < 0.05
        assert p.entries[0].direction == direction
        others = plan(pattern)
        assert p.entries[1:] == others.entries[1:], "only the pinned cut changes"


def test_a_pin_for_the_outline_and_one_for_direction_alone() -> None:
    pattern = pattern_of((box(0, 0, 60, 40), [], None))
    p = plan(pattern, pins=(Pin(piece=1, start_mm=(45.0, 15.4)),))
    assert p.findings == () and Point(p.entries[0].start_mm).distance(Point(45, 15)) < 1e-6
    for direction in DIRECTIONS:
        pin = Pin(piece=1, direction=direction)
        assert plan(pattern, pins=(pin,)).entries[0].direction == direction


def test_a_pin_is_for_the_piece_it_names_and_one_that_names_none_is_told() -> None:
    """Two plaques; of three pins the last names a piece and the second an opening too many."""
    pattern = pattern_of((box(0, 0, 40, 40), [], None), (box(60, 0, 90, 40), [], None))
    p = plan(pattern)
    wanted = DIRECTIONS[1 - DIRECTIONS.index(p.entries[1].direction)]
    pins = (Pin(piece=2, direction=wanted), Pin(opening=5), Pin(piece=3))
    pinned = plan(pattern, pins=pins[:1])
    assert [e.direction for e in pinned.entries] == [p.entries[0].direction, wanted]
    told = unknown(pins, p.every, ENGLISH)
    assert ["opening 5" in told[0].text, "piece 3" in told[1].text] == [True, True]
    assert len(told) == 2


def test_a_pin_beside_a_corner_means_the_corner() -> None:
    p = plan(
        pattern_of((box(0, 0, 60, 60), [box(10, 10, 50, 50)], None)),
        pins=(Pin(opening=1, start_mm=(25.6, 25.0)),),
    )
    assert p.entries[0].start_mm == pytest.approx((25.0, 25.0))


def test_a_pin_off_the_line_or_without_room_is_refused_with_the_reason() -> None:
    pattern = pattern_of((box(0, 0, 60, 60), [star(5, 20, 9, (30, 30))], None))
    off = plan(pattern, pins=(Pin(opening=1, start_mm=(45.0, 45.0)),))
    assert [f.code for f in off.findings] == ["pin-refused"]
    assert "mm from the line" in off.findings[0].text
    assert off.entries == plan(pattern).entries
    slit = joined_slit()
    tight = plan(
        pattern_of((box(0, 0, 60, 60), [slit], None)),
        pins=(Pin(opening=1, start_mm=(15.0 + 45.0, 15.0 + 29.8)),),
    )
    assert [f.code for f in tight.findings] == ["pin-refused"]
    assert "no hole fits" in tight.findings[0].text
    assert tight.entries[0].drill is not None, "it is planned all the same"


def joined_slit() -> Polygon:
    """A round bay with a slit 0.4 mm wide running out of it."""
    both = disc(5, (15, 30)).union(box(15, 29.8, 50, 30.2))
    assert isinstance(both, Polygon)
    return both


@pytest.mark.parametrize("turn", [0.0, 23.0, 90.0])
def test_starts_do_not_depend_on_how_the_pattern_lies(turn: float) -> None:
    """An uneven opening: its best start is one place, wherever the drawing points."""
    shape = Polygon([(20, 20), (60, 22), (62, 50), (40, 44), (24, 52)])
    plain = plan(pattern_of((regular(8, 60, (40, 35)), [shape], None)))
    outer = affinity.rotate(regular(8, 60, (40, 35)), turn, origin=(40, 35))
    inner = affinity.rotate(shape, turn, origin=(40, 35))
    assert isinstance(outer, Polygon) and isinstance(inner, Polygon)
    turned = plan(pattern_of((outer, [inner], None)))
    assert turned.entries[0].start_arc_mm == pytest.approx(plain.entries[0].start_arc_mm, abs=0.01)
    assert turned.entries[0].direction == plain.entries[0].direction
