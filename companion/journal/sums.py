"""Events read as light as they can be: years of them without an object for each.

The minutely ``progress`` is passed over where nothing but time lies between: it leads into
no other mode, bears the stage of the step in hand, and what it says of the step the later
events of the step say again. Only as the last event of its session does it count.
"""

from __future__ import annotations

import json
import sqlite3
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import groupby
from operator import itemgetter

from companion.journal.model import Brief, Event, SessionTally

_SPANS = """
SELECT session, mono_s, stage, kind, json_extract(data, '$.mode'),
    CASE kind WHEN 'asleep' THEN json_extract(data, '$.asleep_s') END
FROM event
WHERE session IN (SELECT value FROM json_each(:names))
    AND (kind <> 'progress' OR number IN (SELECT value FROM json_each(:tips)))
ORDER BY session, number
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
    by_name = {e.session: e for e in starts}
    numbers = json.dumps([tips[name] for name in by_name])
    rows = base.execute(_SPANS, {"names": json.dumps(list(by_name)), "tips": numbers})
    for name, own in groupby(rows, itemgetter(0)):
        spans: defaultdict[tuple[str, str | None], float] = defaultdict(float)
        kinds: defaultdict[str, int] = defaultdict(int)
        before_s, mode, asleep_s, kind = None, "checklist", 0.0, ""
        for _, mono_s, stage, kind, then, slept_s in own:
            if before_s is not None and mono_s > before_s:
                spans[mode, stage] += mono_s - before_s
            kinds[kind] += 1
            before_s, mode = mono_s, then or mode
            asleep_s += slept_s or 0.0
        yield SessionTally(by_name[name], spans, kinds, kind, asleep_s)


def brief_events(
    base: sqlite3.Connection, runs: Sequence[str], sources: Mapping[int, str], whole: bool,
    damaged: Callable[[int], Exception],
) -> Iterator[Brief]:  # fmt: skip
    """Events of some runs, run by run, in the order of writing.

    Args:
        base: the journal's file.
        runs: their names.
        sources: key of each journal, by its number here.
        whole: with every ``progress``; else only those taken over from another run.
        damaged: makes the error for an event that cannot be read, told its number.
    """
    # twice as fast as json.loads, which looks for blanks around
    decode, make = json.JSONDecoder().raw_decode, Brief._make
    for row in base.execute(_BRIEF, {"runs": json.dumps(list(runs)), "whole": whole}):
        number, source, wall_s, run, step, cut, stage, kind, data, session, mono_s = row
        try:
            found, end = decode(data)
        except ValueError as error:
            raise damaged(number) from error
        if end != len(data):
            raise damaged(number)
        yield make((number, sources[source], wall_s, run, step, cut, stage, kind, found, session,
                    mono_s))  # fmt: skip
