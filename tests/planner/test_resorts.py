"""Cuts that meet the frame: what is told has its size, and a second run its own headings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.findings import Finding
from companion.planner.plan import Cut, Turn
from companion.planner.reach import reach_of
from companion.planner.resorts import Resort, back_outs_blocked, told
from companion.shop.model import SawProfile
from companion.words import ENGLISH
from tests.planner.test_reach import PLANNED_CUT

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


def test_a_finding_has_the_length_by_which_the_board_reaches_too_far() -> None:
    cuts = [Resort("none", f"cut {n}", 300.0 + n, (float(n), 0.0), "Use another.") for n in (3, 8)]
    (found,) = told(cuts, reach_of(SAW, 500.0, 200.0), ENGLISH)
    assert found.size_mm == pytest.approx(8.0) and found.at_mm == (8.0, 0.0)
    assert "308 mm behind" in found.text and "allows 300" in found.text
