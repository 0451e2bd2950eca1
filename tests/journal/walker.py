"""A walk in a process of its own, told to go on until it is killed. Run by test_kill.

Prints ``taken STEP KIND-COUNT`` after each input that :meth:`Walk.take` has confirmed.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

from companion.journal.store import Journal
from companion.session import model as m
from companion.session.clock import SystemClock
from companion.session.walk import Walk
from tests.session.plans import machine, plan


def main() -> None:
    """Walk: mostly done, now and then a note, a pause, a stop, one back."""
    with Journal(Path(sys.argv[1])) as journal:
        walk = Walk(machine(plan(cuts=60)), journal, SystemClock(), runs=50)
        walk.begin()
        os.write(1, f"taken {walk.state.run} {walk.state.step} {journal.count()}\n".encode())
        for n in range(1_000_000):
            event: m.Input = m.Done()
            if n % 11 == 5:
                event = m.Note(f"note {n}")
            elif n % 17 == 3:
                event = m.Pause()
            elif n % 23 == 7:
                event = m.Back()
            elif n % 29 == 8:
                event = m.Stop()
            walk.take(event)
            walk.flush()
            os.write(1, f"taken {walk.state.run} {walk.state.step} {journal.count()}\n".encode())


if __name__ == "__main__":
    main()
