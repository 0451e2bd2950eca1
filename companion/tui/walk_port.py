"""What the screen asks of a session, of the planner, and of a pedal's own device."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from textual.message import Message

from companion.errors import JournalError
from companion.planner.plan import Plan
from companion.session import model as m
from companion.session.machine import Machine

ShouldStop = Callable[[], bool]
Progress = Callable[[str], None]
PlanMaker = Callable[[ShouldStop, Progress], Plan]


class Reader(Protocol):
    """A pedal's device that is being read."""

    def close(self) -> None:
        """Give it back."""


PedalOpener = Callable[[Callable[[Message], object]], Reader]
"""Begins to read a pedal's device; is given what a message is posted with, from any thread."""


class Wet(Protocol):
    """Something that dries."""

    @property
    def title(self) -> str:
        """Title of the step that made it wet."""

    @property
    def left_s(self) -> float:
        """Seconds until it is dry; 0 when it is."""


class Walk(Protocol):
    """What the screen needs of a session; every call has committed before it returns."""

    machine: Machine
    state: m.State
    trouble: JournalError | None
    """Why what happened is not in the log yet; None when all is written."""

    def begin(self) -> Sequence[m.Effect]:
        """Open the session."""

    def take(self, event: m.Input) -> Sequence[m.Effect]:
        """Take one input."""

    def flush(self) -> Sequence[m.Effect]:
        """Write what a STOP left unwritten."""

    def drying(self) -> Sequence[Wet]:
        """What is wet; its time goes on between sessions."""

    def now_s(self) -> float:
        """The session's clock."""

    def close(self) -> None:
        """End; what is open stays open in the log."""
