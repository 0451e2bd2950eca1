"""Holding places: on what comes free, solid, away from the blade."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPoint, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from companion.pattern.model import Pattern
from companion.planner.contours import frees
from companion.planner.holding import holding_places, last_stretch, too_small
from companion.planner.make import plan_project
from companion.planner.project import Overrides, load_project
from companion.planner.rules import HoldRules, rules_for
from companion.shop.settings import default_settings
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


def test_a_finger_presses_no_neck_and_keeps_away_from_one() -> None:
    """Two plates joined by a strip of 3 mm: the strip is the nearest wood to the cut's end."""
    joined = shapely.union_all([box(0, 0, 60, 50), box(60, 23.5, 90, 26.5), box(90, 0, 150, 50)])
    assert isinstance(joined, Polygon)
    p = plan(pattern_of((joined, [], None)))
    neck = (75.0 + p.shift[0], 25.0 + p.shift[1])
    places = holding_places(p.work, p.every[0], p.entries[0], FINGER, p.rules, [neck])
    assert places
    for at in places:
        assert Point(at).distance(Point(neck)) >= 4 * p.rules.hold.finger_radius_mm - 1e-6
    hoop = plan(pattern_of((disc(60, (60, 60)), [disc(55, (60, 60))], None)))
    k = next(i for i, c in enumerate(hoop.every) if c.side == "outside")
    c, e = hoop.every[k], hoop.entries[k]
    (first, *_) = holding_places(hoop.work, c, e, FINGER, hoop.rules)
    (other, *_) = holding_places(hoop.work, c, e, FINGER, hoop.rules, [first])
    assert Point(first).distance(Point(other)) >= hoop.rules.hold.finger_radius_mm


OUTSIDE = sorted((Path(__file__).parents[1] / "data" / "outside").rglob("*.svg"))[::12]


@pytest.mark.parametrize("drawing", OUTSIDE, ids=lambda p: p.stem)
def test_outside_drawings_are_held_by_a_fingertip_off_every_neck(drawing: Path) -> None:
    """Every 12th drawing, pieces 150 mm wide, from the plan alone.

    On wood as solid as a fingertip where that fits, far enough from the blade, and on no
    neck unless every stroke so far off is one.
    """
    finger = default_settings().finger_distance_mm
    made = plan_project(load_project(drawing, Overrides(width_mm=150.0)), default_settings())
    rules = rules_for(default_settings().skill).hold
    tip, lines = rules.finger_radius_mm, {c.number: Polygon(c.line_mm) for c in made.cuts}
    for cut in made.cuts:
        part = lines[cut.number].difference(shapely.union_all([lines[n] for n in cut.clip]))
        path, length = LineString(cut.line_mm), cut.length_mm
        end = substring(path, length * (1 - rules.last_share), length)
        assert isinstance(end, LineString)
        necks = MultiPoint([
            n.at_mm for n in made.necks
            if n.piece == cut.piece and n.thickness_mm < made.board.thickness_mm
        ])  # fmt: skip
        for at in cut.hold_mm:
            assert end.distance(Point(at)) >= finger - 1e-6
            held = part.intersection(Point(at).buffer(tip))
            assert held.area > 0.2 * math.pi * tip**2, "wood under the finger"
            if not part.covers(Point(at).buffer(0.9 * tip)):
                assert cut.side == "outside" and not roomy(part, end, finger, rules)
            if cut.side == "outside" and not necks.is_empty and necks.distance(Point(at)) < tip:
                sturdy = part.buffer(-1.2 * rules.slender_mm / 2)
                free = sturdy.difference(end.buffer(1.2 * finger)).difference(
                    necks.buffer(1.5 * tip)
                )
                assert free.area < tip**2, "another place there is"


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
