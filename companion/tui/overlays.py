"""Screens that lie over the walk: waiting for the plan, the opening, help, the mishaps."""

from __future__ import annotations

import locale
import os
import sys
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from companion.draw.board import Moment
from companion.session.machine import Machine
from companion.session.model import State
from companion.shop.model import Settings
from companion.shop.names import material_text
from companion.tui.actions import ACTIONS, BY_ID, ActionId
from companion.tui.face import Face, Line, clock_text, done_cuts, learning, minutes_text
from companion.tui.palette import ThemeName
from companion.tui.skin import Skin
from companion.tui.walk_port import Wet
from companion.tui.widgets import Eye
from companion.words import Words

Overlay = Literal["none", "opening", "help", "mishap", "reason"]


def skin_for(theme: str) -> Skin:
    """The styles of a theme; NO_COLOR (no-color.org) means the terminal's own."""
    known: dict[str, ThemeName] = {"dark": "dark", "light": "light", "contrast": "contrast"}
    return Skin("terminal" if os.environ.get("NO_COLOR") else known.get(theme, "terminal"))


def eye_for(settings: Settings) -> Eye:
    """How the screen is seen; ASCII where the terminal's encoding holds nothing else."""
    encoding = getattr(sys.__stdout__, "encoding", None) or locale.getpreferredencoding(False)
    wide = "utf" in encoding.lower()
    # the Linux console's font holds half blocks but no braille
    console = os.environ.get("TERM", "") == "linux"
    canvas: Literal["braille", "quadrant", "ascii"] = (
        "ascii" if not wide else "quadrant" if console else "braille"
    )
    return Eye(settings.cell_height_mm, settings.distance_mm, canvas)


def key_shown(key: str) -> str:
    """How a pedal key is written in the footer."""
    return "space" if key == "space" else "pedal"


def keys_shown(
    keys: tuple[ActionId, ...], pedal_shown: str, words: Words
) -> tuple[tuple[str, str], ...]:
    """The footer's keys: as written, and what they do."""
    found: list[tuple[str, str]] = []
    for key in keys:
        action = BY_ID[key]
        shown = pedal_shown if key == "pedal" else action.shown
        found.append((shown, words.say(action.label)))
    return tuple(found)


def legend(words: Words) -> tuple[tuple[str, str], ...]:
    """Kinds of signs on the map, and their words."""
    say = words.say
    return (
        ("start", say("start")), ("hole", say("hole")), ("drilled", say("drilled")),
        ("to-size", say("to size")),
        ("spin", say("spin")),
        ("back-out", say("back out")), ("loop", say("loop")), ("hold", say("hold at the end")),
        ("neck", say("thin")),
    )  # fmt: skip


def waiting(words: Words, progress: str) -> Face:
    """Before the plan is there."""
    return Face(
        "wait", words.say("PLANNING"), head=words.say("One moment"),
        say=words.say("The plan is being worked out."), hint="",
        details=(progress,) if progress else (), keys=("leave",),
    )  # fmt: skip


def opening(machine: Machine, state: State, plan_name: str = "", voice_trouble: str = "") -> Face:
    """Session start: what is to do, and what is left.

    Args:
        machine: it knows the plan.
        state: as the session begins.
        plan_name: the plan's short hash, as on the sheet; empty while it is worked out.
        voice_trouble: why nothing will be heard; empty when all is well.
    """
    plan, words = machine.plan, machine.words
    say = words.say
    left = machine.left(state.step)
    low, likely, high = (minutes_text(t, words) for t in (left.low, left.likely, left.high))
    cuts_left = len(plan.cuts) - len(done_cuts(plan, state.step))
    drills = dict.fromkeys(words.drill(h.drill_name, h.drill_mm) for h in plan.drilled)
    told = [
        words.count("{n} cut to make", "{n} cuts to make", cuts_left),
        say("about {likely} ({low} to {high})", likely=likely, low=low, high=high),
        say("{material}, {thickness} mm, {stack} at once",
            material=material_text(plan.board.material, words),
            thickness=f"{plan.board.thickness_mm:g}", stack=plan.board.stack),
        say("blade {number}, drill {drills}", number=plan.blade.number, drills=", ".join(drills)),
    ]  # fmt: skip
    if state.runs > 1:
        told.append(say("run {n} of {total}", n=state.run, total=state.runs))
        told += learning(state, words)
    minded = sum(f.severity != "note" for f in plan.findings)
    if minded:
        told.append(words.count("{n} thing to mind, see kerfside check",
                                "{n} things to mind, see kerfside check", minded))  # fmt: skip
    lines = [Line("", t) for t in told]
    if machine.notice:
        lines.insert(0, Line("!", machine.notice))
    if voice_trouble:
        lines.append(Line("!", machine.words.say(voice_trouble)))
    return Face(
        "calm", say("READY"), place=say("plan {hash}", hash=plan_name) if plan_name else "",
        power=say("saw off"), head=plan.project.name or say("The work"),
        say=machine.resumed(state) if state.resumed else say("Tap to begin with the checklist."),
        lines=tuple(lines), next=say("The saw's manual, local codes and licensed practice first."),
        keys=("pedal", "stop", "voice", "help", "leave"),
        moment=Moment(done_cuts(plan, state.step), holding=True),
    )  # fmt: skip


def with_drying(face: Face, drying: Sequence[Wet], words: Words, waits: bool = False) -> Face:
    """A face that also tells what is still wet, and for how long: the longest first.

    Args:
        face: as it is without.
        drying: what is wet, in the order of the steps.
        words: the user's language.
        waits: the step in hand is to be done on dry ground: its first word is to wait. It is
            told, not enforced.
    """
    drying = sorted(reversed(drying), key=lambda wet: -wet.left_s)
    told = [
        words.say("{title}: wet for {left}", title=wet.title, left=clock_text(wet.left_s))
        if wet.left_s > 0 else words.say("{title}: dry", title=wet.title)
        for wet in drying
    ]  # fmt: skip
    if waits and not face.hint and drying and drying[0].left_s > 0:
        face = replace(face, hint=words.say("Wait. {wet}", wet=told.pop(0)))
    return replace(face, lines=(*face.lines, *(Line("!", text) for text in told)))


def help_face(words: Words, pedal_shown: str) -> Face:
    """All keys, from the registry."""
    lines = []
    for action in ACTIONS:
        shown = pedal_shown if action.id == "pedal" else action.shown
        lines.append(Line("", f"{shown:6} {words.say(action.sentence)}"))
    return Face(
        "calm", words.say("HELP"), head=words.say("Keys"), lines=tuple(lines),
        next=words.say("Any tap: back to the work. w: why, at length. STOP is x, here too."),
        keys=("pedal", "why", "stop", "help", "leave"),
    )  # fmt: skip


def mishap_menu(machine: Machine, state: State) -> Face:
    """What can have gone wrong, by number."""
    say = machine.words.say
    kinds = machine.texts.recoveries_at(machine.step_at(state))
    power, first = say("switch the saw off"), say("Saw off first. Then press its number.")
    if any(kind.drilling for kind in kinds):
        power, first = say("saw off"), say("Drill off first. Then press its number.")
    lines = [Line("", f"{n}  {say(kind.name)}") for n, kind in enumerate(kinds[:9], 1)]
    return Face(
        "stop", say("MISHAP"), power=power, head=say("What happened?"),
        say=first, lines=tuple(lines),
        next=say("b: nothing happened, back to the work."), keys=("stop", "back", "leave"),
    )  # fmt: skip
