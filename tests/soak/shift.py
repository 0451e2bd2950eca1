"""A day in one life left in peace, then shorter ones that are killed in mid-step."""

from __future__ import annotations

import json
import random
import signal
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path

from companion.journal.store import Journal

KILLED_SHARE = 0.1
"""Of the day, at most, for each of the lives that are killed afterwards."""
WALL_S = 1_700_000_000.0


@dataclass
class Told:
    """What one life told."""

    rows: list[dict[str, float]] = field(default_factory=list)
    killed: bool = False
    resumed: bool = False
    """The journal says that it went on with the run before."""
    trouble: str = ""

    @property
    def seconds(self) -> int:
        """Simulated."""
        return int(self.rows[-1]["second"]) if self.rows else 0


def one_life(folder: Path, seconds: int, seed: int, wall_s: float, kill_at: int | None) -> Told:
    """Let it live, or kill it when it has told so many rows."""
    command = [sys.executable, "-m", "tests.soak.life", str(folder), str(seconds), str(seed),
               str(wall_s)]  # fmt: skip
    told = Told()
    # into a file: a pipe that nobody empties would hold the child up
    with (folder / "errors.txt").open("w+") as errors:
        child = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=errors, text=True)
        assert child.stdout is not None
        for line in child.stdout:
            told.rows.append(json.loads(line))
            if kill_at is not None and len(told.rows) >= kill_at:
                child.send_signal(signal.SIGKILL)
                told.killed = True
                break
        child.stdout.close()
        code = child.wait()
        errors.seek(0)
        wrong = errors.read()
    if "Traceback" in wrong or (code and not told.killed):
        told.trouble = f"code {code}: {wrong[-800:]}"
    return told


def shift(folder: Path, hours: float, seed: int = 1, lives: int = 6) -> list[Told]:
    """Work a day of so many hours in one life, then some that are killed.

    Raises:
        AssertionError: something was lost over a kill, or the journal is damaged.
    """
    chance = random.Random(seed)
    first = max(2, int(hours * 12))
    rest = max(1, int(first * KILLED_SHARE))
    day: list[Told] = []
    wall_s, before = WALL_S, 0
    for life in range(lives):
        own = first if life == 0 else rest
        kill_at = None if life == 0 else chance.randint(1, own)
        told = one_life(folder, own * 300, seed + life, wall_s, kill_at)
        assert not told.trouble, told.trouble
        with Journal(folder / "journal.sqlite3") as journal:
            assert journal.check() == []
            events = list(journal.events())
        # what a life told of before it was killed is there
        assert len(events) >= told.rows[-1]["events"] > before
        # and the next one goes on with the same run of the same batch
        starts = [e for e in events if e.kind in ("session-start", "resumed")]
        told.resumed = any(e.kind == "resumed" for e in events[before:])
        assert told.resumed == (life > 0), [e.kind for e in starts[-4:]]
        before, wall_s = len(events), events[-1].wall_s + 60.0
        day.append(told)
    return day


def growth(told: Told) -> dict[str, float]:
    """How much more is held at the end than after the first fifth, by kind."""
    begin = told.rows[max(0, len(told.rows) // 5 - 1)]
    return {k: told.rows[-1][k] - begin[k] for k in ("mb", "files", "threads", "children")}
