"""Killed at any moment: nothing that was confirmed is lost, and the run goes on at its step."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from companion.journal.store import Journal
from companion.session.clock import SystemClock
from companion.session.walk import Walk
from tests.session.plans import machine, plan

KILLS_EACH = 25
ROOT = Path(__file__).resolve().parents[2]
pytestmark = pytest.mark.skipif(os.name == "nt", reason="kill -9 is asked for")


def killed_once(path: Path, moment: random.Random) -> None:
    """Let a walk run, kill it at some moment, and look at what it left."""
    before = 0
    if path.exists():
        with Journal(path) as journal:
            before = journal.count()
    child = subprocess.Popen(
        [sys.executable, "-m", "tests.journal.walker", str(path)], cwd=ROOT,
        stdout=subprocess.PIPE,
    )  # fmt: skip
    assert child.stdout is not None
    first = child.stdout.readline()
    assert first.startswith(b"taken")
    time.sleep(moment.uniform(0.0, 0.15))
    child.send_signal(signal.SIGKILL)
    lines = (first + child.stdout.read()).split(b"\n")
    child.stdout.close()
    child.wait()
    run, step, count = (int(v) for v in lines[-2].split()[1:])
    with Journal(path) as journal:
        assert journal.check() == []
        # at most the one input in hand may have been written and not yet told; each writes <= 4
        assert count <= journal.count() <= count + 4
        assert journal.count() > before
        walk = Walk(machine(plan(cuts=60)), journal, SystemClock())
        walk.begin()
        # the run a killed walk was in, or the step after it
        assert (walk.state.run, walk.state.step) in around(run, step)
        assert walk.state.mode == "checklist"


def around(run: int, step: int) -> set[tuple[int, int]]:
    """Where the one input in hand can have led."""
    return {(run, step), (run, step + 1), (run, step - 1), (run + 1, 0)}


def test_killed_at_random_moments(tmp_path: Path) -> None:
    moment = random.Random(5)
    for _ in range(8):
        killed_once(tmp_path / "j.sqlite3", moment)


@pytest.mark.slow
def test_killed_at_a_thousand_random_moments(tmp_path: Path) -> None:
    moment = random.Random(6)
    for n in range(1000):
        # a new journal now and then: each is looked at whole after every kill
        killed_once(tmp_path / f"j{n // KILLS_EACH}.sqlite3", moment)
