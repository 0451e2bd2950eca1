"""A review over everything, of runs and sessions worked out before.

A finished run never changes, so its result is kept beside the events with the number of
the last event that went into it; only what has grown since is read again. Bodies are JSON
lists in the order of the fields; one that cannot be read is worked out anew.

What has to be worked out at first is read lightly: sessions as the journal's own sums; of
finished runs no ``progress``, since every step's last word is its confirmation.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import astuple, fields
from operator import attrgetter
from typing import Any, Literal, Protocol

from companion.journal.model import Brief, SessionTally, Source
from companion.planner.plan import Minutes
from companion.review.build import together
from companion.review.facts import PlanFacts, facts_of
from companion.review.model import (
    CutTime,
    MishapSeen,
    NoteSeen,
    Review,
    RunSeen,
    SessionSeen,
    StageSum,
)
from companion.review.runs import RunsSeen, runs_of
from companion.review.sessions import sittings

FORM = 6
"""Number of the form of a body; change it with any change of the review's types or rules."""
CHUNK = 500
"""Runs or sessions worked out at once: bounds the memory."""
_STEPS = [f.name for f in fields(RunSeen)].index("steps")
_STAGES = [f.name for f in fields(RunSeen)].index("stages")
_CUTS = [f.name for f in fields(RunSeen)].index("cuts")
_AT = [f.name for f in fields(MishapSeen)].index("at_mm")
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

    def tallies(self, tips: Mapping[str, int]) -> Iterator[SessionTally]:
        """Where the time of some sessions went."""

    def brief_events(self, runs: Sequence[str], *, whole: bool) -> Iterator[Brief]:
        """Events of some runs, run by run; not whole: without ``progress``."""

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
        made = sittings(store.tallies({n: tips[n] for n in names}), sawyers)
        by_name = {s.session: s for s in made}
        found += made
        store.keep_digests("session", [
            (n, tips[n], _closed([_session_values(by_name[n])] if n in by_name else []))
            for n in names
        ])  # fmt: skip
    return found


def _runs(store: Store, sawyers: Mapping[str, str]) -> RunsSeen:
    tips, kept = store.tips("run"), store.digests("run")
    runs: list[RunSeen] = []
    mishaps: list[MishapSeen] = []
    notes: list[NoteSeen] = []
    struck: list[MishapSeen] = []
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
        struck += [_mishap(v) for v in values[3]]
    plans: dict[str, PlanFacts] = {}
    for names in _chunks(stale):
        made = _work_out(store, names, plans, sawyers)
        runs += made.runs
        mishaps += made.mishaps
        notes += made.notes
        struck += made.struck
        store.keep_digests("run", [(n, tips[n], body) for n, body in _bodies(made, names)])
    runs.sort(key=lambda r: (r.begun_s, r.run))
    mishaps.sort(key=lambda m: m.wall_s)
    notes.sort(key=lambda n: n.wall_s)
    struck.sort(key=lambda m: m.wall_s)
    return RunsSeen(tuple(runs), tuple(mishaps), tuple(notes), tuple(struck))


def _work_out(
    store: Store, names: Sequence[str], plans: dict[str, PlanFacts], sawyers: Mapping[str, str]
) -> RunsSeen:
    light = list(store.brief_events(names, whole=False))
    for event in light:
        key = str(event.data.get("plan")) if event.kind == "run-start" else ""
        if key and key not in plans:
            plans[key] = facts_of(store.plan_text(key))
    made = runs_of(light, plans, sawyers, with_steps=False)
    # of the others the step in hand may have nothing but its progress
    rest = [r.run for r in made.runs if r.state != "done"]
    if not rest:
        return made
    whole = runs_of(store.brief_events(rest, whole=True), plans, sawyers, with_steps=False)
    again = set(rest)
    return RunsSeen(
        (*(r for r in made.runs if r.run not in again), *whole.runs),
        (*(m for m in made.mishaps if m.run not in again), *whole.mishaps),
        (*(n for n in made.notes if n.run not in again), *whole.notes),
        (*(m for m in made.struck if m.run not in again), *whole.struck),
    )


def _bodies(made: RunsSeen, names: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Each run with its body."""
    parts: dict[str, tuple[list[Any], ...]] = {n: ([], [], [], []) for n in names}
    for run in made.runs:
        parts[run.run][0].append(_run_values(run))
    for mishap in made.mishaps:
        parts[mishap.run][1].append(astuple(mishap))
    for note in made.notes:
        parts[note.run][2].append(astuple(note))
    for mishap in made.struck:
        parts[mishap.run][3].append(astuple(mishap))
    for name, values in parts.items():
        yield name, _closed(list(values))


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


def _values(kind: type) -> Callable[[Any], tuple[Any, ...]]:
    """Takes an object's fields in their order; ``astuple`` copies all there is below, slowly."""
    return attrgetter(*(f.name for f in fields(kind)))


_minutes_values, _cut_values = _values(Minutes), _values(CutTime)
_stage_values = _values(StageSum)
_run_fields, _session_values = _values(RunSeen), _values(SessionSeen)
_CUT_MINUTES = [
    i for i, f in enumerate(fields(CutTime)) if f.name in ("planned", "thread_planned")
]  # fmt: skip


def _run_values(run: RunSeen) -> list[Any]:
    v = list(_run_fields(run))
    v[_PLANNED], v[_STEPS] = _minutes_values(run.planned), ()
    v[_CUTS] = [_cut_list(c) for c in run.cuts]
    v[_STAGES] = [_stage_values(s) for s in run.stages]
    return v


def _cut_list(cut: CutTime) -> list[Any]:
    v = list(_cut_values(cut))
    for i in _CUT_MINUTES:
        v[i] = _minutes_values(v[i])
    return v


def _run(v: list[Any]) -> RunSeen:
    v[_CUTS] = tuple(_cut(c) for c in v[_CUTS])
    v[_PLANNED] = Minutes(*v[_PLANNED])
    v[_STEPS] = ()
    v[_STAGES] = tuple(StageSum(*s) for s in v[_STAGES])
    return RunSeen(*v)


def _cut(v: list[Any]) -> CutTime:
    number, side, length, turns, planned, took, thread_planned, *rest = v
    return CutTime(
        number, side, length, turns, Minutes(*planned), took, Minutes(*thread_planned), *rest
    )


def _mishap(v: list[Any]) -> MishapSeen:
    v[_AT] = None if v[_AT] is None else (v[_AT][0], v[_AT][1])
    return MishapSeen(*v)
