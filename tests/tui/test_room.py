"""Where there is little room, whole things give way, in a set order; what must be seen stays."""

from __future__ import annotations

from dataclasses import replace

import pytest
from textual.pilot import Pilot

from companion.draw.cells import View
from companion.draw.signs import Sign, apart
from companion.session import model as m
from companion.session.machine import Start
from companion.session.walk import Drying
from companion.tui.face import PARTED, Face
from companion.tui.widgets import BoardMap, Eye, StateBar
from companion.tui.words_panel import WordsPanel
from companion.words import words_for
from tests.tui.plans import chores_plan, small_plan
from tests.tui.rig import Rig, play, state

SIZES = [(80, 24), (100, 30), (120, 40), (140, 44), (160, 50), (200, 60)]
HOUR_S = 3600.0


def _rows(app: Rig) -> list[str]:
    """What stands left of the map."""
    return [strip.text.strip() for strip in app.query_one(WordsPanel)._strips or []]


def _place(app: Rig, line: str) -> int:
    """The row in which a line begins, in small words or in letters; an error if it is not whole."""
    rows, inner = _rows(app), app.query_one(WordsPanel).size.width - 2
    if line in rows:
        return rows.index(line)
    letters = [row.strip() for row in app.eye.fit(line, inner, 8, least=True).rows]
    found = [n for n in range(len(rows)) if rows[n : n + len(letters)] == letters]
    assert letters and found, line
    return found[0]


@pytest.mark.parametrize("size", SIZES)
def test_every_choice_of_the_mishap_menu_is_seen(size: tuple[int, int]) -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_cut(1)
        app.act("mishap")
        await pilot.pause()
        lines = [line.text for line in app.current_face().lines]
        assert len(lines) == len(app.memory.machine.texts.recoveries_at(None))
        places = [_place(app, line) for line in lines]
        assert places == sorted(places)

    play(script, size)


@pytest.mark.parametrize("size", SIZES)
def test_a_finish_step_after_a_wet_coat_says_that_it_waits(size: tuple[int, int]) -> None:
    """The longest first; none of them lost."""

    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        while app.own_plan.steps[state(app).step].title != "Seal the edges":
            app.done()
        at = state(app).step
        app.memory.wet = (
            Drying(at - 2, "Damp wipe", 0.0, 595.0), Drying(at - 1, "First coat", 0.0, 4 * HOUR_S),
            Drying(at, "Filler", 0.0, 1800.0),
        )  # fmt: skip
        app.show()
        await pilot.pause()
        rows = _rows(app)
        assert " ".join(" ".join(rows[:2]).split()).startswith("Wait. First coat: wet for 4:00:00")
        assert 0 < _place(app, "Filler: wet for 30:00") < _place(app, "Damp wipe: wet for 9:55")
        app.done()
        assert state(app).step == at + 1, "it is told, not enforced"

    play(script, size, Rig(chores_plan()))


def test_what_is_dry_and_what_does_not_follow_asks_for_no_waiting() -> None:
    async def script(app: Rig, _: Pilot[int]) -> None:
        app.memory.wet = (Drying(1, "First coat", 0.0, HOUR_S),)
        assert not app.current_face().hint, "the opening only tells"
        app.to_first_step()
        assert app.own_plan.steps[state(app).step].stage != "finish"
        assert not app.current_face().hint
        while app.own_plan.steps[state(app).step].stage != "finish":
            app.done()
        assert app.current_face().hint.startswith("Wait. First coat")
        app.memory.wet = (Drying(1, "First coat", 0.0, 0.0),)
        assert not app.current_face().hint
        assert [line.text for line in app.current_face().lines] == ["First coat: dry"]

    play(script)


@pytest.mark.parametrize("language", ["en", "de"])
def test_run_and_step_both_fit_the_smallest_screen(language: str) -> None:
    """A long batch of a long plan, at the state with the longest words."""
    words = words_for(language)
    run = words.say("run {n}/{total}", n=10, total=12)
    step = words.say("step {n}/{total}", n=107, total=115)
    face = Face(
        "care", words.say("POWER-ON CHECK"), PARTED.join(["run", "step", "time"] * 9),
        PARTED.join([run, step, words.say("{minutes} left", minutes="43 min")]),
        words.say("saw off until all is checked"),
    )  # fmt: skip

    async def script(app: Rig, _: Pilot[int]) -> None:
        bar = app.query_one(StateBar)
        bar.face, bar.marks = face, ("heard",)
        (strip,) = bar.paint(80, 1)
        assert strip.text.rstrip().endswith(f"  {run}{PARTED}{step}"), strip.text
        assert face.power in strip.text

    play(script, (80, 24))


def test_at_the_power_on_check_of_a_batch_run_and_step_are_seen() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.memory.start = Start(runs=3, run=2, runs_s=(540.0,), resumed=True)
        app.memory.begin()
        app.to_first_step()
        while state(app).mode != "guard":
            app.done()
        await pilot.pause()
        top = app.text().split("\n")[0]
        assert top.startswith(" POWER-ON CHECK   saw off until all is checked")
        assert "  run 2/3  step 4/20" in top

    play(script, (80, 24))


def test_the_state_bar_leaves_whole_parts_out_and_cuts_none() -> None:
    face = Face(
        "care", "POWER-ON CHECK", "run 2 of 3  step 7 of 115  4 h 8 min left",
        "run 2/3  step 7/115  4 h 8 min left", "saw off",
    )  # fmt: skip
    marks = ("heard", "voice off")
    whole = "  (heard)  (voice off)"

    async def script(app: Rig, _: Pilot[int]) -> None:
        bar = app.query_one(StateBar)
        bar.face, bar.marks = face, marks
        shown = []
        for width in range(120, 30, -1):
            (strip,) = bar.paint(width, 1)
            told = " ".join(strip.text.split()).removeprefix("POWER-ON CHECK saw off").strip()
            if told not in shown:
                shown.append(told)
        assert shown == [
            " ".join((whole + "  " + face.place).split()),
            "(heard) run 2 of 3 step 7 of 115 4 h 8 min left",
            "run 2 of 3 step 7 of 115 4 h 8 min left",
            "run 2/3 step 7/115 4 h 8 min left",
            "run 2/3 step 7/115",
            "step 7/115",
            "",
        ]

    play(script)


def test_the_power_on_check_shows_each_key_that_works_there() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_cut(1)
        app.send(m.Stop())
        app.done()
        assert state(app).mode == "guard" and "note" in app.current_face().keys
        await pilot.press("n")
        await pilot.press("o", "k", "enter")
        assert any(r.kind == "note" for r in app.memory.records)

    play(script)


def test_stop_tells_where_its_tap_leads() -> None:
    async def script(app: Rig, _: Pilot[int]) -> None:
        app.to_cut(1)
        app.send(m.Stop())
        assert "to the power-on check" in app.current_face().next
        app.done()
        assert state(app).mode == "guard"
        app.send(m.Mishap("blade-broke"))
        app.done()
        app.send(m.Stop())
        told = app.current_face().next
        assert "power-on" not in told and "mishap" in told
        app.done()
        assert (state(app).mode, state(app).recovered) == ("mishap", 1)

    play(script)


def test_a_stop_on_the_checklist_leads_back_into_it_and_says_so() -> None:
    async def script(app: Rig, _: Pilot[int]) -> None:
        app.close_overlay()
        app.done(2)
        app.send(m.Stop())
        app.done()
        face = app.current_face()
        assert state(app).mode == "guard" and len(face.lines) == 1
        assert "checklist" in face.next and "stays off" in face.head
        app.done()
        assert (state(app).mode, state(app).checked) == ("checklist", 0)

    play(script)


def test_holes_of_the_drill_before_show_as_drilled() -> None:
    made = small_plan()
    thick = tuple(replace(h, drill_mm=2.0) if h.number > 2 else h for h in made.holes)
    steps = [*made.steps[:2], *made.steps[1:]]
    made = replace(made, holes=thick,
                   steps=tuple(replace(s, number=n) for n, s in enumerate(steps, 1)))  # fmt: skip

    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        app.done()
        await pilot.pause()
        board = app.query_one(BoardMap)
        assert not board.moment.drilled and "drilled" not in board.signs()
        app.done()
        await pilot.pause()
        assert board.moment.all_holes and board.moment.drilled == {1, 2}
        assert "drilled" in board.signs()
        assert app.text().count("●") == 3 and app.text().count("○") == 3, "two each and the legend"

    play(script, (80, 24), Rig(made, eye=Eye(4.5, 1500.0)))


def test_a_number_that_would_touch_another_sign_is_left_out() -> None:
    view = View.around((0.0, 0.0, 20.0, 20.0), 20, 10)
    (column, row), mm = view.cell((4.0, 10.0)), 1.0 / view.columns_per_mm

    def labels(*offsets: tuple[float, str]) -> list[str]:
        signs = [Sign("hole", (4.0 + n * mm, 10.0), text) for n, text in offsets]
        assert [view.cell(s.at_mm) for s in signs] == [(column + n, row) for n, _ in offsets]
        return [sign.label for sign in apart(signs, view)]

    assert labels((0, "2"), (3, "13")) == ["2", "13"]
    assert labels((0, "2"), (2, "13")) == ["", "13"]
    assert labels((0, "10"), (3, "3")) == ["", "3"]
    assert labels((0, "10"), (4, "3")) == ["10", "3"]
    assert labels((1, "3"), (0, "7")) == ["3", ""]
    last = view.columns - 1 - column
    assert labels((last, "3"), (0, "2")) == ["", "2"], "nor one that the edge would cut"
