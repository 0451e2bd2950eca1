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
