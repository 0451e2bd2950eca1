"""Corners and what is done at them: stable, and physically possible."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from companion.pattern.model import Pattern
from companion.planner.contours import Contour
from companion.planner.corners import Corner, corners
from companion.planner.linework import Line, line_of
from companion.planner.plan import Technique
from companion.planner.reach import reach_of
from companion.planner.turns import Ground, loop_path, loop_radii, techniques, turns
from companion.shop.model import SawProfile, Skill
from tests.planner.drawn import (
    NO_3,
    Planned,
    disc,
    openings,
    pattern_of,
    patterns,
    plan,
    regular,
    star,
)  # fmt: skip

CHORD = NO_3.width_mm


def line(shape: Polygon) -> Line:
    ring = shapely.geometry.polygon.orient(shape)
    return line_of(Contour(0, "inside", 1, 1, ring, None, ()))


def found(shape: Polygon, least: float = 42.0) -> tuple[Corner, ...]:
    return corners(line(shape), "inside", CHORD, least)


# --------------------------------------------------------------------- corners


@pytest.mark.parametrize("n", [3, 4, 5, 6, 7, 8])
def test_regular_polygons_have_their_exterior_angle(n: int) -> None:
    """Geometry: n corners of 360/n degrees."""
    got = found(regular(n, 20.0, turn=0.3))
    assert [c.bend_deg for c in got] == pytest.approx([360.0 / n] * n, abs=0.1)
    assert [c.waste_deg for c in got] == pytest.approx([180.0 - 360.0 / n] * n, abs=0.1)


def test_a_circle_that_the_blade_can_follow_has_no_corner() -> None:
    for r in (3.0, 10.0, 40.0):
        assert found(disc(r)) == ()
    assert len(found(disc(0.5))) == 3, "tighter than the blade: turned all around"


def test_a_tight_round_end_is_one_turn_about() -> None:
    pill = LineString([(0, 0), (12, 0)]).buffer(0.5)
    assert isinstance(pill, Polygon)
    got = found(pill)
    assert [round(c.bend_deg) for c in got] == [180, 180]


def test_a_square_end_wider_than_the_blade_is_two_corners_narrower_is_one() -> None:
    assert [round(c.bend_deg) for c in found(box(0, 0, 20, 1.0))] == [90] * 4
    assert [round(c.bend_deg) for c in found(box(0, 0, 20, 0.6))] == [180] * 2


def test_a_star_has_points_and_notches() -> None:
    got = found(star(5, 20, 8))
    assert sorted({round(c.waste_deg) for c in got}) == [38, 250]
    assert len(got) == 10


def test_a_rounded_corner_is_a_corner_when_the_blade_cannot_follow_it() -> None:
    for radius, corners_seen in ((0.3, 4), (3.0, 0)):
        shape = box(0, 0, 20, 20).buffer(-radius).buffer(radius, quad_segs=16)
        assert isinstance(shape, Polygon)
        got = found(shape)
        assert len(got) == corners_seen
        assert all(c.bend_deg == pytest.approx(90.0, abs=1.0) for c in got)


def test_jitter_of_a_traced_line_is_no_corner() -> None:
    """Points 0.2 mm apart, each 0.02 mm off: what tracing a scan leaves."""
    rng = np.random.default_rng(3)
    r = 15.0 + rng.normal(0.0, 0.02, 470)
    a = np.linspace(0, 2 * np.pi, 470, endpoint=False)
    assert found(Polygon(np.stack([r * np.cos(a), r * np.sin(a)], axis=1))) == ()


# ---------------------------------------- stable under resampling and movement


Found = list[tuple[NDArray[np.float64], float, set[Technique]]]
ROOM_BARELY = tuple(replace(NO_3, thickness_mm=NO_3.thickness_mm * k) for k in (0.9, 1.0, 1.1))
"""The blade with a body 1 % smaller and larger across: what fits by a hair goes either way."""


def mapped(p: Planned, move: Callable[[NDArray[np.float64]], NDArray[np.float64]]) -> Found:
    """All corners of a plan with place, bend and technique, places moved.

    Where the room is short or enough by a hair, both techniques.
    """
    ground = Ground(1e4, 1e4)
    out = []
    for c in p.every:
        tried = [techniques(p.work, c, blade, p.rules, ground) for blade in ROOM_BARELY]
        for same in zip(*tried, strict=True):
            at = move(np.array([same[0][0].at_mm]) - p.shift)[0]
            out.append((at, abs(same[0][0].bend_deg), {technique for _, technique in same}))
    return out


def assert_same(a: Found, b: Found) -> None:
    """Each clear corner of one list is in the other, with the same bend and technique."""
    for mine, others in ((a, b), (b, a)):
        for at, bend, either in mine:
            near = [o for o in others if np.hypot(*(o[0] - at)) < 0.15]
            if abs(bend - 42.0) < 2.0 and not near:
                continue  # on the threshold of being steered
            assert near, f"corner at {at} of {bend:.1f} degrees has no match"
            assert min(abs(o[1] - bend) for o in near) < 1.0
            assert any(either & o[2] for o in near)


@st.composite
def plaques(draw: st.DrawFn) -> Pattern:
    holes = [affinity.translate(draw(openings(30.0)), 20 + 32 * i, 20) for i in range(2)]
    solid = [h for h in holes if isinstance(h, Polygon)]
    return pattern_of((box(0, 0, 72, 40), solid, None))


def moved_pattern(pattern: Pattern, move: Callable[[Polygon], Polygon]) -> Pattern:
    piece = pattern.pieces[0]
    return pattern_of(
        (move(Polygon(piece.shape.exterior)), [move(o.ring) for o in piece.openings], None)
    )


@given(plaques(), st.floats(-180, 180), st.booleans())
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_rotating_or_mirroring_the_pattern_maps_the_turns(
    pattern: Pattern, angle: float, mirror: bool
) -> None:
    def move(p: Polygon) -> Polygon:
        q = affinity.scale(p, -1.0, 1.0, origin=(0, 0)) if mirror else p
        r = affinity.rotate(q, angle, origin=(0, 0))
        assert isinstance(r, Polygon)
        return r

    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    matrix = np.array([[-c if mirror else c, -s], [-s if mirror else s, c]])
    plain = plan(pattern)
    other = plan(moved_pattern(pattern, move))
    assert_same(mapped(plain, lambda xy: xy @ matrix.T), mapped(other, lambda xy: xy))


@given(plaques(), st.floats(0.07, 1.7), st.integers(0, 200))
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_resampling_the_lines_keeps_the_turns(pattern: Pattern, step: float, roll: int) -> None:
    def move(p: Polygon) -> Polygon:
        xy = shapely.get_coordinates(p.segmentize(step).exterior)[:-1]
        return Polygon(np.roll(xy, roll, axis=0)[::-1])

    plain, other = plan(pattern), plan(moved_pattern(pattern, move))
    assert_same(mapped(plain, lambda xy: xy), mapped(other, lambda xy: xy))


# ------------------------------------------------------- physically possible


def blade_at(centre: NDArray[np.float64], angle: float) -> Polygon:
    """The blade's section with its teeth ahead, turned by an angle."""
    strip = box(
        -NO_3.width_mm / 2, -NO_3.thickness_mm / 2, NO_3.width_mm / 2, NO_3.thickness_mm / 2
    )
    out = affinity.translate(affinity.rotate(strip, angle, origin=(0, 0)), *centre)
    assert isinstance(out, Polygon)
    return out


@given(patterns(2), st.sampled_from(["beginner", "practised"]))
@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_a_proposed_spin_leaves_the_piece_whole(pattern: Pattern, skill: Skill) -> None:
    """Somewhere within the allowed step back the whole blade turns without touching wood
    that is kept: found by eroding the waste, not by the planner's own search.
    """  # noqa: D205
    p = plan(pattern, skill=skill)
    radius = NO_3.passes_mm / 2
    ground = Ground(*p.size_mm)
    for c in p.every:
        room = p.rooms.of(c)
        free = room.buffer(-(radius - 0.03), quad_segs=32)
        for corner, technique in techniques(p.work, c, NO_3, p.rules, ground):
            if technique != "spin":
                continue
            at = Point(corner.at_mm)
            back = radius + p.rules.turn.back_up_widths * NO_3.width_mm
            assert free.distance(at) <= back + 0.05
            nearest = shapely.get_coordinates(shapely.shortest_line(free, at))[0]
            swept = shapely.union_all([blade_at(nearest, a) for a in range(0, 360, 15)])
            assert swept.difference(room).area < 0.02, "no more than 0.02 mm2 of the piece"


@given(patterns(2))
@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_a_proposed_loop_stays_in_waste(pattern: Pattern) -> None:
    p = plan(pattern, skill="beginner")
    ground = Ground(*p.size_mm)
    for c in p.every:
        room = p.rooms.of(c)
        for corner, technique in techniques(p.work, c, NO_3, p.rules, ground):
            if technique != "loop":
                continue
            assert corner.waste_deg > 180.0
            assert any(
                in_waste(room, corner, loop_of(p, c, corner, radius))
                for radius in loop_radii(NO_3, p.rules)
            ), "of one radius the kerf lies in waste and its chip is waste"


def in_waste(room: BaseGeometry, corner: Corner, path: LineString) -> bool:
    outer = path.difference(Point(corner.at_mm).buffer(2 * NO_3.kerf_mm))
    chip = Polygon(path.coords).buffer(-0.05)
    return room.covers(outer.buffer(NO_3.kerf_mm / 2)) and room.buffer(1e-3).covers(chip)


def loop_of(p: Planned, contour: Contour, corner: Corner, radius: float) -> LineString:
    line_ = p.work.lines[contour.index]
    reach = max(CHORD, corner.span_mm) / 2
    a = np.array([corner.arc_mm])
    before = line_.at(a - reach) - line_.at(a - reach - CHORD)
    after = line_.at(a + reach + CHORD) - line_.at(a + reach)
    return LineString(
        loop_path(
            np.array(corner.at_mm), (before / np.hypot(*before[0]))[0],
            (after / np.hypot(*after[0]))[0], radius,
        )
    )  # fmt: skip


@pytest.mark.parametrize("turn", [30.0, 60.0, 90.0, 120.0, 150.0, -45.0, -135.0])
def test_a_loop_leaves_and_comes_back_on_the_lines(turn: float) -> None:
    before = np.array([1.0, 0.0])
    after = np.array([math.cos(math.radians(turn)), math.sin(math.radians(turn))])
    path = loop_path(np.zeros(2), before, after, 2.0)
    first, last = path[1] - path[0], path[-1] - path[-2]
    assert first @ before / np.hypot(*first) == pytest.approx(1.0)
    assert last @ after / np.hypot(*last) == pytest.approx(1.0)
    step = np.diff(path, axis=0)
    heading = np.unwrap(np.arctan2(step[:, 1], step[:, 0]))
    total = math.degrees(heading[-1] - heading[0])
    assert total == pytest.approx(turn - math.copysign(360.0, turn), abs=1e-6), "the long way"
    bends = np.abs(np.degrees(np.diff(heading)))
    assert bends.max() < 20.0, "never on the spot"


def outside_techniques(margin: float, gone: Polygon | None = None) -> list[Technique]:
    """Techniques at the points of a star's outline, as a beginner."""
    p = plan(pattern_of((star(6, 30, 20), [], None)), margin=margin, skill="beginner")
    ground = Ground(*p.size_mm, gone)
    found_ = techniques(p.work, p.every[0], NO_3, p.rules, ground)
    return [t for c, t in found_ if c.waste_deg > 180.0]


def test_a_loop_needs_room_in_the_margin_and_waste_that_is_still_there() -> None:
    assert set(outside_techniques(25.0)) == {"loop"}
    assert "loop" not in outside_techniques(4.5), "it would run out of the board"
    everything = box(-100, -100, 200, 200)
    assert "loop" not in outside_techniques(25.0, everything)


def test_a_loop_must_not_swing_the_board_into_the_frame() -> None:
    p = plan(pattern_of((star(6, 30, 20), [], None)), margin=25.0, skill="beginner")
    for throat, wanted in ((160.0, {"loop"}), (95.0, {"back-out"})):
        reach = reach_of(SawProfile(throat, 50.0, 10.0, 10.0), *p.size_mm)
        got = techniques(p.work, p.every[0], NO_3, p.rules, Ground(*p.size_mm, reach=reach))
        assert {t for c, t in got if c.waste_deg > 180.0} == wanted


def test_the_beginner_backs_out_where_the_practised_spins() -> None:
    pattern = pattern_of((box(0, 0, 60, 60), [box(15, 15, 45, 45)], None))
    seen = {}
    for skill in ("beginner", "practised"):
        p = plan(pattern, skill=skill)
        seen[skill] = {t for _, t in techniques(p.work, p.every[0], NO_3, p.rules, Ground(90, 90))}
    assert seen == {"beginner": {"back-out"}, "practised": {"spin"}}


def test_a_slot_too_narrow_to_spin_in_is_backed_out_of() -> None:
    """0.9 mm wide: the blade's section sweeps 0.89 mm, its disc cannot leave the line."""
    for width, wanted in ((0.8, "back-out"), (1.4, "spin")):
        p = plan(pattern_of((box(0, 0, 60, 30), [box(10, 10, 50, 10 + width)], None)))
        got = {t for _, t in techniques(p.work, p.every[0], NO_3, p.rules, Ground(90, 90))}
        assert got == {wanted}


# --------------------------------------------------------------- along the cut


@given(patterns(2))
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_turns_come_in_travel_order_at_their_place_on_the_line(pattern: Pattern) -> None:
    p = plan(pattern)
    for c, e in zip(p.every, p.entries, strict=True):
        path = LineString(e.line_mm)
        got = turns(p.work, c, e, NO_3, p.rules, Ground(*p.size_mm))
        assert [t.along_mm for t in got] == sorted(t.along_mm for t in got)
        for t in got:
            assert path.interpolate(t.along_mm).distance(Point(t.at_mm)) < 1e-6
            assert 42.0 <= t.angle_deg <= 180.0


def test_the_corner_where_the_cut_starts_is_no_turn() -> None:
    p = plan(pattern_of((box(0, 0, 60, 60), [box(15, 15, 45, 45)], None)))
    got = turns(p.work, p.every[0], p.entries[0], NO_3, p.rules, Ground(*p.size_mm))
    assert len(got) == 3
    assert [round(t.along_mm) for t in got] == [30, 60, 90]


@given(st.floats(20, 70), st.floats(5, 40))
@settings(max_examples=30, deadline=None)
def test_bend_of_a_wedge_is_its_own_angle(half: float, side: float) -> None:
    assume(abs(half - 69) > 3)
    x, y = side * math.cos(math.radians(half)), side * math.sin(math.radians(half))
    got = found(Polygon([(0, 0), (x, -y), (x, y)]))
    tip = [c for c in got if math.hypot(*c.at_mm) < 0.01]
    assert len(tip) == 1
    assert tip[0].waste_deg == pytest.approx(2 * half, abs=0.1)
