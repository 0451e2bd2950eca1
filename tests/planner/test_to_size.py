"""Round openings of a drill's size: what is round, which drill, and a plan without their cuts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Polygon, box

from companion.findings import Finding, Point
from companion.pattern.limits import limits
from companion.pattern.model import Pattern
from companion.pattern.options import ReadOptions
from companion.pattern.reader import read_pattern
from companion.planner.contours import contours
from companion.planner.drilling import drilling_order
from companion.planner.make import make_plan
from companion.planner.order import BoardModel, OrderItem
from companion.planner.plan import Hole, Plan, SizedHole, plan_from_json
from companion.planner.project import Pin, ProjectSpec
from companion.planner.rounds import drill_rounds, round_amount
from companion.planner.rules import rules_for
from companion.planner.timing import rates_for, task
from companion.planner.to_size import (
    MOST_NAMED,
    Fit,
    circle_of,
    could_be,
    drill_for,
    fits,
    is_round,
    or_drilled,
)
from companion.shop import tables
from companion.shop.model import Drill
from companion.shop.settings import default_settings
from companion.words import ENGLISH
from tests.planner.drawn import disc, panel, pattern_of, patterns, regular

SPEC = ProjectSpec("test", Path("."), Path("x.svg"))
DRILLED = replace(SPEC, round_openings="drill")
RULES = rules_for("practised")
MARGIN = RULES.hole.margin_mm
OFF = tables.limit("round-by-drill").value
THREE = Drill("3.0 mm", 3.0)


def rack(*holes: Polygon, veins: tuple[LineString, ...] = ()) -> Pattern:
    """A plate of 80 x 50 mm with some openings."""
    return pattern_of((box(0, 0, 80, 50), list(holes), None), veins=veins)


def planned(pattern: Pattern, spec: ProjectSpec = DRILLED) -> Plan:
    return make_plan(spec, pattern, default_settings())


def found(
    pattern: Pattern, drills: Sequence[Drill] = (THREE,), pins: Sequence[Pin] = ()
) -> tuple[Fit, ...]:
    return fits(contours(pattern), drills, RULES, pins, pattern.veins)


# ---------------------------------------------------------------- what is round


@given(
    st.integers(3, 200), st.floats(0.2, 8.0), st.floats(-50, 50), st.floats(-50, 50),
    st.floats(0.0, 7.0),
)  # fmt: skip
def test_the_circle_of_a_regular_polygon(n: int, r: float, x: float, y: float, turn: float) -> None:
    """Closed form: corners at r, the middles of its edges at r cos(pi / n)."""
    circle = circle_of(regular(n, r, (x, y), turn))
    near = r * math.cos(math.pi / n)
    assert math.dist(circle.centre_mm, (x, y)) < 1e-6
    assert circle.radius_mm == pytest.approx((r + near) / 2, abs=1e-6)
    assert circle.off_mm == pytest.approx((r - near) / 2, abs=1e-6)


@given(st.floats(0.2, 5.0), st.lists(st.floats(0.0, 1.0), max_size=40))
def test_points_crowded_on_one_side_do_not_move_the_circle(r: float, more: list[float]) -> None:
    """Extra points on the same line are no other line."""
    line = LineString(regular(24, r).exterior.coords)
    along = sorted({*np.linspace(0, 1, 25)[:-1].tolist(), *(m / 3 for m in more)})
    crowded = Polygon([line.interpolate(a, normalized=True).coords[0] for a in along])
    plain, other = circle_of(regular(24, r)), circle_of(crowded)
    assert math.dist(plain.centre_mm, other.centre_mm) < 1e-6
    assert other.radius_mm == pytest.approx(plain.radius_mm, abs=1e-6)


@given(st.floats(0.3, 6.0), st.floats(0.0, 7.0))
def test_what_is_meant_as_a_shape_is_not_round(r: float, turn: float) -> None:
    """Up to an octagon it is sawn, whatever its size; from a dozen sides on it is a circle."""
    for n in range(3, 9):
        off = circle_of(regular(n, r, turn=turn)).off_mm
        # so small that nobody could tell, and the reader's chords are off by as much
        assume(off > RULES.to_size.round_least_mm)
        assert not is_round(circle_of(regular(n, r, turn=turn)), RULES.to_size), n
    twelve = circle_of(regular(12, r, turn=turn))
    assert is_round(twelve, RULES.to_size) == (twelve.off_mm <= RULES.to_size.round_off_mm)


def test_the_readers_own_chords_never_make_a_circle_unround() -> None:
    assert limits().flatness_mm <= RULES.to_size.round_least_mm


def test_oval_flat_and_notched_are_not_round() -> None:
    oval = affinity.scale(disc(1.5), 1.12, 1.0)
    flat = disc(1.5).intersection(box(-2, -2, 1.2, 2))
    notched = disc(1.5).difference(box(1.2, -0.3, 2, 0.3))
    for shape in (oval, flat, notched):
        assert isinstance(shape, Polygon)
        assert not is_round(circle_of(shape), RULES.to_size)
    # a hundredth out of round is what drawing programs make of a circle
    assert is_round(circle_of(affinity.scale(disc(1.5), 1.01, 1.0)), RULES.to_size)


def test_every_drill_of_the_table_makes_the_circle_of_its_size_as_the_reader_sees_it(
    tmp_path: Path,
) -> None:
    """Each size that is sold, drawn as a circle and as two arcs, read, and found again."""
    for drill in tables.all_drills().values():
        d = drill.diameter_mm
        ring = f"M{10 - d / 2} 10a{d / 2} {d / 2} 0 1 0 {d} 0a{d / 2} {d / 2} 0 1 0 {-d} 0z"
        path = tmp_path / "one.svg"
        path.write_text(
            '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="20mm" '
            f'viewBox="0 0 40 20"><path d="M0 0h40v20h-40z"/><path fill="#fff" d="{ring}"/>'
            f'<circle fill="#fff" cx="30" cy="10" r="{d / 2}"/></svg>'
        )
        pattern = read_pattern(path, ReadOptions())
        if len(pattern.openings) < 2:
            assert d < 0.4, "only what is a speck to the reader is left out"
            continue
        holes = found(pattern, [drill])
        assert [h.drill for h in holes] == [drill, drill], drill
        for hole, at in zip(sorted(h.at_mm for h in holes), ((10, 10), (30, 10)), strict=True):
            assert math.dist(hole, at) < 0.02


# ------------------------------------------------------------------ which drill


@pytest.mark.parametrize(("off", "made"), [
    (-OFF - 0.01, False), (-OFF + 0.01, True), (0.0, True), (OFF - 0.01, True), (OFF + 0.01, False),
])  # fmt: skip
def test_a_drill_may_miss_the_diameter_by_the_tables_tolerance(off: float, made: bool) -> None:
    hole = disc((3.0 + off) / 2, (20, 20), 720)
    assert bool(found(rack(hole))) == made


def test_of_several_drills_the_nearest_is_taken() -> None:
    names = ["2.9 mm", "3.0 mm", "1/8 in", "#31", "3.1 mm"]
    drills = [tables.drill(n) for n in names if n in tables.all_drills()]
    for wide in np.arange(2.85, 3.2, 0.01):
        got = drill_for(circle_of(disc(wide / 2, points=720)), drills)
        assert got is not None
        best = min(abs(d.diameter_mm - wide) for d in drills)
        assert abs(got.diameter_mm - wide) == pytest.approx(best, abs=1e-3)
    assert drill_for(circle_of(disc(5.0)), drills) is None
    assert drill_for(circle_of(disc(1.5)), ()) is None


# --------------------------------------------------------------- where it is safe


@pytest.mark.parametrize("spare", [-0.02, 0.02])
def test_around_the_drill_stays_the_wood_that_every_hole_demands(spare: float) -> None:
    clear = 1.5 + MARGIN + spare
    at_edge = rack(disc(1.5, (clear, 25), 720))
    beside = rack(disc(1.5, (20, 20), 720), box(20 + clear, 10, 40, 30))
    vein = LineString([(30, 5), (30, 45)])
    by_vein = rack(disc(1.5, (30 - clear, 25), 720), veins=(vein,))
    for pattern in (at_edge, beside, by_vein):
        assert bool(found(pattern)) == (spare > 0)
    two = rack(disc(1.5, (20, 20), 720), disc(1.5, (20 + 1.5 + clear, 20), 720))
    assert len(found(two)) == (2 if spare > 0 else 0)


def test_what_the_sawyer_pinned_is_sawn() -> None:
    pattern = rack(disc(1.5, (20, 20)), disc(1.5, (40, 20)))
    assert [f.contour for f in found(pattern, pins=[Pin(opening=1, direction="clockwise")])] == [1]
    assert len(found(pattern, pins=[Pin(piece=1, direction="clockwise")])) == 2


def test_an_opening_with_a_piece_in_it_is_sawn() -> None:
    pattern = pattern_of(
        (box(0, 0, 40, 40), [disc(1.5, (20, 20))], None), (disc(0.6, (20, 20)), [], 1)
    )
    assert not found(pattern)


@settings(deadline=None, max_examples=150)
@given(patterns(), st.lists(st.sampled_from(sorted(tables.all_drills())), min_size=1, max_size=6))
def test_a_fit_lies_in_its_opening_and_bites_no_line(pattern: Pattern, names: list[str]) -> None:
    """Judged by the drill's own circle, against the shapes."""
    every = contours(pattern)
    # patterns are drawn at the scale of openings; a drill's scale is a tenth of it
    small = [affinity.scale(c.ring, 0.1, 0.1, origin=(0, 0)) for c in every]
    every = tuple(replace(c, ring=r) for c, r in zip(every, small, strict=True))
    for fit in fits(every, [tables.drill(n) for n in names], RULES):
        ring = every[fit.contour].ring
        made = disc(fit.drill.diameter_mm / 2, fit.at_mm, 360)
        slack = RULES.to_size.round_off_mm + OFF / 2
        assert ring.buffer(slack + 1e-6).covers(made) and made.buffer(slack + 1e-6).covers(ring)
        for other in every:
            if other.index != fit.contour:
                assert other.ring.exterior.distance(made) >= MARGIN - 1e-3


# --------------------------------------------------------------------- the plan


MIXED = rack(
    disc(1.5, (10, 10)), disc(1.25, (20, 10)), disc(1.5, (30, 10)), disc(5.0, (45, 25)),
    box(60, 10, 63, 13), disc(0.4, (70, 40)),
)  # fmt: skip


def test_off_the_plan_says_what_could_be_drilled_and_cuts_all() -> None:
    plan = planned(MIXED, SPEC)
    assert plan.to_size == () and len(plan.cuts) == 7
    (told,) = [f for f in plan.findings if f.code == "round-by-drill"]
    assert told.severity == "note"
    of = {c.opening: c.number for c in plan.cuts}
    assert told.text.startswith("4 round openings have the size of drills you own")
    threes = ", ".join(map(str, sorted((of[1], of[3]))))
    assert f"0.8 mm: cut {of[6]}; 2.5 mm: cut {of[2]}; 3.0 mm: cuts {threes}" in told.text
    assert 'round_openings = "drill"' in told.remedy and "--round-openings drill" in told.remedy


def test_without_one_nothing_is_said() -> None:
    plan = planned(rack(disc(5.0, (45, 25)), box(60, 10, 63, 13)), SPEC)
    assert not [f for f in plan.findings if f.code == "round-by-drill"]


def test_many_are_counted_beyond_the_first() -> None:
    some = [Fit(n, (float(n), 1.0), THREE) for n in range(MOST_NAMED + 3)]
    (told,) = could_be(some, {n: n + 1 for n in range(MOST_NAMED + 3)}, ENGLISH)
    assert told.text.endswith(f"{MOST_NAMED} and 3 more).")


def test_on_they_are_drilled_and_have_neither_thread_nor_cut() -> None:
    plan, before = planned(MIXED), planned(MIXED, SPEC)
    assert sorted(h.opening for h in plan.to_size) == [1, 2, 3, 6]
    assert sorted(c.opening for c in plan.cuts if c.opening is not None) == [4, 5]
    assert plan.openings == before.openings == 6 and plan.kept_area_mm2 == before.kept_area_mm2
    assert sorted(h.number for h in plan.to_size) == [4, 5, 6, 7]
    assert not [f for f in plan.findings if f.code == "round-by-drill"]
    shift = (15.0, 15.0)
    for hole, at, size in zip(
        sorted(plan.to_size, key=lambda h: h.opening),
        ((10, 10), (20, 10), (30, 10), (70, 40)), (3.0, 2.5, 3.0, 0.8), strict=True,
    ):  # fmt: skip
        assert math.dist(hole.at_mm, (at[0] + shift[0], at[1] + shift[1])) < 1e-6
        assert hole.drill_mm == size and hole.piece == 1 and hole.within == plan.cuts[-1].number
    spoken = " ".join(s.say for s in plan.steps if s.stage == "drill")
    assert spoken.count("to size") == 3 and spoken.count("Clamp board and backing;") == 3
    why = [s.why for s in plan.steps if s.stage == "drill"]
    assert all("Rub off the burr below" in one for one in why) and len(why) > 3
    assert {s.cut for s in plan.steps if s.stage in ("thread", "cut", "lip", "clear", "free")} == {
        1, 2, 3,
    }  # fmt: skip
    assert plan.minutes.likely < before.minutes.likely
    again = plan_from_json(plan.to_json())
    assert again.to_size == tuple(
        replace(h, at_mm=(round(h.at_mm[0], 4), round(h.at_mm[1], 4))) for h in plan.to_size
    )
    assert again.short_hash == plan.short_hash != before.short_hash


def test_the_name_of_a_plan_without_them_is_what_it_was() -> None:
    """The sheets on the boards stay good: the key that was added is not in their names."""
    plan = planned(rack(disc(5.0, (45, 25))), SPEC)
    assert plan.short_hash == replace(plan, to_size=()).short_hash
    drilled = replace(plan, to_size=(SizedHole(3, (1.0, 1.0), 3.0, "3.0 mm", 1, 1, 2),))
    assert drilled.short_hash != plan.short_hash
    other = replace(drilled, to_size=(replace(drilled.to_size[0], drill_mm=2.5),))
    assert other.short_hash not in (drilled.short_hash, plan.short_hash)


def test_an_opening_too_small_to_thread_is_no_trouble_when_drilled() -> None:
    """Neither its room nor its width asks for a finer blade, and neither stops the plan."""
    tiny = rack(disc(0.4, (20, 20)), disc(8.0, (50, 25)))
    before, plan = planned(tiny, SPEC), planned(tiny)
    assert before.has_stop and not plan.has_stop
    (stop,) = [f for f in before.findings if f.code == "hole-no-room"]
    assert stop.remedy.endswith(" Or drill it to size: --round-openings drill.")
    assert before.blade.kerf_mm < plan.blade.kerf_mm
    # the drill that passes the blade is told, not one of the sizes
    assert plan.blade.drill_mm == min(h.drill_mm for h in plan.holes) > 0.8


def test_only_what_a_drill_would_make_is_told_to_be_drilled() -> None:
    """A slot as narrow stops the plan too, and no drill makes it; nor is another stop touched."""
    tiny = rack(disc(0.4, (20, 20)), box(40.0, 10.0, 40.6, 30.0))
    told = {f.at_mm[0] > 45.0: f.remedy for f in planned(tiny, SPEC).findings
            if f.code == "hole-no-room" and f.at_mm is not None}  # fmt: skip
    assert sorted(told) == [False, True]
    assert "drill it to size" in told[False] and "drill it to size" not in told[True]
    other = Finding("part-comes-free", "note", (35.0, 35.0), "Loose.", "Tie it.")
    assert or_drilled([other], [Fit(0, (35.0, 35.0), THREE)], ENGLISH) == [other]


def test_all_openings_drilled_leave_one_cut() -> None:
    plan = planned(panel(3, 12.0, 1.5))
    assert len(plan.to_size) == 9 and [c.side for c in plan.cuts] == ["outside"]
    assert plan.cuts[0].clip == ()
    assert plan.cuts[0].area_mm2 == pytest.approx(plan.kept_area_mm2, rel=1e-9)
    # fuzz is cleared out of drilled openings too
    assert any(s.title == "Clear the openings" for s in plan.steps)


def test_a_pattern_within_an_opening_keeps_its_numbers() -> None:
    """A piece in an opening with a drilled hole of its own: each says which cut frees it."""
    ring = pattern_of(
        (box(0, 0, 80, 80), [disc(30.0, (40, 40)), disc(1.5, (6, 6))], None),
        (disc(20.0, (40, 40)), [disc(1.25, (40, 40))], 1),
    )
    plan = planned(ring)
    frees = {c.number: c for c in plan.cuts}
    for hole in plan.to_size:
        assert frees[hole.within].side == "outside" and frees[hole.within].piece == hole.piece
    assert sorted(h.opening for h in plan.to_size) == [2, 3]
    assert [c.number for c in plan.cuts] == [1, 2, 3]


def test_veins_keep_clear_of_what_is_drilled() -> None:
    line = LineString([(30, 25), (60, 25)])
    plan = planned(rack(disc(1.5, (25.0, 25)), veins=(line,)))
    (hole,) = plan.to_size
    vein = next(c for c in plan.cuts if c.is_vein)
    assert math.dist(vein.lead_mm[0], hole.at_mm) >= hole.drill_mm / 2 + plan.blade.drill_mm / 2


@settings(deadline=None, max_examples=12)
@given(patterns(2))
def test_the_plan_holds_with_some_openings_drilled(pattern: Pattern) -> None:
    """Same input, same plan; each cut's area is what it frees, drilled openings left out."""
    holes = [disc(1.5, (x, y)) for x, y in _free_places(pattern)]
    assume(holes)
    piece = pattern.pieces[0]
    rings = [Polygon(o.ring.exterior) for o in piece.openings]
    nested: list[tuple[Polygon, list[Polygon], int | None]] = [
        (Polygon(p.shape.exterior), [], p.within)
        for p in pattern.pieces[1:]
        if p.within is not None
    ]
    made = pattern_of((Polygon(piece.shape.exterior), [*rings, *holes], None), *nested)
    plan = planned(made)
    assert plan.to_json() == planned(made).to_json()
    assert len(plan.to_size) >= len(holes)
    freed = sum(c.area_mm2 for c in plan.cuts if c.side == "outside")
    assert freed == pytest.approx(plan.kept_area_mm2, rel=1e-6)
    cut = sum(len(c.clip) for c in plan.cuts)
    assert cut == sum(c.within is not None and not c.is_vein for c in plan.cuts)


def _free_places(pattern: Pattern) -> list[Point]:
    """Places in the first piece with 3 mm of wood around them."""
    wood = pattern.pieces[0].shape.buffer(-3.0)
    x0, y0, x1, y1 = pattern.bounds_mm
    grid = [(x, y) for x in np.linspace(x0, x1, 8) for y in np.linspace(y0, y1, 8)]
    kept: list[Point] = []
    for x, y in grid:
        near = any(math.dist((x, y), k) < 6.0 for k in kept)
        if not near and wood.contains(disc(0.1, (x, y))):
            kept.append((float(x), float(y)))
    return kept[:5]


# ------------------------------------------------------------- rounds and order


def test_rounds_go_thin_to_thick_and_change_the_drill_only_when_it_differs() -> None:
    holes = [Hole(1, (0.0, 0.0), 1.5, 1, "1.5 mm"), Hole(2, (9.0, 0.0), 3.0, 2, "3.0 mm"),
             Hole(3, (9.0, 9.0), 0.0, 3)]  # fmt: skip
    sized = [SizedHole(4, (5.0, 5.0), 3.0, "3.0 mm", 4, 1, 3),
             SizedHole(5, (6.0, 9.0), 1.0, "1.0 mm", 5, 1, 3),
             SizedHole(6, (1.0, 1.0), 3.0, "3.0 mm", 6, 1, 3)]  # fmt: skip
    rounds = drill_rounds([*holes, *sized])
    assert [(r.drill_mm, r.to_size, r.change, r.numbers) for r in rounds] == [
        (1.0, True, False, [5]), (1.5, False, True, [1]), (3.0, False, True, [2]),
        (3.0, True, False, [4, 6]),
    ]  # fmt: skip
    rates = rates_for("practised")
    once, changed = task(rates, "drill_to_size"), task(rates, "drill_change")
    assert round_amount(rounds[0], rates) == once
    assert round_amount(rounds[3], rates).seconds == pytest.approx(2 * once.seconds)
    assert round_amount(rounds[1], rates).seconds == pytest.approx(
        task(rates, "drill_hole").seconds + changed.seconds
    )
    assert once.seconds > task(rates, "drill_hole").seconds
    # with each drill a short round from the top left
    assert [h.number for h in drilling_order(sized)] == [5, 6, 4]


@settings(deadline=None, max_examples=20)
@given(st.floats(3.0, 12.0), st.floats(30.0, 70.0), st.floats(20.0, 40.0))
def test_drilled_wood_is_gone_before_the_first_cut(r: float, x: float, y: float) -> None:
    """As when it were the first cut: the board gives the same, told against its own weakest."""
    other, gone = disc(6.0, (40, 30)), disc(r, (x + 30, y))

    def item(index: int, shape: Polygon) -> OrderItem:
        line = np.array(shape.exterior.coords)
        return OrderItem(index, shape, line, frozenset(), (0.0, 0.0), "inside", 1, shape.area)

    drilled = BoardModel([item(0, other)], 130.0, 60.0, 400, gone=gone)
    sawn = BoardModel([item(0, other), item(1, gone)], 130.0, 60.0, 400)
    a = drilled.cost([0], [0])[0] * drilled.whole_give
    b = sawn.cost([0, 1], [0])[0] * sawn.whole_give
    assert a == pytest.approx(b, rel=1e-6)
    assert drilled.whole_give >= sawn.whole_give * (1 - 1e-9)
