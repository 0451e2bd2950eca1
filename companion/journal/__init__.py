"""The log: append-only events in SQLite. Its schema stands in :mod:`companion.journal.schema`."""

from __future__ import annotations

from companion.journal.model import Entry, Event, Source

__all__ = ["Entry", "Event", "Source"]
