"""Append-only log of events in SQLite."""
