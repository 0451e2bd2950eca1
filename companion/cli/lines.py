"""Lines from standard input, with a look at the clock in between.

A thread reads the file descriptor itself: a thread that waits inside ``sys.stdin``
would hold its lock when the program ends and bring the interpreter down with it.
"""

from __future__ import annotations

import os
import queue
import sys
import threading
from collections.abc import Iterator
from typing import IO


class Lines:
    """Gives line after line, or None whenever none has come for a while."""

    def __init__(self, stream: IO[str] | None = None) -> None:
        """Listen.

        Args:
            stream: None: standard input.
        """
        self._stream = sys.stdin if stream is None else stream
        self._queue: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    @property
    def by_hand(self) -> bool:
        """Whether somebody types them: a held key repeats, a script does not."""
        return self._stream.isatty()

    def each(self, wait_s: float) -> Iterator[str | None]:
        """Lines without their ends until the input ends.

        Args:
            wait_s: give None when no line has come for so long.
        """
        while True:
            try:
                line = self._queue.get(timeout=wait_s)
            except queue.Empty:
                yield None
                continue
            if line is None:
                return
            yield line

    def _read(self) -> None:
        try:
            for line in self._chunks():
                self._queue.put(line)
        except (OSError, ValueError):
            # the terminal has gone: the input has ended
            pass
        finally:
            self._queue.put(None)

    def _chunks(self) -> Iterator[str]:
        try:
            handle = self._stream.fileno()
        except (OSError, AttributeError):
            # no file behind it, as in tests
            yield from (line.rstrip("\r\n") for line in self._stream)
            return
        rest = b""
        while chunk := os.read(handle, 65536):
            *whole, rest = (rest + chunk).split(b"\n")
            yield from (line.decode("utf-8", "replace").rstrip("\r") for line in whole)
        if rest:
            yield rest.decode("utf-8", "replace")
