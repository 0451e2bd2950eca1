"""Holding places: on what comes free, solid, away from the blade."""

from __future__ import annotations

import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, box
from shapely.geometry.base import BaseGeometry

from companion.pattern.model import Pattern
from companion.planner.contours import frees
from companion.planner.holding import holding_places, last_stretch, too_small
from companion.planner.rules import HoldRules
from tests.planner.drawn import disc, panel, pattern_of, patterns, plan

FINGER = 25.0


def roomy(part: BaseGeometry, end: LineString, finger: float, rules: HoldRules) -> bool:
    """Whether wood as solid as a fingertip lies clearly at the finger's distance."""
    solid = part.buffer(-1.2 * rules.finger_radius_mm)
    return bool(solid.difference(end.buffer(1.2 * finger)).area > 0.5 * rules.finger_radius_mm**2)


@given(patterns(), st.floats(8.0, 60.0))
@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_places_are_on_the_freed_part_and_away_from_the_blade(
    pattern: Pattern, finger: float
) -> None:
    p = plan(pattern)
    rules = p.rules.hold
    for c, e in zip(p.every, p.entries, strict=True):
        places = holding_places(p.work, c, e, finger, p.rules)
        assert len(places) <= 2
        part = frees(c, p.every)
        end = LineString(last_stretch(e, rules.last_share))
        for at in places:
            assert end.distance(Point(at)) >= finger - 1e-9
            stroke = part.covers(Point(at).buffer(0.9 * rules.slender_mm / 2))
            tip = part.covers(Point(at).buffer(0.9 * rules.finger_radius_mm))
            # a stroke will do for a piece alone, and only where no fingertip fits that far off
            assert tip or (stroke and c.side == "outside" and not roomy(part, end, finger, rules))
        if len(places) == 2:
            assert Point(places[0]).distance(Point(places[1])) >= finger


def test_the_last_stretch_is_the_last_tenth() -> None:
    p = plan(pattern_of((box(0, 0, 100, 50), [], None)))
    e = p.entries[0]
    end = LineString(last_stretch(e, 0.1))
    assert abs(end.length - 30.0) < 1e-9
    assert end.coords[-1] == e.start_mm


def test_a_plaque_is_held_in_two_places() -> None:
    p = plan(pattern_of((box(0, 0, 150, 90), [], None)))
    assert len(holding_places(p.work, p.every[0], p.entries[0], FINGER, p.rules)) == 2


def test_a_large_but_slender_piece_is_pressed_flat_on_a_stroke() -> None:
    hoop = plan(pattern_of((disc(60, (60, 60)), [disc(56, (60, 60))], None)))
    k = next(i for i, c in enumerate(hoop.every) if c.side == "outside")
    c, e, rules = hoop.every[k], hoop.entries[k], hoop.rules.hold
    places = holding_places(hoop.work, c, e, FINGER, hoop.rules)
    assert places
    end = LineString(last_stretch(e, rules.last_share))
    for at in places:
        assert end.distance(Point(at)) >= FINGER
        assert frees(c, hoop.every).covers(Point(at).buffer(0.45 * rules.slender_mm))
    wire = plan(pattern_of((disc(60, (60, 60)), [disc(58.9, (60, 60))], None)))
    k = next(i for i, c in enumerate(wire.every) if c.side == "outside")
    assert holding_places(wire.work, wire.every[k], wire.entries[k], FINGER, wire.rules) == ()


def test_the_waste_of_a_large_opening_can_be_held() -> None:
    p = plan(pattern_of((box(0, 0, 150, 150), [disc(50, (75, 75))], None)))
    places = holding_places(p.work, p.every[0], p.entries[0], FINGER, p.rules)
    assert places and all(p.every[0].ring.contains(Point(at)) for at in places)


def test_small_waste_and_small_pieces_are_never_pinched() -> None:
    p = plan(panel(2, 20.0, 6.0))
    assert holding_places(p.work, p.every[0], p.entries[0], FINGER, p.rules) == ()
    small = plan(pattern_of((disc(9, (9, 9)), [], None)))
    assert holding_places(small.work, small.every[0], small.entries[0], FINGER, small.rules) == ()
    finding = too_small(small.every[0], FINGER)
    assert finding.code == "hold-too-small" and "25 mm" in finding.text
    assert finding.at_mm is not None
    assert shapely.Point(finding.at_mm).within(small.every[0].ring)
