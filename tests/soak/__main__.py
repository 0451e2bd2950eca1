"""``python -m tests.soak [HOURS] [SEED]``: the whole day, with a row for each half hour."""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from tests.soak.shift import growth, shift


def main() -> None:
    """Run and tell."""
    hours = float(sys.argv[1]) if len(sys.argv) > 1 else 8.0
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        day = shift(Path(folder), hours, seed)
        size = (Path(folder) / "journal.sqlite3").stat().st_size
    print("| life | simulated min | MB | files | threads | children | events |")
    print("|---|---|---|---|---|---|---|")
    for number, told in enumerate(day, 1):
        for row in told.rows[::6]:
            print(f"| {number} | {row['second'] / 60:.0f} | {row['mb']} | {row['files']} | "
                  f"{row['threads']} | {row['children']} | {row['events']} |")  # fmt: skip
    total = sum(t.seconds for t in day) / 3600
    killed = sum(t.killed for t in day)
    print(f"{total:.1f} h in {len(day)} lives, {killed} killed, journal {size / 1e6:.1f} MB, "
          f"{time.monotonic() - began:.0f} s of waiting")  # fmt: skip
    print("first life, end against its first fifth:", growth(day[0]))


if __name__ == "__main__":
    main()
