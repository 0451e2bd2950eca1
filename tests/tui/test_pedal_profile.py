"""What is learned of a pedal tells its own gestures apart."""

from __future__ import annotations

import asyncio
import random

import pytest

from companion.devices.pedal_profile import Recording, learn
from companion.session.gesture import Heard, PedalTiming, Presses, Told, pass_time, press
from companion.shop.settings import default_settings
from companion.tui.pedal_screen import PedalScreen
from companion.tui.widgets import Eye
from companion.words import ENGLISH
from tests.tui.walks import Clock


def told(times: list[float], timing: PedalTiming) -> list[str]:
    state, heard = Presses(), list[Heard]()
    for at in times:
        state, more = press(state, at, timing)
        heard += more
    heard += pass_time(state, times[-1] + 10.0, timing)[1]
    return [h.name for h in heard if isinstance(h, Told)]


def _example(kind: str, start: float, dice: random.Random, delay: float, rate: float,
             slow: float, bounce: int) -> list[float]:  # fmt: skip
    def strike(at: float) -> list[float]:
        return [at, *(at + 0.006 * (n + 1) for n in range(dice.randint(0, bounce)))]

    if kind == "tap":
        return strike(start)
    if kind == "double":
        return strike(start) + strike(start + dice.uniform(0.8, 1.0) * slow)
    return strike(start) + [start + delay + n / rate for n in range(int(3 * rate))]


# a foot whose double is slower than the keyboard's first repeat cannot be told from a hold
@pytest.mark.parametrize(
    ("delay", "slow"),
    [(0.25, 0.2), (0.5, 0.2), (0.5, 0.3), (0.5, 0.42), (0.66, 0.2), (0.66, 0.42), (1.0, 0.42)],
)
@pytest.mark.parametrize("rate", [11.0, 25.0, 30.0])
@pytest.mark.parametrize("bounce", [0, 3])
def test_a_recorded_pedal_is_told_right(
    delay: float, rate: float, slow: float, bounce: int
) -> None:
    dice = random.Random(int(1000 * delay + rate + 100 * slow))

    def example(kind: str, start: float) -> list[float]:
        return _example(kind, start, dice, delay, rate, slow, bounce)

    found = learn(
        [example("tap", 10.0 * n) for n in range(3)],
        [example("double", 10.0 * n) for n in range(3)],
        example("hold", 0.0),
    )
    assert found.repeats
    for n in range(30):
        for kind in ("tap", "double", "hold"):
            assert told(example(kind, 100.0 * n), found.timing) == [kind]


def test_a_pedal_that_never_repeats_waits_for_no_hold() -> None:
    found = learn([[1.0], [4.0], [7.0]], [[1.0, 1.25], [4.0, 4.2], [7.0, 7.22]], [10.0])
    assert not found.repeats
    assert found.timing.hold_s < 0.45
    assert told([20.0], found.timing) == ["tap"]
    assert told([20.0, 20.2], found.timing) == ["double"]


def _asks(recording: Recording) -> str:
    return recording.ask


def test_a_recording_goes_through_its_examples_in_order() -> None:
    r = Recording()
    now = 100.0

    def example(*times: float, key: str = "f13") -> None:
        nonlocal now
        for at in times:
            r.press(key, now + at)
        now += 6.0
        r.wait(now)

    example(0.0)
    assert (_asks(r), r.key, r.left) == ("taps", "f13", 3)
    example(0.0, 0.5)  # two presses are no single tap
    assert r.left == 3
    example(0.0, key="a")  # another key is not the pedal
    assert r.left == 3
    for _ in range(3):
        example(0.0)
    assert _asks(r) == "doubles"
    example(0.0)  # one press is no double
    assert r.left == 3
    for _ in range(3):
        example(0.0, 0.25)
    assert _asks(r) == "hold"
    example(0.0, *(0.66 + n * 0.04 for n in range(60)))
    assert _asks(r) == "learned"
    assert r.learned().repeats


def test_the_screen_asks_and_warns() -> None:
    async def run() -> None:
        clock = Clock()
        app = PedalScreen(default_settings(), ENGLISH, Eye(4.5, 700.0), clock)
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("shift", "ctrl")
            assert _asks(app.recording) == "which" and not app.recording.due_s
            app.hear("f11", clock.now)
            clock.now += 2.0
            app.waited()
            await pilot.pause()
            assert app.current_face().hint.startswith("f11 switches")
            assert _asks(app.recording) == "taps"
            for gaps in ([0.0], [0.0], [0.0], [0.0, 0.2], [0.0, 0.2], [0.0, 0.2],
                         [0.0, 0.5, 0.54, 0.58, 0.62]):  # fmt: skip
                for gap in gaps:
                    app.hear("f11", clock.now + gap)
                clock.now += 5.0
                app.waited()
            await pilot.pause()
        assert app.return_value is not None and app.return_value.repeats

    asyncio.run(run())
