"""Mends change the ink by what their findings tell, and by nothing else.

The area before mending is reckoned from the shapes themselves, apart from the reader.
"""

from __future__ import annotations

import re

import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from companion.findings import Finding
from companion.pattern.limits import limits
from companion.pattern.mend import mended
from companion.pattern.model import Pattern
from companion.pattern.notes import Notes
from companion.pattern.options import ReadOptions
from companion.pattern.reader import read_pattern_text
from tests.pattern.test_reader import HEAD

QUIET = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
CELL = 12
"""Shapes stand in cells of a lattice, so that none meets another by chance."""
KINDS = ["block", "speck", "sliver", "twin", "overlap", "pinhole", "slit", "opening"]
SPECKS = re.compile(r"(\d+) (piece|opening)s? smaller")
SLIVER = re.compile(r"A sliver of (piece|opening), ([0-9.]+) mm wide and ([0-9.]+) mm long")
OVERLAP = re.compile(r"overlap by ([0-9.]+) mm2")


def shapes_of(kind: str, x: float, y: float) -> list[Polygon]:
    """What is drawn for a kind in the cell at (x, y), mm."""
    block = box(x, y, x + 8, y + 8)
    inner = {
        "pinhole": box(x + 3, y + 3, x + 3.2, y + 3.2),
        "slit": box(x + 1, y + 3, x + 7, y + 3.02),
        "opening": box(x + 2, y + 2, x + 6, y + 6),
    }
    if kind in inner:
        return [Polygon(block.exterior, [inner[kind].exterior])]
    return {
        "block": [block],
        "speck": [box(x, y, x + 0.2, y + 0.2)],
        "sliver": [box(x, y, x + 8, y + 0.03)],
        "twin": [block, block],
        "overlap": [block, box(x + 6, y + 2, x + 9, y + 5)],
    }[kind]


def drawn(kinds: list[str]) -> list[Polygon]:
    places = [(5 + CELL * (i % 7), 5 + CELL * (i // 7)) for i in range(len(kinds))]
    return [s for kind, (x, y) in zip(kinds, places, strict=True) for s in shapes_of(kind, x, y)]


def path_of(shape: Polygon) -> str:
    rings = (shape.exterior, *shape.interiors)
    return "".join("M" + "L".join(f"{x} {y}" for x, y in ring.coords[:-1]) + "Z" for ring in rings)


def read(shapes: list[Polygon]) -> Pattern:
    body = "".join(f'<path fill-rule="evenodd" d="{path_of(s)}"/>' for s in shapes)
    return read_pattern_text(f"{HEAD}{body}</svg>".encode(), ReadOptions(), "mends.svg")


def told_counts(findings: tuple[Finding, ...]) -> dict[str, int]:
    """How many of each mend the findings tell."""
    text = [str(f.text) for f in findings]
    counts = {f"speck {what}": int(n) for t in text for n, what in SPECKS.findall(t)}
    for what in ("piece", "opening"):
        counts[f"sliver {what}"] = sum(f"sliver of {what}" in t for t in text)
    counts["twin"] = sum(f.code == "duplicate-united" for f in findings)
    counts["overlap"] = sum(f.code == "overlap-united" for f in findings)
    return {key: n for key, n in counts.items() if n}


@QUIET
@given(st.lists(st.sampled_from(KINDS), max_size=11))
def test_the_ink_differs_by_what_is_told(kinds: list[str]) -> None:
    """Area drawn = area kept + what duplicates, overlaps, specks and slivers took."""
    kinds = ["block", *kinds]
    pattern = read(drawn(kinds))
    expected = {
        "speck piece": kinds.count("speck"),
        "speck opening": kinds.count("pinhole"),
        "sliver piece": kinds.count("sliver"),
        "sliver opening": kinds.count("slit"),
        "twin": kinds.count("twin"),
        "overlap": kinds.count("overlap"),
    }
    assert told_counts(pattern.findings) == {key: n for key, n in expected.items() if n}
    kept = sum(piece.shape.area for piece in pattern.pieces)
    change = {
        "speck": -0.04,
        "pinhole": 0.04,
        "sliver": -0.24,
        "slit": 0.12,
        "twin": -64,
        "overlap": -6,
    }  # mm2, from the sizes in shapes_of
    whole = sum(shape.area for shape in drawn(kinds))
    assert kept == pytest.approx(whole + sum(change.get(kind, 0.0) for kind in kinds), abs=1e-6)
    told = sum(float(a) for f in pattern.findings for a in OVERLAP.findall(str(f.text)))
    assert told == pytest.approx(6.0 * kinds.count("overlap"))


@QUIET
@given(st.lists(st.tuples(st.integers(1, 500), st.integers(1, 500)), min_size=1, max_size=9))
def test_a_mend_takes_only_what_is_under_the_thresholds(sizes: list[tuple[int, int]]) -> None:
    """Sides in 0.01 mm: each block is kept whole, or is told as a speck or a sliver."""
    blocks = [box(i * 9, 0, i * 9 + w / 100, h / 100) for i, (w, h) in enumerate(sizes)]
    notes = Notes(limits())
    kept = mended(shapely.multipolygons(blocks), limits(), notes)
    small = [b for b in blocks if b.area < limits().speck_mm2]
    thin = [
        b
        for b in blocks
        if b.area >= limits().speck_mm2 and 2 * b.area / b.length < limits().sliver_mm
    ]
    lost = sum(b.area for b in [*small, *thin])
    assert kept.area == pytest.approx(sum(b.area for b in blocks) - lost, abs=1e-9)
    told = told_counts(tuple(notes.found))
    assert told == {
        key: n for key, n in (("speck piece", len(small)), ("sliver piece", len(thin))) if n
    }


@QUIET
@given(st.lists(st.integers(0, 200), min_size=1, max_size=6))
def test_joined_ends_close_by_what_is_told(gaps: list[int]) -> None:
    """Squares of hairlines, open by 0 to 0.2 mm: joined and told, or open and a vein."""
    body = "".join(
        f'<path d="M{5 + 15 * i} 5h10v10h-10V{5 + gap / 1000}"/>' for i, gap in enumerate(gaps)
    )
    lines = f'<path d="M5 40h20v20h-20z"/>{body}'
    svg = f'{HEAD}<g fill="none" stroke="red" stroke-width=".1">{lines}</g></svg>'
    pattern = read_pattern_text(svg.encode(), ReadOptions(lines="cut"), "gaps.svg")
    closed = [gap for gap in gaps if gap / 1000 <= limits().join_mm]
    joined = [gap for gap in closed if gap]
    assert sum(f.code == "open-end-joined" for f in pattern.findings) == len(joined)
    assert len(pattern.veins) == len(gaps) - len(closed)
    area = sum(piece.shape.area for piece in pattern.pieces)
    assert area == pytest.approx(400 + 100 * len(closed), abs=1e-6)


def test_the_check_can_fail() -> None:
    """A speck that no finding told would be seen in the counts."""
    assert told_counts(read(drawn(["block", "speck"])).findings) != told_counts(())
