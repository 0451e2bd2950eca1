"""What it costs until an event is safe: ``python -m tests.benchmarks.commit [EVENTS] [FOLDER]``.

The journal's append beside a bare SQLite commit of the same bytes in one plain table, both
with a write-ahead log and ``synchronous=FULL``, in turn in one run on one disk, so that
whatever else the machine does hits both. Wanted: p99 within twice that of the bare commit.
"""

from __future__ import annotations

import json
import sqlite3
import sys
import tempfile
import time
from pathlib import Path

from companion.journal.model import Entry
from companion.journal.store import Journal


def entry(n: int) -> Entry:
    """An event as a step leaves it."""
    return Entry(1.7e9 + n, float(n), "s1", "step-done",
                 {"mode": "step", "at": n, "active_s": 61.25}, "r1", n, 3, "cut")  # fmt: skip


def main() -> None:
    """Measure and print."""
    events = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    where = sys.argv[2] if len(sys.argv) > 2 else None
    took: dict[str, list[float]] = {"journal": [], "bare": []}
    with tempfile.TemporaryDirectory(dir=where) as folder:
        bare = sqlite3.connect(Path(folder) / "bare.sqlite3", isolation_level=None)
        bare.execute("PRAGMA journal_mode = WAL")
        bare.execute("PRAGMA synchronous = FULL")
        bare.execute("CREATE TABLE event (number INTEGER PRIMARY KEY, data TEXT)")
        with Journal(Path(folder) / "journal.sqlite3") as journal:
            for n in range(events):
                one = entry(n)
                text = json.dumps([one.wall_s, one.session, one.kind, dict(one.data), one.run])
                begun = time.perf_counter()
                journal.append([one])
                between = time.perf_counter()
                bare.execute("BEGIN IMMEDIATE")
                bare.execute("INSERT INTO event (data) VALUES (?)", (text,))
                bare.execute("COMMIT")
                took["bare"].append(time.perf_counter() - between)
                took["journal"].append(between - begun)
        bare.close()
    for share in (0.5, 0.9, 0.99):
        own, other = (sorted(took[k])[int(share * (events - 1))] * 1000 for k in took)
        print(f"p{100 * share:.0f}: journal {own:7.3f} ms, bare {other:7.3f} ms, "
              f"ratio {own / other:.2f}")  # fmt: skip


if __name__ == "__main__":
    main()
