"""Tap, double tap and hold of a pedal that is only a keyboard key, told apart by time alone.

A terminal reports no key release; a held key arrives as the system's repeats, first
after 250 to 660 ms, then 11 to 30 times a second. So the rules kept here:

* a press less than 30 ms after the one before it is bounce of the contact;
* two presses within 350 ms and no third within 120 ms are a double tap;
* a second press within 750 ms and a third within 120 ms of it are a held key;
* anything else is a tap.

What a press means is therefore certain only 750 ms later. Each new press is told at
once as :class:`Down`, and later resolved exactly once as :class:`Told`: whoever can
take a step back acts on the first, whoever cannot waits for the second. After a
double or a hold the key must be quiet for as long as a double tap may take, so that
a third nervous press is never taken for a new tap.

Source of the figures: measured on a simulated X11 and Linux console keyboard (style
notes, "Textual 8"); the user's own pedal may be recorded instead.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

GestureName = Literal["tap", "double", "hold"]


@dataclass(frozen=True, slots=True)
class PedalTiming:
    """How fast a pedal's presses follow each other, seconds."""

    bounce_s: float = 0.030
    """A press sooner than this after the last one is bounce."""
    double_s: float = 0.350
    """Longest gap of a double tap."""
    repeat_s: float = 0.120
    """Longest gap between the repeats of a held key."""
    hold_s: float = 0.750
    """Longest wait for a held key's first repeat."""


@dataclass(frozen=True, slots=True)
class Down:
    """A new press, its meaning not yet known."""

    at_s: float


@dataclass(frozen=True, slots=True)
class Told:
    """What a press turned out to be."""

    name: GestureName
    at_s: float
    """When the foot went down, not when this became certain."""


Heard = Down | Told

BOUNCE_TRAIN_S = 0.05
"""Presses under ``bounce_s`` apart for longer than this are fast repeats, not bounce."""


@dataclass(frozen=True, slots=True)
class Presses:
    """What is remembered between presses."""

    first_s: float | None = None
    """Start of the press that is not yet resolved; None: none is open."""
    second_s: float | None = None
    """A second press whose meaning hangs on a third."""
    kept_s: float = -1e9
    """Last press that was not bounce."""
    raw_s: float = -1e9
    """Last press of any kind."""
    quiet_until_s: float = -1e9
    """Presses before this belong to a gesture that is already told."""


def due_s(state: Presses, timing: PedalTiming) -> float | None:
    """When :func:`pass_time` must be called if no press comes; None: nothing is open."""
    if state.first_s is None:
        return None
    if state.second_s is not None:
        return state.second_s + timing.repeat_s
    return state.first_s + timing.hold_s


def pass_time(
    state: Presses, now_s: float, timing: PedalTiming
) -> tuple[Presses, tuple[Heard, ...]]:
    """Resolve what has become certain by ``now_s``."""
    told: tuple[Heard, ...] = ()
    due = due_s(state, timing)
    while due is not None and now_s > due:
        state, more = _lapse(state, timing)
        told += more
        due = due_s(state, timing)
    return state, told


def _lapse(state: Presses, timing: PedalTiming) -> tuple[Presses, tuple[Heard, ...]]:
    first, second = state.first_s, state.second_s
    assert first is not None  # due_s is None otherwise
    if second is None:
        return replace(state, first_s=None), (Told("tap", first),)
    if second - first <= timing.double_s:
        quiet = second + timing.double_s
        closed = replace(state, first_s=None, second_s=None, quiet_until_s=quiet)
        return closed, (Told("double", first),)
    # too slow for a double, no repeats: the second press is a new one
    opened = replace(state, first_s=second, second_s=None)
    return opened, (Told("tap", first), Down(second))


def press(state: Presses, at_s: float, timing: PedalTiming) -> tuple[Presses, tuple[Heard, ...]]:
    """Hear one key press.

    Args:
        state: what came before.
        at_s: time of the key event itself, monotonic seconds, never going back.
        timing: the pedal's own.

    Returns:
        The new state and what became certain, oldest first.

    >>> state, heard = press(Presses(), 10.0, PedalTiming())
    >>> heard
    (Down(at_s=10.0),)
    >>> state, heard = press(state, 10.2, PedalTiming())
    >>> pass_time(state, 10.4, PedalTiming())[1]
    (Told(name='double', at_s=10.0),)
    """
    state, told = pass_time(state, at_s, timing)
    raw_gap, kept_gap = at_s - state.raw_s, at_s - state.kept_s
    state = replace(state, raw_s=at_s)
    if raw_gap < timing.bounce_s and kept_gap < BOUNCE_TRAIN_S:
        return state, told
    state = replace(state, kept_s=at_s)
    if at_s < state.quiet_until_s:
        # still held, or a third nervous press: stay quiet for another while
        return replace(state, quiet_until_s=at_s + timing.double_s), told
    if state.first_s is None:
        return replace(state, first_s=at_s), (*told, Down(at_s))
    if state.second_s is None:
        return replace(state, second_s=at_s), told
    held = Told("hold", state.first_s)
    quiet = at_s + timing.double_s
    closed = replace(state, first_s=None, second_s=None, quiet_until_s=quiet)
    return closed, (*told, held)
