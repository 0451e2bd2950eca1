"""Loops: where they are preferred, and refused where the board meets the frame on the way."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Point, Polygon, box

from companion.planner.plan import Technique
from companion.planner.reach import reach_of
from companion.planner.turns import Ground, _holds_line, loop_radii, techniques
from companion.shop.model import SawProfile
from tests.planner.drawn import NO_3, pattern_of, plan, star
from tests.planner.test_reach import brute_worst
from tests.planner.test_turns import loop_of


def test_a_loop_is_refused_where_its_own_way_meets_the_frame_and_nowhere_else() -> None:
    """Every throat from none to enough, the board laid on the drawn saw all along each loop."""
    p = plan(pattern_of((star(6, 30, 20), [], None)), margin=25.0, skill="beginner")
    contour, open_ground = p.every[0], Ground(*p.size_mm)
    corners = reach_of(SawProfile(400.0, 50.0, 10.0, 0.0), *p.size_mm).corners_mm
    tips = [
        (k, c)
        for k, (c, how) in enumerate(techniques(p.work, contour, NO_3, p.rules, open_ground))
        if how == "loop"
    ]
    assert len(tips) == 6
    needs = {}
    for k, corner in tips:
        ways = [np.array(loop_of(p, contour, corner, r).coords) for r in loop_radii(NO_3, p.rules)]
        needs[k] = min(
            max(brute_worst(corners, way, 0.5) for way in (path, path[::-1])) for path in ways
        )
    seen = set()
    for throat in np.arange(90.0, 135.0, 1.5):
        ground = Ground(*p.size_mm, reach=reach_of(SawProfile(throat, 50.0, 10.0, 0.0), *p.size_mm))
        found = techniques(p.work, contour, NO_3, p.rules, ground)
        for k, need in needs.items():
            if abs(need - throat) > 0.3:
                assert (found[k][1] == "loop") == (need <= throat)
                seen.add(need <= throat)
    assert seen == {True, False}


@pytest.mark.parametrize(("inner", "wanted"), [(20.0, "loop"), (22.0, "spin")])
def test_past_its_angle_a_loop_is_preferred_to_a_spin_that_would_do(
    inner: float, wanted: Technique
) -> None:
    """Points of 103 and of 90 degrees; a practised hand may spin either."""
    p = plan(pattern_of((star(6, 30, inner), [], None)), margin=25.0)
    found = techniques(p.work, p.every[0], NO_3, p.rules, Ground(*p.size_mm))
    tips = [(abs(c.bend_deg), how) for c, how in found if c.waste_deg > 180.0]
    assert len(tips) == 6
    for bend, how in tips:
        assert how == wanted and bend <= p.rules.turn.spin_tip_deg
        assert (bend >= p.rules.turn.loop_deg) == (wanted == "loop")


@pytest.mark.parametrize(("gap", "wanted"), [(0.6, "back-out"), (3.0, "spin")])
def test_a_point_that_nearly_meets_another_piece_leaves_no_waste_to_spin_in(
    gap: float, wanted: Technique
) -> None:
    """A square on its point beside a plaque: the room counts on the side of the waste."""
    rhomb = Polygon([(0, 20), (20, 0), (40, 20), (20, 40)])
    p = plan(pattern_of((rhomb, [], None), (box(40 + gap, 0, 60, 40), [], None)))
    found = techniques(p.work, p.every[0], NO_3, p.rules, Ground(*p.size_mm))
    (how,) = [how for c, how in found if c.at_mm[0] - p.shift[0] > 39.0]
    assert how == wanted


@pytest.mark.parametrize("radius", [0.0, 0.5, 1.1])
def test_a_loop_goes_round_a_rounded_point_as_round_a_sharp_one(radius: float) -> None:
    """The rounding is longer than two widths of the blade in the last case."""
    shape = star(6, 30, 20).buffer(-radius).buffer(radius, quad_segs=12)
    assert isinstance(shape, Polygon)
    p = plan(pattern_of((shape, [], None)), margin=25.0, skill="beginner")
    found = techniques(p.work, p.every[0], NO_3, p.rules, Ground(*p.size_mm))
    tips = [(c, how) for c, how in found if c.waste_deg > 180.0]
    assert [how for _, how in tips] == ["loop"] * 6
    assert radius < 1.0 or all(c.span_mm > 2 * NO_3.width_mm for c, _ in tips)


@pytest.mark.parametrize(("at", "held"), [((38.0, 12.0), True), ((38.0, 30.0), False)])
def test_a_loop_that_goes_round_another_line_holds_it(at: tuple[float, float], held: bool) -> None:
    """A small piece beside a plaque: its line lies within the first way and not the second."""
    p = plan(pattern_of((box(0, 0, 30, 40), [], None), (box(37, 11, 39, 13), [], None)))
    path = np.array(Point(at).buffer(4.0).exterior.coords) + p.shift
    assert _holds_line(p.work, path, Polygon(path)) is held
