"""Key to painted next step, idle processor time and memory, in a pseudo-terminal.

Run: ``python -m tests.benchmarks.at_the_saw keys [STEPS]`` or ``… idle [SECONDS]`` or
``… memory [HOURS]`` (simulated hours: a tick a second, a step a minute).
"""

from __future__ import annotations

import asyncio
import contextlib
import dataclasses
import fcntl
import os
import pty
import resource
import select
import signal
import struct
import sys
import termios
import time
from pathlib import Path

from companion.session import model as m
from companion.session.gesture import PedalTiming
from tests.tui.plans import many_plan

QUICK = PedalTiming(bounce_s=0.0, double_s=0.004, repeat_s=0.002, hold_s=0.008)
"""So short that each key press of the benchmark is a tap of its own."""


def screen() -> None:
    """Show a plan of a thousand openings, without guards, past the checklist."""
    from companion.session.machine import Machine
    from companion.session.texts import shop_texts
    from companion.shop.settings import default_settings
    from companion.tui.app import SawApp
    from tests.tui.walks import Clock, MemoryWalk

    class Real(Clock):
        def __call__(self) -> float:
            return time.monotonic()

    plan = many_plan(40, 25)
    walk = MemoryWalk(Machine(plan, shop_texts(), quiet_s=0.0, powered_stages=frozenset()), Real())
    app = SawApp(plan, lambda _: walk, default_settings(), timing=QUICK)

    def begin() -> None:
        app.close_overlay()
        for _ in walk.machine.texts.checklist:
            app.send(m.Done())

    app.call_later(begin)
    app.run()


def _spawn(columns: int = 120, rows: int = 40) -> tuple[int, int]:
    pid, master = pty.fork()
    if pid == 0:
        os.environ["TERM"] = "xterm-256color"
        command = [sys.executable, "-m", "tests.benchmarks.at_the_saw", "screen"]
        os.execv(sys.executable, command)
    fcntl.ioctl(master, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
    return pid, master


def _read_until(master: int, wanted: bytes, limit_s: float = 20.0) -> float:
    """The time at which the words were on the screen."""
    heard = b""
    end = time.perf_counter() + limit_s
    while time.perf_counter() < end:
        if select.select([master], [], [], 0.001)[0]:
            heard += os.read(master, 1 << 16)
            if wanted in heard:
                return time.perf_counter()
    raise TimeoutError(heard[-300:])


def keys(steps: int) -> None:
    """Press the pedal's key; time until the next step's number is painted."""
    pid, master = _spawn()
    took, ran = [], []
    try:
        _read_until(master, b"step 1 of", 60.0)
        for step in range(2, steps + 2):
            # let the second's tick and the gesture before pass
            time.sleep(0.03)
            began, before = time.perf_counter(), _ran_s(pid)
            os.write(master, b" ")
            took.append(_read_until(master, f"step {step} of".encode()) - began)
            ran.append(_ran_s(pid) - before)
    finally:
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
    for name, all_s in (("on the wall", took), ("of the processor", ran)):
        all_s.sort()
        p = [1000 * all_s[int(q * (len(all_s) - 1))] for q in (0.5, 0.9, 0.99, 1.0)]
        print(f"{len(all_s)} steps, ms {name}: median {p[0]:.1f}, p90 {p[1]:.1f}, "
              f"p99 {p[2]:.1f}, most {p[3]:.1f}")  # fmt: skip


def idle(seconds: float) -> None:
    """Processor time of a running step while nothing is pressed."""
    pid, master = _spawn()
    try:
        _read_until(master, b"step 1 of")
        time.sleep(2.0)
        before = _used_s(pid)
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if select.select([master], [], [], 0.2)[0]:
                os.read(master, 1 << 16)
        print(f"idle: {100 * (_used_s(pid) - before) / seconds:.2f} % of a core in {seconds:g} s")
    finally:
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)


def _ran_s(pid: int) -> float:
    """Processor time of all threads, to the nanosecond: a busy machine does not disturb it."""
    total = 0
    for task in Path(f"/proc/{pid}/task").iterdir():
        with contextlib.suppress(FileNotFoundError):  # a thread that has just ended
            total += int((task / "schedstat").read_text().split()[0])
    return total / 1e9


def _used_s(pid: int) -> float:
    with open(f"/proc/{pid}/stat") as file:
        fields = file.read().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


async def _memory(hours: float) -> tuple[float, float]:
    from tests.tui.rig import Rig

    app = Rig(many_plan(40, 25))
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.pause()
        app.memory.machine = dataclasses.replace(app.memory.machine, powered_stages=frozenset())
        app.to_first_step()

        async def minutes(count: int) -> None:
            for _ in range(count):
                for _ in range(60):
                    app.test_clock.now += 1.0
                    app.second()
                await pilot.pause()
                # the log on disk is not held in memory; neither is its stand-in here
                app.memory.records.clear()
                app.memory.inputs.clear()
                app.listener.heard.clear()
                app.send(m.Done())
                await pilot.pause()

        await minutes(60)
        before = _resident_mb()
        await minutes(int(hours * 60))
        return before, _resident_mb()


def _resident_mb() -> float:
    with open("/proc/self/statm") as file:
        return int(file.read().split()[1]) * resource.getpagesize() / 1e6


def main() -> None:
    """Run what is asked for."""
    what = sys.argv[1]
    amount = float(sys.argv[2]) if len(sys.argv) > 2 else None
    if what == "screen":
        screen()
    elif what == "keys":
        keys(int(amount or 1000))
    elif what == "idle":
        idle(amount or 20.0)
    else:
        before, after = asyncio.run(_memory(amount or 8.0))
        print(f"memory after an hour {before:.1f} MB, {amount or 8.0:g} hours on {after:.1f} MB")


if __name__ == "__main__":
    main()
