"""Pins through a stack: in the frame, clear of every cut."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from shapely.geometry import LineString, Point, Polygon, box

from companion.pattern.model import Pattern
from companion.planner.fasteners import fasteners
from companion.planner.make import make_plan, plan_project
from companion.planner.plan import Board, Hole, Plan
from companion.planner.project import Overrides, ProjectSpec, load_project
from companion.planner.rules import rules_for
from companion.planner.turns import loop_path, loop_radii
from companion.shop import tables
from companion.shop.settings import default_settings
from tests.planner.drawn import disc, panel, pattern_of, patterns
from tests.planner.test_reach import PLANNED_CUT

PRACTISED = replace(default_settings(), skill="practised")
CLEAR = tables.limit("fastener-clearance").value


def planned(pattern: Pattern, stack: int = 2, margin: float = 15.0) -> Plan:
    spec = ProjectSpec("test", Path("."), Path("x.svg"), stack=stack, margin_mm=margin)
    return make_plan(spec, pattern, default_settings())


def loop_grounds(plan: Plan) -> list[Polygon]:
    """What the blade goes round at every loop: told from the plan alone, at its tightest.

    The circle that touches the line gone on along and the line come back along.
    """
    blade = tables.blade(plan.blade.number)
    radius = loop_radii(blade, rules_for("practised"))[-1]
    found = []
    for cut in plan.cuts:
        line = np.array(cut.line_mm)
        for turn in cut.turns:
            if turn.technique != "loop":
                continue
            k = int(np.argmin(np.hypot(*(line - turn.at_mm).T)))
            before, after = line[k] - line[k - 1 if k else -2], line[k + 1] - line[k]
            before, after = before / np.hypot(*before), after / np.hypot(*after)
            found.append(Polygon(loop_path(line[k], before, after, radius)))
    return found


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
        assert all(way.distance(at) >= CLEAR - 0.1 for way in loop_grounds(plan))
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


@pytest.mark.parametrize("blade", ["3", "5"])
def test_no_pin_stands_where_the_blade_loops(blade: str) -> None:
    """A comb of nine teeth: round each the blade loops far into the margin."""
    teeth = [(10.0 + 13.0 * k, 8.0 + 4.0 * (k % 2)) for k in range(10)]
    tips = [p for k, (x, y) in enumerate(teeth) for p in ((x, 60.0), (x + 6.5, y))][:-1]
    comb = Polygon([*tips, (teeth[-1][0], 70.0), (10.0, 70.0)])
    spec = ProjectSpec("test", Path("."), Path("x.svg"), stack=2, margin_mm=15.0, blade=blade)
    plan = make_plan(spec, pattern_of((comb, [], None)), PRACTISED)
    assert len(loop_grounds(plan)) >= 4 and plan.fasteners_mm
    check_clear(plan)


@pytest.mark.parametrize("name", ["words/lobster-bakery", "octicons/briefcase-24", "maki/landmark",
                                  "feather/aperture"])  # fmt: skip
def test_pins_keep_clear_of_the_loops_of_outside_drawings(name: str) -> None:
    drawing = Path(__file__).parents[1] / "data" / "outside" / f"{name}.svg"
    spec = load_project(drawing, Overrides(width_mm=160.0, stack=2))
    check_clear(plan_project(spec, PRACTISED))


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


@pytest.mark.parametrize(("margin", "inset"), [(20.0, 8.0), (15.0, 8.0), (9.0, CLEAR)])
def test_a_pin_keeps_off_the_edge_where_the_margin_has_room(margin: float, inset: float) -> None:
    plan = planned(pattern_of((box(0, 0, 150, 100), [], None)), margin=margin)
    check_clear(plan)
    edge = box(0, 0, plan.board.width_mm, plan.board.height_mm).exterior
    apart = [edge.distance(Point(p)) for p in plan.fasteners_mm]
    assert len(apart) >= 4 and min(apart) == pytest.approx(inset, abs=0.02)


@pytest.mark.parametrize("spare_mm", [-0.3, 0.3])
def test_a_pin_stands_beside_a_hole_where_its_clearance_ends(spare_mm: float) -> None:
    """A hole of 3 mm near to where the pin of the corner would stand."""
    board, edge = Board("mdf", 6.0, 2, 200.0, 200.0), tables.limit("fastener-edge").value
    inset = max(edge, CLEAR)
    hole = Hole(1, (inset + CLEAR + 1.5 + spare_mm, inset), 3.0, 1)
    cut = replace(PLANNED_CUT, side="outside", lead_mm=())
    pins, _ = fasteners(board, [Point(100, 100).buffer(5)], (cut,), (hole,))
    assert ((inset, inset) in pins) is (spare_mm > 0.0)


def test_a_pin_stands_in_every_corner_of_a_board_that_is_free_there() -> None:
    edge = max(tables.limit("fastener-edge").value, CLEAR)
    pins, _ = fasteners(Board("mdf", 6.0, 2, 300.0, 300.0), [Point(100, 150).buffer(30)], (), ())
    assert {(x, y) for x in (edge, 300.0 - edge) for y in (edge, 300.0 - edge)} <= set(pins)


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
