"""Events read as light as they can be: years of them without an object for each.

The minutely ``progress`` is passed over where nothing but time lies between: it leads into
no other mode, bears the stage of the step in hand, and what it says of the step the later
events of the step say again. Only as the last event of its session does it count.

Where a million events are read, what SQLite can put together itself costs a third of what
a row for each event costs; numbers that are not whole stay in their own rows or words, since
SQLite writes only 15 of their digits.
"""

from __future__ import annotations

import json
import sqlite3
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import chain, groupby
from operator import itemgetter
from typing import Literal

from companion.journal.model import TELLING, Brief, Event, SessionTally, Walked

# most events lead into a step, and the journal writes that in these words; quotes within a
# text are written otherwise, so that nobody's note is taken for it
_SPAN = """
SELECT session, mono_s, stage, kind,
    CASE WHEN instr(data, '"mode": "step"') THEN 'step' ELSE json_extract(data, '$.mode') END,
    CASE kind WHEN 'asleep' THEN json_extract(data, '$.asleep_s') END
FROM event
"""
_SPANS = f"""
{_SPAN} INDEXED BY event_session
WHERE session IN (SELECT value FROM json_each(?)) AND kind <> 'progress'
ORDER BY session, number
"""
_LAST = f"{_SPAN} WHERE number IN (SELECT value FROM json_each(?)) AND kind = 'progress'"
# With several paths json_extract gives a JSON array, its numbers as they were written.
# Along this index the events of a group come in the order of writing.
_WALKS = f"""
SELECT '[' || json_group_array(nullif(kind, 'step-done')) || ',' || json_group_array(step) || ',['
    || group_concat(json_extract(data, '$.at', '$.active_s')) || ']]',
    group_concat(CASE WHEN kind IN ({", ".join(f"'{k}'" for k in sorted(TELLING))}) THEN number END)
FROM event INDEXED BY event_run
WHERE run IN (SELECT value FROM json_each(?)) AND kind <> 'progress'
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
    base: sqlite3.Connection, starts: Sequence[Event], tips: Mapping[str, int]
) -> Iterator[SessionTally]:
    """Where the time of some sessions went.

    Args:
        base: the journal's file.
        starts: their first events.
        tips: number of the last event of each.
    """
    by_name = {e.session: e for e in starts}
    numbers = json.dumps([tips[name] for name in by_name])
    last = {row[0]: [row] for row in base.execute(_LAST, (numbers,))}
    for name, events in groupby(base.execute(_SPANS, (json.dumps(list(by_name)),)), itemgetter(0)):
        own = chain(events, last.get(name, ()))
        _, times_s, stages, kinds, modes, slept_s = zip(*own, strict=True)
        spans: defaultdict[tuple[str, str | None], float] = defaultdict(float)
        before_s, mode = times_s[0], "checklist"
        for mono_s, stage, then in zip(times_s, stages, modes, strict=True):
            if mono_s > before_s:
                spans[mode, stage] += mono_s - before_s
            before_s, mode = mono_s, then or mode
        asleep_s = sum((s for s in slept_s if s), 0.0)
        yield SessionTally(by_name[name], spans, Counter(kinds), kinds[-1], asleep_s)


def walks(
    base: sqlite3.Connection, runs: Sequence[str],
    briefs: Callable[[Literal["number"], Sequence[int]], Iterable[Brief]],
) -> Iterator[Walked]:  # fmt: skip
    """Events of some runs as columns, run by run, without ``progress``.

    Args:
        base: the journal's file.
        runs: their names.
        briefs: reads events by their numbers, run by run.

    Raises:
        sqlite3.OperationalError: the data of an event is no JSON.
    """
    rows = base.execute(_WALKS, (json.dumps(list(runs)),)).fetchall()
    numbers = [[int(n) for n in telling.split(",")] if telling else [] for _, telling in rows]
    whole = iter(briefs("number", [n for own in numbers for n in own]))
    columns = json.loads(f"[{','.join(text for text, _ in rows)}]")
    for (kinds, steps, said), own in zip(columns, numbers, strict=True):
        yield Walked(kinds, steps, said, [next(whole) for _ in own])


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
