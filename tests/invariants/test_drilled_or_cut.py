"""Each opening is cut or drilled to size, never both, wherever it is counted."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon

from companion.draw.board import Outlines
from companion.draw.scene import build_scene
from companion.pattern.model import Pattern
from companion.planner.make import make_plan
from companion.planner.plan import Plan, plan_from_json
from companion.planner.project import Pin, ProjectSpec, RoundOpenings
from companion.session.drilling import round_of
from companion.shop.settings import default_settings
from tests.planner.drawn import disc, openings, pattern_of


@st.composite
def racks(draw: st.DrawFn) -> Pattern:
    """A plate with openings of every shape and with discs about the sizes of the drills."""
    holes = []
    columns, rows = draw(st.integers(1, 3)), draw(st.integers(1, 2))
    for n in range(columns * rows):
        at = (20.0 * (n % columns + 0.5), 20.0 * (n // columns + 0.5))
        if draw(st.booleans()):
            wide = draw(st.sampled_from((0.8, 1.0, 1.2, 1.5, 2.0, 2.5, 3.0)))
            hole = disc(wide / 2 + draw(st.floats(-0.08, 0.08)), at, draw(st.integers(6, 90)))
        else:
            moved = affinity.translate(draw(openings(18.0)), *at)
            assert isinstance(moved, Polygon)
            hole = moved
        holes.append(hole)
    plate = Polygon([(0, 0), (20 * columns, 0), (20 * columns, 20 * rows), (0, 20 * rows)])
    return pattern_of((plate, holes, None))


def made(pattern: Pattern, how: RoundOpenings, pins: tuple[Pin, ...] = ()) -> Plan:
    spec = ProjectSpec("rack", Path("."), Path("x.svg"), round_openings=how, pins=pins)
    return make_plan(spec, pattern, default_settings())


@settings(deadline=None, max_examples=25)
@given(racks(), st.data())
def test_each_opening_is_cut_or_drilled_never_both(pattern: Pattern, data: st.DataObject) -> None:
    every = list(range(1, len(pattern.openings) + 1))
    pinned = data.draw(st.sampled_from([None, *every]))
    pins = () if pinned is None else (Pin(opening=pinned, direction="clockwise"),)
    plan = made(pattern, "drill", pins)
    cut = [c.opening for c in plan.cuts if c.opening is not None]
    drilled = [h.opening for h in plan.to_size]
    assert sorted(cut + drilled) == every and plan.openings == len(every)
    assert pinned is None or pinned in cut
    # one number each, with no gap, on sheet, screen and in the drill rounds
    numbers = [c.number for c in plan.cuts] + sorted(h.number for h in plan.to_size)
    assert numbers == list(range(1, len(every) + 2))
    round_numbers = [h.number for k in range(len(plan.steps)) for h in round_of(plan, k)]
    fitted = [h.number for h in plan.drilled if h.drill_mm > 0.0]
    assert sorted(round_numbers) == sorted(fitted)
    assert {h.number for h in plan.to_size} <= set(round_numbers)
    sized = {h.number for h in plan.to_size}
    assert not sized & {s.cut for s in plan.steps}
    # nothing is threaded there, and the sheet and the picture show it once
    assert not any(h.number in sized for h in plan.holes)
    scene = build_scene(plan)
    assert sorted(d.cut or 0 for d in scene.discs if d.role == "to-size") == sorted(sized)
    assert not sized & {line.cut for line in scene.of("piece-line")}
    assert set(Outlines.of(plan).owners.tolist()) == {c.number for c in plan.cuts}
    assert plan_from_json(plan.to_json()).to_json() == plan.to_json()


@settings(deadline=None, max_examples=15)
@given(racks())
def test_off_nothing_is_drilled_to_size_and_the_note_names_what_on_would_drill(
    pattern: Pattern,
) -> None:
    off, on = made(pattern, "saw"), made(pattern, "drill")
    assert off.to_size == () and off.pieces + off.openings == len(off.cuts)
    told = [f for f in off.findings if f.code == "round-by-drill"]
    assert bool(told) == bool(on.to_size)
    if told:
        drilled = {h.opening for h in on.to_size}
        named = {c.number for c in off.cuts if c.opening in drilled}
        lists = [part.split("cut")[1].strip("s ") for part in told[0].text.split("(")[1].split(";")]
        found = {int(n) for one in lists for n in one.strip("). ").split(",")}
        assert found == named
        assert told[0].text.startswith(f"{len(named)} round opening")
