"""Offers to read the pedal from the system's own input device: ``kerfside setup --pedal``."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from companion.cli.wrapping import show
from companion.devices.pedal_reader import PedalError, candidates, open_device
from companion.errors import UsageError
from companion.shop.model import Settings
from companion.words import Words

Answer = Callable[[str], str]


def with_device(settings: Settings, text: str) -> Settings:
    """The settings with a pedal's device by its path; ``none``: the terminal tells its key.

    Raises:
        UsageError: a relative path.
        PedalError: the device cannot be read, or is no pedal.
    """
    if text != "none":
        if not Path(text).is_absolute():
            raise UsageError(
                f"no device: {text!r}", "", "Give a path as in /dev/input/by-id/NAME, or none."
            )
        # opened once, so that what stands in the way is told now and not at the saw
        open_device(Path(text)).close()
    return replace(settings, pedal_device=text)


def offer(
    settings: Settings, words: Words, answer: Answer,
    found: Callable[[], tuple[Path, ...]] = candidates,
) -> Settings:  # fmt: skip
    """Ask whether the pedal's own device is to be read, and which it is.

    Args:
        settings: as they are.
        words: the language.
        answer: shows a question and returns one line.
        found: devices that may be a pedal.

    Returns:
        The settings; unchanged when the offer is declined or the device cannot be read,
        and then the reason has been printed.
    """
    devices = found() if sys.platform == "linux" else ()
    if not devices:
        return settings
    show(words.say("Read from its own device, the pedal tells press and release, and is heard "
                    "while another window is in front:"))  # fmt: skip
    for n, path in enumerate(devices, 1):
        show(f"  {n}  {path.name}")
    text = answer(
        words.say("Which is the pedal? Its number; Enter: through the terminal: ")
    ).strip()
    if not text:
        return replace(settings, pedal_device="none")
    if not text.isdecimal() or not 1 <= int(text) <= len(devices):
        show(words.say("Not one of these: {text}", text=text))
        return settings
    try:
        return with_device(settings, str(devices[int(text) - 1]))
    except PedalError as error:
        show(str(error))
        return settings
