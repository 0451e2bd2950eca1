"""Coverage-guided fuzzing of the reader: only PatternError may come out, and quickly.

Run ``python -m tests.pattern.fuzz_reader RUNS [CORPUS_FOLDER]``. With atheris installed
(``pip install atheris``) it is guided by coverage; without it, seeds are mutated at
random. The first byte of an input chooses what the rest stands for: a whole file, path
data, a style sheet, a transform, or lengths.

The guided process grows, by about 100 small objects an input, because the instrumented
code keeps what it compared: with the same inputs and no instrumentation the objects
alive (``sys.getallocatedblocks``) stayed within 50 over 2,000 inputs, instrumented they
grew by 150,000, none of them a container. So the runs are made in rounds, each in a
process of its own that goes on from the corpus.
"""

from __future__ import annotations

import gc
import importlib
import importlib.util
import random
import subprocess
import sys
import time
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

from companion.errors import PatternError
from companion.pattern.model import Pattern
from companion.pattern.options import Lines, ReadOptions, Shaded

LIMIT_S = 10.0
ROUND = 20_000
"""Inputs until a new process goes on; it has then grown by a few hundred MB."""
SEEDS = Path(__file__).parents[1] / "data" / "outside"
WRAPPERS = (
    b"%s",
    b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 99 99"><path d="%s"/></svg>',
    b'<svg viewBox="0 0 99 99"><path fill="none" stroke="red" d="%s"/></svg>',
    b'<svg viewBox="0 0 9 9"><style>%s</style><g class="a"><rect id="b" width="5" height="5"/>'
    b"</g></svg>",
    b'<svg width="90mm" height="90mm"><rect width="9" height="9" transform="%s"/></svg>',
    b'<svg width="90mm" height="90mm"><rect style="%s" width="9" height="9"/></svg>',
    b'<svg width="%s" height="9cm"><circle r="40"/></svg>',
    b'<svg viewBox="0 0 99 99"><polyline stroke="#123" points="%s" stroke-dasharray="3 1"/></svg>',
)


@lru_cache(maxsize=1)
def reader() -> Callable[[bytes, ReadOptions, str], Pattern]:
    """The reading function; imported late, so that its modules can be instrumented."""
    from companion.pattern.reader import read_pattern_text

    return read_pattern_text


def one_input(data: bytes) -> None:
    """Read one input; anything but PatternError, or slowness, is a fault."""
    if not data:
        return
    choice, body = data[0], data[1:]
    wrapper = WRAPPERS[choice % len(WRAPPERS)]
    if wrapper != b"%s":
        body = body.replace(b"<", b"").replace(b'"', b"'").replace(b"&", b"")
    lines: Lines = ("auto", "cut", "ink")[choice // 8 % 3]
    shaded: Shaded = "waste" if choice >= 128 else "piece"
    width = 120.0 if choice // 24 % 2 else None
    start = time.process_time()  # a busy machine is no fault of the reader
    try:
        reader()(wrapper.replace(b"%s", body), ReadOptions(shaded, lines, width), "fuzz.svg")
    except PatternError as error:
        # The last resort of the reader hides a fault of its own; not here.
        # Nor may the watchdog have to end it: the counted limits come first.
        if any(part in error.title for part in ("cannot be worked", "takes too long", "memory")):
            raise error.__cause__ or error from None
    took = time.process_time() - start
    if took > LIMIT_S:
        raise TimeoutError(f"{took:.1f} s for an input of {len(data)} bytes")


def seeds(folder: Path) -> list[bytes]:
    """Whole drawings and their parts, each behind a choosing byte."""
    found: list[bytes] = []
    for path in sorted(folder.rglob("*.svg")):
        data = path.read_bytes()
        if len(data) < 4096:
            found += [bytes([c]) + data for c in (0, 8, 128)]
            for k, mark in ((1, b' d="'), (4, b'transform="'), (5, b'style="'), (7, b'points="')):
                for part in data.split(mark)[1:3]:
                    found.append(bytes([k]) + part.split(b'"')[0])
    return found or [b"\x00<svg/>"]


def mutate(seed: bytes, chance: random.Random) -> bytes:
    """A few random edits."""
    data = bytearray(seed)
    for _ in range(chance.randint(1, 6)):
        if not data:
            break
        at = chance.randrange(len(data))
        how = chance.randrange(5)
        if how == 0:
            data[at] = chance.randrange(256)
        elif how == 1:
            del data[at : at + chance.randint(1, 20)]
        elif how == 2:
            data[at:at] = data[max(0, at - 30) : at]
        elif how == 3:
            data[at:at] = chance.choice(
                [b"1e39", b"-", b"0", b"nan", b"9999999", b"%", b"M", b"z", b"a1 1 0 10", b"1e-40"]
            )
        else:
            data[at : at + 1] = bytes([chance.choice(b"0123456789.,-eMLCAZ<>/\"' ")])
    return bytes(data)


def at_random(runs: int, folder: Path, seed: int = 1) -> int:
    """Mutate seeds without guidance; the number of inputs that were read."""
    chance = random.Random(seed)
    known = seeds(folder)
    for _ in range(runs):
        one_input(mutate(chance.choice(known), chance))
    return runs


def guided(runs: int, folder: Path, corpus: Path) -> None:
    """Hand over to atheris, which ends the process."""
    atheris = importlib.import_module("atheris")
    corpus.mkdir(parents=True, exist_ok=True)
    for i, seed in enumerate(seeds(folder)[:600]):
        (corpus / f"seed-{i:04}").write_bytes(seed)
    with atheris.instrument_imports(include=["companion.pattern"]):
        reader()
    gc.freeze()  # what is loaded once need not be searched at each collection
    options = [f"-runs={runs}", "-timeout=600", "-rss_limit_mb=1500", "-max_len=4096"]
    last = corpus.parent / "last-input"

    def kept(data: bytes) -> None:
        last.write_bytes(data)  # so that an input that never returns can be told
        if data and data[0] % 16 == 0:
            gc.collect()  # trees point both ways; a peak must be one input's own
        one_input(data)

    atheris.Setup([sys.argv[0], *options, str(corpus)], kept)
    atheris.Fuzz()


def main() -> int:
    """Read the command's words."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    corpus = Path(sys.argv[2]) if len(sys.argv) > 2 else Path("fuzz-corpus")
    if importlib.util.find_spec("atheris") is None:
        print(f"{at_random(runs, SEEDS):,} inputs read at random")
        return 0
    if sys.argv[3:] == ["round"]:
        guided(runs, SEEDS, corpus)
    for done in range(0, runs, ROUND):
        words = [str(min(ROUND, runs - done)), str(corpus), "round"]
        code = subprocess.call([sys.executable, "-m", "tests.pattern.fuzz_reader", *words])
        if code:
            return code
        print(f"{min(done + ROUND, runs):,} inputs", flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
