"""Opens the saw screen with what the user has set up, and stays until it is left."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from textual.message import Message

from companion.devices.pedal_reader import Edge, PedalReader, open_device
from companion.errors import EXIT_INTERRUPTED
from companion.planner.plan import Plan
from companion.shop.model import Settings
from companion.tui import messages, overlays
from companion.tui.app import SawApp
from companion.tui.input_guard import forgive_input
from companion.tui.palette import ThemeName
from companion.tui.voice_port import Voice
from companion.tui.walk_port import PedalOpener, PlanMaker, Walk
from companion.words import ENGLISH, Words


def pedal_of(settings: Settings) -> PedalOpener | None:
    """What reads the pedal's own device; None when none is set up."""
    if settings.pedal_device == "none":
        return None
    path = Path(settings.pedal_device)

    def begin(post: Callable[[Message], object]) -> PedalReader:
        def heard(edge: Edge) -> None:
            post(messages.PedalMoved(edge.key, edge.down, edge.at_s))

        def lost(why: str) -> None:
            post(messages.PedalLost(why))

        return PedalReader(open_device(path), heard, lost)

    return begin


def run(
    plan: Plan | PlanMaker,
    walk_factory: Callable[[Plan], Walk],
    settings: Settings,
    words: Words = ENGLISH,
    *,
    voice: Voice | None = None,
    theme: ThemeName | None = None,
) -> int:
    """Open the companion full screen and stay until it is left.

    Args:
        plan: the plan, or what makes it (called in a thread after the first frame).
        walk_factory: opens the session on a plan; may raise KerfsideError.
        settings: the user's.
        words: the sentences.
        voice: speaks; silent without.
        theme: colours, ``terminal`` names none; None: as the settings say.

    Returns:
        An exit code.

    Raises:
        KerfsideError: the plan could not be made or the session not opened.
    """
    forgive_input()
    skin, eye = overlays.skin_for(theme or settings.theme), overlays.eye_for(settings)
    app = SawApp(plan, walk_factory, settings, words, voice, skin, eye, pedal=pedal_of(settings))
    try:
        code = app.run()
    finally:
        if app.walk is not None:
            app.walk.close()
        app.voice.close()
        if app.reader is not None:
            app.reader.close()
    if app.failure is not None:
        raise app.failure
    return EXIT_INTERRUPTED if code is None else code
