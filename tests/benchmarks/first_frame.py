"""Start of the command to the first painted screen with the plan, in a pseudo-terminal, warm.

Run: ``python -m tests.benchmarks.first_frame PROJECT [TIMES]``; prints seconds.
"""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import struct
import sys
import termios
import time

ESCAPES = re.compile(rb"\x1b\[[0-9;?=>]*[a-zA-Z$]|\x1b[()][A-Z0-9]")


def first_frame_s(
    project: str, wanted: bytes, columns: int = 120, rows: int = 40
) -> tuple[float, float]:
    """Seconds from starting the process until the wanted words are on the screen.

    Returns:
        By the clock, and of the processor: on a busy machine only the second tells.
    """
    began = time.perf_counter()
    pid, screen = pty.fork()
    if pid == 0:
        os.environ["TERM"] = "xterm-256color"
        command = [sys.executable, "-m", "companion", "saw", project, "--silent"]
        os.execv(sys.executable, command)
    fcntl.ioctl(screen, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
    heard = b""
    try:
        while time.perf_counter() - began < 30.0:
            if select.select([screen], [], [], 0.005)[0]:
                heard += os.read(screen, 65536)
                if wanted in ESCAPES.sub(b"", heard):
                    took = time.perf_counter() - began
                    # ended hard, so that leaving costs nothing that would be counted
                    os.kill(pid, signal.SIGKILL)
                    _, _, used = os.wait4(pid, 0)
                    return took, used.ru_utime + used.ru_stime
        raise TimeoutError(ESCAPES.sub(b"", heard)[-500:].decode("utf-8", "replace"))
    finally:
        os.close(screen)


def main() -> None:
    """Print each run and the median."""
    project = sys.argv[1]
    times = int(sys.argv[2]) if len(sys.argv) > 2 else 5
    first_frame_s(project, b"READY")
    found = [first_frame_s(project, b"READY") for _ in range(times)]
    for name, values in zip(("clock", "processor"), zip(*found, strict=True), strict=True):
        ordered = sorted(values)
        print(name, " ".join(f"{t:.3f}" for t in ordered), f"median {ordered[times // 2]:.3f} s")


if __name__ == "__main__":
    main()
