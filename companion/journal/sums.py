"""Sums over events that SQLite makes by itself: years of them without an object for each.

The minutely ``progress`` is passed over where nothing but time lies between: it leads into
no other mode, bears the stage of the step in hand, and what it says of the step the later
events of the step say again. Only as the last event of its session does it count.
"""

from __future__ import annotations

import json
import sqlite3
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from companion.journal.model import Brief, Event, SessionTally

COUNTED = ("step-done", "back", "mishap", "mishap-dropped")
_SPANS = f"""
WITH tip AS (SELECT value AS number FROM json_each(:tips)), own AS (
    SELECT session, number, mono_s, stage, kind,
        coalesce(json_extract(data, '$.mode'),
            CASE kind WHEN 'session-start' THEN 'checklist' END) AS mode,
        CASE kind WHEN 'asleep' THEN json_extract(data, '$.asleep_s') END AS asleep_s
    FROM event
    WHERE session IN (SELECT value FROM json_each(:names))
        AND (kind <> 'progress' OR number IN tip)
), told AS (
    -- what names no mode leads into none: the time on both of its sides is one stretch
    SELECT *, mode IS NULL AND number NOT IN tip AS aside FROM own
), parted AS (
    SELECT *, lag(mode) OVER w AS before, max(0.0, mono_s - lag(mono_s) OVER w) AS took_s
    FROM told WINDOW w AS (PARTITION BY session, aside ORDER BY number)
)
SELECT session, CASE WHEN NOT aside THEN before END AS before, stage, total(took_s),
    total(asleep_s), {", ".join(f"sum(kind = '{kind}')" for kind in COUNTED)}
FROM parted GROUP BY 1, 2, 3
"""
_BRIEF = """
SELECT number, source, wall_s, run, step, cut, stage, kind, data, session, mono_s FROM event
WHERE run IN (SELECT value FROM json_each(:runs))
    AND (:whole OR kind <> 'progress' OR instr(data, '"carried"') > 0)
ORDER BY run, number
"""


def tallies(
    base: sqlite3.Connection, starts: Sequence[Event], tips: Mapping[str, int]
) -> Iterator[SessionTally]:
    """Where the time of some sessions went.

    Args:
        base: the journal's file.
        starts: their first events.
        tips: number of the last event of each.
    """
    numbers = json.dumps([tips[e.session] for e in starts])
    names = json.dumps([e.session for e in starts])
    spans: defaultdict[str, dict[tuple[str, str | None], float]] = defaultdict(dict)
    kinds: defaultdict[str, dict[str, int]] = defaultdict(lambda: dict.fromkeys(COUNTED, 0))
    asleep: defaultdict[str, float] = defaultdict(float)
    for name, mode, stage, took_s, asleep_s, *counts in base.execute(
        _SPANS, {"names": names, "tips": numbers}
    ):
        if mode is not None:
            spans[name][mode, stage] = took_s
        asleep[name] += asleep_s
        for kind, n in zip(COUNTED, counts, strict=True):
            kinds[name][kind] += n
    last = dict(base.execute(
        "SELECT session, kind FROM event WHERE number IN (SELECT value FROM json_each(?))",
        (numbers,),
    ).fetchall())  # fmt: skip
    for start in starts:
        name = start.session
        yield SessionTally(start, spans[name], kinds[name], last[name], asleep[name])


def brief_events(
    base: sqlite3.Connection, runs: Sequence[str], sources: Mapping[int, str], whole: bool,
    parsed: Callable[[str, int], dict[str, Any]],
) -> Iterator[Brief]:  # fmt: skip
    """Events of some runs, run by run, in the order of writing.

    Args:
        base: the journal's file.
        runs: their names.
        sources: key of each journal, by its number here.
        whole: with every ``progress``; else only those taken over from another run.
        parsed: reads an event's data, told its number.
    """
    for row in base.execute(_BRIEF, {"runs": json.dumps(list(runs)), "whole": whole}):
        number, source, wall_s, run, step, cut, stage, kind, data, session, mono_s = row
        yield Brief(number, sources[source], wall_s, run, step, cut, stage, kind,
                    parsed(data, number), session, mono_s)  # fmt: skip
