"""The screen at work: keys, guards, overlays, voice, focus, resizing, leaving."""

from __future__ import annotations

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from companion.draw.board import Moment
from companion.errors import JournalError
from companion.session import model as m
from companion.session.walk import Drying
from companion.shop.model import Skill
from companion.tui.actions import ACTIONS, keymap
from companion.tui.face import Face
from companion.tui.note import LONGEST
from companion.tui.widgets import Banner, BoardMap, Painted, StateBar, StopSign
from tests.tui.plans import many_plan
from tests.tui.rig import Rig, play, state


def test_a_tap_on_a_plain_step_is_shown_and_recorded_at_once() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        await pilot.press("space")
        assert state(app).step == 1
        assert app.memory.records[-1].kind == "step-done"
        assert "DRILL" in app.text().split("\n")[0]

    play(script)


@pytest.mark.parametrize("key", ["space", "enter", "d", "right"])
def test_each_key_for_done_moves_on(key: str) -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        await pilot.press(key)
        assert state(app).step == 1

    play(script)


def test_the_opening_waits_for_a_tap_and_speaks_only_then() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        assert "READY" in app.text() and "4 cuts to make" in app.text()
        assert not any(rank == "guard" for rank, _ in app.listener.heard)
        app.test_clock.now += 5
        app.press(app.test_clock.now)
        app.test_clock.now += 1
        app.feet_due()
        await pilot.pause()
        assert "CHECKLIST" in app.text()
        assert any(rank == "guard" for rank, _ in app.listener.heard)
        assert state(app).checked == 0

    play(script)


def test_a_voice_that_cannot_speak_is_told_at_the_opening() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.listener.status_text = "No sound output found."
        app.second()
        await pilot.pause()
        assert "No sound output found." in app.text()

    play(script)


def test_a_voice_that_fails_on_the_way_is_told_in_the_corner() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.close_overlay()
        app.listener.status_mark = "voice restarted"
        app.second()
        await pilot.pause()
        assert "voice restarted" in app.text()

    play(script)


def test_a_tap_that_came_too_soon_is_answered() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.close_overlay()
        app.test_clock.now += 0.3
        app.press(app.test_clock.now)
        app.test_clock.now += 1.0
        app.feet_due()
        await pilot.pause()
        assert state(app).checked == 0
        assert "Too quick. Look, then tap." in app.text()
        assert ("guard", "Too quick. Look, then tap.") in app.listener.heard
        app.press(app.test_clock.now)
        app.test_clock.now += 1.0
        app.feet_due()
        await pilot.pause()
        assert state(app).checked == 1
        assert "Too quick" not in app.text()

    play(script)


def test_what_is_wet_is_told_with_its_time() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        app.memory.wet = (Drying(1, "Seal it", 0.0, 754.0), Drying(2, "Fill", 0.0, 0.0))
        app.second()
        await pilot.pause()
        assert "Seal it: wet for 12:34" in app.text() and "Fill: dry" in app.text()

    play(script)


def test_a_held_key_goes_through_no_guard_on_the_real_screen() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        while state(app).mode != "guard":
            app.done()
        for key in ("space", "d"):
            app.test_clock.now += 5.0
            for n in range(200):
                app.test_clock.now += 0.5 if n == 1 else 0.04
                app.press(app.test_clock.now, side=key == "d")
                app.feet_due()
            app.test_clock.now += 5.0
            app.feet_due()
            assert state(app).guarded == 0
            assert not state(app).powered
            if state(app).mode == "pause":
                app.send(m.Pause())

    play(script)


def test_a_double_takes_the_step_back_and_says_it_again() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        app.test_clock.now += 5.0
        app.press(app.test_clock.now)
        assert state(app).step == 1
        app.test_clock.now += 0.2
        app.press(app.test_clock.now)
        app.test_clock.now += 0.2
        app.feet_due()
        assert state(app).step == 0
        assert isinstance(app.memory.inputs[-1], m.Again)
        # the next step's prompt was held back while the press might have been a double
        assert not any("Drill 4" in text for _, text in app.listener.heard)

    play(script)


@pytest.mark.parametrize("where", ["checklist", "step", "guard", "cut", "pause", "mishap",
                                   "help", "menu", "note", "opening"])  # fmt: skip
def test_stop_is_one_key_away_from_everywhere(where: str) -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        if where == "checklist":
            app.close_overlay()
        elif where != "opening":
            app.to_cut(1) if where in ("cut", "pause", "mishap") else app.to_first_step()
        if where == "guard":
            while state(app).mode != "guard":
                app.done()
        if where == "pause":
            app.act("pause")
        if where == "mishap":
            app.send(m.Mishap("blade-broke"))
        if where in ("help", "menu"):
            app.act("help" if where == "help" else "mishap")
        if where == "note":
            await pilot.press("n")
            await pilot.pause()
        app.listener.heard.clear()
        await pilot.press("f8" if where == "note" else "x")
        await pilot.pause()
        assert state(app).mode == "stop" and not state(app).powered
        assert app.query_one(StopSign).display
        ranks = [rank for rank, _ in app.listener.heard if rank != "cue"]
        assert ranks[0] == "stop"

    play(script)


def test_stop_is_spoken_before_it_is_painted() -> None:
    order: list[str] = []

    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_cut(1)
        show = app.query_one(StopSign).show

        def said(text: str, rank: str = "step") -> None:
            order.append("say")

        def shown(face: Face) -> None:
            order.append("show")
            show(face)

        app.listener.say = said  # type: ignore[method-assign]
        app.query_one(StopSign).show = shown  # type: ignore[method-assign]
        await pilot.press("x")

    play(script)
    assert order[:2] == ["say", "show"]


def test_stop_ends_only_by_the_power_on_check() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_cut(1)
        await pilot.press("x")
        for key in ("b", "p", "w", "z", "a"):
            await pilot.press(key)
            assert state(app).mode == "stop"
        app.done()
        assert state(app).mode == "guard" and not state(app).powered
        app.done(len(app.memory.machine.texts.guard))
        assert state(app).mode == "step" and state(app).powered

    play(script)


def test_the_keys_of_the_footer_do_what_they_say() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        app.done()
        await pilot.press("b")
        assert state(app).step == 0
        await pilot.press("p")
        assert state(app).mode == "pause"
        await pilot.press("p")
        assert state(app).mode == "step"
        why = state(app).why
        await pilot.press("w")
        assert state(app).why is not why
        await pilot.press("v")
        await pilot.pause()
        assert app.listener.muted and "voice off" in app.text().split("\n")[0]
        await pilot.press("v")
        assert not app.listener.muted

    play(script)


def test_a_mishap_is_chosen_by_its_number_and_leads_back() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_cut(1)
        await pilot.press("m")
        assert "What happened" not in app.text()  # in large letters, not in words
        await pilot.press("2")
        kinds = app.memory.machine.texts.recoveries
        assert state(app).mishap == kinds[1].key
        app.done(len(kinds[1].steps))
        assert state(app).mode == "guard"
        assert app.memory.records[-1].kind == "recovered"

    play(script)


def test_b_closes_the_list_of_mishaps_and_nothing_happened() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_cut(1)
        records = len(app.memory.records)
        await pilot.press("m", "b")
        assert state(app).powered and len(app.memory.records) == records

    play(script)


def test_a_note_is_typed_and_kept() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        await pilot.press("n")
        await pilot.pause()
        await pilot.press(*"wax blade")
        await pilot.press("enter")
        await pilot.pause()
        assert [r.data["text"] for r in app.memory.records if r.kind == "note"] == ["wax blade"]
        assert state(app).mode == "step" and state(app).step == 0
        await pilot.press("n")
        await pilot.pause()
        await pilot.press("q", "x", "space", "escape")
        await pilot.pause()
        assert not app.query(Input)
        assert app.is_running

    play(script)


def test_the_help_lists_every_action() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        await pilot.press("question_mark")
        await pilot.pause()
        text = app.text()
        for action in ACTIONS:
            assert action.sentence[:30] in text, action.id

    play(script, size=(120, 40))


def test_a_lost_focus_is_told_across_the_whole_width() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_cut(1)
        app.on_app_blur()
        await pilot.pause()
        bar = app.query_one(Banner)
        assert bar.display and bar.size.width == 100 and bar.size.height == 5
        # 15 letters of at most 5 columns: in block letters even here
        assert app.text().split("\n")[2].count("█") > 10
        assert bar.text == "PEDAL NOT HEARD"
        assert not state(app).focused
        app.on_app_focus()
        await pilot.pause()
        assert not bar.display and state(app).focused

    play(script)


def test_a_log_that_cannot_be_written_is_told_across_the_screen() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        app.memory.trouble = JournalError("the disk is full", "", "Make room.")
        app.show()
        await pilot.pause()
        bar = app.query_one(Banner)
        assert bar.display and bar.then == "Make room."
        app.memory.trouble = None
        app.show()
        await pilot.pause()
        assert not bar.display

    play(script)


@pytest.mark.parametrize("key", ["q", "ctrl+c"])
def test_leaving_goes_through_the_log(key: str) -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_cut(1)
        await pilot.press(key)
        await pilot.pause()

    app = play(script)
    assert app.memory.records[-1].kind == "leave"
    assert app.return_value == 0


def test_no_other_key_does_anything() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_cut(1)
        records, before = len(app.memory.records), state(app)
        for key in ("ctrl+p", "ctrl+q", "ctrl+z", "tab", "escape", "f5", "e", "9", "pageup"):
            await pilot.press(key)
        assert len(app.memory.records) == records and state(app) == before
        assert app.is_running and len(app.screen_stack) == 1

    play(script)


def test_what_is_announced_aloud_stands_on_the_screen_too() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_cut(4)
        assert app.current_face().hint == ""
        app.test_clock.now += 0.92 * app.own_plan.cuts[3].minutes.likely * 60.0
        app.second()
        assert app.current_face().hint == "Last tenth. Hold what is free."
        assert ("cue", "last-tenth") in app.listener.heard

    play(script)


@pytest.mark.parametrize(("skill", "details"), [("beginner", 2), ("practised", 2), ("terse", 0)])
def test_a_terse_sawyer_is_told_less(skill: Skill, details: int) -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_cut(1)
        face = app.current_face()
        assert len(face.details) == details
        assert bool(face.why) == (skill == "beginner")

    play(script, app=Rig(skill=skill))


def test_the_map_is_redrawn_only_when_it_changes() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_cut(1)
        await pilot.pause()
        board = app.query_one(BoardMap)
        paints = board.paints
        for _ in range(20):
            app.test_clock.now += 1.0
            app.second()
            await pilot.pause()
        assert board.paints == paints
        assert app.query_one("#words", Painted).paints > 1
        app.done()
        await pilot.pause()
        assert board.paints == paints + 1

    play(script)


def test_nothing_is_painted_while_nothing_happens() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_cut(1)
        app.act("pause")
        await pilot.pause()
        before = [w.paints for w in app.query(Painted)]
        for _ in range(10):
            app.test_clock.now += 1.0
            app.second()
            await pilot.pause()
        assert [w.paints for w in app.query(Painted)] == before

    play(script)


def test_resizing_in_the_middle_of_a_cut_keeps_the_cut() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_cut(1)
        before = state(app)
        for size in ((80, 24), (300, 90), (120, 40), (81, 25), (200, 60)):
            await pilot.resize_terminal(*size)
            await pilot.pause()
            lines = app.text().split("\n")
            assert len(lines) == size[1] and "CUTTING" in lines[0]
            assert "STOP" in "\n".join(lines[-3:])
        assert state(app) == before

    play(script)


def test_a_press_is_acknowledged_while_its_meaning_is_open() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_cut(1)
        app.test_clock.now += 5.0
        app.press(app.test_clock.now)
        assert app.query_one(StateBar).marks == ("heard",)
        app.test_clock.now += 1.0
        app.feet_due()
        assert app.query_one(StateBar).marks == ()

    play(script)


def test_every_step_of_a_whole_run_by_taps_alone() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        steps: list[int] = []
        while state(app).mode != "summary" or app.overlay != "none":
            app.test_clock.now += 3.0
            app.press(app.test_clock.now)
            app.test_clock.now += 1.0
            app.feet_due()
            if not steps or steps[-1] != state(app).step:
                steps.append(state(app).step)
        assert steps == list(range(len(app.own_plan.steps) + 1))
        await pilot.pause()
        assert "DONE" in app.text()

    play(script)


def test_the_keymap_gives_the_users_pedal_key_its_meaning() -> None:
    assert keymap("x")["x"] == "pedal"
    # STOP is still there on its other key
    assert keymap("x")["f8"] == "stop"
    keys = [key for action in ACTIONS for key in action.keys]
    assert len(keys) == len(set(keys))
    assert not any("+" in key for action in ACTIONS for key in action.keys[:1])


def test_a_thousand_openings_show_in_time_for_the_next_tap() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        app.done(5)
        assert isinstance(app.query_one(BoardMap).moment, Moment)
        assert len(app.own_plan.cuts) == 1001

    play(script, app=Rig(many_plan(40, 25)))


def test_a_note_ends_where_a_line_ends() -> None:
    """Whatever types into an open line, it cannot keep the screen busy without end."""

    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        await pilot.press("n")
        await pilot.pause()
        app.query_one(Input).insert_text_at_cursor("a" * LONGEST)
        await pilot.press("b", "enter")
        await pilot.pause()
        notes = [r.data["text"] for r in app.memory.records if r.kind == "note"]
        assert notes == ["a" * LONGEST]

    play(script)
