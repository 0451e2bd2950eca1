"""Reads a pedal from the system's own input device, with true presses and releases. Linux.

A terminal tells no key release and nothing at all while another window is in front; the
input device tells both. The pedal's device is taken for this program alone while it is
read, so that its key does not reach the terminal as well. A device with the keys of a
whole keyboard is refused: taking it would leave the sawyer without a STOP key.

The library (evdev) is an extra, ``kerfside[pedal]``: it is compiled on installation, and
nobody needs it whose pedal is well heard through the terminal.
"""

from __future__ import annotations

import errno
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from companion.errors import KerfsideError
from companion.sentence import sentence

BY_ID = Path("/dev/input/by-id")
"""Names that stay the same when a device is plugged into another socket."""
EV_KEY = 1
UP, DOWN = 0, 1
"""Values of a key event; 2 is the system's repeat, which is not needed here."""
WHOLE_KEYBOARD = frozenset({16, 30, 44, 57, 1})
"""Codes of Q, A, Z, space and Esc: with all of them it is a keyboard and no pedal.
Source: linux/input-event-codes.h."""


class PedalError(KerfsideError):
    """The pedal's device cannot be read."""


class KeyEvent(Protocol):
    """What the library tells of an event."""

    type: int
    code: int
    value: int

    def timestamp(self) -> float:
        """Unix time."""


class Device(Protocol):
    """What is needed of an open device."""

    def read_loop(self) -> Iterator[KeyEvent]:
        """Events as they come; raises OSError when the device is gone."""

    def grab(self) -> None:
        """Take it for this program alone."""

    def close(self) -> None:
        """Give it back."""


@dataclass(frozen=True, slots=True)
class Edge:
    """The pedal, or one of a set, went down or came up."""

    key: str
    """The key's name as a terminal would tell it, e.g. ``space`` or ``f13``."""
    down: bool
    at_s: float
    """Monotonic seconds, of the event itself."""


def _library() -> Any:  # noqa: ANN401  # an optional module
    try:
        import evdev
    except ImportError as error:
        raise PedalError(
            "the pedal's device cannot be read",
            "the library for it is not installed",
            "Run pip install 'kerfside[pedal]', or use the pedal through the terminal.",
        ) from error
    return evdev


def open_device(path: Path) -> Device:
    """Open a pedal's device and take it for this program alone.

    Raises:
        PedalError: no library, no such device, no right to read it, or a whole keyboard.
    """
    library = _library()
    try:
        device = library.InputDevice(str(path))
        keys = set(device.capabilities().get(EV_KEY, []))
    except OSError as error:
        raise _told(path, error) from error
    if keys >= WHOLE_KEYBOARD or not keys:
        device.close()
        raise PedalError(
            sentence("{path} is no pedal", path=path),
            "it has the keys of a whole keyboard" if keys else "it has no keys",
            "Choose the pedal with kerfside setup --pedal.",
        )
    try:
        device.grab()
    except OSError as error:
        device.close()
        raise _told(path, error) from error
    opened: Device = device
    return opened


def _told(path: Path, error: OSError) -> PedalError:
    """What stands in the way, and the remedy."""
    if error.errno in (errno.EACCES, errno.EPERM):
        remedy = (
            "Add yourself to the group input (sudo usermod -aG input $USER), "
            "log out and in again."
        )  # fmt: skip
        return PedalError(
            sentence("the pedal {path} may not be read", path=path), "no permission", remedy
        )
    if error.errno in (errno.ENOENT, errno.ENODEV, errno.ENXIO):
        return PedalError(
            sentence("the pedal {path} is not there", path=path),
            "",
            "Plug it in, or run kerfside setup --pedal.",
        )
    if error.errno == errno.EBUSY:
        return PedalError(
            sentence("the pedal {path} is taken", path=path), "another program reads it alone",
            "End that program, or use the pedal through the terminal.",
        )  # fmt: skip
    return PedalError(
        sentence("the pedal {path} cannot be read", path=path),
        str(error),
        "Run kerfside setup --pedal.",
    )


def candidates(folder: Path = BY_ID) -> tuple[Path, ...]:
    """Devices that may be a pedal: those that send keys, by their lasting names."""
    if not folder.is_dir():
        return ()
    return tuple(sorted(p for p in folder.iterdir() if p.name.endswith("-event-kbd")))


def key_name(code: int) -> str:
    """A key's name as the terminal tells it; ``pedal`` for what no terminal knows.

    >>> key_name(57), key_name(183), key_name(9999)
    ('space', 'f13', 'pedal')
    """
    return _NAMES.get(code, "pedal")


_NAMES: dict[int, str] = {
    **{2 + n: str((n + 1) % 10) for n in range(10)},
    **{16 + n: c for n, c in enumerate("qwertyuiop")},
    **{30 + n: c for n, c in enumerate("asdfghjkl")},
    **{44 + n: c for n, c in enumerate("zxcvbnm")},
    **{59 + n: f"f{n + 1}" for n in range(10)}, 87: "f11", 88: "f12",
    **{183 + n: f"f{n + 13}" for n in range(12)},
    1: "escape", 14: "backspace", 15: "tab", 28: "enter", 57: "space", 96: "enter",
    102: "home", 103: "up", 104: "pageup", 105: "left", 106: "right", 107: "end",
    108: "down", 109: "pagedown", 110: "insert", 111: "delete",
}  # fmt: skip
"""Names by code. Source: linux/input-event-codes.h, and the screen library's key names."""


class PedalReader:
    """Reads a device in a thread of its own; never writes, never raises after its start."""

    def __init__(
        self,
        device: Device,
        heard: Callable[[Edge], None],
        lost: Callable[[str], None],
        clocks: Callable[[], tuple[float, float]] = lambda: (time.monotonic(), time.time()),
    ) -> None:
        """Start to read.

        Args:
            device: open.
            heard: told each edge, in the reader's thread.
            lost: told once, in the reader's thread, why there will be no more.
            clocks: monotonic and Unix time now.
        """
        self._device, self._heard, self._lost, self._clocks = device, heard, lost, clocks
        self._closed = False
        self._thread = threading.Thread(target=self._read, daemon=True, name="pedal")
        self._thread.start()

    def _read(self) -> None:
        why = "it was unplugged"
        try:
            for event in self._device.read_loop():
                if event.type == EV_KEY and event.value in (UP, DOWN):
                    mono_s, wall_s = self._clocks()
                    # events bear the wall clock's time; what lies between is the delay
                    late_s = min(1.0, max(0.0, wall_s - event.timestamp()))
                    self._heard(Edge(key_name(event.code), event.value == DOWN, mono_s - late_s))
        except (OSError, ValueError) as error:
            why = str(error) or why
        if not self._closed:
            self._lost(why)

    def close(self) -> None:
        """Give the device back."""
        self._closed = True
        # a reader that waits ends with the program: its thread is a daemon
        self._device.close()
