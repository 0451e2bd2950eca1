"""One open sound device; what it plays can be swapped at any moment.

The device pulls blocks in its own thread. A new prompt replaces the old one
after a 10 ms fade; a cue is mixed over whatever plays. Every pull is a
heartbeat: a sound server that dies raises nothing, the pulls just stop.
"""

from __future__ import annotations

import threading
import time
from array import array
from collections.abc import Callable, Generator
from typing import BinaryIO

RATE_HZ = 22_050
BUFFER_MS = 40
FADE_SAMPLES = RATE_HZ // 100
SILENT_S = 0.5
"""No pull for this long while the device is open: it is lost."""


class DeviceMissingError(Exception):
    """No sound output can be opened."""


class PlaybackLibraryMissingError(DeviceMissingError):
    """The playback library has no wheel here; a program of the system may serve."""


class Mixer:
    """What is to be heard next, as blocks; no device in it.

    Args:
        on_end: called with the prompt's id when its last sample was handed out.
    """

    def __init__(self, on_end: Callable[[int], None]) -> None:
        self._lock = threading.Lock()
        self._prompt: array[int] = array("h")
        self._prompt_id: int | None = None
        self._at = 0
        self._cue: array[int] = array("h")
        self._cue_at = 0
        self._on_end = on_end

    def play(self, pcm: bytes, prompt_id: int) -> None:
        """Replace the prompt; what sounded fades out over 10 ms."""
        with self._lock:
            tail = self._fade_tail()
            self._prompt = tail + array("h", pcm)
            self._prompt_id, self._at = prompt_id, 0

    def cue(self, pcm: bytes) -> None:
        """Mix a cue over the prompt, replacing an earlier cue."""
        with self._lock:
            self._cue, self._cue_at = array("h", pcm), 0

    def stop(self) -> None:
        """Silence within 10 ms; a cue is cut too."""
        with self._lock:
            self._prompt = self._fade_tail()
            self._prompt_id, self._at = None, 0
            self._cue, self._cue_at = array("h"), 0

    def _fade_tail(self) -> array[int]:
        rest = self._prompt[self._at : self._at + FADE_SAMPLES]
        n = len(rest)
        return array("h", (int(s * (n - i) / n) for i, s in enumerate(rest)))

    def block(self, frames: int) -> bytes:
        """The next block of 16-bit mono PCM, exactly ``frames`` long."""
        ended: int | None = None
        with self._lock:
            out = self._prompt[self._at : self._at + frames]
            self._at += len(out)
            if self._prompt_id is not None and self._at >= len(self._prompt):
                ended, self._prompt_id = self._prompt_id, None
            out.frombytes(bytes(2 * (frames - len(out))))
            over = self._cue[self._cue_at : self._cue_at + frames]
            self._cue_at += len(over)
            for i, sample in enumerate(over):
                out[i] = max(-32768, min(32767, out[i] + sample))
        if ended is not None:
            self._on_end(ended)
        return out.tobytes()


class Player:
    """A mixer on an open device.

    Args:
        on_end: as for :class:`Mixer`.
        null: use the library's null device, paced in real time, without hardware.
        tap: receives every block handed to the device, for tests.

    Raises:
        DeviceMissingError: no library or no output.
    """

    def __init__(
        self, on_end: Callable[[int], None], null: bool = False, tap: BinaryIO | None = None
    ) -> None:
        self.mixer = Mixer(on_end)
        self._null = null
        self._tap = tap
        self.beat_s = time.monotonic()
        self._open()

    def _open(self) -> None:
        try:
            import miniaudio
        except ImportError as error:
            raise PlaybackLibraryMissingError("the playback library is not installed") from error
        import sys

        kinds = miniaudio.Backend
        backends = None
        if self._null:
            backends = [kinds.NULL]
        elif sys.platform == "linux":
            backends = [kinds.PULSEAUDIO, kinds.ALSA]
        try:
            self._device = miniaudio.PlaybackDevice(
                nchannels=1, sample_rate=RATE_HZ, buffersize_msec=BUFFER_MS, backends=backends
            )
            pull = self._pull()
            next(pull)
            self._device.start(pull)
        except miniaudio.MiniaudioError as error:
            raise DeviceMissingError(str(error)) from error
        self.backend = str(self._device.backend)
        self.beat_s = time.monotonic()

    def _pull(self) -> Generator[bytes, int, None]:
        frames = yield b""
        while True:
            self.beat_s = time.monotonic()
            block = self.mixer.block(frames)
            if self._tap is not None:
                self._tap.write(block)
                self._tap.flush()
            frames = yield block

    @property
    def lost(self) -> bool:
        """Whether the device stopped pulling."""
        return time.monotonic() - self.beat_s > SILENT_S

    def reopen(self) -> None:
        """Close and open again.

        Raises:
            DeviceMissingError: it is gone.
        """
        self._device.close()
        self._open()

    def close(self) -> None:
        """Let go of the device."""
        self._device.close()
