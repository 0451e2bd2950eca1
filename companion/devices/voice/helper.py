"""The helper process: owns the speech engine and the sound device.

Talks JSON lines: commands on standard input, events on standard output. File
descriptors 1 and 2 are pointed at the null device once the real output is kept
aside, so that no native library can write on the user's terminal.

Commands: ``{"do": "say", "id", "text", "cue"?}``, ``{"do": "cue", "name"}``,
``{"do": "stop"}``, ``{"do": "prepare", "texts"}``, ``{"do": "set", "wpm", "voice",
"volume", "language"}``, ``{"do": "reopen"}``, ``{"do": "quit"}``.
Events: ``ready`` (engine and device, each true or a reason), ``start``, ``end``,
``error`` (with id), ``prepared``, ``device`` (state changes).
"""

from __future__ import annotations

import argparse
import json
import os
import queue
import sys
import threading
import time
from collections import OrderedDict
from pathlib import Path
from typing import Any, TextIO

from companion.devices.voice.engine import Engine, EngineMissingError
from companion.devices.voice.player import (
    RATE_HZ,
    DeviceMissingError,
    PlaybackLibraryMissingError,
    Player,
)
from companion.devices.voice.sysplayer import SystemPlayer
from companion.words.speakable import speakable

CACHE_BYTES = 64 * 1024 * 1024
"""PCM kept in memory; a plan of 60 steps takes 14 MB."""
GAP_S = 0.12
"""Silence between a cue and its prompt."""

Message = dict[str, Any]
Key = tuple[str, int, str, float, str]


class Helper:
    """Commands in, sound out."""

    def __init__(self, out: TextIO, sounds: Path, null: bool, tap: Path | None) -> None:
        self._out = out
        self._out_lock = threading.Lock()
        self._sounds = sounds
        self._null = null
        self._tap = tap.open("wb") if tap else None
        self._inbox: queue.Queue[Message] = queue.Queue()
        self._to_prepare: list[str] = []
        self._kept: OrderedDict[Key, bytes] = OrderedDict()
        self._kept_bytes = 0
        self._cues: dict[str, bytes] = {}
        self._newest = 0
        self._wpm, self._voice, self._volume, self._language = 150, "", 1.0, "en"
        self.engine: Engine | None = None
        self.player: Player | SystemPlayer | None = None

    def tell(self, event: str, **values: object) -> None:
        """Send one event line."""
        with self._out_lock:
            try:
                self._out.write(json.dumps({"event": event, **values}) + "\n")
                self._out.flush()
            except (BrokenPipeError, ValueError):
                os._exit(0)  # nobody listens any more

    def open(self) -> None:
        """Open engine and device, and say what there is."""
        engine = device = ""
        try:
            self.engine = Engine()
        except EngineMissingError as error:
            engine = str(error) or "no engine"
        try:
            self.player = self._open_player()
        except DeviceMissingError as error:
            device = str(error) or "no device"
        self.tell("ready", engine=engine, device=device)

    def _open_player(self) -> Player | SystemPlayer:
        try:
            return Player(self._ended, self._null, self._tap)
        except PlaybackLibraryMissingError:
            return SystemPlayer(self._ended)

    def _ended(self, prompt_id: int) -> None:
        self.tell("end", id=prompt_id)

    def read(self, source: TextIO) -> None:
        """Reader thread: what must not wait for a render is done here at once."""
        for line in source:
            try:
                message = json.loads(line)
                do = message["do"]
            except (ValueError, KeyError, TypeError):
                self.tell("error", id=None, text="not a command")
                continue
            if do in ("say", "stop"):
                self._newest = int(message.get("id", self._newest + 1))
                if self.player:
                    self.player.mixer.stop()
            if do == "cue" or (do == "say" and message.get("cue")):
                self._play_cue(str(message.get("name") or message.get("cue")))
            self._inbox.put(message)
        self._inbox.put({"do": "quit"})
        # the screen is gone; an engine that hangs must not outlive it
        time.sleep(2.0)
        os._exit(0)

    def _cue_pcm(self, name: str) -> bytes:
        if name not in self._cues:
            import wave

            try:
                with wave.open(str(self._sounds / f"{Path(name).name}.wav")) as file:
                    self._cues[name] = file.readframes(file.getnframes())
            except (OSError, EOFError, wave.Error):
                self._cues[name] = b""
                self.tell("error", id=None, text=f"no cue {name!r}")
        return self._cues[name]

    def _play_cue(self, name: str) -> None:
        if self.player:
            self.player.mixer.cue(self._cue_pcm(name))

    def _pcm(self, text: str) -> bytes:
        key = (text, self._wpm, self._voice, self._volume, self._language)
        if key in self._kept:
            self._kept.move_to_end(key)
            return self._kept[key]
        assert self.engine is not None
        pcm = self.engine.render(speakable(text, self._language))
        self._kept[key] = pcm
        self._kept_bytes += len(pcm)
        while self._kept_bytes > CACHE_BYTES and len(self._kept) > 1:
            self._kept_bytes -= len(self._kept.popitem(last=False)[1])
        return pcm

    def _say(self, message: Message) -> None:
        prompt_id = int(message["id"])
        if prompt_id != self._newest:
            return  # a newer one came while this waited
        if self.engine is None or self.player is None:
            self.tell(
                "error", id=prompt_id, text="no engine" if self.engine is None else "no device"
            )
            return
        try:
            pcm = self._pcm(str(message["text"]))
        except (OSError, TimeoutError) as error:
            self.tell("error", id=prompt_id, text=str(error))
            return
        if prompt_id != self._newest:
            return
        cue = str(message.get("cue") or "")
        lead = 0
        if cue:
            lead = len(self._cue_pcm(cue)) + 2 * int(GAP_S * RATE_HZ)
        self.player.mixer.play(bytes(lead) + pcm, prompt_id)
        self.tell("start", id=prompt_id, bytes=len(pcm))

    def _set(self, message: Message) -> None:
        self._wpm = int(message.get("wpm", self._wpm))
        self._voice = str(message.get("voice", self._voice))
        self._volume = float(message.get("volume", self._volume))
        self._language = str(message.get("language", self._language))
        if self.engine:
            fine = self.engine.set(self._wpm, self._voice or self._language, self._volume)
            if not fine:
                self.tell("error", id=None, text=f"no voice {self._voice or self._language!r}")

    def _reopen(self) -> None:
        try:
            if self.player:
                self.player.reopen()
            else:
                self.player = self._open_player()
            self.tell("device", text="")
        except DeviceMissingError as error:
            self.player = None
            self.tell("device", text=str(error) or "no device")

    def _prepare_one(self) -> None:
        text = self._to_prepare.pop(0)
        if self.engine is None or self._kept_bytes > CACHE_BYTES * 3 // 4:
            self._to_prepare.clear()  # the rest is rendered when it is said
        else:
            try:
                self._pcm(text)
            except (OSError, TimeoutError) as error:
                self.tell("error", id=None, text=str(error))
        if not self._to_prepare:
            self.tell("prepared", count=len(self._kept))

    def run(self) -> None:
        """Main thread: renders, one text at a time, newest say before all preparing."""
        checked_s = time.monotonic()
        while True:
            try:
                message = self._inbox.get(timeout=0 if self._to_prepare else 0.25)
            except queue.Empty:
                if self._to_prepare:
                    self._prepare_one()
                message = {"do": ""}
            do = message["do"]
            if do == "say":
                self._say(message)
            elif do == "prepare":
                self._to_prepare.extend(str(t) for t in message["texts"])
            elif do == "set":
                self._set(message)
            elif do == "reopen":
                self._reopen()
            elif do == "quit":
                return
            if time.monotonic() - checked_s > 0.25:
                checked_s = time.monotonic()
                if self.player and self.player.lost:
                    self._reopen()

    def close(self) -> None:
        """Let go of engine and device."""
        if self.player:
            self.player.close()
        if self.engine:
            self.engine.close()


def main() -> None:
    """Entry of the process."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--sounds", type=Path, required=True)
    parser.add_argument("--null", action="store_true", help="play into a paced null device")
    parser.add_argument("--tap", type=Path, help="write what the device was given to this file")
    args = parser.parse_args()
    out = os.fdopen(os.dup(1), "w", encoding="utf-8")
    void = os.open(os.devnull, os.O_WRONLY)
    os.dup2(void, 1)
    os.dup2(void, 2)
    helper = Helper(out, args.sounds, args.null, args.tap)
    helper.open()
    threading.Thread(target=helper.read, args=(sys.stdin,), daemon=True).start()
    try:
        helper.run()
    finally:
        helper.close()


if __name__ == "__main__":
    main()
