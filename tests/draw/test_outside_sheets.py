"""Sheets of outside patterns (tests/data/outside): no label overlaps, counted exactly."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from companion.draw.key import key_scene
from companion.draw.paper import papers
from companion.draw.pattern_picture import pattern_picture
from companion.draw.sheet import SheetOptions, drawn_scene, make_sheet
from companion.errors import KerfsideError
from companion.pattern.model import Pattern
from companion.pattern.options import ReadOptions
from companion.pattern.reader import read_pattern
from companion.planner.make import make_plan
from companion.planner.plan import Plan
from companion.planner.project import Overrides, load_project
from companion.shop.settings import default_settings
from tests.draw.overlaps import Overlaps, count_overlaps
from tests.draw.rendered import render
from tests.draw.sheet_plans import plan_of_pattern

OUTSIDE = Path(__file__).parents[1] / "data" / "outside"
DRAWN = ("bootstrap", "clipart", "feather", "maki", "octicons", "open-iconic", "words")
"""Sets of drawings; what else lies there tests readers and is not meant to be cut."""
FILES = [path for name in DRAWN for path in sorted((OUTSIDE / name).glob("*.svg"))]
WIDTH_MM = 90.0
"""Small, so that numbers are short of room."""


def read(path: Path) -> Pattern | None:
    """The pattern; None for files that the reader refuses by design."""
    try:
        return read_pattern(path, ReadOptions(width_mm=WIDTH_MM))
    except KerfsideError:
        return None


def check_labels(plan: Plan) -> int:
    """Count overlaps on the sheet; every number must stand on it or on its key. Cuts."""
    scene, _, unplaced = drawn_scene(plan, SheetOptions(), papers()["A4"])
    assert count_overlaps(scene) == Overlaps(0, 0, 0, 0)
    shown = {label.text for label in scene.labels if label.role == "number"}
    if unplaced:
        key, _, left_out = key_scene(plan, mirror=False)
        assert count_overlaps(key) == Overlaps(0, 0, 0, 0)
        assert left_out == ()
        shown |= {label.text for label in key.labels}
    assert shown == {str(c.number) for c in plan.cuts}
    return len(plan.cuts)


def test_no_label_overlaps_on_outside_patterns() -> None:
    patterns = [p for p in map(read, FILES[::4]) if p is not None]
    cuts = sum(check_labels(plan_of_pattern(p)) for p in patterns)
    assert len(patterns) >= 50
    assert cuts > 200


def test_pictures_of_outside_patterns_number_every_piece_and_opening() -> None:
    patterns = [p for p in map(read, FILES[::12]) if p is not None]
    for pattern in patterns:
        svg = pattern_picture(pattern)
        for piece in pattern.pieces:
            assert f'id="piece-{piece.number}"' in svg
        for opening in pattern.openings:
            assert f'id="opening-{opening.number}"' in svg
    assert len(patterns) >= 18


def test_letters_of_findings_stand_large_out_of_the_crowd() -> None:
    """A word of thin strokes, 90 mm wide: its letters are measured in the print at 600 dpi."""
    path = OUTSIDE / "words" / "dancing-harbour.svg"
    pattern = read(path)
    assert pattern is not None
    spec = load_project(path, Overrides(width_mm=WIDTH_MM))
    sheet = make_sheet(make_plan(spec, pattern, default_settings()))
    assert count_overlaps(sheet.scene) == Overlaps(0, 0, 0, 0) and sheet.unplaced == ()
    notes = [label for label in sheet.scene.labels if label.role == "note"]
    assert len(notes) >= 15 and len(sheet.layout.tiles) == 1
    ink, px = render(sheet.pdf, 0), 600 / 25.4
    tile = sheet.layout.tiles[0]
    for label in notes:
        # the frame is a pen's width on the edge of the box; within it stands the letter alone
        (x, y), half = label.at_mm, [side / 2 - 0.15 for side in label.box_mm]
        x0, x1 = (round((x + s * half[0] - tile.origin_mm[0] + 8.0) * px) for s in (-1, 1))
        y0, y1 = (round((y + s * half[1] - tile.origin_mm[1] + 14.0) * px) for s in (-1, 1))
        rows = np.flatnonzero(ink[y0:y1, x0:x1].any(axis=1))
        # a capital of Helvetica is 0.72 em high (its AFM file), round ones 0.74
        assert (rows[-1] - rows[0] + 1) / px >= 0.70 * 3.0, label.text


@pytest.mark.slow
def test_no_label_overlaps_on_any_outside_pattern() -> None:
    patterns = [p for p in map(read, FILES) if p is not None]
    for pattern in patterns:
        check_labels(plan_of_pattern(pattern))
    assert len(patterns) >= 220


@pytest.mark.slow
def test_no_label_overlaps_on_outside_patterns_as_they_are_planned() -> None:
    """The planner's own plans: its marks, leads and notes take room, too."""
    planned = 0
    for path in FILES[::3]:
        if (pattern := read(path)) is None:
            continue
        spec = load_project(path, Overrides(width_mm=WIDTH_MM))
        check_labels(make_plan(spec, pattern, default_settings()))
        planned += 1
    assert planned >= 75
