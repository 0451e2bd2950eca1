"""A pedal that tells its releases: from the bytes of an input device to the step on the screen."""

from __future__ import annotations

import errno
import os
import random
import struct
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from textual.message import Message
from textual.pilot import Pilot

from companion.cli import pedal_device
from companion.devices.pedal_reader import Edge, PedalError, PedalReader, candidates, open_device
from companion.errors import UsageError
from companion.session import edges
from companion.session import model as m
from companion.session.gesture import Down, Heard, PedalTiming, Told
from companion.shop.settings import default_settings, load_settings, save_settings
from companion.tui import messages
from companion.tui.widgets import Banner
from companion.words import ENGLISH
from tests.tui.rig import Rig, play, state

TIMING = PedalTiming()
INPUT_EVENT = struct.Struct("llHHi")
"""struct input_event of linux/input.h: time, type, code, value."""
KEY, SPACE, F14, SYNC = 1, 57, 184, 0


def hear(moves: list[tuple[float, bool]]) -> list[Heard]:
    """All that a row of edges tells, the silence after it included."""
    told: list[Heard] = []
    now = edges.Edges()
    for at, down in moves:
        now, more = (edges.press if down else edges.release)(now, at, TIMING)
        told += more
    return [*told, *edges.pass_time(now, moves[-1][0] + 10.0, TIMING)[1]]


def names(*moves: tuple[float, bool]) -> list[str]:
    return [h.name for h in hear(list(moves)) if isinstance(h, Told)]


def test_a_tap_a_double_and_a_hold_without_any_repeat() -> None:
    assert hear([(5.0, True), (5.1, False)]) == [Down(5.0), Told("tap", 5.0)]
    assert names((5.0, True), (5.1, False), (5.3, True), (5.4, False)) == ["double"]
    assert names((5.0, True), (8.0, False)) == ["hold"]
    assert names((5.0, True), (5.1, False), (5.4, True), (5.5, False)) == ["tap", "tap"]
    # a foot that rests on the pedal is a hold, however long
    assert names((5.0, True)) == ["hold"]


def test_a_third_nervous_press_is_nothing() -> None:
    nervous = [(5.0 + 0.2 * n + up, not up) for n in range(5) for up in (0, 0.1)]
    assert names(*nervous) == ["double"]


def test_a_tap_is_certain_sooner_than_by_repeats() -> None:
    now, _ = edges.press(edges.Edges(), 5.0, TIMING)
    assert edges.due_s(now, TIMING) == 5.0 + TIMING.hold_s
    now, _ = edges.release(now, 5.1, TIMING)
    assert edges.due_s(now, TIMING) == 5.0 + TIMING.double_s
    # a slow tap is certain with its release
    now, _ = edges.press(edges.Edges(), 5.0, TIMING)
    _, told = edges.release(now, 5.5, TIMING)
    assert edges.pass_time(edges.release(now, 5.5, TIMING)[0], 5.51, TIMING)[1] == (
        Told("tap", 5.0),
    )
    assert told == ()


def _edge(dice: random.Random, at: float, down: bool) -> list[tuple[float, bool]]:
    """An edge whose contact bounces up to twice."""
    moves = [(at, down)]
    for _ in range(dice.randint(0, 2)):
        moves.append((moves[-1][0] + dice.uniform(0.001, 0.006), not down))
        moves.append((moves[-1][0] + dice.uniform(0.001, 0.006), down))
    return moves


def test_random_feet_are_understood_through_any_bounce() -> None:
    for seed in range(3000):
        dice = random.Random(seed)
        at, moves, wanted = 10.0, [], []
        for _ in range(8):
            kind = dice.choice(["tap", "double", "hold"])
            long_s = dice.uniform(0.8, 4.0) if kind == "hold" else dice.uniform(0.05, 0.15)
            moves += [*_edge(dice, at, True), *_edge(dice, at + long_s, False)]
            if kind == "double":
                again = at + dice.uniform(0.2, 0.34)
                moves += [*_edge(dice, again, True), *_edge(dice, again + 0.08, False)]
            wanted.append(kind)
            at += long_s + dice.uniform(1.0, 4.0)
        assert names(*moves) == wanted, seed


# ------------------------------------------------------------- from bytes


@dataclass
class PipeEvent:
    """One event as the library tells it."""

    when: float
    type: int
    code: int
    value: int

    def timestamp(self) -> float:
        return self.when


class PipeDevice:
    """A recorded device: input_event structures through a pipe."""

    def __init__(self) -> None:
        self.read_fd, self.write_fd = os.pipe()
        self.closed = False

    def read_loop(self) -> Iterator[PipeEvent]:
        while data := os.read(self.read_fd, INPUT_EVENT.size):
            seconds, micros, kind, code, value = INPUT_EVENT.unpack(data)
            yield PipeEvent(seconds + micros / 1e6, kind, code, value)
        raise OSError(errno.ENODEV, "No such device")

    def grab(self) -> None:
        pass

    def close(self) -> None:
        self.closed = True

    def write(self, value: int, code: int = SPACE, ago_s: float = 0.0) -> None:
        when = time.time() - ago_s
        whole = int(when)
        micros = int((when - whole) * 1e6)
        os.write(self.write_fd, INPUT_EVENT.pack(whole, micros, KEY, code, value))
        os.write(self.write_fd, INPUT_EVENT.pack(whole, micros, SYNC, 0, 0))

    def unplug(self) -> None:
        os.close(self.write_fd)


def until(condition: Callable[[], bool]) -> None:
    end = time.monotonic() + 10.0
    while not condition():
        assert time.monotonic() < end
        time.sleep(0.005)


def test_edges_come_from_the_devices_bytes_with_their_own_times() -> None:
    device, heard, lost = PipeDevice(), list[Edge](), list[str]()
    reader = PedalReader(device, heard.append, lost.append)
    before = time.monotonic()
    device.write(1, ago_s=0.4)
    device.write(2)
    device.write(2)
    device.write(0)
    device.write(1, code=F14)
    until(lambda: len(heard) == 3)
    # repeats are left out; a press read late bears the time at which it was made
    assert [(e.key, e.down) for e in heard] == [("space", True), ("space", False), ("f14", True)]
    assert heard[0].at_s == pytest.approx(before - 0.4, abs=0.2)
    device.unplug()
    until(lambda: bool(lost))
    assert "No such device" in lost[0]
    reader.close()
    assert device.closed


def test_a_closed_reader_tells_no_loss() -> None:
    device, lost = PipeDevice(), list[str]()
    reader = PedalReader(device, lambda edge: None, lost.append)
    reader.close()
    device.unplug()
    reader._thread.join(5.0)
    assert not lost and not reader._thread.is_alive()


def _opener(device: PipeDevice) -> Callable[[Callable[[Message], object]], PedalReader]:
    def begin(post: Callable[[Message], object]) -> PedalReader:
        return PedalReader(
            device, lambda e: (post(messages.PedalMoved(e.key, e.down, e.at_s)), None)[1],
            lambda why: (post(messages.PedalLost(why)), None)[1],
        )  # fmt: skip

    return begin


def _real(device: PipeDevice) -> Rig:
    """A screen on the real clock, past the checklist."""
    app = Rig()
    app.open_pedal = _opener(device)
    app.clock = time.monotonic
    return app


async def _settled(app: Rig, pilot: Pilot[int], condition: Callable[[], bool]) -> None:
    end = time.monotonic() + 10.0
    while not condition():
        assert time.monotonic() < end
        await pilot.pause(0.02)


def test_taps_and_holds_of_the_device_move_the_screen() -> None:
    device = PipeDevice()

    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        await pilot.pause(0.7)
        device.write(1)
        device.write(0)
        await _settled(app, pilot, lambda: state(app).step == 1)
        await pilot.pause(0.5)
        # held: the step that answered at once is taken back, then the clock stands
        device.write(1)
        await _settled(app, pilot, lambda: state(app).mode == "pause")
        device.write(0)
        assert state(app).step == 1
        assert [type(e) for e in app.memory.inputs[-3:]] == [m.Done, m.Back, m.Pause]

    play(script, app=_real(device))


def test_a_foot_resting_on_the_device_passes_no_guard() -> None:
    device = PipeDevice()

    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        while state(app).mode != "guard":
            app.done()
        await pilot.pause(0.8)
        device.write(1)
        await _settled(app, pilot, lambda: state(app).mode == "pause")
        assert not state(app).powered and state(app).guarded == 0

    play(script, app=_real(device))


def test_an_unplugged_device_is_told_and_the_space_bar_goes_on() -> None:
    device = PipeDevice()

    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        device.unplug()
        await _settled(app, pilot, lambda: bool(app.pedal_trouble))
        assert app.query_one(Banner).text == "PEDAL GONE" and app.reader is None
        await pilot.pause(0.7)
        await pilot.press("space")
        await _settled(app, pilot, lambda: state(app).step == 1)
        assert app.warning() == ("", "")

    play(script, app=_real(device))


def test_without_focus_the_device_is_heard_and_the_keys_are_told_not_to_be() -> None:
    device = PipeDevice()

    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        app.on_app_blur()
        assert app.warning()[0] == "KEYS NOT HEARD"
        await pilot.pause(0.7)
        device.write(1)
        device.write(0)
        await _settled(app, pilot, lambda: state(app).step == 1)

    play(script, app=_real(device))


def test_a_device_that_cannot_be_opened_is_told_on_the_screen() -> None:
    async def script(app: Rig, pilot: Pilot[int]) -> None:
        app.to_first_step()
        assert app.warning() == ("PEDAL GONE", "Use the space bar. Plug it in.")
        app.press(app.test_clock())
        assert app.warning() == ("", "")

    def refuse(post: Callable[[Message], object]) -> PedalReader:
        raise PedalError("the pedal is not there", "", "Plug it in.")

    app = Rig()
    app.open_pedal = refuse
    play(script, app=app)


# ------------------------------------------------------------- opening and setting up


@dataclass
class FakeDevice:
    """What the library opens, with chosen keys."""

    keys: tuple[int, ...]
    grabbed: bool = False
    closed: bool = False
    busy: bool = False

    def capabilities(self) -> dict[int, list[int]]:
        return {KEY: list(self.keys)} if self.keys else {}

    def grab(self) -> None:
        if self.busy:
            raise OSError(errno.EBUSY, "Device or resource busy")
        self.grabbed = True

    def close(self) -> None:
        self.closed = True


def _library(monkeypatch: pytest.MonkeyPatch, found: FakeDevice | OSError) -> None:
    def opened(path: str) -> FakeDevice:
        if isinstance(found, OSError):
            raise found
        return found

    monkeypatch.setitem(sys.modules, "evdev", SimpleNamespace(InputDevice=opened))


def test_a_pedal_is_taken_for_the_program_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    device = FakeDevice((SPACE,))
    _library(monkeypatch, device)
    open_device(Path("/dev/input/pedal"))
    assert device.grabbed


@pytest.mark.parametrize(
    ("found", "words"),
    [(PermissionError(errno.EACCES, "no"), "usermod -aG input"),
     (FileNotFoundError(errno.ENOENT, "no"), "Plug it in"),
     (OSError(errno.EBUSY, "no"), "another program"),
     (OSError(errno.EIO, "wires"), "wires"),
     (FakeDevice(()), "it has no keys"),
     (FakeDevice((1, 16, 30, 44, 57, 99)), "whole keyboard"),
     (FakeDevice((SPACE,), busy=True), "another program")],
)  # fmt: skip
def test_what_stands_in_the_way_is_told_with_its_remedy(
    found: FakeDevice | OSError, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    _library(monkeypatch, found)
    with pytest.raises(PedalError, match=words):
        open_device(Path("/dev/input/pedal"))
    if isinstance(found, FakeDevice):
        assert found.closed and not found.grabbed


def test_without_the_library_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "evdev", None)
    with pytest.raises(PedalError, match=r"kerfside\[pedal\]"):
        open_device(Path("/dev/input/pedal"))


def test_the_real_library_tells_a_missing_device_the_same_way() -> None:
    pytest.importorskip("evdev")
    with pytest.raises(PedalError, match="is not there"):
        open_device(Path("/dev/input/there-is-no-such-pedal"))


def test_devices_that_may_be_a_pedal_are_found_by_their_names(tmp_path: Path) -> None:
    for name in ("usb-Foot-event-kbd", "usb-Mouse-event-mouse", "usb-Other-event-kbd"):
        (tmp_path / name).touch()
    assert [p.name for p in candidates(tmp_path)] == ["usb-Foot-event-kbd", "usb-Other-event-kbd"]
    assert candidates(tmp_path / "none") == ()


def test_setup_offers_the_device_and_keeps_its_path(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    settings, foot = default_settings(), Path("/dev/input/by-id/usb-Foot-event-kbd")
    monkeypatch.setattr(sys, "platform", "linux")
    _library(monkeypatch, FakeDevice((SPACE,)))

    def offer(answer: str, *paths: Path) -> str:
        return pedal_device.offer(
            settings, ENGLISH, lambda _: answer, lambda: paths
        ).pedal_device  # fmt: skip

    assert offer("1", foot) == str(foot)
    assert "usb-Foot" in capsys.readouterr().out
    assert offer("", foot) == offer("7", foot) == "none"
    capsys.readouterr()
    # no device, no offer
    assert offer("1") == "none" and capsys.readouterr().out == ""
    _library(monkeypatch, PermissionError(errno.EACCES, "no"))
    assert offer("1", foot) == "none"
    assert "usermod -aG input" in capsys.readouterr().out
    kept = tmp_path / "settings.toml"
    save_settings(replace(settings, pedal_device=str(foot)), kept)
    assert load_settings(kept).pedal_device == str(foot)
    with pytest.raises(UsageError):
        pedal_device.with_device(settings, "pedal")
