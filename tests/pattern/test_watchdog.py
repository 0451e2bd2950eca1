"""The watchdog ends a reading whatever it is doing, and leaves no trace."""

from __future__ import annotations

import sys
import threading
import time
from dataclasses import replace

import numpy as np
import pytest
import shapely

from companion.errors import PatternError
from companion.pattern.limits import limits
from companion.pattern.options import ReadOptions
from companion.pattern.reader import read_pattern_text
from companion.pattern.watchdog import Watchdog, check
from tests.pattern.test_bounds import HEAD, combs, elements

UNCOUNTED = replace(
    limits(),
    reading_s=0.4,
    crossings=10**12,
    self_crossings=10**12,
    overlay_points=10**12,
    points=10**9,
    path_segments=10**9,
    elements=10**9,
)
"""The counted limits out of the way, so that the watchdog alone stands between."""


def read(body: str, **changed: float) -> None:
    table = replace(UNCOUNTED, **changed)  # type: ignore[arg-type]
    read_pattern_text(f"{HEAD}{body}</svg>".encode(), ReadOptions(lines="ink"), "x.svg", table)


@pytest.mark.parametrize("make", [lambda: combs(900), elements], ids=["in-geometry", "in-loops"])
def test_time_up_is_a_refusal_with_remedy(make: object) -> None:
    """Two combs of 900 teeth cross 3,240,000 times: minutes of one call of the library."""
    assert callable(make)
    start = time.process_time()
    with pytest.raises(PatternError, match="takes too long") as caught:
        read(make(), reading_s=0.4 if make is not elements else 0.1)
    assert time.process_time() - start < 5.0
    assert "x.svg" in caught.value.cause
    assert caught.value.remedy


@pytest.mark.skipif(sys.platform != "linux", reason="address space is held on Linux only")
def test_memory_up_is_a_refusal_and_the_limit_is_lifted_again() -> None:
    import resource

    before = resource.getrlimit(resource.RLIMIT_AS)
    with pytest.raises(PatternError, match="too much memory"):
        read(combs(500), reading_s=60.0, reading_bytes=120 * 2**20)
    assert resource.getrlimit(resource.RLIMIT_AS) == before


def test_the_library_works_on_after_a_refusal() -> None:
    """The request to break off is taken back, and no thread is left."""
    threads = threading.active_count()
    with pytest.raises(PatternError, match="takes too long"):
        read(combs(900))
    squares = shapely.box(np.arange(50), np.zeros(50), np.arange(50) + 1.5, np.ones(50))
    assert shapely.union_all(squares).area == pytest.approx(50.5)
    assert threading.active_count() == threads
    check()


def test_only_the_reading_thread_is_told() -> None:
    with Watchdog(limits(), "a.svg") as watchdog:
        watchdog.late = True
        other = threading.Thread(target=check)
        other.start()
        other.join()
        with pytest.raises(PatternError, match="takes too long"):
            check()
