"""Random feet through the real screen in a real terminal.

Slow; ten thousand traces are a command: ``python -m tests.tui.terminal_traces``.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest

from tests.tui.terminal_traces import run

pytestmark = pytest.mark.slow


def test_no_trace_passes_a_guard_or_loses_a_step_in_a_terminal() -> None:
    tally = run(150, seed=7)
    assert tally.traces == 150 and tally.gestures == 900
    assert tally.records > 500


def test_the_same_in_real_time() -> None:
    with ThreadPoolExecutor(6) as pool:
        tallies = list(pool.map(lambda n: run(3, seed=100 * n, real=True), range(6)))
    judged = sum(t.gestures - t.void for t in tallies)
    # a busy machine may void some; most must have been judged exactly
    assert judged >= 50


def test_the_ledger_finds_a_guard_without_its_dwell() -> None:
    with pytest.raises(AssertionError, match="seed"):
        run(150, seed=7, dwell_s=0.0)
