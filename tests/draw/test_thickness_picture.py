"""The picture of thickness: what is drawn is what was measured."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from companion.draw.cells import Ink
from companion.draw.thickness_picture import (
    MOST_NECKS,
    TONES,
    WEIGHTS_MM,
    neck_lines,
    scale_for,
    thickness_cells,
    thickness_svg,
)
from companion.pattern.model import Opening, Pattern, Piece
from companion.planner.weak import weak_places
from companion.shop import tables

SVG = "{http://www.w3.org/2000/svg}"


def pattern(shape: BaseGeometry) -> Pattern:
    assert isinstance(shape, Polygon)
    rings = [Polygon(r) for r in shape.interiors]
    openings = tuple(Opening(k, r, 1) for k, r in enumerate(rings, 1))
    return Pattern((Piece(1, shape, openings, None),), (), (), "")


COMB: BaseGeometry = box(0, 0, 20, 80)
for _k in range(12):
    COMB = COMB.union(box(19, 2 + 6.5 * _k, 60 + _k, 3 + 6.5 * _k + 0.15 * _k))
SEEN = pattern(COMB)
FOUND = weak_places(SEEN, tables.material("mdf"), 6.0, tables.blade("3"))


def test_thin_wood_is_dark_and_heavy() -> None:
    root = ET.fromstring(thickness_svg(SEEN, FOUND, 6.0, "comb"))
    strokes = {e.get("id"): e for e in root.iter(f"{SVG}path")}
    thin, thick = strokes["thickness-0"], strokes["thickness-3"]
    assert thin.get("stroke") == TONES[0] and float(thin.get("stroke-width") or 0) == WEIGHTS_MM[0]
    assert thick.get("stroke") == TONES[3]
    assert list(WEIGHTS_MM) == sorted(WEIGHTS_MM, reverse=True)
    # fingers (shifted by the margin) lie right of the body, whose middle is at 12 + 10
    xs = [float(p.split()[0].strip("ML")) for p in (thick.get("d") or "").split("L")]
    assert max(xs) < 12 + 20


def test_true_size_and_ten_numbers() -> None:
    root = ET.fromstring(thickness_svg(SEEN, FOUND, 6.0))
    assert (root.get("width") or "").endswith("mm")
    width = float((root.get("viewBox") or "").split()[2])
    assert float((root.get("width") or "mm")[:-2]) == pytest.approx(width)
    numbers = [e.text for e in root.iter(f"{SVG}text") if (e.text or "")[1:].isdigit()]
    assert sorted(numbers, key=lambda t: int((t or "")[1:])) == [f"N{n}" for n in range(1, 11)]
    notes = [e.text for e in root.iter(f"{SVG}text") if "breaks at" in (e.text or "")]
    assert notes == neck_lines(FOUND.weakest(MOST_NECKS)) and len(notes) == MOST_NECKS


def test_steps_come_from_the_tables() -> None:
    scale = scale_for(6.0)
    assert scale.edges_mm[0] == tables.limit("neck-fragile").value * 6.0
    assert [scale.step(v) for v in (0.1, scale.edges_mm[0], scale.edges_mm[1], 1e3)] == [0, 1, 2, 3]


@pytest.mark.parametrize("mode", ["braille", "quadrant", "ascii"])
def test_terminal_picture(mode: str) -> None:
    frame = thickness_cells(SEEN, FOUND, 6.0, 90, 40, mode)  # type: ignore[arg-type]
    assert frame.signs.shape == (40, 90)
    text = frame.text()
    assert all(f" N{n} " in text for n in range(1, 11))
    assert (frame.ink == Ink.NECK).any() and (frame.ink == Ink.LATER).any()


def test_same_answer_twice() -> None:
    assert thickness_svg(SEEN, FOUND, 6.0) == thickness_svg(SEEN, FOUND, 6.0)
