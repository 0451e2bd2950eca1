"""Runs from events: what each step and each cut took against the plan.

A correction is an event of its own, written afterwards; it counts until the step is
confirmed anew. What it says stands in the place of what was logged, and bears a mark.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from companion.journal.model import TELLING, Brief, Event, Walked
from companion.planner.plan import POWERED_STAGES, ZERO_MINUTES
from companion.review.facts import NOTHING, PlanFacts, StepFacts
from companion.review.model import (
    CutTime,
    MishapSeen,
    NoteSeen,
    RunSeen,
    RunState,
    StageSum,
    StepTime,
)
from companion.review.names import whose

CORRECTED = "corrected"
"""Kind of the event that sets another right; see :mod:`companion.journal.model`."""
_TURNING = frozenset({"back", CORRECTED, "run-dropped"})
"""Kinds by which it matters what was before and what comes after."""


@dataclass
class Book:
    """What one run's events have told so far."""

    begun: Event | Brief
    spent_s: dict[int, float] = field(default_factory=dict)
    right_s: dict[int, float | None] = field(default_factory=dict)
    """Corrected seconds by step; None: they were no work, so the plan's stand for them."""
    done: set[int] = field(default_factory=set)
    stages: dict[int, tuple[str, int | None]] = field(default_factory=dict)
    at: int = 1
    state: RunState = "open"
    superseded: bool = False
    mishaps: list[MishapSeen] = field(default_factory=list)
    no_mishaps: list[MishapSeen] = field(default_factory=list)
    """Those that a correction has taken away."""
    told: int = 0
    """Mishaps so far, those taken back at once too."""
    as_told: dict[float, str] = field(default_factory=dict)
    """Kinds as they were logged, of corrected mishaps, by their time."""
    notes: list[NoteSeen] = field(default_factory=list)

    @property
    def name(self) -> str:
        """The run's."""
        return self.begun.run or ""

    @property
    def carried(self) -> bool:
        """Whether it goes on with another run: the seconds from there stand in ``progress``."""
        return int(self.begun.data.get("at", 1)) > 1

    @property
    def plan_key(self) -> str:
        """Key of the plan the run began with."""
        return str(self.begun.data.get("plan"))

    def take(self, event: Event | Brief) -> None:
        """Add one event, in the order of writing."""
        data, kind, step = event.data, event.kind, event.step
        if kind == CORRECTED:
            self._correct(event)
            return
        if "at" in data:
            self.at = int(data["at"])
        if step is not None:
            self.stages[step] = (event.stage or "", event.cut)
            if "active_s" in data:
                self.spent_s[step] = float(data["active_s"])
        if kind == "step-done":
            self._confirm(step)
        elif kind == "back":
            self._undo()
        elif kind == "run-done":
            self.state = "done"
        elif kind == "run-dropped":
            self.state, self.superseded = "dropped", bool(data.get("replanned"))
        elif kind == "run-start" and self.at > 1:
            # gone on with after planning anew: what lies behind was done under the old numbers
            self.done |= set(range(1, self.at))
        elif kind == "mishap":
            self.told += 1
            self.mishaps.append(_mishap(event, self.told))
        elif kind in ("recovered", "mishap-dropped"):
            self._close_mishap(event)
        elif kind == "note":
            text = str(data.get("text", ""))
            self.notes.append(NoteSeen(event.wall_s, event.run or "", step, event.cut, text))

    def walk(self, walked: Walked) -> None:
        """Add a run's events as columns: what :meth:`take` does one by one, without the stages."""
        kinds, steps, data, whole = walked
        if not _TURNING.isdisjoint(kinds) or kinds.count("run-start") > 1:
            self._walk_in_order(walked)
            return
        # nothing is undone or set right: each step's last word counts, in whatever order
        for event in whole:
            self.take(event)
        times = zip(steps, [d.get("active_s") for d in data], strict=True)
        self.spent_s = {n: float(s) for n, s in times if n is not None and s is not None}
        confirmed = zip(steps, kinds, strict=True)
        self.done.update([n for n, kind in confirmed if kind is None and n is not None])
        self.at = next((int(d["at"]) for d in reversed(data) if "at" in d), 1)
        if "run-done" in kinds:
            self.state = "done"

    def _walk_in_order(self, walked: Walked) -> None:
        whole = iter(walked.whole)
        for kind, step, data in zip(walked.kinds, walked.steps, walked.data, strict=True):
            if kind in TELLING:
                self.take(next(whole))
                continue
            if "at" in data:
                self.at = int(data["at"])
            if step is not None and "active_s" in data:
                self.spent_s[step] = float(data["active_s"])
            if kind is None:
                self._confirm(step)
            elif kind == "back":
                self._undo()
            elif kind == "run-done":
                self.state = "done"

    def _confirm(self, step: int | None) -> None:
        if step is not None:
            self.done.add(step)
            self.right_s.pop(step, None)

    def _undo(self) -> None:
        # also from the summary, where no step is in hand
        self.done.discard(self.at)
        self.state = "open"

    def _close_mishap(self, event: Event | Brief) -> None:
        for i in range(len(self.mishaps) - 1, -1, -1):
            seen = self.mishaps[i]
            if seen.kind == event.data.get("kind") and not seen.recovered:
                if event.kind == "mishap-dropped":
                    del self.mishaps[i]
                else:
                    self.mishaps[i] = replace(seen, recovered=True)
                return

    def _correct(self, event: Event | Brief) -> None:
        data = event.data
        if "mishap_wall_s" in data:
            self._correct_mishap(float(data["mishap_wall_s"]), data.get("kind"),
                                 bool(data.get("as_logged")))  # fmt: skip
        elif event.step is not None and data.get("as_logged"):
            self.right_s.pop(event.step, None)
        elif event.step is not None:
            self.right_s[event.step] = None if data.get("call") else float(data["took_s"])

    def _correct_mishap(self, wall_s: float, kind: object, as_logged: bool) -> None:
        every = [(m, True) for m in self.mishaps] + [(m, False) for m in self.no_mishaps]
        self.mishaps, self.no_mishaps = [], []
        for seen, counts in every:
            to = self.mishaps if counts else self.no_mishaps
            if seen.wall_s == wall_s:
                to = self.mishaps
                told = self.as_told.setdefault(wall_s, seen.kind)
                if as_logged:
                    seen = replace(seen, kind=told, corrected=False)
                elif kind is None:
                    to = self.no_mishaps
                else:
                    seen = replace(seen, kind=str(kind), corrected=True)
            to.append(seen)
        self.mishaps.sort(key=lambda m: m.wall_s)


def _mishap(event: Event | Brief, number: int) -> MishapSeen:
    at = event.data.get("at_mm")
    return MishapSeen(
        str(event.data.get("kind", "")), event.wall_s, event.run or "", event.stage or "",
        event.cut, float(event.data.get("minute", 0.0)),
        None if at is None else (float(at[0]), float(at[1])), False,
        number=number, step=event.step, session=event.session,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class RunsSeen:
    """Runs with what happened in them."""

    runs: tuple[RunSeen, ...]
    mishaps: tuple[MishapSeen, ...]
    notes: tuple[NoteSeen, ...]
    struck: tuple[MishapSeen, ...] = ()
    """Mishaps that a correction says were none."""


def runs_of(
    events: Iterable[Event | Brief], plans: Mapping[str, PlanFacts], sawyers: Mapping[str, str],
    with_steps: bool = True,
) -> RunsSeen:  # fmt: skip
    """Put the runs together.

    Args:
        events: those of each run in the order of writing; those without a run are passed over.
        plans: facts of the kept plans, by key.
        sawyers: names by journal.
        with_steps: whether each run holds its single steps.
    """
    books: dict[str, Book] = {}
    for event in events:
        if event.run is None:
            continue
        book = books.get(event.run)
        if book is None:
            if event.kind != "run-start":
                continue
            book = books[event.run] = Book(event)
        book.take(event)
    return runs_seen(books.values(), plans, sawyers, with_steps)


def walked_books(walks: Iterable[Walked]) -> list[Book]:
    """Books of some runs, each run's columns at once; one without its start is passed over."""
    books = []
    for walked in walks:
        if walked.kinds[0] == "run-start":
            book = Book(walked.whole[0])
            book.walk(walked)
            books.append(book)
    return books


def runs_seen(
    books: Iterable[Book], plans: Mapping[str, PlanFacts], sawyers: Mapping[str, str],
    with_steps: bool,
) -> RunsSeen:  # fmt: skip
    """What some books come to, oldest first.

    Args:
        books: one a run.
        plans: facts of the kept plans, by key.
        sawyers: names by journal.
        with_steps: whether each run holds its single steps.
    """
    order = sorted(books, key=lambda b: (b.begun.wall_s, b.begun.number))
    runs = tuple(_run(b, plans.get(b.plan_key, NOTHING), sawyers, with_steps) for b in order)
    mishaps = sorted((m for b in order for m in b.mishaps), key=lambda m: m.wall_s)
    notes = sorted((n for b in order for n in b.notes), key=lambda n: n.wall_s)
    struck = sorted((m for b in order for m in b.no_mishaps), key=lambda m: m.wall_s)
    return RunsSeen(runs, tuple(mishaps), tuple(notes), tuple(struck))


def _run(book: Book, plan: PlanFacts, sawyers: Mapping[str, str], with_steps: bool) -> RunSeen:
    begun, data = book.begun, book.begun.data
    if not plan.steps:
        plan = PlanFacts(_steps_seen(book), plan.cuts, plan.common_spread)
    count = len(plan.steps)
    took = [0.0] * (count + 1)
    for n, seconds in book.spent_s.items():
        if 0 < n <= count:
            took[n] = seconds / 60.0
    for n, right_s in book.right_s.items():
        if 0 < n <= count:
            took[n] = plan.steps[n - 1].planned.likely if right_s is None else right_s / 60.0
    done = [n for n in sorted(book.done) if 0 < n <= count]
    took_of = took.__getitem__
    sums = plan.done_sums(tuple(done))
    steps: tuple[StepTime, ...] = ()
    if with_steps:
        steps = tuple(
            StepTime(n, s.stage, s.cut, s.title, s.planned, took[n], n in book.done,
                     n in book.right_s)
            for n, s in enumerate(plan.steps, 1)
        )  # fmt: skip
    return RunSeen(
        run=begun.run or "", project=str(data.get("project", "")),
        sawyer=whose(begun, sawyers),
        work=str(data.get("work", "")),
        batch=str(data.get("batch", "")), number=int(data.get("run", 1)),
        runs=int(data.get("runs", 1)), rehearsed=bool(data.get("rehearsed")),
        begun_s=begun.wall_s, state=book.state, at=book.at, step_count=count,
        took_min=sum(took), planned=plan.planned,
        done_took_min=sum(map(took_of, done)),
        done_planned_min=sums.planned_min,
        corrections=_set_right(book, plan) + len(book.no_mishaps)
        + sum(m.corrected for m in book.mishaps),
        stages=tuple([
            StageSum(stage, len(own), planned_min, sum(map(took_of, own)))
            for stage, own, planned_min in sums.stages
        ]),
        steps=steps, cuts=_cuts(book, plan, took),
        material=str(data.get("material", "")),
        thickness_mm=float(data.get("thickness_mm", 0.0)), stack=int(data.get("stack", 1)),
        blade=str(data.get("blade", "")), superseded=book.superseded,
    )  # fmt: skip


def _set_right(book: Book, plan: PlanFacts) -> int:
    """How many cuts and other steps were corrected: the legs of a cut were as one."""
    steps = [(n, plan.steps[n - 1]) for n in book.right_s if 0 < n <= len(plan.steps)]
    return len({s.cut if s.stage in POWERED_STAGES and s.cut else -n for n, s in steps})


def _steps_seen(book: Book) -> tuple[StepFacts, ...]:
    """The steps as far as the events know them, when the plan is not kept."""
    last = max(book.stages, default=0)
    unknown: tuple[str, int | None] = ("", None)
    return tuple(
        StepFacts(*book.stages.get(n, unknown), title="", planned=ZERO_MINUTES)
        for n in range(1, last + 1)
    )


def _cuts(book: Book, plan: PlanFacts, took: Sequence[float]) -> tuple[CutTime, ...]:
    mishaps = Counter([m.cut for m in book.mishaps]).get
    right_s, done, took_of = book.right_s, book.done, took.__getitem__
    return tuple([
        CutTime(
            number, facts.side, facts.length_mm, facts.turns, own.planned,
            sum(map(took_of, own.cutting)), own.thread_planned,
            sum(map(took_of, own.threading)),
            bool(own.cutting) and done.issuperset(own.cutting), mishaps(number, 0),
            bool(right_s) and any(n in right_s for n in (*own.cutting, *own.threading)),
        )
        for number, own, facts in plan.cuts_seen
    ])  # fmt: skip
