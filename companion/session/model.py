"""What the walk through a plan is made of: the state, what goes in, what comes out.

All frozen, no clock and no screen. The rule behind the shape of :class:`State`:
where the sawyer stands in the work (``ground``, ``step``, ``checked``) is kept
apart from what lies over it (a STOP, a pause, a mishap, a guard), so that an
interruption of an interruption never loses the place.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Mode = Literal["checklist", "step", "guard", "pause", "stop", "mishap", "summary", "left"]
"""What the screen shows. ``left``: the session is over."""
Ground = Literal["checklist", "step", "summary"]
"""Where the work stands beneath guards and interruptions."""
CueName = Literal[
    "next", "attention", "stop", "halfway", "last-tenth", "timer-over", "not-heard"
]  # fmt: skip
"""A short sound; the names of the files in sounds/."""

Rank = Literal["stop", "guard", "step", "ahead", "note"]
"""What may cut what off in speech, highest first: STOP; checklist, guard and "hold what is
free"; the prompt of a step; turns ahead, half and overdue; small answers. The words of
companion.devices.voice."""


@dataclass(frozen=True, slots=True)
class State:
    """Where a session stands. Times are the seconds of the clock that drives the machine."""

    mode: Mode = "checklist"
    ground: Ground = "checklist"
    step: int = 0
    """Index of the current step in ``plan.steps``; their number when all are done."""
    checked: int = 0
    """Items of the full checklist confirmed in this session."""
    guarded: int = 0
    """Items of the short guard confirmed since it began."""
    recovered: int = 0
    """Recovery steps confirmed of the open mishap."""
    mishap: str | None = None
    """Key of the open mishap; None when there is none."""
    stopped: bool = False
    """A STOP is open: only a passed guard clears it."""
    powered: bool = False
    """The saw may run: true only in a powered step after its guard."""
    ran: bool = False
    """The saw has been powered in this session with the blade as it is now clamped."""
    spent_s: tuple[float, ...] = ()
    """Active seconds of each step in this run, closed intervals only."""
    since_s: float | None = None
    """When the running interval began; None: the step's clock stands."""
    entered_s: float = 0.0
    """When the present mode began."""
    done_s: float | None = None
    """When the last Done came in, passed or not; None before the first."""
    hurried: bool = False
    """A Done was refused as too quick since the last one that passed."""
    announced: frozenset[str] = field(default_factory=frozenset)
    """Announcements made in this step: ``half``, ``last-tenth``, ``overdue``."""
    turns_said: int = 0
    """Turns of this cut announced so far, in order."""
    noted_s: float = 0.0
    """Active seconds of this step at the last progress record."""
    each_hole: bool = False
    """The drill round is confirmed hole by hole."""
    drilled: int = 0
    """Holes confirmed of the drilling step in hand; 0 in every other step."""
    run: int = 1
    """Run of the batch, from 1."""
    runs: int = 1
    """Runs in the batch."""
    runs_s: tuple[float, ...] = ()
    """Active seconds of each finished run of the batch, in order: the learning curve."""
    resumed: bool = False
    """The session goes on with a run begun earlier."""
    focused: bool = True
    """The terminal hears the pedal."""
    why: bool = False
    """The reason is shown."""

    @property
    def item(self) -> int:
        """Index of the item shown in the present list; 0 where there is none."""
        if self.mode == "checklist":
            return self.checked
        if self.mode == "guard":
            return self.guarded
        if self.mode == "step":
            return self.drilled
        return self.recovered if self.mode == "mishap" else 0

    def active_s(self, now_s: float) -> float:
        """Seconds worked on the current step, the running interval included."""
        if not 0 <= self.step < len(self.spent_s):
            return 0.0
        running = 0.0 if self.since_s is None else max(0.0, now_s - self.since_s)
        return self.spent_s[self.step] + running


@dataclass(frozen=True, slots=True)
class Done:
    """What is shown has been done."""


@dataclass(frozen=True, slots=True)
class Again:
    """Say it again."""


@dataclass(frozen=True, slots=True)
class Back:
    """Undo one."""


@dataclass(frozen=True, slots=True)
class Pause:
    """Pause, or go on."""


@dataclass(frozen=True, slots=True)
class Stop:
    """STOP: the saw has to stand still."""


@dataclass(frozen=True, slots=True)
class Mishap:
    """Something went wrong."""

    kind: str
    """Key of a mishap of the shop table."""


@dataclass(frozen=True, slots=True)
class Note:
    """A remark for the log."""

    text: str


@dataclass(frozen=True, slots=True)
class Tick:
    """Time has passed."""


@dataclass(frozen=True, slots=True)
class Leave:
    """End the session; the run stays open."""


@dataclass(frozen=True, slots=True)
class Focus:
    """The terminal gained or lost the keyboard."""

    on: bool


@dataclass(frozen=True, slots=True)
class Why:
    """Show or hide the reason."""


@dataclass(frozen=True, slots=True)
class Holes:
    """The drill round hole by hole, or all at once."""


Input = Done | Again | Back | Pause | Stop | Mishap | Note | Tick | Leave | Focus | Why | Holes

Datum = str | int | float | bool | None | list[float] | list[str]


@dataclass(frozen=True, slots=True)
class Record:
    """For the journal: committed before anything that follows is shown."""

    kind: str
    """What happened; the list stands in companion/journal/model.py."""
    data: Mapping[str, Datum]
    step: int | None = None
    """Number of the step it belongs to, from 1."""
    cut: int | None = None
    stage: str | None = None


@dataclass(frozen=True, slots=True)
class Say:
    """To be spoken."""

    text: str
    rank: Rank = "step"


@dataclass(frozen=True, slots=True)
class Cue:
    """A short sound."""

    name: CueName


@dataclass(frozen=True, slots=True)
class Close:
    """The session is over: close the screen."""


Effect = Record | Say | Cue | Close
