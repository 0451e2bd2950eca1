"""A short shift in the suite, a long one when asked for: nothing is lost, nothing grows."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.soak.shift import growth, shift

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")


def test_a_short_shift_with_kills(tmp_path: Path) -> None:
    day = shift(tmp_path, hours=0.25, lives=3)
    assert sum(t.killed for t in day) == 2
    grown = growth(day[0])
    assert grown["files"] == grown["threads"] == grown["children"] == 0


@pytest.mark.slow
def test_eight_hours(tmp_path: Path) -> None:
    day = shift(tmp_path, hours=8.0)
    assert sum(t.seconds for t in day) > 8 * 3600
    grown = growth(day[0])
    assert grown["files"] == grown["threads"] == grown["children"] == 0
    # what bounded caches of the libraries still fill (measured 0.5 MB); 3 kB an input would be 9 MB
    assert grown["mb"] < 5.0
