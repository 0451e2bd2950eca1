"""What a review tells. Times in minutes unless the name says seconds; all frozen."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from companion.findings import Point
from companion.planner.plan import Minutes

Share = Literal["cutting", "threading", "other", "checks", "paused", "stopped"]
"""Where the time at the saw goes: blade in the wood; threading; all other steps; checklist
and guards; pauses; STOP and mishaps."""
SHARES: tuple[Share, ...] = ("cutting", "threading", "other", "checks", "paused", "stopped")
Ending = Literal["left", "cut off"]
"""``cut off``: the session has no end in the log (killed, power lost, or still going on)."""
RunState = Literal["done", "open", "dropped"]


@dataclass(frozen=True, slots=True)
class StepTime:
    """One step of one run."""

    number: int
    stage: str
    cut: int | None
    title: str
    """Empty when the plan is not kept."""
    planned: Minutes
    took_min: float
    """Worked on it so far; pauses, stops, guards and sleep left out."""
    done: bool
    corrected: bool = False
    """Its time was set right afterwards; the log holds the first one too."""


@dataclass(frozen=True, slots=True)
class CutTime:
    """One cut of one run: all its steps with the blade in the wood."""

    number: int
    side: str
    """``inside``, ``outside``; empty when the plan is not kept."""
    length_mm: float
    turns: dict[str, int]
    """Turns by technique."""
    planned: Minutes
    took_min: float
    thread_planned: Minutes
    thread_took_min: float
    done: bool
    mishaps: int
    corrected: bool = False
    """The time of one of its steps was set right afterwards."""

    @property
    def ratio(self) -> float | None:
        """Taken over planned; None while it is not done, or was not planned."""
        return self.took_min / self.planned.likely if self.done and self.planned.likely else None


@dataclass(frozen=True, slots=True)
class StageSum:
    """All done steps of one stage of one run."""

    stage: str
    steps: int
    planned_min: float
    took_min: float


@dataclass(frozen=True, slots=True)
class MishapSeen:
    """One mishap."""

    kind: str
    wall_s: float
    run: str
    stage: str
    cut: int | None
    minute: float
    """Minutes into its step."""
    at_mm: Point | None
    """Where the blade was reckoned to be, board mm; None outside a cut."""
    recovered: bool
    corrected: bool = False
    """Its kind was set right afterwards."""
    number: int = 0
    """Place among those of its run, from 1; those taken back at once have one too."""
    step: int | None = None
    """Number of the step in hand; None between them."""
    session: str = ""
    """The sitting in which it happened."""


@dataclass(frozen=True, slots=True)
class NoteSeen:
    """One remark."""

    wall_s: float
    run: str
    step: int | None
    cut: int | None
    text: str


@dataclass(frozen=True, slots=True)
class RunSeen:
    """One pass through a plan."""

    run: str
    project: str
    sawyer: str
    """Whose journal it comes from; empty for an unnamed one."""
    work: str
    """Key of what is cut: runs of the same work can be compared."""
    batch: str
    number: int
    """Run of the batch, from 1."""
    runs: int
    rehearsed: bool
    begun_s: float
    """Unix time."""
    state: RunState
    at: int
    """Number of the step in hand; one more than the steps when all are done."""
    step_count: int
    took_min: float
    """Worked on all steps."""
    planned: Minutes
    """Of all steps."""
    done_took_min: float
    """Worked on the steps that are done."""
    done_planned_min: float
    """Planned for the same."""
    cuts: tuple[CutTime, ...]
    material: str
    thickness_mm: float
    stack: int
    blade: str
    superseded: bool = False
    """It was gone on with under another run, after planning anew: count that one only."""
    stages: tuple[StageSum, ...] = ()
    """In the order of first appearance."""
    corrections: int = 0
    """Steps and mishaps that were set right afterwards."""
    steps: tuple[StepTime, ...] = ()
    """Each step; left out of a summary over everything."""


@dataclass(frozen=True, slots=True)
class SessionSeen:
    """One sitting."""

    session: str
    project: str
    sawyer: str
    rehearsed: bool
    begun_s: float
    """Unix time."""
    utc_offset_min: int
    """Local time minus UTC when it began."""
    minutes: float
    """From its first to its last event; sleep, and what came after the last step, left out."""
    shares: dict[Share, float]
    """Minutes by where they went; they add up to ``minutes``."""
    ending: Ending
    steps_done: int
    """Steps confirmed less those undone."""
    mishaps: int
    """Less those that a correction says were none."""
    asleep_min: float


@dataclass(frozen=True, slots=True)
class Totals:
    """Sums over all but rehearsals."""

    sessions: int = 0
    runs_done: int = 0
    minutes: float = 0.0
    """At the saw."""
    shares: dict[Share, float] = field(default_factory=dict)
    planned_done_min: float = 0.0
    """Planned for the steps that are done."""
    took_done_min: float = 0.0
    """Taken by the same steps."""
    cut_mm: float = 0.0
    """Length of the cuts that are done, one board of a stack counted."""
    mishaps: dict[str, int] = field(default_factory=dict)
    """By kind."""
    rehearsals: int = 0
    """Sessions on a made-up clock, in none of the sums."""


@dataclass(frozen=True, slots=True)
class Review:
    """All that is told, oldest first."""

    sessions: tuple[SessionSeen, ...]
    runs: tuple[RunSeen, ...]
    mishaps: tuple[MishapSeen, ...]
    notes: tuple[NoteSeen, ...]
    totals: Totals
    struck: tuple[MishapSeen, ...] = ()
    """Mishaps that a correction says were none; in none of the figures."""
