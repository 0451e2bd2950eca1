"""The screen's side of the voice against a scripted helper."""

from __future__ import annotations

import json
import os
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from companion.devices.voice import client
from companion.devices.voice.client import Voice

FAKE = Path(__file__).with_name("fake_helper.py")


class Heard:
    """Collects events and lets a test wait for one."""

    def __init__(self) -> None:
        self.events: list[dict[str, Any]] = []
        self.statuses: list[str] = []
        self._changed = threading.Condition()

    def event(self, event: dict[str, Any]) -> None:
        with self._changed:
            self.events.append(event)
            self._changed.notify_all()

    def status(self, status: str) -> None:
        with self._changed:
            self.statuses.append(status)
            self._changed.notify_all()

    def until(self, true: Callable[[], bool], within_s: float = 10.0) -> None:
        with self._changed:
            assert self._changed.wait_for(true, within_s), (self.events, self.statuses)


def make(manner: str, log: Path) -> tuple[Voice, Heard]:
    heard = Heard()
    command = [sys.executable, str(FAKE), manner, str(log)]
    return Voice(command, on_status=heard.status, on_event=heard.event), heard


def asked(log: Path) -> list[dict[str, Any]]:
    lines = log.read_text(encoding="utf-8").splitlines()
    return [json.loads(line) for line in lines if line.startswith("{")]


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Path]:
    yield tmp_path / "log"


def test_speaks_and_ends(log: Path) -> None:
    voice, heard = make("ends", log)
    voice.say("Thread hole 7.", cue="next")
    heard.until(lambda: any(e["event"] == "end" for e in heard.events))
    assert voice.status == "ready"
    voice.close()
    said = [m for m in asked(log) if m["do"] == "say"]
    assert [(m["text"], m["cue"]) for m in said] == [("Thread hole 7.", "next")]


def test_calls_return_at_once_even_when_the_helper_hangs(log: Path) -> None:
    voice, _ = make("hangs", log)
    started = time.monotonic()
    for i in range(1000):
        voice.say(f"prompt {i}")
    assert time.monotonic() - started < 0.5
    voice.close()


def test_a_hung_helper_is_restarted_once_and_the_newest_said_again(
    log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(client, "START_S", 0.3)
    monkeypatch.setattr(client, "READY_S", 3.0)
    voice, heard = make("hangs", log)
    heard.until(lambda: voice.status == "ready")
    voice.say("first")
    heard.until(lambda: voice.status == "failed")
    starts = [x for x in log.read_text().splitlines() if x.startswith("started")]
    assert len(starts) == 2
    assert [m["text"] for m in asked(log) if m["do"] == "say"] == ["first", "first"]
    assert "switched off" in voice.status_text
    voice.close()


@pytest.mark.parametrize("manner", ["exit-1", "dies-mid-line"])
def test_a_dying_helper_is_tried_twice_then_off_and_no_call_raises(manner: str, log: Path) -> None:
    voice, heard = make(manner, log)
    voice.say("first")
    heard.until(lambda: voice.status == "failed")
    voice.say("second")
    voice.cue("next")
    voice.prepare(["third"])
    voice.stop()
    starts = [x for x in log.read_text().splitlines() if x.startswith("started")]
    assert len(starts) == 2
    for line in starts:  # no zombie: the processes are gone from the table
        with pytest.raises(ProcessLookupError):
            os.kill(int(line.split()[1]), 0)
    voice.close()


def test_killed_with_minus_9_comes_back_and_says_so(
    log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    voice, heard = make("ends", log)
    heard.until(lambda: voice.status == "ready")
    assert (voice.status_text, voice.status_mark) == ("", "")
    first = voice.helper_pid
    assert first is not None
    os.kill(first, 9)
    heard.until(lambda: sum(e["event"] == "ready" for e in heard.events) == 2)
    assert voice.helper_pid != first
    assert voice.status_text == "Speech stopped and was started again."
    assert voice.status_mark == "voice restarted"
    monkeypatch.setattr(client, "RESTART_TOLD_S", 0.0)
    assert (voice.status_text, voice.status_mark) == ("", "")
    voice.say("still here")
    heard.until(lambda: any(e["event"] == "end" for e in heard.events))
    voice.close()


def test_no_engine_says_what_to_install(log: Path) -> None:
    voice, heard = make("no-engine", log)
    heard.until(lambda: voice.status == "no_engine")
    assert "pip install" in voice.status_text
    voice.close()


def test_order_of_urgency(log: Path) -> None:
    voice, heard = make("starts", log)
    voice.say("Stop the saw.", "stop")
    heard.until(lambda: any(e["event"] == "start" for e in heard.events))
    voice.say("Spin at the next corner.", "ahead")
    voice.say("Half way.", "note")
    voice.say("Blade tight?", "guard")
    voice.close()
    said = [m["text"] for m in asked(log) if m["do"] == "say"]
    assert said == ["Stop the saw.", "Blade tight?"]


def test_nothing_twice_by_accident_but_again_repeats(log: Path) -> None:
    voice, heard = make("ends", log)
    voice.say("Clear the waste.")
    voice.say("Clear the waste.")
    heard.until(lambda: any(e["event"] == "end" for e in heard.events))
    voice.again()
    heard.until(lambda: sum(e["event"] == "end" for e in heard.events) == 2)
    voice.close()
    assert [m["text"] for m in asked(log) if m["do"] == "say"] == ["Clear the waste."] * 2


def test_muted_is_silent(log: Path) -> None:
    voice, heard = make("ends", log)
    heard.until(lambda: voice.status == "ready")
    voice.mute(True)
    voice.say("unheard")
    voice.again()
    assert voice.status == "off"
    voice.mute(False)
    voice.say("heard")
    heard.until(lambda: any(e["event"] == "end" for e in heard.events))
    voice.close()
    assert [m["text"] for m in asked(log) if m["do"] == "say"] == ["heard"]
