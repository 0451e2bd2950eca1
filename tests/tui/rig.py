"""A saw screen for tests: its own clock, no timers that run by themselves."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass, field

from textual.pilot import Pilot

from companion.planner.plan import Plan
from companion.session import model as m
from companion.session.model import Rank
from companion.shop.model import Skill
from companion.shop.settings import default_settings
from companion.tui.app import SawApp
from companion.tui.palette import ThemeName
from companion.tui.skin import Skin
from companion.tui.widgets import Eye
from tests.tui.plans import small_plan
from tests.tui.walks import Clock, MemoryWalk, walk_of


@dataclass
class Listener:
    """A voice that writes down what it is asked for."""

    heard: list[tuple[str, str]] = field(default_factory=list)
    status_text: str = ""
    status_mark: str = ""
    closed: bool = False
    muted: bool = False

    def say(self, text: str, rank: Rank = "step") -> None:
        self.heard.append((rank, text))

    def cue(self, name: str) -> None:
        self.heard.append(("cue", name))

    def again(self) -> None:
        self.heard.append(("again", ""))

    def stop(self) -> None:
        self.heard.append(("stop", ""))

    def mute(self, muted: bool) -> None:
        self.muted = muted

    def prepare(self, texts: Sequence[str]) -> None:
        self.heard.append(("prepare", str(len(texts))))

    def close(self) -> None:
        self.closed = True


class Rig(SawApp):
    """The screen with everything injected."""

    def __init__(
        self, plan: Plan | None = None, theme: ThemeName = "dark", skill: Skill = "beginner",
        eye: Eye | None = None,
    ) -> None:  # fmt: skip
        self.test_clock = Clock()
        self.own_plan = plan or small_plan()
        self.memory: MemoryWalk = walk_of(self.own_plan, self.test_clock, skill, quiet_s=0.0)
        self.listener = Listener()
        super().__init__(
            self.own_plan, lambda _: self.memory, default_settings(), voice=self.listener,
            skin=Skin(theme), eye=eye or Eye(4.5, 1500.0), clock=self.test_clock,
        )  # fmt: skip

    def tick(self) -> None:
        """Time passes only when the test says so."""

    def _name_plan(self, plan: Plan) -> None:
        """A name that stays when the plan's contract grows."""
        self.plan_name = "0a1b2c3d"
        self.show()

    def second(self) -> None:
        """Let the real tick come."""
        super().tick()

    def text(self) -> str:
        """What stands on the screen, without trailing blanks."""
        strips = self.screen._compositor.render_strips()
        return "\n".join("".join(s.text for s in strip).rstrip() for strip in strips)

    def done(self, times: int = 1) -> None:
        """Confirm, as a certain tap would."""
        for _ in range(times):
            self.test_clock.now += 20.0
            self.send(m.Done())

    def to_first_step(self) -> None:
        """Through opening and checklist."""
        self.close_overlay()
        self.done(len(self.memory.machine.texts.checklist))

    def to_cut(self, number: int) -> None:
        """To the moment in which a cut is being made."""
        self.to_first_step()
        plan = self.own_plan
        while True:
            state = self.memory.state
            step = plan.steps[state.step]
            if step.stage == "cut" and step.cut == number and state.powered:
                return
            self.done()


Script = Callable[[Rig, Pilot[int]], Awaitable[None]]


def play(script: Script, size: tuple[int, int] = (100, 30), app: Rig | None = None) -> Rig:
    """Run a script on a screen."""
    rig = app or Rig()

    async def run() -> None:
        async with rig.run_test(size=size) as pilot:
            await pilot.pause()
            await script(rig, pilot)

    asyncio.run(run())
    return rig


def state(app: Rig) -> m.State:
    """Where the walk is."""
    return app.memory.state
