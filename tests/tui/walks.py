"""A walk without a journal, on a clock that the test turns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from companion.errors import JournalError
from companion.planner.plan import Plan
from companion.session import model as m
from companion.session.machine import Machine, Start
from companion.session.texts import shop_texts
from companion.session.walk import Drying
from companion.shop.model import Skill


@dataclass
class Clock:
    """Seconds that pass only when told."""

    now: float = 1000.0

    def __call__(self) -> float:
        return self.now


@dataclass
class MemoryWalk:
    """Keeps its records in a list."""

    machine: Machine
    clock: Clock
    start: Start = field(default_factory=Start)
    records: list[m.Record] = field(default_factory=list)
    inputs: list[m.Input] = field(default_factory=list)
    closed: bool = False
    state: m.State = field(default_factory=m.State)
    trouble: JournalError | None = None
    wet: tuple[Drying, ...] = ()

    def begin(self) -> Sequence[m.Effect]:
        self.state, effects = self.machine.begin(self.start, self.clock())
        return self._kept(effects)

    def take(self, event: m.Input) -> Sequence[m.Effect]:
        if not isinstance(event, m.Tick):
            self.inputs.append(event)
        self.state, effects = self.machine.advance(self.state, event, self.clock())
        return self._kept(effects)

    def _kept(self, effects: Sequence[m.Effect]) -> Sequence[m.Effect]:
        self.records += [e for e in effects if isinstance(e, m.Record)]
        return [e for e in effects if not isinstance(e, m.Record)]

    def flush(self) -> Sequence[m.Effect]:
        return []

    def drying(self) -> Sequence[Drying]:
        return self.wet

    def now_s(self) -> float:
        return self.clock()

    def close(self) -> None:
        self.closed = True


def walk_of(plan: Plan, clock: Clock, skill: Skill = "beginner", start: Start | None = None,
            quiet_s: float = 0.8) -> MemoryWalk:  # fmt: skip
    """A walk over a plan with the shop's own lists."""
    machine = Machine(plan, shop_texts(), skill, quiet_s=quiet_s)
    return MemoryWalk(machine, clock, start or Start())
