"""From a prompt to a captured sound, through a real sound server, and back to words.

Slow and in need of two programs (PulseAudio) and a recogniser (pocketsphinx), so
it has its own command: ``pytest -m slow tests/voice``. The recogniser is given a
closed grammar of the plan's own prompts and asked which of them it heard; noise
of 30 units rms is added because digital silence upsets it.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
import wave
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from companion.cli.common import shipped_plan
from companion.devices.paths import shipped
from companion.devices.voice.client import Voice, VoiceSettings, helper_command
from companion.words.speakable import speakable
from tests.voice.test_client import Heard

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not shutil.which("pulseaudio"), reason="needs pulseaudio and parec"),
]
RATE_HZ = 22_050
RENDER = """
import sys
from companion.devices.voice.engine import Engine
engine = Engine(150, "gmw/en-us")
for i, text in enumerate(sys.stdin.read().splitlines()):
    open(f"{sys.argv[1]}/{i}.pcm", "wb").write(engine.render(text))
engine.close()
"""
EXTRA = {
    "anticlockwise": "AE N T IY K L AA K W AY Z",
    "workpiece": "W ER K P IY S",
}
"""Words the recogniser's dictionary lacks, as its phones."""
Pcm = npt.NDArray[np.float64]


@pytest.fixture
def sink(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A null sink whose monitor is recorded to the file that is returned."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))
    server = subprocess.Popen(
        [
            "pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no",
            "-L", "module-null-sink sink_name=cap rate=22050 format=s16le channels=1",
            "-L", "module-native-protocol-unix auth-anonymous=1",
        ],
        stderr=subprocess.DEVNULL,
    )  # fmt: skip
    for _ in range(100):
        if subprocess.run(["pactl", "info"], capture_output=True).returncode == 0:
            break
        time.sleep(0.1)
    captured = tmp_path / "captured.pcm"
    with captured.open("wb") as file:
        recorder = subprocess.Popen(
            ["parec", "-d", "cap.monitor", "--rate=22050", "--format=s16le", "--channels=1",
             "--latency-msec=20"],
            stdout=file,
        )  # fmt: skip
        while captured.stat().st_size < RATE_HZ:  # half a second of silence: it records
            time.sleep(0.05)
        yield captured
        recorder.terminate()
        recorder.wait()
    server.terminate()
    server.wait()


def best(sound: Pcm, part: Pcm) -> tuple[float, int]:
    """Best normalised correlation of a part in a sound, and where."""
    size = 1 << int(np.ceil(np.log2(sound.size + part.size)))
    cross = np.fft.irfft(np.fft.rfft(sound, size) * np.conj(np.fft.rfft(part, size)), size)
    cross = cross[: sound.size - part.size + 1]
    energy = np.cumsum(np.concatenate([[0.0], sound**2]))
    local = energy[part.size :] - energy[: -part.size]
    score = cross / np.sqrt(np.maximum(local, 1.0) * (part @ part))
    at = int(score.argmax())
    return float(score[at]), at


def prompts() -> list[str]:
    """Sixty different prompts of the plan of a demo."""
    plan = shipped_plan("beach_ornaments")
    return list(dict.fromkeys(s.say for s in plan.steps))[:60]


def test_the_right_cues_and_sentences_come_out_in_order(sink: Path) -> None:
    heard = Heard()
    voice = Voice(helper_command(shipped("sounds")), on_event=heard.event)
    heard.until(lambda: any(e["event"] == "ready" for e in heard.events))
    assert voice.status == "ready"
    cues = ["next", "attention", "stop", "halfway", "last-tenth", "timer-over", "not-heard"]
    for name in cues:
        voice.cue(name)
        time.sleep(1.3)
    voice.say("Thread the blade at hole 7.")
    heard.until(lambda: any(e["event"] == "end" for e in heard.events))
    time.sleep(0.5)
    voice.close()
    sound = np.frombuffer(sink.read_bytes()[: sink.stat().st_size // 2 * 2], "<i2").astype(float)
    places, scores = [], {}
    for name in cues:
        with wave.open(str(shipped("sounds") / f"{name}.wav")) as file:
            cue = np.frombuffer(file.readframes(file.getnframes()), "<i2").astype(float)
        score, at = best(sound, cue)
        scores[name] = score
        places.append(at)
    print("correlation of each cue:", {k: round(v, 4) for k, v in scores.items()})
    assert min(scores.values()) > 0.99, scores
    assert places == sorted(places)
    after = sound[places[-1] + RATE_HZ :]
    assert np.sqrt((after**2).mean()) > 100, "the sentence was heard too"


def test_sentences_come_out_as_rendered_at_once_and_are_cut_off_by_the_next(
    sink: Path, tmp_path: Path
) -> None:
    """Ten times "say A, a second later say B": both are found, B at its time, A no longer."""
    pairs, heard = prompts()[:20], Heard()
    settings = VoiceSettings(voice="gmw/en-us")
    # rendered in one order in fresh processes: the engine's output is then the same
    expected = rendered(pairs, tmp_path)
    voice = Voice(helper_command(shipped("sounds")), settings, on_event=heard.event)
    heard.until(lambda: any(e["event"] == "ready" for e in heard.events))
    voice.prepare(pairs)
    heard.until(lambda: any(e["event"] == "prepared" for e in heard.events))
    asked_s, started_s = [], []
    for k, text in enumerate(pairs):
        asked_s.append(time.monotonic())
        voice.say(text)
        heard.until(lambda: sum(e["event"] == "start" for e in heard.events) > k)  # noqa: B023
        started_s.append(time.monotonic())
        time.sleep(1.0 if k % 2 == 0 else 1.6)
    time.sleep(0.3)
    voice.close()
    sound = np.frombuffer(sink.read_bytes()[: sink.stat().st_size // 2 * 2], "<i2").astype(float)
    places = []
    for k, pcm in enumerate(expected):
        start = int(np.flatnonzero(np.abs(pcm) > 200)[0])
        head = pcm[start : start + RATE_HZ // 2]
        score, at = best(sound, head)
        assert score > 0.95, (k, pairs[k], score)
        places.append((at - start) / RATE_HZ)
    assert places == sorted(places)
    late = [s - a for a, s in zip(asked_s, started_s, strict=True)]
    apart = [
        (q - p) - (b - a)
        for p, q, a, b in zip(places, places[1:], asked_s, asked_s[1:], strict=False)
    ]
    median, most = 1000 * sorted(late)[10], 1000 * max(late)
    print(f"request to first sample: {median:.0f} ms median, {most:.0f} ms at most")
    print(f"spacing heard against asked: {1000 * min(apart):+.0f} to {1000 * max(apart):+.0f} ms")
    assert sorted(late)[10] < 0.15, late
    # A is heard unchanged to within 100 ms of the place where B begins, and not after it
    for k in range(0, 20, 2):
        first, begun = expected[k], int((places[k + 1] - places[k]) * RATE_HZ)
        assert begun < first.size, "A was still being said"
        at = int(places[k] * RATE_HZ)
        assert best(sound[at : at + begun], first[: begun - RATE_HZ // 10])[0] > 0.95
        after = sound[at + begun : at + begun + RATE_HZ // 2]
        assert best(np.concatenate([after, np.zeros(RATE_HZ)]),
                    first[begun + RATE_HZ // 10 : begun + RATE_HZ // 3])[0] < 0.6  # fmt: skip


def decoder(grammar: Path, words: Sequence[str]) -> Any:  # noqa: ANN401  # the library has no types
    """A recogniser that knows one grammar."""
    import pocketsphinx

    made = pocketsphinx.Decoder(
        samprate=16000, loglevel="FATAL", beam=1e-80, pbeam=1e-80, wbeam=1e-60
    )
    for word in words:
        if made.lookup_word(word) is None:
            assert word in EXTRA, f"{word!r} is not in the recogniser's dictionary: add it to EXTRA"
            made.add_word(word, EXTRA[word], False)
    made.add_jsgf_file("prompts", str(grammar))
    made.activate_search("prompts")
    return made


def recognise(listen: Any, pcm: Pcm) -> str:  # noqa: ANN401
    """Which prompt of the grammar this was; empty for none."""
    quiet = np.zeros(RATE_HZ // 3)
    padded = np.concatenate([quiet, pcm, quiet])
    noisy = padded + np.random.default_rng(1).normal(0, 30, padded.size)
    at = np.arange(0, noisy.size, RATE_HZ / 16000)
    down = np.interp(at, np.arange(noisy.size), noisy)
    listen.start_utt()
    listen.process_raw(np.clip(down, -32768, 32767).astype("<i2").tobytes(), full_utt=True)
    listen.end_utt()
    found = listen.hyp()
    return str(found.hypstr) if found else ""


def plain(text: str) -> str:
    """Lower-case words only, as a grammar wants them."""
    kept = "".join(c if c.isalnum() or c in "' " else " " for c in speakable(text).lower())
    return " ".join(kept.split())


def rendered(texts: Sequence[str], folder: Path) -> list[Pcm]:
    """What the engine says, one array a text."""
    subprocess.run(
        [sys.executable, "-c", RENDER, str(folder)],
        input="\n".join(speakable(t) for t in texts), text=True, check=True,
        stdout=subprocess.DEVNULL, cwd=Path(__file__).parents[2], env=dict(os.environ),
    )  # fmt: skip
    return [
        np.frombuffer((folder / f"{i}.pcm").read_bytes(), "<i2").astype(float)
        for i in range(len(texts))
    ]


def test_a_recogniser_tells_the_prompts_of_a_plan_apart(tmp_path: Path) -> None:
    pytest.importorskip("pocketsphinx", reason="needs the recogniser of the proof extra")
    texts = prompts()
    assert len(texts) == 60
    known = [plain(t) for t in texts]
    assert len(set(known)) == 60
    grammar = tmp_path / "prompts.jsgf"
    grammar.write_text(
        "#JSGF V1.0;\ngrammar prompts;\npublic <prompt> = " + " | ".join(known) + ";\n"
    )
    listen = decoder(grammar, sorted({w for k in known for w in k.split()}))
    heard = [recognise(listen, pcm) for pcm in rendered(texts, tmp_path)]
    right = sum(h == k for h, k in zip(heard, known, strict=True))
    wrong = [(k, h) for h, k in zip(heard, known, strict=True) if h != k]
    print(f"told apart: {right} of {len(texts)}")
    assert right >= 55, (right, wrong)
    others = ["The kettle is on and the harbour master is late today.", "Nobody has fed the gulls."]
    for pcm in rendered(others, tmp_path):
        assert recognise(listen, pcm) not in known
