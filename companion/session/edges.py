"""Tap, double tap and hold of a pedal that tells its releases too.

Where a press and its release are both known, nothing need be guessed from repeats:

* held for as long as a hold takes, it is a hold, told while the foot is still down;
* released before, it is a tap, told as soon as no second press can make it a double;
* a second press in time is a double, told at once.

Bounce is dropped at both ends. After a double or a hold the pedal must be released and
quiet, so that a third nervous press is never taken for a new tap.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from companion.session.gesture import Down, Heard, PedalTiming, Told


@dataclass(frozen=True, slots=True)
class Edges:
    """What is remembered between edges."""

    first_s: float | None = None
    """Start of the press that is not yet resolved; None: none is open."""
    down: bool = False
    """The foot is on the pedal."""
    edge_s: float = -1e9
    """Last edge that was no bounce."""
    quiet_until_s: float = -1e9
    """Presses before this belong to a gesture that is already told."""


def due_s(state: Edges, timing: PedalTiming) -> float | None:
    """When :func:`pass_time` must be called if no edge comes; None: nothing is open."""
    if state.first_s is None:
        return None
    return state.first_s + (timing.hold_s if state.down else timing.double_s)


def pass_time(state: Edges, now_s: float, timing: PedalTiming) -> tuple[Edges, tuple[Heard, ...]]:
    """Resolve what has become certain by ``now_s``."""
    due, first = due_s(state, timing), state.first_s
    if due is None or first is None or now_s <= due:
        return state, ()
    if state.down:
        return replace(state, first_s=None), (Told("hold", first),)
    return replace(state, first_s=None), (Told("tap", first),)


def press(state: Edges, at_s: float, timing: PedalTiming) -> tuple[Edges, tuple[Heard, ...]]:
    """Hear the foot go down.

    Args:
        state: what came before.
        at_s: time of the edge, monotonic seconds, never going back.
        timing: the pedal's own; its ``repeat_s`` is not used.

    >>> state, heard = press(Edges(), 10.0, PedalTiming())
    >>> state = release(state, 10.1, PedalTiming())[0]
    >>> press(state, 10.3, PedalTiming())[1]
    (Told(name='double', at_s=10.0),)
    """
    state, told = pass_time(state, at_s, timing)
    if state.down:
        return state, told
    bounced = at_s - state.edge_s < timing.bounce_s
    state = replace(state, down=True, edge_s=at_s)
    if bounced:
        # the foot never left: the same press goes on
        return state, told
    if state.first_s is not None:
        closed = replace(state, first_s=None, quiet_until_s=at_s + timing.double_s)
        return closed, (*told, Told("double", state.first_s))
    if at_s < state.quiet_until_s:
        return replace(state, quiet_until_s=at_s + timing.double_s), told
    return replace(state, first_s=at_s), (*told, Down(at_s))


def release(state: Edges, at_s: float, timing: PedalTiming) -> tuple[Edges, tuple[Heard, ...]]:
    """Hear the foot come up; arguments and result as of :func:`press`."""
    state, told = pass_time(state, at_s, timing)
    if not state.down:
        return state, told
    if state.first_s is None:
        # a hold or a double ends: what follows closely belongs to it
        state = replace(state, quiet_until_s=at_s + timing.double_s)
    return replace(state, down=False, edge_s=at_s), told
