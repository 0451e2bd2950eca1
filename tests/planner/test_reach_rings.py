"""Reach along a closed line must not depend on where the drawing begins the ring."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely.geometry import Polygon, box

from companion.planner.linework import Line
from companion.planner.reach import (
    FINE_MM,
    Reach,
    _turned,
    feasible,
    lead_behind,
    reach_of,
    stretches,
    two_runs,
    worst,
)
from companion.planner.ways import ways_of
from companion.shop.model import SawProfile
from tests.planner.drawn import disc
from tests.planner.test_reach import SAW, brute_worst

Floats = NDArray[np.float64]


def ring(shape: Polygon, first: int = 0) -> Line:
    """A clockwise line (y down) that begins at the given vertex."""
    xy = np.array(shape.exterior.coords)[:-1]
    if not shape.exterior.is_ccw:
        xy = xy[::-1]  # counter-clockwise with y up is clockwise with y down
    xy = np.roll(xy, -first, axis=0)
    xy = np.concatenate([xy, xy[:1]])
    return Line(xy, np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))]))


def clears(reach: Reach, line: Line, low: float, high: float, sign: float) -> bool:
    """Whether every step from one arc length to a later one clears, cut the one way or the other.

    Straight from the rule (p - c) . u <= throat, a place every half millimetre.
    """
    arcs = np.linspace(low, high, max(2, int((high - low) / 0.5)))
    path = line.at(arcs)
    step = np.diff(path, axis=0) * sign
    heading = step / np.hypot(*step.T)[:, None]
    for p, u in zip(path[:-1], heading, strict=True):
        if max(float((p - c) @ u) for c in reach.corners_mm) > reach.throat_mm + 0.6:
            return False
    return True


@pytest.mark.parametrize("first", range(0, 64, 7))
def test_two_runs_are_the_same_wherever_the_ring_begins(first: int) -> None:
    """A board of 700 mm on a throat of 400: the hole lies in its left part."""
    reach = reach_of(SAW, 700.0, 180.0)
    plain, line = ring(disc(15, (70, 90))), ring(disc(15, (70, 90)), first)
    want, found = two_runs(reach, plain), two_runs(reach, line)
    assert want is not None and found is not None
    (start, latest), (meet, end) = found
    assert 0.0 <= start <= latest <= meet <= end
    assert latest < meet <= start + line.length and end - start <= line.length + FINE_MM
    # from every allowed start to every allowed meeting place both runs clear
    assert clears(reach, line, start, end, 1.0)
    assert clears(reach, line, meet, latest + line.length, -1.0)
    for mine, theirs in zip((*found[0], *found[1]), (*want[0], *want[1]), strict=True):
        assert line.at(np.array([mine]))[0] == pytest.approx(
            plain.at(np.array([theirs]))[0], abs=2 * FINE_MM
        )


@pytest.mark.parametrize("first", range(4))
def test_each_stretch_clears_or_not_wherever_the_ring_begins(first: int) -> None:
    """A square, cut from any of its corners: its last stretch runs straight into the first one."""
    reach = reach_of(SAW, 640.0, 180.0)
    line = ring(box(40, 40, 140, 140), first)
    arc, there, back = feasible(reach, line)
    ends = np.append(arc[1:], line.length)
    for low, high, ok, other in zip(arc, ends, there, back, strict=True):
        if min(low % 100.0, 100.0 - high % 100.0 if high % 100.0 else 0.0) <= FINE_MM:
            continue  # beside a corner the swing counts too
        assert ok == clears(reach, line, low, high, 1.0)
        assert other == clears(reach, line, low, high, -1.0)
    assert there.any() and not there.all()


@pytest.mark.parametrize("first", range(4))
def test_the_swing_at_the_rings_beginning_is_that_of_its_corner(first: int) -> None:
    """Which of the four corners comes first changes no stretch's answer beside it."""
    reach = reach_of(SAW, 640.0, 180.0)
    plain, line = ring(box(40, 40, 140, 140)), ring(box(40, 40, 140, 140), first)
    (want_arc, *want), (arc, *got) = feasible(reach, plain), feasible(reach, line)
    assert np.mod(arc + 100.0 * first, 400.0) == pytest.approx(np.roll(want_arc, -50 * first))
    for one, other in zip(want, got, strict=True):
        assert (np.roll(one, -50 * first) == other).all()


@pytest.mark.parametrize("first", range(3))
def test_a_way_that_swings_too_far_at_one_corner_is_refused_wherever_the_ring_begins(
    first: int,
) -> None:
    """Clockwise this triangle clears but for the swing at one corner, also when it begins there."""
    reach = reach_of(SawProfile(570.0, 50.0, 10.0, 10.0), 640.0, 180.0)
    line = ring(Polygon([(40, 40), (140, 60), (60, 140)]), first)
    assert (stretches(reach, line.xy, closed=True, swings=False).behind_mm < 520.0).all()
    assert brute_worst(reach.corners_mm, np.concatenate([line.xy, line.xy[1:2]])) > 590.0
    assert ways_of(reach, line).stuck


@pytest.mark.parametrize("turned", [False, True])
def test_the_place_that_reaches_farthest_is_told_wherever_the_ring_begins(turned: bool) -> None:
    """At that corner of the triangle itself, where the swing is the farthest reach."""
    reach = reach_of(SAW, 640.0, 180.0)
    triangle = Polygon([(40, 40), (140, 60), (60, 140)])
    for first in range(3):
        path = ring(triangle, first).xy[:: -1 if turned else 1]
        mm, at = worst(reach, path, closed=True)
        k = next(k for k in range(1, 4) if tuple(path[k].tolist()) == at)
        corner = np.stack([path[k - 1], path[k], path[k % 3 + 1]])
        assert brute_worst(reach.corners_mm, corner) == pytest.approx(mm, abs=0.2)


@pytest.mark.parametrize(("spare_mm", "costs"), [(0.5, False), (-0.5, True)])
def test_a_way_costs_more_only_where_it_reaches_farther_than_the_throat(
    spare_mm: float, costs: bool
) -> None:
    """A triangle that reaches 32 mm farther anticlockwise than clockwise."""
    line = ring(Polygon([(120, 30), (150, 140), (80, 50)]))
    plain = reach_of(SAW, 640.0, 180.0)
    farthest = worst(plain, line.xy[::-1], closed=True)[0]
    ways = ways_of(Reach(plain.corners_mm, farthest + spare_mm), line)
    assert [bool(c) for c in ways.cost] == [False, costs]


def test_no_stretch_is_longer_than_the_fine_step_and_none_too_many() -> None:
    line = ring(box(0, 0, 123, 77))
    arc, _, _ = feasible(reach_of(SAW, 300.0, 200.0), line)
    assert np.diff(np.append(arc, line.length)).max() <= FINE_MM + 1e-9
    assert len(arc) <= math.ceil(line.length / FINE_MM) + 4


@pytest.mark.parametrize("turned_deg", [-30.0, -7.0, 4.0, 90.0])
@pytest.mark.parametrize("heading_deg", [0.0, 50.0, 90.0, 200.0])
def test_a_turned_blade_turns_every_heading_by_as_much(
    heading_deg: float, turned_deg: float
) -> None:
    """Y lies downwards: clockwise from above is from x towards y."""
    a, b = math.radians(heading_deg), math.radians(heading_deg + turned_deg)
    (got,) = _turned(np.array([[math.cos(a), math.sin(a)]]), turned_deg)
    assert got == pytest.approx([math.cos(b), math.sin(b)])


@pytest.mark.parametrize("turn_deg", [60.0, 120.0, 170.0, -90.0])
def test_the_swing_at_a_corner_counts_for_the_stretch_before_and_the_one_after(
    turn_deg: float,
) -> None:
    """Of the headings between the two, one a degree, the worst: neither stretch has less."""
    reach = reach_of(SAW, 640.0, 180.0)
    a = math.radians(20.0)
    headings = a + np.radians(np.linspace(0.0, turn_deg, 200))
    at = np.array([300.0, 90.0])
    before = at - 30.0 * np.array([math.cos(a), math.sin(a)])
    after = at + 30.0 * np.array([math.cos(headings[-1]), math.sin(headings[-1])])
    worst = max(
        float((at - c) @ np.array([math.cos(u), math.sin(u)]))
        for u in headings
        for c in reach.corners_mm
    )
    found = stretches(reach, np.array([before, at, after]), closed=False).behind_mm
    assert (found >= worst - 1e-9).all()


@pytest.mark.parametrize("bends", [0, 1, 2])
def test_a_lead_reaches_as_far_as_its_places_and_swings_on_the_drawn_saw(bends: int) -> None:
    """Straight or bent, and the swing into the line at its end."""
    reach = reach_of(SAW, 640.0, 180.0)
    rng = np.random.default_rng(bends)
    for _ in range(12):
        lead = rng.uniform((200, 40), (440, 140), (2 + bends, 2))
        angle = rng.uniform(0.0, 2 * np.pi)
        onward = np.array([[math.cos(angle), math.sin(angle)]])
        want = brute_worst(reach.corners_mm, np.concatenate([lead, lead[-1:] + 1e-3 * onward]))
        assert lead_behind(reach, lead, onward) == pytest.approx(want, abs=0.3)
