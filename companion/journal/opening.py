"""The journal's file: opened, looked at, migrated, copied; and what goes wrong with it, told.

Rules kept here:

* what is appended is safe against kill and power loss: write-ahead log with
  ``synchronous=FULL``;
* a file of a newer version is not touched, nor one that is no journal;
* what SQLite and the disk say becomes a JournalError with a remedy.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from companion.errors import JournalError
from companion.journal.schema import APPLICATION_ID, MIGRATIONS, Migration, migrate, version
from companion.sentence import sentence

BUSY_MS = 3000
"""How long a write waits for another program that writes."""


def open_base(
    path: Path | None, migrations: Sequence[Migration] = MIGRATIONS
) -> sqlite3.Connection:
    """Open the file, look whether it is ours, set it up for safe appending, migrate it.

    Args:
        path: the file; None: in memory.
        migrations: all there are.

    Raises:
        JournalError: not a journal, of a newer version, or the disk refuses.
    """
    with told(path):
        if path is not None:
            path.parent.mkdir(parents=True, exist_ok=True)
        base = sqlite3.connect(path or ":memory:", isolation_level=None, timeout=BUSY_MS / 1000)
        try:
            base.execute(f"PRAGMA busy_timeout = {BUSY_MS}")
            _look(base, path, len(migrations))
            base.execute("PRAGMA journal_mode = WAL")
            base.execute("PRAGMA synchronous = FULL")
            base.execute("PRAGMA foreign_keys = ON")
            if path is not None and 0 < version(base) < len(migrations):
                copy_base(base, path.with_suffix(f".v{version(base)}{path.suffix}"))
            migrate(base, migrations)
        except BaseException:
            base.close()
            raise
        return base


def _look(base: sqlite3.Connection, path: Path | None, newest: int) -> None:
    """Refuse what is not a journal of this version or an earlier one, without touching it."""
    found = version(base)
    ours = base.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
    tables = base.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if (found or tables) and not ours or found < 0:
        raise JournalError(
            "this file is not a journal", str(path), "Move it away, or name another folder."
        )
    if found > newest:
        raise JournalError(
            sentence(
                "the journal is of version {found}, this program knows {newest}",
                found=found,
                newest=newest,
            ),
            str(path),
            "Install the newer kerfside again; the journal has not been touched.",
        )


def copy_base(base: sqlite3.Connection, to: Path) -> None:
    """Write a whole, consistent copy, while others may go on writing.

    It is made beside its final name and moved there when it is complete.
    """
    part = to.with_name(to.name + ".part")
    part.unlink(missing_ok=True)
    copy = sqlite3.connect(part)
    try:
        base.backup(copy)
    finally:
        copy.close()
    part.replace(to)


@contextmanager
def told(path: Path | None) -> Iterator[None]:
    """Turn what SQLite and the disk say into a JournalError with a remedy."""
    try:
        yield
    except (sqlite3.Error, UnicodeDecodeError) as error:
        # of a spoilt file SQLite quotes bytes that are no text, and Python stumbles over the
        # quotation; what is left may still command a terminal
        text = str(error)
        if isinstance(error, UnicodeDecodeError):
            text = error.object.decode(errors="replace")
        text = "".join(c if c.isprintable() else "\ufffd" for c in text)
        remedy = "Restore the last backup, or move the file away to begin a new journal."
        if "full" in text:
            remedy = "Free some space on the disk; nothing confirmed so far is lost."
        elif "I/O" in text:
            remedy = "Look at the disk: it is full or failing. Nothing confirmed so far is lost."
        elif "locked" in text or "busy" in text:
            remedy = "Close the other program that writes to the journal, then go on."
        elif "readonly" in text or "unable to open" in text:
            remedy = "Make the folder writable, or set KERFSIDE_HOME to one that is."
        elif "append-only" in text:
            remedy = "Write a correction as a new event."
        raise JournalError(
            "the journal refuses",
            sentence("{path}: {text}", path=path or "memory", text=text),
            remedy,
        ) from error
    except OSError as error:
        raise JournalError(
            "the journal's folder cannot be used",
            sentence("{path}: {strerror}", path=path, strerror=error.strerror or error),
            "Make the folder writable, or set KERFSIDE_HOME to one that is.",
        ) from error


@contextmanager
def open_copy(path: Path) -> Iterator[sqlite3.Connection]:
    """Another journal, copied into memory and migrated there."""
    if not path.is_file():
        raise JournalError("there is no journal", str(path), "Check the file's name.")
    with told(path):
        original = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
        memory = sqlite3.connect(":memory:", isolation_level=None)
        try:
            try:
                original.backup(memory)
            except sqlite3.DatabaseError as error:
                if "not a database" not in str(error):
                    raise
                raise _no_journal(path) from error
            _look(memory, path, len(MIGRATIONS))
            if version(memory) == 0:
                raise _no_journal(path)
            migrate(memory)
            yield memory
        finally:
            memory.close()
            original.close()


def _no_journal(path: Path) -> JournalError:
    return JournalError("this file is not a journal", str(path), "Check its name.")
