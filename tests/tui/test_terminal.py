"""The real command in a real pseudo-terminal: walked by the pedal's key, killed, resumed.

Slow: the walk waits for guards as a sawyer would.
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
import pty
import re
import resource
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from companion.session.texts import shop_texts
from companion.shop.model import CheckItem

pytestmark = pytest.mark.slow

PROJECT = Path(__file__).parents[2] / "demo_projects" / "harbour_sign"
ESCAPES = re.compile(rb"\x1b\[[0-9;?=>:]*[a-zA-Z$]|\x1b[()][A-Z0-9]")
SETTINGS = """[sawyer]
skill = "terse"
[voice]
speech = false
"""


class Terminal:
    """One run of ``kerfside saw`` behind a pseudo-terminal."""

    def __init__(self, home: Path, file_limit: int | None = None, **environment: str) -> None:
        self.pid, self.screen = pty.fork()
        if self.pid == 0:
            if file_limit is not None:
                # no file may grow beyond: what a full disk does, to this process alone
                resource.setrlimit(resource.RLIMIT_FSIZE, (file_limit, resource.RLIM_INFINITY))
            os.environ.update(TERM="xterm-256color", KERFSIDE_HOME=str(home), **environment)
            command = [sys.executable, "-m", "companion", "saw", str(PROJECT), "--silent"]
            os.execv(sys.executable, command)
        size = struct.pack("HHHH", 40, 120, 0, 0)
        fcntl.ioctl(self.screen, termios.TIOCSWINSZ, size)
        self.raw = b""
        self.whole = b""

    def listen(self, seconds: float) -> str:
        """Read for a while; the words since the last key."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if select.select([self.screen], [], [], 0.02)[0]:
                try:
                    data = os.read(self.screen, 1 << 16)
                except OSError:
                    break
                self.raw += data
                self.whole += data
        return ESCAPES.sub(b"", self.raw).decode("utf-8", "replace")

    def until(self, words: str, limit_s: float = 30.0) -> None:
        """Read until the words have been shown since the last key."""
        end = time.monotonic() + limit_s
        while words not in (text := self.listen(0.05)):
            assert time.monotonic() < end, f"no {words!r} in {text[-400:]!r}"

    def key(self, key: str, words: str = "") -> None:
        """Press a key and wait for words."""
        self.raw = b""
        os.write(self.screen, key.encode())
        if words:
            self.until(words)

    def fill_disk(self, full: bool) -> None:
        """Let no file of the program grow any more, or again."""
        limit = 0 if full else resource.RLIM_INFINITY
        resource.prlimit(self.pid, resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))

    def kill(self) -> None:
        """As a power cut would."""
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        os.close(self.screen)

    def ended(self) -> str:
        """Read until the program has nothing more to say; the words."""
        end = time.monotonic() + 20.0
        while time.monotonic() < end:
            if select.select([self.screen], [], [], 0.05)[0]:
                try:
                    data = os.read(self.screen, 1 << 16)
                except OSError:
                    break
                if not data:
                    break
                self.raw += data
                self.whole += data
        text = ESCAPES.sub(b"", self.raw).decode("utf-8", "replace")
        return " ".join(text.split())

    def end(self) -> int:
        """Wait for the end; the exit code."""
        end = time.monotonic() + 10.0
        while time.monotonic() < end:
            self.listen(0.05)
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                os.close(self.screen)
                return os.waitstatus_to_exitcode(status)
        raise AssertionError("it did not end")


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Path]:
    (tmp_path / "config").mkdir()
    for place in (tmp_path / "config", tmp_path):
        (place / "settings.toml").write_text(SETTINGS, encoding="utf-8")
    _kerfside(tmp_path, "plan", str(PROJECT))
    yield tmp_path


def _kerfside(home: Path, *arguments: str) -> str:
    return subprocess.run(
        [sys.executable, "-m", "companion", *arguments], capture_output=True, text=True,
        check=True, env={**os.environ, "KERFSIDE_HOME": str(home)},
    ).stdout  # fmt: skip


def _through_the_checklist(terminal: Terminal, items: int) -> None:
    terminal.until("READY")
    time.sleep(0.8)
    terminal.key(" ", f"1 of {items}")
    for n in range(2, items + 1):
        time.sleep(0.8)
        terminal.key(" ", f"{n} of {items}")
    time.sleep(0.8)


def _through_the_guard(terminal: Terminal, items: Sequence[CheckItem], then: str) -> None:
    """Pass the check that is shown, each item seen checked before the next press.

    Waiting for the screen and not for a time: on a busy machine a press that comes before
    its item is shown counts for nothing, as it should.
    """
    for item in items[:-1]:
        time.sleep(0.8)
        terminal.key(" ", f"[x] {item.say[:12]}")  # long ones go over two lines
    time.sleep(0.8)
    terminal.key(" ", then)


def test_a_run_by_the_pedal_alone_killed_in_a_cut_and_resumed(home: Path) -> None:
    texts = shop_texts()
    items, first_cut = len(texts.checklist), (*texts.first, *texts.guard)
    steps = json.loads(_kerfside(home, "plan", str(PROJECT), "--json"))["steps"]
    terminal = Terminal(home)
    _through_the_checklist(terminal, items)
    terminal.key(" ", "step 1 of")
    killed_at = next(s["number"] for s in steps if s["stage"] == "cut")
    at = 1
    while at < killed_at:
        time.sleep(0.8)
        terminal.key(" ", f"step {at + 1} of")
        at += 1
    # a held key, thirty a second for three seconds, passes no item of the guard
    terminal.listen(1.0)
    for n in range(90):
        os.write(terminal.screen, b" ")
        time.sleep(0.5 if n == 0 else 0.033)
    terminal.listen(2.0)
    terminal.key("p", "POWER-ON CHECK")
    _through_the_guard(terminal, first_cut, "CUTTING")
    terminal.kill()

    terminal = Terminal(home)
    _through_the_checklist(terminal, items)
    terminal.key(" ", f"step {killed_at} of")
    guard, cut_open = first_cut, True
    for step in steps[killed_at - 1 :]:
        if step["stage"] == "cut" and cut_open:
            _through_the_guard(terminal, guard, "CUTTING")
            guard = texts.guard
        # between legs of one cut the saw runs on, and no guard is asked for
        following = steps[step["number"] : step["number"] + 1]
        cut_open = not (following and following[0]["cut"] == step["cut"]
                        and following[0]["stage"] == step["stage"] == "cut")  # fmt: skip
        terminal.listen(1.0)
        terminal.key(" ", f"step {step['number'] + 1} of" if following else "DONE")
    terminal.key("q")
    assert terminal.end() == 0
    review = json.loads(_kerfside(home, "review", "--json"))
    told = json.dumps(review)
    assert "Harbour sign" in told
    assert len(review["sessions"]) == 2


def test_no_colour_means_no_colour(home: Path) -> None:
    terminal = Terminal(home, NO_COLOR="1")
    terminal.until("READY")
    terminal.key("q")
    assert terminal.end() == 0
    codes = {
        code for group in re.findall(rb"\x1b\[([0-9;]*)m", terminal.whole)
        for code in group.split(b";")
    }  # fmt: skip
    # bold, reverse, and the terminal's own ink and ground
    assert codes <= {b"", b"0", b"1", b"7", b"39", b"49"}


def test_ctrl_c_leaves_properly(home: Path) -> None:
    terminal = Terminal(home)
    terminal.until("READY")
    terminal.key("\x03")
    assert terminal.end() == 0
    # the terminal is given back: its alternate screen is left, its cursor shown
    assert b"\x1b[?1049l" in terminal.whole and b"\x1b[?25h" in terminal.whole


def test_a_closed_terminal_loses_nothing(home: Path) -> None:
    terminal = Terminal(home)
    _through_the_checklist(terminal, _items())
    terminal.key(" ", "step 1 of")
    time.sleep(0.8)
    terminal.key(" ", "step 2 of")
    os.close(terminal.screen)
    end = time.monotonic() + 10.0
    while time.monotonic() < end and not os.waitpid(terminal.pid, os.WNOHANG)[0]:
        time.sleep(0.05)
    with contextlib.suppress(ProcessLookupError):
        os.kill(terminal.pid, signal.SIGKILL)
    again = Terminal(home)
    _through_the_checklist(again, _items())
    again.key(" ", "step 2 of")
    again.key("q")
    assert again.end() == 0


def test_a_disk_that_is_full_at_the_start_is_told_without_a_traceback(home: Path) -> None:
    terminal = Terminal(home, file_limit=0)
    text = terminal.ended()
    assert terminal.end() == 2
    _no_traceback(terminal)
    assert "journal" in text and ("space" in text or "full" in text or "written" in text), text


def test_a_home_that_cannot_be_written_is_told_without_a_traceback(home: Path) -> None:
    (home / "file").write_text("in the way", encoding="utf-8")
    for place in (home / "file" / "below", Path("/proc/kerfside")):
        terminal = Terminal(place)
        text = terminal.ended()
        assert terminal.end() == 2
        _no_traceback(terminal)
        assert str(place) in text, text


def test_a_journal_that_is_none_is_told_without_a_traceback(home: Path) -> None:
    (home / "journal.sqlite3").write_bytes(b"this is no journal" * 300)
    terminal = Terminal(home)
    text = terminal.ended()
    assert terminal.end() == 2
    _no_traceback(terminal)
    assert "journal.sqlite3" in text, text


def test_a_disk_that_fills_up_at_the_saw_holds_the_step_and_goes_on_when_there_is_room(
    home: Path,
) -> None:
    terminal = Terminal(home)
    _through_the_checklist(terminal, _items())
    terminal.key(" ", "step 1 of")
    time.sleep(0.8)
    terminal.fill_disk(True)
    terminal.key(" ", "Look at the disk")
    assert "step 2 of" not in terminal.listen(1.0)
    # STOP waits for no disk
    terminal.key("x", "Hands away")
    terminal.fill_disk(False)
    time.sleep(1.0)
    terminal.key(" ", "POWER-ON CHECK")
    # no blade has run, and the work goes on with the saw off
    _through_the_guard(terminal, shop_texts().unpowered, "step 1 of")
    terminal.listen(1.0)
    terminal.key(" ", "step 2 of")
    terminal.key("q")
    assert terminal.end() == 0
    _no_traceback(terminal)
    kinds = [e["kind"] for e in _events(home)]
    assert kinds.count("step-done") == 1 and kinds.count("stop") == 1


def test_a_second_terminal_is_told_who_is_at_the_saw(home: Path) -> None:
    first = Terminal(home)
    first.until("READY")
    second = Terminal(home)
    text = second.ended()
    assert second.end() == 2
    _no_traceback(second)
    assert "another companion is at the saw" in text and "Harbour sign" in text
    assert "KERFSIDE_HOME" in text
    # the first has noticed nothing
    time.sleep(0.8)
    first.key(" ", "1 of")
    first.key("q")
    assert first.end() == 0


def _no_traceback(terminal: Terminal) -> None:
    assert b"Traceback" not in terminal.whole, terminal.whole[-2000:]


def _events(home: Path) -> list[dict[str, object]]:
    from companion.journal.store import Journal

    with Journal(home / "journal.sqlite3") as journal:
        return [{"kind": e.kind, **e.data} for e in journal.events()]


def _items() -> int:
    return len(shop_texts().checklist)
