"""Makes the cue sounds. Run it to write them again; the bytes come out the same.

Each cue is told apart by rhythm as well as by pitch, has its main energy between
500 and 1,500 Hz (ISO 7731: signals for wearers of hearing protectors, from
memory), is under one second long, peaks below full scale and has the same
loudness (rms over its sounding part) as the others. Pulses carry four harmonics
so that a cue is still heard when noise covers one of them.

    python sounds/make_sounds.py [FOLDER]
"""

from __future__ import annotations

import sys
import wave
from pathlib import Path

import numpy as np
import numpy.typing as npt

RATE_HZ = 22_050
RMS = 0.22
"""Of full scale; peaks stay below 0.9 with the harmonics used here."""
EDGE_S = 0.008
HARMONICS = (1.0, 0.35, 0.16, 0.08)

Pulse = tuple[float, float, float]
"""Start s, length s, fundamental Hz (0: none)."""

CUES: dict[str, tuple[Pulse, ...]] = {
    # one step further: one short rising pair
    "next": ((0.0, 0.09, 660.0), (0.11, 0.13, 880.0)),
    # look up: three even pulses on one note
    "attention": ((0.0, 0.12, 780.0), (0.2, 0.12, 780.0), (0.4, 0.12, 780.0)),
    # stop: long, low-high-low, no gap; the only one that sounds without a pause
    "stop": ((0.0, 0.28, 1000.0), (0.28, 0.28, 590.0), (0.56, 0.36, 1000.0)),
    # half the cut is done: two long, same note
    "halfway": ((0.0, 0.22, 620.0), (0.32, 0.22, 620.0)),
    # the last tenth: four quick, rising
    "last-tenth": (
        (0.0, 0.08, 620.0),
        (0.12, 0.08, 700.0),
        (0.24, 0.08, 790.0),
        (0.36, 0.2, 900.0),
    ),
    # a timer is over: short-short-long, falling
    "timer-over": ((0.0, 0.08, 900.0), (0.13, 0.08, 900.0), (0.26, 0.34, 680.0)),
    # the pedal is not heard: one long falling pair
    "not-heard": ((0.0, 0.3, 740.0), (0.36, 0.4, 550.0)),
}


def pulse(length_s: float, hertz: float) -> npt.NDArray[np.float64]:
    """One harmonic pulse with raised-cosine edges, peak not normalised."""
    t = np.arange(int(length_s * RATE_HZ)) / RATE_HZ
    tone = sum(a * np.sin(2 * np.pi * hertz * (k + 1) * t) for k, a in enumerate(HARMONICS))
    edge = np.clip(np.minimum(t, t[-1] - t) / EDGE_S, 0.0, 1.0)
    return np.asarray(tone * 0.5 * (1 - np.cos(np.pi * edge)))


def cue(pulses: tuple[Pulse, ...]) -> npt.NDArray[np.int16]:
    """A whole cue as 16-bit samples of equal loudness."""
    end = max(start + length for start, length, _ in pulses)
    sound = np.zeros(int(round(end * RATE_HZ)) + 1)
    sounding = np.zeros(sound.size, dtype=bool)
    for start, length, hertz in pulses:
        samples = pulse(length, hertz)
        i = int(start * RATE_HZ)
        sound[i : i + samples.size] += samples
        sounding[i : i + samples.size] = True
    sound *= RMS / np.sqrt(np.mean(sound[sounding] ** 2))
    # rounding to whole steps makes the bytes the same on every processor
    return np.round(sound * 32767).astype("<i2")


def write(folder: Path) -> None:
    """Write all cues as mono WAV files."""
    for name, pulses in CUES.items():
        with wave.open(str(folder / f"{name}.wav"), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(RATE_HZ)
            file.writeframes(cue(pulses).tobytes())


if __name__ == "__main__":
    write(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
