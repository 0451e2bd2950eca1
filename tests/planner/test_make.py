"""The whole plan: what must hold for any pattern, on drawn ones and on the demos."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from shapely.geometry import LineString, Point, Polygon, box

from companion.devices.paths import shipped
from companion.errors import PlanError, ShopError
from companion.findings import Finding
from companion.pattern.model import Pattern
from companion.planner.make import PlanStopped, make_plan, place, plan_project
from companion.planner.plan import Direction, Plan, plan_from_json
from companion.planner.project import Pin, ProjectSpec, load_project
from companion.planner.weak import weak_places
from companion.shop import tables
from companion.shop.model import Drill
from companion.shop.settings import default_settings
from tests.planner.drawn import disc, panel, pattern_of, patterns, star

SPEC = ProjectSpec("test", Path("."), Path("x.svg"))
DEMOS = sorted(p.name for p in shipped("demo_projects").iterdir() if (p / "project.toml").is_file())


def planned(pattern: Pattern, spec: ProjectSpec = SPEC) -> Plan:
    return make_plan(spec, pattern, default_settings())


def check(plan: Plan) -> None:
    """What every plan must keep, worked out from its own lines, by brute force."""
    numbers = list(range(1, len(plan.cuts) + 1))
    assert [c.number for c in plan.cuts] == numbers
    assert plan.pieces + plan.openings == len(plan.cuts)
    assert sorted(c.opening for c in plan.cuts if c.opening is not None) == list(
        range(1, plan.openings + 1)
    )
    assert sorted(c.piece for c in plan.cuts if c.side == "outside") == list(
        range(1, plan.pieces + 1)
    )
    _nesting(plan)
    _holes(plan)
    for cut in plan.cuts:
        assert cut.line_mm[0] == cut.line_mm[-1] == cut.start_mm == cut.lead_mm[-1]
        hole = next(h for h in plan.holes if h.number == cut.hole)
        assert cut.lead_mm[0] == hole.at_mm
        length = LineString(cut.line_mm).length
        assert cut.length_mm == pytest.approx(length, rel=1e-6)
        assert all(0 < t.along_mm < length for t in cut.turns)
        assert [t.along_mm for t in cut.turns] == sorted(t.along_mm for t in cut.turns)
        signed = sum(
            a[0] * b[1] - b[0] * a[1] for a, b in zip(cut.line_mm, cut.line_mm[1:], strict=False)
        )
        assert (signed > 0) == (cut.direction == "clockwise")  # y down
        steps = sum(s.minutes.likely for s in plan.steps if s.cut == cut.number)
        assert cut.minutes.likely == pytest.approx(steps, rel=1e-6), "sum of its own steps"
    assert plan.minutes.low < plan.minutes.likely < plan.minutes.high
    assert plan_from_json(plan.to_json()).to_json() == plan.to_json()


def _nesting(plan: Plan) -> None:
    """A contour that lies inside another comes before it, judged by its own points."""
    rings = {c.number: Polygon(c.line_mm) for c in plan.cuts}
    for c in plan.cuts:
        inside = rings[c.number].representative_point()
        around = [
            n for n, r in rings.items()
            if n != c.number and r.contains(inside) and r.area > rings[c.number].area
        ]  # fmt: skip
        assert all(n > c.number for n in around), (c.number, around)
        nearest = min(around, key=lambda n: rings[n].area, default=None)
        assert c.within == nearest
        assert tuple(sorted(n for n in rings if plan.cuts[n - 1].within == c.number)) == c.clip


def _holes(plan: Plan) -> None:
    """A hole lies in waste with its full radius, in the region of its own cut."""
    kept = [
        Polygon(c.line_mm).difference(
            Polygon() if not c.clip else _union([Polygon(plan.cuts[n - 1].line_mm) for n in c.clip])
        )
        for c in plan.cuts
        if c.side == "outside"
    ]
    board = box(0, 0, plan.board.width_mm, plan.board.height_mm)
    for hole in plan.holes:
        cut = plan.cuts[hole.cut - 1]
        assert hole.number == cut.number
        disc_ = Point(hole.at_mm).buffer(hole.drill_mm / 2)
        if hole.drill_mm == 0.0:
            told = {f.code for f in plan.findings}
            assert told & {"hole-no-room", "hole-no-way", "drill-missing"}
            continue
        assert board.contains(disc_)
        assert all(p.intersection(disc_).area < 1e-6 for p in kept), hole
        ring = Polygon(cut.line_mm)
        assert ring.contains(disc_) == (cut.side == "inside")


def _union(polygons: list[Polygon]) -> Polygon:
    total = Polygon()
    for p in polygons:
        total = total.union(p)  # type: ignore[assignment]
    return total


@settings(max_examples=20, deadline=None)
@given(patterns(most=3))
def test_any_pattern_gives_a_plan_that_can_be_cut(pattern: Pattern) -> None:
    check(planned(pattern))


@pytest.mark.parametrize("name", [n for n in DEMOS if n != "tide_panel"])
def test_demos(name: str) -> None:
    plan = plan_project(load_project(shipped("demo_projects") / name), default_settings())
    check(plan)
    assert not plan.has_stop, [f for f in plan.findings if f.severity == "stop"]


def test_the_text_is_schema_1_as_the_design_has_it() -> None:
    plan = json.loads(planned(panel(2, 40.0, 12.0)).to_json())
    assert plan["schema"] == 1
    keys = {
        "": "schema project board blade pieces openings kept_area_mm2 findings holes cuts steps "
        "minutes",
        "project": "name pattern_sha256",
        "board": "material thickness_mm stack width_mm height_mm",
        "blade": "number kerf_mm drill_mm blades_needed",
        "minutes": "low likely high",
    }
    for part, names in keys.items():
        assert set(names.split()) <= set(plan[part] if part else plan)
    assert set("number at_mm drill_mm cut".split()) <= set(plan["holes"][0])
    assert set(
        "number side hole length_mm start_mm direction line_mm speed turns weakness hold_mm "
        "minutes".split()
    ) <= set(plan["cuts"][0])
    assert set("number stage cut title say why minutes".split()) <= set(plan["steps"][0])
    assert plan["cuts"][0]["line_mm"][0] == plan["cuts"][0]["line_mm"][-1]
    star_plan = json.loads(planned(pattern_of((star(5, 40, 18), [], None))).to_json())
    turns = star_plan["cuts"][0]["turns"]
    assert turns and set("at_mm angle_deg technique".split()) <= set(turns[0])


def test_same_input_same_plan_in_fresh_interpreters() -> None:
    program = (
        "from companion.planner.make import plan_project\n"
        "from companion.planner.project import load_project\n"
        "from companion.devices.paths import shipped\n"
        "from companion.shop.settings import default_settings\n"
        "import hashlib\n"
        "plan = plan_project(load_project(shipped('demo_projects') / 'ferry_plate'),"
        " default_settings())\n"
        "print(hashlib.sha256(plan.to_json().encode()).hexdigest())\n"
    )
    texts = [
        subprocess.run(
            [sys.executable, "-c", program], capture_output=True, text=True, check=True,
            env={**os.environ, "PYTHONHASHSEED": seed, "OMP_NUM_THREADS": threads},
        ).stdout
        for seed, threads in (("1", "1"), ("77", "4"))
    ]  # fmt: skip
    assert texts[0] == texts[1] and len(texts[0]) == 65


# ------------------------------------------------------------------ placing


def test_margins_are_put_around_the_ink() -> None:
    pattern = pattern_of((box(100, 50, 160, 90), [], None))
    board, shift = place(replace(SPEC, margin_mm=12.0), pattern)
    assert (board.width_mm, board.height_mm) == (84.0, 64.0)
    assert shift == (-88.0, -38.0)


def test_a_given_board_has_the_ink_in_its_middle() -> None:
    pattern = pattern_of((box(100, 50, 160, 90), [], None))
    board, shift = place(replace(SPEC, width_mm=200.0, height_mm=100.0), pattern)
    assert (board.width_mm, board.height_mm) == (200.0, 100.0)
    assert (130 + shift[0], 70 + shift[1]) == (100.0, 50.0)
    # one side given: the other by margins
    board, shift = place(replace(SPEC, width_mm=200.0), pattern)
    assert (board.height_mm, shift[1]) == (70.0, -35.0)


def test_a_board_too_small_is_a_stop() -> None:
    pattern = pattern_of((box(0, 0, 60, 40), [], None))
    plan = planned(pattern, replace(SPEC, width_mm=50.0, height_mm=100.0))
    assert "board-too-small" in {f.code for f in plan.findings if f.severity == "stop"}
    assert plan.has_stop


def test_a_stack_over_the_saw_is_a_stop() -> None:
    pattern = pattern_of((box(0, 0, 60, 40), [], None))
    plan = planned(pattern, replace(SPEC, stack=10))
    assert "stack-over-saw" in {f.code for f in plan.findings if f.severity == "stop"}


def test_places_of_findings_come_onto_the_board() -> None:
    pattern = replace(
        pattern_of((box(100, 50, 160, 90), [], None)),
        findings=(Finding("open-end-joined", "note", (110.0, 60.0), "joined", ""),),
    )
    plan = planned(pattern)
    assert next(f.at_mm for f in plan.findings if f.code == "open-end-joined") == (25.0, 25.0)


def test_no_corner_is_told_to_stay_full_in_which_the_plan_turns() -> None:
    """Margins of 20 mm beside the pattern and of 40 above it."""
    pattern = pattern_of((box(0, 0, 60, 60), [star(4, 20, 6, (30, 30))], None))
    spec = replace(SPEC, width_mm=100, height_mm=140)
    assert weak_places(pattern, tables.material("mdf"), 6.0, tables.blade("3")).corners
    plan = planned(pattern, replace(spec, blade="3"))
    assert len(plan.cuts[0].turns) >= 4
    assert "inside-radius" not in {f.code for f in plan.findings}


# --------------------------------------------------------------------- pins


def test_a_pin_is_kept() -> None:
    pattern = pattern_of((box(0, 0, 120, 60), [box(20, 15, 50, 45), disc(12, (85, 30))], None))
    free = planned(pattern)
    cut = next(c for c in free.cuts if c.opening == 1)
    other: Direction = "clockwise" if cut.direction == "anticlockwise" else "anticlockwise"
    at = (35.0 + 15.0, 15.0 + 15.0)  # top edge of the square, board mm
    for pin in (Pin(1, None, at, other), Pin(1, None, at, None), Pin(1, None, None, other)):
        plan = planned(pattern, replace(SPEC, pins=(pin,)))
        kept = next(c for c in plan.cuts if c.opening == 1)
        if pin.start_mm is not None:
            assert math.dist(kept.start_mm, at) < 1.0
        if pin.direction is not None:
            assert kept.direction == other
        assert not [f for f in plan.findings if "pin" in f.code]


def test_a_pin_that_cannot_be_kept_is_refused_with_its_reason() -> None:
    pattern = pattern_of((box(0, 0, 120, 60), [box(20, 15, 50, 45)], None))
    for pin in (Pin(9, None, (1.0, 1.0), None), Pin(None, 7, None, "clockwise"),
                Pin(1, None, (100.0, 100.0), None)):  # fmt: skip
        plan = planned(pattern, replace(SPEC, pins=(pin,)))
        found = [f for f in plan.findings if "pin" in f.code]
        assert len(found) == 1 and found[0].text and found[0].remedy
        check(plan)


def test_a_drill_set_too_thin_is_a_stop_and_nothing_is_told_to_be_drilled() -> None:
    mine = replace(default_settings(), drills=(Drill("0.3 mm", 0.3),))
    plan = make_plan(SPEC, panel(2, 40.0, 12.0), mine)
    assert plan.has_stop and "drill-missing" in {f.code for f in plan.findings}
    assert {h.drill_mm for h in plan.holes} == {0.0}
    assert not [s for s in plan.steps if s.stage == "drill"]
    check(plan)


# ----------------------------------------------------- progress and refusing


class _After:
    """Says stop from the nth question on."""

    def __init__(self, n: int) -> None:
        self.left = n

    def __call__(self) -> bool:
        self.left -= 1
        return self.left < 0


def test_progress_rises_to_one_and_a_plan_can_be_stopped() -> None:
    told: list[float] = []
    pattern = panel(3, 30.0, 9.0)
    plan = make_plan(
        SPEC, pattern, default_settings(), progress=lambda share, _doing: told.append(share)
    )
    assert told == sorted(told) and told[-1] == 1.0 and len(set(told)) > 8
    for stop_at in (1, len(told) // 2, len(told) - 1):
        with pytest.raises(PlanStopped):
            make_plan(SPEC, pattern, default_settings(), should_stop=_After(stop_at))
    assert plan.cuts


def test_what_cannot_be_planned_is_told() -> None:
    with pytest.raises(PlanError, match="nothing to cut"):
        planned(Pattern((), (), (), "0" * 64))
    with pytest.raises(ShopError, match="unknown material"):
        planned(panel(1, 30.0, 9.0), replace(SPEC, material="cheese"))
    with pytest.raises(ShopError, match="unknown blade"):
        planned(panel(1, 30.0, 9.0), replace(SPEC, blade="99"))


@pytest.mark.parametrize("width", [0.3, 0.6, 1.0])
def test_the_hole_of_a_sliver_is_never_put_beyond_its_wall(width: float) -> None:
    """Seen on clip art: where a wedge narrows to nothing the lead jumped its other wall."""
    wedge = Polygon([(20, 20), (60, 20 + width / 2), (20, 20 + width)])
    lens = Polygon([(20, 40), (40, 40 + width), (60, 40), (40, 40 - width)])
    check(planned(pattern_of((box(0, 0, 80, 60), [wedge, lens], None))))
