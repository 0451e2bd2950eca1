"""Wood beside veins: measured by hand on drawn ones, nothing told where it is enough."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, box

from companion.findings import Finding
from companion.planner.linework import Floats
from companion.planner.vein_gaps import STEP_MM, _away, _Others, _sampled, vein_gaps
from companion.shop import tables
from companion.words import ENGLISH
from tests.planner.drawn import pattern_of, plan

KERF = 0.5
LEAST = tables.limit("cuts-merge").value
LEAF = plan(pattern_of((box(0, 0, 100, 60), [box(60, 20, 80, 40)], None)))


def told(*veins: list[tuple[float, float]]) -> list[Finding]:
    moved: list[Floats] = [np.array(v, dtype=np.float64) + LEAF.shift for v in veins]
    return vein_gaps(moved, LEAF.work, KERF, ENGLISH)


@given(st.floats(0.0, 3.0))
@settings(max_examples=40, deadline=None)
def test_a_vein_along_an_edge_keeps_half_a_kerf_and_the_wood(gap: float) -> None:
    found = told([(10, gap), (50, gap)])
    assert bool(found) == (gap - KERF / 2 < LEAST)
    if found:
        assert found[0].size_mm == pytest.approx(max(gap - KERF / 2, 0.0), abs=0.01)


@given(st.floats(0.0, 3.0), st.floats(0, 180))
@settings(max_examples=40, deadline=None)
def test_two_veins_keep_a_whole_kerf_and_the_wood(gap: float, turn: float) -> None:
    u = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])
    n = np.array([-u[1], u[0]])
    a, b = np.array([30.0, 30.0]), np.array([30.0, 30.0]) + n * gap
    first = [(float(x), float(y)) for x, y in (a - 8 * u, a + 8 * u)]
    second = [(float(x), float(y)) for x, y in (b - 8 * u, b + 8 * u)]
    found = told(first, second)
    # sampled places lie at most half a step beside each other
    if gap < KERF + LEAST - 0.01:
        assert found and found[0].text.startswith("Beside 2 veins")
        assert found[0].size_mm == pytest.approx(max(gap - KERF, 0.0), abs=0.01)
    if gap > KERF + LEAST + 0.01:
        assert not found


def test_where_veins_meet_by_purpose_nothing_is_told() -> None:
    assert not told([(20, 10), (40, 50)], [(20, 50), (40, 10)]), "a cross"
    assert not told([(30, 10), (30, 50)], [(30, 30), (45, 40)]), "a branch"
    assert not told([(30, 30), (0, 30)]), "out at the edge"
    assert not told([(10, 10), (40, 10), (40, 40)]), "its own corner"
    assert not told([(10, 10), (40, 40), (40, 10), (10, 40)]), "a loop through itself"


def test_a_hairpin_and_an_end_just_short_of_the_edge_are_told() -> None:
    hairpin = [(10.0, 30.0), (40.0, 30.0), (40.0, 30.7), (10.0, 30.7)]
    (found,) = told(hairpin)
    assert found.size_mm == pytest.approx(0.7 - KERF, abs=0.01)
    (short,) = told([(30, 30), (0.4, 30)])
    assert short.size_mm == pytest.approx(0.4 - KERF / 2, abs=0.01)
    assert short.at_mm == pytest.approx((0.4 + LEAF.shift[0], 30 + LEAF.shift[1]), abs=0.01)


@pytest.mark.parametrize("seed", range(6))
def test_the_nearest_other_vein_is_that_of_the_whole_lines(seed: int) -> None:
    rng = np.random.default_rng(seed)
    lines = [rng.uniform(0.0, 30.0, (rng.integers(2, 40), 2)) for _ in range(7)]
    others = _Others(lines, 4.0)
    seen = 0
    for k, line in enumerate(lines):
        rest = shapely.union_all([LineString(o) for j, o in enumerate(lines) if j != k])
        xy = _sampled(line)[0]
        true = shapely.distance(np.asarray(shapely.points(xy)), rest)
        found = others.apart(k, xy)
        assert found == pytest.approx(np.where(true <= 4.0, true, np.inf))
        seen += int(np.isfinite(found).sum())
    assert seen > 100
    assert np.isinf(_Others(lines[:1], 4.0).apart(0, lines[0])).all()


def test_a_vein_is_looked_at_in_even_steps_whatever_its_corners() -> None:
    """Drawn with corners close together at its beginning and far apart later, and the other way."""
    xy = np.array([(0.0, 0.0), (0.03, 0.0), (0.05, 0.01), (3.0, 2.0), (11.0, -1.0)])
    for way in (xy, xy[::-1]):
        places, arc = _sampled(way)
        assert np.diff(arc).max() <= STEP_MM and arc[-1] == pytest.approx(LineString(way).length)
        assert (places[0] == way[0]).all() and (places[-1] == way[-1]).all()
        assert shapely.distance(shapely.points(places), LineString(way)).max() < 1e-9


def test_places_count_from_the_nearest_mark() -> None:
    arc = np.arange(0.0, 10.0, 0.5)
    marks = np.array([7.2, 1.0, 3.3])
    want = np.abs(arc[:, None] - marks[None, :]).min(axis=1)
    assert _away(arc, marks) == pytest.approx(want)
