"""Writes the table of checks: ``python -m tests.tools.published``."""

from __future__ import annotations

import os
import subprocess
import sys

from tests.published.registry import TABLE, head, sections


def main() -> int:
    """Run, write, tell how many."""
    TABLE.unlink(missing_ok=True)
    command = [sys.executable, "-m", "pytest", "-n0", "-q", str(TABLE.parent)]
    # the table about the table is looked at when it is whole
    command += ["--ignore", str(TABLE.parent / "test_table.py")]
    code = subprocess.run(command, env={**os.environ, "KERFSIDE_TABLE": "write"}).returncode
    parts = sections(TABLE.read_text(encoding="utf-8"))
    print(head(parts).strip().splitlines()[-1])
    return code


if __name__ == "__main__":
    raise SystemExit(main())
