"""Every screen at three sizes in three themes, as text and as styles.

The golden files hold what stands on the screen; colours are held as one digest a
picture, so that a change of either shows. After looking at the new pictures, write
them anew with ``KERFSIDE_GOLDEN=write pytest tests/tui/test_screens.py``.
"""

from __future__ import annotations

import asyncio
import hashlib
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from companion.errors import JournalError
from companion.session import model as m
from companion.session.machine import Start
from companion.session.texts import shop_texts
from companion.session.walk import Drying
from companion.shop.model import Mishap as Recovery
from companion.tui.palette import ThemeName
from companion.tui.skin import Skin
from companion.tui.widgets import Painted
from tests.tui.plans import chores_plan, sized_plan
from tests.tui.rig import Rig

GOLDEN = Path(__file__).parent / "golden"
SIZES = [(80, 24), (120, 40), (200, 60)]


def _checklist(app: Rig) -> None:
    app.close_overlay()
    app.done(3)


def _stage(stage: str) -> Callable[[Rig], None]:
    def go(app: Rig) -> None:
        app.to_first_step()
        while app.own_plan.steps[app.memory.state.step].stage != stage:
            app.done()
        app.test_clock.now += 12.0

    return go


def _holes(app: Rig) -> None:
    _stage("drill")(app)
    app.act("holes")
    app.done(2)


def _sized(app: Rig) -> None:
    _stage("drill")(app)
    app.done()


def _sized_hole(app: Rig) -> None:
    _sized(app)
    app.act("holes")
    app.done()


def _guard(app: Rig) -> None:
    _stage("cut")(app)
    app.done()


def _cutting(app: Rig) -> None:
    app.to_cut(1)
    app.test_clock.now += 75.0


def _outside(app: Rig) -> None:
    app.to_cut(4)
    app.test_clock.now += 1000.0


def _pause(app: Rig) -> None:
    _cutting(app)
    app.send(m.Pause())


def _stop(app: Rig) -> None:
    _cutting(app)
    app.send(m.Stop())


def _mishap(app: Rig) -> None:
    _cutting(app)
    app.send(m.Mishap("blade-broke"))
    app.done(2)


def _menu(app: Rig) -> None:
    _cutting(app)
    app.act("mishap")


def _menu_drill(app: Rig) -> None:
    _stage("drill")(app)
    app.act("mishap")


def _unheard(app: Rig) -> None:
    _cutting(app)
    app.on_app_blur()


def _whole(app: Rig) -> None:
    _cutting(app)
    app.act("zoom")


def _summary(app: Rig) -> None:
    app.to_first_step()
    while app.memory.state.mode != "summary":
        app.done()


def _batch(app: Rig) -> None:
    """Three runs of one plan, each quicker than the one before; the third is just done."""
    app.memory.start = Start(runs=3, run=3, runs_s=(1930.0, 1544.0), resumed=True)
    app.memory.begin()
    _summary(app)


def _between(app: Rig) -> None:
    """The second of three runs is to be begun."""
    app.memory.start = Start(runs=3, run=2, runs_s=(540.0,), resumed=True)
    app.memory.begin()
    _summary(app)


def _resumed(app: Rig) -> None:
    app.memory.start = Start(step=8, runs=3, run=2, runs_s=(1930.0,), resumed=True)
    app.memory.begin()


def _again(app: Rig) -> None:
    _cutting(app)
    app.act("again")


def _heard(app: Rig) -> None:
    _cutting(app)
    app.press(app.test_clock())


def _note(app: Rig) -> None:
    _cutting(app)
    app.act("note")


def _stuck(app: Rig) -> None:
    _cutting(app)
    app.memory.trouble = JournalError(
        "the log cannot be written", "no space left on device", "Free some space on the disk."
    )


def _hurried(app: Rig) -> None:
    _guard(app)
    app.press(app.test_clock())
    app.test_clock.now += 1.0
    app.feet_due()


def _drying(app: Rig) -> None:
    _finish("Paint, first coat")(app)
    app.memory.wet = (Drying(22, "Fill the gaps", 0.0, 1265.0),
                      Drying(23, "Seal the edges", 0.0, 6900.0))  # fmt: skip


def _finish(title: str) -> Callable[[Rig], None]:
    def go(app: Rig) -> None:
        app.to_first_step()
        while app.own_plan.steps[app.memory.state.step].title != title:
            app.done()

    return go


def _recovering(kind: Recovery) -> Callable[[Rig], None]:
    """The first thing to do after a mishap."""

    def go(app: Rig) -> None:
        (_stage("drill") if kind.drilling else _cutting)(app)
        app.send(m.Mishap(kind.key))

    return go


def _help(app: Rig) -> None:
    app.to_first_step()
    app.act("help")


def _reason(app: Rig) -> None:
    _cutting(app)
    app.act("help")
    app.act("why")


SCREENS: dict[str, Callable[[Rig], None]] = {
    "opening": lambda app: None, "checklist": _checklist, "prepare": _stage("prepare"),
    "drill": _stage("drill"), "holes": _holes, "to_size": _sized,
    "to_size_hole": _sized_hole, "to_size_map": _stage("drill"), "thread": _stage("thread"),
    "guard": _guard, "cutting": _cutting,
    "outside": _outside, "whole": _whole, "lip": _stage("lip"), "clear": _stage("clear"),
    "free": _stage("free"), "finish": _stage("finish"), "pause": _pause, "stop": _stop,
    "mishap": _mishap, "menu": _menu, "menu_drill": _menu_drill, "unheard": _unheard,
    "summary": _summary, "help": _help,
    "reason": _reason, "blade": _stage("blade"), "clamp": _stage("clamp"), "rest": _stage("rest"),
    "vacuum": _stage("vacuum"), "sand": _finish("Sand both faces"),
    "fill": _finish("Fill the gaps"), "seal": _finish("Seal the edges"),
    "paint": _finish("Paint, first coat"), "drying": _drying, "resumed": _resumed,
    "between": _between, "batch": _batch, "again": _again, "heard": _heard, "note": _note,
    "stuck": _stuck, "hurried": _hurried,
    **{f"mishap_{kind.key}": _recovering(kind) for kind in shop_texts().recoveries},
}  # fmt: skip
CHORES = {"blade", "clamp", "rest", "vacuum", "sand", "fill", "seal", "paint", "drying"}
"""Screens of the plan that has all that comes between cuts and after them."""
SIZED = {"to_size", "to_size_hole", "to_size_map"}
"""Screens of the plan that has openings drilled to size."""
SMALL = [(60, 18), (79, 24)]
"""Windows smaller than the screens are made for."""


def _rig(name: str, theme: ThemeName) -> Rig:
    if name in SIZED:
        return Rig(sized_plan(), theme=theme)
    return Rig(chores_plan() if name in CHORES else None, theme=theme)


async def _shots(
    name: str, size: tuple[int, int], themes: tuple[ThemeName, ...]
) -> dict[str, tuple[str, str]]:
    """The text of a screen, and a digest of its styles, by theme."""
    found: dict[str, tuple[str, str]] = {}
    app = _rig(name, themes[0])
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        SCREENS[name](app)
        app.show()
        for theme in themes:
            for part in app.query(Painted):
                part.skin = Skin(theme)
                part.repaint()
            await pilot.pause()
            styles = [
                (str(s.style), len(s.text))
                for strip in app.screen._compositor.render_strips() for s in strip
            ]  # fmt: skip
            digest = hashlib.sha256(repr(styles).encode()).hexdigest()[:12]
            found[theme] = (app.text(), digest)
    return found


def _text(name: str, size: tuple[int, int], theme: ThemeName = "dark") -> str:
    return asyncio.run(_shots(name, size, (theme,)))[theme][0]


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
@pytest.mark.parametrize("name", SCREENS)
def test_screen(name: str, size: tuple[int, int]) -> None:
    shots = asyncio.run(_shots(name, size, ("dark", "light", "contrast")))
    texts = {text for text, _ in shots.values()}
    assert len(texts) == 1, "the words depend on the theme"
    colours = {theme: digest for theme, (_, digest) in shots.items()}
    assert len(set(colours.values())) == 3
    told = texts.pop() + "\n" + "\n".join(f"{t} {d}" for t, d in colours.items()) + "\n"
    path = GOLDEN / f"{name}_{size[0]}x{size[1]}.txt"
    if os.environ.get("KERFSIDE_GOLDEN") == "write":
        path.parent.mkdir(exist_ok=True)
        path.write_text(told, encoding="utf-8")
    assert told == path.read_text(encoding="utf-8")


@pytest.mark.parametrize("size", SMALL, ids=lambda s: f"{s[0]}x{s[1]}")
def test_a_window_too_small_says_so_and_still_tells_what_to_do(size: tuple[int, int]) -> None:
    for name in ("cutting", "guard", "checklist", "thread", "stop"):
        text = _text(name, size)
        said = "Small window:" in text
        assert said == (name != "stop"), name
    assert "Small window" not in _text("cutting", (80, 24))


@pytest.mark.parametrize("size", [(80, 24), (100, 30), (140, 50), (220, 70), (300, 90)])
def test_the_thing_to_do_is_in_letters_for_the_stool(size: tuple[int, int]) -> None:
    for name in ("thread", "guard", "cutting", "checklist"):
        text = _text(name, size)
        lines = text.split("\n")
        assert len(lines) == size[1]
        assert sum("▀" in line or "█" in line for line in lines[1:9]) >= 3, name


def test_the_state_stands_there_in_words_on_every_screen() -> None:
    words = {
        "opening": "READY", "checklist": "CHECKLIST", "guard": "POWER-ON CHECK",
        "cutting": "CUTTING", "pause": "PAUSED", "stop": "STOP", "mishap": "MISHAP",
        "summary": "DONE", "drill": "DRILL", "thread": "THREAD", "help": "HELP",
    }  # fmt: skip
    for name, word in words.items():
        text = _text(name, (80, 24), "terminal")
        assert word in text.split("\n")[0], name


def test_the_terminal_theme_names_no_colour() -> None:
    async def styles() -> set[str]:
        app = Rig(theme="terminal")
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause()
            _cutting(app)
            await pilot.pause()
            strips = app.screen._compositor.render_strips()
            return {
                str(c.name)
                for strip in strips for s in strip if s.style
                for c in (s.style.color, s.style.bgcolor) if c
            }  # fmt: skip

    assert asyncio.run(styles()) <= {"default"}
