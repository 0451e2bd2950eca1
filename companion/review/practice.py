"""Progress in the practice levels, from the log alone.

Runs of a level are those of projects that bear its name; rehearsals and dropped runs do
not count. A mark is an event of its own kind, written after the run, at the run it judges;
marking a run again replaces its mark, as everywhere in the log by a later event.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from companion.errors import UsageError
from companion.journal.model import Entry, Event, Source
from companion.review.facts import facts_of
from companion.review.runs import runs_of
from companion.sentence import sentence
from companion.shop.practice import Level, Rule, learnt, next_level

MARK_KIND = "practice-mark"


class Log(Protocol):
    """What is asked of a journal."""

    def events(
        self, *, runs: Iterable[str] | None = None, kind: str | None = None
    ) -> Iterator[Event]:
        """Events of some runs, or of one kind."""

    def sources(self) -> tuple[Source, ...]:
        """The journals they come from, this one's own first."""

    def plan_text(self, plan_hash: str) -> str | None:
        """A kept plan."""


@dataclass(frozen=True, slots=True)
class Tried:
    """One run of a level."""

    run: str
    session: str
    """In which it was begun."""
    begun_s: float
    """Unix time."""
    done: bool
    took_min: float
    planned_min: float
    """Likely minutes of the plan it was walked by; 0: not known."""
    mark: int | None
    """On the wobble scale; None: not marked."""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far one level is learnt."""

    level: Level
    tried: tuple[Tried, ...]
    """Oldest first."""
    learnt: bool

    @property
    def marks(self) -> tuple[int, ...]:
        """Marks of its runs, oldest first."""
        return tuple(t.mark for t in self.tried if t.mark is not None)

    @property
    def best_min(self) -> float | None:
        """Shortest finished run, minutes; None: none is finished."""
        return min((t.took_min for t in self.tried if t.done), default=None)


def progress(log: Log, levels: Sequence[Level], rule: Rule) -> tuple[Progress, ...]:
    """Read every level's runs and marks.

    Args:
        log: the journal; only its own runs count, not those taken in from others.
        levels: all of them.
        rule: when one is learnt.
    """
    own = log.sources()[0].key
    names = {one.project for one in levels}
    starts = [
        e for e in log.events(kind="run-start")
        if e.data.get("project") in names and not e.data.get("rehearsed") and e.source == own
    ]  # fmt: skip
    tried = _tried(log, starts)
    found = []
    for one in levels:
        runs = tuple(t for project, t in tried if project == one.project)
        marks = [t.mark for t in runs if t.mark is not None]
        found.append(Progress(one, runs, learnt(marks, rule)))
    return tuple(found)


def _tried(log: Log, starts: Sequence[Event]) -> list[tuple[str, Tried]]:
    """Project and run, oldest first; runs dropped or gone on with under another name left out."""
    if not starts:
        return []
    events = list(log.events(runs=[e.run for e in starts if e.run]))
    keys = {str(e.data.get("plan")) for e in starts}
    plans = {key: facts_of(log.plan_text(key)) for key in sorted(keys)}
    marks = {e.run: int(e.data["mark"]) for e in events if e.kind == MARK_KIND}
    sessions = {e.run: e.session for e in starts}
    return [
        (
            seen.project,
            Tried(
                seen.run, sessions.get(seen.run, ""), seen.begun_s, seen.state == "done",
                seen.took_min, seen.planned.likely, marks.get(seen.run),
            ),
        )
        for seen in runs_of(events, plans, {}).runs
        if seen.state != "dropped"
    ]  # fmt: skip


def history(done: Sequence[Progress]) -> list[tuple[str, int]]:
    """Level key and mark of all marked runs, in the order in which they were begun."""
    marked = [(t.begun_s, p.level.key, t.mark) for p in done for t in p.tried if t.mark is not None]
    return [(key, mark) for _, key, mark in sorted(marked, key=lambda m: m[0])]


def proposed(done: Sequence[Progress], rule: Rule) -> Level | None:
    """The level to practise next; None when all are learnt."""
    return next_level(history(done), rule, [p.level for p in done])


def mark_entry(of: Progress, mark: int, wall_s: float) -> Entry:
    """The event that marks the level's last run.

    It bears no session of its own minutes: its session's name only says to which it belongs.

    Raises:
        UsageError: no run of the level is in the log.
    """
    if not of.tried:
        raise UsageError(
            sentence("no run of {key} is in the log", key=of.level.key),
            "rehearsals and dropped runs do not count",
            sentence(
                "Walk it first: kerfside practice {key} -o FOLDER, then kerfside saw FOLDER.",
                key=of.level.key,
            ),
        )
    last = of.tried[-1]
    data: Mapping[str, Any] = {"level": of.level.key, "mark": mark}
    # a session of its own: the sitting's own clock and minutes stay as they were
    return Entry(wall_s, 0.0, f"mark-{last.session}"[:21], MARK_KIND, data, last.run)
