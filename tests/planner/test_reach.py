"""Reach: checked by laying the board on a drawn saw, place by place."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from companion.planner.linework import Line, line_of
from companion.planner.make import make_plan, plan_project
from companion.planner.numbers import cut_of, cut_of_opening
from companion.planner.plan import ZERO_MINUTES, Cut, Plan, Speed, Turn, plan_from_json
from companion.planner.project import Overrides, ProjectSpec, load_project
from companion.planner.reach import (
    Reach,
    back_out_behind,
    feasible,
    reach_of,
    stretches,
    two_runs,
    worst,
)
from companion.planner.resorts import back_outs_blocked, spiral, turned_blade
from companion.planner.rules import rules_for
from companion.planner.trims import trim
from companion.shop import tables
from companion.shop.model import SawProfile, Settings
from companion.shop.settings import default_settings
from companion.words import ENGLISH
from tests.planner.drawn import BIG_SAW, Planned, disc, pattern_of, plan, star

Floats = NDArray[np.float64]
SAW = SawProfile(400.0, 50.0, 10.0, 10.0)
PLANNED_CUT = Cut(
    1, "inside", 1, 200.0, (480.0, 60.0), "clockwise", (), Speed(1.0, 10.0), (), 1.0, (),
    ZERO_MINUTES, opening=1,
)  # fmt: skip


def on_the_saw(corners: Floats, at: Floats, heading: Floats) -> float:
    """Lay the board on a saw and see how far the wood reaches back.

    The sawyer stands at the bottom (+y), the frame at -y, the blade at the origin; it
    cuts towards the sawyer.
    """
    turn = np.pi / 2 - np.arctan2(heading[1], heading[0])
    c, s = np.cos(turn), np.sin(turn)
    laid = (corners - at) @ np.array([[c, s], [-s, c]])
    assert np.array([[c, -s], [s, c]]) @ heading == pytest.approx([0.0, 1.0], abs=1e-9)
    return float(-laid[:, 1].min())


def brute_worst(corners: Floats, path: Floats, step: float = 1.0) -> float:
    """The furthest reach behind the blade over dense places and swings of a path."""
    worst_mm, last = -np.inf, None
    for a, b in itertools.pairwise(path):
        size = float(np.hypot(*(b - a)))
        if size < 1e-9:
            continue
        u = (b - a) / size
        if last is not None:
            turn = np.arctan2(last[0] * u[1] - last[1] * u[0], last @ u)
            start = np.arctan2(last[1], last[0])
            for t in np.linspace(0.0, 1.0, max(2, int(abs(np.degrees(turn))))):
                v = np.array([np.cos(start + t * turn), np.sin(start + t * turn)])
                worst_mm = max(worst_mm, on_the_saw(corners, a, v))
        for t in np.linspace(0.0, 1.0, max(2, int(size / step))):
            worst_mm = max(worst_mm, on_the_saw(corners, a + t * (b - a), u))
        last = u
    return worst_mm


@given(st.floats(0, 600), st.floats(0, 300), st.floats(0, 2 * np.pi))
@settings(max_examples=60, deadline=None)
def test_the_rule_is_what_the_drawn_saw_shows(x: float, y: float, angle: float) -> None:
    reach = reach_of(SAW, 600.0, 300.0)
    at, heading = np.array([[x, y]]), np.array([[np.cos(angle), np.sin(angle)]])
    want = on_the_saw(reach.corners_mm, at[0], heading[0])
    assert reach.behind(at, heading)[0] == pytest.approx(want, abs=1e-6)


def line(shape: Polygon) -> Line:
    pattern = pattern_of((shape, [], None))
    return line_of(plan(pattern, margin=0.0).every[0])


@given(
    st.integers(3, 9),
    st.floats(20, 120),
    st.floats(0, 360),
    st.floats(150, 500),
    st.floats(150, 250),
)
@settings(max_examples=40, deadline=None)
def test_worst_is_the_brute_force_worst(n: int, r: float, turn: float, x: float, y: float) -> None:
    shape = affinity.translate(affinity.rotate(star(n, r, r * 0.6), turn, origin=(0, 0)), x, y)
    reach = reach_of(SAW, 700.0, 400.0)
    path = np.array(shape.exterior.coords)
    got, _ = worst(reach, path, closed=False)
    want = brute_worst(reach.corners_mm, path)
    assert got >= want - 1e-6
    assert got == pytest.approx(want, abs=0.2)


def runs(p: Planned, k: int) -> list[Floats]:
    """The paths that are cut, in their directions."""
    e = p.entries[k]
    path = np.array(e.line_mm)
    if e.meet_along_mm is None:
        return [path]
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    m = e.meet_along_mm
    meet = np.array([[np.interp(m, along, path[:, 0]), np.interp(m, along, path[:, 1])]])
    return [
        np.concatenate([path[along < m], meet]),
        np.concatenate([path[along > m][::-1], meet]),
    ]


@given(
    st.integers(3, 8),
    st.floats(15, 60),
    st.floats(0.4, 1.0),
    st.floats(0, 360),
    st.tuples(st.floats(20, 400), st.floats(20, 150), st.floats(20, 400), st.floats(20, 150)),
)
@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_an_accepted_way_never_meets_the_frame(
    n: int, r: float, inner: float, turn: float, margins: tuple[float, float, float, float]
) -> None:
    hole = affinity.rotate(star(n, r, r * inner), turn, origin=(0, 0))
    assert isinstance(hole, Polygon)
    x0, y0, x1, y1 = hole.bounds
    p = plan(
        pattern_of((box(x0 - 12, y0 - 12, x1 + 12, y1 + 12), [hole], None)),
        saw=SAW,
        margins=margins,
    )
    refused = any(f.code in ("reach", "reach-trim", "reach-turned-blade", "reach-spiral")
                  for f in p.findings)  # fmt: skip
    for k, e in enumerate(p.entries):
        behind = max(brute_worst(p.reach.corners_mm, run, 2.0) for run in runs(p, k))
        if not refused or e.meet_along_mm is not None:
            assert behind <= p.reach.throat_mm + 1e-6
    if not refused and not any(e.meet_along_mm for e in p.entries):
        assert p.findings == () or {f.code for f in p.findings} <= {"hole-no-room"}


def untold_meetings(made: Plan, saw: SawProfile) -> list[str]:
    """Every lead-in and back-out of a plan that meets the frame with no finding to say so.

    Each is laid on the drawn saw, place by place and swing by swing, from the plan alone.
    """
    throat = saw.throat_mm - saw.margin_mm + 1e-6
    corners = np.array(board_left(made).exterior.coords)[:-1]
    excused = " ".join(f.text for f in made.findings if f.code == "reach-back-out")
    leads = " ".join(f.text for f in made.findings if f.code == "reach-lead")
    far = far_of(made)
    bad = []
    for cut in made.cuts:
        if cut.blade:
            continue  # the frame stands elsewhere then; such cuts have a test of their own
        path = np.array(cut.line_mm)
        lead, line_meets = (
            np.array(cut.lead_mm),
            cut.meet_along_mm is None
            and (brute_worst(corners, np.concatenate([path, path[1:2]])) > throat),
        )
        if not line_meets:  # else the line itself is told, and how it is cut all the same
            name = f"cut {cut.number}"
            blocked = brute_worst(corners, np.concatenate([lead, path[1:2]]), 0.5) > throat
            if cut.meet_along_mm is not None:
                blocked |= brute_turn(corners, lead[-2:], path[-2]) > throat
            if blocked and not re.search(rf"{name}\b", leads):
                bad.append(f"lead of cut {cut.number}")
        line = LineString(path)
        for turn in cut.turns:
            if turn.technique != "back-out" or f"In cut {cut.number} " in excused:
                continue
            at, back, on = (
                np.array(line.interpolate(turn.along_mm + d).coords[0]) for d in (0.0, -far, far)
            )
            u, v = (at - back) / np.hypot(*(at - back)), (on - at) / np.hypot(*(on - at))
            if cut.meet_along_mm is not None and turn.along_mm > cut.meet_along_mm:
                u, v = -v, -u
            # arrive, swing round beyond the corner, come back to it
            second = [at + v * far - u, at + v * far, at]
            if brute_worst(corners, np.array(second)[1:], 0.1) > throat:
                bad.append(f"back-out of cut {cut.number} at {turn.along_mm:.1f}")
    return bad


def board_left(made: Plan) -> Polygon:
    """The board once it is trimmed as the plan's remedy says, read from its words."""
    remedies = {f.remedy for f in made.findings if f.code == "reach-trim"}
    x0, y0, x1, y1 = 0.0, 0.0, made.board.width_mm, made.board.height_mm
    if not remedies:
        return box(x0, y0, x1, y1)
    (remedy,) = remedies
    off = {edge: float(mm) for mm, edge in re.findall(r"(\d+) mm off the (\w+) edge", remedy)}
    x0, y0 = off.get("left", 0.0), off.get("top", 0.0)
    x1, y1 = x1 - off.get("right", 0.0), y1 - off.get("bottom", 0.0)
    left: Polygon = box(x0, y0, x1, y1)
    tips = re.findall(
        r"the (top|bottom) (left|right) corner, (\d+) mm along and (\d+) mm down", remedy
    )
    for level, side, along, down in tips:
        x, inward = (x0, 1.0) if side == "left" else (x1, -1.0)
        y, downward = (y0, 1.0) if level == "top" else (y1, -1.0)
        tip = Polygon([(x, y), (x + inward * float(along), y), (x, y + downward * float(down))])
        cut = left.difference(tip)
        assert isinstance(cut, Polygon)
        left = cut
    return left


def brute_turn(corners: Floats, into: Floats, ahead: Floats) -> float:
    """The furthest reach while the work turns on the spot, whichever way round is better."""
    a, b = into[-1] - into[0], ahead - into[-1]
    start = float(np.arctan2(a[1], a[0]))
    there = float(np.mod(np.arctan2(b[1], b[0]) - start, 2 * np.pi))
    ways = []
    for turn in (there, there - 2 * np.pi):
        angles = start + turn * np.linspace(0.0, 1.0, 181)
        ways.append(
            max(on_the_saw(corners, into[-1], np.array([np.cos(t), np.sin(t)])) for t in angles)
        )
    return min(ways)


def far_of(made: Plan) -> float:
    """How far beyond a corner its second approach begins: the chord of the rules."""
    blade = next(b for b in tables.blades() if b.number == made.blade.number)
    return blade.width_mm * rules_for("practised").turn.chord_widths


def on_a_saw(throat_mm: float) -> Settings:
    return replace(default_settings(), saw=SawProfile(throat_mm, 50.0, 10.0, 10.0))


@given(
    st.integers(4, 8),
    st.floats(12, 40),
    st.floats(0.3, 0.9),
    st.floats(0, 360),
    st.floats(600, 900),
    st.floats(120, 300),
)
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_lead_ins_and_back_outs_meet_the_frame_only_where_it_is_told(
    n: int, r: float, inner: float, turn: float, width: float, height: float
) -> None:
    hole = affinity.rotate(star(n, r, r * inner), turn, origin=(0, 0))
    assert isinstance(hole, Polygon)
    plate = affinity.rotate(box(-r - 9, -r - 9, r + 9, r + 9), turn, origin=(0, 0))
    assert isinstance(plate, Polygon)
    spec = ProjectSpec("reach", Path("."), Path("x.svg"), width_mm=width, height_mm=height)
    made = make_plan(spec, pattern_of((plate, [hole], None)), on_a_saw(400.0))
    assert untold_meetings(made, on_a_saw(400.0).saw) == []


OUTSIDE = Path(__file__).parents[1] / "data" / "outside"


@pytest.mark.parametrize(
    "name", ["words/dancing-harbour", "words/lobster-bakery", "words/caladea-harbour",
             "octicons/briefcase-24", "maki/landmark", "bootstrap/git", "feather/aperture"],
)  # fmt: skip
@pytest.mark.parametrize("throat", [180.0, 230.0])
def test_outside_drawings_on_a_saw_too_short_for_their_board(name: str, throat: float) -> None:
    """Boards of 260 mm and up on throats that reach over some of it: all is told."""
    drawing = OUTSIDE / f"{name}.svg"
    spec = load_project(drawing, Overrides(width_mm=240.0))
    made = plan_project(spec, on_a_saw(throat))
    assert any(f.code.startswith("reach") for f in made.findings), "else nothing is tried"
    assert untold_meetings(made, on_a_saw(throat).saw) == []


def test_a_back_out_that_meets_the_frame_is_told() -> None:
    """A heading no line has: 90 degrees at the board's end, taken back the other way."""
    reach = reach_of(SAW, 500.0, 200.0)
    at, u, v = np.array([[480.0, 100.0]]), np.array([[0.0, 1.0]]), np.array([[-1.0, 0.0]])
    assert reach.behind(at, v)[0] <= 390.0
    assert back_out_behind(reach, at, u, v, 2.0)[0] >= 478.0
    flag = replace(PLANNED_CUT, line_mm=((480.0, 60.0), (480.0, 100.0), (400.0, 100.0),
                                         (480.0, 60.0)),
                   turns=(Turn((480.0, 100.0), 90.0, "back-out", 40.0),))  # fmt: skip
    (found,) = back_outs_blocked(flag, reach, 2.0, ENGLISH)
    assert found.code == "reach-back-out" and found.at_mm == pytest.approx((480.0, 100.0))
    assert back_outs_blocked(flag, reach_of(BIG_SAW, 500.0, 200.0), 2.0, ENGLISH) == []
    assert back_outs_blocked(replace(flag, turns=()), reach, 2.0, ENGLISH) == []


def test_a_long_board_needs_two_runs() -> None:
    """Board 700 mm long, throat 400: cut level to one side, half the board hangs behind."""
    p = plan(
        pattern_of((box(0, 0, 60, 60), [disc(15, (30, 30))], None)),
        saw=SAW, margins=(40, 60, 600, 60),
    )  # fmt: skip
    assert [e.meet_along_mm is not None for e in p.entries] == [True, True]
    found = [f for f in p.findings if f.code == "reach-two-runs"]
    assert len(found) == 1, "one remedy, told once"
    marks = {cut_of(c) for c in p.every}
    assert len(marks) == 2 and all(m in found[0].text for m in marks)
    for k in range(2):
        for run in runs(p, k):
            assert brute_worst(p.reach.corners_mm, run) <= 390.0 + 1e-6


def test_a_direction_that_alone_clears_is_taken() -> None:
    """An L-shaped way: anticlockwise the long leg is cut with the board behind."""
    shape = Polygon([(0, 0), (100, 0), (100, 8), (12, 8), (12, 60), (0, 60)])
    reach = reach_of(SAW, 500.0, 200.0)
    placed = affinity.translate(shape, 330.0, 60.0)
    assert isinstance(placed, Polygon)
    made = line(placed)
    shifted = Line(made.xy - made.xy.min(axis=0) + [330.0, 60.0], made.along)
    arc, there, back = feasible(reach, shifted)
    for ok, path in ((there, shifted.xy), (back, shifted.xy[::-1])):
        assert ok.all() == (
            brute_worst(reach.corners_mm, np.concatenate([path, path[1:2]])) <= 390.0
        )
    assert len(arc) == len(there) == len(back)


def test_two_runs_are_not_offered_where_one_will_do_or_none() -> None:
    one = line(disc(10, (0, 0)))
    small = reach_of(SAW, 100.0, 100.0)
    assert two_runs(small, Line(one.xy + 40.0, one.along)) is None
    huge = reach_of(SAW, 2000.0, 2000.0)
    assert two_runs(huge, Line(one.xy + 1000.0, one.along)) is None


def test_a_trim_clears_the_frame_and_leaves_the_pieces() -> None:
    """Board a little too wide: the proposal, applied, lets every place clear."""
    reach = Reach(np.array([[0.0, 0.0], [430.0, 0.0], [430.0, 430.0], [0.0, 430.0]]), 390.0)
    path = np.array(box(30, 30, 300, 300).exterior.coords)
    keep = box(20, 20, 310, 310)
    found = trim(reach, path, keep)
    assert found is not None and found.board.covers(keep)
    left = Reach(np.array(found.board.exterior.coords)[:-1], 390.0)
    assert brute_worst(reach.corners_mm, path) > 390.0
    assert brute_worst(left.corners_mm, path) <= 390.0 + 0.5, "swings in steps of 5 degrees"
    assert trim(reach, path, box(5, 5, 425, 425)) is None


def test_last_resorts_turned_blade_and_spiral() -> None:
    """900 x 300 mm, throat 390: in the middle both level headings fail; sideways clears."""
    reach = reach_of(SAW, 900.0, 300.0)
    path = np.array(box(430, 130, 470, 170).exterior.coords)
    assert two_runs(reach, Line(path, np.array([0.0, 40, 80, 120, 160]))) is None
    length = turned_blade(reach, path)
    assert length is not None and length > 0.0
    assert spiral(reach, path)
    assert not spiral(reach_of(SAW, 900.0, 900.0), path + [0.0, 300.0])
    plaque = box(0, 0, 880, 280)
    p = plan(pattern_of((plaque, [box(420, 120, 460, 160)], None)), saw=SAW, margin=10.0)
    told = {f.code: f for f in p.findings}
    # the opening would need the blade turned for some of it only, which no step can tell
    assert cut_of_opening(1) in told["reach-spiral"].text
    assert "90 degrees" in told["reach-turned-blade"].remedy


def stuck_on_its_saw(shape: Polygon, holes: list[Polygon], width: float, height: float) -> Plan:
    spec = ProjectSpec("reach", Path("."), Path("x.svg"), width_mm=width, height_mm=height)
    return make_plan(spec, pattern_of((shape, holes, None)), on_a_saw(400.0))


TRIMMED = [
    (box(0, 0, 300, 90), 450.0, 450.0), (disc(100), 600.0, 600.0), (disc(40), 900.0, 300.0),
]  # fmt: skip
"""Pieces on boards, by width and height, that a saw of 400 mm takes only when trimmed."""


@pytest.mark.parametrize(("shape", "width", "height"), TRIMMED)
def test_a_trim_is_a_step_before_any_hole_and_serves(
    shape: Polygon, width: float, height: float
) -> None:
    made = stuck_on_its_saw(shape, [], width, height)
    (told,) = [f for f in made.findings if f.code == "reach-trim"]
    steps = [s for s in made.steps if s.title == "Trim the board"]
    assert steps and all(s.stage == "prepare" and s.why.endswith("in cut 1.") for s in steps)
    assert all(len(s.say.split()) <= 12 for s in steps)
    assert steps[-1].number < min(s.number for s in made.steps if s.stage == "drill")
    # the board that is left, from the spoken sizes alone, holds piece and hole and clears
    left = box(0, 0, width, height)
    for step in steps:
        numbers = [float(n) for n in re.findall(r"\d+", step.say)]
        rest = left.difference(trimmed_off(step.say, numbers, left))
        assert isinstance(rest, Polygon)
        left = rest
    cut = made.cuts[0]
    assert left.contains(Polygon(cut.line_mm)) and told.remedy
    assert left.contains(Point(cut.lead_mm[0]).buffer(made.holes[0].drill_mm / 2))
    corners = np.array(left.exterior.coords)[:-1]
    path = np.concatenate([np.array(cut.lead_mm), np.array(cut.line_mm)[1:]])
    assert brute_worst(np.array(box(0, 0, width, height).exterior.coords), path) > 390.0
    assert brute_worst(corners, path) <= 390.5, "swings in steps of 5 degrees"
    # the line drawn on the sheet: it clears too, and takes no more than what is told
    drawn = Polygon(made.trim_mm)
    assert brute_worst(np.array(made.trim_mm), path) <= 390.5
    assert drawn.buffer(0.01).covers(left) and drawn.contains(Polygon(cut.line_mm))
    assert plan_from_json(made.to_json()).trim_mm == made.trim_mm


def trimmed_off(say: str, numbers: list[float], left: Polygon) -> Polygon:
    """The wood that one spoken trim takes off a board."""
    x0, y0, x1, y1 = left.bounds
    for edge, strip in {
        "left edge": (x0, y0, x0 + numbers[0], y1), "top edge": (x0, y0, x1, y0 + numbers[0]),
        "right edge": (x1 - numbers[0], y0, x1, y1),
        "bottom edge": (x0, y1 - numbers[0], x1, y1),
    }.items():  # fmt: skip
        if edge in say:
            return box(*strip)
    along, down = numbers
    x, dx = (x0, along) if "left" in say else (x1, -along)
    y, dy = (y0, down) if "top" in say else (y1, -down)
    return Polygon([(x, y), (x + dx, y), (x, y + dy)])


def test_a_turned_blade_is_set_before_its_cuts_and_clears_on_the_drawn_saw() -> None:
    frame = box(0, 0, 500, 300)
    made = stuck_on_its_saw(frame, [box(50, 50, 450, 250)], 530.0, 330.0)
    assert {c.blade for c in made.cuts} <= {"left", "right"} and len(made.cuts) == 2
    (set_up,) = [s for s in made.steps if s.title == "Turn the blade"]
    assert set_up.stage == "blade" and f"to the {made.cuts[0].blade}" in set_up.say
    first = next(s for s in made.steps if s.stage == "thread")
    assert set_up.number == first.number - 1
    for cut in made.cuts:
        begun = next(s for s in made.steps if s.cut == cut.number and s.stage == "cut")
        assert "sideways" in begun.say
    corners = np.array(box(0, 0, 530, 330).exterior.coords)[:-1]
    for cut in made.cuts:
        path = np.concatenate([np.array(cut.lead_mm), np.array(cut.line_mm)[1:]])
        assert brute_worst(corners, path) > 390.0
        # with the teeth to the right, what lies to the right of the travel points to the stool
        side = 1.0 if cut.blade == "right" else -1.0
        for a, b in itertools.pairwise(path):
            x, y = (b - a) / np.hypot(*(b - a))
            stool = side * np.array([-y, x])
            assert max(on_the_saw(corners, p, stool) for p in (a, b)) <= 390.0


def test_a_spiral_blade_is_laid_out_fitted_and_taken_out_again() -> None:
    frame = box(0, 0, 1200, 900)
    made = stuck_on_its_saw(frame, [disc(40, (90, 450)), disc(30, (300, 450))], 1230.0, 930.0)
    spirals = [c for c in made.cuts if c.blade == "spiral"]
    assert spirals and all(not c.turns for c in spirals)
    say = [s.say for s in made.steps]
    assert any(s.startswith("Lay out a spiral blade") for s in say)
    for cut in spirals:
        (told,) = [s.say for s in made.steps if s.cut == cut.number and s.stage == "cut"]
        (edge,) = [name for name in HEADINGS if f"{name} to you" in told]
        stool = np.array(HEADINGS[edge]) / np.hypot(*HEADINGS[edge])
        corners = np.array(box(0, 0, 1230, 930).exterior.coords)[:-1]
        for place in (*cut.lead_mm, *cut.line_mm):
            assert on_the_saw(corners, np.array(place), stool) <= 390.0
    fitted = [i for i, s in enumerate(made.steps) if s.say.startswith("Unplug; fit a spiral blade")]
    assert fitted and made.steps[fitted[0] + 1].cut == spirals[0].number
    others = [c.number for c in made.cuts if not c.blade and c.number > spirals[-1].number]
    assert not others or any("teeth front" in s for s in say)


HEADINGS = {
    "bottom edge": (0, 1), "right edge": (1, 0), "top edge": (0, -1), "left edge": (-1, 0),
    "bottom right corner": (1, 1), "top right corner": (1, -1), "top left corner": (-1, -1),
    "bottom left corner": (-1, 1),
}  # fmt: skip
"""What points from the board's middle to the stool, y down."""


def test_a_board_too_large_every_way_stops() -> None:
    """An opening in the middle of 1.2 m: no side of the board is within 390 mm of it."""
    p = plan(pattern_of((box(0, 0, 1200, 1200), [disc(20, (600, 600))], None)), saw=SAW)
    (told,) = [f for f in p.findings if f.code == "reach"]
    assert told.severity == "stop" and told.text.endswith(f"cut {cut_of_opening(1)}.")


def test_turned_stretches_are_the_rule_with_the_heading_turned() -> None:
    reach = reach_of(SAW, 500.0, 300.0)
    path = np.array([[100.0, 100.0], [200.0, 100.0]])
    sideways = stretches(reach, path, closed=False, turned_deg=90.0)
    assert sideways.heading[0] == pytest.approx([0.0, 1.0])
    assert sideways.behind_mm[0] == pytest.approx(100.0)
