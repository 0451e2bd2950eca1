"""The whole review of some events."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace

from companion.journal.model import Event, Source
from companion.review.facts import facts_of
from companion.review.model import SHARES, Review, RunSeen, SessionSeen, Totals
from companion.review.runs import RunsSeen, runs_of
from companion.review.sessions import sessions_of


def review(
    events: Sequence[Event],
    sources: Sequence[Source],
    plan_text: Callable[[str], str | None],
) -> Review:
    """Review events.

    Args:
        events: in the order of writing.
        sources: the journals they come from.
        plan_text: gives a kept plan's JSON by its key.
    """
    sawyers = {s.key: s.sawyer for s in sources}
    keys = {str(e.data["plan"]) for e in events if e.kind == "run-start" and "plan" in e.data}
    plans = {key: facts_of(plan_text(key)) for key in sorted(keys)}
    return together(sessions_of(events, sawyers), runs_of(events, plans, sawyers))


def together(sessions: tuple[SessionSeen, ...], seen: RunsSeen) -> Review:
    """Add the totals, and take from the sittings the mishaps that were none."""
    struck = Counter(m.session for m in seen.struck)
    sessions = tuple(
        replace(s, mishaps=s.mishaps - struck[s.session]) if s.session in struck else s
        for s in sessions
    )
    return Review(
        sessions, seen.runs, seen.mishaps, seen.notes, _totals(sessions, seen), seen.struck
    )


def _totals(sessions: Sequence[SessionSeen], seen: RunsSeen) -> Totals:
    real = [s for s in sessions if not s.rehearsed]
    runs = [r for r in seen.runs if not r.rehearsed and not r.superseded]
    ids = {r.run for r in seen.runs if not r.rehearsed}
    return Totals(
        sessions=len(real),
        runs_done=sum(r.state == "done" for r in runs),
        minutes=sum(s.minutes for s in real),
        shares={share: sum(s.shares[share] for s in real) for share in SHARES},
        planned_done_min=sum(r.done_planned_min for r in runs),
        took_done_min=sum(r.done_took_min for r in runs),
        cut_mm=sum(c.length_mm for r in runs for c in r.cuts if c.done),
        mishaps=dict(Counter(m.kind for m in seen.mishaps if m.run in ids).most_common()),
        rehearsals=len(sessions) - len(real),
    )


def learning(runs: Sequence[RunSeen]) -> dict[tuple[str, str], list[float]]:
    """Minutes of each finished run of the same work by the same sawyer, in order.

    Rehearsals are left out. One learning curve is one hand's.
    """
    curves: dict[tuple[str, str], list[float]] = {}
    for run in runs:
        if run.state == "done" and not run.rehearsed:
            curves.setdefault((run.work, run.sawyer), []).append(run.took_min)
    return curves


def newest_curves(runs: Sequence[RunSeen], most: int) -> dict[tuple[str, str], list[float]]:
    """Of :func:`learning` those with two runs or more, at most so many: the last worked on."""
    curves = {key: times for key, times in learning(runs).items() if len(times) > 1}
    last = {(r.work, r.sawyer): r.begun_s for r in runs if r.state == "done" and not r.rehearsed}
    shown = set(sorted(curves, key=lambda key: last[key])[-most:])
    return {key: times for key, times in curves.items() if key in shown}


def curve_names(runs: Sequence[RunSeen]) -> dict[tuple[str, str], str]:
    """What each learning curve is called: its project, and whose it is where there are several."""
    # who only rehearsed before giving a name is no second hand
    several = len({r.sawyer for r in runs if not r.rehearsed}) > 1
    return {
        (r.work, r.sawyer): f"{r.project}, {r.sawyer}" if several and r.sawyer else r.project
        for r in runs
    }
