"""Leads and shared holes: at which angle a blade comes to its line, and with which drill."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from companion.planner import starts
from companion.planner.detours import Detours
from companion.planner.linework import Floats
from companion.planner.pins import fan
from companion.planner.places import (
    EARLY_COST,
    SHARP_TIP_COST,
    TIP_CORNER_COST,
    candidates,
    plain_place,
)
from companion.planner.plan import Direction
from companion.planner.project import Pin
from companion.planner.reach import Reach, lead_behind, reach_of
from companion.planner.resorts import Resort, Stuck, resort
from companion.planner.rules import rules_for
from companion.planner.starts import DIRECTIONS, Task, _Enterer
from companion.planner.ways import OUT_OF_REACH_COST, Ways
from companion.shop.model import SawProfile
from companion.words import Words
from tests.planner.drawn import DRILLS, NO_3, disc, joined, pattern_of, plan, star
from tests.planner.test_reach import SAW, brute_turn, brute_worst, runs
from tests.planner.test_reach_rings import ring


@pytest.mark.parametrize("way", [0, 1])
def test_leads_come_at_their_angle_and_a_shallow_one_at_a_third_of_it(way: int) -> None:
    """On straight stretches: merging, square, and for tight boards nearly along the line."""
    p = plan(pattern_of((box(0, 0, 90, 70), [box(20, 20, 70, 50)], None)))
    rules, away = rules_for("practised"), 2.0
    enterer = _Enterer(Task(p.work, p.rooms, p.size_mm, NO_3, DRILLS, rules, 6.0))
    spots = candidates(p.work, p.every[0], NO_3, rules, 6.0)
    index = np.flatnonzero(spots.waste_deg == 180.0)
    assert len(index) > 10
    ways = np.full(len(index), way)
    leads = enterer._leads(spots, index, ways, away, True)
    merge = rules.start.merge_deg
    ahead = spots.leaving[index] if way == 0 else -spots.arriving[index]
    for (offset, _), angle in zip(leads, (merge, 90.0, merge / 3), strict=True):
        # from the hole to the start
        run = -offset
        assert (offset * spots.waste[index]).sum(axis=1) == pytest.approx(away)
        got = np.degrees(np.arccos((run * ahead).sum(axis=1) / np.hypot(*run.T)))
        assert got == pytest.approx(angle, abs=1e-6)
    assert len(enterer._leads(spots, index, ways, away, False)) == 2


def test_who_shares_a_hole_shares_its_drill() -> None:
    """A bay with room for one thick hole, pinned there; the piece inside is cut from it too."""
    bay = joined(box(10, 10, 40, 60), joined(disc(1.4, (41.8, 35)), box(38, 34.7, 41.8, 35.3)))
    inner = box(10.5, 10.5, 39.6, 59.5)
    pin = Pin(opening=1, start_mm=(15 + 43.2, 15 + 35.0))
    p = plan(pattern_of((box(0, 0, 60, 70), [bay], None), (inner, [], 1)), pins=(pin,))
    owner, guest = p.entries[0], p.entries[2]
    assert guest.shares == 0 and guest.hole_mm == owner.hole_mm
    assert owner.drill is not None and owner.drill.diameter_mm > 1.0, "not the thinnest"
    assert guest.drill == owner.drill


@pytest.mark.parametrize("wished", [0, 1])
@pytest.mark.parametrize(
    "cost", [(0.0, 0.0), (0.0, OUT_OF_REACH_COST), (OUT_OF_REACH_COST + 0.4, 0.0)]
)
def test_a_wished_way_outweighs_the_frame_and_every_other_wish(
    wished: int, cost: tuple[float, float]
) -> None:
    """Also where two runs would rather begin the other way."""
    line = plan(pattern_of((box(0, 0, 30, 30), [], None))).work.lines[0]
    found = Ways(line, np.array(cost)).only(wished).cost
    assert found[wished] + 2 * EARLY_COST < found[1 - wished]


def test_a_pinned_start_is_sought_from_every_side_of_its_waste() -> None:
    """Directions every 15 degrees, up to 75 to either side of straight into the waste."""
    p = plan(pattern_of((box(0, 0, 60, 50), [box(20, 20, 40, 35)], None)))
    for contour, line in zip(p.every, p.work.lines, strict=True):
        one = plain_place(line, contour, 7.0)
        found = np.concatenate(fan(one))
        across = found @ one.waste[0]
        along = found @ np.array([-one.waste[0][1], one.waste[0][0]])
        far = np.hypot(*found.T)
        angles = np.round(np.degrees(np.arctan2(along, across)))
        near = np.isclose(far, 1.0)
        assert sorted(angles[near]) == list(range(-75, 76, 15)), "none nearer than must be"
        assert far.min() == pytest.approx(1.0) and far.max() > 5.0
        for angle in set(angles):
            assert len(far[angles == angle]) == len(far) / 11, "each way equally far"


def test_every_place_knows_the_way_into_its_waste() -> None:
    """Unit directions, along and into the waste, inside a piece and around it."""
    outline = box(0, 0, 70, 50).difference(box(60, 40, 71, 51))
    assert isinstance(outline, Polygon)
    p = plan(pattern_of((outline, [star(5, 15, 7, (30, 25))], None)))
    for contour in p.every:
        room = p.rooms.of(contour)
        spots = candidates(p.work, contour, NO_3, p.rules, 6.0)
        for way in (spots.waste, spots.arriving, spots.leaving):
            assert np.hypot(*way.T) == pytest.approx(1.0)
        for at, into in zip(spots.xy, spots.waste, strict=True):
            assert room.contains(Point(at + 0.05 * into))
            assert not room.contains(Point(at - 0.05 * into))
        assert ((spots.early >= 0.0) & (spots.early <= 1.0)).all()


@pytest.mark.parametrize("tip_deg", [40.0, 70.0, 100.0])
def test_a_wedge_is_no_thin_place_where_it_is_as_thick_as_wanted_behind_its_point(
    tip_deg: float,
) -> None:
    """A kite of 100 mm: each point is judged so far from it as a sound wedge gets thick."""
    half = 50.0 * np.tan(np.radians(tip_deg / 2))
    kite = Polygon([(0, 0), (50, -half), (100, 0), (50, half)])
    p = plan(pattern_of((kite, [], None)))
    spots = candidates(p.work, p.every[0], NO_3, p.rules, 6.0)
    corners = np.flatnonzero(spots.waste_deg > 180.0)
    tip = int(corners[np.argmin(spots.xy[corners, 0])])
    assert spots.xy[tip] == pytest.approx(p.shift)
    assert spots.waste_deg[tip] == pytest.approx(360.0 - tip_deg, abs=1.0)
    assert spots.cost[tip] in (TIP_CORNER_COST, SHARP_TIP_COST)


@pytest.mark.parametrize("count", [1, 2])
@pytest.mark.parametrize("way", [0, 1])
def test_a_lead_clears_when_its_swing_into_the_line_does(count: int, way: int) -> None:
    """Every start on a square on a long board, led to from within: the headings are the line's."""
    p = plan(pattern_of((box(0, 0, 40, 40), [], None)))
    line, seen = p.work.lines[0], set[bool]()
    for throat in (20.0, 90.0, 200.0, 360.0, 420.0):
        reach = reach_of(SawProfile(throat, 50.0, 10.0, 0.0), 400.0, 90.0)
        ways = Ways(line, np.zeros(2), reach, start=(0.0, 1.0) if count == 2 else None)
        seen |= lead_clears_at(ways, reach, count, way)
    assert seen == {True, False}, "else nothing is tried"


@pytest.mark.parametrize("way", [0, 1])
def test_a_lead_low_on_a_long_board_is_asked_at_its_own_place(way: int) -> None:
    """Only both coordinates together bring the far corner out of the throat there."""
    reach = reach_of(SawProfile(346.0, 50.0, 10.0, 0.0), 400.0, 90.0)
    ways = Ways(ring(box(30, 45, 60, 80)), np.zeros(2), reach)
    assert lead_clears_at(ways, reach, 1, way) == {True, False}


def test_where_the_line_itself_meets_the_frame_no_lead_is_blamed() -> None:
    line = ring(box(30, 45, 60, 80))
    reach = reach_of(SawProfile(200.0, 50.0, 10.0, 0.0), 400.0, 90.0)
    lead, arc, way = np.array([(33.0, 50.0), (30.0, 50.0)]), np.array([75.0]), np.zeros(1, np.intp)
    for cost, clears in (((0.0, 0.0), False), ((OUT_OF_REACH_COST, OUT_OF_REACH_COST), True)):
        ways = Ways(line, np.array(cost), reach)
        assert ways.lead_clears(lead, 75.0, 0) == clears
        assert ways.leads_clear(lead[None], arc, way).tolist() == [clears]


def lead_clears_at(ways: Ways, reach: Reach, count: int, way: int) -> set[bool]:
    """Compare all starts with what the written-out line says; the answers that came."""
    line, seen = ways.line, set[bool]()
    leads: list[Floats] = []
    arcs: list[float] = []
    for arc in np.arange(0.7, line.length, 4.1):
        at = line.at(np.array([arc]))[0]
        path = line.part(float(arc), float(arc) + line.length)
        there, back = (q - at for q in (path[1], path[-2]))
        first, second = (there, back) if way == 0 else (back, there)
        onward = np.array([first, second][:count])
        lead = np.stack([at + (5.0, 3.0), at])
        behind = lead_behind(reach, lead, onward / np.hypot(*onward.T)[:, None])
        assert ways.lead_behind(lead, float(arc), way) == pytest.approx(behind)
        clear = behind <= reach.throat_mm
        assert ways.lead_clears(lead, float(arc), way) == clear
        one = ways.leads_clear(lead[None], np.array([arc]), np.array([way]))
        assert one.tolist() == [clear]
        leads.append(lead)
        arcs.append(float(arc))
        seen.add(clear)
    together = ways.leads_clear(np.array(leads), np.array(arcs), np.full(len(arcs), way))
    singly = [ways.lead_clears(x, arc, way) for x, arc in zip(leads, arcs, strict=True)]
    assert together.tolist() == singly
    return seen


@pytest.mark.parametrize("direction", DIRECTIONS)
def test_with_two_runs_the_clockwise_one_comes_first_and_another_wish_is_refused(
    direction: Direction,
) -> None:
    """A board of 700 mm on a throat of 400, laid on the drawn saw along both runs."""
    p = plan(
        pattern_of((box(0, 0, 60, 60), [disc(15, (30, 30))], None)),
        saw=SawProfile(400.0, 50.0, 10.0, 10.0), margins=(40, 60, 600, 60),
        pins=(Pin(opening=1, direction=direction),),
    )  # fmt: skip
    assert p.entries[0].direction == "clockwise" and p.entries[0].meet_along_mm is not None
    assert ("pin-refused" in {f.code for f in p.findings}) == (direction == "anticlockwise")
    for run in runs(p, 0):
        assert len(run) > 8 and brute_worst(p.reach.corners_mm, run) <= 390.0 + 1e-6


def test_what_a_trim_must_keep_holds_the_holes_with_their_frame(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    kept: list[BaseGeometry] = []

    def seen(reach: Reach, stuck: Stuck, keep: BaseGeometry, words: Words) -> Resort:
        kept.append(keep)
        return resort(reach, stuck, keep, words)

    monkeypatch.setattr(starts, "resort", seen)
    p = plan(
        pattern_of((box(0, 0, 300, 90), [], None)),
        saw=SawProfile(400.0, 50.0, 10.0, 10.0), margins=(75, 180, 75, 180),
    )  # fmt: skip
    (entry,) = p.entries
    assert kept and entry.drill is not None
    framed = entry.drill.diameter_mm / 2 + p.rules.hole.frame_mm - 0.05
    assert kept[0].contains(Point(entry.hole_mm).buffer(framed))


def test_a_way_is_straightened_only_where_the_lines_leave_room() -> None:
    """Round a corner of the piece: bends that are needed stay, also the first when it is tight."""
    p = plan(pattern_of((box(0, 0, 40, 30), [], None)))
    way = Detours.__new__(Detours)
    way._work, way._half_mm = p.work, 0.5
    x, y = p.shift  # the piece's top left corner on the board
    path = np.array([
        (x + 20, y - 0.3), (x + 18, y - 3), (x + 9, y - 4), (x, y - 4), (x - 4, y - 4),
        (x - 4, y), (x - 3, y + 6), (x - 3, y + 15), (x, y + 20),
    ])  # fmt: skip
    found = way._straightened(path)
    assert len(found) < len(path)
    assert (found[0] == path[0]).all() and (found[-2:] == path[-2:]).all()
    kept = [int(np.flatnonzero((path == q).all(axis=1))[0]) for q in found]
    assert kept == sorted(kept)
    for a, b in zip(kept[:-2], kept[1:-1], strict=True):
        assert b == a + 1 or not p.work.nears(path[[a, b]], 0.5)


ANGLE = st.floats(0.0, 2 * np.pi)


@given(st.floats(20, 480), st.floats(20, 280), ANGLE, ANGLE, ANGLE)
@settings(max_examples=200, deadline=None)
def test_a_second_run_does_not_excuse_the_way_into_the_first(
    x: float, y: float, lead: float, first: float, second: float
) -> None:
    """Only into the second run may the work swing the long way round."""
    reach = reach_of(SAW, 500.0, 300.0)
    angles = np.array([lead, first, second])
    into, *onward = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    way = np.array([np.array([x, y]) - 5.0 * into, [x, y]])
    one, both = (lead_behind(reach, way, np.array(onward[:n])) for n in (1, 2))
    brute = brute_worst(reach.corners_mm, np.array([*way, way[-1] + onward[0]]), 0.5)
    assert one == pytest.approx(brute, abs=3.0)
    assert both >= one
    ahead = way[-1] + onward[1]
    assert both == pytest.approx(max(one, brute_turn(reach.corners_mm, way, ahead)), abs=3.0)
