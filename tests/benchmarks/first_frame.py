"""Start of the command to the first painted screen, in a pseudo-terminal, warm.

Run: ``python -m tests.benchmarks.first_frame PROJECT [TIMES]``; prints seconds.
"""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import struct
import sys
import termios
import time

ESCAPES = re.compile(rb"\x1b\[[0-9;?=>]*[a-zA-Z$]|\x1b[()][A-Z0-9]")


def first_frame_s(project: str, wanted: bytes, columns: int = 120, rows: int = 40) -> float:
    """Seconds from starting the process until the wanted words are on the screen."""
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
                    return time.perf_counter() - began
        raise TimeoutError(ESCAPES.sub(b"", heard)[-500:].decode("utf-8", "replace"))
    finally:
        os.write(screen, b"q")
        time.sleep(0.3)
        os.close(screen)
        os.waitpid(pid, 0)


def main() -> None:
    """Print each run and the median."""
    project = sys.argv[1]
    times = int(sys.argv[2]) if len(sys.argv) > 2 else 5
    first_frame_s(project, b"READY")
    found = sorted(first_frame_s(project, b"READY") for _ in range(times))
    print(" ".join(f"{t:.3f}" for t in found), f"median {found[len(found) // 2]:.3f} s")


if __name__ == "__main__":
    main()
