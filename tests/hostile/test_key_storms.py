"""Keys that no foot sends, into the real screen on a pseudo-terminal: no traceback, no guard.

Random bytes hold everything but the keys that confirm or leave (space, enter, d, right, q,
Ctrl-C): a sawyer may press those, so they would prove nothing. The long ones are slow.
"""

from __future__ import annotations

import fcntl
import os
import random
import struct
import termios
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from companion.journal.store import Journal
from tests.tui.test_terminal import SETTINGS, Terminal

CONFIRMS = b" \r\nd\x03\x11\x04\x1aqCM\x0f\x1c\x13"
"""Confirm, leave, stop the process or the terminal's output; and ends of such sequences."""
SAFE = bytes(b for b in range(256) if b not in CONFIRMS)


def noise(chance: random.Random) -> bytes:
    return bytes(chance.choice(SAFE) for _ in range(chance.randint(1, 200)))


def escapes(chance: random.Random) -> bytes:
    """Sequences begun, broken off, and far too long."""
    return chance.choice(
        [b"\x1b", b"\x1b[", b"\x1b[" + b"9" * 300 + b"~", b"\x1b[1;2;3;4;5u", b"\x1b]0;title\x07",
         b"\x1b[99;99R", b"\x1b[?1;2c", b"\x1bP" + b"z" * 50 + b"\x1b\\", b"\x1b[57441;1:3u",
         b"\x1bOP", b"\x1b[15~", b"\x1b[<", b"\x9b5A", b"\x1b[200~", b"\x1b[201~"]
    )  # fmt: skip


def paste(chance: random.Random) -> bytes:
    """A paste full of confirmations: text, not keys."""
    return b"\x1b[200~" + chance.choice([b" " * 50, b"\r\n" * 20, b"d d d", b"q"]) + b"\x1b[201~"


def mouse(chance: random.Random) -> bytes:
    place = f"{chance.randint(0, 99)};{chance.randint(-5, 400)};{chance.randint(0, 200)}"
    return b"\x1b[<" + place.encode() + chance.choice([b"M", b"m"])


def focus(chance: random.Random) -> bytes:
    return chance.choice([b"\x1b[I", b"\x1b[O"]) * chance.randint(1, 20)


STORMS: dict[str, Callable[[random.Random], bytes]] = {
    "noise": noise, "escapes": escapes, "paste": paste, "mouse": mouse, "focus": focus,
}  # fmt: skip


def resize(terminal: Terminal, chance: random.Random) -> None:
    size = (chance.choice([1, 2, 5, 24, 40, 60, 300]), chance.choice([1, 3, 20, 80, 120, 500]))
    fcntl.ioctl(terminal.screen, termios.TIOCSWINSZ, struct.pack("HHHH", *size, 0, 0))


def storm(home: Path, kinds: list[str], seconds: float, seed: int) -> None:
    """Send for so long, then leave; what the journal holds must be what the foot did: nothing."""
    (home / "settings.toml").write_text(SETTINGS, encoding="utf-8")
    chance = random.Random(seed)
    terminal = Terminal(home)
    terminal.until("READY", 90.0)
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        os.write(terminal.screen, STORMS[chance.choice(kinds)](chance))
        if chance.random() < 0.2:
            resize(terminal, chance)
        terminal.listen(0.03)
        assert b"Traceback" not in terminal.whole
    # out of whatever lists and lines stand open, then leave
    fcntl.ioctl(terminal.screen, termios.TIOCSWINSZ, struct.pack("HHHH", 40, 120, 0, 0))
    os.write(terminal.screen, b"\x1b[201~")
    code = None
    for _ in range(60):
        os.write(terminal.screen, b"\x1b")
        terminal.listen(0.5)
        try:
            os.write(terminal.screen, b"q")
        except OSError:
            pass
        terminal.listen(0.3)
        pid, status = os.waitpid(terminal.pid, os.WNOHANG)
        if pid:
            code = os.waitstatus_to_exitcode(status)
            break
    if code is None:
        terminal.kill()
    assert code == 0, "it leaves when asked"
    assert b"Traceback" not in terminal.whole
    with Journal(home / "journal.sqlite3") as journal:
        kinds_found = {e.kind for e in journal.events()}
        assert journal.check() == []
    passed = kinds_found & {"checklist-done", "guard-passed", "step-done"}
    assert not passed and "session-start" in kinds_found


@pytest.mark.parametrize("kinds", [sorted(STORMS)], ids=["all"])
def test_a_short_storm(tmp_path: Path, kinds: list[str]) -> None:
    storm(tmp_path, kinds, 4.0, seed=7)


@pytest.mark.slow
@pytest.mark.parametrize("kind", sorted(STORMS))
def test_a_long_storm_of_one_kind(tmp_path: Path, kind: str) -> None:
    storm(tmp_path, [kind], 30.0, seed=11)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(5))
def test_a_long_storm_of_all_kinds(tmp_path: Path, seed: int) -> None:
    storm(tmp_path, sorted(STORMS), 60.0, seed)
