"""The screen in German, which is longer: what is to be done stands there whole at 80 x 24."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from textual.pilot import Pilot

from companion.devices.paths import shipped
from companion.planner.make import plan_project
from companion.planner.plan import Plan
from companion.planner.project import load_project
from companion.shop.settings import default_settings
from companion.tui.widgets import Eye
from companion.tui.words_panel import WordsPanel
from companion.words import words_for
from tests.tui.rig import Rig, play

GERMAN = words_for("de")


@cache
def german_plan() -> Plan:
    """A demo with openings, turns and two pieces."""
    project = load_project(shipped("demo_projects") / "quay_number")
    return plan_project(project, default_settings(), GERMAN)


def squeezed(text: str) -> str:
    """Letters alone: lines are broken and words parted to fit."""
    return "".join(c for c in text if c.isalnum()).lower()


def test_what_is_to_be_done_is_whole() -> None:
    # near to the screen, so that sentences are letters and not drawn
    rig = Rig(german_plan(), eye=Eye(12.0, 400.0))
    rig.words = GERMAN
    rig.memory.machine = replace(rig.memory.machine, words=GERMAN)
    seen: list[str] = []

    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.close_overlay()
        while app.memory.state.mode != "summary":
            await pilot.pause()
            said = app.memory.machine.prompt(app.memory.state)
            # without the map, whose numbers stand in the same rows
            strips = app.query_one(WordsPanel)._strips or []
            assert squeezed(said) in squeezed("".join(s.text for s in strips)), (said, app.text())
            seen.append(said)
            app.done()

    play(script, (80, 24), rig)
    assert len(set(seen)) > 40
    assert any("Loch" in s for s in seen)
