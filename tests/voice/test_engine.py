"""The real engine and the real helper, without a sound card."""

from __future__ import annotations

import os
import pty
import select
import struct
import subprocess
import sys
import time
import wave
from array import array
from pathlib import Path

import numpy as np
import pytest

from companion.devices.paths import shipped
from companion.devices.voice.client import Voice, helper_command
from companion.devices.voice.engine import read_sound
from companion.devices.voice.player import FADE_SAMPLES, Mixer
from companion.devices.voice.sysplayer import SystemMixer
from tests.voice.test_client import Heard

linux = pytest.mark.skipif(sys.platform != "linux", reason="the bundled engine is for Linux")
PROMPTS = [
    "Thread the blade at hole 7.",
    "Clear the waste from opening 3.",
    "Check the tension before the next cut.",
    "Cut clockwise, spin at the sharp corner.",
]
RENDER = """
import sys, time
from companion.devices.voice.engine import Engine
engine = Engine()
started = time.monotonic()
sizes = [len(engine.render(text)) for text in sys.argv[1:]]
print(*sizes, time.monotonic() - started)
engine.close()
"""


@linux
def test_renders_whole_prompts_quickly_from_the_first_on() -> None:
    long = " ".join(["clear the waste"] * 40)
    texts = [long, "go", *(f"{p} Step {i}." for i in range(15) for p in PROMPTS)]
    out = subprocess.run(
        [sys.executable, "-c", RENDER, *texts], capture_output=True, text=True, check=True
    ).stdout.split("\n")[-2]
    *sizes, took = out.split()
    assert int(sizes[0]) > 10 * int(sizes[1]) > 0
    assert all(1.0 < int(s) / 2 / 22_050 < 9.0 for s in sizes[2:])
    assert float(took) < 15.0


def test_mixer_cuts_with_a_short_fade_and_ends_once() -> None:
    ended: list[int] = []
    mixer = Mixer(ended.append)
    mixer.play(array("h", [1000] * 5000).tobytes(), 1)
    mixer.block(882)
    mixer.play(array("h", [-500] * 1000).tobytes(), 2)
    block = array("h", mixer.block(882))
    assert block[0] == 1000 and block[FADE_SAMPLES - 1] < 10 and block[FADE_SAMPLES] == -500
    rest = array("h", mixer.block(882) + mixer.block(882))
    assert rest.count(-500) == 1000 - (882 - FADE_SAMPLES)
    assert ended == [2]


def test_mixer_mixes_a_cue_over_the_prompt_without_wrapping() -> None:
    mixer = Mixer(lambda _: None)
    mixer.play(array("h", [30_000] * 10).tobytes(), 1)
    mixer.cue(array("h", [10_000] * 4).tobytes())
    assert list(array("h", mixer.block(6))) == [32_767] * 4 + [30_000] * 2
    mixer.stop()
    mixer.block(FADE_SAMPLES)
    assert not any(mixer.block(100))


def test_aiff_is_read_too(tmp_path: Path) -> None:
    # AIFF 1.3 (Apple, 1989): COMM holds channels, frames, bits, 80-bit rate; SSND the samples
    rate = struct.pack(">HQ", 16383 + 14, 22_050 << 49)
    comm = struct.pack(">hIh", 1, 3, 16) + rate
    ssnd = struct.pack(">II3h", 0, 0, 1, -2, 300)
    body = b"AIFF"
    for name, data in ((b"COMM", comm), (b"SSND", ssnd)):
        body += name + struct.pack(">I", len(data)) + data
    path = tmp_path / "x.aiff"
    path.write_bytes(b"FORM" + struct.pack(">I", len(body)) + body)
    assert list(array("h", read_sound(path))) == [1, -2, 300]


@linux
def test_what_the_device_gets_is_cue_then_prompt_and_a_cut_silences(tmp_path: Path) -> None:
    pytest.importorskip("miniaudio")
    tap, heard = tmp_path / "tap.pcm", Heard()
    voice = Voice(helper_command(shipped("sounds"), null=True, tap=tap), on_event=heard.event)
    heard.until(lambda: any(e["event"] == "ready" for e in heard.events))
    voice.prepare(PROMPTS)
    heard.until(lambda: any(e["event"] == "prepared" for e in heard.events))
    asked_s, given = time.monotonic(), tap.stat().st_size // 2
    voice.say(PROMPTS[0], cue="next")
    heard.until(lambda: any(e["event"] == "start" for e in heard.events))
    assert time.monotonic() - asked_s < 0.15
    heard.until(lambda: any(e["event"] == "end" for e in heard.events))
    voice.say(PROMPTS[1])
    heard.until(lambda: sum(e["event"] == "start" for e in heard.events) == 2)
    voice.stop()
    size = tap.stat().st_size
    time.sleep(0.6)  # the null device is paced in real time: let it pull silence
    voice.close()
    with wave.open(str(shipped("sounds") / "next.wav")) as file:
        cue = np.frombuffer(file.readframes(file.getnframes()), "<i2").astype(float)
    got = np.frombuffer(tap.read_bytes(), "<i2").astype(float)
    match = np.correlate(got[: 22_050 * 8], cue)
    at = int(match.argmax())
    assert match[at] / (cue @ cue) > 0.999, "the cue came out unchanged"
    # the null device takes its samples in real time: places in them are times
    late_s = (at - given) / 22_050
    block_s = 0.04  # it may begin in the next block only
    print(f"tap to sound: at most {1000 * (late_s + block_s):.0f} ms")
    assert late_s + block_s < 0.15
    after = got[at + cue.size : at + cue.size + 22_050 * 4]
    gap = np.flatnonzero(np.abs(after) > 200)[0] / 22_050
    assert 0.05 < gap < 0.4, "then the prompt"
    assert np.sqrt((after[int(gap * 22_050) :][:22_050] ** 2).mean()) > 500
    assert not np.any(got[size // 2 + 22_050 // 10 :]), "nothing within 100 ms of the stop"


@linux
def test_a_thousand_taps_last_wins(tmp_path: Path) -> None:
    pytest.importorskip("miniaudio")
    heard = Heard()
    voice = Voice(helper_command(shipped("sounds"), null=True), on_event=heard.event)
    heard.until(lambda: any(e["event"] == "ready" for e in heard.events))
    for i in range(1000):
        voice.say(f"Thread hole {i % 40}, tap {i}.", cue="next")
    last = 1000
    heard.until(lambda: any(e["event"] == "end" and e["id"] == last for e in heard.events), 30.0)
    started = [e["id"] for e in heard.events if e["event"] == "start"]
    assert started[-1] == last and len(started) < 200
    print(f"of 1,000 prompts {len(started)} were begun")
    assert voice._inbox.qsize() == 0 and voice.status == "ready"
    pid = voice.helper_pid
    voice.close()
    assert pid is not None
    with pytest.raises(ProcessLookupError):  # gone, and no zombie either
        os.kill(pid, 0)


@linux
def test_no_byte_of_an_audio_library_reaches_the_terminal() -> None:
    script = (
        "import time\n"
        "from companion.devices.paths import shipped\n"
        "from companion.devices.voice.client import Voice, helper_command\n"
        "v = Voice(helper_command(shipped('sounds')))\n"
        "v.say('Thread hole seven.', cue='next')\n"
        "time.sleep(2.5)\n"
        "v.close()\n"
        "print('status', v.status)\n"
    )
    child, terminal = pty.fork()
    if child == 0:
        os.execv(sys.executable, [sys.executable, "-c", script])
    seen = b""
    until = time.monotonic() + 20
    while time.monotonic() < until:
        if select.select([terminal], [], [], 0.2)[0]:
            try:
                more = os.read(terminal, 4096)
            except OSError:
                break
            if not more:
                break
            seen += more
    os.waitpid(child, 0)
    lines = seen.decode().split()
    assert lines[0] == "status" and len(lines) == 2, seen


@linux
def test_a_system_player_serves_where_the_library_is_missing(tmp_path: Path) -> None:
    played = tmp_path / "played"
    program = tmp_path / "aplay"
    program.write_text(f'#!/bin/sh\ncp "$2" {played}\n')
    program.chmod(0o755)
    ended: list[int] = []
    mixer = SystemMixer((str(program), "-q"), ended.append)
    mixer.play(array("h", [1, 2, 3]).tobytes(), 7)
    until = time.monotonic() + 10
    while not ended and time.monotonic() < until:
        time.sleep(0.01)
    mixer.close()
    assert ended == [7]
    assert list(array("h", read_sound(played))) == [1, 2, 3]


@linux
def test_a_system_player_is_cut_off(tmp_path: Path) -> None:
    program = tmp_path / "aplay"
    program.write_text("#!/bin/sh\nexec sleep 60\n")
    program.chmod(0o755)
    ended: list[int] = []
    mixer = SystemMixer((str(program), "-q"), ended.append)
    mixer.play(b"\0\0" * 100, 1)
    started = time.monotonic()
    mixer.close()
    assert time.monotonic() - started < 1.0 and ended == []
