"""Clocks: the made-up one goes forward only, the real one counts sleep where the system can."""

from __future__ import annotations

import sys
import time

import pytest

from companion.session.clock import MadeUpClock, SystemClock


def test_a_made_up_clock_goes_by_being_told_and_never_back() -> None:
    clock = MadeUpClock(1000.0)
    clock.advance(2.5)
    clock.advance(-0.5)
    assert (clock.monotonic_s(), clock.boot_s(), clock.wall_s()) == (2.5, 2.5, 1002.5)


def test_with_a_speed_it_goes_so_many_times_faster_besides(monkeypatch: pytest.MonkeyPatch) -> None:
    now = [5000.0]
    monkeypatch.setattr(time, "monotonic", lambda: now[0])
    clock = MadeUpClock(0.0, speed=60.0)
    assert clock.monotonic_s() == 0.0
    now[0] += 2.0
    assert clock.monotonic_s() == 120.0
    clock.advance(30.0)
    assert clock.monotonic_s() == 150.0 and clock.wall_s() == 150.0


@pytest.mark.skipif(sys.platform != "linux", reason="CLOCK_BOOTTIME is Linux's")
def test_the_real_clock_is_the_systems(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sleep counts in CLOCK_BOOTTIME and not in the monotonic clock (man clock_gettime)."""
    clock = SystemClock()
    assert abs(clock.monotonic_s() - time.monotonic()) < 1.0
    assert abs(clock.wall_s() - time.time()) < 1.0
    boot = time.clock_gettime(time.CLOCK_BOOTTIME)
    plain = time.clock_gettime
    # as after a night's sleep: the two clocks would else be too near each other to tell
    monkeypatch.setattr(
        time, "clock_gettime", lambda k: plain(k) + (28800.0 if k == time.CLOCK_BOOTTIME else 0.0)
    )
    assert abs(clock.boot_s() - boot - 28800.0) < 1.0
    assert abs(clock.monotonic_s() - time.monotonic()) < 1.0
