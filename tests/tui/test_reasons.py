"""Reasons on the saw screen: from the help list, page by page, never in STOP's way."""

from __future__ import annotations

import dataclasses

import pytest
from textual.pilot import Pilot

from companion.draw.cells import Ink
from companion.draw.reasons import picture_cells
from companion.shop.reasons import pages
from companion.tui.reasons import reason_face, topics_of
from companion.tui.widgets import BoardMap, Eye
from tests.tui.rig import Rig, play, state


async def _opened(app: Rig, pilot: Pilot[int]) -> None:
    app.to_first_step()
    await pilot.press("question_mark")
    await pilot.press("w")


def test_the_page_of_the_step_stands_with_its_picture() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        await _opened(app, pilot)
        assert app.overlay == "reason" and app.face is not None
        assert app.face.picture == "sheet" and app.face.head == pages()["sheet"].title
        board = app.query_one(BoardMap)
        assert board.display and board.picture == "sheet"
        width, height = board.size
        drawn = picture_cells("sheet", width, height)
        assert (drawn.ink > Ink.PATTERN).any()
        assert [s.text for s in board.paint(width, height)] == drawn.text().split("\n")
        assert pages()["sheet"].why[:20] in " ".join(app.text().split())

    play(script, (120, 40))


def test_w_turns_the_page_and_a_tap_goes_back_to_the_same_step() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        await _opened(app, pilot)
        topics = topics_of(app.memory.machine, state(app))
        seen = []
        for _ in topics:
            assert app.face is not None
            seen.append(app.face.picture)
            await pilot.press("w")
        assert tuple(seen) == topics
        assert app.face is not None and app.face.picture == topics[0]
        before = state(app)
        app.test_clock.now += 5
        app.press(app.test_clock.now)
        app.test_clock.now += 1
        app.feet_due()
        await pilot.pause()
        assert app.overlay == "none" and state(app).step == before.step
        # the map is a map again
        board = app.query_one(BoardMap)
        assert board.picture == ""

    play(script, (120, 40))


@pytest.mark.parametrize("key", ["x", "f8"])
def test_stop_is_one_key_away_from_a_page(key: str) -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        await _opened(app, pilot)
        await pilot.press(key)
        assert state(app).mode == "stop" and "STOP" in app.text()

    play(script)


def test_every_step_of_a_plan_has_pages_and_cuts_tell_of_their_turns() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        machine = app.memory.machine
        told: set[str] = set()
        for index, step in enumerate(machine.plan.steps):
            at = dataclasses.replace(state(app), step=index)
            topics = topics_of(machine, at)
            assert len(set(topics)) == len(topics) >= 5
            told |= set(topics)
            if step.stage == "cut" and step.cut is not None:
                turns = {t.technique for t in machine.plan.cuts[step.cut - 1].turns}
                assert turns <= set(topics)
            face = reason_face(machine, at, 3, app.words)
            assert face.picture in topics and face.place.startswith("page 4 of")
        assert {"inside-first", "not-from-edge", "threading", "hands"} <= told

    play(script)


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)])
def test_a_page_fits_where_a_screen_does(size: tuple[int, int]) -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        await _opened(app, pilot)
        lines = app.text().split("\n")
        assert lines[0].strip().startswith("WHY")
        assert any("back to the work" in line for line in lines)
        board = app.query_one(BoardMap)
        assert board.size.width >= 30 and board.size.height >= 6

    play(script, size, Rig(eye=Eye(4.5, 1500.0)))


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_no_word_of_any_page_is_lost(
    monkeypatch: pytest.MonkeyPatch, size: tuple[int, int]
) -> None:
    monkeypatch.setattr("companion.tui.reasons.topics_of", lambda *_: tuple(pages()))
    lost: list[tuple[str, str]] = []

    async def script(app: Rig, pilot: Pilot[int]) -> None:
        await _opened(app, pilot)
        for page in pages().values():
            # the picture stands right of the words
            edge = app.query_one(BoardMap).region.x
            shown = " ".join(" ".join(row[:edge] for row in app.text().split("\n")).split())
            lost.extend(
                (page.key, told)
                for told in (page.caption, *page.text)
                if " ".join(told.split()) not in shown
            )
            await pilot.press("w")

    play(script, size)
    assert [key for key, _ in lost] == []
