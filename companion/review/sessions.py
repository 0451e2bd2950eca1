"""Sittings from events: how long, and where the time went.

The time between two events of a session belongs to the mode that the first one led
into; in a step it belongs to the stage of the step in hand. What comes after the last
event of a session that was cut off is not known and not counted, and nor is the time in
which all was done and the screen stood open: neither work nor pause.

Two ways lead to the same tally: through the events one by one, and for years of them
through sums that the journal itself makes.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence

from companion.journal.model import Event, SessionTally
from companion.planner.plan import POWERED_STAGES
from companion.review.model import SHARES, SessionSeen, Share
from companion.review.names import whose

_BY_MODE: dict[str, Share] = {
    "checklist": "checks", "guard": "checks", "pause": "paused",
    "stop": "stopped", "mishap": "stopped",
}  # fmt: skip


def sessions_of(events: Sequence[Event], sawyers: Mapping[str, str]) -> tuple[SessionSeen, ...]:
    """Put the sittings together, oldest first.

    Args:
        events: in the order of writing; a session without its start is passed over.
        sawyers: names by journal.
    """
    by_session: defaultdict[str, list[Event]] = defaultdict(list)
    for event in events:
        by_session[event.session].append(event)
    return sittings((_tally(own) for own in by_session.values()
                     if own[0].kind == "session-start"), sawyers)  # fmt: skip


def sittings(
    tallies: Iterable[SessionTally], sawyers: Mapping[str, str]
) -> tuple[SessionSeen, ...]:
    """The sittings of some tallies, oldest first.

    Args:
        tallies: one for each.
        sawyers: names by journal.
    """
    found = (_session(tally, sawyers) for tally in tallies)
    return tuple(sorted(found, key=lambda s: (s.begun_s, s.session)))


def share_of(mode: str, stage: str | None) -> Share:
    """Where time in a mode goes.

    >>> share_of("step", "cut"), share_of("step", "lip"), share_of("guard", "cut")
    ('cutting', 'other', 'checks')
    """
    if mode in _BY_MODE:
        return _BY_MODE[mode]
    if stage in POWERED_STAGES:
        return "cutting"
    return "threading" if stage == "thread" else "other"


def _tally(own: Sequence[Event]) -> SessionTally:
    spans: defaultdict[tuple[str, str | None], float] = defaultdict(float)
    mode, asleep_s = "checklist", 0.0
    for before, event in zip(own, own[1:], strict=False):
        mode = str(before.data.get("mode", mode))
        # progress, notes and endings all bear the stage of the step in hand before them
        spans[mode, event.stage] += max(0.0, event.mono_s - before.mono_s)
        if event.kind == "asleep":
            asleep_s += float(event.data.get("asleep_s", 0.0))
    return SessionTally(own[0], dict(spans), Counter(e.kind for e in own), own[-1].kind, asleep_s)


def _session(tally: SessionTally, sawyers: Mapping[str, str]) -> SessionSeen:
    start, kinds = tally.start, tally.kinds
    shares: dict[Share, float] = dict.fromkeys(SHARES, 0.0)
    for (mode, stage), seconds in tally.spans_s.items():
        if mode != "summary":
            shares[share_of(mode, stage)] += seconds / 60.0
    return SessionSeen(
        session=start.session, project=str(start.data.get("project", "")),
        sawyer=whose(start, sawyers),
        rehearsed=bool(start.data.get("rehearsed")),
        begun_s=start.wall_s, utc_offset_min=int(start.data.get("utc_offset_min", 0)),
        minutes=sum(shares.values()), shares=shares,
        ending="left" if tally.last == "leave" else "cut off",
        steps_done=kinds.get("step-done", 0) - kinds.get("back", 0),
        mishaps=kinds.get("mishap", 0) - kinds.get("mishap-dropped", 0),
        asleep_min=tally.asleep_s / 60.0,
    )  # fmt: skip
