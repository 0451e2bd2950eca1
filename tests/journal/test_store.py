"""The journal keeps what it confirmed, refuses to change it, and tells what is wrong."""

from __future__ import annotations

import json
import os
import sqlite3
import stat
import zlib
from pathlib import Path

import pytest

from companion.errors import JournalError
from companion.journal import opening, schema
from companion.journal.lease import Lease
from companion.journal.model import Entry
from companion.journal.store import Journal


def entry(n: int = 0, kind: str = "note", run: str | None = "r1") -> Entry:
    return Entry(1000.0 + n, float(n), "s1", kind, {"text": f"n{n} ü"}, run, n + 1, 2, "cut")


def test_events_come_back_as_they_were_written() -> None:
    with Journal(None) as journal:
        assert journal.append([entry(0), entry(1, run=None)]) == 2
        assert journal.append([]) == 0
        journal.append([entry(2, kind="run-start", run="r2")])
        found = list(journal.events())
        assert [(e.number, e.seq, e.step, e.data["text"]) for e in found] == [
            (1, 1, 1, "n0 ü"), (2, 2, 2, "n1 ü"), (3, 3, 3, "n2 ü"),
        ]  # fmt: skip
        assert found[0].wall_s == 1000.0 and found[0].stage == "cut"
        assert [e.number for e in journal.events(runs=["r1"])] == [1]
        assert [e.number for e in journal.events(kind="run-start")] == [3]
        assert [e.number for e in journal.events(after=1)] == [2, 3]
        assert journal.check() == []


@pytest.mark.parametrize("verb", ["UPDATE event SET kind = 'x'", "DELETE FROM event",
                                  "DELETE FROM plan", "UPDATE plan SET body = x'00'"])  # fmt: skip
def test_nothing_is_changed_or_deleted(tmp_path: Path, verb: str) -> None:
    with Journal(tmp_path / "j.sqlite3") as journal:
        journal.append([entry()])
        journal.keep_plan("h", "{}")
    base = sqlite3.connect(tmp_path / "j.sqlite3")
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        base.execute(verb)
    base.close()


def test_all_or_none() -> None:
    with Journal(None) as journal:
        with pytest.raises(JournalError, match="cannot be written"):
            journal.append([entry(0), Entry(0, 0, "s", "note", {"bad": float("nan")})])
        assert journal.count() == 0


def test_lone_surrogates_are_written_as_question_marks() -> None:
    with Journal(None) as journal:
        journal.append([Entry(0, 0, "s", "note", {"text": "a\udcffb"})])
        assert next(iter(journal.events())).data == {"text": "a?b"}


def test_each_commit_is_flushed_to_disk(tmp_path: Path) -> None:
    """SQLite's own words for it: with WAL, only synchronous=FULL (2) is safe on power loss."""
    with Journal(tmp_path / "j.sqlite3") as journal:
        pragma = journal._base.execute
        assert pragma("PRAGMA journal_mode").fetchone()[0] == "wal"
        assert pragma("PRAGMA synchronous").fetchone()[0] == 2


# ------------------------------------------------------------- migrations


def test_migrations_from_every_earlier_version(tmp_path: Path) -> None:
    newest = len(schema.MIGRATIONS)
    for version in range(newest + 1):
        path = tmp_path / f"v{version}.sqlite3"
        base = sqlite3.connect(path, isolation_level=None)
        schema.migrate(base, schema.MIGRATIONS[:version])
        assert schema.version(base) == version
        base.close()
        with Journal(path) as journal:
            journal.append([entry()])
            assert journal.check() == [] and journal.count() == 1


def test_migration_keeps_events_and_a_copy_of_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "j.sqlite3"
    with Journal(path) as journal:
        journal.append([entry()])
    more = (*schema.MIGRATIONS, ("ALTER TABLE source ADD COLUMN place TEXT",))
    with Journal(path, migrations=more) as journal:
        assert journal.count() == 1 and journal.check() == []
        assert schema.version(journal._base) == len(more)
    with Journal(tmp_path / f"j.v{len(more) - 1}.sqlite3") as old:
        assert old.count() == 1


def test_broken_migration_leaves_the_file_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "j.sqlite3"
    with Journal(path) as journal:
        journal.append([entry()])
    broken = (*schema.MIGRATIONS, ("CREATE TABLE half (x)", "this is no statement"))
    with pytest.raises(JournalError):
        Journal(path, migrations=broken)
    with Journal(path) as journal:
        assert journal.count() == 1
        names = journal._base.execute("SELECT name FROM sqlite_master").fetchall()
        assert ("half",) not in names


def test_newer_journal_is_refused_and_not_touched(tmp_path: Path) -> None:
    path = tmp_path / "j.sqlite3"
    with Journal(path, migrations=(*schema.MIGRATIONS, ("CREATE TABLE later (x)",))):
        pass
    before = path.read_bytes()
    with pytest.raises(JournalError, match="Install the newer kerfside") as caught:
        Journal(path)
    assert path.read_bytes() == before
    assert caught.value.exit_code == 2


@pytest.mark.parametrize(
    "content", [b"not a database at all, but long enough to be read" * 40, None]
)
def test_foreign_file_is_refused(tmp_path: Path, content: bytes | None) -> None:
    path = tmp_path / "j.sqlite3"
    if content is None:
        base = sqlite3.connect(path)
        base.execute("CREATE TABLE theirs (x)")
        base.close()
    else:
        path.write_bytes(content)
    before = path.read_bytes()
    with pytest.raises(JournalError):
        Journal(path)
    assert path.read_bytes() == before


# ------------------------------------------------------------- damage and disk


def test_check_finds_a_spoilt_event(tmp_path: Path) -> None:
    path = tmp_path / "j.sqlite3"
    with Journal(path) as journal:
        journal.append([entry(n) for n in range(5)])
    base = sqlite3.connect(path)
    base.execute("DROP TRIGGER event_no_update")
    base.execute("UPDATE event SET wall_s = 7 WHERE number = 3")
    base.commit()
    base.close()
    with Journal(path) as journal:
        assert journal.check() == ["event 3: its checksum does not fit"]


def spoil(path: Path, table: str, change: str) -> None:
    """Change what stands in a file, its own guard passed by."""
    base = sqlite3.connect(path)
    base.execute(f"DROP TRIGGER {table}_no_update")
    base.execute(f"UPDATE {table} SET {change}")
    base.commit()
    base.close()


@pytest.mark.parametrize(
    "body", [b"x", b"", "text", zlib.compress(b"{}")[:-1], zlib.compress(b"\xff")]
)
def test_a_spoilt_plan_is_found_told_by_who_reads_it_and_not_taken_in(
    tmp_path: Path, body: bytes | str
) -> None:
    path = tmp_path / "j.sqlite3"
    with Journal(path) as journal:
        journal.append([entry(0)])
        journal.keep_plan("h", "{}")
    as_bytes = body.encode() if isinstance(body, str) else body
    kind = "TEXT" if isinstance(body, str) else "BLOB"
    spoil(path, "plan", f"body = CAST(x'{as_bytes.hex()}' AS {kind})")
    with pytest.raises(JournalError, match="damaged: .*plan h: it cannot be unpacked"):
        with Journal(path) as journal:
            assert journal.check() == ["plan h: it cannot be unpacked"]
            journal.plan_text("h")
    with Journal(tmp_path / "other.sqlite3") as other:
        with pytest.raises(JournalError, match="damaged: .*plan h"):
            other.take_in(path)
        assert other.count() == 0 and not other.has_plan("h")


@pytest.mark.parametrize("change", ["data = CAST(data AS BLOB)", "kind = x'ff00'"])
def test_bytes_where_text_should_be_are_damage(tmp_path: Path, change: str) -> None:
    path = tmp_path / "j.sqlite3"
    with Journal(path) as journal:
        journal.append([entry(0)])
    spoil(path, "event", change)
    with Journal(path) as journal:
        assert journal.check() == ["event 1: its checksum does not fit"]


def test_who_stumbles_over_a_whole_journal_is_not_told_of_damage(tmp_path: Path) -> None:
    path = tmp_path / "j.sqlite3"
    for spoilt in (False, True):
        if spoilt:
            spoil(path, "event", "step = 9")
        with pytest.raises(JournalError if spoilt else ZeroDivisionError):
            with Journal(path) as journal:
                journal.append([entry(0)])
                print(1 / 0)
        # what says itself what it is stays as it is
        with pytest.raises(FileNotFoundError):
            with Journal(path):
                (tmp_path / "missing").read_bytes()


def test_check_finds_a_gap(tmp_path: Path) -> None:
    path = tmp_path / "j.sqlite3"
    with Journal(path) as journal:
        journal.append([entry(n) for n in range(5)])
    base = sqlite3.connect(path)
    base.execute("DROP TRIGGER event_no_delete")
    base.execute("DELETE FROM event WHERE number = 2")
    base.commit()
    base.close()
    with Journal(path) as journal:
        assert journal.check() == ["events are missing: 4 stand between 1 and 5"]


def test_full_disk_loses_nothing_and_is_told(tmp_path: Path) -> None:
    """SQLite's page limit stands in for a full disk: it raises the same SQLITE_FULL."""
    with Journal(tmp_path / "j.sqlite3") as journal:
        journal.append([entry(0)])
        pages = journal._base.execute("PRAGMA page_count").fetchone()[0]
        journal._base.execute(f"PRAGMA max_page_count = {pages}")
        kept = 1
        with pytest.raises(JournalError, match="Free some space"):
            for n in range(1, 10_000):
                journal.append([entry(n)])
                kept += 1
        assert journal.count() == kept and journal.check() == []
        journal._base.execute("PRAGMA max_page_count = 100000")
        journal.append([entry(9)])
        assert journal.count() == kept + 1


def test_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    for make in (lambda p: Journal(p), lambda p: Lease(p, "x")):
        with pytest.raises(JournalError, match="KERFSIDE_HOME"):
            make(tmp_path / "file" / "below" / "j.sqlite3")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write all")
def test_read_only_folder_is_told(tmp_path: Path) -> None:
    tmp_path.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        with pytest.raises(JournalError, match="writable"):
            Journal(tmp_path / "j.sqlite3")
    finally:
        tmp_path.chmod(stat.S_IRWXU)


def test_another_writer_is_waited_for_then_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(opening, "BUSY_MS", 50)
    path = tmp_path / "j.sqlite3"
    with Journal(path) as journal:
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(JournalError, match="Close the other program"):
            journal.append([entry()])
        other.execute("ROLLBACK")
        other.close()
        journal.append([entry()])
        assert journal.count() == 1


def test_two_journals_open_at_once_number_their_events_apart(tmp_path: Path) -> None:
    path = tmp_path / "j.sqlite3"
    with Journal(path) as one, Journal(path) as two:
        for n in range(20):
            (one if n % 3 else two).append([entry(n)])
        assert one.check() == [] and two.count() == 20
        assert len(one.sources()) == 1


# ------------------------------------------------------------- lease


def test_second_companion_is_told_who_is_there(tmp_path: Path) -> None:
    path = tmp_path / "j.sqlite3"
    with Lease(path, "Harbour sign"):
        with pytest.raises(JournalError, match="Harbour sign, since .*process") as caught:
            Lease(path, "Other")
        assert "Leave that one first" in caught.value.remedy
    with Lease(path, "Other"):
        assert json.loads((tmp_path / "j.lock").read_text())["project"] == "Other"


# ------------------------------------------------------------- copies


def test_backup_is_whole_and_not_over_itself(tmp_path: Path) -> None:
    path, copy = tmp_path / "j.sqlite3", tmp_path / "copy.sqlite3"
    with Journal(path) as journal:
        journal.append([entry(n) for n in range(30)])
        copy.write_text("something older")
        journal.backup(copy)
        journal.append([entry(30)])
        with pytest.raises(JournalError, match="another name"):
            journal.backup(path)
    with Journal(copy) as other:
        assert other.count() == 30 and other.check() == []


def test_take_in_makes_no_doubles_either_way_round(tmp_path: Path) -> None:
    a, b = tmp_path / "a.sqlite3", tmp_path / "b.sqlite3"
    with Journal(a, "Ada") as one, Journal(b, "Ben") as two:
        one.append([entry(n) for n in range(5)])
        two.append([entry(n) for n in range(3)])
        two.keep_plan("h", '{"plan": 1}')
        assert one.take_in(b) == 3
        assert one.take_in(b) == 0
        two.append([entry(9)])
        assert one.take_in(b) == 1
        # what came from a goes back to a through b unharmed
        assert two.take_in(a) == 5
        assert two.take_in(a) == 0
        assert one.take_in(b) == 0
        assert one.count() == 9 and one.check() == [] and two.check() == []
        assert one.plan_text("h") == '{"plan": 1}'
        assert [(s.sawyer, s.own) for s in one.sources()] == [("Ada", True), ("Ben", False)]


def test_take_in_refuses_what_is_damaged_whole(tmp_path: Path) -> None:
    a, b = tmp_path / "a.sqlite3", tmp_path / "b.sqlite3"
    with Journal(b) as two:
        two.append([entry(n) for n in range(3)])
    base = sqlite3.connect(b)
    base.execute("DROP TRIGGER event_no_update")
    base.execute("UPDATE event SET step = 9 WHERE number = 3")
    base.commit()
    base.close()
    with Journal(a) as one:
        with pytest.raises(JournalError, match="damaged"):
            one.take_in(b)
        assert one.count() == 0 and len(one.sources()) == 1
        with pytest.raises(JournalError, match="no journal"):
            one.take_in(tmp_path / "missing.sqlite3")


def test_take_in_refuses_a_backup_that_was_written_on(tmp_path: Path) -> None:
    a, b = tmp_path / "a.sqlite3", tmp_path / "b.sqlite3"
    with Journal(a) as one:
        one.append([entry(0)])
        one.backup(b)
        with Journal(b) as two:
            two.append([entry(1)])
        one.append([entry(2)])
        with pytest.raises(JournalError, match="parted"):
            one.take_in(b)
        assert one.count() == 2


def test_plans_are_kept_once() -> None:
    with Journal(None) as journal:
        assert journal.plan_text("h") is None and not journal.has_plan("h")
        journal.keep_plan("h", "text ü")
        journal.keep_plan("h", "other")
        assert journal.plan_text("h") == "text ü" and journal.has_plan("h")


def test_starts_of_one_project_are_found_by_its_name(tmp_path: Path) -> None:
    with Journal(tmp_path / "j.sqlite3") as journal:
        for n, name in enumerate(("Gull", "Tide", "Gull", "Gull's nest")):
            journal.append([
                Entry(1.0 + n, 1.0, f"s{n}", "session-start", data={"project": name}),
                Entry(2.0 + n, 2.0, f"s{n}", "note", data={"text": "Gull"}),
            ])  # fmt: skip
        found = list(journal.events(kind="session-start", projects=("Gull", "nothing")))
        assert [e.session for e in found] == ["s0", "s2"]
        assert list(journal.events(projects=())) == []
