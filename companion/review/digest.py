"""A review over everything, of runs and sessions worked out before.

A finished run never changes, so its result is kept beside the events with the number of
the last event that went into it; only what has grown since is read again. Bodies are JSON
lists in the order of the fields; one that cannot be read is worked out anew. What a plan says
of its cuts is kept once, however often it was walked. All that was worked out is kept in one go
at the end, and where the disk will not have it, it is worked out again the next time.

Kept it is at the end of each sitting, after another journal has been taken in, and by every
review. Anew is worked out: a run or a session that has a later event, as by a correction or when
it is gone on with; what came with another journal; all, once, when a new version of the program
brings another ``FORM``. A session ends once, so that in daily use one of each is read.

What has to be worked out is read lightly: sessions as the journal's own sums; finished runs as
columns without ``progress``, since every step's last word is its confirmation. Where all of many
years is read anew, another process takes the sessions and some of the runs.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, fields
from operator import attrgetter
from typing import Any, Literal, Protocol

from companion.errors import JournalError
from companion.journal.model import Brief, Event, SessionTally, Source, Walked
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
from companion.review.runs import RunsSeen, runs_of, runs_seen, walked_books
from companion.review.sessions import sittings

FORM = 10
"""Number of the form of a body; change it with any change of the review's types or rules."""
MANY = 2000
"""As many sessions to be worked out are worth another process."""
SHARE = 0.1
"""Of the runs, for the process that works out the sessions: then both end together."""
CHUNK = 500
"""Runs or sessions worked out at once: bounds the memory."""
_STEPS = [f.name for f in fields(RunSeen)].index("steps")
_STAGES = [f.name for f in fields(RunSeen)].index("stages")
_CUTS = [f.name for f in fields(RunSeen)].index("cuts")
_AT = [f.name for f in fields(MishapSeen)].index("at_mm")
_PLANNED = [f.name for f in fields(RunSeen)].index("planned")
Kind = Literal["run", "session", "plan"]
Row = tuple[Kind, str, int, str]
"""Of what, its name, number of its last event, body."""
Elsewhere = Callable[[], Callable[[], object]]
"""Begins :func:`keep_ahead` in another process; what it returns waits for the end."""


class Store(Protocol):
    """What is asked of a journal."""

    def events(self, *, kind: str, projects: Sequence[str]) -> Iterator[Event]:
        """Events of one kind that name one of these projects."""

    def tips(
        self, kind: Literal["run", "session"], names: Collection[str] | None = None
    ) -> dict[str, int]:
        """Number of the last event of each."""

    def digests(
        self, kind: Kind, names: Collection[str] | None = None
    ) -> dict[str, tuple[int, str]]:
        """What is kept of each."""

    def keep_digests(self, rows: Iterable[Row]) -> None:
        """Keep or replace."""

    def tallies(self, tips: Mapping[str, int], whole: bool) -> Iterator[SessionTally]:
        """Where the time of some sessions went, or of all there are."""

    def walks(self, runs: Sequence[str]) -> Iterator[Walked]:
        """Events of some runs as columns."""

    def brief_events(self, runs: Sequence[str]) -> Iterator[Brief]:
        """All events of some runs, run by run."""

    def plan_text(self, plan_hash: str) -> str | None:
        """A kept plan."""

    def sources(self) -> tuple[Source, ...]:
        """The journals they come from."""


@dataclass(frozen=True, slots=True)
class _Outline:
    """What a plan says of its cuts."""

    planned: Minutes
    cuts: tuple[tuple[int, str, float, dict[str, int], Minutes, Minutes], ...]
    """Number, side, length, turns, minutes of cutting and of threading."""


_NO_OUTLINE = _Outline(Minutes(0.0, 0.0, 0.0), ())


@dataclass
class _Made:
    """What had to be worked out."""

    seen: RunsSeen
    plan_of: dict[str, str] = field(default_factory=dict)
    """Key of its plan, by run; without those whose plan is not kept."""


def summary(
    store: Store, projects: Sequence[str] | None = None, elsewhere: Elsewhere | None = None
) -> Review:
    """Review all there is, without single steps; keeps what it had to work out.

    Args:
        store: the journal.
        projects: only what is logged under these names; None: all.
        elsewhere: used where very many sessions are to be worked out.
    """
    sittings_wanted, runs_wanted = None, None
    if projects is not None:
        sittings_wanted = {e.session for e in store.events(kind="session-start", projects=projects)}
        starts = store.events(kind="run-start", projects=projects)
        runs_wanted = {e.run for e in starts if e.run is not None}
    sawyers = {s.key: s.sawyer for s in store.sources()}
    fresh: list[Row] = []
    found, stale = _kept_sessions(store, sittings_wanted)
    outlines = _outlines(store)
    seen, own = _kept_runs(store, runs_wanted, outlines)
    if elsewhere is not None and len(stale) >= MANY:
        wait = elsewhere()
        own, others = _parted(own)
        try:
            seen += _new_runs(store, own, outlines, sawyers, fresh)
        finally:
            wait()
        found, stale = _kept_sessions(store, sittings_wanted)
        outlines |= _outlines(store)
        kept, own = _kept_runs(store, others.keys(), outlines)
        seen += kept
    seen += _new_runs(store, own, outlines, sawyers, fresh)
    found += _sessions(store, stale, projects is None and not found, sawyers, fresh)
    _keep(store, fresh)
    return together(tuple(sorted(found, key=lambda s: (s.begun_s, s.session))), _in_order(seen))


def keep_ahead(store: Store) -> None:
    """In another process: work out and keep all sessions, and as many runs as leaves it time."""
    sawyers = {s.key: s.sawyer for s in store.sources()}
    outlines = _outlines(store)
    _, runs = _kept_runs(store, None, outlines)
    fresh: list[Row] = []
    found, stale = _kept_sessions(store, None)
    _sessions(store, stale, not found, sawyers, fresh)
    for _ in _new_runs(store, _parted(runs)[1], outlines, sawyers, fresh):
        pass
    _keep(store, fresh)


def _parted(runs: Mapping[str, int]) -> tuple[dict[str, int], dict[str, int]]:
    """Those that the review works out itself, and those of the other process."""
    every = list(runs.items())
    at = round(len(every) * (1.0 - SHARE))
    return dict(every[:at]), dict(every[at:])


def keep_up(store: Store) -> None:
    """Work out and keep what has grown since, as by a sitting; what is kept is not opened.

    Of very many it keeps none: whoever leaves the saw does not wait for what a review can do.
    """
    sessions, runs = _grown(store, "session"), _grown(store, "run")
    if max(len(sessions), len(runs)) >= MANY:
        return
    sawyers = {s.key: s.sawyer for s in store.sources()}
    fresh: list[Row] = []
    _sessions(store, sessions, False, sawyers, fresh)
    for _ in _new_runs(store, runs, _outlines(store), sawyers, fresh):
        pass
    _keep(store, fresh)


def _grown(store: Store, kind: Literal["run", "session"]) -> dict[str, int]:
    """Those with a later event than what is kept, or kept in another form: their last event."""
    kept, head = store.digests(kind), _closed([])[:-3]
    found = {}
    for name, tip in store.tips(kind).items():
        upto, body = kept.get(name, (0, ""))
        if upto != tip or not body.startswith(head):
            found[name] = tip
    return found


def _keep(store: Store, fresh: Sequence[Row]) -> None:
    if fresh:
        with suppress(JournalError):
            store.keep_digests(fresh)


def _kept_sessions(
    store: Store, wanted: Collection[str] | None
) -> tuple[list[SessionSeen], dict[str, int]]:
    """The sessions that are kept; of the others the number of their last event."""
    kept, tips = store.digests("session", wanted), store.tips("session", wanted)
    fitting = [n for n, tip in tips.items() if kept.get(n, (0, ""))[0] == tip]
    opened = _all_opened([kept[n][1] for n in fitting])
    stale = dict.fromkeys(tips.keys() - set(fitting))
    found: list[SessionSeen] = []
    for name, values in zip(fitting, opened, strict=True):
        if values is None:
            stale[name] = None
        else:
            found += [SessionSeen(*v) for v in values]
    return found, {n: tip for n, tip in tips.items() if n in stale}


def _sessions(
    store: Store, tips: Mapping[str, int], first: bool, sawyers: Mapping[str, str],
    fresh: list[Row],
) -> list[SessionSeen]:  # fmt: skip
    """Work out those with these last events; first: they may be all there are."""
    found: list[SessionSeen] = []
    for names in [list(tips)] if first else _chunks(list(tips)):
        made = sittings(store.tallies({n: tips[n] for n in names}, first), sawyers)
        by_name = {s.session: s for s in made}
        found += made
        for n in names:
            body = _closed([_session_values(by_name[n])] if n in by_name else [])
            fresh.append(("session", n, tips[n], body))
    return found


def _kept_runs(
    store: Store, wanted: Collection[str] | None, outlines: Mapping[str, _Outline]
) -> tuple[list[RunsSeen], dict[str, int]]:
    """The runs that are kept; of the others the number of their last event."""
    kept = store.digests("run", wanted)
    runs: list[RunSeen] = []
    mishaps: list[MishapSeen] = []
    notes: list[NoteSeen] = []
    struck: list[MishapSeen] = []
    stale: dict[str, int] = {}
    for name, tip in store.tips("run", wanted).items():
        upto, body = kept.get(name, (0, ""))
        values = _opened(body) if upto == tip else None
        of = None if values is None else _planned_of(values[0], outlines)
        if values is None or of is None:
            stale[name] = tip
            continue
        runs += [_run(v, of) for v in values[0]]
        mishaps += [_mishap(v) for v in values[1]]
        notes += [NoteSeen(*v) for v in values[2]]
        struck += [_mishap(v) for v in values[3]]
    return [RunsSeen(tuple(runs), tuple(mishaps), tuple(notes), tuple(struck))], stale


def _in_order(parts: Sequence[RunsSeen]) -> RunsSeen:
    """All of them, oldest first."""
    return RunsSeen(
        tuple(sorted((r for p in parts for r in p.runs), key=lambda r: (r.begun_s, r.run))),
        tuple(sorted((m for p in parts for m in p.mishaps), key=lambda m: m.wall_s)),
        tuple(sorted((n for p in parts for n in p.notes), key=lambda n: n.wall_s)),
        tuple(sorted((m for p in parts for m in p.struck), key=lambda m: m.wall_s)),
    )


def _outlines(store: Store) -> dict[str, _Outline]:
    """What is kept of each plan."""
    kept = store.digests("plan").items()
    opened = ((key, _opened(body)) for key, (_, body) in kept)
    return {key: _outline(values) for key, values in opened if values is not None}


def _new_runs(
    store: Store, tips: Mapping[str, int], outlines: dict[str, _Outline],
    sawyers: Mapping[str, str], fresh: list[Row],
) -> Iterator[RunsSeen]:  # fmt: skip
    """Work out those with these last events, and what their plans say where it is not kept."""
    plans: dict[str, PlanFacts] = {}
    for names in _chunks(list(tips)):
        made = _work_out(store, names, plans, sawyers)
        fresh += (("run", n, tips[n], body) for n, body in _bodies(made, names))
        for run in made.seen.runs:
            key = made.plan_of.get(run.run)
            if key is not None and key not in outlines:
                outlines[key] = _outline(_outline_values(run))
                fresh.append(("plan", key, 0, _closed(_outline_values(run))))
        yield made.seen


def _work_out(
    store: Store, names: Sequence[str], plans: dict[str, PlanFacts], sawyers: Mapping[str, str]
) -> _Made:
    books = walked_books(store.walks(names))
    for key in {b.plan_key for b in books} - plans.keys():
        plans[key] = facts_of(store.plan_text(key))
    plan_of = {b.name: b.plan_key for b in books if plans[b.plan_key].steps}
    # of a run that is not done the step in hand may have nothing but its progress, nor have
    # those behind a run's start; and the steps of a plan that is not kept are what events say
    light = [b for b in books if b.state == "done" and b.name in plan_of and not b.carried]
    made = runs_seen(light, plans, sawyers, with_steps=False)
    if len(light) < len(books):
        rest = {b.name for b in books} - {b.name for b in light}
        whole = runs_of(store.brief_events(sorted(rest)), plans, sawyers, with_steps=False)
        made = RunsSeen(
            (*made.runs, *whole.runs), (*made.mishaps, *whole.mishaps),
            (*made.notes, *whole.notes), (*made.struck, *whole.struck),
        )  # fmt: skip
    return _Made(made, plan_of)


def _bodies(made: _Made, names: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Each run with its body."""
    parts: dict[str, tuple[list[Any], ...]] = {n: ([], [], [], []) for n in names}
    for run in made.seen.runs:
        parts[run.run][0].append(_run_values(run, made.plan_of.get(run.run)))
    for mishap in made.seen.mishaps:
        parts[mishap.run][1].append(_mishap_values(mishap))
    for note in made.seen.notes:
        parts[note.run][2].append(_note_values(note))
    for mishap in made.seen.struck:
        parts[mishap.run][3].append(_mishap_values(mishap))
    for name, values in parts.items():
        yield name, _closed(list(values))


def _chunks(names: Sequence[str]) -> Iterator[Sequence[str]]:
    return (names[i : i + CHUNK] for i in range(0, len(names), CHUNK))


def _closed(values: list[Any]) -> str:
    return _encode([FORM, values])


def _opened(body: str) -> Any:  # noqa: ANN401  # JSON is untyped by nature
    """The values of a body; None for another form or a damaged one."""
    try:
        form, values = json.loads(body)
    except (ValueError, TypeError):
        return None
    return values if form == FORM else None


def _all_opened(bodies: Sequence[str]) -> list[Any]:
    """:func:`_opened` of each; in one go, which takes half of the time, unless one is spoilt."""
    try:
        read = json.loads(f"[{','.join(bodies)}]")
        if len(read) == len(bodies):
            return [values if form == FORM else None for form, values in read]
    except (ValueError, TypeError):
        pass
    return [_opened(body) for body in bodies]


def _values(kind: type) -> Callable[[Any], tuple[Any, ...]]:
    """Takes an object's fields in their order; ``astuple`` copies all there is below, slowly."""
    return attrgetter(*(f.name for f in fields(kind)))


_minutes_values = _values(Minutes)
_stage_values = _values(StageSum)
_run_fields, _session_values = _values(RunSeen), _values(SessionSeen)
_mishap_values, _note_values = _values(MishapSeen), _values(NoteSeen)
_encode = json.JSONEncoder(ensure_ascii=False).encode
_cut_seen = attrgetter("took_min", "thread_took_min", "done", "mishaps", "corrected")
"""What a run says of a cut; the rest is its plan's."""


def _run_values(run: RunSeen, plan: str | None) -> list[Any]:
    """Under ``planned`` the key of the plan, or what was planned where none is kept."""
    v = list(_run_fields(run))
    v[_STEPS] = ()
    v[_PLANNED] = _outline_values(run) if plan is None else plan
    v[_CUTS] = [_cut_seen(c) for c in run.cuts]
    v[_STAGES] = [_stage_values(s) for s in run.stages]
    return v


def _outline_values(run: RunSeen) -> list[Any]:
    """What its plan says, taken from any run of it: all of them hold all its cuts."""
    return [_minutes_values(run.planned), [
        (c.number, c.side, c.length_mm, c.turns, _minutes_values(c.planned),
         _minutes_values(c.thread_planned))
        for c in run.cuts
    ]]  # fmt: skip


def _outline(values: list[Any]) -> _Outline:
    planned, cuts = values
    return _Outline(Minutes(*planned), tuple(
        (number, side, length_mm, turns, Minutes(*cutting), Minutes(*threading))
        for number, side, length_mm, turns, cutting, threading in cuts
    ))  # fmt: skip


def _planned_of(runs: list[Any], outlines: Mapping[str, _Outline]) -> _Outline | None:
    """What was planned for the run of a body; None when it is not kept any more."""
    if not runs:
        return _NO_OUTLINE
    of = runs[0][_PLANNED]
    return outlines.get(of) if isinstance(of, str) else _outline(of)


def _run(v: list[Any], outline: _Outline) -> RunSeen:
    v[_CUTS] = tuple([
        CutTime(number, side, length_mm, turns, planned, took, threading, thread_took, *rest)
        for (number, side, length_mm, turns, planned, threading), (took, thread_took, *rest)
        in zip(outline.cuts, v[_CUTS], strict=True)
    ])  # fmt: skip
    v[_PLANNED], v[_STEPS] = outline.planned, ()
    v[_STAGES] = tuple([StageSum(*s) for s in v[_STAGES]])
    return RunSeen(*v)


def _mishap(v: list[Any]) -> MishapSeen:
    v[_AT] = None if v[_AT] is None else (v[_AT][0], v[_AT][1])
    return MishapSeen(*v)
