"""Entry holes: drills that pass, full radius in waste, what is said when none fits."""

from __future__ import annotations

import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from shapely.geometry import LineString, Point, Polygon, box

from companion.pattern.model import Pattern
from companion.planner.holes import fitting_drills, widest_spot
from companion.planner.numbers import cut_of_opening
from companion.planner.rules import HoleRules, rules_for
from companion.shop import tables
from companion.shop.model import Drill
from tests.planner.drawn import (
    DRILLS,
    NO_3,
    disc,
    joined,
    panel,
    pattern_of,
    patterns,
    plan,
    regular,
    star,
    waste,
)  # fmt: skip

BARE = HoleRules(0.3, 1.0, 0.15, 0.0, 0, 2.0, 3.0)
"""No slack and no larger drill, to compare with the arithmetic of the table."""

NEXT_NUMBER_DRILL = {
    "2/0": "#72", "1": "#69", "2": "#67", "3": "#65", "4": "#61",
    "5": "#58", "7": "#55", "9": "#53", "12": "#51",
}  # fmt: skip
"""Least number drill above each blade's diagonal: facts section 3, derived (D) from the
table of blade sizes and ASME B94.11M number drills."""


@pytest.mark.parametrize(("blade", "drill"), NEXT_NUMBER_DRILL.items())
def test_the_least_number_drill_passes_the_blade(blade: str, drill: str) -> None:
    numbers = [tables.drill(f"#{n}") for n in range(80, 40, -1)]
    assert [d.name for d in fitting_drills(tables.blade(blade), numbers, BARE)] == [drill]


def test_a_57_drill_passes_a_number_3_blade() -> None:
    """Source: a scroll-saw workshop's blog of 2017-04-28 (facts section 3, C)."""
    assert fitting_drills(tables.blade("3"), [tables.drill("#57")], BARE)
    assert not fitting_drills(tables.blade("3"), [tables.drill("#66")], BARE)


def test_larger_drills_stay_within_the_steps_and_twice_the_blade() -> None:
    rules = rules_for().hole
    fits = fitting_drills(NO_3, DRILLS, rules)
    assert [d.diameter_mm for d in fits] == [1.0, 1.1, 1.2]
    coarse = [Drill("1", 1.0), Drill("3", 3.0)]
    assert [d.name for d in fitting_drills(NO_3, coarse, rules)] == ["1"]
    assert fitting_drills(NO_3, [Drill("5", 5.0)], rules)[0].name == "5", "one that passes"
    assert fitting_drills(NO_3, [Drill("0.9", 0.9)], rules) == ()


@given(patterns())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_holes_lie_in_waste_with_clearance_and_leads_too(pattern: Pattern) -> None:
    p = plan(pattern)
    free = waste(p)
    shapely.prepare(free)
    for c, e in zip(p.every, p.entries, strict=True):
        room = p.rooms.of(c)
        if e.drill is None:
            _, radius = widest_spot(room)
            least = fitting_drills(NO_3, DRILLS, p.rules.hole)[0].diameter_mm / 2
            assert radius < least + p.rules.hole.margin_mm + 0.05 or c.parent is not None
            assert any(f.code == "hole-no-room" for f in p.findings)
            continue
        clear = e.drill.diameter_mm / 2 + p.rules.hole.tight_margin_mm
        assert free.covers(Point(e.hole_mm).buffer(clear - 1e-6)), "full radius and margin"
        assert room.covers(Point(e.hole_mm)), "in its own waste"
        assert LineString(e.lead_mm).difference(free.buffer(1e-6)).length < 1e-6
        x, y = e.hole_mm
        edge = min(x, y, p.size_mm[0] - x, p.size_mm[1] - y) - e.drill.diameter_mm / 2
        assert edge >= p.rules.hole.frame_mm - 1e-9, "the frame stays whole"


@given(patterns())
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_holes_keep_clear_of_each_other(pattern: Pattern) -> None:
    p = plan(pattern)
    own = [e for e in p.entries if e.drill is not None and e.shares is None]
    for i, a in enumerate(own):
        for b in own[:i]:
            assert a.drill is not None and b.drill is not None
            apart = Point(a.hole_mm).distance(Point(b.hole_mm))
            assert apart > (a.drill.diameter_mm + b.drill.diameter_mm) / 2
    for e in p.entries:
        if e.shares is not None:
            assert e.hole_mm == p.entries[e.shares].hole_mm


def test_roomy_waste_gets_the_thicker_drill_and_tight_waste_the_thin_one() -> None:
    wide = plan(pattern_of((box(0, 0, 60, 60), [disc(10, (30, 30))], None)))
    assert wide.entries[0].drill == Drill("1.2 mm", 1.2)
    tight = plan(pattern_of((box(0, 0, 60, 60), [box(10, 30, 50, 31.7)], None)))
    assert tight.entries[0].drill == Drill("1 mm", 1.0)


def test_tight_waste_has_its_hole_at_the_widest_spot() -> None:
    """A drop: a wedge that only near its broad end lets a hole in (margin 0.15 to 0.3)."""
    drop = shapely.Polygon([(10, 30), (40, 29.3), (40, 30.7)])
    p = plan(pattern_of((box(0, 0, 60, 60), [drop], None)))
    (x, y), radius = widest_spot(p.every[0].ring)
    assert radius == pytest.approx(0.67, abs=0.02)
    assert p.entries[0].drill == Drill("1 mm", 1.0)
    assert p.entries[0].hole_mm == pytest.approx((x, y), abs=0.05)


def test_when_nothing_fits_the_finding_says_what_would() -> None:
    p = plan(pattern_of((box(0, 0, 60, 60), [box(10, 30, 50, 31.1)], None)))
    found = [f for f in p.findings if f.code == "hole-no-room"]
    assert p.entries[0].drill is None and len(found) == 1 and found[0].severity == "stop"
    assert "No. 2/0" in found[0].remedy and "0.8 mm" in found[0].remedy
    narrow = plan(pattern_of((box(0, 0, 60, 60), [box(10, 30, 50, 30.6)], None)))
    assert "Widen it by" in next(f for f in narrow.findings if f.code == "hole-no-room").remedy


def test_a_set_without_a_drill_for_the_blade_is_told_once() -> None:
    p = plan(panel(2, 30, 8), drills=(Drill("0.5 mm", 0.5),))
    assert [f.code for f in p.findings] == ["drill-missing"]
    assert "0.99 mm" in p.findings[0].text


def test_the_outside_hole_lies_in_the_margin_even_when_it_is_narrow() -> None:
    for margin in (5.0, 6.0, 15.0):
        p = plan(pattern_of((star(7, 40, 25), [], None)), margin=margin)
        e = p.entries[0]
        assert e.drill is not None
        assert p.rooms.of(p.every[0]).contains(Point(e.hole_mm).buffer(e.drill.diameter_mm / 2))


def test_a_margin_too_narrow_for_any_hole_is_told() -> None:
    p = plan(pattern_of((box(0, 0, 50, 50), [], None)), margin=3.0)
    assert p.entries[0].drill is None
    assert [f.code for f in p.findings] == ["hole-no-room"]
    assert p.findings[0].text.startswith("The waste around piece 1 ")
    slot = plan(pattern_of((box(0, 0, 60, 30), [box(10, 10, 50, 10.3)], None)))
    (told,) = [f for f in slot.findings if f.code == "hole-no-room"]
    assert told.text.startswith(f"The waste of cut {cut_of_opening(1)} ")


def test_one_hole_serves_two_lines_only_in_the_same_waste() -> None:
    """In a narrow ring of waste both lines get their own hole, far enough apart."""
    p = plan(
        pattern_of((box(0, 0, 60, 60), [disc(20, (30, 30))], None), (disc(18, (30, 30)), [], 1))
    )
    ring = p.every[0].ring.difference(p.every[2].ring)
    for i in (0, 2):
        e = p.entries[i]
        assert e.drill is not None and ring.contains(
            Point(e.hole_mm).buffer(e.drill.diameter_mm / 2)
        )


def test_a_pocket_with_room_for_one_hole_shares_it() -> None:
    """Opening and piece in it touch almost all around; one bay holds the only hole."""
    bay = joined(box(10, 20, 40, 50), disc(1.2, (40.6, 35)))
    inner = box(10.5, 20.5, 39.6, 49.5)
    p = plan(pattern_of((box(0, 0, 60, 70), [bay], None), (inner, [], 1)))
    entries = [p.entries[0], p.entries[2]]
    assert all(e.drill is not None for e in entries)
    assert [e.shares for e in entries] == [None, 0]
    assert entries[0].hole_mm == entries[1].hole_mm


def slabs(gap: float) -> Pattern:
    """Two columns of bars in an opening, nearer than a hole needs, and a bay on its left."""
    rows = [k * (8 + gap) for k in range(4)]
    bars = [box(x, y, x + 20, y + 8) for x in (0.0, 20.0 + gap) for y in rows]
    x1, y1 = 40 + 2 * gap, rows[-1] + 8 + gap
    opening = joined(box(-gap, -gap, x1, y1), box(-4, 10, 0, 14))
    return pattern_of((box(-15, -15, 60, 60), [opening], None), *((b, [], 1) for b in bars))


def test_a_line_no_hole_can_stand_beside_is_reached_along_the_waste() -> None:
    """The bars are walled in by gaps of 1 mm: holes need 1.3, the kerf 0.42."""
    p = plan(slabs(1.0))
    free = waste(p)
    for e in p.entries:
        assert e.drill is not None, "every piece can be cut"
        assert free.covers(Point(e.hole_mm).buffer(e.drill.diameter_mm / 2 + 0.15 - 1e-6))
        lead = LineString(e.lead_mm)
        assert lead.difference(free.buffer(1e-6)).length < 1e-6
        away = lead.difference(Point(e.start_mm).buffer(1.0))
        assert away.is_empty or away.distance(free.boundary) >= NO_3.kerf_mm / 2 - 0.01
    assert sum(len(e.lead_mm) > 2 for e in p.entries) >= 4, "round a corner, all of the right"


def test_gaps_narrower_than_the_kerf_are_told_as_such() -> None:
    p = plan(slabs(0.3))
    stuck = [e for e in p.entries if e.drill is None]
    told = [f for f in p.findings if f.code == "hole-no-way"]
    assert len(stuck) == len(told) > 0
    assert "kerf" in told[0].text and told[0].severity == "stop"


@pytest.mark.parametrize("nothing", [Polygon(), Polygon([(3, 4), (9, 4), (3, 4)])])
def test_the_widest_spot_of_no_area_has_no_radius(nothing: Polygon) -> None:
    place = (0.0, 0.0) if nothing.is_empty else (3.0, 4.0)
    assert widest_spot(nothing) == (place, 0.0)


@pytest.mark.parametrize("n", [3, 4, 6, 12])
def test_widest_spot_of_regular_polygons_is_their_inradius(n: int) -> None:
    """Geometry: inradius = circumradius cos(pi / n)."""
    import math

    _, radius = widest_spot(regular(n, 10.0), precision_mm=0.01)
    assert radius == pytest.approx(10.0 * math.cos(math.pi / n), abs=0.011)
