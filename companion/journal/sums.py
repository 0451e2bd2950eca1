"""Events read as light as they can be: years of them without an object for each.

What only says again what a later event says is passed over: the minutely ``progress``, the
single hole of a round, and of a run the passed guard. Where nothing but time lies between, they
lead into no other mode and bear the stage of the step in hand; only as the last event of its
session does one count.

Measured on a million real events: a session's times are read most quickly as rows in the order
of writing, which skips the index; a run's steps as two columns that SQLite puts together itself,
the data as they were written, so that one pass of the JSON reader takes in hundreds of runs.
"""

from __future__ import annotations

import json
import sqlite3
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Literal

from companion.journal.model import TELLING, Brief, Event, SessionTally, Walked

# Most events lead into a step, and the journal writes that in these words; quotes within a
# text are written otherwise, so that nobody's note is taken for it. 1 stands for it.
_MODE = """CASE WHEN instr(data, '"mode": "step"') THEN 1 ELSE json_extract(data, '$.mode') END"""
# one comparison each, the frequent ones first: IN costs twice as much
_IDLE = "(kind = 'progress' OR kind = 'hole-done')"
_TIMES = f"SELECT session, mono_s, stage, nullif(kind, 'step-done'), {_MODE} FROM event"
_ALL_TIMES = f"{_TIMES} WHERE NOT {_IDLE} ORDER BY number"
_SOME_TIMES = f"""
{_TIMES} INDEXED BY event_session
WHERE session IN (SELECT value FROM json_each(?)) AND NOT {_IDLE} ORDER BY session, number
"""
_LAST = f"""
{_TIMES} WHERE number IN (SELECT value FROM json_each(?)) AND {_IDLE}
"""
_ASLEEP = """
SELECT session, sum(json_extract(data, '$.asleep_s')) FROM event INDEXED BY event_session
WHERE session IN (SELECT value FROM json_each(?)) AND kind = 'asleep' GROUP BY session
"""
# along the index the events of a run come in the order of writing
_WALKS = f"""
SELECT '[' || json_group_array(nullif(kind, 'step-done')) || ',' || json_group_array(step) || ',['
    || group_concat(data) || ']]',
    group_concat(CASE WHEN kind IN ({", ".join(f"'{k}'" for k in sorted(TELLING))}) THEN number END)
FROM event INDEXED BY event_run
WHERE run IN (SELECT value FROM json_each(?)) AND NOT {_IDLE} AND kind <> 'guard-passed'
GROUP BY run
"""
_BRIEF = """
SELECT number, source, wall_s, run, step, cut, stage, kind, data, session, mono_s FROM event
WHERE {column} IN (SELECT value FROM json_each(?)) ORDER BY run, number
"""


def tips(base: sqlite3.Connection, column: Literal["run", "session"]) -> dict[str, int]:
    """Number of the last event of each run or session.

    From name to name through the index: ``GROUP BY`` would read an entry for each event.
    """
    rows = base.execute(f"""
        WITH RECURSIVE each (name) AS (
            SELECT min({column}) FROM event
            UNION ALL
            SELECT (SELECT min({column}) FROM event WHERE {column} > name)
            FROM each WHERE name IS NOT NULL
        )
        SELECT name, (SELECT max(number) FROM event WHERE {column} = name)
        FROM each WHERE name IS NOT NULL
    """)
    return {str(name): int(tip) for name, tip in rows}


def tips_of(
    base: sqlite3.Connection, column: Literal["run", "session"], names: Iterable[str]
) -> dict[str, int]:
    """The same of some of them."""
    rows = base.execute(
        f"SELECT value, (SELECT max(number) FROM event WHERE {column} = value) FROM json_each(?)",
        (json.dumps(list(names)),),
    )
    return {str(name): int(tip) for name, tip in rows if tip is not None}


def tallies(
    base: sqlite3.Connection, starts: Sequence[Event], tips: Mapping[str, int], scan: bool
) -> Iterator[SessionTally]:
    """Where the time of some sessions went.

    Args:
        base: the journal's file.
        starts: their first events.
        tips: number of the last event of each.
        scan: they are most of all there are, so that the whole file is read in one go.
    """
    spans = {e.session: _Spans() for e in starts}
    names = json.dumps(list(spans))
    rows = base.execute(_ALL_TIMES) if scan else base.execute(_SOME_TIMES, (names,))
    _add_up(spans, rows)
    numbers = json.dumps([tips[name] for name in spans])
    _add_up(spans, base.execute(_LAST, (numbers,)))
    slept = json.dumps([name for name, own in spans.items() if own.kinds["asleep"]])
    asleep_s = dict(base.execute(_ASLEEP, (slept,)).fetchall() if slept != "[]" else ())
    for start in starts:
        own = spans[start.session]
        yield SessionTally(
            start, own.by_mode(), own.kinds, own.last, asleep_s.get(start.session) or 0.0
        )


class _Spans:
    """What one session's rows have told so far."""

    __slots__ = ("before_s", "kinds", "last", "mode", "sums_s")

    def __init__(self) -> None:
        self.sums_s: defaultdict[tuple[str | int, str | None], float] = defaultdict(float)
        self.before_s = float("inf")
        """Time of the row before; none before the first."""
        self.mode: str | int = "checklist"
        self.kinds: defaultdict[str, int] = defaultdict(int)
        self.last = ""

    def keep(self, before_s: float, mode: str | int, done: int, last: str | None) -> None:
        """Put aside where a stretch of rows has led to."""
        self.before_s, self.mode = before_s, mode
        self.kinds["step-done"] += done
        self.last = last or "step-done"

    def by_mode(self) -> dict[tuple[str, str | None], float]:
        """Seconds by mode and stage."""
        found: defaultdict[tuple[str, str | None], float] = defaultdict(float)
        for (name, stage), seconds in self.sums_s.items():
            found["step" if name == 1 else str(name), stage] += seconds
        return found


def _add_up(
    spans: Mapping[str, _Spans],
    rows: Iterable[tuple[str, float, str | None, str | None, str | int | None]],
) -> None:
    """Take rows in, each session's in the order of writing; the sessions may take turns."""
    own = passed_over = _Spans()
    now, sums_s, before_s, mode, done = "", own.sums_s, own.before_s, own.mode, 0
    kind: str | None = ""
    last = kind
    # in local names what half a million rows ask for
    for session, mono_s, stage, kind, then in rows:
        if session != now:
            own.keep(before_s, mode, done, last)
            own = spans.get(session, passed_over)
            now, sums_s, before_s, mode, done = session, own.sums_s, own.before_s, own.mode, 0
        if mono_s > before_s:
            sums_s[mode, stage] += mono_s - before_s
        before_s = mono_s
        if then:
            mode = then
        last = kind
        if kind is None:
            done += 1
        else:
            own.kinds[kind] += 1
    own.keep(before_s, mode, done, last)


def walks(
    base: sqlite3.Connection, runs: Sequence[str],
    briefs: Callable[[Literal["number"], Sequence[int]], Iterable[Brief]],
) -> Iterator[Walked]:  # fmt: skip
    """Events of some runs as columns, run by run; see the module's head for those left out.

    Args:
        base: the journal's file.
        runs: their names.
        briefs: reads events by their numbers, run by run.

    Raises:
        ValueError: the data of an event is no JSON.
    """
    rows = base.execute(_WALKS, (json.dumps(list(runs)),)).fetchall()
    numbers = [[int(n) for n in telling.split(",")] if telling else [] for _, telling in rows]
    whole = iter(briefs("number", [n for own in numbers for n in own]))
    columns = json.loads(f"[{','.join(text for text, _ in rows)}]")
    for (kinds, steps, data), own in zip(columns, numbers, strict=True):
        if len(data) != len(kinds):
            raise ValueError("data that are no JSON each by itself")
        yield Walked(kinds, steps, data, [next(whole) for _ in own])


def briefs(
    base: sqlite3.Connection, column: Literal["run", "number"], wanted: Sequence[object],
    sources: Mapping[int, str], damaged: Callable[[int], Exception],
) -> Iterator[Brief]:  # fmt: skip
    """Whole events, run by run, in the order of writing.

    Args:
        base: the journal's file.
        column: by what they are chosen.
        wanted: names of runs, or numbers of events.
        sources: key of each journal, by its number here.
        damaged: makes the error for an event that cannot be read, told its number.
    """
    # twice as fast as json.loads, which looks for blanks around
    decode, make = json.JSONDecoder().raw_decode, Brief._make
    for row in base.execute(_BRIEF.format(column=column), (json.dumps(list(wanted)),)):
        number, source, wall_s, run, step, cut, stage, kind, data, session, mono_s = row
        try:
            found, end = decode(data)
        except ValueError as error:
            raise damaged(number) from error
        if end != len(data):
            raise damaged(number)
        yield make((number, sources[source], wall_s, run, step, cut, stage, kind, found, session,
                    mono_s))  # fmt: skip


def firsts(base: sqlite3.Connection, sessions: Iterable[str]) -> list[int]:
    """Numbers of the first events of some sessions."""
    rows = base.execute(
        "SELECT (SELECT min(number) FROM event WHERE session = value) FROM json_each(?)",
        (json.dumps(list(sessions)),),
    )
    return [int(number) for (number,) in rows if number is not None]


def unreadable(
    base: sqlite3.Connection, column: Literal["run", "session"], names: Sequence[str]
) -> int | None:
    """Number of the first event whose data is no JSON, of some runs or sessions; None: none."""
    found = base.execute(
        f"SELECT min(number) FROM event WHERE {column} IN (SELECT value FROM json_each(?)) "
        "AND NOT json_valid(data)", (json.dumps(list(names)),),
    ).fetchone()[0]  # fmt: skip
    return None if found is None else int(found)
