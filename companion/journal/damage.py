"""Damage: what the disk has spoilt, found by checksums and told as a JournalError.

A spoilt byte can stand anywhere, and much of what it leads to is an error of a reader that was
given a thing no journal holds. Nobody can foresee each: when a reader stumbles, the file is
looked through, and if it is damaged, that is what is told.
"""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path

from companion.errors import JournalError, KerfsideError
from companion.journal.opening import told
from companion.sentence import sentence

COLUMNS = "wall_s, mono_s, session, run, step, cut, stage, kind, data"


def crc(fields: Sequence[object]) -> int:
    """CRC-32 of an event's fields as JSON, to find what the disk has spoilt.

    Bytes, which only a spoilt file has for a field, count by how they are written.
    """
    return zlib.crc32(json.dumps(list(fields), ensure_ascii=True, default=repr).encode())


def damaged(path: Path | None, number: int) -> JournalError:
    """The error for an event that cannot be read."""
    return JournalError(
        "the journal is damaged",
        sentence("{path}: event {row}", path=path, row=number),
        "Restore the last backup.",
    )


def blame(base: sqlite3.Connection, own: int, path: Path | None, error: BaseException) -> None:
    """Tell the damage where a reader stumbled over it; nothing where the file is whole.

    Args:
        base: the journal's file.
        own: the own source's number.
        path: the file, to be named.
        error: what went wrong; ours and the system's say themselves what it was.

    Raises:
        JournalError: the file is damaged.
    """
    if not isinstance(error, Exception) or isinstance(error, KerfsideError | OSError):
        return
    with told(path):
        found = look_through(base, own)
    if found:
        raise JournalError(
            "the journal is damaged",
            sentence("{path}: {text}", path=path, text=found[0]),
            "Restore the last backup.",
        ) from error


def look_through(base: sqlite3.Connection, own: int) -> list[str]:
    """Look for damage: the file's pages, checksums of events and plans, gaps in the own numbers.

    Args:
        base: the journal's file.
        own: the own source's number.

    Returns:
        One sentence for each thing wrong; empty when all is well.
    """
    pages = base.execute("PRAGMA integrity_check(20)")
    found = [f"file: {row[0]}" for row in pages if row[0] != "ok"]
    found += [
        f"event {row[0]}: its checksum does not fit"
        for row in base.execute(f"SELECT number, {COLUMNS}, crc FROM event")
        if crc(row[1:-1]) != row[-1]
    ]
    found += [f"plan {name}: it cannot be unpacked" for name in spoilt_plans(base)]
    count, low, high = base.execute(
        "SELECT count(*), min(seq), max(seq) FROM event WHERE source = ?", (own,)
    ).fetchone()
    if count and (low, high) != (1, count):
        found.append(f"events are missing: {count} stand between {low} and {high}")
    return found


def spoilt_plans(base: sqlite3.Connection) -> Iterator[str]:
    """Names of the kept plans that are not what was kept; the packing bears its own checksum."""
    for name, body in base.execute("SELECT hash, body FROM plan"):
        try:
            zlib.decompress(body).decode()
        except (TypeError, ValueError, zlib.error):
            yield str(name)
