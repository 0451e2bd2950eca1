"""Playing through a program of the system, where the playback library has no wheel.

Slower to start than an open device and unable to mix (a cue then sounds before
its prompt or alone), but it needs nothing beyond what a desktop already has.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
import threading
import wave
from collections.abc import Callable
from pathlib import Path

from companion.devices.voice.player import RATE_HZ, DeviceMissingError

PROGRAMS: tuple[tuple[str, ...], ...] = (("pw-play",), ("paplay",), ("aplay", "-q"), ("afplay",))


class SystemMixer:
    """The same four calls as :class:`~companion.devices.voice.player.Mixer`, by child process.

    Args:
        command: the player's command line; the file is appended.
        on_end: called with the prompt's id when the player ended by itself.
    """

    def __init__(self, command: tuple[str, ...], on_end: Callable[[int], None]) -> None:
        self._command = command
        self._on_end = on_end
        self._folder = tempfile.TemporaryDirectory(prefix="kerfside-play-")
        self._child: subprocess.Popen[bytes] | None = None
        self._count = 0
        self._lock = threading.Lock()

    def play(self, pcm: bytes, prompt_id: int) -> None:
        """Cut what plays and play this."""
        self._start(pcm, prompt_id)

    def cue(self, pcm: bytes) -> None:
        """Play a cue when nothing else plays; it cannot be mixed."""
        if self._child is None or self._child.poll() is not None:
            self._start(pcm, None)

    def stop(self) -> None:
        """End the child now."""
        with self._lock:
            child, self._child = self._child, None
        if child is not None:
            child.kill()
            child.wait()

    def _start(self, pcm: bytes, prompt_id: int | None) -> None:
        self.stop()
        self._count += 1
        path = Path(self._folder.name) / f"{self._count}.wav"
        with wave.open(str(path), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(RATE_HZ)
            file.writeframes(pcm)
        try:
            child = subprocess.Popen(
                [*self._command, str(path)],
                stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            )  # fmt: skip
        except OSError:
            return
        with self._lock:
            self._child = child
        threading.Thread(target=self._wait, args=(child, path, prompt_id), daemon=True).start()

    def _wait(self, child: subprocess.Popen[bytes], path: Path, prompt_id: int | None) -> None:
        code = child.wait()
        path.unlink(missing_ok=True)
        if prompt_id is not None and code >= 0:  # below 0: we ended it
            self._on_end(prompt_id)

    def close(self) -> None:
        """End what plays and remove the files."""
        self.stop()
        self._folder.cleanup()


class SystemPlayer:
    """Stands in for :class:`~companion.devices.voice.player.Player`.

    Raises:
        DeviceMissingError: none of the programs is installed.
    """

    lost = False
    """A child process that fails is not told apart from one that played."""

    def __init__(self, on_end: Callable[[int], None]) -> None:
        for command in PROGRAMS:
            if shutil.which(command[0]):
                self.mixer = SystemMixer(command, on_end)
                return
        names = ", ".join(c[0] for c in PROGRAMS)
        raise DeviceMissingError(f"no playback library, and none of {names} is installed")

    def reopen(self) -> None:
        """Nothing is kept open."""

    def close(self) -> None:
        """End what plays."""
        self.mixer.close()
