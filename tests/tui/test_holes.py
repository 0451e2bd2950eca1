"""The drill round on the screen: hole by hole by a key, shown on the map, ticked off by a tap."""

from __future__ import annotations

from textual.pilot import Pilot

from companion.tui.widgets import BoardMap
from tests.tui.plans import many_plan
from tests.tui.rig import Rig, play, state


def _to_round(app: Rig) -> None:
    app.to_first_step()
    while app.own_plan.steps[state(app).step].stage != "drill":
        app.done()


def test_the_key_changes_between_one_and_all_and_a_tap_ticks_one_off() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        _to_round(app)
        step = state(app).step
        await pilot.press("h")
        assert "Hole" in app.current_face().head and "hole 1 of 4" in app.text()
        app.done()
        await pilot.pause()
        moment = app.query_one(BoardMap).moment
        first, second = app.own_plan.holes[:2]
        assert moment.drilled == {first.number} and moment.hole == second.number
        assert "hole 2 of 4" in app.text() and "●" in app.text()
        await pilot.press("b")
        assert "hole 1 of 4" in app.text() and not app.query_one(BoardMap).moment.drilled
        await pilot.press("h")
        assert app.query_one(BoardMap).moment.hole is None
        app.done()
        assert state(app).step == step + 1

    play(script)


def test_the_number_of_the_hole_in_hand_is_legible_among_ninety() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        _to_round(app)
        await pilot.press("h")
        for number in range(1, len(app.own_plan.holes) - 1):
            app.done()
            if number % 7 == 0:
                await pilot.pause()
                wanted = str(app.query_one(BoardMap).moment.hole)
                signs = ["".join(s.text for s in strip)
                         for strip in app.query_one(BoardMap)._strips or []]  # fmt: skip
                assert any(wanted in row for row in signs), (wanted, signs)

    play(script, size=(80, 24), app=Rig(many_plan(10, 9)))
