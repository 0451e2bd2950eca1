"""Many events: ten years whole when asked for, a small part of them in every run."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from companion.cli.main import main
from companion.journal.store import Journal
from companion.review.digest import summary
from tests.benchmarks.review_million import forget, timed
from tests.benchmarks.years import LIGHT, MOST, WAYS, Way, fill, mix

EVENTS = 30_000
ALL_S, ONE_S = 3.0, 0.5
"""What a review of ten years may take, of all and of one project."""
SLACK = 1.5
"""What a core that others share may take longer for the same (measured: 1.4 at a load of 7)."""


def test_reviews_of_many_events_are_quick(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A thirty-third of ten years; of the processor, since a busy machine is no slow review."""
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path))
    with Journal(tmp_path / "journal.sqlite3") as journal:
        fill(journal, EVENTS, 10, LIGHT)
        assert journal.count() == EVENTS
        # a tenth to two tenths alone on a machine, first or again
        begun = time.process_time()
        first = summary(journal)
        assert time.process_time() - begun < 1.0
        begun = time.process_time()
        assert summary(journal) == first
        assert time.process_time() - begun < 0.5
        assert first.totals.runs_done > 40 and len({r.project for r in first.runs}) == 10
    begun = time.process_time()
    assert main(["review", "Project 7"]) == 0
    assert time.process_time() - begun < ONE_S
    assert "Project 7" in capsys.readouterr().out


@pytest.mark.slow
@pytest.mark.parametrize("ways", [WAYS, MOST], ids=["real", "most"])
def test_review_of_ten_years(tmp_path: Path, ways: tuple[Way, ...]) -> None:
    """By the clock where the machine has nothing else to do, else by the processor's seconds."""
    with Journal(tmp_path / "journal.sqlite3") as journal:
        fill(journal, 1_000_000, ways=ways)
        assert journal.count() == 1_000_000
    for which, wanted_s in (("", ALL_S), ("Project 7", ONE_S)):
        arguments = ["review", which] if which else ["review"]
        for first in (True, False):
            if first:
                forget(tmp_path)
            busy = os.getloadavg()[0] > 1.5  # this test's own process is one of them
            wall_s, own_s = timed(tmp_path, *arguments)
            # two processes share a first review of all
            assert own_s < SLACK * wanted_s * (2 if first else 1), (which, first, own_s)
            assert busy or wall_s < wanted_s, (which, first, wall_s)


def test_the_light_mix_is_near_the_real_one() -> None:
    """As told in ``years``: nearly half is progress, and a third confirmations."""
    light = mix(LIGHT)
    assert 0.45 < light["progress"] < 0.53 and 0.25 < light["step-done"] < 0.35
    assert {"mishap", "note", "pause", "stop", "resumed", "hole-done"} <= light.keys()


@pytest.mark.slow
@pytest.mark.parametrize("skill", ["beginner", "practised", "terse"])
def test_the_mix_is_what_is_told_of_it(skill: str) -> None:
    real = mix(w for w in WAYS if w.skill == skill)
    for kind, share in (("progress", 0.47), ("step-done", 0.335), ("guard-passed", 0.07)):
        assert real[kind] == pytest.approx(share, abs=0.02)
    assert mix(MOST)["progress"] < min(mix([w])["progress"] for w in WAYS if w not in MOST) + 0.001
