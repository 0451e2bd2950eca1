"""The table under the board: told where the board's middle leaves it, by brute force."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import box

from companion.planner.make import make_plan
from companion.planner.overhang import overhang
from companion.planner.plan import Plan
from companion.planner.project import ProjectSpec
from companion.shop.model import SawProfile
from companion.shop.settings import default_settings
from companion.words import ENGLISH
from tests.planner.drawn import pattern_of, star


def saw(length: float, width: float) -> SawProfile:
    return replace(default_settings().saw, table_length_mm=length, table_width_mm=width)


def made(width: float, height: float, profile: SawProfile) -> Plan:
    spec = ProjectSpec("table", Path("."), Path("x.svg"), width_mm=width, height_mm=height)
    pattern = pattern_of((box(0, 0, 80, 60), [star(5, 20, 9, (30, 30))], None))
    return make_plan(spec, pattern, replace(default_settings(), saw=profile))


@given(st.floats(100, 700), st.floats(90, 500), st.floats(40, 600), st.floats(40, 400))
@settings(max_examples=25, deadline=None)
def test_it_is_told_exactly_when_the_middle_leaves_the_table(
    width: float, height: float, long: float, wide: float
) -> None:
    """The board is laid on the table at every sample, its heading to the front."""
    plan = made(width, height, saw(0.0, 0.0))
    middle, off = np.array([width, height]) / 2, -np.inf
    for cut in plan.cuts:
        for a, b in zip(np.array(cut.line_mm)[:-1], np.array(cut.line_mm)[1:], strict=True):
            if np.allclose(a, b):
                continue
            turn = np.pi / 2 - np.arctan2(*(b - a)[::-1])
            c, s = np.cos(turn), np.sin(turn)
            for p in np.linspace(a, b, 5):
                x, y = np.array([[c, -s], [s, c]]) @ (middle - p)
                off = max(off, abs(y) - long / 2, abs(x) - wide / 2)
    found = overhang(plan.board, plan.cuts, saw(long, wide), ENGLISH)
    if not found:
        assert off <= 1e-6
    else:
        assert found[0].size_mm is not None and abs(found[0].size_mm - off) < 1e-6


def test_the_plan_tells_it_and_says_nothing_without_the_tables_size() -> None:
    codes = {f.code: f for f in made(400.0, 300.0, saw(60.0, 50.0)).findings}
    assert "support level with the table" in codes["board-overhang"].remedy
    assert "board-overhang" not in {f.code for f in made(400.0, 300.0, saw(0.0, 0.0)).findings}
    assert "board-overhang" not in {f.code for f in made(100.0, 80.0, saw(400, 250)).findings}
