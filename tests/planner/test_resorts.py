"""Cuts that meet the frame: what is told has its size, and a second run its own headings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from companion.findings import Finding
from companion.planner.contours import Contour
from companion.planner.linework import line_of
from companion.planner.plan import Cut, Turn
from companion.planner.reach import reach_of
from companion.planner.resorts import (
    Resort,
    Stuck,
    back_outs_blocked,
    resort,
    spiral,
    told,
    turned_blade,
    vein_resort,
)
from companion.planner.veins import with_resorts
from companion.shop.model import SawProfile
from companion.words import ENGLISH
from tests.planner.drawn import pattern_of, plan
from tests.planner.test_reach import HEADINGS, PLANNED_CUT, on_the_saw

SAW = SawProfile(300.0, 50.0, 10.0, 0.0)


def turned_round(cut: Cut) -> Cut:
    """The same line cut the other way as one run, its turns counted from the other end."""
    turns = tuple(replace(t, along_mm=cut.length_mm - t.along_mm) for t in cut.turns)
    return replace(cut, line_mm=cut.line_mm[::-1], turns=turns, meet_along_mm=None)


def measure(found: list[Finding]) -> list[float]:
    return [round(float(f.size_mm or 0.0), 6) for f in found]


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=40, deadline=None, derandomize=True)
def test_back_outs_of_a_second_run_are_those_of_the_line_the_other_way(seed: int) -> None:
    """A triangle anywhere on a long board; the runs meet before or after its second corner."""
    rng = np.random.default_rng(seed)
    points = [(float(x), float(y)) for x, y in rng.uniform((20, 20), (480, 180), (3, 2))]
    line = (*points, points[0])
    along = np.cumsum([np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in zip(line, line[1:], strict=False)])  # fmt: skip # noqa: E501
    turns = tuple(Turn(line[k], 90.0, "back-out", float(along[k - 1])) for k in (1, 2))
    cut = replace(PLANNED_CUT, line_mm=line, length_mm=float(along[-1]), turns=turns)
    reach = reach_of(SAW, 500.0, 200.0)
    for k in (0, 1):
        one = replace(cut, turns=(turns[k],))
        first = measure(back_outs_blocked(one, reach, 0.8, ENGLISH))
        second = measure(back_outs_blocked(turned_round(one), reach, 0.8, ENGLISH))
        for meet, want in ((turns[k].along_mm + 1.0, first), (turns[k].along_mm - 1.0, second)):
            split = replace(one, meet_along_mm=meet)
            assert measure(back_outs_blocked(split, reach, 0.8, ENGLISH)) == want


@pytest.mark.parametrize("name", HEADINGS)
def test_what_of_the_board_points_to_the_stool_lets_every_place_clear(name: str) -> None:
    """A board of 1 m, places near one edge or about one corner: no other way will do."""
    stool = np.array(HEADINGS[name]) / np.hypot(*HEADINGS[name])
    across = np.array([-stool[1], stool[0]])
    if "corner" in name:
        path = 500.0 - 480.0 * np.sign(stool) + 410.0 * np.array([[1, 0], [0, 1]]) * np.sign(stool)
    else:
        path = 500.0 - 150.0 * stool + np.outer([-60.0, 60.0], across)
    reach = reach_of(SawProfile(400.0, 50.0, 10.0, 10.0), 1000.0, 1000.0)
    assert spiral(reach, path) == name
    assert max(on_the_saw(reach.corners_mm, at, stool) for at in path) <= 390.0


@pytest.mark.parametrize(("far", "kind"), [(100.0, "turned-blade"), (200.0, "spiral")])
def test_a_vein_is_asked_along_its_whole_way_out(far: float, kind: str) -> None:
    """Along the board a turned blade does; where the vein turns off in its middle, none does."""
    reach = reach_of(SawProfile(400.0, 50.0, 10.0, 10.0), 1030.0, 230.0)
    lead = np.array([(95.0, 100.0), (100.0, 100.0)])
    out = np.array([(100.0, 100.0), (500.0, 100.0), (515.0, far)])
    found = vein_resort(reach, lead, out, 3.0, "cut 1", ENGLISH)
    assert found is not None and found.kind == kind


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_a_vein_that_meets_the_frame_is_helped_whatever_is_cut_before_it(
    order: tuple[int, int],
) -> None:
    (outline,) = plan(pattern_of((box(0, 0, 60, 60), [], None))).entries
    way = ((100.0, 100.0), (900.0, 100.0), (100.0, 100.0))
    vein = replace(outline, line_mm=way, lead_mm=way[:1])
    reach = reach_of(SawProfile(400.0, 50.0, 10.0, 10.0), 1030.0, 230.0)
    made, (found,) = with_resorts({0: outline, 1: vein}, 1, order, reach, ENGLISH)
    assert made[0] == outline and made[1].resort is not None
    assert f"cut {order.index(1) + 1}" in found.text


def test_what_is_left_when_no_step_can_be_written_tells_the_shorter_of_two_lengths() -> None:
    """A triangle in the middle of 900 mm: one way round 292 mm need the blade turned."""
    reach = reach_of(SawProfile(400.0, 50.0, 10.0, 10.0), 900.0, 300.0)
    corners = [(540.0, 190.0), (510.0, 260.0), (400.0, 160.0)]
    opening = Polygon(corners)
    contour = Contour(0, "inside", 1, 1, opening, None, ())
    line = line_of(contour)
    stuck = Stuck(contour, line, line.xy, line.xy[[1, 0]], 0.5, None, (500.0, corners[0]))
    found = resort(reach, stuck, box(0, 0, 900, 300), ENGLISH)
    lengths = [turned_blade(reach, way) for way in (line.xy, line.xy[::-1])]
    assert found.kind == "none" and sorted(round(n or 0.0) for n in lengths) == [292, 368]
    assert "for 292 mm of it" in found.remedy


def test_a_finding_has_the_length_by_which_the_board_reaches_too_far() -> None:
    cuts = [Resort("none", f"cut {n}", 300.0 + n, (float(n), 0.0), "Use another.") for n in (3, 8)]
    (found,) = told(cuts, reach_of(SAW, 500.0, 200.0), ENGLISH)
    assert found.size_mm == pytest.approx(8.0) and found.at_mm == (8.0, 0.0)
    assert "308 mm behind" in found.text and "allows 300" in found.text
