"""Random feet and what must come of them: gestures with times, and a bookkeeping of its own.

The ledger knows nothing of recogniser or machine. It is told what the foot meant and when,
and says where the work must stand and what the log must hold, by the rules a sawyer is told:
a tap is done, a double says again, a hold pauses; an item of checklist or guard that has
been shown for less than the dwell is passed by nothing.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import Literal

from companion.planner.plan import Plan

GestureName = Literal["tap", "double", "hold", "hasty"]
DWELL_S, CERTAIN_S = 0.6, 0.752
"""As README and the pedal's module tell them: the glance, and when a tap is a tap."""


@dataclass(frozen=True)
class Gesture:
    """One deed of the foot: its presses, seconds from the first."""

    name: GestureName
    rest_s: float
    """Quiet before it."""
    presses: tuple[float, ...]
    second_s: float = 0.0
    """Of a hasty pair of taps: when the second begins."""


def _bouncing(dice: random.Random, at_s: float) -> list[float]:
    """A press and up to two bounces of its contact."""
    times = [at_s]
    for _ in range(dice.randint(0, 2)):
        times.append(times[-1] + dice.uniform(0.001, 0.012))
    return times


def random_gesture(dice: random.Random) -> Gesture:
    """A tap, a double, a hold at 11 to 30 repeats a second, or two hasty taps."""
    name = dice.choice(["tap", "tap", "tap", "tap", "double", "hold", "hasty"])
    rest_s = dice.uniform(1.0, 6.0)
    times = _bouncing(dice, 0.0)
    if name == "double":
        times += _bouncing(dice, dice.uniform(0.13, 0.34))
    elif name == "hold":
        delay, rate = dice.uniform(0.25, 0.66), dice.uniform(11.0, 30.0)
        times += [delay + n / rate for n in range(dice.randint(2, 60))]
    elif name == "hasty":
        second = dice.uniform(0.8, 1.3)
        return Gesture("hasty", rest_s, (*times, *_bouncing(dice, second)), second)
    return Gesture(name, rest_s, tuple(times))  # type: ignore[arg-type]


@dataclass
class Ledger:
    """Where the work must stand. Cuts are made in one leg each."""

    plan: Plan
    checks: int
    """Items of the full checklist."""
    guards: int
    """Items of the short one."""
    firsts: int
    """Items before these at the session's first power-on."""
    reentries: int
    """Items before these when the saw goes on in an open kerf."""
    each_hole: bool
    mode: str = "checklist"
    step: int = 0
    item: int = 0
    shown_s: float = 0.0
    """Since when the present item has been on the screen."""
    records: list[str] = field(default_factory=list)
    """Kinds of events that the log must hold, in order."""
    _begun: set[int] = field(default_factory=set)
    """Steps in which the saw has run."""
    _under: tuple[str, int] = ("", 0)
    """What a pause lies over: its mode and item."""

    @property
    def place(self) -> tuple[str, int, int]:
        """As the session tells it."""
        return (self.mode, self.step, self.item)

    def gesture(self, made: Gesture, at_s: float) -> None:
        """Take one gesture whose first press was at a time."""
        if made.name == "tap":
            self.tap(at_s)
        elif made.name == "hasty":
            self.tap(at_s)
            self.tap(at_s + made.second_s)
        else:
            self._taken_back(at_s)
            if made.name == "hold":
                self._pause(at_s + made.presses[-1])

    def tap(self, at_s: float) -> None:
        """A tap: done, if what is shown may be passed by it."""
        if self.mode in ("checklist", "guard") and at_s < self.shown_s + DWELL_S:
            return
        acts_s = at_s if self._at_once() else at_s + CERTAIN_S
        before = self.place
        self._done()
        if self.place != before:
            self.shown_s = acts_s

    def _at_once(self) -> bool:
        """A plain step that is not the last answers in the moment of the press."""
        return self.mode == "step" and not self._powered() and self.step + 1 < len(self.plan.steps)

    def _powered(self) -> bool:
        return self.step < len(self.plan.steps) and self.plan.steps[self.step].stage == "cut"

    def _holes(self) -> int:
        """Items of the drill round; 0 in any other step."""
        drilling = self.each_hole and self.plan.steps[self.step].stage == "drill"
        return len(self.plan.holes) if drilling else 0

    def _taken_back(self, at_s: float) -> None:
        """What a press did at once is undone when it turns out to be no tap."""
        if not self._at_once():
            return
        before = (self.mode, self.step, self.item)
        self._done()
        self.mode, self.step, self.item = before
        self.records.append("hole-back" if self.records[-1] == "hole-done" else "back")
        # shown anew, a moment later than the gesture's first press
        self.shown_s = at_s + CERTAIN_S

    def _done(self) -> None:
        if self.mode == "checklist":
            self.item += 1
            if self.item == self.checks:
                self.records.append("checklist-done")
                self._arrive()
        elif self.mode == "guard":
            self.item += 1
            more = self.reentries * (self.step in self._begun) + self.firsts * (not self._begun)
            if self.item == self.guards + more:
                self.records.append("guard-passed")
                self._begun.add(self.step)
                self.mode, self.item = "step", 0
        elif self.mode == "pause":
            self.records.append("go-on")
            self.mode, self.item = self._under
            if self.mode == "guard" or (self.mode == "step" and self._powered()):
                self.mode, self.item = "guard", 0
        elif self.mode == "step":
            if self.item + 1 < self._holes():
                self.item += 1
                self.records.append("hole-done")
                return
            self.step += 1
            self.records.append("step-done")
            self._arrive()

    def _arrive(self) -> None:
        self.item = 0
        if self.step == len(self.plan.steps):
            self.mode = "summary"
            self.records.append("run-done")
        else:
            self.mode = "guard" if self._powered() else "step"

    def _pause(self, at_s: float) -> None:
        if self.mode == "summary":
            return
        if self.mode == "pause":
            self._done()
        else:
            self._under = (self.mode, self.item)
            self.mode, self.item = "pause", 0
            self.records.append("pause")
        self.shown_s = at_s
