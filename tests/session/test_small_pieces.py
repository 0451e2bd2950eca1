"""The last tenth of a piece that no finger may hold is announced otherwise."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from shapely.geometry import box

from companion.planner.make import make_plan
from companion.planner.project import ProjectSpec
from companion.session.announce import LAST_TENTH, announce
from companion.session.machine import Machine, Start
from companion.session.model import Say
from companion.session.texts import shop_texts
from companion.shop.settings import default_settings
from companion.words import ENGLISH
from tests.planner.drawn import pattern_of, star


def test_hold_or_fingers_clear_follows_the_holding_places() -> None:
    pattern = pattern_of(
        (box(0, 0, 120, 60), [box(10, 10, 50, 50)], None), (star(5, 12, 5, (30, 30)), [], 1)
    )
    spec = ProjectSpec("islands", Path("."), Path("x.svg"))
    plan = make_plan(spec, pattern, replace(default_settings(), skill="practised"))
    machine = Machine(plan, shop_texts(), "practised", ENGLISH, 0.0)
    told = {}
    for cut in plan.cuts:
        if cut.side != "outside":
            continue
        place = next(
            i for i, s in enumerate(plan.steps) if s.cut == cut.number and s.stage == "cut"
        )
        leg = machine.leg(place)
        assert leg is not None
        state, _ = machine.begin(Start(), 0.0)
        state = replace(state, step=place, mode="step", ground="step", powered=True, since_s=0.0)
        _, effects = announce(state, leg, (LAST_TENTH + 0.02) * leg.likely_s, "terse", ENGLISH)
        told[bool(cut.hold_mm)] = [e.text for e in effects if isinstance(e, Say)]
    assert "Last tenth. Fingers clear." in told[False]
    assert "Last tenth. Hold what is free." in told[True]
