"""What workers tell the screen: small, past tense. A worker never touches a widget."""

from __future__ import annotations

from dataclasses import dataclass

from textual.message import Message

from companion.errors import KerfsideError
from companion.planner.plan import Plan


@dataclass
class PlanProgressed(Message):
    """The planner went on to something else."""

    text: str
    """What it is at."""


@dataclass
class PlanMade(Message):
    """The plan is there."""

    plan: Plan


@dataclass
class PlanFailed(Message):
    """No plan can be made."""

    error: KerfsideError


@dataclass
class PedalMoved(Message):
    """The pedal's own device told an edge."""

    key: str
    """The key's name, as the terminal would tell it."""
    down: bool
    at_s: float
    """Monotonic seconds."""


@dataclass
class PedalLost(Message):
    """The pedal's device can be read no more."""

    why: str
