"""A journal's file that is anything but a journal: told, and left as it was."""

from __future__ import annotations

import random
import sqlite3
from pathlib import Path

import pytest

from companion.cli.main import main
from companion.errors import EXIT_BAD_INPUT, EXIT_FINE
from companion.journal.model import Entry
from companion.journal.store import Journal
from tests.hostile.told import DEMO, clear, kerfside


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path))
    return tmp_path


def journal_of(home: Path, events: int = 200) -> Path:
    path = home / "journal.sqlite3"
    with Journal(path) as journal:
        journal.append(
            [Entry(1e9 + n, float(n), "s", "note", {"text": "x" * 40}, "r") for n in range(events)]
        )
    return path


def review(capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    """The verb that reads all of it."""
    code = main(["review"])
    told = capsys.readouterr()
    assert "Traceback" not in told.err
    return code, told.err


@pytest.mark.parametrize("share", [0.0, 0.001, 0.02, 0.3, 0.6, 0.9, 0.999])
def test_truncated(home: Path, share: float, capsys: pytest.CaptureFixture[str]) -> None:
    path = journal_of(home)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * share)])
    code, told = review(capsys)
    # an empty file is a new journal; anything shorter than whole is told
    assert code == EXIT_FINE if share == 0.0 else code == EXIT_BAD_INPUT and "backup" in told


@pytest.mark.parametrize("seed", range(12))
def test_spoilt_bytes(home: Path, seed: int, capsys: pytest.CaptureFixture[str]) -> None:
    """Bytes changed anywhere: refused, or read with nothing worse than the change itself."""
    path = journal_of(home)
    chance = random.Random(seed)
    data = bytearray(path.read_bytes())
    for _ in range(chance.choice([1, 10, 500])):
        data[chance.randrange(len(data))] = chance.randrange(256)
    path.write_bytes(bytes(data))
    code, told = review(capsys)
    assert code in (EXIT_FINE, EXIT_BAD_INPUT)
    assert code == EXIT_FINE or "kerfside:" in told


@pytest.mark.parametrize("byte", [b"\xb9", b"\x1b", b"\x00", b"\xc3"])
def test_a_spoilt_table_is_told_in_letters(
    home: Path, byte: bytes, capsys: pytest.CaptureFixture[str]
) -> None:
    """SQLite quotes what it cannot read, and such bytes may be no text or command a terminal."""
    path = journal_of(home)
    data = path.read_bytes()
    assert data.count(b"CREATE TABLE digest") == 1
    path.write_bytes(data.replace(b"CREATE TABLE digest", b"CREATE TABLE" + byte + b"digest"))
    code, told = review(capsys)
    assert code == EXIT_BAD_INPUT and "backup" in told
    assert told.rstrip("\n").isprintable()


def test_a_version_below_none_is_refused(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = journal_of(home)
    data = bytearray(path.read_bytes())
    data[60:64] = b"\xff\xff\xff\xfe"  # user_version, big-endian: fileformat2.html 1.3.12
    path.write_bytes(bytes(data))
    code, told = review(capsys)
    assert code == EXIT_BAD_INPUT and "not a journal" in told
    assert path.read_bytes() == bytes(data)


@pytest.mark.parametrize(
    "content", [b"\x00" * 5000, b"SQLite format 3\x00" + b"\xff" * 4000, b"{}", b"\n" * 10],
    ids=["zeros", "magic-then-noise", "json", "blank-lines"],
)  # fmt: skip
def test_noise(home: Path, content: bytes, capsys: pytest.CaptureFixture[str]) -> None:
    (home / "journal.sqlite3").write_bytes(content)
    code, told = review(capsys)
    assert code == EXIT_BAD_INPUT and "journal" in told
    assert (home / "journal.sqlite3").read_bytes() == content


def test_somebody_elses_database(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    base = sqlite3.connect(home / "journal.sqlite3")
    base.execute("CREATE TABLE fish (name TEXT)")
    base.commit()
    base.close()
    code, told = review(capsys)
    assert code == EXIT_BAD_INPUT and "not a journal" in told


def test_newer_version(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = journal_of(home)
    base = sqlite3.connect(path)
    base.execute("PRAGMA user_version = 99")
    base.commit()
    base.close()
    code, told = review(capsys)
    assert code == EXIT_BAD_INPUT and "99" in told


def test_a_folder_in_its_place(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (home / "journal.sqlite3").mkdir()
    code, told = review(capsys)
    assert code == EXIT_BAD_INPUT and "KERFSIDE_HOME" in told


def test_huge_and_hollow(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Three gigabytes of nothing are refused by their first page."""
    path = home / "journal.sqlite3"
    with path.open("wb") as hollow:
        hollow.truncate(3 << 30)
    code, _ = review(capsys)
    assert code == EXIT_BAD_INPUT
    path.unlink()


def test_taken_in_from_noise(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    mine = journal_of(home)
    for name, content in (("a", b""), ("b", b"\x00" * 999), ("c", mine.read_bytes()[:5000])):
        (home / name).write_bytes(content)
        code = main(["review", "--take-in", str(home / name)])
        assert code == EXIT_BAD_INPUT and "kerfside:" in capsys.readouterr().err
    with Journal(mine) as journal:
        assert journal.count() == 200 and journal.check() == []


def test_a_full_disk_is_told_and_nothing_confirmed_is_lost(tmp_path: Path) -> None:
    """No file may grow past 24 kB in this process: what the system says when a disk is full."""
    path = journal_of(tmp_path, 400)
    limit = (
        "import resource, signal\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (24576, 24576))"
    )
    done = kerfside(
        "saw", DEMO, "--plain", "--rehearse", home=tmp_path, before=limit,
        feed="note " + "x" * 3000 + "\n" + "done\n" * 60,
    )  # fmt: skip
    told = clear(done, EXIT_BAD_INPUT)
    assert "disk" in told or "Free" in told or "cannot" in told
    with Journal(path) as journal:
        assert journal.count() >= 400 and journal.check() == []
