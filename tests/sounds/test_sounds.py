"""The cue files: measured, not trusted.

ISO 7731:2003 (from memory, so the band is our own design rule and not a claim of
conformity): main parts between 500 and 2,500 Hz, with energy below 1,500 Hz for
wearers of hearing protectors.
"""

from __future__ import annotations

import importlib.util
import wave
from pathlib import Path
from types import ModuleType

import numpy as np
import numpy.typing as npt
import pytest

FOLDER = Path(__file__).parents[2] / "sounds"
NAMES = sorted(f.stem for f in FOLDER.glob("*.wav"))


def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_sounds", FOLDER / "make_sounds.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def samples(name: str) -> npt.NDArray[np.float64]:
    with wave.open(str(FOLDER / f"{name}.wav")) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, 22_050)
        raw = file.readframes(file.getnframes())
    return np.frombuffer(raw, "<i2").astype(float) / 32768


def loud_ms(name: str) -> list[int]:
    """Lengths of sound and silence in turn, in steps of 10 ms: the rhythm."""
    x = samples(name)
    step = 220
    loud = [bool(np.abs(x[i : i + step]).max() > 0.02) for i in range(0, x.size - step, step)]
    runs, last = [1], loud[0]
    for here in loud[1:]:
        if here == last:
            runs[-1] += 1
        else:
            runs.append(1)
        last = here
    return runs


def test_all_named_cues_are_there() -> None:
    assert set(NAMES) == set(script().CUES)
    assert {"next", "attention", "stop", "halfway", "last-tenth", "timer-over", "not-heard"} == set(
        NAMES
    )


def test_written_again_they_are_equal_byte_for_byte(tmp_path: Path) -> None:
    script().write(tmp_path)
    for name in NAMES:
        assert (tmp_path / f"{name}.wav").read_bytes() == (FOLDER / f"{name}.wav").read_bytes()


@pytest.mark.parametrize("name", NAMES)
def test_length_level_and_band(name: str) -> None:
    x = samples(name)
    assert 0.1 < x.size / 22_050 < 1.0
    assert np.abs(x).max() < 0.9, "no clipping"
    power = np.abs(np.fft.rfft(x)) ** 2
    hertz = np.fft.rfftfreq(x.size, 1 / 22_050)
    share = power[(hertz >= 500) & (hertz <= 1500)].sum() / power.sum()
    assert share > 0.8


def test_equal_loudness() -> None:
    levels = []
    for name in NAMES:
        x = samples(name)
        blocks = x[: x.size // 220 * 220].reshape(-1, 220)
        rms = np.sqrt((blocks**2).mean(axis=1))
        levels.append(20 * np.log10(np.sqrt((rms[rms > 0.02] ** 2).mean())))
    assert max(levels) - min(levels) < 1.0, "within 1 dB"


def test_rhythms_differ_and_not_pitch_alone() -> None:
    rhythms = [tuple(loud_ms(name)) for name in NAMES]
    for i, a in enumerate(rhythms):
        for b in rhythms[i + 1 :]:
            assert len(a) != len(b) or max(abs(p - q) for p, q in zip(a, b, strict=True)) >= 4
