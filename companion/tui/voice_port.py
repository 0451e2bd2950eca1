"""What the screen asks of a voice; the silent one is the default.

The screen never waits for the voice and never fails with it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from companion.session.model import Rank


class Voice(Protocol):
    """Speaks prompts and plays cue sounds; every call returns at once and none raises."""

    def say(self, text: str, rank: Rank = "step") -> None:
        """Speak a sentence in place of what is being said, unless that is more urgent."""

    def cue(self, name: str) -> None:
        """Play a short sound of sounds/ by its name without suffix."""

    def again(self) -> None:
        """Repeat the last prompt."""

    def stop(self) -> None:
        """Fall silent now."""

    def mute(self, muted: bool) -> None:
        """Switch the voice off, or on again."""

    def prepare(self, texts: Sequence[str]) -> None:
        """Get these sentences ready, in this order."""

    def close(self) -> None:
        """End helper processes."""

    @property
    def status_text(self) -> str:
        """One sentence when something is wrong with the voice; else empty."""

    @property
    def status_mark(self) -> str:
        """The same in two words."""


class Silent:
    """No sound at all."""

    status_text = ""
    status_mark = ""

    def say(self, text: str, rank: Rank = "step") -> None:
        """Say nothing."""

    def cue(self, name: str) -> None:
        """Play nothing."""

    def again(self) -> None:
        """Repeat nothing."""

    def stop(self) -> None:
        """Nothing to stop."""

    def mute(self, muted: bool) -> None:
        """Nothing to switch."""

    def prepare(self, texts: Sequence[str]) -> None:
        """Nothing to get ready."""

    def close(self) -> None:
        """Nothing to end."""
