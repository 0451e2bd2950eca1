"""Gestures by time alone, and feet that never pass a guard by holding or stammering."""

from __future__ import annotations

import random
from dataclasses import dataclass, field

import pytest

from companion.devices.pedal import DWELL_S, Feet, key_warning
from companion.session import model as m
from companion.session.gesture import Down, Heard, PedalTiming, Presses, Told, pass_time, press
from tests.tui.plans import small_plan
from tests.tui.walks import Clock, MemoryWalk, walk_of

TIMING = PedalTiming()


def hear(times: list[float], timing: PedalTiming = TIMING) -> list[Heard]:
    """All that a row of presses tells, the silence after it included."""
    told: list[Heard] = []
    state = Presses()
    for at in times:
        state, more = press(state, at, timing)
        told += more
    state, more = pass_time(state, times[-1] + 10.0, timing)
    return [*told, *more]


def names(times: list[float]) -> list[str]:
    return [h.name for h in hear(times) if isinstance(h, Told)]


def train(start: float, delay: float, rate: float, count: int) -> list[float]:
    """A held key as the system repeats it."""
    return [start, *(start + delay + n / rate for n in range(count))]


def test_a_press_is_told_at_once_and_resolved_later() -> None:
    assert hear([5.0]) == [Down(5.0), Told("tap", 5.0)]


def test_bounce_is_dropped() -> None:
    assert names([5.0, 5.008, 5.016]) == ["tap"]
    assert names([5.0, 5.029, 5.2, 5.21]) == ["double"]


def test_two_quick_presses_are_a_double_and_a_third_is_nothing() -> None:
    assert names([5.0, 5.2]) == ["double"]
    assert names([5.0, 5.2, 5.45]) == ["double"]
    assert names([5.0, 5.35]) == ["double"]
    assert names([5.0, 5.36]) == ["tap", "tap"]


@pytest.mark.parametrize("delay", [0.25, 0.4, 0.5, 0.66, 0.74])
@pytest.mark.parametrize("rate", [11.0, 15.0, 25.0, 30.0])
@pytest.mark.parametrize("count", [2, 3, 40])
def test_a_held_key_is_one_hold_at_every_repeat_rate(delay: float, rate: float, count: int) -> None:
    assert names(train(5.0, delay, rate, count)) == ["hold"]


def test_a_slow_second_press_is_a_new_tap() -> None:
    assert hear([5.0, 5.5]) == [
        Down(5.0), Told("tap", 5.0), Down(5.5), Told("tap", 5.5),
    ]  # fmt: skip


@pytest.mark.parametrize("key", ["f11", "ctrl+s", "alt+f4"])
def test_keys_of_the_terminal_are_warned_of(key: str) -> None:
    assert key_warning(key)


@pytest.mark.parametrize("key", ["space", "enter", "f13", "f5", "b"])
def test_good_pedal_keys_are_not(key: str) -> None:
    assert key_warning(key) is None


@dataclass
class Stool:
    """A sawyer at a walk: feet, clock, and what the screen would do."""

    walk: MemoryWalk
    clock: Clock
    feet: Feet = field(default_factory=Feet)
    taps: int = 0

    @classmethod
    def at(cls, checked: bool) -> Stool:
        clock = Clock()
        walk = walk_of(small_plan(), clock)
        stool = cls(walk, clock)
        walk.begin()
        stool.seen()
        if checked:
            while walk.state.mode == "checklist":
                stool.tap()
        return stool

    def seen(self) -> None:
        self.feet.shows(self.walk.state, len(self.walk.machine.plan.steps), self.clock())

    def press(self, after_s: float, side: bool = False) -> None:
        self.wait(after_s)
        for event in self.feet.press(self.clock(), side):
            self.walk.take(event)
            self.seen()

    def wait(self, seconds: float) -> None:
        until = self.clock() + seconds
        while (due := self.feet.due_s) is not None and due < until:
            self.clock.now = due + 0.001
            self._obey(self.feet.wait(self.clock()))
        self.clock.now = max(until, self.clock.now)
        self._obey(self.feet.wait(self.clock()))

    def _obey(self, inputs: list[m.Input]) -> None:
        for event in inputs:
            self.walk.take(event)
            self.seen()

    def tap(self) -> None:
        self.wait(2.0)
        self.press(0.0)
        self.wait(2.0)

    def double(self, gap: float = 0.2) -> None:
        self.wait(2.0)
        self.press(0.0)
        self.press(gap)
        self.wait(2.0)

    def hold(self, delay: float, rate: float, count: int) -> None:
        self.wait(2.0)
        self.press(0.0)
        self.press(delay)
        for _ in range(count):
            self.press(1.0 / rate)
        self.wait(2.0)

    @property
    def place(self) -> tuple[object, ...]:
        s = self.walk.state
        return (s.mode, s.step, s.item)

    def go_to(self, stage: str) -> None:
        while self.walk.machine.plan.steps[self.walk.state.step].stage != stage:
            self.tap()


def test_a_tap_in_a_plain_step_acts_in_the_moment_of_the_press() -> None:
    stool = Stool.at(checked=True)
    stool.wait(2.0)
    assert stool.walk.state.step == 0
    stool.press(0.0)
    assert stool.walk.state.step == 1


def test_a_double_says_again_and_moves_nothing() -> None:
    stool = Stool.at(checked=True)
    before = stool.place
    stool.double()
    assert stool.place == before
    assert isinstance(stool.walk.inputs[-1], m.Again)
    assert [r.kind for r in stool.walk.records][-2:] == ["step-done", "back"]


@pytest.mark.parametrize("delay", [0.25, 0.66])
def test_a_hold_pauses_the_step_in_which_it_began(delay: float) -> None:
    stool = Stool.at(checked=True)
    stool.hold(delay, 11.0, 12)
    assert stool.walk.state.mode == "pause" and stool.walk.state.step == 0


def test_a_cut_does_not_end_before_the_press_is_a_tap_for_certain() -> None:
    stool = Stool.at(checked=True)
    stool.go_to("cut")
    while stool.walk.state.mode == "guard":
        stool.tap()
    assert stool.walk.state.powered
    step = stool.walk.state.step
    stool.press(0.0)
    stool.wait(0.7)
    assert stool.walk.state.step == step
    stool.wait(0.2)
    assert stool.walk.state.step == step + 1
    stool.walk.take(m.Back())


@pytest.mark.parametrize("rate", [11.0, 25.0, 30.0, 45.0])
@pytest.mark.parametrize("delay", [0.25, 0.5, 0.66])
@pytest.mark.parametrize("side", [False, True])
def test_a_held_key_passes_no_item_of_checklist_or_guard(
    rate: float, delay: float, side: bool
) -> None:
    stool = Stool.at(checked=False)
    stool.wait(5.0)
    stool.press(0.0, side)
    stool.press(delay, side)
    for _ in range(400):
        stool.press(1.0 / rate, side)
    stool.wait(5.0)
    # a hold may pause, which is safe; an item it does not confirm
    assert stool.walk.state.checked == 0
    stool = Stool.at(checked=True)
    stool.go_to("cut")
    assert stool.walk.state.mode == "guard"
    stool.hold(delay, rate, 400)
    assert stool.walk.state.guarded == 0 and not stool.walk.state.powered


def test_a_tap_before_the_item_was_seen_counts_for_nothing() -> None:
    stool = Stool.at(checked=False)
    stool.press(DWELL_S - 0.05)
    stool.wait(2.0)
    assert stool.walk.state.checked == 0
    stool.tap()
    assert stool.walk.state.checked == 1


def test_a_held_side_pedal_does_one_step_and_no_more() -> None:
    stool = Stool.at(checked=True)
    stool.wait(2.0)
    stool.press(0.0, side=True)
    stool.press(0.5, side=True)
    for _ in range(100):
        stool.press(0.04, side=True)
    stool.wait(2.0)
    assert stool.walk.state.step == 1


def _random_trace(stool: Stool, dice: random.Random, gestures: int) -> None:
    """Taps, doubles and holds with bounce; checked against a bookkeeping of its own."""
    for _ in range(gestures):
        kind = dice.choice(["tap", "tap", "tap", "double", "hold"])
        before = stool.walk.state
        guarded = before.mode in ("checklist", "guard", "mishap", "stop")
        stool.wait(dice.uniform(1.0, 6.0))
        times = [0.0]
        if kind == "double":
            times.append(dice.uniform(0.13, 0.34))
        elif kind == "hold":
            delay, rate = dice.uniform(0.25, 0.66), dice.uniform(11.0, 30.0)
            times += [delay + n / rate for n in range(dice.randint(2, 60))]
        clock = 0.0
        for n, at in enumerate(times):
            stool.press(at - clock)
            clock = at
            # the contact bounces when the foot goes down; repeats are the system's own
            for _ in range(dice.randint(0, 2) if n == 0 or kind == "double" else 0):
                gap = dice.uniform(0.001, 0.012)
                stool.press(gap)
                clock += gap
        stool.wait(2.0)
        after = stool.walk.state
        if kind == "tap" and guarded:
            moved = (after.mode, after.step, after.item) != (before.mode, before.step, before.item)
            assert moved
        elif kind == "tap" and before.mode == "step":
            assert after.step == before.step + 1
        elif kind == "double":
            assert (after.mode, after.step, after.item) == (before.mode, before.step, before.item)
        elif kind == "hold":
            assert not after.powered
            assert after.step == before.step
            assert after.mode in ("pause", "summary", "step", "guard", "checklist", before.mode)
            assert after.checked <= before.checked and after.guarded <= before.guarded


def _traces(count: int, seed: int) -> None:
    for n in range(count):
        dice = random.Random(seed + n)
        stool = Stool.at(checked=dice.random() < 0.7)
        for _ in range(dice.randint(0, 8)):
            stool.tap()
        _random_trace(stool, dice, 12)


def test_random_feet_never_pass_a_guard_and_lose_or_invent_no_step() -> None:
    _traces(120, seed=1)


@pytest.mark.slow
def test_ten_thousand_random_feet() -> None:
    _traces(10_000, seed=100_000)
