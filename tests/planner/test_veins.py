"""Veins: single kerfs with a hole at an end, cut before the piece is let go."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from shapely.geometry import LineString, Point, box

from companion.pattern.model import Pattern
from companion.planner.make import make_plan
from companion.planner.plan import POWERED_STAGES, Cut, Plan, plan_from_json
from companion.planner.project import ProjectSpec
from companion.planner.timing import cut_features, feed_amount, rates_for
from companion.session.announce import leg_of
from companion.shop import tables
from companion.shop.model import SawProfile
from companion.shop.settings import default_settings
from tests.planner.drawn import pattern_of

LEAF = box(0, 0, 100, 60)


def planned(*veins: list[tuple[float, float]], hole: bool = True) -> Plan:
    openings = [box(60, 20, 80, 40)] if hole else []
    pattern: Pattern = pattern_of((LEAF, openings, None), veins=tuple(LineString(v) for v in veins))
    return make_plan(ProjectSpec("leaf", Path("."), Path("x.svg")), pattern, default_settings())


def veins_of(plan: Plan) -> list[Cut]:
    return [c for c in plan.cuts if c.is_vein]


def test_a_vein_within_the_piece_gets_a_hole_at_an_end_and_says_that_it_shows() -> None:
    plan = planned([(20, 10), (35, 30), (20, 50)])
    (vein,) = veins_of(plan)
    hole = next(h for h in plan.holes if h.number == vein.hole)
    ends = [(35.0, 25.0), (35.0, 65.0)]  # margin 15
    assert min(math.dist(hole.at_mm, e) for e in ends) < 1e-9
    assert vein.line_mm[0] == vein.line_mm[-1] == hole.at_mm
    assert vein.length_mm == pytest.approx(2 * 50.0) and vein.sawn_mm == pytest.approx(50.0)
    assert [f.code for f in plan.findings if f.code.startswith("vein")] == ["vein-hole-shows"]
    assert plan_from_json(plan.to_json()).to_json() == plan.to_json()


@pytest.mark.parametrize("end", [(0.0, 30.0), (-3.0, 30.0)])
def test_a_vein_that_runs_out_at_an_edge_is_entered_from_the_waste(
    end: tuple[float, float],
) -> None:
    plan = planned([(30, 30), end])
    (vein,) = veins_of(plan)
    hole = next(h for h in plan.holes if h.number == vein.hole)
    disc = Point(hole.at_mm).buffer(hole.drill_mm / 2)
    piece = box(15, 15, 115, 75)
    assert disc.distance(piece) >= 0.29
    assert vein.line_mm[0] == pytest.approx((end[0] + 15.0, end[1] + 15.0))
    assert vein.lead_mm[0] == hole.at_mm and vein.lead_mm[-1] == vein.line_mm[0]
    assert not [f for f in plan.findings if f.code.startswith("vein")]


def test_veins_come_before_their_outline_and_keep_the_other_cuts() -> None:
    plan = planned([(20, 10), (20, 50)], [(30, 10), (30, 50)], [(40, 10), (40, 50)])
    outline = next(c for c in plan.cuts if c.side == "outside")
    assert [c.number for c in veins_of(plan)] == [1, 2, 3]
    assert all(v.within == outline.number for v in veins_of(plan))
    assert outline.number == len(plan.cuts) == 5
    holes = [h.at_mm for h in plan.holes]
    assert min(math.dist(a, b) for i, a in enumerate(holes) for b in holes[:i]) > 1.5


def test_holes_of_veins_that_run_side_by_side_keep_apart() -> None:
    """0.8 mm between two lines: no two holes fit beside each other at one end."""
    plan = planned([(20, 30), (45, 30)], [(20, 30.8), (45, 30.8)])
    holes = [h for h in plan.holes if plan.cuts[h.cut - 1].is_vein]
    for k, one in enumerate(holes):
        for other in holes[:k]:
            radii = (one.drill_mm + other.drill_mm) / 2
            assert math.dist(one.at_mm, other.at_mm) > radii
    assert len(holes) == 2


def test_a_vein_without_room_is_told_and_left_out() -> None:
    plan = planned([(59.5, 22), (59.5, 38)])
    assert not veins_of(plan)
    left = [f for f in plan.findings if f.code == "vein-left-out"]
    assert len(left) == 1 and left[0].severity == "warn" and left[0].remedy
    assert len(plan.cuts) == 2


def test_a_vein_has_no_lip_and_no_waste() -> None:
    plan = planned([(20, 10), (20, 50)], hole=False)
    (vein,) = veins_of(plan)
    steps = [s for s in plan.steps if s.cut == vein.number]
    assert [s.stage for s in steps] == ["thread", "cut"]
    assert vein.minutes.likely == pytest.approx(sum(s.minutes.likely for s in steps))
    assert "back out" in steps[1].say and len(steps[1].say.split()) <= 12
    assert "one kerf" in steps[1].why and "waste" not in steps[1].why


def test_the_way_back_is_drawn_and_not_sawn() -> None:
    """A straight vein of 40 mm and the same line cut shut: 220 mm/min out, 600 mm/min back."""
    plan = planned([(20, 10), (20, 50)], hole=False)
    (vein,) = veins_of(plan)
    f = cut_features(vein, plan.board)
    assert f.length_mm == pytest.approx(40.0) and f.back_mm == pytest.approx(40.0)
    rates = rates_for("practised")
    back_s = feed_amount(f, rates).seconds - feed_amount(replace(f, back_mm=0.0), rates).seconds
    assert back_s == pytest.approx(60.0 * 40.0 / 600.0)


@pytest.mark.parametrize(
    ("ends", "left"),
    [
        # 1 mm and 20 mm from the edges: half a kerf, or the hole's radius, less
        (((1.0, 30.0), (50.0, 30.0)), None),
        (((10.0, 2.0), (50.0, 2.0)), None),
        (((10.0, 20.0), (50.0, 20.0)), 20.0),
        # it runs out at the edge: no neck there
        (((0.0, 30.0), (50.0, 30.0)), 20.0),
    ],
)
def test_a_vein_that_leaves_a_neck_to_an_edge_is_told(
    ends: tuple[tuple[float, float], tuple[float, float]], left: float | None
) -> None:
    plan = planned(list(ends), hole=False)
    told = [f for f in plan.findings if f.code == "vein-neck"]
    assert (not told) == (left is not None)
    if told:
        # by the geometry of the plan alone
        (vein,) = veins_of(plan)
        edge = LineString(plan.cuts[-1].line_mm)
        hole = next(h for h in plan.holes if h.number == vein.hole)
        kerf = plan.blade.kerf_mm
        wood = min(
            LineString(vein.line_mm).distance(edge) - kerf / 2,
            Point(hole.at_mm).distance(edge) - hole.drill_mm / 2,
        )
        assert told[0].size_mm == pytest.approx(max(wood, 0.0), abs=0.02)
        limit = tables.limit("neck-fragile")
        assert told[0].severity == limit.severity and wood < limit.value * 6.0


def long_vein(width: float, *veins: list[tuple[float, float]]) -> Plan:
    spec = ProjectSpec("leaf", Path("."), Path("x.svg"))
    pattern = pattern_of((box(0, 0, width, 200), [], None), veins=tuple(map(LineString, veins)))
    mine = replace(default_settings(), saw=SawProfile(400.0, 50.0, 10.0, 10.0))
    return make_plan(spec, pattern, mine)


def test_a_vein_starts_at_the_end_from_which_the_board_clears() -> None:
    """Board 530 mm, throat 390: towards its right end the board would hang behind."""
    for vein in ([(300, 100), (460, 100)], [(460, 100), (300, 100)]):
        plan = long_vein(500.0, [(float(x), float(y)) for x, y in vein])
        (cut,) = veins_of(plan)
        assert cut.start_mm == pytest.approx((475.0, 115.0)) and cut.blade == ""
        assert not [f for f in plan.findings if f"cut {cut.number}" in f.text]


def test_a_vein_that_meets_the_frame_either_way_turns_the_blade() -> None:
    plan = long_vein(1000.0, [(100.0, 100.0), (900.0, 100.0)])
    (cut,) = veins_of(plan)
    assert cut.blade in ("left", "right")
    thread = next(s for s in plan.steps if s.cut == cut.number)
    before = plan.steps[thread.number - 2]
    assert before.stage == "blade" and cut.blade in before.say
    assert "sideways" in plan.steps[thread.number].say
    assert [f for f in plan.findings if f.code == "reach-turned-blade"
            and f"cut {cut.number}" in f.text]  # fmt: skip


def test_the_turns_of_a_vein_are_due_on_its_way_out() -> None:
    plan = planned([(20, 10), (35, 30), (20, 50)], hole=False)
    (vein,) = veins_of(plan)
    index = next(i for i, s in enumerate(plan.steps) if s.stage == "cut" and s.cut == vein.number)
    leg = leg_of(plan, index, POWERED_STAGES)
    assert leg is not None and len(vein.turns) == 1
    # half the way out: later than a quarter of the whole, since the way back is quick
    assert 0.25 * leg.likely_s < leg.due_s[0] < 0.5 * leg.likely_s
