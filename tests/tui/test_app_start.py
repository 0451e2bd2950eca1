"""How the screen begins: the plan off the first frame, what ends it, pedals, light imports."""

from __future__ import annotations

import asyncio
import contextlib
import dataclasses
import subprocess
import sys
from collections.abc import Callable

from textual.worker import WorkerCancelled

from companion.errors import JournalError, PlanError
from companion.planner.plan import Plan
from companion.session import model as m
from companion.session.gesture import PedalTiming
from companion.shop.settings import default_settings
from companion.tui.app import SawApp
from tests.tui.plans import small_plan
from tests.tui.walks import Clock, walk_of


def test_the_plan_is_made_off_the_first_frame() -> None:
    async def run() -> None:
        clock, seen = Clock(), []

        def make(should_stop: Callable[[], bool], progress: Callable[[str], None]) -> Plan:
            progress("looking for holes")
            seen.append(should_stop())
            return small_plan()

        app = SawApp(make, lambda p: walk_of(p, clock), default_settings(), clock=clock)
        async with app.run_test(size=(80, 24)) as pilot:
            await app.workers.wait_for_complete()
            await pilot.pause()
            assert app.walk is not None and app.outlines is not None
        assert seen == [False]

    asyncio.run(run())


def test_a_plan_that_cannot_be_made_ends_the_screen_with_its_error() -> None:
    async def run() -> None:
        def make(should_stop: Callable[[], bool], progress: Callable[[str], None]) -> Plan:
            raise PlanError("no hole fits", "opening 3", "Take a thinner blade.")

        app = SawApp(make, lambda p: walk_of(p, Clock()), default_settings())
        async with app.run_test(size=(80, 24)) as pilot:
            # leaving cancels the worker that has just told of its failure
            with contextlib.suppress(WorkerCancelled):
                await app.workers.wait_for_complete()
            await pilot.pause()
        assert isinstance(app.failure, PlanError) and app.return_value == 2

    asyncio.run(run())


def test_a_session_that_cannot_begin_ends_the_screen_with_its_error() -> None:
    async def run() -> None:
        walk = walk_of(small_plan(), Clock())

        def begin() -> list[m.Effect]:
            raise JournalError("the log cannot be written", "disk full", "Make room.")

        walk.begin = begin  # type: ignore[method-assign]
        app = SawApp(small_plan(), lambda _: walk, default_settings())
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause()
        assert isinstance(app.failure, JournalError) and app.return_value == 2

    asyncio.run(run())


def test_the_recorded_pedals_are_used() -> None:
    settings = dataclasses.replace(
        default_settings(), pedal_key="f13", pedal_done_key="f14", pedal_pause_key="f15",
        pedal_double_s=0.5,
    )  # fmt: skip
    app = SawApp(small_plan(), lambda p: walk_of(p, Clock()), settings)
    assert app.feet.main.timing == PedalTiming(double_s=0.5)
    assert [app.keys[k] for k in ("f13", "f14", "f15")] == ["pedal", "done", "pause"]
    assert "none" not in app.keys


HEAVY = ("shapely", "scipy", "svgpathtools", "tinycss2", "companion.planner.make",
         "companion.pattern.reader", "companion.planner.order")  # fmt: skip


def test_the_saw_starts_without_geometry() -> None:
    script = (
        "import sys; import companion.cli.saw, companion.tui.app; "
        f"print([n for n in {HEAVY!r} if n in sys.modules])"
    )
    out = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    ).stdout
    assert out.strip() == "[]"
