"""What every hostile test asks of the command: no traceback, one clear sentence, a known code."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

from companion.errors import EXIT_BAD_INPUT, EXIT_FINE, EXIT_STOP_FINDING

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_projects" / "quay_number"
CODES = {EXIT_FINE, EXIT_STOP_FINDING, EXIT_BAD_INPUT}


def kerfside(
    *arguments: str | bytes | Path, home: Path | None = None, feed: str = "",
    limit_s: float = 120.0, before: str = "",
    surroundings: Mapping[str, str | None] | None = None,
) -> subprocess.CompletedProcess[bytes]:  # fmt: skip
    """Run the command in a process of its own.

    Args:
        arguments: after ``kerfside``.
        home: KERFSIDE_HOME; None: not set.
        feed: standard input.
        limit_s: it must end within this.
        before: a line of Python run in the process first, such as a limit.
        surroundings: variables set, or taken away where None.
    """
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    environment.pop("KERFSIDE_HOME", None)
    if home is not None:
        environment["KERFSIDE_HOME"] = str(home)
    for name, value in (surroundings or {}).items():
        environment.pop(name, None)
        if value is not None:
            environment[name] = value
    start = f"{before}\nimport sys\nfrom companion.cli.main import main\nsys.exit(main())"
    return subprocess.run(
        [sys.executable, "-c", start, *arguments], input=feed.encode(), capture_output=True,
        env=environment, timeout=limit_s,
    )  # fmt: skip


def clear(done: subprocess.CompletedProcess[bytes], *codes: int) -> str:
    """Its standard error, once it has proved to be meant for people."""
    told = done.stderr.decode("utf-8", "replace")
    assert "Traceback" not in told and b"Traceback" not in done.stdout, told
    assert done.returncode in (codes or CODES), (done.returncode, told)
    if done.returncode == EXIT_BAD_INPUT:
        assert "kerfside:" in told and len(told.strip()) > 20, told
    return told
