"""Which of several allowed holding places is chosen (own choice, no source)."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon, box

from companion.planner.holding import holding_places, last_stretch
from companion.planner.project import Pin
from tests.planner.drawn import pattern_of, plan

FINGER = 25.0


def test_wood_broader_than_three_fingertips_draws_no_finger_away() -> None:
    """A strip 32 mm broad where the cut ends, a broad plate 80 mm farther on."""
    tips = 3 * plan(pattern_of((box(0, 0, 30, 30), [], None))).rules.hold.finger_radius_mm
    strip = 2 * tips + 2.0
    both = shapely.union_all([box(0, 0, 120, strip), box(120, -80, 280, strip + 80)])
    assert isinstance(both, Polygon)
    p = plan(pattern_of((both, [], None)), pins=(Pin(piece=1, start_mm=(15.0, 111.0)),))
    (entry,) = p.entries
    assert entry.start_mm[0] < 25.0
    first = holding_places(p.work, p.every[0], entry, FINGER, p.rules)[0]
    end = LineString(last_stretch(entry, p.rules.hold.last_share))
    assert FINGER <= end.distance(Point(first)) < FINGER + 10.0


def test_the_second_finger_is_far_from_the_first() -> None:
    """A plaque of 400 mm: turned under one finger it is held best by its ends."""
    p = plan(pattern_of((box(0, 0, 400, 40), [], None)))
    one, other = holding_places(p.work, p.every[0], p.entries[0], FINGER, p.rules)
    assert Point(one).distance(Point(other)) > 200.0


def test_where_every_place_is_near_a_neck_the_fingers_hold_as_if_there_were_none() -> None:
    p = plan(pattern_of((box(0, 0, 400, 40), [], None)))
    width, height = p.size_mm
    necks = [(x, y) for x in np.arange(0.0, width, 3.0) for y in np.arange(0.0, height, 3.0)]
    plain = holding_places(p.work, p.every[0], p.entries[0], FINGER, p.rules)
    found = holding_places(p.work, p.every[0], p.entries[0], FINGER, p.rules, necks)
    assert len(found) == len(plain) == 2
    for one, other in zip(found, plain, strict=True):
        assert Point(one).distance(Point(other)) < 5.0


def test_no_second_finger_presses_on_what_is_less_than_half_as_firm() -> None:
    """A plate of 60 mm and a tongue of 200 x 14 mm: broad enough for a fingertip, and far off."""
    both = shapely.union_all([box(0, 0, 60, 60), box(59, 23, 260, 37)])
    assert isinstance(both, Polygon)
    p = plan(pattern_of((both, [], None)))
    places = holding_places(p.work, p.every[0], p.entries[0], FINGER, p.rules)
    assert p.rules.hold.finger_radius_mm < 7.0
    assert len(places) == 2 and all(x - p.shift[0] < 60.0 for x, _ in places)


def test_a_finger_goes_away_from_a_neck_that_it_would_not_press() -> None:
    """A neck 8 mm beside the place it had: not under the finger, yet the finger moves off."""
    p = plan(pattern_of((box(0, 0, 150, 90), [], None)))
    before = holding_places(p.work, p.every[0], p.entries[0], FINGER, p.rules)[0]
    for neck in ((before[0] + 8.0, before[1]), (before[0], before[1] - 8.0)):
        after = holding_places(p.work, p.every[0], p.entries[0], FINGER, p.rules, [neck])[0]
        assert Point(after).distance(Point(neck)) > 12.0
