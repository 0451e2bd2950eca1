"""One companion at the saw for each journal: the second is told who is there.

The lock is the operating system's, on an open file, so that it ends with the process
however that dies; what stands in the file is only for the message.
"""

from __future__ import annotations

import contextlib
import json
import os
import sys
import time
from pathlib import Path
from types import TracebackType

from companion.errors import JournalError
from companion.sentence import sentence

_FAR = 1 << 30
"""The locked byte lies behind the text: Windows lets nobody read what is locked."""


def _lock(handle: int) -> bool:
    """Take the lock without waiting; False when another has it."""
    try:
        if sys.platform == "win32":
            import msvcrt

            os.lseek(handle, _FAR, os.SEEK_SET)
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


class Lease:
    """The right to walk a plan with one journal. Held until closed, or until the process ends."""

    def __init__(self, journal: Path, project: str) -> None:
        """Take it.

        Args:
            journal: the journal's file; the lock lies beside it.
            project: what is cut, for whoever comes second.

        Raises:
            JournalError: another companion holds it, or the folder cannot be written.
        """
        self.path = journal.with_suffix(".lock")
        self._handle = -1
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            handle = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o600)
        except OSError as error:
            raise JournalError(
                "the journal's folder cannot be used",
                sentence("{path}: {strerror}", path=self.path, strerror=error.strerror or error),
                "Make the folder writable, or set KERFSIDE_HOME to one that is.",
            ) from error
        if not _lock(handle):
            who = self._who(handle)
            os.close(handle)
            raise JournalError(
                "another companion is at the saw with this journal",
                who,
                "Leave that one first, or set KERFSIDE_HOME for a second saw.",
            )
        self._handle = handle
        text = {"pid": os.getpid(), "project": project, "since": time.strftime("%H:%M")}
        # only a message: on a full disk the lock holds all the same
        with contextlib.suppress(OSError):
            os.ftruncate(handle, 0)
            os.lseek(handle, 0, os.SEEK_SET)
            os.write(handle, json.dumps(text).encode())

    @staticmethod
    def _who(handle: int) -> str:
        try:
            os.lseek(handle, 0, os.SEEK_SET)
            found = json.loads(os.read(handle, 4096))
            return f"{found['project']}, since {found['since']}, process {found['pid']}"
        except (OSError, ValueError, KeyError, TypeError):
            return "it has just begun"

    def close(self) -> None:
        """Let the next one in."""
        if self._handle >= 0:
            os.close(self._handle)
            self._handle = -1

    def __enter__(self) -> Lease:
        """The lease itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Let the next one in."""
        self.close()
