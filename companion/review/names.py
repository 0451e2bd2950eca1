"""Whose a sitting is: the name that it tells, else that of the journal it stands in.

A name that nobody has given tells nothing: two who never gave one are still two hands, each with
a learning curve and a row of days of its own.
"""

from __future__ import annotations

from collections.abc import Mapping

from companion.journal.model import Brief, Event
from companion.shop.model import NOBODY


def names_nobody(start: Event | Brief) -> bool:
    """Whether a sitting or a run began with no name, or with the one all have before they tell."""
    return str(start.data.get("sawyer", "")) in ("", NOBODY)


def whose(start: Event | Brief, sawyers: Mapping[str, str]) -> str:
    """Name of the sawyer of a sitting or a run; may be empty.

    Args:
        start: its first event.
        sawyers: names by journal.
    """
    told = str(start.data.get("sawyer", ""))
    return (sawyers.get(start.source) or told) if names_nobody(start) else told
