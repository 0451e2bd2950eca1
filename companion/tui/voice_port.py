"""What the screen asks of a voice; the silent one is the default.

The screen never waits for the voice and never fails with it.
"""

from __future__ import annotations

from typing import Literal, Protocol

Rank = Literal["stop", "guard", "step", "hint"]
"""What may cut what off: a higher rank (first) silences a lower one."""


class Voice(Protocol):
    """Speaks prompts and plays cue sounds; every call returns at once."""

    muted: bool
    """Whether prompts are swallowed; the stop call is spoken all the same."""

    def say(self, text: str, rank: Rank) -> None:
        """Speak a sentence; it replaces what is being said at the same or a lower rank."""

    def cue(self, name: str) -> None:
        """Play a short sound, e.g. ``heard``, ``step``, ``half``, ``stop``."""

    def again(self) -> None:
        """Repeat the last prompt."""

    def stop(self) -> None:
        """Fall silent now."""

    def close(self) -> None:
        """End helper processes."""


class Silent:
    """No sound at all."""

    muted = True

    def say(self, text: str, rank: Rank) -> None:
        """Say nothing."""

    def cue(self, name: str) -> None:
        """Play nothing."""

    def again(self) -> None:
        """Repeat nothing."""

    def stop(self) -> None:
        """Nothing to stop."""

    def close(self) -> None:
        """Nothing to end."""
