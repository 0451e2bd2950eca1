"""The journal's tables, as numbered migrations. What was released is never edited, only added to.

``PRAGMA user_version`` holds the number of migrations done; each runs in one
transaction, so a journal stands either before or after it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence

APPLICATION_ID = 0x4B465344
"""Marks the file as ours (``KFSD``) in ``PRAGMA application_id``."""

Migration = tuple[str, ...]

_FIRST: Migration = (
    """
    CREATE TABLE source (
        id INTEGER PRIMARY KEY,
        key TEXT NOT NULL UNIQUE,     -- random name of the journal an event was first written to
        sawyer TEXT NOT NULL,         -- whose it is; may be empty
        own INTEGER NOT NULL          -- 1: this journal itself
    )
    """,
    "CREATE UNIQUE INDEX source_own ON source (own) WHERE own = 1",
    """
    CREATE TABLE event (
        number INTEGER PRIMARY KEY,   -- order of writing here
        source INTEGER NOT NULL REFERENCES source (id),
        seq INTEGER NOT NULL,         -- order of writing there
        wall_s REAL NOT NULL,         -- Unix time
        mono_s REAL NOT NULL,         -- the session's own clock
        session TEXT NOT NULL,
        run TEXT,
        step INTEGER,
        cut INTEGER,
        stage TEXT,
        kind TEXT NOT NULL,
        data TEXT NOT NULL,           -- JSON object
        crc INTEGER NOT NULL,         -- CRC-32 of the fields from wall_s to data
        UNIQUE (source, seq)
    )
    """,
    "CREATE INDEX event_run ON event (run, number)",
    "CREATE INDEX event_session ON event (session, number)",
    """
    CREATE INDEX event_start ON event (kind, number)
    WHERE kind IN ('session-start', 'run-start')
    """,
    """
    CREATE TABLE plan (
        hash TEXT PRIMARY KEY,        -- its key, made from cuts, steps and minutes
        body BLOB NOT NULL            -- its JSON, deflated
    )
    """,
    *(
        f"""
        CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table}
        BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END
        """
        for table in ("event", "plan")
        for verb in ("UPDATE", "DELETE")
    ),
)

_DIGESTS: Migration = (
    """
    CREATE TABLE digest (
        kind TEXT NOT NULL,           -- of what: 'run', 'session'
        id TEXT NOT NULL,
        upto INTEGER NOT NULL,        -- number of the last event that went into it
        body TEXT NOT NULL,           -- JSON, see companion.review.digest
        PRIMARY KEY (kind, id)
    ) WITHOUT ROWID
    """,
)
"""Results worked out from events, so that a review of years need not read each event again.
Derived: a row that does not fit is made anew, and all may be deleted at any time."""

MIGRATIONS: tuple[Migration, ...] = (_FIRST, _DIGESTS)


def version(base: sqlite3.Connection) -> int:
    """Number of migrations that a file has seen."""
    return int(base.execute("PRAGMA user_version").fetchone()[0])


def migrate(base: sqlite3.Connection, migrations: Sequence[Migration] = MIGRATIONS) -> None:
    """Bring a file to the newest version.

    Args:
        base: in autocommit mode; its version is not above ``len(migrations)``.
        migrations: all there are, oldest first.
    """
    for number in range(version(base) + 1, len(migrations) + 1):
        base.execute("BEGIN IMMEDIATE")
        try:
            # another companion may have been here between the look and the lock
            if version(base) < number:
                for statement in migrations[number - 1]:
                    base.execute(statement)
                base.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                base.execute(f"PRAGMA user_version = {number}")
            base.execute("COMMIT")
        except BaseException:
            if base.in_transaction:
                base.execute("ROLLBACK")
            raise
