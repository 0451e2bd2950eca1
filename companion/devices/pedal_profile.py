"""Learns a pedal: which key it sends and how fast its presses follow each other.

The sawyer taps, double-taps and holds when asked; the times of the key events give the
windows by which gestures are told apart (companion.session.gesture). Pure: no clock.
Margins over the slowest example are our own choice, no published source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from companion.session.gesture import PedalTiming

Ask = Literal["which", "taps", "doubles", "hold", "learned"]
TAPS, DOUBLES = 3, 3
QUIET_S = 1.2
"""A gesture is over when nothing more came for so long: longer than any repeat delay."""
BOUNCE_MOST_S = 0.08
"""Two presses closer than this, where one was asked for, are one press and its bounce."""


@dataclass(frozen=True, slots=True)
class Learned:
    """What was found out."""

    timing: PedalTiming
    repeats: bool
    """The pedal repeats while held; if not, a hold cannot be told from a tap."""


def learn(
    taps: Sequence[Sequence[float]], doubles: Sequence[Sequence[float]], hold: Sequence[float]
) -> Learned:
    """Windows from examples.

    Args:
        taps: for each tap, the times of its presses, bounce included, seconds.
        doubles: the same for each double tap.
        hold: all presses of one long hold.

    >>> repeats = [10.66 + n * 0.04 for n in range(50)]
    >>> found = learn([[1.0], [3.0]], [[5.0, 5.2]], [10.0, *repeats])
    >>> found.repeats, round(found.timing.hold_s, 2), round(found.timing.double_s, 2)
    (True, 0.76, 0.27)
    """
    usual = PedalTiming()
    bounces = [b - a for tap in taps for a, b in zip(tap, tap[1:], strict=False)]
    bounces = [gap for gap in bounces if gap < BOUNCE_MOST_S]
    bounce_s = min(BOUNCE_MOST_S, max([usual.bounce_s, *(1.5 * gap for gap in bounces)]))
    apart = [
        gap for pair in doubles for a, b in zip(pair, pair[1:], strict=False)
        if (gap := b - a) >= bounce_s
    ]  # fmt: skip
    double_s = min(0.6, max(0.2, 1.35 * max(apart))) if apart else usual.double_s
    presses = _without_bounce(hold, bounce_s)
    gaps = [b - a for a, b in zip(presses, presses[1:], strict=False)]
    if len(gaps) < 2:
        # no repeats: nothing to wait for beyond a second tap
        return Learned(PedalTiming(bounce_s, double_s, usual.repeat_s, double_s + 0.05), False)
    repeat_s = min(0.4, max(0.08, 1.6 * max(gaps[1:])))
    hold_s = min(2.5, max(double_s + 0.05, 1.15 * gaps[0]))
    return Learned(PedalTiming(bounce_s, double_s, repeat_s, hold_s), True)


def _without_bounce(times: Sequence[float], bounce_s: float) -> list[float]:
    kept: list[float] = []
    for at in times:
        if not kept or at - kept[-1] >= bounce_s:
            kept.append(at)
    return kept


@dataclass
class Recording:
    """Goes through the examples, one after the other."""

    key: str = ""
    """The pedal's key; empty until it was pressed."""
    ask: Ask = "which"
    """What the sawyer is to do now."""
    taps: list[list[float]] = field(default_factory=list)
    doubles: list[list[float]] = field(default_factory=list)
    hold: list[float] = field(default_factory=list)
    _open: list[float] = field(default_factory=list)

    def press(self, key: str, at_s: float) -> None:
        """Hear a key; another key than the pedal's is not heard after the first."""
        self.wait(at_s)
        if self.ask == "which":
            self.key = key
        if key == self.key and self.ask != "learned":
            self._open.append(at_s)

    @property
    def due_s(self) -> float | None:
        """When :meth:`wait` must be called if nothing more is heard."""
        return self._open[-1] + QUIET_S if self._open else None

    @property
    def left(self) -> int:
        """How many more examples of the present kind are asked for."""
        if self.ask == "taps":
            return TAPS - len(self.taps)
        return DOUBLES - len(self.doubles) if self.ask == "doubles" else 1

    def wait(self, now_s: float) -> None:
        """Close the example when it has been quiet long enough."""
        if not self._open or now_s < self._open[-1] + QUIET_S:
            return
        times, self._open = self._open, []
        if self.ask == "which":
            self.ask = "taps"
        elif self.ask == "taps":
            # a second true press means it was no single tap: asked for again
            if times[-1] - times[0] < BOUNCE_MOST_S * 2:
                self.taps.append(times)
            self.ask = "taps" if self.left else "doubles"
        elif self.ask == "doubles":
            if times[-1] - times[0] >= BOUNCE_MOST_S:
                self.doubles.append(times)
            self.ask = "doubles" if self.left else "hold"
        else:
            self.hold = times
            self.ask = "learned"

    def learned(self) -> Learned:
        """The windows, when all examples are there."""
        return learn(self.taps, self.doubles, self.hold)
