"""Numbers on the sheet: every one placed, none over a line, a hole, a mark or another."""

from __future__ import annotations

import math
import time
from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from companion.draw.key import key_scene
from companion.draw.labels import with_numbers
from companion.draw.paper import papers
from companion.draw.scene import Scene, build_scene
from companion.draw.sheet import SheetOptions, drawn_scene, make_sheet
from companion.findings import Finding
from companion.planner.plan import Plan
from tests.draw.overlaps import Overlaps, count_overlaps
from tests.draw.rendered import char_boxes_mm
from tests.draw.sheet_plans import panel, plan_of

NONE = Overlaps(0, 0, 0, 0)


def numbered(plan: Plan) -> tuple[Scene, tuple[str, ...]]:
    scene, _, unplaced = drawn_scene(plan, SheetOptions(), papers()["A4"])
    return scene, unplaced


@pytest.mark.parametrize(
    ("columns", "rows", "pitch", "opening"),
    [(8, 6, 20, 12), (20, 10, 10, 6), (12, 12, 8, 5.5), (15, 10, 5, 4)],
)
def test_no_label_covers_anything(columns: int, rows: int, pitch: float, opening: float) -> None:
    plan = plan_of(panel(columns, rows, pitch, opening))
    scene, unplaced = numbered(plan)
    assert count_overlaps(scene) == NONE
    names = {label.text for label in scene.labels if label.role == "number"}
    assert names | set(unplaced) == {str(c.number) for c in plan.cuts}


def test_the_count_can_fail() -> None:
    scene, _ = numbered(plan_of(panel(3, 2)))
    first, second = scene.labels[0], scene.labels[1]
    on_line = replace(first, at_mm=scene.of("piece-line")[0].points_mm[0])
    on_other = replace(first, at_mm=second.at_mm)
    on_hole = replace(first, at_mm=scene.discs[1].at_mm)
    for moved, what in ((on_line, "lines"), (on_other, "labels"), (on_hole, "holes")):
        bad = replace(scene, labels=(moved, *scene.labels[1:]))
        assert getattr(count_overlaps(bad), what) > 0, what


def test_dense_panels_get_leader_lines_and_the_rest_a_key() -> None:
    plan = plan_of(panel(15, 10, 5, 4))
    scene, unplaced = numbered(plan)
    assert len(scene.of("leader")) > 20
    assert unplaced
    key, factor, left_out = key_scene(plan, mirror=False)
    assert factor > 1 and left_out == ()
    sheet = make_sheet(plan)
    shown, drawn = sheet.layout.covers_mm, sheet.scene.bounds_mm
    assert shown[0] <= drawn[0] and shown[1] <= drawn[1]
    assert shown[2] >= drawn[2] and shown[3] >= drawn[3]
    assert count_overlaps(key) == NONE
    assert {label.text for label in key.labels} == {str(c.number) for c in plan.cuts}


def test_a_cut_without_a_hole_bears_its_number_at_its_start() -> None:
    plan = plan_of(panel(3, 2))
    scene, unplaced = numbered(replace(plan, holes=plan.holes[1:]))
    assert unplaced == () and count_overlaps(scene) == NONE
    label = next(label for label in scene.labels if label.text == "1")
    assert label.anchor_mm == plan.cuts[0].line_mm[0]


def test_a_note_at_a_hole_stands_beside_the_hole() -> None:
    plan = plan_of(panel(3, 2))
    at = plan.holes[2].at_mm
    found = Finding("x", "warn", (at[0] + 0.2, at[1]), "Mind this.", "")
    scene, unplaced = numbered(replace(plan, findings=(found,)))
    assert unplaced == () and count_overlaps(scene) == NONE
    note = next(label for label in scene.labels if label.text == "A")
    assert note.anchor_mm == at


def test_a_label_without_leader_is_nearest_to_its_own_hole() -> None:
    plan = plan_of(panel(20, 10, 10, 6))
    scene, _ = numbered(plan)
    led = {line.cut for line in scene.of("leader")}
    holes = {h.cut: Point(h.at_mm) for h in plan.holes}
    checked = 0
    for label in scene.labels:
        if label.cut is None or label.cut in led:
            continue
        (x, y), (w, h) = label.at_mm, label.box_mm
        box = shapely.box(x - w / 2, y - h / 2, x + w / 2, y + h / 2)
        nearest = min(holes, key=lambda n: (box.distance(holes[n]), n))
        assert nearest == label.cut
        checked += 1
    assert checked > 150


def test_printed_digits_stay_inside_the_boxes_kept_free() -> None:
    """The boxes come from Helvetica's AFM; PDFium measures the glyphs it draws itself."""
    sheet = make_sheet(plan_of(panel(8, 6, 20, 12)))
    boxes = [
        shapely.box(
            label.at_mm[0] - label.box_mm[0] / 2, label.at_mm[1] - label.box_mm[1] / 2,
            label.at_mm[0] + label.box_mm[0] / 2, label.at_mm[1] + label.box_mm[1] / 2,
        )
        for label in sheet.scene.labels
    ]  # fmt: skip
    origin = sheet.layout.tiles[0].origin_mm
    tree = shapely.STRtree(boxes)
    inside = 0
    for char, x0, y0, x1, y1 in char_boxes_mm(sheet.pdf, 0):
        glyph = shapely.box(
            x0 - 8.0 + origin[0], y0 - 14.0 + origin[1], x1 - 8.0 + origin[0], y1 - 14.0 + origin[1]
        )
        if len(tree.query(glyph)) and char.strip():
            assert len(tree.query(glyph, predicate="covered_by")), (char, glyph.bounds)
            inside += 1
    assert inside >= sum(len(label.text) for label in sheet.scene.labels)


@st.composite
def plates(draw: st.DrawFn) -> Polygon:
    """A plate with irregular openings that do not touch."""
    openings: list[Polygon] = []
    for _ in range(draw(st.integers(1, 12))):
        x, y = draw(st.floats(8, 112)), draw(st.floats(8, 72))
        corners = draw(st.integers(3, 9))
        radii = [draw(st.floats(1.5, 7.0)) for _ in range(corners)]
        shape = Polygon(
            [
                (x + r * math.cos(2 * math.pi * i / corners),
                 y + r * math.sin(2 * math.pi * i / corners))
                for i, r in enumerate(radii)
            ]
        )  # fmt: skip
        if shape.is_valid and shape.area > 2 and all(shape.distance(o) > 0.6 for o in openings):
            openings.append(shape)
    return Polygon(shapely.box(0, 0, 120, 80).exterior, [o.exterior for o in openings])


@settings(max_examples=40, deadline=None)
@given(plates())
def test_no_label_covers_anything_on_irregular_plates(plate: Polygon) -> None:
    scene, unplaced = with_numbers(build_scene(plan_of(plate)))
    assert unplaced == ()
    assert count_overlaps(scene) == NONE


def test_a_thousand_openings_take_five_seconds_at_most() -> None:
    plan = plan_of(panel(40, 25, 10, 6))
    began = time.process_time()
    sheet = make_sheet(plan)
    took = time.process_time() - began
    assert len(plan.cuts) == 1001
    assert len(sheet.scene.labels) == 1002  # the numbers and one note
    assert took <= 5.0
