"""The tree of contours: nesting, precedence, what comes free, where waste is."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from shapely.geometry import Polygon, box

from companion.pattern.model import Pattern
from companion.planner.contours import Rooms, contours, frees, precedence
from tests.planner.drawn import disc, panel, pattern_of, patterns


def nested() -> Pattern:
    """A plaque, a round opening, a ring in it, a square opening in the ring."""
    return pattern_of(
        (box(0, 0, 100, 100), [disc(40, (50, 50))], None),
        (disc(30, (50, 50)), [box(40, 40, 60, 60)], 1),
    )


def test_parents_follow_the_nesting() -> None:
    every = contours(nested())
    sides = [(c.side, c.piece, c.opening, c.parent) for c in every]
    assert sides == [
        ("inside", 1, 1, 1), ("outside", 1, None, None),
        ("inside", 2, 2, 3), ("outside", 2, None, 0),
    ]  # fmt: skip
    assert [c.children for c in every] == [(3,), (0,), (), (2,)]


def test_precedence_is_inner_before_outer() -> None:
    assert set(precedence(contours(nested()))) == {(3, 0), (0, 1), (2, 3)}


def test_what_comes_free_adds_up_to_the_outline() -> None:
    """Every part of the filled outline comes free with exactly one cut."""
    every = contours(nested())
    assert sum(frees(c, every).area for c in every) == pytest.approx(100 * 100)


def test_rings_are_shifted_and_clockwise_on_the_board() -> None:
    every = contours(nested(), (7.0, -3.0))
    assert every[1].ring.bounds == (7.0, -3.0, 107.0, 97.0)
    for c in every:
        x, y = c.ring.exterior.xy
        area = sum(x[i] * y[i + 1] - x[i + 1] * y[i] for i in range(len(x) - 1)) / 2
        assert area > 0.0, "with y down a positive area runs clockwise"


def test_room_of_an_outline_is_the_margin_without_the_neighbours() -> None:
    two = pattern_of((box(0, 0, 20, 20), [], None), (box(30, 0, 50, 20), [], None))
    every = contours(two, (10.0, 10.0))
    room = Rooms(every, 70.0, 40.0).of(every[0])
    assert room.area == pytest.approx(70 * 40 - 2 * 400)
    assert not room.contains(box(41, 11, 42, 12))


def test_room_of_a_nested_piece_is_the_opening_around_it() -> None:
    every = contours(nested())
    rooms = Rooms(every, 120.0, 120.0)
    assert rooms.of(every[3]).equals(rooms.of(every[0]))
    assert rooms.of(every[3]).area == pytest.approx(every[0].ring.area - every[3].ring.area)


@given(patterns())
@settings(max_examples=30, deadline=None)
def test_every_opening_and_piece_is_one_contour_and_waste_is_complete(pattern: Pattern) -> None:
    every = contours(pattern)
    assert sorted(c.opening for c in every if c.opening is not None) == [
        o.number for o in pattern.openings
    ]
    assert sum(c.side == "outside" for c in every) == len(pattern.pieces)
    kept = sum(frees(c, every).area for c in every if c.side == "outside")
    assert kept == pytest.approx(pattern.kept_area_mm2)
    for before, after in precedence(every):
        assert every[after].ring.buffer(1e-6).contains(every[before].ring)


def test_a_large_panel_keeps_its_numbers() -> None:
    every = contours(panel(12, 20.0, 6.0))
    assert [c.opening for c in every[:-1]] == list(range(1, 145))
    assert isinstance(every[-1].ring, Polygon) and every[-1].children == tuple(range(144))
