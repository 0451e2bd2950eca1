"""A review over everything, of runs and sessions worked out before.

A finished run never changes, so its result is kept beside the events with the number of
the last event that went into it; only what has grown since is read again. Bodies are JSON
lists in the order of the fields; one that cannot be read is worked out anew.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import astuple, fields, replace
from typing import Any, Literal, Protocol

from companion.journal.model import Event, Source
from companion.planner.plan import Minutes
from companion.review.build import together
from companion.review.facts import PlanFacts, facts_of
from companion.review.model import CutTime, MishapSeen, NoteSeen, Review, RunSeen, SessionSeen
from companion.review.runs import RunsSeen, runs_of
from companion.review.sessions import sessions_of

FORM = 2
"""Number of the form of a body; change it with any change of the review's types or rules."""
CHUNK = 100
"""Runs or sessions worked out at once: bounds the memory."""
_STEPS = [f.name for f in fields(RunSeen)].index("steps")
_CUTS = [f.name for f in fields(RunSeen)].index("cuts")
_PLANNED = [f.name for f in fields(RunSeen)].index("planned")


class Store(Protocol):
    """What is asked of a journal."""

    def tips(self, kind: Literal["run", "session"]) -> dict[str, int]:
        """Number of the last event of each."""

    def digests(self, kind: Literal["run", "session"]) -> dict[str, tuple[int, str]]:
        """What is kept of each."""

    def keep_digests(
        self, kind: Literal["run", "session"], rows: Iterable[tuple[str, int, str]]
    ) -> None:
        """Keep or replace."""

    def events(
        self, *, runs: Iterable[str] | None = None, sessions: Iterable[str] | None = None
    ) -> Iterator[Event]:
        """Events of some."""

    def plan_text(self, plan_hash: str) -> str | None:
        """A kept plan."""

    def sources(self) -> tuple[Source, ...]:
        """The journals they come from."""


def summary(store: Store) -> Review:
    """Review all there is, without single steps; keeps what it had to work out."""
    sawyers = {s.key: s.sawyer for s in store.sources()}
    sessions = sorted(_sessions(store, sawyers), key=lambda s: (s.begun_s, s.session))
    seen = _runs(store, sawyers)
    return together(tuple(sessions), seen)


def _sessions(store: Store, sawyers: Mapping[str, str]) -> list[SessionSeen]:
    tips, kept = store.tips("session"), store.digests("session")
    found: list[SessionSeen] = []
    stale: list[str] = []
    for name, tip in tips.items():
        upto, body = kept.get(name, (0, ""))
        values = _opened(body) if upto == tip else None
        if values is None:
            stale.append(name)
        else:
            found += [SessionSeen(*v) for v in values]
    for names in _chunks(stale):
        made = sessions_of(list(store.events(sessions=names)), sawyers)
        by_name = {s.session: s for s in made}
        found += made
        store.keep_digests("session", [
            (n, tips[n], _closed([astuple(by_name[n])] if n in by_name else [])) for n in names
        ])  # fmt: skip
    return found


def _runs(store: Store, sawyers: Mapping[str, str]) -> RunsSeen:
    tips, kept = store.tips("run"), store.digests("run")
    runs: list[RunSeen] = []
    mishaps: list[MishapSeen] = []
    notes: list[NoteSeen] = []
    stale: list[str] = []
    for name, tip in tips.items():
        upto, body = kept.get(name, (0, ""))
        values = _opened(body) if upto == tip else None
        if values is None:
            stale.append(name)
            continue
        runs += [_run(v) for v in values[0]]
        mishaps += [_mishap(v) for v in values[1]]
        notes += [NoteSeen(*v) for v in values[2]]
    plans: dict[str, PlanFacts] = {}
    for names in _chunks(stale):
        made = _work_out(store, names, plans, sawyers)
        runs += made.runs
        mishaps += made.mishaps
        notes += made.notes
        store.keep_digests("run", [(n, tips[n], _run_body(made, n)) for n in names])
    runs.sort(key=lambda r: (r.begun_s, r.run))
    mishaps.sort(key=lambda m: m.wall_s)
    notes.sort(key=lambda n: n.wall_s)
    return RunsSeen(tuple(runs), tuple(mishaps), tuple(notes))


def _work_out(
    store: Store, names: Sequence[str], plans: dict[str, PlanFacts], sawyers: Mapping[str, str]
) -> RunsSeen:
    events = list(store.events(runs=names))
    for event in events:
        key = str(event.data.get("plan")) if event.kind == "run-start" else ""
        if key and key not in plans:
            plans[key] = facts_of(store.plan_text(key))
    made = runs_of(events, plans, sawyers)
    return replace(made, runs=tuple(replace(r, steps=()) for r in made.runs))


def _run_body(made: RunsSeen, name: str) -> str:
    return _closed([
        [astuple(r) for r in made.runs if r.run == name],
        [astuple(m) for m in made.mishaps if m.run == name],
        [astuple(n) for n in made.notes if n.run == name],
    ])  # fmt: skip


def _chunks(names: Sequence[str]) -> Iterator[Sequence[str]]:
    return (names[i : i + CHUNK] for i in range(0, len(names), CHUNK))


def _closed(values: list[Any]) -> str:
    return json.dumps([FORM, values], ensure_ascii=False)


def _opened(body: str) -> Any:  # noqa: ANN401  # JSON is untyped by nature
    """The values of a body; None for another form or a damaged one."""
    try:
        form, values = json.loads(body)
    except (ValueError, TypeError):
        return None
    return values if form == FORM else None


def _run(v: list[Any]) -> RunSeen:
    v[_CUTS] = tuple(_cut(c) for c in v[_CUTS])
    v[_PLANNED] = Minutes(*v[_PLANNED])
    v[_STEPS] = ()
    return RunSeen(*v)


def _cut(v: list[Any]) -> CutTime:
    number, side, length, turns, planned, took, thread_planned, *rest = v
    return CutTime(
        number, side, length, turns, Minutes(*planned), took, Minutes(*thread_planned), *rest
    )


def _mishap(v: list[Any]) -> MishapSeen:
    kind, wall_s, run, stage, cut, minute, at_mm, recovered = v
    at = None if at_mm is None else (at_mm[0], at_mm[1])
    return MishapSeen(kind, wall_s, run, stage, cut, minute, at, recovered)
