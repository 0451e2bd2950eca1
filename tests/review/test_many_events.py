"""Many events: the small version of tests/benchmarks/review_million."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from companion.cli.main import main
from companion.journal.store import Journal
from companion.review.digest import summary
from tests.benchmarks.review_million import fill

EVENTS = 30_000


def test_reviews_of_many_events_are_quick(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A thirty-third of ten years; of the processor, since a busy machine is no slow review."""
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path))
    with Journal(tmp_path / "journal.sqlite3") as journal:
        fill(journal, EVENTS)
        assert journal.count() >= EVENTS
        first = summary(journal)
        begun = time.process_time()
        assert summary(journal) == first
        # two to three tenths alone on a machine; two tests at once double it
        assert time.process_time() - begun < 1.0
        assert first.totals.runs_done > 150 and len({r.project for r in first.runs}) == 60
    begun = time.process_time()
    assert main(["review", "Project 7"]) == 0
    assert time.process_time() - begun < 0.5
    assert "Project 7" in capsys.readouterr().out
