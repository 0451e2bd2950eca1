"""Clocks for a session: the machine's own, and a made-up one for rehearsals and tests.

A session is timed by a clock that is never set back and stands while the machine
sleeps; the wall clock only says on which day something happened.
"""

from __future__ import annotations

import sys
import time
from typing import Protocol


class Clock(Protocol):
    """What a session asks of a clock; all in seconds."""

    def monotonic_s(self) -> float:
        """Never goes back."""

    def boot_s(self) -> float:
        """Never goes back, and goes on while the machine sleeps."""

    def wall_s(self) -> float:
        """Unix time; may be set."""


class SystemClock:
    """The machine's clocks.

    On Linux and macOS ``time.monotonic`` stands during sleep and another clock goes on;
    elsewhere there is no second one, and sleep shows only as a gap between ticks.
    """

    def monotonic_s(self) -> float:
        """See :class:`Clock`."""
        return time.monotonic()

    def boot_s(self) -> float:
        """See :class:`Clock`."""
        if sys.platform == "linux":
            return time.clock_gettime(time.CLOCK_BOOTTIME)
        if sys.platform == "darwin":
            return time.clock_gettime(time.CLOCK_MONOTONIC)
        return time.monotonic()

    def wall_s(self) -> float:
        """See :class:`Clock`."""
        return time.time()


class MadeUpClock:
    """A clock that goes by being told; with a speed it also goes with the real one."""

    def __init__(self, wall_s: float | None = None, speed: float = 0.0) -> None:
        """Set it.

        Args:
            wall_s: its wall time at the start; None: the real one.
            speed: how many times faster than the real clock it runs by itself; 0: it stands.
        """
        self._wall_s = time.time() if wall_s is None else wall_s
        self._speed = speed
        self._began_s = time.monotonic()
        self._told_s = 0.0

    def advance(self, seconds: float) -> None:
        """Move it on; never back."""
        self._told_s += max(0.0, seconds)

    def monotonic_s(self) -> float:
        """See :class:`Clock`."""
        return self._told_s + self._speed * (time.monotonic() - self._began_s)

    def boot_s(self) -> float:
        """See :class:`Clock`; it never sleeps."""
        return self.monotonic_s()

    def wall_s(self) -> float:
        """See :class:`Clock`."""
        return self._wall_s + self.monotonic_s()
