"""Sittings from events: how long, and where the time went.

The time between two events of a session belongs to the mode that the first one led
into; in a step it belongs to the stage of the step in hand. What comes after the last
event of a session that was cut off is not known and not counted.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from companion.journal.model import Event
from companion.planner.plan import POWERED_STAGES
from companion.review.model import SHARES, SessionSeen, Share

_BY_MODE: dict[str, Share] = {
    "checklist": "checks", "guard": "checks", "pause": "paused", "summary": "paused",
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
    found = []
    for own in by_session.values():
        if own[0].kind == "session-start":
            found.append(_session(own, sawyers))
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


def _session(own: Sequence[Event], sawyers: Mapping[str, str]) -> SessionSeen:
    start = own[0]
    shares: dict[Share, float] = dict.fromkeys(SHARES, 0.0)
    mode, asleep_s = "checklist", 0.0
    for before, event in zip(own, own[1:], strict=False):
        mode = str(before.data.get("mode", mode))
        # progress, notes and endings all bear the stage of the step in hand before them
        shares[share_of(mode, event.stage)] += max(0.0, event.mono_s - before.mono_s) / 60.0
        if event.kind == "asleep":
            asleep_s += float(event.data.get("asleep_s", 0.0))
    kinds = [e.kind for e in own]
    dropped = kinds.count("mishap-dropped")
    return SessionSeen(
        session=start.session, project=str(start.data.get("project", "")),
        sawyer=sawyers.get(start.source) or str(start.data.get("sawyer", "")),
        rehearsed=bool(start.data.get("rehearsed")),
        begun_s=start.wall_s, utc_offset_min=int(start.data.get("utc_offset_min", 0)),
        minutes=sum(shares.values()), shares=shares,
        ending="left" if kinds[-1] == "leave" else "cut off",
        steps_done=kinds.count("step-done") - kinds.count("back"),
        mishaps=kinds.count("mishap") - dropped, asleep_min=asleep_s / 60.0,
    )  # fmt: skip
