"""``kerfside setup --hear``: what you will hear at the saw, one sound after the other.

The ear learns the cues, and the level can be judged beside the running saw: no
program can measure that.
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable

from companion.cli.wrapping import show
from companion.devices.paths import shipped
from companion.devices.voice.client import Status, Voice, VoiceSettings, helper_command
from companion.errors import EXIT_FINE
from companion.shop.model import Settings
from companion.words import Words

READY_S = 10.0
CUE_S = 1.6
PROMPT_S = 12.0

CUES: tuple[tuple[str, str], ...] = (
    ("next", "one step further"),
    ("attention", "look at the screen"),
    ("stop", "STOP: switch the saw off"),
    ("halfway", "half of the cut is done"),
    ("last-tenth", "the last tenth of an outside cut"),
    ("timer-over", "a timer is over"),
    ("not-heard", "the pedal is not heard"),
)
"""Names of the cue files and what each means."""


def voice_settings(settings: Settings) -> VoiceSettings:
    """How the user wants to be spoken to."""
    return VoiceSettings(
        wpm=settings.speech_rate_wpm,
        voice="" if settings.voice == "auto" else settings.voice,
        language=settings.language,
    )


def hear(
    settings: Settings,
    words: Words,
    command: list[str] | None = None,
    show: Callable[[str], None] = show,
    pause: Callable[[float], object] | None = None,
) -> int:
    """Play every cue with its meaning, then a spoken prompt.

    Args:
        settings: speed, voice and language.
        words: the sentences.
        command: starts the voice helper; by default the real one.
        show: writes one line.
        pause: waits so many seconds between sounds.

    Returns:
        An exit code: 0 even when nothing can be heard, which is then said.
    """
    ready, ended = threading.Event(), threading.Event()

    def told(_: Status) -> None:
        ready.set()

    def event(what: dict[str, object]) -> None:
        if what.get("event") in ("end", "error"):
            ended.set()

    wait = pause or threading.Event().wait
    voice = Voice(
        command or helper_command(shipped("sounds")), voice_settings(settings), told, event
    )
    try:
        ready.wait(READY_S)
        if voice.status_text:
            show(words.say(voice.status_text))
        if voice.status in ("ready", "no_engine"):
            _play(voice, words, show, wait, ended)
    finally:
        voice.close()
    sys.stdout.flush()
    return EXIT_FINE


def _play(
    voice: Voice,
    words: Words,
    show: Callable[[str], None],
    wait: Callable[[float], object],
    ended: threading.Event,
) -> None:
    show(words.say("Let the saw run beside you, with your ear protection on."))
    for name, meaning in CUES:
        show("  " + words.say(meaning))
        voice.cue(name)
        wait(CUE_S)
    if voice.status == "ready":
        prompt = words.say("Thread the blade at hole {hole}, saw off, teeth down.", hole=7)
        show("  " + prompt)
        voice.say(prompt, cue="next")
        ended.wait(PROMPT_S)
    show(
        words.say("Not clear? Turn the speaker up, or wear a headset under the muffs; then again.")
    )
