"""One life of the saw screen on a fast clock, a process of its own so that it can be killed.

Every simulated five minutes a line of JSON goes to standard output: what the process holds, and
where the work stands by what is safe on disk.
"""

from __future__ import annotations

import asyncio
import json
import os
import random
import resource
import sys
import threading
from pathlib import Path

from companion.journal.lease import Lease
from companion.journal.store import Journal
from companion.planner.plan import Plan
from companion.session import model as m
from companion.session.machine import Machine
from companion.session.texts import shop_texts
from companion.session.walk import Walk
from companion.shop.settings import default_settings
from companion.tui.app import SawApp
from companion.tui.skin import Skin
from companion.tui.widgets import Eye
from tests.invariants.strategies import MISHAPS
from tests.session.test_walk import Hands
from tests.tui.plans import small_plan

EVERY_S = 300
SIZES = ((80, 24), (120, 40), (200, 60), (40, 10), (100, 30))
RUNS = 1000
"""More than any day holds, so that the work never ends."""


class Screen(SawApp):
    """The saw screen, whose seconds come from the loop."""

    def __init__(self, plan: Plan, walk: Walk, day: Hands) -> None:
        super().__init__(
            plan, lambda _: walk, default_settings(), skin=Skin("dark"), eye=Eye(4.5, 1500.0),
            clock=day.monotonic_s,
        )  # fmt: skip

    def tick(self) -> None:
        """Time passes only when the loop says so."""

    def second(self) -> None:
        """Let the real tick come."""
        super().tick()


def held() -> dict[str, float]:
    """What this process holds."""
    with open("/proc/self/statm") as file:
        resident = int(file.read().split()[1]) * resource.getpagesize()
    children = Path(f"/proc/self/task/{os.getpid()}/children").read_text().split()
    return {
        "mb": round(resident / 1e6, 2), "files": len(os.listdir("/proc/self/fd")) - 1,
        "threads": threading.active_count(), "children": len(children),
    }  # fmt: skip


def _input(chance: random.Random) -> m.Input:
    kind = chance.random()
    if kind < 0.70:
        return m.Done()
    if kind < 0.76:
        return m.Again()
    if kind < 0.82:
        return m.Pause()
    if kind < 0.86:
        return m.Back()
    if kind < 0.90:
        return m.Stop()
    if kind < 0.94:
        return m.Mishap(chance.choice(MISHAPS))
    if kind < 0.97:
        return m.Note("soaked " * chance.randint(1, 9))
    return chance.choice((m.Why(), m.Focus(False), m.Focus(True), m.Holes()))


async def live(folder: Path, seconds: int, seed: int, day: Hands) -> None:
    """Work for so many simulated seconds, telling what is held on the way."""
    chance = random.Random(seed)
    plan = small_plan()
    with Lease(folder / "journal.sqlite3", "soak"), Journal(folder / "journal.sqlite3") as journal:
        machine = Machine(plan, shop_texts(), "beginner")
        walk = Walk(machine, journal, day, runs=RUNS, ticking=True)
        app = Screen(plan, walk, day)
        async with app.run_test(size=(120, 40)) as pilot:
            await pilot.pause()
            app.close_overlay()
            for second in range(1, seconds + 1):
                day.go(1.0)
                app.second()
                if chance.random() < 0.12:
                    app.send(_input(chance))
                if chance.random() < 0.002:
                    await pilot.resize_terminal(*chance.choice(SIZES))
                if chance.random() < 0.0005:
                    day.sleep(chance.uniform(60, 7200))
                if second % 20 == 0:
                    await pilot.pause()
                if second % EVERY_S == 0:
                    state = walk.state
                    told = {"second": second, "wall": day.wall, "run": state.run,
                            "at": state.step + 1, "events": journal.count(), **held()}  # fmt: skip
                    print(json.dumps(told), flush=True)
            walk.close()


if __name__ == "__main__":
    where, length, number, began = sys.argv[1:5]
    today = Hands(wall=float(began))
    asyncio.run(live(Path(where), int(length), int(number), today))
