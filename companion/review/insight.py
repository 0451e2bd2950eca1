"""Figures a review draws from runs and sessions: stages, blades, streaks, people, mishaps."""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from companion.planner.plan import Plan
from companion.review.model import (
    MishapSeen,
    Review,
    RunSeen,
    SessionSeen,
    Share,
    StepTime,
)

BROKE = "blade-broke"
"""Kind of the mishap after which another blade is in."""
NEAR_TURN_MM = 6.0
"""A mishap this near to a turn is put down to its technique."""


@dataclass(frozen=True, slots=True)
class StageTime:
    """All done steps of one stage."""

    stage: str
    steps: int
    planned_min: float
    low_min: float
    high_min: float
    """Bounds of the plan's range, step by step (wider than that of the sum)."""
    took_min: float


def by_stage(steps: Iterable[StepTime]) -> tuple[StageTime, ...]:
    """Planned against taken for the steps that are done, in the order of first appearance."""
    groups: dict[str, list[StepTime]] = {}
    for step in steps:
        if step.done:
            groups.setdefault(step.stage, []).append(step)
    return tuple(
        StageTime(
            stage, len(own), sum(s.planned.likely for s in own), sum(s.planned.low for s in own),
            sum(s.planned.high for s in own), sum(s.took_min for s in own),
        )
        for stage, own in groups.items()
    )  # fmt: skip


def per_blade(run: RunSeen, mishaps: Sequence[MishapSeen]) -> tuple[float, ...]:
    """Minutes of sawing on each blade: another at each blade step, and after one that broke.

    Args:
        run: with its steps.
        mishaps: of this run.
    """
    broke: defaultdict[int | None, list[float]] = defaultdict(list)
    for m in mishaps:
        if m.kind == BROKE:
            broke[m.step].append(m.minute)
    blades = [0.0]
    for step in run.steps:
        if step.stage == "blade" and step.done:
            blades.append(0.0)
        sawn = step.took_min if step.stage == "cut" else 0.0
        begun = 0.0
        for minute in sorted(broke[step.number]):
            # a step that was set right afterwards may be shorter than its mishap's minute
            until = min(minute, sawn)
            blades[-1] += until - begun
            blades.append(0.0)
            begun = until
        blades[-1] += sawn - begun
    return tuple(b for b in blades if b > 0.0)


WORK: tuple[Share, ...] = ("cutting", "threading", "other")
"""Where time is spent on steps."""


@dataclass(frozen=True, slots=True)
class Streaks:
    """Practice in a row; rehearsals do not count."""

    days: int
    """Days on which a step was worked on."""
    longest_days: int
    current_weeks: int
    """Calendar weeks in a row up to the newest session's."""
    longest_weeks: int


def streaks(sessions: Sequence[SessionSeen]) -> Streaks:
    """Count them by the local date on which each session began; one hand's sessions.

    A session that was left at its checklist is no practice.
    """
    dates = sorted({
        _date(s) for s in sessions
        if not s.rehearsed and any(s.shares.get(k, 0.0) for k in WORK)
    })  # fmt: skip
    if not dates:
        return Streaks(0, 0, 0, 0)
    weeks = sorted({d - dt.timedelta(days=d.weekday()) for d in dates})
    rows = _rows(weeks, 7)
    return Streaks(len(dates), max(_rows(dates, 1)), rows[-1], max(rows))


def _date(session: SessionSeen) -> dt.date:
    local = session.begun_s + session.utc_offset_min * 60
    return dt.datetime.fromtimestamp(local, dt.UTC).date()


def _rows(days: Sequence[dt.date], apart: int) -> list[int]:
    rows = [1]
    for a, b in zip(days, days[1:], strict=False):
        if (b - a).days == apart:
            rows[-1] += 1
        else:
            rows.append(1)
    return rows


@dataclass(frozen=True, slots=True)
class Person:
    """One sawyer's sums, for setting beside others'."""

    name: str
    sessions: int
    minutes: float
    runs_done: int
    cut_mm: float
    against_plan: float | None
    """Taken over planned of the steps that are done; None without a plan."""
    mishaps_per_hour: float
    practice: Streaks


def people(found: Review) -> tuple[Person, ...]:
    """Every sawyer in the review, by name; rehearsals do not count."""
    sessions = {s.sawyer for s in found.sessions if not s.rehearsed}
    names = sorted(sessions | {r.sawyer for r in found.runs if not r.rehearsed})
    return tuple(_person(found, name) for name in names)


def _person(found: Review, name: str) -> Person:
    sessions = [s for s in found.sessions if s.sawyer == name and not s.rehearsed]
    runs = [r for r in found.runs if r.sawyer == name and not r.rehearsed and not r.superseded]
    planned = sum(r.done_planned_min for r in runs)
    minutes = sum(s.minutes for s in sessions)
    mishaps = sum(s.mishaps for s in sessions)
    return Person(
        name, len(sessions), minutes, sum(r.state == "done" for r in runs),
        sum(c.length_mm for r in runs for c in r.cuts if c.done),
        sum(r.done_took_min for r in runs) / planned if planned > 0.0 else None,
        60.0 * mishaps / minutes if minutes > 0.0 else 0.0,
        streaks(sessions),
    )  # fmt: skip


def mishap_place(seen: MishapSeen, plan: Plan | None) -> str:
    """The technique in whose place it happened: of a turn, ``line``, or the stage."""
    if seen.cut is None or seen.at_mm is None:
        return seen.stage
    cut = None if plan is None else next((c for c in plan.cuts if c.number == seen.cut), None)
    near = [] if cut is None else [
        (math.dist(t.at_mm, seen.at_mm), t.technique) for t in cut.turns
    ]  # fmt: skip
    distance, technique = min(near, default=(math.inf, ""))
    return technique if distance <= NEAR_TURN_MM else "line"


def mishap_table(
    mishaps: Sequence[MishapSeen], plan: Plan | None
) -> tuple[tuple[str, str, str, int], ...]:
    """Kind, cut, place and number, the most frequent first."""
    counts = Counter(
        (m.kind, "" if m.cut is None else str(m.cut), mishap_place(m, plan)) for m in mishaps
    )
    return tuple((*key, n) for key, n in counts.most_common())


def latest_by_project(runs: Sequence[RunSeen], most: int) -> tuple[RunSeen, ...]:
    """The newest real run of each of the newest projects, newest first."""
    newest: defaultdict[str, list[RunSeen]] = defaultdict(list)
    for run in runs:
        if not run.rehearsed and not run.superseded:
            newest[run.project].append(run)
    last = [max(own, key=lambda r: r.begun_s) for own in newest.values()]
    return tuple(sorted(last, key=lambda r: -r.begun_s)[:most])
