"""The first review of years with a second process, and what happens when that one fails."""

from __future__ import annotations

import sqlite3
import subprocess
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from companion.cli.main import main
from companion.journal.model import SessionTally, Walked
from companion.journal.store import Journal
from companion.review import digest
from tests.benchmarks.review_million import forget
from tests.benchmarks.years import LIGHT, fill


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A year's journal, looked at as if it were ten."""
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path))
    monkeypatch.setattr(digest, "MANY", 10)
    monkeypatch.setattr("os.cpu_count", lambda: 2)
    with Journal(tmp_path / "journal.sqlite3") as journal:
        fill(journal, 7_000, 3, LIGHT)
    return tmp_path


def told(capsys: pytest.CaptureFixture[str]) -> str:
    assert main(["review"]) == 0
    return capsys.readouterr().out


def test_the_other_process_works_out_the_sittings_and_some_runs(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(digest, "MANY", 10_000)
    alone = told(capsys)
    forget(home)
    monkeypatch.setattr(digest, "MANY", 10)

    def never(*_args: object) -> Iterator[SessionTally]:
        raise AssertionError("the sittings were worked out here")

    monkeypatch.setattr(Journal, "tallies", never)
    read: list[str] = []
    walks = Journal.walks

    def counted(journal: Journal, runs: Sequence[str]) -> Iterator[Walked]:
        read.extend(runs)
        return walks(journal, runs)

    monkeypatch.setattr(Journal, "walks", counted)
    # a file that would be found first if the folder one stands in were looked through for modules
    monkeypatch.chdir(home)
    (home / "json.py").write_text("raise SystemExit(3)")
    assert told(capsys) == alone
    with Journal(home / "journal.sqlite3") as journal:
        assert set(read) < set(journal.tips("run"))


def test_without_the_other_process_it_takes_longer_and_says_the_same(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    right = told(capsys)
    for wrong in ("no such program", "/bin/false"):
        forget(home)
        monkeypatch.setattr("sys.executable", wrong)
        assert told(capsys) == right
    forget(home)
    monkeypatch.setattr("os.cpu_count", lambda: 1)
    monkeypatch.setattr(subprocess, "Popen", lambda *_a, **_k: pytest.fail("one core, one process"))
    assert told(capsys) == right


def test_damage_is_told_by_the_review_itself(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    base = sqlite3.connect(home / "journal.sqlite3")
    base.execute("DROP TRIGGER event_no_update")
    base.execute("UPDATE event SET data = substr(data, 2) WHERE number = 700")
    base.commit()
    base.close()
    assert main(["review"]) == 2
    assert "event 700" in capsys.readouterr().err
