"""Steps: each thing once, in an order that can be worked, told so that it can be heard."""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from shapely.geometry import LineString, Point, Polygon, box
from shapely.ops import substring

from companion.pattern.model import Pattern
from companion.planner.make import make_plan
from companion.planner.plan import POWERED_STAGES, Plan, Stage, Step, Technique, Turn
from companion.planner.project import ProjectSpec
from companion.planner.prompts import Work, leg_end, legs_of, runs_of
from companion.planner.steps import make_steps
from companion.planner.timing import (
    NO_CALIBRATION,
    Calibration,
    cut_features,
    feed_amount,
    leg_features,
    rates_for,
)
from companion.session.announce import leg_of
from companion.shop import tables
from companion.shop.finishing import finishing
from companion.shop.model import Skill
from companion.shop.settings import default_settings
from companion.words import ENGLISH
from tests.planner.drawn import disc, panel, pattern_of, patterns, star


def planned(
    pattern: Pattern, skill: Skill = "practised", stack: int = 1,
    calibration: Calibration = NO_CALIBRATION, material: str = "mdf",
) -> Plan:  # fmt: skip
    mine = replace(default_settings(), skill=skill)
    spec = ProjectSpec("test", Path("."), Path("x.svg"), stack=stack, material=material)
    return make_plan(spec, pattern, mine, calibration=calibration)


SIGN = pattern_of(
    (box(0, 0, 160, 60), [star(5, 20, 9, (30, 30)), disc(14, (80, 30)), disc(14, (125, 30))], None)
)
STAGES_OF_A_CUT: dict[str, list[Stage]] = {
    "inside": ["thread", "cut", "lip", "clear"],
    "outside": ["thread", "cut", "lip", "free"],
}


def check(plan: Plan) -> None:
    """What holds for the steps of every plan."""
    assert [s.number for s in plan.steps] == list(range(1, len(plan.steps) + 1))
    order = [s.stage for s in plan.steps]
    first_cut, last_cut = order.index("thread"), len(order) - 1 - order[::-1].index("free")
    assert all(s.stage in ("prepare", "drill") for s in plan.steps[:first_cut])
    assert all(s.stage == "finish" for s in plan.steps[last_cut + 1 :])
    for cut in plan.cuts:
        mine = [s.stage for s in plan.steps if s.cut == cut.number]
        taped = ["prepare"] if cut.side == "outside" and not cut.hold_mm else []
        assert mine[: len(taped)] == taped and "prepare" not in mine[len(taped) :]
        mine = mine[len(taped) :]
        squeezed = [a for a, b in zip(mine, [*mine[1:], None], strict=True) if a != b]
        if cut.is_vein:
            assert squeezed == ["thread", "cut"]
        elif cut.meet_along_mm is None:
            assert squeezed == STAGES_OF_A_CUT[cut.side]
        else:
            assert squeezed[:4] == ["thread", "cut", "thread", "cut"]
        numbers = [s.number for s in plan.steps if s.cut == cut.number]
        assert numbers == list(range(numbers[0], numbers[0] + len(numbers))), "never within a cut"
    for a, b in pairwise([s.cut for s in plan.steps if s.cut is not None]):
        assert b in (a, (a or 0) + 1)
    for step in plan.steps:
        said(step.say, step.stage)
        assert step.title and len(step.title.split()) <= 6, step.title
        assert step.why.endswith("."), step.why
        assert step.minutes.low <= step.minutes.likely <= step.minutes.high
    whole = sum(s.minutes.likely for s in plan.steps)
    assert plan.minutes.likely == pytest.approx(whole)


def said(say: str, stage: Stage) -> None:
    words = say.split()
    assert len(words) <= 13 if stage == "drill" else len(words) <= 12, say
    assert say[0].isupper() and say.endswith("."), say
    assert re.match(r"^[A-Z][a-z]+", say), say
    assert not re.search(r"[{}()\[\]/_]", say.replace("2/0", "")), say


@pytest.mark.parametrize("skill", ["beginner", "practised", "terse"])
@pytest.mark.parametrize("stack", [1, 3])
def test_steps_of_a_sign(skill: Skill, stack: int) -> None:
    check(planned(SIGN, skill, stack))


@settings(max_examples=15, deadline=None)
@given(patterns(most=2))
def test_steps_of_any_pattern(pattern: Pattern) -> None:
    check(planned(pattern, "beginner", 2))


def test_each_prompt_of_a_cut_names_its_hole() -> None:
    plan = planned(SIGN, "beginner")
    for step in plan.steps:
        if step.cut is not None and step.stage != "free":
            hole = plan.cuts[step.cut - 1].hole
            assert str(hole) in re.findall(r"\d+", step.say), step.say


def test_a_cut_is_begun_with_the_reason_for_its_place_in_the_order() -> None:
    plan = planned(SIGN)
    threads = {s.cut: s.why for s in plan.steps if s.stage == "thread"}
    reasons = {c.number: c.reason for c in plan.cuts if c.reason}
    assert reasons and all(threads.values())
    assert {number: threads[number] for number in reasons} == reasons


def test_a_beginner_gets_legs_and_others_do_not() -> None:
    beginner, practised = planned(SIGN, "beginner"), planned(SIGN, "practised")
    per_cut = Counter(s.cut for s in practised.steps if s.stage == "cut")
    assert set(per_cut.values()) == {1}
    legs = Counter(s.cut for s in beginner.steps if s.stage == "cut")
    starred = next(c.number for c in beginner.cuts if c.opening == 1)
    assert legs[starred] > 1
    told = [s for s in beginner.steps if s.cut == starred and s.stage == "cut"]
    assert f"of {len(told)}" in told[0].title


def test_every_turn_ends_a_leg_or_is_told_with_one() -> None:
    plan = planned(SIGN, "beginner")
    for cut in plan.cuts:
        legs = legs_of(cut)
        assert [i for leg in legs for i in leg] == list(range(len(cut.turns)))
        assert legs[-1] == ()


def test_short_legs_are_told_together() -> None:
    cut = planned(SIGN).cuts[-1]
    near = tuple(Turn((0, 0), 90, "spin", a) for a in (5.0, 9.0, 40.0, 42.0, 100.0))
    assert legs_of(replace(cut, turns=near, length_mm=300.0)) == ((0, 1, 2), (3, 4), ())
    last = (*near, Turn((0, 0), 90, "spin", 110.0))
    assert legs_of(replace(cut, turns=last, length_mm=112.0)) == ((0, 1, 2), (3, 4, 5), ())


def test_drills_are_changed_once_per_size_thin_to_thick() -> None:
    plan = planned(panel(3, 30.0, 9.0))
    drills = [s for s in plan.steps if s.stage == "drill"]
    sizes = sorted({h.drill_mm for h in plan.holes})
    assert len(drills) == len(sizes)
    # the clear prompts of many holes give their number, those of few their holes
    assert any("10 holes" in s.say or "Drill holes" in s.say for s in drills)


def test_blades_clamps_and_rests_come_from_the_minutes_and_between_cuts() -> None:
    slow = planned(panel(5, 30.0, 11.0), calibration=Calibration(feed=8.0))
    kinds = Counter(s.stage for s in slow.steps)
    assert kinds["blade"] >= 2 and kinds["clamp"] >= 1
    assert kinds["rest"] >= 1 and kinds["vacuum"] >= 1
    check(slow)
    assert slow.blade.blades_needed == kinds["blade"] + 1
    quick = planned(panel(2, 30.0, 11.0))
    assert not {"blade", "rest", "vacuum"} & {s.stage for s in quick.steps}


def test_a_blade_never_works_past_its_life_unless_one_cut_alone_does() -> None:
    plan = planned(panel(5, 30.0, 11.0), calibration=Calibration(feed=6.0))
    since, life = 0.0, 22.0
    for step in plan.steps:
        if step.stage == "blade":
            since = 0.0
        if step.stage == "cut":
            since += step.minutes.likely
            assert since <= max(life, step.minutes.likely) + 1e-6


def test_a_cut_in_two_runs_goes_back_to_its_hole_with_the_saw_off() -> None:
    """So that the power-on guard stands before the second run too."""
    whole = planned(SIGN)
    cuts = (*whole.cuts[:-1], replace(whole.cuts[-1], meet_along_mm=110.0))
    work = Work(
        whole.board, whole.blade, tables.material("mdf"), cuts,
        tuple(cut_features(c, whole.board) for c in cuts), whole.holes, 0, (),
        default_settings(), 22.0, "Usual.",
    )  # fmt: skip
    steps, minutes = make_steps(work, rates_for("practised"))
    plan = replace(whole, cuts=cuts, steps=steps, minutes=minutes)
    check(plan)
    told = [s for s in steps if s.cut == cuts[-1].number]
    stages = [s.stage for s in told]
    assert stages == ["thread", "cut", "thread", "cut", "lip", "free"]
    assert "meeting mark" in told[1].say and "kerfs meet" in told[3].say
    ways = ["anticlockwise" in told[k].say for k in (1, 3)]
    assert ways[0] != ways[1]
    parts = leg_features(cuts[-1], whole.board, (110.0, cuts[-1].length_mm))
    seconds = [feed_amount(f, rates_for("practised")).seconds for f in parts]
    both = told[1].minutes.likely + told[3].minutes.likely
    assert told[1].minutes.likely == pytest.approx(seconds[0] / sum(seconds) * both)


def test_each_of_two_runs_tells_its_turns_in_its_own_order() -> None:
    """An outline with spins, loops and back-outs: the second run meets them from its far end."""
    whole = planned(SIGN)
    kinds: list[Technique] = ["spin", "spin", "back-out", "loop", "back-out", "spin"]
    length = whole.cuts[-1].length_mm
    turns = tuple(
        Turn((0.0, 0.0), 90.0, kind, length * (k + 1) / 7) for k, kind in enumerate(kinds)
    )
    cut = replace(whole.cuts[-1], turns=turns, meet_along_mm=0.5 * length)
    first, second = runs_of(cut)
    assert [t.technique for t in first.turns] == kinds[:3]
    assert [t.technique for t in second.turns] == kinds[:2:-1]
    assert [t.along_mm for t in second.turns] == pytest.approx([length * k / 7 for k in (1, 2, 3)])
    assert second.line_mm == cut.line_mm[::-1] and second.direction != first.direction
    cuts = (*whole.cuts[:-1], cut)
    work = Work(
        whole.board, whole.blade, tables.material("mdf"), cuts,
        tuple(cut_features(c, whole.board) for c in cuts), whole.holes, 0, (),
        default_settings(), 22.0, "Usual.",
    )  # fmt: skip
    steps, _ = make_steps(work, rates_for("practised"))
    told = [s for s in steps if s.cut == cut.number and s.stage == "cut"]
    assert "in order: 2 spins, 1 back-out." in told[0].why
    assert "in order: 1 spin, 1 back-out, 1 loop." in told[1].why
    # at the saw each run announces its own turns as they come
    plan = replace(whole, cuts=cuts, steps=steps)
    for step, wanted in zip(told, (kinds[:3], kinds[:2:-1]), strict=True):
        leg = leg_of(plan, step.number - 1, POWERED_STAGES)
        assert leg is not None
        assert list(leg.techniques) == wanted
        assert list(leg.due_s) == sorted(leg.due_s)
        assert leg.due_s[-1] < leg.likely_s


def test_a_whole_plate_has_no_openings_to_clear_and_many_pieces_take_longer() -> None:
    def finishing_min(plan: Plan) -> float:
        return sum(s.minutes.likely for s in plan.steps if s.stage == "finish")

    plate = planned(pattern_of((box(0, 0, 200, 120), [], None)))
    assert not any("opening" in s.say for s in plate.steps)
    assert any("opening" in s.say for s in planned(SIGN).steps)
    row = pattern_of(*((box(200 * k, 0, 200 * k + 180, 130), [], None) for k in range(3)))
    once = sum(s.batch_min for s in finishing("fibre", openings=False))
    assert finishing_min(planned(row)) - once == pytest.approx(3 * (finishing_min(plate) - once))
    part = min(s.minutes.likely for s in planned(row, stack=2).steps if "Part" in s.title)
    assert part == pytest.approx(0.5 + 2 * 3 * 1.5)


def test_finishing_follows_the_material() -> None:
    # fibre board has fuzz to sand off its back, solid wood a grain to sand along
    assert any(s.title == "Sand the back" for s in planned(SIGN).steps)
    oak = planned(SIGN, material="white-oak")
    assert not any(s.title == "Sand the back" for s in oak.steps)
    assert any("grain" in s.say for s in oak.steps)


def test_a_piece_too_small_to_hold_is_never_told_to_be_held() -> None:
    """Fingers stay the finger distance away; tape holds it, in every prompt of its cut."""
    islands = pattern_of(
        (box(0, 0, 120, 60), [box(10, 10, 50, 50)], None), (star(5, 12, 5, (30, 30)), [], 1)
    )
    skills: tuple[Skill, ...] = ("beginner", "practised", "terse")
    for skill in skills:
        plan = planned(islands, skill)
        check(plan)
        small = next(c for c in plan.cuts if c.piece == 2)
        assert small.hold_mm == ()
        told = [s for s in plan.steps if s.cut == small.number]
        assert not any("hold the piece" in s.say for s in told)
        cutting = [s for s in told if s.stage == "cut"]
        assert "fingers clear" in cutting[-1].say or "fingers clear" in cutting[0].say
        assert "tape" in cutting[0].why
        assert told[0].say.startswith("Tape the line") and "too small" in told[0].why
        assert "waste around piece 2" in told[1].say
        large = next(c for c in plan.cuts if c.piece == 1)
        assert large.hold_mm
        held = [s.say for s in plan.steps if s.cut == large.number]
        assert not any("fingers clear" in t for t in held)


def test_waste_that_waves_between_the_arms_is_not_called_the_board() -> None:
    """Two arms with a long tongue of waste between them, and a plain plaque of the same size."""
    fork = Polygon(
        [(0, 0), (100, 0), (100, 110), (62, 110), (62, 12), (38, 12), (38, 110), (0, 110)]
    )
    for shape, waves in ((fork, True), (box(0, 0, 100, 110), False)):
        plan = planned(pattern_of((shape, [], None)))
        (cut,) = plan.cuts
        assert (cut.weakness > 8.0) == waves
        told = " ".join(s.say for s in plan.steps if s.cut == cut.number)
        assert ("a tongue of waste waves" in told) == waves
        assert not waves or "the board gives" not in told


def test_a_rest_comes_by_the_minutes_at_the_saw_and_not_by_those_of_sawing_alone() -> None:
    """25 small openings by a beginner: little is sawn, much is threaded, hours go by."""
    plan = planned(panel(5, 30.0, 9.0), "beginner")
    every = tables.number("timing", "rhythm.rest_min", 1, 600)
    sawn = sum(s.minutes.likely for s in plan.steps if s.stage == "cut")
    assert sawn < every
    first = next(s.number for s in plan.steps if s.stage == "thread")
    at_saw = [s for s in plan.steps[first - 1 :] if s.stage != "finish"]
    assert sum(s.minutes.likely for s in at_saw) > every
    since, longest, rests = 0.0, 0.0, 0
    for before, step in zip([None, *at_saw], at_saw, strict=False):
        if step.stage == "rest":
            assert since > every and (before is None or before.stage in ("clear", "free"))
            since, rests = 0.0, rests + 1
            continue
        since += step.minutes.likely
        longest = max(longest, since)
    of_a_cut = Counter[int]()
    for step in at_saw:
        if step.cut is not None:
            of_a_cut[step.cut] += math.ceil(step.minutes.likely * 1000)
    between = sum(s.minutes.likely for s in at_saw if s.stage in ("vacuum", "blade", "clamp"))
    assert rests >= 1 and longest <= every + max(of_a_cut.values()) / 1000 + between


def _legs_told(plan: Plan, number: int) -> list[Step]:
    return [s for s in plan.steps if s.cut == number and s.stage == "cut"]


def test_a_beginner_hears_what_is_grave_before_the_turns_of_the_first_leg() -> None:
    fork = Polygon(
        [(0, 0), (100, 0), (100, 110), (62, 110), (62, 12), (38, 12), (38, 110), (0, 110)]
    )
    plan = planned(pattern_of((fork, [], None)), "beginner")
    (cut,) = plan.cuts
    told = _legs_told(plan, cut.number)
    assert len(told) > 2 and "a tongue of waste waves" in told[0].say
    # how its own turns are made is told all the same
    how = {"spin": "on the spot", "back-out": "draw back", "loop": "Run past"}
    assert all(how[cut.turns[i].technique] in told[0].why for i in legs_of(cut)[0])


@pytest.mark.parametrize(("half_mm", "told"), [(1.5, True), (2.8, False)])
def test_the_leg_that_passes_a_frail_place_is_fed_gently_and_no_other(
    half_mm: float, told: bool
) -> None:
    """A dumb-bell of 6 mm board, its waist weak, or only narrower than the board is thick."""
    up, down = 30.0 - half_mm, 30.0 + half_mm
    bell = Polygon([
        (0, 0), (60, 0), (60, up), (100, up), (100, 0), (160, 0),
        (160, 60), (100, 60), (100, down), (60, down), (60, 60), (0, 60),
    ])  # fmt: skip
    plan = planned(pattern_of((bell, [], None)), "beginner")
    (cut,) = plan.cuts
    legs, steps = legs_of(cut), _legs_told(plan, cut.number)
    ends = [cut.turns[leg[-1]].along_mm if leg else cut.length_mm for leg in legs]
    (waist,) = [n for n in plan.necks if n.thickness_mm < 6.0]
    codes = {f.code for f in plan.findings}
    assert bool(codes & {"neck-weak", "neck-fragile"}) == told and ("neck-thin" in codes) != told
    line, found = LineString(cut.line_mm), 0
    for k, step in enumerate(steps):
        stretch = substring(line, ends[k - 1] if k else 0.0, ends[k])
        by = stretch.distance(Point(waist.at_mm)) <= waist.thickness_mm
        assert ("gently" in step.say) == (by and told), step.say
        found += by
    assert 1 <= found < len(steps)


def test_several_turns_of_a_leg_are_named_in_their_order_each_with_its_how() -> None:
    whole = planned(SIGN)
    kinds: list[Technique] = ["back-out", "spin", "spin", "loop"]
    turns = tuple(
        Turn((0.0, 0.0), 90.0, kind, at)
        for kind, at in zip(kinds, (5.0, 40.0, 44.0, 90.0), strict=True)
    )
    cut = replace(whole.cuts[-1], turns=turns)
    cuts = (*whole.cuts[:-1], cut)
    work = Work(
        whole.board, whole.blade, tables.material("mdf"), cuts,
        tuple(cut_features(c, whole.board) for c in cuts), whole.holes, 0, (),
        replace(default_settings(), skill="beginner"), 22.0, "Usual.",
    )  # fmt: skip
    assert legs_of(cut) == ((0, 1), (2, 3), ())
    steps, _ = make_steps(work, rates_for("beginner"))
    first, second, _ = (s for s in steps if s.cut == cut.number and s.stage == "cut")
    assert "1 back-out, 1 spin." in first.say and "1 spin, 1 loop." in second.say
    assert first.why.index("draw back") < first.why.index("on the spot")
    assert second.why.index("on the spot") < second.why.index("Run past")


@pytest.mark.parametrize(
    ("technique", "said"),
    [("spin", "spin at the corner"), ("back-out", "back out of the corner"),
     ("loop", "loop around the point")],
)  # fmt: skip
def test_a_leg_ends_with_what_is_done_at_its_turn(technique: Technique, said: str) -> None:
    (cut, *_) = planned(SIGN).cuts
    cut = replace(cut, turns=(Turn((0.0, 0.0), 90.0, technique, 5.0),))
    assert leg_end(cut, (0,), ENGLISH) == said


def test_a_stack_is_pressed_together_where_its_pieces_come_free() -> None:
    """Pins and tape stay in the frame."""
    plain = pattern_of((disc(40, (50, 50)), [], None))
    cases: tuple[tuple[Pattern, Skill], ...] = ((SIGN, "beginner"), (plain, "practised"))
    for pattern, skill in cases:
        alone, stack = (planned(pattern, skill, n) for n in (1, 3))
        said = [" ".join(s.say for s in p.steps if s.stage == "cut") for p in (alone, stack)]
        assert "hold the piece" in said[0] and "boards" not in said[0]
        assert "boards together" in said[1] and "hold the piece" not in said[1]


def test_whoever_takes_the_blade_in_hand_is_told_to_unplug() -> None:
    slow = planned(panel(5, 30.0, 11.0), calibration=Calibration(feed=8.0))
    told = [s.say for s in slow.steps if s.stage == "blade"]
    assert told and all(t.startswith("Unplug;") for t in told)


def test_a_leg_takes_the_time_of_what_it_holds() -> None:
    """The minutes of each leg against its own line, bends and turns, not against its length."""
    whole = planned(SIGN, skill="beginner")
    rates = rates_for("beginner")
    told = 0
    for cut in whole.cuts:
        legs = [s for s in whole.steps if s.cut == cut.number and s.stage == "cut"]
        if len(legs) < 2:
            continue
        # a turn at the very end belongs to the leg that ends with it
        ends = [leg.line_to * cut.length_mm + 1e-6 for leg in legs]
        parts = [feed_amount(f, rates).seconds for f in leg_features(cut, whole.board, ends)]
        spent = [60.0 * leg.minutes.likely for leg in legs]
        assert spent == pytest.approx([p * sum(spent) / sum(parts) for p in parts], rel=1e-3)
        assert ends == sorted(ends) and ends[-1] == pytest.approx(cut.length_mm)
        told += 1
    assert told
