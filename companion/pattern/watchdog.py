"""Stops a reading that takes too long or too much memory, whatever the counted limits missed.

A thread beside the reader looks at the processor time of the process. When it is up,
the geometry library is asked to break off, and the reader's own loops, which call
``check``, end too. Processor time, not the clock on the wall: a busy computer is no
fault of the drawing. Memory is held by the operating system (address space, Linux):
an allocation beyond it fails, and the reader tells so. Elsewhere the counted limits
stand alone.

The request to break off reaches every thread that is inside the geometry library at
that moment; the program reads drawings before it starts anything else.
"""

from __future__ import annotations

import ctypes
import importlib
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

from companion.errors import PatternError
from companion.pattern.limits import Limits
from companion.sentence import sentence

LOOK_S = 0.1
"""Between two looks; seconds on the wall."""
SIMPLER = "Simplify its paths in a drawing program, or leave part of it out."
_here = threading.local()


class Watchdog:
    """Holds while a drawing is read; a context.

    Args:
        limits: ``reading_s`` and ``reading_bytes``.
        name: how messages name the file.
    """

    def __init__(self, limits: Limits, name: str) -> None:
        self.name = name
        self.limits = limits
        self.late = False
        self._ended = threading.Event()
        self._started_s = 0.0
        self._thread = threading.Thread(target=self._watch, daemon=True)
        self._widen: Callable[[], None] | None = None

    def __enter__(self) -> Self:
        """Start to watch."""
        self._started_s = time.process_time()
        with suppress(RuntimeError):  # no thread to be had: the counted limits stand alone
            self._thread.start()
        self._widen = _memory_held(self.limits.reading_bytes)
        _here.watchdog = self
        return self

    def __exit__(
        self,
        _kind: type[BaseException] | None,
        _error: BaseException | None,
        _trace: TracebackType | None,
    ) -> None:
        """Undo all of it."""
        _here.watchdog = None
        if self._widen is not None:
            self._widen()
        self._ended.set()
        if self._thread.ident is not None:
            self._thread.join()
        if self.late:
            _geometry_call("GEOS_interruptCancel")

    def _watch(self) -> None:
        while not self._ended.wait(LOOK_S):
            if time.process_time() - self._started_s > self.limits.reading_s:
                self.late = True
                _geometry_call("GEOS_interruptRequest")

    def too_late(self) -> PatternError:
        """The refusal when the time was up."""
        return PatternError(
            "the drawing takes too long to read",
            sentence(
                "{name}: given up after {seconds:g} s of work",
                name=self.name,
                seconds=self.limits.reading_s,
            ),
            SIMPLER,
        )

    def too_much(self) -> PatternError:
        """The refusal when the memory was up."""
        return PatternError(
            "the drawing needs too much memory",
            sentence(
                "{name}: more than {mib} MiB to read it",
                name=self.name,
                mib=self.limits.reading_bytes // 2**20,
            ),
            SIMPLER,
        )


def check() -> None:
    """Called in the reader's loops.

    Raises:
        PatternError: the time of this thread's reading is up.
    """
    watchdog: Watchdog | None = getattr(_here, "watchdog", None)
    if watchdog is not None and watchdog.late:
        raise watchdog.too_late()


def _geometry_call(name: str) -> None:
    """GEOS_interruptRequest or GEOS_interruptCancel (GEOS C API), where they can be found.

    The library is loaded already; its functions are looked up through the module that
    is linked with it. Windows does not look further than the module itself.
    """
    with suppress(OSError, AttributeError):
        path = importlib.import_module("shapely.lib").__file__
        getattr(ctypes.CDLL(path), name)()


def _memory_held(more: int) -> Callable[[], None] | None:
    """Let the address space grow by so many bytes; what undoes it, None where it cannot be."""
    if sys.platform != "linux":
        return None
    import resource

    try:
        pages = int(Path("/proc/self/statm").read_text("ascii").split()[0])
        soft, hard = resource.getrlimit(resource.RLIMIT_AS)
        most = pages * resource.getpagesize() + more
        if soft != resource.RLIM_INFINITY:
            most = min(most, soft)
        resource.setrlimit(resource.RLIMIT_AS, (most, hard))
    except (OSError, ValueError):
        return None
    return lambda: resource.setrlimit(resource.RLIMIT_AS, (soft, hard))
