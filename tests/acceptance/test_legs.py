"""Prompt and clock agree on the turns of every leg: they are reckoned in different places."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from companion.planner.make import plan_project
from companion.planner.plan import POWERED_STAGES, plan_from_json
from companion.planner.project import load_project
from companion.planner.prompts import legs_of
from companion.session.announce import leg_of
from companion.session.machine import Machine
from companion.session.model import State
from companion.session.texts import shop_texts
from companion.shop.settings import default_settings
from companion.tui.face import face_of

DEMOS = Path(__file__).parents[2] / "demo_projects"


@pytest.mark.parametrize("name", ["beach_ornaments", "ferry_plate"])
def test_a_leg_of_a_kept_plan_announces_the_turns_it_asks_for(name: str) -> None:
    plan = plan_from_json(plan_project(load_project(DEMOS / name), default_settings()).to_json())
    compared = 0
    for cut in plan.cuts:
        steps = [i for i, s in enumerate(plan.steps) if s.stage == "cut" and s.cut == cut.number]
        told = [[cut.turns[k].technique for k in leg] for leg in legs_of(cut)]
        if len(steps) != len(told):
            continue
        for index, techniques in zip(steps, told, strict=True):
            leg = leg_of(plan, index, POWERED_STAGES)
            assert leg is not None and list(leg.techniques) == techniques, plan.steps[index].title
            compared += 1
    assert compared > 20


def test_each_leg_tells_its_own_length() -> None:
    plan = plan_project(load_project(DEMOS / "ferry_plate"), default_settings())
    machine = Machine(plan, shop_texts(), "beginner")
    cut = max(plan.cuts, key=lambda c: len(c.turns))
    steps = [i for i, s in enumerate(plan.steps) if s.stage == "cut" and s.cut == cut.number]
    assert len(steps) > 3
    told = []
    for index in steps:
        face = face_of(machine, replace(State(), mode="step", step=index, powered=True), 0.0)
        told.append(float(face.details[0].split()[0]))
    assert sum(told) == pytest.approx(cut.sawn_mm, abs=0.5 * len(steps) + 0.01 * cut.sawn_mm)
    assert max(told) < cut.sawn_mm


def test_screen_and_prompt_name_the_turns_of_a_leg_in_one_order() -> None:
    plan = plan_project(load_project(DEMOS / "harbour_sign"), default_settings())
    machine = Machine(plan, shop_texts(), "beginner")
    compared = 0
    for index, step in enumerate(plan.steps):
        if step.stage != "cut" or ", 1 " not in step.say:
            continue
        named = step.say.rstrip(".").split("; ", 1)[1]
        face = face_of(machine, replace(State(), mode="step", step=index, powered=True), 0.0)
        assert face.details[1] == f"Turns: {named}", step.title
        compared += 1
    assert compared > 4
