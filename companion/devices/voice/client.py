"""The screen's side of the voice: asks, never waits, never raises.

One keeper thread owns the helper process: it starts it, passes requests on,
watches the time and restarts it once. Latest wins: a new prompt cuts the old.
What nobody asked for (turns ahead, notes) never cuts a more urgent prompt.
"""

from __future__ import annotations

import json
import queue
import subprocess
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from companion.devices.child import environment, module_command

Rank = Literal["stop", "guard", "step", "ahead", "note"]
Status = Literal["starting", "ready", "no_engine", "no_device", "failed", "off"]

URGENCY: dict[str, int] = {"stop": 0, "guard": 1, "step": 2, "ahead": 3, "note": 4}
UNASKED = frozenset({"ahead", "note"})
READY_S = 8.0
START_S = 3.0
RESTART_WITHIN_S = 60.0
TWICE_S = 1.0
RESTART_TOLD_S = 30.0
"""A restart is told for so long: long enough to be seen at the next look up."""

STATUS_TEXT: dict[str, str] = {
    "no_engine": "No speech engine found. Prompts are on the screen only. "
    "On Linux: pip install espeakng-loader. Cue sounds still play.",
    "no_device": "No sound output found. Prompts are on the screen only. "
    "Connect a speaker and press v twice to try again.",
    "failed": "Speech stopped working and was switched off. Press v twice to try again.",
    "off": "Voice off.",
    "restarted": "Speech stopped and was started again.",
}
STATUS_MARK: dict[str, str] = {
    "no_engine": "no voice",
    "no_device": "no sound",
    "failed": "voice failed",
    "restarted": "voice restarted",
}


@dataclass(frozen=True, slots=True)
class VoiceSettings:
    """How to speak."""

    wpm: int = 150
    """Words per minute, 130 to 180 advised."""
    voice: str = ""
    """Voice id of the engine; empty: by language."""
    volume: float = 1.0
    language: str = "en"


def helper_command(sounds: Path, null: bool = False, tap: Path | None = None) -> list[str]:
    """The command line of the helper process."""
    command = [*module_command("companion.devices.voice.helper"), "--sounds", str(sounds)]
    if null:
        command.append("--null")
    if tap:
        command += ["--tap", str(tap)]
    return command


class _Process:
    """One run of the helper: its pipes and the two threads that serve them."""

    def __init__(self, command: Sequence[str], inbox: queue.Queue[dict[str, Any]]) -> None:
        flags = getattr(subprocess, "CREATE_NO_WINDOW", 0)
        self._process = subprocess.Popen(
            list(command), stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL, text=True, encoding="utf-8", creationflags=flags,
            env=environment(),
        )  # fmt: skip
        self._lines: queue.Queue[str | None] = queue.Queue()
        self._inbox = inbox
        for target in (self._write, self._read):
            threading.Thread(target=target, daemon=True).start()

    @property
    def pid(self) -> int:
        return self._process.pid

    def send(self, message: dict[str, Any]) -> None:
        self._lines.put(json.dumps(message) + "\n")

    def _write(self) -> None:
        # a hung helper lets its pipe fill up: only this thread waits then
        stdin = self._process.stdin
        assert stdin is not None
        while (line := self._lines.get()) is not None:
            try:
                stdin.write(line)
                stdin.flush()
            except (OSError, ValueError):
                return

    def _read(self) -> None:
        stdout = self._process.stdout
        assert stdout is not None
        for line in stdout:
            try:
                event = json.loads(line)
            except ValueError:
                continue
            self._inbox.put({**event, "from": self})
        self._inbox.put({"event": "gone", "from": self})

    def end(self, kill: bool) -> None:
        """End it and wait, so that no zombie stays."""
        if kill:
            self._process.kill()
        else:
            self.send({"do": "quit"})
        self._lines.put(None)
        try:
            self._process.wait(timeout=2.0)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()


class Voice:
    """Speaks and plays cues; every call returns at once.

    Args:
        command: starts the helper, see :func:`helper_command`.
        settings: speed, voice, level, language.
        on_status: told from the keeper's thread whenever the status changes.
        on_event: told of every helper event (tests, set-up).
    """

    def __init__(
        self,
        command: Sequence[str],
        settings: VoiceSettings = VoiceSettings(),  # noqa: B008  # frozen
        on_status: Callable[[Status], None] | None = None,
        on_event: Callable[[dict[str, Any]], None] | None = None,
    ) -> None:
        self._command = list(command)
        self._settings = settings
        self._on_status = on_status
        self._on_event = on_event
        self._inbox: queue.Queue[dict[str, Any]] = queue.Queue()
        self._process: _Process | None = None
        self._status: Status = "starting"
        self._muted = False
        self._ids = 0
        self._last: tuple[str, Rank, float] = ("", "note", float("-inf"))
        self._speaking: tuple[int, Rank] | None = None
        self._prepared: list[str] = []
        self._deadline_s: float | None = None
        self._failed_s = float("-inf")
        self._restarted_s = float("-inf")
        self._newest: dict[str, Any] | None = None
        self._keeper = threading.Thread(target=self._keep, daemon=True)
        self._keeper.start()

    # -- what the screen calls --------------------------------------------------

    @property
    def status(self) -> Status:
        """What can be heard now."""
        return "off" if self._muted else self._status

    @property
    def status_text(self) -> str:
        """One sentence for the screen; empty when all is well."""
        return STATUS_TEXT.get(self._condition(), "")

    @property
    def status_mark(self) -> str:
        """The same in two words, for the corner of the screen."""
        return STATUS_MARK.get(self._condition(), "")

    def _condition(self) -> str:
        told = time.monotonic() - self._restarted_s < RESTART_TOLD_S
        return "restarted" if self.status == "ready" and told else self.status

    @property
    def helper_pid(self) -> int | None:
        """Process id of the helper, for tests and set-up."""
        return self._process.pid if self._process else None

    def say(self, text: str, rank: Rank = "step", cue: str | None = None) -> None:
        """Speak a prompt, cutting off what plays.

        What is not asked for by the sawyer (``ahead``, ``note``) is dropped while
        something more urgent is being said; the same text within a second too.
        """
        now = time.monotonic()
        if self._muted or not text:
            return
        speaking = self._speaking
        if rank in UNASKED and speaking and URGENCY[speaking[1]] < URGENCY[rank]:
            return
        if text == self._last[0] and now - self._last[2] < TWICE_S:
            return
        self._last = (text, rank, now)
        self._ask_say(text, rank, cue)

    def again(self) -> None:
        """Say the last prompt once more."""
        if self._last[0] and not self._muted:
            self._ask_say(self._last[0], self._last[1], None)

    def _ask_say(self, text: str, rank: Rank, cue: str | None) -> None:
        self._ids += 1
        self._speaking = (self._ids, rank)
        self._inbox.put({"ask": {"do": "say", "id": self._ids, "text": text, "cue": cue}})

    def cue(self, name: str) -> None:
        """Play a cue over whatever is being said."""
        if not self._muted:
            self._inbox.put({"ask": {"do": "cue", "name": name}})

    def stop(self) -> None:
        """Silence now."""
        self._ids += 1
        self._speaking = None
        self._inbox.put({"ask": {"do": "stop", "id": self._ids}})

    def prepare(self, texts: Sequence[str]) -> None:
        """Render these ahead, in this order."""
        self._prepared = list(dict.fromkeys(t for t in texts if t))
        self._inbox.put({"ask": {"do": "prepare", "texts": self._prepared}})

    def mute(self, muted: bool) -> None:
        """Switch the voice off or on; switching on tries a failed helper again."""
        if muted:
            self.stop()
        self._muted = muted
        if not muted:
            self._inbox.put({"ask": {"do": "retry"}})
        self._tell_status()

    def change(self, settings: VoiceSettings) -> None:
        """Use another speed, voice, level or language from now on."""
        self._settings = settings
        self._inbox.put({"ask": self._set_message()})

    def close(self) -> None:
        """End the helper; waits at most two seconds."""
        self._inbox.put({"ask": {"do": "close"}})
        self._keeper.join(timeout=3.0)

    # -- the keeper's thread ----------------------------------------------------

    def _set_message(self) -> dict[str, Any]:
        s = self._settings
        return {
            "do": "set", "wpm": s.wpm, "voice": s.voice,
            "volume": s.volume, "language": s.language,
        }  # fmt: skip

    def _tell_status(self) -> None:
        if self._on_status:
            self._on_status(self.status)

    def _set_status(self, status: Status) -> None:
        if status != self._status:
            self._status = status
            self._tell_status()

    def _start(self) -> None:
        try:
            self._process = _Process(self._command, self._inbox)
        except OSError:
            self._process = None
            self._set_status("failed")
            return
        self._deadline_s = time.monotonic() + READY_S
        self._process.send(self._set_message())
        if self._prepared:
            self._process.send({"do": "prepare", "texts": self._prepared})

    def _fail(self) -> None:
        """The helper is gone or hangs: once it is started again, then the voice is off."""
        now = time.monotonic()
        if self._process:
            self._process.end(kill=True)
        self._process, self._deadline_s = None, None
        again = now - self._failed_s > RESTART_WITHIN_S
        self._failed_s = now
        if not again:
            self._speaking = None
            self._set_status("failed")
            return
        self._restarted_s = now
        self._start()
        if self._process and self._newest:
            self._process.send(self._newest)
            self._deadline_s = now + READY_S + START_S

    def _keep(self) -> None:
        self._start()
        while True:
            wait = None if self._deadline_s is None else self._deadline_s - time.monotonic()
            try:
                item = self._inbox.get(timeout=None if wait is None else max(wait, 0.0))
            except queue.Empty:
                self._fail()
                continue
            if "ask" in item:
                if not self._pass_on(item["ask"]):
                    return
            elif item["from"] is self._process:
                self._hear(item)

    def _pass_on(self, ask: dict[str, Any]) -> bool:
        do = ask["do"]
        if do == "close":
            if self._process:
                self._process.end(kill=False)
            return False
        if do == "retry":
            if self._process is None:
                self._failed_s = float("-inf")
                self._start()
            elif self._status == "no_device":
                self._process.send({"do": "reopen"})
            return True
        if do == "say":
            self._newest = ask
            if self._status in ("ready", "starting") and self._deadline_s is None:
                self._deadline_s = time.monotonic() + START_S
        elif do == "stop":
            self._newest = None
        if self._process:
            self._process.send(ask)
        return True

    def _hear(self, event: dict[str, Any]) -> None:
        kind = event["event"]
        if kind == "gone":
            self._fail()
            return
        if kind == "ready":
            ready: Status = "no_device" if event["device"] else "ready"
            self._set_status("no_engine" if event["engine"] else ready)
            waiting = self._newest and self._status == "ready"
            self._deadline_s = time.monotonic() + START_S if waiting else None
        elif kind == "device":
            self._set_status("no_device" if event["text"] else "ready")
        elif kind in ("start", "error", "end"):
            # any of them shows that the helper answers; a newer prompt renews its own time
            if event.get("id") in (None, self._ids) or kind == "end":
                self._deadline_s = None
            if kind in ("end", "error") and self._speaking and self._speaking[0] == event.get("id"):
                self._speaking = None
                self._newest = None
        if self._on_event:
            self._on_event({k: v for k, v in event.items() if k != "from"})
