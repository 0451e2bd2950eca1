"""Runs from events: what each step and each cut took against the plan."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from companion.journal.model import Event
from companion.planner.plan import POWERED_STAGES, ZERO_MINUTES, Minutes
from companion.review.facts import NOTHING, PlanFacts, StepFacts
from companion.review.model import CutTime, MishapSeen, NoteSeen, RunSeen, RunState, StepTime


@dataclass
class _Book:
    """What one run's events have told so far."""

    begun: Event
    spent_s: dict[int, float] = field(default_factory=dict)
    done: set[int] = field(default_factory=set)
    stages: dict[int, tuple[str, int | None]] = field(default_factory=dict)
    at: int = 1
    state: RunState = "open"
    superseded: bool = False
    mishaps: list[MishapSeen] = field(default_factory=list)
    notes: list[NoteSeen] = field(default_factory=list)

    def take(self, event: Event) -> None:
        """Add one event, in the order of writing."""
        data = event.data
        self.at = int(data.get("at", self.at))
        if event.step is not None:
            self.stages[event.step] = (event.stage or "", event.cut)
            if "active_s" in data:
                self.spent_s[event.step] = float(data["active_s"])
        if event.kind == "step-done" and event.step is not None:
            self.done.add(event.step)
        elif event.kind == "back":
            # also from the summary, where no step is in hand
            self.done.discard(self.at)
            self.state = "open"
        elif event.kind == "run-done":
            self.state = "done"
        elif event.kind == "run-dropped":
            self.state, self.superseded = "dropped", bool(data.get("replanned"))
        elif event.kind == "run-start" and self.at > 1:
            # gone on with after planning anew: what lies behind was done under the old numbers
            self.done |= set(range(1, self.at))
        elif event.kind == "mishap":
            self.mishaps.append(_mishap(event))
        elif event.kind in ("recovered", "mishap-dropped"):
            self._close_mishap(event)
        elif event.kind == "note":
            text = str(data.get("text", ""))
            self.notes.append(NoteSeen(event.wall_s, event.run or "", event.step, event.cut, text))

    def _close_mishap(self, event: Event) -> None:
        for i in range(len(self.mishaps) - 1, -1, -1):
            seen = self.mishaps[i]
            if seen.kind == event.data.get("kind") and not seen.recovered:
                if event.kind == "mishap-dropped":
                    del self.mishaps[i]
                else:
                    self.mishaps[i] = _recovered(seen)
                return


def _mishap(event: Event) -> MishapSeen:
    at = event.data.get("at_mm")
    return MishapSeen(
        str(event.data.get("kind", "")), event.wall_s, event.run or "", event.stage or "",
        event.cut, float(event.data.get("minute", 0.0)),
        None if at is None else (float(at[0]), float(at[1])), False,
    )  # fmt: skip


def _recovered(seen: MishapSeen) -> MishapSeen:
    return replace(seen, recovered=True)


@dataclass(frozen=True, slots=True)
class RunsSeen:
    """Runs with what happened in them."""

    runs: tuple[RunSeen, ...]
    mishaps: tuple[MishapSeen, ...]
    notes: tuple[NoteSeen, ...]


def runs_of(
    events: Sequence[Event], plans: Mapping[str, PlanFacts], sawyers: Mapping[str, str]
) -> RunsSeen:
    """Put the runs together.

    Args:
        events: in the order of writing; those without a run are passed over.
        plans: facts of the kept plans, by key.
        sawyers: names by journal.
    """
    books: dict[str, _Book] = {}
    for event in events:
        if event.run is None:
            continue
        if event.kind == "run-start":
            books.setdefault(event.run, _Book(event))
        book = books.get(event.run)
        if book is not None:
            book.take(event)
    order = sorted(books.values(), key=lambda b: (b.begun.wall_s, b.begun.number))
    runs = tuple(_run(b, plans.get(str(b.begun.data.get("plan")), NOTHING), sawyers) for b in order)
    mishaps = sorted((m for b in order for m in b.mishaps), key=lambda m: m.wall_s)
    notes = sorted((n for b in order for n in b.notes), key=lambda n: n.wall_s)
    return RunsSeen(runs, tuple(mishaps), tuple(notes))


def _run(book: _Book, plan: PlanFacts, sawyers: Mapping[str, str]) -> RunSeen:
    begun, data = book.begun, book.begun.data
    planned: Sequence[StepFacts] = plan.steps or _steps_seen(book)
    steps = tuple(
        StepTime(
            n, s.stage, s.cut, s.title, s.planned, book.spent_s.get(n, 0.0) / 60.0, n in book.done
        )
        for n, s in enumerate(planned, 1)
    )
    return RunSeen(
        run=begun.run or "", project=str(data.get("project", "")),
        sawyer=sawyers.get(begun.source) or str(data.get("sawyer", "")),
        work=str(data.get("work", "")),
        batch=str(data.get("batch", "")), number=int(data.get("run", 1)),
        runs=int(data.get("runs", 1)), rehearsed=bool(data.get("rehearsed")),
        begun_s=begun.wall_s, state=book.state, at=book.at, step_count=len(steps),
        took_min=sum(s.took_min for s in steps), planned=_planned(steps),
        done_took_min=sum(s.took_min for s in steps if s.done),
        done_planned_min=sum(s.planned.likely for s in steps if s.done),
        steps=steps, cuts=_cuts(steps, plan, book.mishaps), material=str(data.get("material", "")),
        thickness_mm=float(data.get("thickness_mm", 0.0)), stack=int(data.get("stack", 1)),
        blade=str(data.get("blade", "")), superseded=book.superseded,
    )  # fmt: skip


def _steps_seen(book: _Book) -> list[StepFacts]:
    """The steps as far as the events know them, when the plan is not kept."""
    last = max(book.stages, default=0)
    unknown: tuple[str, int | None] = ("", None)
    return [
        StepFacts(*book.stages.get(n, unknown), title="", planned=ZERO_MINUTES)
        for n in range(1, last + 1)
    ]


def _cuts(
    steps: Sequence[StepTime], plan: PlanFacts, mishaps: Sequence[MishapSeen]
) -> tuple[CutTime, ...]:
    by_cut: defaultdict[int, list[StepTime]] = defaultdict(list)
    for step in steps:
        if step.cut is not None:
            by_cut[step.cut].append(step)
    found = []
    for number, own in sorted(by_cut.items()):
        cutting = [s for s in own if s.stage in POWERED_STAGES]
        threading = [s for s in own if s.stage == "thread"]
        facts = plan.cuts.get(number)
        found.append(
            CutTime(
                number=number, side=facts.side if facts else "",
                length_mm=facts.length_mm if facts else 0.0, turns=facts.turns if facts else {},
                planned=_planned(cutting), took_min=sum(s.took_min for s in cutting),
                thread_planned=_planned(threading),
                thread_took_min=sum(s.took_min for s in threading),
                done=bool(cutting) and all(s.done for s in cutting),
                mishaps=sum(1 for m in mishaps if m.cut == number),
            )
        )  # fmt: skip
    return tuple(found)


def _planned(steps: Sequence[StepTime]) -> Minutes:
    return sum((s.planned for s in steps), ZERO_MINUTES)
