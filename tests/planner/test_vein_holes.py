"""Holes of veins keep off each other, and a way out is judged as it is cut, once."""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import LineString, box

from companion.planner.make import make_plan
from companion.planner.project import ProjectSpec
from companion.planner.reach import reach_of
from companion.planner.rules import rules_for
from companion.planner.veins import _Ground
from companion.shop.model import SawProfile
from companion.shop.settings import default_settings
from tests.planner.drawn import disc, pattern_of
from tests.planner.test_reach import brute_worst


@pytest.mark.parametrize("apart", [0.4, 1.0, 1.5])
def test_veins_that_begin_side_by_side_get_holes_that_do_not_meet(apart: float) -> None:
    """The second one is entered from its other end; an opening's hole lies far off."""
    veins = (LineString([(30, 30), (50, 30)]), LineString([(30 + apart, 29), (30 + apart, 12)]))
    pattern = pattern_of((box(0, 0, 100, 60), [disc(8, (80, 45))], None), veins=veins)
    made = make_plan(ProjectSpec("veins", Path("."), Path("x.svg")), pattern, default_settings())
    assert len(made.holes) == 4
    margin = rules_for(default_settings().skill).hole.margin_mm
    for one, other in itertools.combinations(made.holes, 2):
        free = math.dist(one.at_mm, other.at_mm) - (one.drill_mm + other.drill_mm) / 2
        assert free >= margin - 1e-6


def test_the_way_out_clears_when_no_place_and_no_turn_of_it_meets_the_frame() -> None:
    """Bent veins on a long board, laid on the drawn saw: there is no swing from end to start."""
    ground, seen = _Ground.__new__(_Ground), set()
    for angle in np.radians(range(0, 360, 45)):
        u = np.array([math.cos(angle), math.sin(angle)])
        bent = np.array([[0.0, 0.0], 12 * u, 12 * u + 9 * np.array([-u[1], u[0]])]) + (150.0, 60.0)
        corners = reach_of(SawProfile(400.0, 50.0, 10.0, 0.0), 300.0, 120.0).corners_mm
        need = brute_worst(corners, bent, 0.5)
        for throat in np.arange(60.0, 190.0, 2.5):
            ground._reach = reach_of(SawProfile(float(throat), 50.0, 10.0, 0.0), 300.0, 120.0)
            if abs(need - throat) > 0.3:
                assert ground._clears(bent) == (need <= throat)
                seen.add(need <= throat)
    assert seen == {True, False}
