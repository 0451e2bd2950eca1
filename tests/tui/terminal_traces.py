"""Random feet through the real screen in a real pseudo-terminal.

Run: ``python -m tests.tui.terminal_traces [TRACES] [PROCESSES]`` on a turned clock, or
``… real [TRACES] [PROCESSES]`` with real bytes at real times. Each trace begins a run of its
own somewhere in a plan and makes some gestures: taps, doubles, holds at 11 to 30 repeats a
second, hasty pairs of taps, all with bounce. After each gesture the place of the session and
the words on the screen are compared with the ledger of tests.tui.trace_model, after each
trace the journal on disk.
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
import pty
import random
import signal
import struct
import sys
import tempfile
import termios
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from companion.journal.store import Journal
from companion.session.texts import shop_texts
from tests.tui.plans import small_plan
from tests.tui.trace_model import Gesture, Ledger, random_gesture

GESTURES = 6
"""In one trace."""
QUIET_S = 2.0
"""After each gesture: longer than it takes any press to be told for certain."""
SLACK_S = 0.02
"""A real terminal may put presses so much apart or together before a trace is void."""
UNTOLD = {"session-start", "run-start", "run-dropped", "resumed", "progress", "leave",
          "asleep", "clock-set"}  # fmt: skip
"""Kinds of events that no gesture makes."""
WORDS = {"checklist": "CHECKLIST", "guard": "POWER-ON CHECK", "pause": "PAUSED", "summary": "DONE"}


@dataclass
class Tally:
    """What was run."""

    traces: int = 0
    gestures: int = 0
    presses: int = 0
    records: int = 0
    void: int = 0
    """Real gestures whose presses came too far from their times to be judged exactly."""

    def add(self, other: Tally) -> None:
        for name, value in vars(other).items():
            setattr(self, name, getattr(self, name) + value)


class Screen:
    """One process of tests.tui.trace_app behind a pseudo-terminal."""

    def __init__(self, home: Path, real: bool, dwell_s: float | None = None) -> None:
        self.real = real
        orders, self._orders = os.pipe()
        self._answers, answers = os.pipe()
        self.pid, self.terminal = pty.fork()
        if self.pid == 0:
            for fd in (orders, answers):
                os.set_inheritable(fd, True)
            os.environ.update(TERM="xterm-256color", TRACE_ORDERS=str(orders),
                              TRACE_ANSWERS=str(answers))  # fmt: skip
            command = [sys.executable, "-m", "tests.tui.trace_app", str(home / "journal.sqlite3"),
                       "real" if real else "turned"]  # fmt: skip
            command += [] if dwell_s is None else [str(dwell_s)]
            os.execv(sys.executable, command)
        os.close(orders)
        os.close(answers)
        fcntl.ioctl(self.terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self.painted = 0
        threading.Thread(target=self._drain, daemon=True).start()
        self._lines = os.fdopen(self._answers, "rb")

    def _drain(self) -> None:
        with contextlib.suppress(OSError):
            while data := os.read(self.terminal, 1 << 16):
                self.painted += len(data)

    def order(self, **what: Any) -> dict[str, Any]:  # noqa: ANN401  # JSON
        os.write(self._orders, json.dumps(what).encode() + b"\n")
        return self.answer()

    def answer(self) -> dict[str, Any]:
        line = self._lines.readline()
        assert line, "the screen has ended"
        told: dict[str, Any] = json.loads(line)
        return told

    def make(self, gesture: Gesture) -> tuple[dict[str, Any], float]:
        """Make a gesture; where the work stands after it, and when its first press was."""
        if self.real:
            time.sleep(gesture.rest_s)
        self.order(op="keys", at=gesture.presses, rest=gesture.rest_s, after=QUIET_S)
        if self.real:
            began = time.monotonic()
            for at_s in gesture.presses:
                time.sleep(max(0.0, began + at_s - time.monotonic()))
                os.write(self.terminal, b" ")
        else:
            os.write(self.terminal, b" " * len(gesture.presses))
        told = self.answer()
        if self.real:
            time.sleep(QUIET_S)
            told = {**self.order(op="look"), "seen": told["seen"]}
        return told, told["seen"][0]

    def end(self) -> None:
        with contextlib.suppress(OSError):
            os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)


def as_made(gesture: Gesture, seen: list[float]) -> bool:
    """Whether the presses reached the screen in the times at which they were made."""
    made = [b - a for a, b in zip(gesture.presses, gesture.presses[1:], strict=False)]
    came = [b - a for a, b in zip(seen, seen[1:], strict=False)]
    return all(abs(a - b) < SLACK_S for a, b in zip(made, came, strict=True))


def one_trace(screen: Screen, journal: Path, seed: int) -> Tally:
    """Run one trace and judge it.

    Raises:
        AssertionError: the screen, the session or the log are not where they must be.
    """
    dice = random.Random(seed)
    texts, plan = shop_texts(), small_plan()
    checks, guards = len(texts.checklist), len(texts.guard)
    each = dice.random() < 0.5
    ledger = Ledger(plan, checks, guards, len(texts.first), len(texts.reentry), each)
    # a third begins in the checklist, the others anywhere on the way
    skip = dice.randint(0, checks - 1) if dice.random() < 0.3 else checks + dice.randint(0, 38)
    told = screen.order(op="begin", skip=skip, each=each)
    for _ in range(skip):
        ledger.tap(ledger.shown_s + 10.0)
    ledger.shown_s = told["now"]
    tally = Tally(traces=1)
    for _ in range(GESTURES):
        gesture = random_gesture(dice)
        before = ledger.place
        told, at_s = screen.make(gesture)
        tally.gestures += 1
        tally.presses += len(gesture.presses)
        if screen.real and not as_made(gesture, told["seen"]):
            # the terminal made another gesture of it; no guard may be passed all the same
            tally.void += 1
            assert told["place"][1] >= before[1] - 1 and told["place"][1] <= before[1] + 2
            assert not (before[0] == "guard" and told["powered"])
            return tally
        ledger.gesture(gesture, at_s)
        where = f"seed {seed}: {gesture.name} at {before}: {told}"
        assert tuple(told["place"]) == ledger.place, f"{where}, wanted {ledger.place}"
        assert told["powered"] == (ledger.mode == "step" and ledger._powered()), where
        assert told["word"] == WORDS.get(ledger.mode, told["word"]), where
        if ledger.mode == "step":
            assert told["word"] not in WORDS.values(), where
            assert f"step {ledger.step + 1} of {len(plan.steps)}" in told["shown"], where
    with Journal(journal) as book:
        kinds = [e.kind for e in book.events(sessions=[told["session"]]) if e.kind not in UNTOLD]
    assert kinds == ledger.records, f"seed {seed}: the log holds {kinds}"
    tally.records += len(kinds)
    return tally


def run(traces: int, seed: int = 0, real: bool = False, dwell_s: float | None = None) -> Tally:
    """Run traces through one process; a dwell is a fault put in."""
    tally = Tally()
    with tempfile.TemporaryDirectory(dir=os.environ.get("TRACE_FOLDER")) as folder:
        screen = Screen(Path(folder), real, dwell_s)
        try:
            for n in range(traces):
                tally.add(one_trace(screen, Path(folder) / "journal.sqlite3", seed + n))
        finally:
            screen.end()
        assert screen.painted > 0
    return tally


def main() -> None:
    """Run as many as asked for, in as many processes."""
    words = sys.argv[1:]
    real = words[:1] == ["real"]
    traces, processes = ([int(w) for w in words[real:]] + [10_000, 2][len(words) - real :])[:2]
    began = time.monotonic()
    share = -(-traces // processes)
    with ThreadPoolExecutor(processes) as pool:
        parts = pool.map(lambda n: run(share, 1_000_000 * (n + 1), real), range(processes))
        total = Tally()
        for part in parts:
            total.add(part)
    print(f"{total}, none astray, {time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main()
