"""Records the demos' rehearsals: the real session machine, walked by a made-up sawyer.

    python -m tests.tools.rehearsals [NAME ...]

The sawyer has a seed, learns from sitting to sitting, breaks a blade now and then, pauses,
stops once, and is once called to the telephone with a step open. All is marked as a
rehearsal, as the machine itself would mark it. Run it again when a demo's steps change;
a test says so.
"""

from __future__ import annotations

import json
import math
import random
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from companion.cli.common import shipped_plan
from companion.cli.recorded import FILE
from companion.devices.paths import shipped
from companion.journal.model import Event
from companion.journal.store import Journal
from companion.planner.plan import POWERED_STAGES, Plan
from companion.session import model as m
from companion.session.machine import Machine
from companion.session.texts import shop_texts
from companion.session.walk import Walk
from companion.shop.model import Skill

FIRST_DAY_S = 1_772_463_600.0
"""Monday, 2 March 2026, 15:00 UTC: an afternoon in the shop."""
DAY_S = 86_400.0
TICK_S = 5.0
SAWYER = "made-up sawyer"
NOTES = (
    "The light from the left shows the line better.",
    "Wax on the table: the board turns more easily.",
    "Burr under the tight bends; slower there next time.",
)


class HandClock:
    """A clock that goes by being told; the wall goes with it."""

    def __init__(self, wall_s: float) -> None:
        """Set its wall time."""
        self._wall_s, self._told_s = wall_s, 0.0

    def advance(self, seconds: float) -> None:
        """Move it on."""
        self._told_s += seconds

    def monotonic_s(self) -> float:
        """Seconds since it was set."""
        return self._told_s

    def boot_s(self) -> float:
        """The same: it never sleeps."""
        return self._told_s

    def wall_s(self) -> float:
        """Unix time."""
        return self._wall_s + self._told_s


@dataclass(frozen=True)
class Sawyer:
    """Who walks a demo, and how."""

    seed: int
    runs: int = 1
    sitting_min: float = 55.0
    """Leaves at the next step with the saw off after so long."""
    pace: float = 1.25
    """Taken over planned in the first sitting."""
    learning: float = -0.22
    """Exponent over sittings: 0.86 of the time at each doubling."""
    spread: float = 0.18
    """Of the logarithm of a step's time."""
    mishaps: tuple[str, ...] = ()
    """By kind, each once, at a cutting step of chance."""
    skill: Skill = "beginner"
    each_hole: bool = False
    """Goes through a drill round hole by hole."""


SAWYERS = {
    "harbour_sign": Sawyer(11, 2, mishaps=("wandered", "blade-broke")),
    "quay_number": Sawyer(12, 3, 50.0, mishaps=("blade-slipped",)),
    "tide_panel": Sawyer(13, 1, 75.0, 1.15, mishaps=("blade-broke", "wandered", "blade-broke")),
    "ferry_plate": Sawyer(14, 2, mishaps=("wandered",)),
    "beach_ornaments": Sawyer(15, 1, 60.0, mishaps=("piece-broke", "blade-slipped")),
}


@dataclass
class _Fate:
    """What happens once, and at which powered step of all runs, counted from 0."""

    mishaps: dict[int, str] = field(default_factory=dict)
    call: int = -1
    stop: int = -1


def _fate(who: Sawyer, plan: Plan, chance: random.Random) -> _Fate:
    powered = who.runs * sum(s.stage in POWERED_STAGES for s in plan.steps)
    places = chance.sample(range(powered), min(powered, len(who.mishaps) + 2))
    call, stop, *rest = places
    return _Fate(dict(zip(rest, who.mishaps, strict=False)), call, stop)


class _Sitter:
    """One sitting after the other until all runs are done."""

    def __init__(self, plan: Plan, who: Sawyer) -> None:
        self.plan, self.who = plan, who
        self.chance = random.Random(who.seed)
        self.fate = _fate(who, plan, self.chance)
        self.powered = 0
        self.journal = Journal(None)

    def walk(self) -> list[Event]:
        """Walk it all."""
        sitting, day = 0, 0
        while not self._sit(sitting, FIRST_DAY_S + day * DAY_S + self.chance.randrange(5400)):
            sitting += 1
            day += self.chance.choice((1, 1, 2, 4))
        return list(self.journal.events())

    def _sit(self, sitting: int, wall_s: float) -> bool:
        """One sitting; whether all is done."""
        who, clock = self.who, HandClock(wall_s)
        machine = Machine(self.plan, shop_texts(), who.skill, each_hole=who.each_hole)
        walk = Walk(
            machine, self.journal, clock, runs=who.runs, marks={"saw": "", "sawyer": SAWYER}
        )
        walk.rehearsed = True  # its own made-up clock would also make the times up
        walk.begin()
        pace = who.pace * (sitting + 1) ** who.learning
        rest_s = self.chance.uniform(0.4, 0.7) * who.sitting_min * 60.0
        rested = False
        while walk.state.mode != "left":
            mode, now = walk.state.mode, clock.monotonic_s()
            if mode == "summary" and walk.state.run >= who.runs:
                walk.take(m.Leave())
                return True
            if (
                mode == "step"
                and now > who.sitting_min * 60.0
                and not machine.needs_power(walk.state)
            ):
                walk.take(m.Leave())
            elif mode == "step" and now > rest_s and not rested:
                rested = True
                if sitting < len(NOTES):
                    walk.take(m.Note(NOTES[sitting]))
                walk.take(m.Pause())
                clock.advance(self.chance.uniform(240.0, 600.0))
                walk.take(m.Done())
            elif mode == "step":
                self._step(walk, clock, pace)
            else:
                clock.advance(self.chance.uniform(2.0, 6.0))
                walk.take(m.Done())
        return False

    def _step(self, walk: Walk, clock: HandClock, pace: float) -> None:
        """Do the step in hand, with whatever befalls it."""
        step = walk.machine.step_at(walk.state)
        assert step is not None
        median_s = 60.0 * step.minutes.likely * pace
        todo_s = median_s * math.exp(self.chance.gauss(0.0, self.who.spread))
        todo_s = max(2.0, todo_s - walk.state.active_s(walk.now_s()))
        if step.stage in POWERED_STAGES:
            number, self.powered = self.powered, self.powered + 1
            if number == self.fate.call:
                todo_s += self.chance.uniform(420.0, 900.0)  # the step stays open meanwhile
            kind = self.fate.mishaps.get(number)
            if kind is not None or number == self.fate.stop:
                self._pass(walk, clock, todo_s * self.chance.uniform(0.2, 0.8))
                walk.take(m.Mishap(kind) if kind is not None else m.Stop())
                walk.flush()
                while walk.state.mode != "step":
                    clock.advance(self.chance.uniform(10.0, 45.0))
                    walk.take(m.Done())
                todo_s *= 0.5
        self._pass(walk, clock, todo_s)
        walk.take(m.Done())

    def _pass(self, walk: Walk, clock: HandClock, seconds: float) -> None:
        """Let time pass, ticking as the screen does."""
        while seconds > 0.0:
            clock.advance(min(TICK_S, seconds))
            seconds -= TICK_S
            walk.take(m.Tick())


def record(plan: Plan, who: Sawyer, name: str) -> list[str]:
    """One rehearsal as lines, the same for the same plan and sawyer.

    Args:
        plan: what is walked.
        who: walks it.
        name: made part of the ids, which are random in a real log.
    """
    short: dict[str, str] = {}

    def renamed(letter: str, key: str) -> str:
        return short.setdefault(key, f"{name}-{letter}{len(short) + 1}")

    return [_line(e, renamed) for e in walked(plan, who)]


def walked(plan: Plan, who: Sawyer) -> list[Event]:
    """The events of all his sittings, marked as a rehearsal."""
    return _Sitter(plan, who).walk()


def _line(event: Event, renamed: Callable[[str, str], str]) -> str:
    told: dict[str, Any] = {
        "wall_s": round(event.wall_s, 3), "mono_s": event.mono_s,
        "session": renamed("s", event.session), "kind": event.kind,
    }  # fmt: skip
    if event.run is not None:
        told["run"] = renamed("r", event.run)
    told |= {k: v for k in ("step", "cut", "stage") if (v := getattr(event, k)) is not None}
    told["data"] = dict(event.data)
    for key, letter in (("batch", "b"), ("from_session", "s")):
        if key in told["data"]:
            told["data"][key] = renamed(letter, told["data"][key])
    if "utc_offset_min" in told["data"]:
        told["data"]["utc_offset_min"] = 0
    return json.dumps(told, ensure_ascii=False, separators=(",", ":"))


def main(names: list[str]) -> None:
    """Record them and write each beside its project."""
    for name in names or list(SAWYERS):
        began = time.process_time()
        lines = record(shipped_plan(name), SAWYERS[name], name)
        text = "".join(f"{line}\n" for line in lines)
        (shipped("demo_projects") / name / FILE).write_text(text, encoding="utf-8")
        print(
            f"{name}: {len(lines)} events, {len(text)} bytes, {time.process_time() - began:.1f} s"
        )


if __name__ == "__main__":
    main(sys.argv[1:])
