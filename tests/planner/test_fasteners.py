"""Pins through a stack: in the frame, clear of every cut."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import shapely
from hypothesis import given, settings
from shapely.geometry import LineString, Point, Polygon, box

from companion.pattern.model import Pattern
from companion.planner.fasteners import fasteners
from companion.planner.make import make_plan
from companion.planner.plan import Board, Plan
from companion.planner.project import ProjectSpec
from companion.shop import tables
from companion.shop.settings import default_settings
from tests.planner.drawn import disc, panel, pattern_of, patterns

CLEAR = tables.limit("fastener-clearance").value


def planned(pattern: Pattern, stack: int = 2, margin: float = 15.0) -> Plan:
    spec = ProjectSpec("test", Path("."), Path("x.svg"), stack=stack, margin_mm=margin)
    return make_plan(spec, pattern, default_settings())


def check_clear(plan: Plan) -> None:
    """Brute force: every pin in the waste outside all pieces, clear of lines, holes, leads."""
    tops = [Polygon(c.line_mm) for c in plan.cuts if c.within is None]
    lines = [LineString(c.line_mm) for c in plan.cuts]
    leads = [LineString(c.lead_mm) for c in plan.cuts]
    board = box(0, 0, plan.board.width_mm, plan.board.height_mm)
    for place in plan.fasteners_mm:
        at = Point(place)
        assert board.exterior.distance(at) >= CLEAR - 0.02 and board.contains(at)
        assert not any(t.contains(at) for t in tops)
        assert min(line.distance(at) for line in lines) >= CLEAR - 0.1
        assert min(lead.distance(at) for lead in leads) >= CLEAR - 0.1
        for hole in plan.holes:
            assert math.dist(hole.at_mm, place) >= CLEAR + hole.drill_mm / 2 - 0.1


def test_a_panel_gets_pins_around_it() -> None:
    plan = planned(panel(2, 60.0, 20.0))
    assert len(plan.fasteners_mm) >= 4
    check_clear(plan)
    # spread: a pin in every quarter of the board
    middle = (plan.board.width_mm / 2, plan.board.height_mm / 2)
    quarters = {(x < middle[0], y < middle[1]) for x, y in plan.fasteners_mm}
    assert len(quarters) == 4


@settings(max_examples=12, deadline=None)
@given(patterns(most=2))
def test_pins_are_clear_on_any_pattern(pattern: Pattern) -> None:
    check_clear(planned(pattern))


def test_a_single_board_needs_none_and_a_tight_margin_takes_tape() -> None:
    one = pattern_of((disc(30.0), [], None))
    assert planned(one, stack=1).fasteners_mm == ()
    board = Board("mdf", 6.0, 2, 60.0, 60.0)
    pins, found = fasteners(board, [box(2, 2, 58, 58)], (), ())
    assert pins == ()
    assert [f.code for f in found] == ["stack-by-tape"]
    assert "tape" in found[0].remedy


def test_waste_inside_a_piece_is_never_used() -> None:
    ring = pattern_of((disc(80.0), [disc(70.0)], None))
    plan = planned(ring, margin=6.0)
    outline = shapely.Polygon(plan.cuts[-1].line_mm)
    assert not any(outline.contains(Point(p)) for p in plan.fasteners_mm)


def test_the_places_do_not_depend_on_anything_but_the_plan() -> None:
    first, second = (planned(panel(2, 40.0, 12.0)).fasteners_mm for _ in range(2))
    assert first == second
    spec = replace(ProjectSpec("other", Path("."), Path("y.svg"), stack=2))
    assert make_plan(spec, panel(2, 40.0, 12.0), default_settings()).fasteners_mm == first
