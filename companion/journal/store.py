"""The journal: events appended to one SQLite file, each on disk before the call returns.

Rules kept here:

* what :meth:`Journal.append` returned is safe against kill and power loss:
  one transaction for each call; how the file is opened for that, see ``opening``;
* nothing is ever changed or deleted: triggers in the file itself forbid it;
* what goes wrong with the disk or the file is told as a JournalError with a remedy.
"""

from __future__ import annotations

import itertools
import json
import sqlite3
import uuid
import zlib
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Literal, Self

from companion.errors import JournalError
from companion.journal import sums
from companion.journal.damage import COLUMNS, blame, crc, damaged, look_through, spoilt_plans
from companion.journal.model import Brief, Entry, Event, SessionTally, Source, Walked
from companion.journal.opening import copy_base, open_base, open_copy, told
from companion.journal.schema import MIGRATIONS, Migration
from companion.sentence import Sentence, sentence

DigestKind = Literal["run", "session", "plan"]


class Journal:
    """An open journal. Use it as a context manager, or close it."""

    def __init__(
        self, path: Path | None, sawyer: str = "", migrations: Sequence[Migration] = MIGRATIONS
    ) -> None:
        """Open or make it.

        Args:
            path: the file; None: in memory, for tests and for trying out.
            sawyer: whose it is; used when it is made.
            migrations: for tests of the migrations themselves.

        Raises:
            JournalError: see :func:`open_base`.
        """
        self.path = path
        self._base = open_base(path, migrations)
        with self._told(), self._transaction():
            self._base.execute(
                "INSERT OR IGNORE INTO source (key, sawyer, own) "
                "SELECT ?, ?, 1 WHERE NOT EXISTS (SELECT 1 FROM source WHERE own = 1)",
                (uuid.uuid4().hex, sawyer),
            )
        self._own: int = self._base.execute("SELECT id FROM source WHERE own = 1").fetchone()[0]

    def __enter__(self) -> Self:
        """The journal itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close it; what went wrong over a damaged file is told as that.

        Raises:
            JournalError: the file is damaged.
        """
        try:
            if error is not None:
                blame(self._base, self._own, self.path, error)
        finally:
            self.close()

    def close(self) -> None:
        """Give the file back."""
        self._base.close()

    def _told(self) -> Any:  # noqa: ANN401  # the library's own context manager type
        return told(self.path)

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        self._base.execute("BEGIN IMMEDIATE")
        try:
            yield
            self._base.execute("COMMIT")
        except BaseException:
            if self._base.in_transaction:
                self._base.execute("ROLLBACK")
            raise

    # ------------------------------------------------------------- writing

    def append(self, entries: Sequence[Entry]) -> int:
        """Write events, all or none; on disk when this returns.

        Args:
            entries: in their order.

        Returns:
            Number of the last event written; 0 for none.

        Raises:
            JournalError: the disk is full, the file locked, the data not JSON.
        """
        if not entries:
            return 0
        rows = [_fields(e) for e in entries]
        with self._told(), self._transaction():
            seq = self._last_seq(self._own)
            last = 0
            for n, row in enumerate(rows, seq + 1):
                last = self._insert(self._own, n, row)
                assert last  # the write lock is held: nobody else took the number
        return last

    def _last_seq(self, source: int) -> int:
        found = self._base.execute("SELECT max(seq) FROM event WHERE source = ?", (source,))
        return int(found.fetchone()[0] or 0)

    def _insert(self, source: int, seq: int, fields: tuple[object, ...]) -> int:
        done = self._base.execute(
            f"INSERT OR IGNORE INTO event (source, seq, {COLUMNS}, crc) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (source, seq, *fields, crc(fields)),
        )
        return int(done.lastrowid or 0) if done.rowcount else 0

    def keep_plan(self, plan_hash: str, text: str) -> None:
        """Keep a plan's JSON, so that a run can be reviewed when its project is gone."""
        with self._told(), self._transaction():
            self._base.execute(
                "INSERT OR IGNORE INTO plan (hash, body) VALUES (?, ?)",
                (plan_hash, zlib.compress(text.encode(), 6)),
            )

    # ------------------------------------------------------------- reading

    def plan_text(self, plan_hash: str) -> str | None:
        """A kept plan's JSON; None when it is not here."""
        with self._told():
            row = self._base.execute(
                "SELECT body FROM plan WHERE hash = ?", (plan_hash,)
            ).fetchone()
        return None if row is None else zlib.decompress(row[0]).decode()

    def has_plan(self, plan_hash: str) -> bool:
        """Whether a plan is kept."""
        with self._told():
            found = self._base.execute("SELECT 1 FROM plan WHERE hash = ?", (plan_hash,)).fetchone()
        return found is not None

    def events(
        self,
        *,
        runs: Iterable[str] | None = None,
        sessions: Iterable[str] | None = None,
        kind: str | None = None,
        projects: Iterable[str] | None = None,
        numbers: Iterable[int] | None = None,
        after: int = 0,
    ) -> Iterator[Event]:
        """Events in the order of writing.

        Args:
            runs: only those of these runs; None: all.
            sessions: only those of these sessions; None: all.
            kind: only those of this kind.
            projects: only those that name one of these, as starts do; None: all.
            numbers: only those of these numbers; None: all.
            after: only those with a higher number.
        """
        where: list[str] = ["e.number > ?"]
        wanted: list[object] = [after]
        if kind is not None:
            where.append("e.kind = ?")
            wanted.append(kind)
        if kind in ("session-start", "run-start"):
            # said once more, so that the partial index of starts can be used
            where.append("e.kind IN ('session-start', 'run-start')")
        for column, chosen in (
            (_PROJECT, projects), ("e.run", runs), ("e.session", sessions), ("e.number", numbers)
        ):  # fmt: skip
            if chosen is not None:
                where.append(f"{column} IN (SELECT value FROM json_each(?))")
                wanted.append(json.dumps(list(chosen)))
        query = (
            f"SELECT {', '.join('e.' + c.strip() for c in COLUMNS.split(','))}, "
            "e.number, s.key, e.seq FROM event e JOIN source s ON s.id = e.source "
            f"WHERE {' AND '.join(where)} ORDER BY e.number"
        )
        with self._told():
            for row in self._base.execute(query, wanted):
                yield _event(row, self.path)

    def sources(self) -> tuple[Source, ...]:
        """The journals whose events stand here, this one's own first."""
        with self._told():
            rows = self._base.execute(
                "SELECT key, sawyer, own FROM source ORDER BY own DESC, id"
            ).fetchall()
        return tuple(Source(key, sawyer, bool(own)) for key, sawyer, own in rows)

    def count(self) -> int:
        """Number of events."""
        with self._told():
            return int(self._base.execute("SELECT count(*) FROM event").fetchone()[0])

    # ------------------------------------------------------------- digests

    def tips(
        self, kind: Literal["run", "session"], names: Collection[str] | None = None
    ) -> dict[str, int]:
        """Number of the last event of each run or session, or of some of them."""
        with self._told():
            if names is None:
                return sums.tips(self._base, kind)
            return sums.tips_of(self._base, kind, names)

    def digests(
        self, kind: DigestKind, names: Collection[str] | None = None
    ) -> dict[str, tuple[int, str]]:
        """What is kept of each: the number of its last event (0 for a plan), and the body."""
        query = "SELECT id, upto, body FROM digest WHERE kind = ?"
        wanted: list[object] = [kind]
        if names is not None:
            query += " AND id IN (SELECT value FROM json_each(?))"
            wanted.append(json.dumps(list(names)))
        with self._told():
            return {name: (upto, body) for name, upto, body in self._base.execute(query, wanted)}

    def tallies(self, tips: Mapping[str, int], whole: bool = False) -> Iterator[SessionTally]:
        """Where the time of some sessions went; those without a start are passed over.

        Args:
            tips: number of the last event of each session.
            whole: they are all there are; quicker.
        """
        with self._told():
            firsts = sums.firsts(self._base, tips)
        starts = [e for e in self.events(numbers=firsts) if e.kind == "session-start"]
        with self._told(), self._damage_named("session", tips):
            yield from sums.tallies(self._base, starts, tips, whole)

    def walks(self, runs: Sequence[str]) -> Iterator[Walked]:
        """Events of some runs as columns; see :func:`sums.walks`."""
        with self._told(), self._damage_named("run", runs):
            yield from sums.walks(self._base, runs, self._briefs)

    def brief_events(self, runs: Sequence[str]) -> Iterator[Brief]:
        """All events of some runs, run by run, in the order of writing."""
        with self._told():
            yield from self._briefs("run", runs)

    def _briefs(
        self, column: Literal["run", "number"], wanted: Sequence[object]
    ) -> Iterator[Brief]:
        keys = dict(self._base.execute("SELECT id, key FROM source").fetchall())
        return sums.briefs(
            self._base, column, wanted, keys, lambda number: damaged(self.path, number)
        )

    @contextmanager
    def _damage_named(
        self, column: Literal["run", "session"], names: Iterable[str]
    ) -> Iterator[None]:
        """Tell which event cannot be read, where a reader of many says only that there is one."""
        try:
            yield
        except (sqlite3.OperationalError, ValueError):
            number = sums.unreadable(self._base, column, list(names))
            if number is not None:
                raise damaged(self.path, number) from None
            raise

    def keep_digests(self, rows: Iterable[tuple[DigestKind, str, int, str]]) -> None:
        """Keep or replace digests: of what, name, number of the last event, body."""
        with self._told(), self._transaction():
            self._base.executemany(
                "INSERT OR REPLACE INTO digest (kind, id, upto, body) VALUES (?, ?, ?, ?)",
                rows,
            )

    # ------------------------------------------------------------- keeping

    def check(self) -> list[str]:
        """Look for damage: the file's pages, each event's checksum, gaps in the own numbers.

        Returns:
            One sentence for each thing wrong; empty when all is well.
        """
        with self._told():
            return look_through(self._base, self._own)

    def backup(self, to: Path) -> None:
        """Write a whole copy beside, while a session may go on.

        Raises:
            JournalError: the place cannot be written, or is the journal itself.
        """
        if self.path is not None and to.resolve() == self.path.resolve():
            raise JournalError("a backup needs another name", str(to), "Name another file.")
        with told(to):
            copy_base(self._base, to)

    def take_in(self, other: Path) -> int:
        """Add the events of another journal that are not here yet; the other stays as it is.

        A journal that bears no name gets that of its file here, so that what it holds of
        unnamed sittings is not taken for somebody else's.

        Returns:
            How many were new.

        Raises:
            JournalError: the other is no journal, or damaged.
        """
        with open_copy(other) as base, told(self.path):
            for name in spoilt_plans(base):
                raise _other_damaged(sentence("{other}: plan {name}", other=other, name=name))
            sources = base.execute("SELECT id, key, sawyer FROM source").fetchall()
            query = f"SELECT source, seq, {COLUMNS}, crc FROM event ORDER BY number"
            new = 0
            with self._transaction():
                known = {
                    old: self._source(key, sawyer or self._free_name(other.stem))
                    for old, key, sawyer in sources
                }
                for source, seq, *fields, found in base.execute(query):
                    if crc(fields) != found:
                        raise _other_damaged(sentence("{other}: event {seq}", other=other, seq=seq))
                    if self._insert(known[source], seq, tuple(fields)):
                        new += 1
                    elif not self._holds(known[source], seq, found):
                        raise JournalError(
                            "the two journals have parted",
                            sentence(
                                "{other}: event {seq} says something else here",
                                other=other,
                                seq=seq,
                            ),
                            "One is a backup that was written on; keep both files.",
                        )
                self._base.executemany(
                    "INSERT OR IGNORE INTO plan (hash, body) VALUES (?, ?)",
                    base.execute("SELECT hash, body FROM plan"),
                )
        return new

    def _holds(self, source: int, seq: int, found: int) -> bool:
        here = self._base.execute(
            "SELECT crc FROM event WHERE source = ? AND seq = ?", (source, seq)
        ).fetchone()
        return here is not None and here[0] == found

    def _free_name(self, wanted: str) -> str:
        """A name that no other journal here bears, made from this one."""
        taken = {name for (name,) in self._base.execute("SELECT sawyer FROM source")}
        numbered = (f"{wanted} {n}" for n in itertools.count(2))
        return next(n for n in itertools.chain((wanted,), numbered) if n not in taken)

    def _source(self, key: str, sawyer: str) -> int:
        self._base.execute(
            "INSERT OR IGNORE INTO source (key, sawyer, own) VALUES (?, ?, 0)", (key, sawyer)
        )
        found = self._base.execute("SELECT id FROM source WHERE key = ?", (key,)).fetchone()
        return int(found[0])


def _other_damaged(place: Sentence) -> JournalError:
    return JournalError(
        "the other journal is damaged",
        place,
        "Take an earlier backup of it; nothing has been added.",
    )


def _fields(entry: Entry) -> tuple[object, ...]:
    try:
        data = json.dumps(dict(entry.data), ensure_ascii=False, allow_nan=False)
    except (TypeError, ValueError) as error:
        raise JournalError("an event cannot be written", repr(error), "Report this.") from error
    # lone surrogates, as some terminals send for broken input, cannot be stored as UTF-8
    data = data.encode("utf-8", "replace").decode("utf-8")
    return (
        float(entry.wall_s), float(entry.mono_s), entry.session, entry.run, entry.step,
        entry.cut, entry.stage, entry.kind, data,
    )  # fmt: skip


_PROJECT = "CASE WHEN json_valid(e.data) THEN json_extract(e.data, '$.project') END"
_DECODE = json.JSONDecoder().raw_decode
"""Twice as fast as ``json.loads``, which looks for blanks around."""


def _event(row: Sequence[Any], path: Path | None) -> Event:
    try:
        data, end = _DECODE(row[8])
    except ValueError as error:
        raise damaged(path, row[9]) from error
    if end != len(row[8]):
        raise damaged(path, row[9])
    return Event(
        wall_s=row[0], mono_s=row[1], session=row[2], run=row[3], step=row[4], cut=row[5],
        stage=row[6], kind=row[7], data=data, number=row[9], source=row[10], seq=row[11],
    )  # fmt: skip
