"""No input takes more than 10 s or 1 GiB, be it read or refused.

Each hostile drawing is read in a process of its own and its processor time and memory
are taken from the system. The worst stand in the slow run.
"""

from __future__ import annotations

import json
import random
import subprocess
import sys
from collections.abc import Callable

import pytest

MOST_S = 10.0
MOST_MIB = 1024
HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="900mm" viewBox="0 0 900 900">'
READ = """
import json, resource, sys
from companion.errors import PatternError
from companion.pattern.options import ReadOptions
from companion.pattern.reader import read_pattern_text
data = sys.stdin.buffer.read()
first = resource.getrusage(resource.RUSAGE_SELF)
try:
    pattern = read_pattern_text(data, ReadOptions(lines=sys.argv[1], shaded=sys.argv[2]), "x.svg")
    result = f"{len(pattern.pieces)} pieces"
except PatternError as error:
    result = error.title
last = resource.getrusage(resource.RUSAGE_SELF)
spent = last.ru_utime + last.ru_stime - first.ru_utime - first.ru_stime
print(json.dumps([result, spent, last.ru_maxrss / 1024]))
"""


def comb(teeth: int) -> str:
    rows = [
        f"L0 {y:.3f}L900 {y:.3f}L900 {y + 400 / teeth:.3f}L0 {y + 400 / teeth:.3f}"
        for y in (i * 900 / teeth for i in range(teeth))
    ]
    return "M-9 0" + "".join(rows) + "L-9 900z"


def combs(teeth: int) -> str:
    d = comb(teeth)
    return f'<path d="{d}"/><path d="{d}" transform="matrix(0 1 1 0 0 0)"/>'


def one_path_of_combs() -> str:
    d = comb(130)
    turned = f'<path d="{d}{d.replace("900", "899")}" fill-rule="evenodd"/>'
    return turned


def scribble(corners: int) -> str:
    chance = random.Random(3)
    points = " ".join(f"{chance.random() * 900:.2f}" for _ in range(2 * corners))
    return f'<polygon fill-rule="evenodd" points="{points}"/>'


def scribbled_line() -> str:
    return scribble(900).replace("<polygon", '<polyline fill="none" stroke="red"')


def rings(count: int) -> str:
    return "".join(
        f'<circle cx="450" cy="450" r="{449 - i * 448 / count:.3f}" '
        f'fill="{"#000" if i % 2 else "#fff"}"/>'
        for i in range(count)
    )


def confetti() -> str:
    chance = random.Random(4)
    return "".join(
        f'<circle cx="{chance.random() * 900:.1f}" cy="{chance.random() * 900:.1f}" r="40" '
        f'fill="{chance.choice(("#000", "#fff"))}"/>'
        for _ in range(20_000)
    )


def dashes() -> str:
    return (
        '<path fill="none" stroke="#000" stroke-width="3" stroke-dasharray=".3 .3" '
        'd="M0 0L900 900L0 900L900 0L450 900L450 0L0 450L900 450"/>'
    )


def far_dashes() -> str:
    """Found by the fuzzer: 18,000 dashes whose rounding made neighbours overlap."""
    points = "22 12 18 12 15 21 9 3 6012 12 18 12 15 21 9 3 60123 603 601"
    return f'<polyline stroke="#123" points="{points}" stroke-dasharray="3 1"/>'


def trace() -> str:
    chance = random.Random(5)
    steps = "".join(f"c{chance.random():.2f} 1 1 {chance.random():.2f} 1 0" for _ in range(390_000))
    return f'<path transform="scale(.002 9)" d="M0 5{steps}v20h-390000z"/>'


def style_rules() -> str:
    rules = "".join(f"* * * .a{i}, [x], *{{fill:red}}" for i in range(4000))
    return f"<style>{rules}</style>" + '<g><rect width="9" height="9"/></g>' * 4000


def deep_selectors() -> str:
    rule = " ".join(["g"] * 30) + " .no rect{fill:red}"
    deep = "<g>" * 100 + '<rect width="9" height="9"/>' + "</g>" * 100
    return f"<style>{rule}</style>{deep}"


def clips() -> str:
    return (
        f'<clipPath id="c"><path d="{comb(2000)}"/></clipPath>'
        + '<rect width="800" height="30" y="7" clip-path="url(#c)"/>' * 3000
    )


def digits() -> str:
    long = "9" * 3_000_000
    return (
        f'<rect width="{long}!" height="5" opacity="{long}x" transform="scale({long}z)"/>'
        f'<path d="M0 0L{long} 5 {long}x"/><polygon points="{long} {long}#"/>'
    )


def brackets() -> str:
    many = "(" * 200_000
    return (
        f'<style>rect{{fill:{many}}} {"{" * 100_000}</style><rect style="fill:{many}" width="9"/>'
    )


def uses() -> str:
    levels = "".join(f'<g id="l{i + 1}">{f"""<use href="#l{i}"/>""" * 9}</g>' for i in range(9))
    return f'<defs><path id="l0" d="{comb(50)}"/>{levels}</defs><use href="#l9"/>'


def elements() -> str:
    return (
        '<g transform="translate(1 2)" class="a b c" style="fill:red">' * 99
        + "<g/>" * 99_000
        + "</g>" * 99
    )


QUICK: list[Callable[[], str]] = [
    digits,
    brackets,
    deep_selectors,
    dashes,
    far_dashes,
    scribbled_line,
]
HOSTILE: list[tuple[str, Callable[[], str], str, str]] = [
    *[(f.__name__, f, "auto", "piece") for f in QUICK],
    ("combs-100", lambda: combs(100), "ink", "piece"),
    ("combs-150", lambda: combs(150), "ink", "piece"),
    ("combs-250", lambda: combs(250), "ink", "piece"),
    ("combs-300", lambda: combs(300), "ink", "waste"),
    ("combs-12000", lambda: combs(12_000), "ink", "piece"),
    ("combs-cut", lambda: combs(150), "cut", "piece"),
    ("one-path", one_path_of_combs, "ink", "piece"),
    ("scribble-600", lambda: scribble(600), "ink", "piece"),
    ("scribble-1000", lambda: scribble(1000), "ink", "piece"),
    ("scribble-50000", lambda: scribble(50_000), "ink", "piece"),
    ("rings-400", lambda: rings(400), "ink", "piece"),
    ("rings-5000", lambda: rings(5000), "ink", "piece"),
    ("confetti", confetti, "ink", "piece"),
    ("trace", trace, "ink", "piece"),
    ("style-rules", style_rules, "ink", "piece"),
    ("clips", clips, "ink", "piece"),
    ("uses", uses, "ink", "piece"),
    ("elements", elements, "ink", "piece"),
]


def measured(body: str, lines: str, shaded: str) -> tuple[str, float, float]:
    """Result, processor seconds, MiB."""
    done = subprocess.run(
        [sys.executable, "-c", READ, lines, shaded],
        input=f"{HEAD}{body}</svg>".encode(),
        capture_output=True,
        timeout=300,
        check=True,
    )
    result, spent, memory = json.loads(done.stdout)
    return result, spent, memory


@pytest.mark.parametrize("make", QUICK, ids=lambda f: f.__name__)
def test_hostile_drawings_are_quick(make: Callable[[], str]) -> None:
    result, spent, memory = measured(make(), "auto", "piece")
    assert spent <= MOST_S, result
    assert memory <= MOST_MIB, result


@pytest.mark.slow
@pytest.mark.parametrize(
    ("make", "lines", "shaded"), [h[1:] for h in HOSTILE], ids=[h[0] for h in HOSTILE]
)
def test_no_drawing_takes_too_long(make: Callable[[], str], lines: str, shaded: str) -> None:
    result, spent, memory = measured(make(), lines, shaded)
    print(f"{result}: {spent:.1f} s, {memory:.0f} MiB")
    assert spent <= MOST_S, result
    assert memory <= MOST_MIB, result
