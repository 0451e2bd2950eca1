"""What stands in the log. The journal is append-only: a correction is a new event.

Kinds of event, and what their data hold beside the common keys:

================  ==========================================================
session-start     version, utc_offset_min, rehearsed, skill, project, saw, sawyer
run-start         run, runs, batch, work, plan, project, material, thickness_mm,
                  stack, blade, rehearsed, saw, sawyer
resumed           from_session
checklist-done    items
guard-passed      after_stop
step-done, back   (common keys only)
hole-done         hole: its number; one of a drill round that goes hole by hole
hole-back         hole: the number of the one undone
holes             each: the round goes hole by hole from here, or as a whole
progress          once a minute of work; carried: taken over from a run that was
                  planned anew
pause, stop       from
go-on             paused_s
stop-left         stopped_s
mishap            kind, minute; at_mm and share along the cut where it is known
recovered         kind
mishap-dropped    kind: told by mistake
note              text
asleep            asleep_s: time the machine slept, left out of every other figure
clock-set         shift_s: the wall clock was moved
run-done          run_s
corrected         what was logged was not so; written afterwards, in a session of its
                  own, at the run and step it corrects: took_s, the true seconds; or
                  call: they were no work; or mishap_wall_s with the true kind, none
                  when there was no mishap; or as_logged: earlier corrections go
run-dropped       begun anew instead; replanned: gone on with under another run
leave             (common keys only)
================  ==========================================================

Common keys, on every event that a step belongs to: ``mode`` and ``at`` (number of
the step in hand) after the event, ``active_s`` worked so far on the event's own step;
``drilled``, holes confirmed of the drilling step in hand, when there are any.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple


@dataclass(frozen=True, slots=True)
class Entry:
    """An event that is to be written."""

    wall_s: float
    """Unix time."""
    mono_s: float
    """Seconds of the session's own clock: never set back, time asleep left out."""
    session: str
    """The sitting it belongs to."""
    kind: str
    data: Mapping[str, Any] = field(default_factory=dict)
    """What JSON can hold."""
    run: str | None = None
    """The pass through a plan; None outside one."""
    step: int | None = None
    """Number of the step, from 1."""
    cut: int | None = None
    stage: str | None = None


@dataclass(frozen=True, slots=True)
class Event(Entry):
    """An event that was written."""

    number: int = 0
    """Place in this journal, from 1."""
    source: str = ""
    """The journal it was first written to."""
    seq: int = 0
    """Its place there, from 1; ``(source, seq)`` names it for good."""


class Brief(NamedTuple):
    """An event as light as it can be, for reading years of them; fields as in Event."""

    number: int
    source: str
    wall_s: float
    run: str | None
    step: int | None
    cut: int | None
    stage: str | None
    kind: str
    data: Mapping[str, Any]
    session: str
    mono_s: float


class Walked(NamedTuple):
    """One run's events as columns, in the order of writing.

    Left out are ``progress``, ``guard-passed`` and ``hole-done``: of a step that was confirmed
    they say nothing that its confirmation does not say.
    """

    kinds: Sequence[str | None]
    """None: ``step-done``, which most of them are."""
    steps: Sequence[int | None]
    data: Sequence[Mapping[str, Any]]
    whole: Sequence[Brief]
    """Those among them that hold more: of the kinds in :data:`TELLING`."""


TELLING = frozenset({
    "run-start", "run-dropped", "mishap", "recovered", "mishap-dropped", "note", "corrected",
})  # fmt: skip
"""Kinds whose data say more of a run than how far it is and how long it took."""


@dataclass(frozen=True, slots=True)
class SessionTally:
    """Where the time of one session went."""

    start: Event
    """Its first event."""
    spans_s: Mapping[tuple[str, str | None], float]
    """Seconds by the mode they were spent in and the stage of the step in hand."""
    kinds: Mapping[str, int]
    """How many events of each kind; at least of those that are counted."""
    last: str
    """Kind of its last event."""
    asleep_s: float


@dataclass(frozen=True, slots=True)
class Source:
    """A journal whose events stand here: this one's own, or one that was taken in."""

    key: str
    """A random name given when that journal was made."""
    sawyer: str
    """Whose it is, unless a sitting says otherwise; may be empty for this one's own."""
    own: bool
