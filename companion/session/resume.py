"""Where an interrupted run is to be taken up, read from its events alone.

A run belongs to the work, not to a plan's text: when the plan is made again with
other minutes, words or level of guidance, but the same cuts, an open run goes on.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from companion.journal.model import Event
from companion.planner.plan import POWERED_STAGES, Plan
from companion.session.machine import Start

StepKey = tuple[str, int | None]
"""Stage and cut: what a step is, whatever its number."""


def _coarse(value: float, digits: int) -> float:
    """Round in two steps, first as the plan's JSON does.

    So a plan just made and the same plan read back from its file give one key.
    """
    return round(round(value, 4), digits)


def work_key(plan: Plan) -> str:
    """Names what is to be cut: the same for plans with the same cuts in the same board."""
    cuts = [
        [c.number, c.side, c.hole, c.direction, _coarse(c.length_mm, 1),
         [_coarse(v, 1) for v in c.start_mm]]
        for c in plan.cuts
    ]  # fmt: skip
    board = plan.board
    what = [plan.project.name, plan.project.pattern_sha256, board.material, board.stack,
            _coarse(board.thickness_mm, 2), cuts]  # fmt: skip
    return hashlib.sha256(json.dumps(what).encode()).hexdigest()[:24]


def plan_key(plan: Plan) -> str:
    """Names a plan in the log: its cuts, its steps, its minutes; not its words.

    Cheaper than the hash of the whole JSON, which the saw's start need not wait for.
    """
    steps = [
        [
            s.stage,
            s.cut,
            *(_coarse(m, 3) for m in (s.minutes.low, s.minutes.likely, s.minutes.high)),
        ]
        for s in plan.steps
    ]
    # a half-drilled round is taken up by its count, so the order of the holes belongs to it
    what = [work_key(plan), steps, [h.number for h in plan.drilled]]
    return hashlib.sha256(json.dumps(what).encode()).hexdigest()[:32]


def step_keys(plan: Plan) -> list[StepKey]:
    """What each step of a plan is."""
    return [(s.stage, s.cut) for s in plan.steps]


def stored_step_keys(text: str) -> list[StepKey]:
    """The same from a plan's JSON, without building the plan."""
    return [(s["stage"], s["cut"]) for s in json.loads(text)["steps"]]


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A run or a batch that is not done yet."""

    run: str
    """The run's id."""
    batch: str
    plan_hash: str
    """Key of the plan by which its step numbers count."""
    at: int
    """Number of the step in hand, from 1; one more than the steps when all are done."""
    spent_s: dict[int, float]
    """Seconds worked, by step number."""
    number: int
    """Run of the batch, from 1."""
    runs: int
    runs_s: tuple[float, ...]
    """Active seconds of the batch's finished runs, this one included when it is done."""
    session: str
    """The session it was last worked on in."""
    done_wall_s: dict[int, float]
    """Unix time at which each step was last confirmed, by number."""
    drilled: int = 0
    """Holes confirmed of the drilling step in hand."""
    each_hole: bool | None = None
    """As the sawyer last changed the drill round in this run; None: not changed."""

    def start(self, old: Sequence[StepKey], new: Sequence[StepKey], runs: int) -> Start:
        """Turn it into a start of today's plan.

        Args:
            old: the steps by which it counts.
            new: the steps of today's plan.
            runs: runs now wanted.
        """
        place = _with_legs(_places(old, new), old)
        spent = [0.0] * len(new)
        for number, seconds in self.spent_s.items():
            to = place.get(number - 1)
            if to is not None:
                spent[to] += seconds
        step = len(new) if self.at > len(old) else _at(self.at - 1, place, len(old), len(new))
        return Start(
            step, tuple(spent), self.number, max(runs, self.number), self.runs_s,
            self.drilled, self.each_hole, True,
        )  # fmt: skip


def _places(old: Sequence[StepKey], new: Sequence[StepKey]) -> dict[int, int]:
    """Old index to new index of the same step, the n-th of a kind to the n-th."""
    by_key: defaultdict[StepKey, list[int]] = defaultdict(list)
    for index, key in enumerate(new):
        by_key[key].append(index)
    seen: defaultdict[StepKey, int] = defaultdict(int)
    found: dict[int, int] = {}
    for index, key in enumerate(old):
        if seen[key] < len(by_key[key]):
            found[index] = by_key[key][seen[key]]
        seen[key] += 1
    return found


def _with_legs(place: dict[int, int], old: Sequence[StepKey]) -> dict[int, int]:
    """Legs that the new plan no longer tells apart go to the last leg that is left.

    Never to a later step: what is not sawn yet would be passed over.
    """
    full, last = dict(place), dict[StepKey, int]()
    for index, key in enumerate(old):
        if index in place:
            last[key] = place[index]
        elif key in last and key[0] in POWERED_STAGES:
            full[index] = last[key]
    return full


def _at(index: int, place: dict[int, int], old: int, new: int) -> int:
    """The new index of the step in hand; of the next that still exists, if it does not."""
    return next((place[i] for i in range(index, old) if i in place), new)


def unfinished(starts: Iterable[Event], events: Iterable[Event]) -> Unfinished | None:
    """What is open of some work.

    Args:
        starts: the ``run-start`` events of this work, in the order of writing.
        events: all events of these runs, in the order of writing.

    Returns:
        The latest run, when it or its batch is not done; None when all is done or dropped.
    """
    begun = list(starts)
    if not begun:
        return None
    last = begun[-1]
    at, session, dropped = 1, last.session, False
    drilled, each = 0, None
    spent: dict[int, float] = {}
    done_wall: dict[int, float] = {}
    done_s: dict[str, float] = {}
    for event in events:
        if event.kind == "run-done" and event.run:
            done_s[event.run] = float(event.data["run_s"])
        if event.run is None or event.run != last.run:
            continue
        dropped = dropped or event.kind == "run-dropped"
        session = event.session
        if "at" in event.data:
            at, drilled = int(event.data["at"]), int(event.data.get("drilled", 0))
        if event.kind == "holes":
            each = bool(event.data["each"])
        if event.step is not None and "active_s" in event.data:
            spent[event.step] = float(event.data["active_s"])
        if event.kind == "step-done" and event.step is not None:
            done_wall[event.step] = event.wall_s
        if event.kind == "back":
            done_s.pop(event.run, None)
        if event.kind == "clock-set":
            shift_s = float(event.data["shift_s"])
            done_wall = {number: at_s + shift_s for number, at_s in done_wall.items()}
    number, runs = int(last.data["run"]), int(last.data["runs"])
    if dropped or last.run is None or (last.run in done_s and number >= runs):
        return None
    batch = [e for e in begun if e.data["batch"] == last.data["batch"]]
    runs_s = tuple(done_s[e.run] for e in batch if e.run in done_s)
    return Unfinished(
        last.run, last.data["batch"], last.data["plan"], at, spent, number, runs, runs_s, session,
        done_wall, drilled, each,
    )  # fmt: skip
