"""How long a review takes over ten years: ``python -m tests.benchmarks.review_million [EVENTS]``.

Makes a journal of so many events (a million unless told) in the mix in which the real session
machine writes them, and one in the mix that costs most (``years``): 60 projects, their sittings
mingled over ten years. Then starts ``kerfside review`` in fresh interpreters: over everything and
of one project, when nothing is worked out yet, as after a change of the review's own rules, and
again. Wanted: 3 s and 0.5 s. At the saw the digests are kept at the end of each sitting, so that
"again" is what is waited for day by day.

On a machine with other work the processor's seconds tell more than the wall's; those of a
second process that takes half of the work are among them.
"""

from __future__ import annotations

import os
import resource
import sqlite3
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

from companion.journal.store import Journal
from tests.benchmarks.years import MOST, WAYS, fill


def timed(home: Path, *arguments: str) -> tuple[float, float]:
    """Seconds of one command in a fresh interpreter, by the wall and of the processor."""
    begun, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, "-m", "companion", *arguments], check=True, stdout=subprocess.DEVNULL,
        env={**os.environ, "KERFSIDE_HOME": str(home)},
    )  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    own = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    return time.perf_counter() - begun, own


def forget(home: Path) -> None:
    """Take away all that was worked out."""
    with closing(sqlite3.connect(home / "journal.sqlite3")) as base, base:
        base.execute("DELETE FROM digest")


def measure(home: Path) -> None:
    """Print the times of each way to look at a journal."""
    page = str(home / "page.html")
    for what, arguments, first in (
        ("bare start", ["--version"], False),
        ("all, nothing worked out yet", ["review"], True),
        ("all, again", ["review"], False),
        ("page over all", ["review", "--html", page], False),
        ("one project, nothing worked out yet", ["review", "Project 7"], True),
        ("one project, again", ["review", "Project 7"], False),
        ("page of one", ["review", "Project 7", "--html", page], False),
    ):  # fmt: skip
        if first:
            forget(home)
        wall_s, own_s = timed(home, *arguments)
        print(f"{wall_s:7.2f} s ({own_s:6.2f} s of the processor)  {what}", flush=True)


def main() -> None:
    """Measure and print."""
    events = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    for name, ways in (("the mix of all walks", WAYS), ("the mix that costs most", MOST)):
        with tempfile.TemporaryDirectory() as folder:
            home = Path(folder)
            with Journal(home / "journal.sqlite3") as journal:
                fill(journal, events, ways=ways)
                print(f"{name}: {journal.count()} events; load {os.getloadavg()[0]:.1f}")
            measure(home)


if __name__ == "__main__":
    main()
