"""The speech engine: text in, PCM out. The only place that touches pyttsx3.

pyttsx3 renders to a file and never plays: its own playing on Linux cannot be
stopped, reports success when nothing was heard and writes on the terminal.
One engine per process, in the main thread; one text per run.
"""

from __future__ import annotations

import ctypes
import os
import struct
import sys
import tempfile
import time
import wave
from array import array
from pathlib import Path

RATE_HZ = 22_050
"""What the device plays; other rates are resampled to it."""


class EngineMissingError(Exception):
    """There is no speech engine on this system, or it cannot be started."""


def load_bundled_espeak() -> None:
    """Linux: make the wheel's eSpeak NG the library that pyttsx3 will find by name.

    The wheel's file has the soname that pyttsx3 asks for, so once it is loaded by
    path the later load by name finds it. The data folder must be set first: the
    C code ends the process when it cannot find its data.
    """
    if sys.platform != "linux":
        return
    try:
        import espeakng_loader
    except ImportError:
        return  # a system library may still be there; pyttsx3 looks for it
    os.environ["ESPEAK_DATA_PATH"] = espeakng_loader.get_data_path()
    ctypes.CDLL(espeakng_loader.get_library_path())


class Engine:
    """Renders prompts to 16-bit mono PCM at 22,050 Hz.

    Args:
        wpm: words per minute, 80 to 260.
        voice: the engine's voice id or a language tag; empty for its default.
        volume: 1.0 is the engine's own level; above only where the engine takes it.

    Raises:
        EngineMissingError: nothing can speak here.
    """

    def __init__(self, wpm: int = 150, voice: str = "", volume: float = 1.0) -> None:
        try:
            load_bundled_espeak()
            import pyttsx3

            self._engine = pyttsx3.init()
            # the first run after init returns at once whatever the work: let it be an empty one
            self._engine.runAndWait()
        except Exception as error:  # drivers raise anything, OSError and KeyError among it
            raise EngineMissingError(str(error)) from error
        self._folder = Path(tempfile.mkdtemp(prefix="kerfside-voice-"))
        self._count = 0
        self.set(wpm, voice, volume)

    def set(self, wpm: int, voice: str, volume: float) -> bool:
        """Change speed, voice and level.

        Returns:
            Whether the voice could be set; a bad one leaves the old voice in place.
        """
        self._engine.setProperty("rate", max(80, min(wpm, 260)))
        self._engine.setProperty("volume", volume)
        if not voice:
            return True
        wanted = self._match(voice)
        if wanted is None:
            return False
        self._engine.setProperty("voice", wanted)
        return bool(self._engine.getProperty("voice") == wanted)

    def _match(self, voice: str) -> str | None:
        ids = [str(v.id) for v in self._engine.getProperty("voices")]
        if voice in ids:
            return voice
        near = [i for i in ids if i.lower().split("/")[-1].split("-")[0] == voice.lower()]
        return min(near, key=len) if near else None

    def voices(self) -> list[str]:
        """Ids of the voices this engine offers."""
        return [str(v.id) for v in self._engine.getProperty("voices")]

    def render(self, text: str, wait_s: float = 2.0) -> bytes:
        """Speak into memory.

        Args:
            text: already spelled out (:func:`companion.words.speakable.speakable`).
            wait_s: how long to wait for a driver that returns before its file is whole.

        Returns:
            16-bit little-endian mono PCM at 22,050 Hz; empty when there is nothing to say.

        Raises:
            TimeoutError: no whole file came, twice.
        """
        if not any(c.isalnum() for c in text):
            return b""
        # on a busy machine the driver now and then drops a text without a word: ask once more
        for _ in range(2):
            self._count += 1
            path = self._folder / f"{self._count}.wav"
            self._engine.save_to_file(text, str(path))
            self._engine.runAndWait()
            until = time.monotonic() + wait_s
            while time.monotonic() < until:
                try:
                    pcm = read_sound(path)
                except (OSError, EOFError, ValueError, wave.Error, struct.error):
                    time.sleep(0.01)
                else:
                    path.unlink(missing_ok=True)
                    return pcm
        raise TimeoutError(f"no sound came for {text[:40]!r}")

    def close(self) -> None:
        """Remove the working folder."""
        for file in self._folder.glob("*"):
            file.unlink(missing_ok=True)
        self._folder.rmdir()


def read_sound(path: Path) -> bytes:
    """Read what an engine wrote, WAV or AIFF, as PCM for the device.

    Raises:
        OSError, EOFError, ValueError, wave.Error, struct.error: not there or not whole.
    """
    data = path.read_bytes()
    if data[:4] == b"FORM":
        samples, rate, channels = _read_aiff(data)
    else:
        with wave.open(str(path)) as file:
            if file.getsampwidth() != 2:
                raise ValueError(f"{file.getsampwidth() * 8}-bit sound is not read")
            rate, channels = file.getframerate(), file.getnchannels()
            samples = array("h", file.readframes(file.getnframes()))
            if sys.byteorder == "big":
                samples.byteswap()
    if not samples:
        raise ValueError("the file holds no sound yet")
    if channels > 1:
        samples = samples[::channels]
    if rate != RATE_HZ:
        samples = _resample(samples, rate)
    return samples.tobytes()


def _read_aiff(data: bytes) -> tuple[array[int], int, int]:
    """Samples, rate and channels of an AIFF file (macOS engines write it; not run there)."""
    at, rate, channels, samples = 12, 0, 1, array("h")
    while at + 8 <= len(data):
        name, size = struct.unpack(">4sI", data[at : at + 8])
        body = data[at + 8 : at + 8 + size]
        if name == b"COMM":
            channels, _frames, bits = struct.unpack(">hIh", body[:8])
            if bits != 16:
                raise ValueError(f"{bits}-bit sound is not read")
            exponent, mantissa = struct.unpack(">HQ", body[8:18])
            rate = int(mantissa / 2.0 ** (16383 + 63 - exponent))
        elif name == b"SSND":
            usable = (len(body) - 8) // 2 * 2
            samples = array("h", body[8 : 8 + usable])
            samples.byteswap()
        at += 8 + size + size % 2
    if rate <= 0:
        raise ValueError("the file has no rate yet")
    return samples, rate, channels


def _resample(samples: array[int], rate: int) -> array[int]:
    """Linear resampling; enough for speech."""
    count = len(samples) * RATE_HZ // rate
    step = rate / RATE_HZ
    out = array("h", bytes(2 * count))
    last = len(samples) - 1
    for i in range(count):
        at = i * step
        k = int(at)
        b = samples[min(k + 1, last)]
        out[i] = int(samples[k] + (b - samples[k]) * (at - k))
    return out
