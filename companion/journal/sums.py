"""Events read as light as they can be: years of them without an object for each.

The minutely ``progress`` is passed over where nothing but time lies between: it leads into
no other mode, bears the stage of the step in hand, and what it says of the step the later
events of the step say again. Only as the last event of its session does it count.

Where a million events are read, what SQLite can put together itself costs half of what a row
for each event costs. It writes 15 digits of a number that is not whole: enough for a clock, and
what must come out to the last digit is taken in the words in which it was written.
"""

from __future__ import annotations

import json
import sqlite3
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Literal

from companion.journal.model import TELLING, Brief, Event, SessionTally, Walked

# Most events lead into a step, and the journal writes that in these words; quotes within a
# text are written otherwise, so that nobody's note is taken for it. 1 stands for it.
_MODE = """CASE WHEN instr(data, '"mode": "step"') THEN 1 ELSE json_extract(data, '$.mode') END"""
# along these indexes the events of a group come in the order of writing
_SPANS = f"""
SELECT session, '[' || json_group_array(mono_s) || ',' || json_group_array(stage) || ','
    || json_group_array(nullif(kind, 'step-done')) || ',' || json_group_array({_MODE}) || ']'
FROM event INDEXED BY event_session
WHERE session IN (SELECT value FROM json_each(?)) AND kind <> 'progress'
GROUP BY session
"""
_LAST = f"""
SELECT session, mono_s, stage, kind, {_MODE} FROM event
WHERE number IN (SELECT value FROM json_each(?)) AND kind = 'progress'
"""
_ASLEEP = """
SELECT session, sum(json_extract(data, '$.asleep_s')) FROM event INDEXED BY event_session
WHERE session IN (SELECT value FROM json_each(?)) AND kind = 'asleep' GROUP BY session
"""
# with several paths json_extract gives a JSON array, its numbers as they were written
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
    rows = base.execute(_SPANS, (json.dumps(list(by_name)),)).fetchall()
    numbers = json.dumps([tips[name] for name in by_name])
    last = {name: event for name, *event in base.execute(_LAST, (numbers,))}
    columns = json.loads(f"[{','.join(text for _, text in rows)}]")
    slept = [name for (name, _), own in zip(rows, columns, strict=True) if "asleep" in own[2]]
    asleep_s = dict(base.execute(_ASLEEP, (json.dumps(slept),)).fetchall() if slept else ())
    for (name, _), own in zip(rows, columns, strict=True):
        if name in last:
            for column, value in zip(own, last[name], strict=True):
                column.append(value)
        spans, kinds = _spans(*own)
        yield SessionTally(
            by_name[name], spans, kinds, own[2][-1] or "step-done", asleep_s.get(name) or 0.0
        )


def _spans(
    times_s: list[float], stages: list[str | None], kinds: list[str | None],
    modes: list[str | int | None],
) -> tuple[dict[tuple[str, str | None], float], dict[str, int]]:  # fmt: skip
    """Seconds by mode and stage, and events by kind, from the columns of one session."""
    sums_s: defaultdict[tuple[str | int, str | None], float] = defaultdict(float)
    before_s: float = times_s[0]
    mode: str | int = "checklist"
    for mono_s, stage, then in zip(times_s, stages, modes, strict=True):
        if mono_s > before_s:
            sums_s[mode, stage] += mono_s - before_s
        before_s = mono_s
        if then:
            mode = then
    spans: defaultdict[tuple[str, str | None], float] = defaultdict(float)
    for (name, stage), seconds in sums_s.items():
        spans["step" if name == 1 else str(name), stage] += seconds
    return spans, {k or "step-done": n for k, n in Counter(kinds).items()}


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
