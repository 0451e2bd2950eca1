"""A session at work: machine, journal and clock bound together.

Rules kept here:

* what an input confirms is in the journal before :meth:`Walk.take` returns;
* when the journal refuses, Done, Back and Note are refused too, but whatever takes
  the power away (STOP, pause, mishap, leave) is done all the same and written later;
* STOP waits for no disk: it is written by :meth:`Walk.flush`, which the caller calls as
  soon as STOP is shown and spoken, or with the next input;
* time asleep is no working time, however it shows.
"""

from __future__ import annotations

import random
import time
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from companion import __version__
from companion.errors import JournalError
from companion.journal.model import Entry
from companion.journal.store import Journal
from companion.session import model as m
from companion.session.clock import Clock, MadeUpClock
from companion.session.machine import Machine, Start
from companion.session.model import Close, Cue, Effect, Record, Say, State
from companion.session.resume import (
    Unfinished,
    plan_key,
    step_keys,
    stored_step_keys,
    unfinished,
    work_key,
)
from companion.session.view import View, view


@dataclass(frozen=True, slots=True)
class Drying:
    """Something wet that is waited for."""

    step: int
    """Number of the step that made it wet."""
    title: str
    until_s: float
    """Unix time; it goes on between sessions."""
    left_s: float
    """Seconds from now; 0 when it is dry."""


Shown = Say | Cue | Close
"""Effects that are left for the caller."""

GAP_S = 30.0
"""A silence longer than this between ticks that were promised: the machine slept."""
JITTER_S = 5.0
"""Clocks may differ by this much between two looks without meaning anything."""
GLANCE_S = 2.0
"""In a rehearsal a checklist or guard item takes this long."""


class Walk:
    """One session with one plan."""

    def __init__(
        self,
        machine: Machine,
        journal: Journal,
        clock: Clock,
        *,
        runs: int | None = None,
        anew: bool = False,
        ticking: bool = False,
        seed: int = 1,
        marks: Mapping[str, str] | None = None,
    ) -> None:
        """Bind them; nothing is read or written yet.

        Args:
            machine: the plan to be walked.
            journal: an open journal; the caller holds the lease on it.
            clock: a MadeUpClock makes it a rehearsal, and marks it so.
            runs: how many runs are wanted; None: as the open batch says, else one.
            anew: drop an open run instead of going on with it.
            ticking: the caller promises a Tick at least every few seconds.
            seed: of a rehearsal's spread of times.
            marks: what else the session's start is to tell: ``saw`` and ``sawyer``, by name.
        """
        self.machine = machine
        self.journal = journal
        self.clock = clock
        self.rehearsed = isinstance(clock, MadeUpClock)
        self.state = State(mode="left")
        self.resumed_at: int | None = None
        """Number of the step at which an open run was taken up; None for a new run."""
        self.trouble: JournalError | None = None
        """Why what happened is not yet in the journal; None when all is written."""
        self._runs, self._anew, self._ticking = runs, anew, ticking
        self._session = uuid.uuid4().hex[:16]
        self._run: str | None = None
        self._batch = ""
        self._pending: list[Entry] = []
        self._asleep_s = 0.0
        self._looked = (clock.monotonic_s(), clock.boot_s(), clock.wall_s())
        self._random = random.Random(seed)
        self._facts: dict[str, Any] = {}
        self._wet: dict[int, float] = {}
        self._marks = dict(marks or {})

    # ------------------------------------------------------------- asking

    def now_s(self) -> float:
        """The session's clock, as the machine wants it."""
        return self.clock.monotonic_s() - self._asleep_s

    def view(self) -> View:
        """What is to be shown now."""
        return view(self.machine, self.state, self.now_s())

    def drying(self) -> tuple[Drying, ...]:
        """What was made wet in this run and is still in hand, in the order of the steps.

        It is told, not enforced: paint is no danger, and the sawyer sees the shelf.
        """
        now_s, steps = self.clock.wall_s(), self.machine.plan.steps
        return tuple(
            Drying(n, steps[n - 1].title, until, max(0.0, until - now_s))
            for n, until in sorted(self._wet.items())
        )

    # ------------------------------------------------------------- moving

    def begin(self) -> list[Shown]:
        """Open the session: find an open run, write the beginning, show the checklist.

        Raises:
            JournalError: it cannot be written; nothing has begun.
        """
        plan = self.machine.plan
        work, plan_hash = work_key(plan), plan_key(plan)
        self._facts = {
            "work": work, "plan": plan_hash, "project": plan.project.name,
            "material": plan.board.material, "thickness_mm": plan.board.thickness_mm,
            "stack": plan.board.stack, "blade": plan.blade.number, "rehearsed": self.rehearsed,
            **self._marks,
        }  # fmt: skip
        if not self.journal.has_plan(plan_hash):
            self.journal.keep_plan(plan_hash, plan.to_json())
        offset_min = time.localtime(self.clock.wall_s()).tm_gmtoff // 60
        self._note("session-start", {
            "version": __version__, "utc_offset_min": offset_min, "rehearsed": self.rehearsed,
            "skill": self.machine.skill, "project": plan.project.name, **self._marks,
        })  # fmt: skip
        found = self._open_run(work)
        start = self._take_up(found, plan_hash)
        if found is not None and self.resumed_at is not None and found.plan_hash == plan_hash:
            for number, wall_s in found.done_wall_s.items():
                self._wetted(number, start.step, wall_s)
        state, effects = self.machine.begin(start, self.now_s())
        shown = self._noted(effects)
        self._write()
        self.state = state
        return shown

    def _open_run(self, work: str) -> Unfinished | None:
        own = self.journal.sources()[0].key
        starts = [
            e for e in self.journal.events(kind="run-start")
            if e.data["work"] == work and e.data["rehearsed"] == self.rehearsed and e.source == own
        ]  # fmt: skip
        if not starts:
            return None
        batch = starts[-1].data["batch"]
        starts = [e for e in starts if e.data["batch"] == batch]
        return unfinished(starts, self.journal.events(runs=[e.run for e in starts if e.run]))

    def _take_up(self, found: Unfinished | None, plan_hash: str) -> Start:
        if found is not None and self._anew:
            self._run = found.run
            self._note("run-dropped", {})
            found = None
        if found is None:
            self._batch = uuid.uuid4().hex[:16]
            return Start(runs=self._runs or 1)
        self._run, self._batch = found.run, found.batch
        new = step_keys(self.machine.plan)
        old = new
        if found.plan_hash != plan_hash:
            kept = self.journal.plan_text(found.plan_hash)
            old = new if kept is None else stored_step_keys(kept)
        start = found.start(old, new, self._runs or found.runs)
        if found.plan_hash != plan_hash:
            # another plan may drill in another order: the round begins anew
            start = replace(start, drilled=0)
        self.resumed_at = start.step + 1
        self._note("resumed", {
            "from_session": found.session, "at": start.step + 1, "drilled": start.drilled,
        })  # fmt: skip
        if found.plan_hash != plan_hash:
            self._renumber(start, plan_hash)
        return start

    def _renumber(self, start: Start, plan_hash: str) -> None:
        """Write an open run anew in the numbers of today's plan; the old one is closed."""
        self._note("run-dropped", {"replanned": True})
        self._run = uuid.uuid4().hex[:16]
        self._note("run-start", {
            **self._facts, "plan": plan_hash, "batch": self._batch,
            "run": start.run, "runs": start.runs, "at": start.step + 1,
        })  # fmt: skip
        for index, seconds in enumerate(start.spent_s):
            if seconds > 0:
                step = self.machine.plan.steps[index]
                data: dict[str, m.Datum] = {
                    "active_s": round(seconds, 3),
                    "at": start.step + 1,
                    "carried": True,
                }
                self._pending.append(self._entry(
                    Record("progress", data, step.number, step.cut, step.stage)))  # fmt: skip

    def take(self, event: m.Input) -> list[Shown]:
        """Take one input; what it did is on disk when this returns (STOP excepted, see above).

        Returns:
            What to say and sound, in order; look at :meth:`view` for what to show. When
            the journal refuses, ``trouble`` holds its error, and a Done, Back or Note
            has not been done.
        """
        before = self._rehearse(event) if self.rehearsed else []
        self._look_at_clocks()
        state, effects = self.machine.advance(self.state, event, self.now_s())
        kept, run = len(self._pending), self._run
        shown = self._noted(effects)
        if isinstance(event, m.Stop):
            self.state = state
            return before + shown
        try:
            self._write()
        except JournalError as error:
            if isinstance(event, m.Done | m.Back | m.Note):
                del self._pending[kept:]
                self._run = run
                return before + self._tell(error, aloud=True)
            shown += self._tell(error)
        moved = (state.step, state.run) != (self.state.step, self.state.run)
        self.state = state
        if moved:
            self._dry_or_wet(event)
        elif isinstance(event, m.Tick):
            shown += self._dried()
        return before + shown

    def _wetted(self, number: int, at: int, wall_s: float) -> None:
        """Note a confirmed step that leaves something wet, while it is not yet dry."""
        steps = self.machine.plan.steps
        if number <= min(at, len(steps)) and steps[number - 1].wait_min > 0:
            until_s = wall_s + steps[number - 1].wait_min * 60.0
            if until_s > self.clock.wall_s():
                self._wet[number] = until_s

    def _dry_or_wet(self, event: m.Input) -> None:
        """Start or take back the drying of the step that was left."""
        if self.state.step == 0:
            # the next piece of a batch: the one before dries on its shelf
            self._wet.clear()
        elif isinstance(event, m.Back):
            self._wet.pop(self.state.step + 1, None)
        else:
            self._wetted(self.state.step, self.state.step, self.clock.wall_s())

    def _dried(self) -> list[Shown]:
        """Tell once what has become dry."""
        shown: list[Shown] = []
        for wet in self.drying():
            if wet.left_s <= 0.0:
                del self._wet[wet.step]
                text = self.machine.words.say("Dry: {title}.", title=wet.title)
                shown += [Cue("timer-over"), Say(text, "note")]
        return shown

    def flush(self) -> list[Shown]:
        """Write what STOP left unwritten; the caller calls it when STOP is shown."""
        try:
            self._write()
        except JournalError as error:
            return self._tell(error)
        return []

    def close(self) -> None:
        """Leave, if the session is not left yet.

        Raises:
            JournalError: something could still not be written.
        """
        if self.state.mode != "left":
            self.take(m.Leave())
        self._write()

    # ------------------------------------------------------------- writing

    def _tell(self, error: JournalError, aloud: bool = False) -> list[Shown]:
        """Say that the log is stuck: once, or whenever something was refused."""
        aloud, self.trouble = aloud or self.trouble is None, error
        say = self.machine.words.say("Not done: the log cannot be written. {remedy}",
                                     remedy=self.machine.words.told(error.remedy))  # fmt: skip
        return [Cue("attention"), Say(say, "guard")] if aloud else []

    def _write(self) -> None:
        if self._pending:
            self.journal.append(self._pending)
            self._pending = []
        self.trouble = None

    def _noted(self, effects: Sequence[Effect]) -> list[Shown]:
        """Put the records among some effects aside for writing; give the rest back."""
        shown: list[Shown] = []
        for effect in effects:
            if isinstance(effect, Record):
                if effect.kind == "run-start":
                    self._run = uuid.uuid4().hex[:16]
                    facts = {**self._facts, "batch": self._batch, **effect.data}
                    effect = Record(effect.kind, facts)
                self._pending.append(self._entry(effect))
            else:
                shown.append(effect)
        return shown

    def _note(self, kind: str, data: Mapping[str, m.Datum]) -> None:
        """Put a record of the walk's own aside for writing, with the step in hand."""
        step = self.machine.step_at(self.state) if self.state.mode != "left" else None
        where = (step.number, step.cut, step.stage) if step else (None, None, None)
        self._pending.append(self._entry(Record(kind, data, *where)))

    def _entry(self, record: Record) -> Entry:
        return Entry(
            self.clock.wall_s(), round(self.now_s(), 3), self._session, record.kind, record.data,
            self._run, record.step, record.cut, record.stage,
        )  # fmt: skip

    # ------------------------------------------------------------- clocks

    def _look_at_clocks(self) -> None:
        """Notice sleep and a wall clock that was set, and leave them out of all times."""
        now = (self.clock.monotonic_s(), self.clock.boot_s(), self.clock.wall_s())
        mono_s, boot_s, wall_s = (b - a for a, b in zip(self._looked, now, strict=True))
        self._looked = now
        asleep_s = boot_s - mono_s if boot_s - mono_s > JITTER_S else 0.0
        running = self.state.since_s is not None
        if self._ticking and running and not self.rehearsed and mono_s > GAP_S:
            # no clock stood still, but nobody was there: asleep, or the program was halted
            self._asleep_s += mono_s
            asleep_s += mono_s
        if asleep_s > 0.0:
            self._note("asleep", {"asleep_s": round(asleep_s, 3)})
        if abs(wall_s - boot_s) > JITTER_S:
            self._note("clock-set", {"shift_s": round(wall_s - boot_s, 3)})
            # paint dries by no clock of ours
            self._wet = {n: until_s + wall_s - boot_s for n, until_s in self._wet.items()}

    def _rehearse(self, event: m.Input) -> list[Shown]:
        """Let a made-up clock go as long as a sawyer would need for what is confirmed."""
        if not isinstance(event, m.Done) or not isinstance(self.clock, MadeUpClock):
            return []
        step = self.machine.step_at(self.state)
        if self.state.mode != "step" or step is None:
            self.clock.advance(GLANCE_S)
            return []
        plan = step.minutes
        spread = self._random.triangular(plan.low, max(plan.low, plan.high), plan.likely)
        left_s = spread * 60.0 - self.state.active_s(self.now_s())
        left_s /= max(1, len(self.machine.holes(self.state)) - self.state.drilled)
        shown: list[Shown] = []
        while left_s > 0:
            self.clock.advance(min(1.0, left_s))
            left_s -= 1.0
            shown += self.take(m.Tick())
        return shown
