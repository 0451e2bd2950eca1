"""Edges of the planner that the larger tests pass over: found by changing the code."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import box

from companion.planner.blades import speed_for
from companion.planner.corners import _split
from companion.planner.lawler import fill_from_last
from companion.planner.moves import path_length, short_path
from companion.planner.plan import Direction
from companion.planner.plate import Floats
from companion.planner.reach import reach_of
from companion.planner.turns import Ground, turns
from companion.shop.model import SawProfile
from companion.shop.settings import default_settings
from tests.planner.drawn import NO_3, pattern_of, plan


def test_patient_jobs_go_late_where_it_cannot_hurt() -> None:
    """Job 3 comes last at cost 1; under that level the patient one waits though it is dearer."""
    price = np.array([0.2, 0.1, 0.5, 1.0])

    def cost(_gone: Sequence[int], asked: Sequence[int]) -> Floats:
        return price[list(asked)]

    before = [frozenset[int](), frozenset[int](), frozenset[int](), frozenset({0, 1, 2})]
    found = fill_from_last(before, cost, patient=frozenset({0}))
    assert found.order == (2, 1, 0, 3)
    assert fill_from_last(before, cost).order == (2, 0, 1, 3)


@pytest.mark.parametrize(
    ("of", "dial"),
    [(5.0, 2.5), (10.0, 5.0), (11.0, 5.5), (12.6, 6.5), (20.0, 10.0), (21.0, 11.0), (200.0, 100.0),
     (201.0, 100.0), (210.0, 110.0), (1750.0, 880.0)],
)  # fmt: skip
def test_the_nearest_mark_of_the_dial(of: float, dial: float) -> None:
    """Half of the scale for inside cuts of a practised hand; halves of a mark go up."""
    mine = replace(default_settings(), skill="practised")
    mine = replace(mine, saw=replace(mine.saw, dial_of=of))
    assert speed_for("inside", 6.0, mine).dial == pytest.approx(dial)


def test_a_run_is_cut_at_each_valley() -> None:
    one, two, three = [1.0, 9.0, 1.0], [8.0, 1.0], [7.0, 1.0]
    value = np.array([*one, *two, *three])
    parts = _split(value, 0, len(value))
    assert parts[0][0] == 0 and parts[-1][1] == len(value)
    assert all(a[1] == b[0] for a, b in zip(parts, parts[1:], strict=False))
    tops = [max(value[a:b]) for a, b in parts]
    assert tops == [9.0, 8.0, 7.0]
    # counted from the run's own beginning, wherever it lies on the line
    shifted = _split(np.concatenate((np.zeros(4), value)), 4, 4 + len(value))
    assert shifted == [(a + 4, b + 4) for a, b in parts]


@pytest.mark.parametrize("n", [2, 3, 12, 40])
def test_ways_on_a_line_are_walked_from_end_to_end(n: int) -> None:
    """Points in a row have one shortest way, from the first to the last."""
    x = np.arange(n, dtype=float)
    cost = np.abs(x[:, None] - x[None])
    way = short_path(cost, [frozenset()] * n, exact=0)
    assert path_length(way, cost) == n - 1 and sorted(way) == list(range(n))


@pytest.mark.parametrize("direction", ["clockwise", "anticlockwise"])
def test_turns_are_counted_along_the_way_that_is_cut(direction: Direction) -> None:
    """From the start, in the direction of travel, so far as told: there the corner is."""
    p = plan(pattern_of((box(0, 0, 80, 60), [box(20, 20, 60, 40)], None)))
    for contour, entry in zip(p.every, p.entries, strict=True):
        line = p.work.lines[contour.index]
        mine = replace(entry, direction=direction)
        found = turns(p.work, contour, mine, NO_3, p.rules, Ground(*p.size_mm))
        assert len(found) >= 3
        sign = 1.0 if direction == "clockwise" else -1.0
        for turn in found:
            assert 0.0 < turn.along_mm < line.length
            arc = (entry.start_arc_mm + sign * turn.along_mm) % line.length
            (there,) = line.at(np.array([arc]))
            assert there == pytest.approx(turn.at_mm, abs=0.01)
        assert [t.along_mm for t in found] == sorted(t.along_mm for t in found)


def test_a_tall_board_meets_the_frame_as_a_wide_one_does() -> None:
    """The saw reaches 300 mm: a board of 290 clears whichever way it lies, one of 310 in none."""
    saw = SawProfile(310.0, 50.0, 10.0, 10.0)
    corner = np.array([[0.0, 0.0]])
    for long, clears in ((290.0, True), (310.0, False)):
        assert reach_of(saw, long, 10.0).never_meets(corner) is clears
        assert reach_of(saw, 10.0, long).never_meets(corner) is clears
