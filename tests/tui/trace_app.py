"""The real saw screen behind a pseudo-terminal, on a clock that the other end turns.

Started by tests.tui.terminal_traces. Keys come as bytes through the terminal and go the
whole way: parser, bindings, pedal, machine, journal on disk, paint. Only the time of a key
is told through a pipe, so that hours of a sawyer's feet pass in minutes; ticks and the ends
of waits are due by the same clock. With ``real`` the clock is the machine's own.
"""

from __future__ import annotations

import json
import os
import sys
import threading
from collections import deque
from pathlib import Path
from typing import Any

from textual import events

from companion.journal.store import Journal
from companion.planner.plan import Plan
from companion.session import model as m
from companion.session.clock import SystemClock
from companion.session.machine import QUIET_S, Machine
from companion.session.texts import shop_texts
from companion.session.walk import Walk
from companion.shop.settings import default_settings
from companion.tui.app import SawApp
from tests.tui.plans import small_plan

BETWEEN_S = 2.0
"""Between two Dones by which a trace is brought to its first step."""


class Turned:
    """A clock turned by the other end; its three hands agree."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now

    def monotonic_s(self) -> float:
        return self.now

    def boot_s(self) -> float:
        return self.now

    def wall_s(self) -> float:
        return 1_700_000_000.0 + self.now


class RealClock(SystemClock):
    """The machine's own clock."""

    def __call__(self) -> float:
        return self.monotonic_s()


class TraceApp(SawApp):
    """The screen; after each batch of keys it tells where it stands."""

    def __init__(self, journal: Journal, real: bool, dwell_s: float | None) -> None:
        self.turned = RealClock() if real else Turned()
        self.journal = journal
        self.plan = small_plan()
        self.times: deque[float] = deque()
        self.seen: list[float] = []
        self.after_s = 0.0
        self.orders = os.fdopen(int(os.environ["TRACE_ORDERS"]), "rb")
        self.answers = os.fdopen(int(os.environ["TRACE_ANSWERS"]), "wb", buffering=0)
        self._first = self._walk(each=False)
        super().__init__(self.plan, self._given, default_settings(), clock=self.turned)
        if dwell_s is not None:
            # a fault put in: the test of the test
            self.feet.main.dwell_s = dwell_s

    def _given(self, plan: Plan) -> Walk:
        return self._first

    def _walk(self, each: bool) -> Walk:
        # in real time the way to the first step is made at once, so nothing is too quick
        quiet_s = 0.0 if isinstance(self.turned, RealClock) else QUIET_S
        machine = Machine(self.plan, shop_texts(), quiet_s=quiet_s, each_hole=each)
        return Walk(machine, self.journal, self.turned, anew=True, ticking=True)

    def on_mount(self) -> None:
        super().on_mount()
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        for line in self.orders:
            self.call_from_thread(self._obey, json.loads(line))

    def _obey(self, order: dict[str, Any]) -> None:
        if order["op"] == "begin":
            self._begin(order["skip"], order["each"])
        elif order["op"] == "keys":
            self.seen = []
            self.after_s = order["after"]
            self._go_to(self.turned() + order["rest"])
            self.times.extend(self.turned() + at for at in order["at"])
            self.answer(ready=True)
            return
        self.answer()

    def _begin(self, skip: int, each: bool) -> None:
        """A new run, brought some Dones on its way."""
        assert isinstance(self.walk, Walk)
        self.walk.close()
        self.walk = walk = self._walk(each)
        walk.begin()
        self.overlay = "none"
        for _ in range(skip):
            if isinstance(self.turned, Turned):
                self.turned.now += BETWEEN_S
            walk.take(m.Done())
        self.show()

    def answer(self, ready: bool = False) -> None:
        """Tell where the work stands, by the session and by what is on the screen."""
        assert isinstance(self.walk, Walk) and self.face is not None
        state = self.walk.state
        told = {
            "ready": ready, "place": [state.mode, state.step, state.item], "now": self.turned(),
            "powered": state.powered, "word": self.face.word, "shown": self.face.place,
            "session": self.walk._session, "seen": self.seen,
        }  # fmt: skip
        self.answers.write(json.dumps(told).encode() + b"\n")

    def on_key(self, event: events.Key) -> None:
        if isinstance(self.turned, Turned):
            event.time = self.times.popleft()
            self._go_to(event.time)
        else:
            self.times.popleft()
        self.seen.append(event.time)
        super().on_key(event)
        if not self.times:
            self._go_to(self.turned() + self.after_s)
            self.answer()

    def _go_to(self, until_s: float) -> None:
        """Let time pass: ends of waits and the ticks of each second fall due in order."""
        if not isinstance(self.turned, Turned):
            return
        while True:
            tick_s = float(int(self.turned.now)) + 1.0
            due_s = self.feet.due_s
            foot_s = float("inf") if due_s is None else due_s + 0.002
            next_s = min(tick_s, foot_s)
            if next_s > until_s:
                break
            self.turned.now = max(self.turned.now, next_s)
            if foot_s <= tick_s:
                self.feet_due()
            else:
                self.tick()
        self.turned.now = until_s


def main() -> None:
    """Run until told to end."""
    with Journal(Path(sys.argv[1])) as journal:
        dwell_s = float(sys.argv[3]) if len(sys.argv) > 3 else None
        TraceApp(journal, sys.argv[2] == "real", dwell_s).run()


if __name__ == "__main__":
    main()
