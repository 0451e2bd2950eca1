"""What is on the sheet: pages, lists, hash, mirror, papers, and the same bytes each time."""

from __future__ import annotations

import json
import math
import re
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon, box
from shapely.ops import polygonize

from companion.draw.hatch import stripes, with_hatch
from companion.draw.marks import TURN_SHAPES, signed_area, travel_arrow, waste_on_right
from companion.draw.paper import Paper, find_paper, lay_out, papers
from companion.draw.printed import Printed, last_sheet, remember_sheet, sheet_warning
from companion.draw.scene import Area, build_scene, mirror_plan
from companion.draw.sheet import SheetOptions, make_sheet
from companion.errors import UsageError
from companion.findings import Finding
from companion.planner.plan import Plan, plan_from_json
from companion.planner.rounds import drill_rounds
from companion.shop.checks import checklist
from tests.draw.rendered import page_sizes_mm, render, texts
from tests.draw.sheet_plans import panel, plan_of
from tests.planner.test_reach import TRIMMED, stuck_on_its_saw, trimmed_off


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_of(panel(6, 4), stack=2)


def test_every_page_bears_the_plans_hash_and_the_sentence(plan: Plan) -> None:
    sheet = make_sheet(plan_of(panel(8, 7, 45, 15)))
    pages = texts(sheet.pdf)
    assert len(pages) == len(sheet.layout.tiles) + sheet.list_pages >= 5
    for page in pages:
        assert make_hash(panel(8, 7, 45, 15)) in page
        assert "Measure both bars" in page
        assert "100 mm" in page and "4 in" in page


def make_hash(shape: object) -> str:
    return plan_of(shape).short_hash  # type: ignore[arg-type]


def test_the_same_plan_gives_the_same_bytes(plan: Plan) -> None:
    again = plan_from_json(plan.to_json())
    assert make_sheet(again).pdf == make_sheet(plan_from_json(plan.to_json())).pdf


def test_no_time_of_day_in_the_file(plan: Plan) -> None:
    code = (
        "import sys; from companion.planner.plan import plan_from_json;"
        "from companion.draw.sheet import make_sheet; import hashlib;"
        "print(hashlib.sha256(make_sheet(plan_from_json(sys.stdin.read())).pdf).hexdigest())"
    )
    runs = {
        subprocess.run(
            [sys.executable, "-c", code], input=plan.to_json(), text=True,
            capture_output=True, check=True, env={"PYTHONHASHSEED": seed, "TZ": zone},
        ).stdout
        for seed, zone in (("1", "UTC"), ("2", "Asia/Tokyo"))
    }  # fmt: skip
    assert len(runs) == 1


def test_the_list_names_every_cut_with_its_data(plan: Plan) -> None:
    sheet = make_sheet(plan)
    text = "\n".join(texts(sheet.pdf)[-sheet.list_pages :]).replace("\r", "")
    rows = [row for row in text.splitlines() if "side" in row and " of 8" in row]
    assert len(rows) == len(plan.cuts)
    for row, cut in zip(rows, plan.cuts, strict=True):
        hole = plan.holes[cut.hole - 1]
        assert row.split()[:3] == [str(cut.number), cut.side, str(cut.hole)]
        assert hole.drill_name in row
        assert f"{cut.length_mm:.0f} mm" in row
        for technique in TURN_SHAPES:
            n = sum(t.technique == technique for t in cut.turns)
            assert (f"{n} {technique}" in row) == (n > 0)
        assert "2.0 (1.0-3.0)" in row


def test_the_lists_put_the_manual_and_the_codes_first(plan: Plan) -> None:
    sheet = make_sheet(plan)
    text = texts(sheet.pdf)[-sheet.list_pages].replace("\r\n", " ").replace("\n", " ")
    first = text.index(checklist().precedence)
    places = [text.index(word) for word in ("WARNING", "CAUTION", "NOTICE")]
    assert first < places[0] < places[1] < places[2]
    for item in checklist().full:
        assert item.say in text


def test_the_shopping_list_holds_board_blades_drills_and_paper(plan: Plan) -> None:
    sheet = make_sheet(plan)
    text = texts(sheet.pdf)[-sheet.list_pages]
    assert "2 boards of MDF" in text
    assert "2 blades No. 3" in text
    assert "glue" in text
    # tape is bought where a step tapes
    assert "tape" not in text
    small = replace(plan, cuts=(*plan.cuts[:-1], replace(plan.cuts[-1], hold_mm=())))
    assert "clear tape over the line of 1 piece" in texts(make_sheet(small).pdf)[-sheet.list_pages]
    assert "1 sheet of paper with the drawing (A4)" in text
    names = [one.drill_name for one in drill_rounds(plan.drilled)]
    assert names == ["2.0 mm", "2.5 mm"]
    assert all(name in text for name in names)


def test_drills_are_grouped_by_size(plan: Plan) -> None:
    rounds = drill_rounds(plan.drilled)
    numbers = sorted(n for one in rounds for n in one.numbers)
    assert numbers == [h.number for h in plan.holes]
    assert [one.drill_mm for one in rounds] == sorted({h.drill_mm for h in plan.holes})


@pytest.mark.parametrize("name", ["A4", "A3", "Letter", "Tabloid"])
def test_pages_have_the_papers_size(plan: Plan, name: str) -> None:
    paper = find_paper(name)
    sheet = make_sheet(plan, SheetOptions(paper=paper))
    want = sorted((paper.width_mm, paper.height_mm or 0.0))
    assert sorted(page_sizes_mm(sheet.pdf)[0]) == pytest.approx(want, abs=0.02)


def test_orientation_saves_sheets() -> None:
    a4 = papers()["A4"]
    wide = lay_out((0, 0, 270, 160), a4)
    tall = lay_out((0, 0, 160, 250), a4)
    assert len(wide.tiles) == 1 and wide.page_mm == (297.0, 210.0)
    assert len(tall.tiles) == 1 and tall.page_mm == (210.0, 297.0)
    for w in range(100, 900, 70):
        for h in range(100, 900, 70):
            best = lay_out((0, 0, w, h), a4)
            x0, y0, x1, y1 = best.covers_mm
            assert x0 <= 1e-6 and y0 <= 1e-6 and x1 >= w - 1e-6 and y1 >= h - 1e-6
            portrait = count_for(w, h, 210 - 16, 297 - 40)
            landscape = count_for(w, h, 297 - 16, 210 - 40)
            assert len(best.tiles) == min(portrait, landscape)


def count_for(w: float, h: float, window_w: float, window_h: float) -> int:
    """Least number of windows that overlap by 12 mm: laid one by one."""
    total = 1
    for size, window in ((w, window_w), (h, window_h)):
        n, reached = 1, window
        while reached < size - 1e-9:
            n, reached = n + 1, reached + window - 12
        total *= n
    return total


def test_bare_edges_take_no_page_of_their_own() -> None:
    told = "lay those drawn on the board's own"
    for pitch, pages, off in ((15.0, 1, False), (16.0, 1, True), (17.0, 2, False)):
        plan = plan_of(panel(15, 3, pitch, 8.0), margin_mm=18.0)
        plan = replace(plan, fasteners_mm=(), findings=())  # these lie in the margin
        sheet = make_sheet(plan)
        assert len(sheet.layout.tiles) == pages, pitch
        x0, y0, x1, y1 = sheet.layout.covers_mm
        assert (x0 > 0.0 or x1 < plan.board.width_mm) == off
        for points in (*(c.line_mm for c in plan.cuts), *((h.at_mm,) for h in plan.holes)):
            assert all(x0 <= x <= x1 and y0 <= y <= y1 for x, y in points)
        assert all(x0 <= b.at_mm[0] <= x1 for b in sheet.scene.labels)
        words = texts(sheet.pdf)
        assert (told in " ".join(words[0].split())) == off
        assert ("the board's corner" in " ".join(words)) != off
        # the plan of pages, and what its crossed box means, only where there are several
        assert ("The crossed box is this page" in " ".join(words[0].split())) == (pages > 1)


def test_a_sheet_without_any_edge_is_glued_to_the_middle() -> None:
    plan = plan_of(panel(15, 3, 16.0, 8.0), margin_mm=18.0)
    inner = Paper("inner", plan.board.width_mm - 20.0 + 16.0, plan.board.height_mm - 20.0 + 40.0)
    sheet = make_sheet(replace(plan, fasteners_mm=(), findings=()), SheetOptions(paper=inner))
    x0, y0, x1, y1 = sheet.layout.covers_mm
    assert len(sheet.layout.tiles) == 1
    assert x0 > 0.0 and y0 > 0.0 and x1 < plan.board.width_mm and y1 < plan.board.height_mm
    assert "glue it to the middle of the board" in " ".join(texts(sheet.pdf)[0].split())


def test_a_roll_is_one_long_page() -> None:
    sheet = make_sheet(plan_of(panel(4, 14, 45, 20)), SheetOptions(paper=find_paper("roll:610mm")))
    assert len(sheet.layout.tiles) == 1
    width, height = page_sizes_mm(sheet.pdf)[0]
    assert sorted((width, height))[0] == pytest.approx(610.0, abs=0.02)
    assert max(width, height) > 620
    assert page_sizes_mm(sheet.pdf)[1] == pytest.approx((210, 297), abs=0.02)


def test_a_roll_is_laid_the_way_that_takes_less_of_it() -> None:
    roll = find_paper("roll:610mm")
    wide = lay_out((0, 0, 1400, 400), roll)
    assert len(wide.tiles) == 1 and wide.page_mm[1] == 610.0
    tall = lay_out((0, 0, 500, 1400), roll)
    assert len(tall.tiles) == 1 and tall.page_mm[0] == 610.0
    both = lay_out((0, 0, 2460, 1260), find_paper("roll:900mm"))
    assert len(both.tiles) == 2  # two strips of full length, not three short ones


def test_one_page_as_large_as_the_board() -> None:
    sheet = make_sheet(plan_of(panel(9, 6, 45, 12)), SheetOptions(tile=False))
    assert len(sheet.layout.tiles) == 1
    assert page_sizes_mm(sheet.pdf)[0][0] >= 450


@pytest.mark.parametrize("text", ["A5", "roll", "roll:50mm", "roll:x", ""])
def test_unknown_papers_are_refused_with_a_remedy(text: str) -> None:
    with pytest.raises(UsageError) as caught:
        find_paper(text)
    assert caught.value.remedy


def test_too_long_a_single_page_is_refused() -> None:
    with pytest.raises(UsageError):
        lay_out((0, 0, 6000, 300), papers()["A4"], tile=False)


def test_mirror_exchanges_left_and_right_but_not_the_letters(plan: Plan) -> None:
    scene = build_scene(plan, mirror=True)
    width = plan.board.width_mm
    for hole_disc, hole in zip(scene.discs, plan.holes, strict=True):
        assert hole_disc.at_mm == (width - hole.at_mm[0], hole.at_mm[1])
    back = mirror_plan(mirror_plan(plan))
    assert [h.number for h in back.holes] == [h.number for h in plan.holes]
    assert back.cuts[0].direction == plan.cuts[0].direction
    assert mirror_plan(plan).cuts[0].direction != plan.cuts[0].direction
    sheet = make_sheet(plan, SheetOptions(mirror=True))
    pages = texts(sheet.pdf)
    assert "MIRRORED" in pages[0]
    assert "anticlockwise here" in pages[1]
    numbers = {label.text for label in sheet.scene.labels}
    assert numbers >= {str(c.number) for c in plan.cuts}


def test_a_mirrored_print_is_the_mirror_of_the_print(plan: Plan) -> None:
    """Rendered: the hatch runs on, but lines and holes change sides."""
    bare = replace(plan, findings=(), necks=())
    straight = build_scene(bare)
    turned = build_scene(bare, mirror=True)
    for a, b in zip(straight.of("piece-line"), turned.of("piece-line"), strict=True):
        flipped = [(plan.board.width_mm - x, y) for x, y in b.points_mm]
        assert np.allclose(a.points_mm, flipped)


def test_the_arrow_and_the_start_lie_on_the_waste_side(plan: Plan) -> None:
    checked = 0
    for cut in (*plan.cuts, *mirror_plan(plan).cuts):
        region = Polygon(cut.line_mm)
        shaft = travel_arrow(cut, waste_on_right(cut), 0.4)[0]
        middle = Point(shaft[2])
        assert region.contains(middle) == (cut.side == "inside")
        checked += 1
    assert checked == 2 * len(plan.cuts)


def test_a_trimmed_board_shows_where_to_saw_and_not_its_own_edges(plan: Plan) -> None:
    wide, high = plan.board.width_mm, plan.board.height_mm
    left = ((0.0, 0.0), (wide - 9.0, 0.0), (wide, 7.0), (wide, high), (0.0, high))
    trimmed = replace(plan, trim_mm=left)
    shown = [line.points_mm for line in build_scene(trimmed).of("trim")]
    assert shown == [((wide - 9.0, 0.0), (wide, 7.0))]
    back = [line.points_mm for line in build_scene(trimmed, mirror=True).of("trim")]
    assert back == [((9.0, 0.0), (0.0, 7.0))]
    assert not build_scene(plan).of("trim")
    told = "trim the board here first"
    assert told in " ".join(texts(make_sheet(trimmed).pdf))
    assert told not in " ".join(texts(make_sheet(plan).pdf))


@pytest.mark.parametrize(("shape", "width", "height"), TRIMMED)
def test_the_trim_line_is_the_straight_cuts_that_the_steps_tell(
    shape: Polygon, width: float, height: float
) -> None:
    """What is left inside the drawn lines is what is left by the spoken sizes."""
    plan = stuck_on_its_saw(shape, [], width, height)
    told = box(0, 0, width, height)
    steps = [s.say for s in plan.steps if s.title == "Trim the board"]
    for say in steps:
        rest = told.difference(trimmed_off(say, [float(n) for n in re.findall(r"\d+", say)], told))
        assert isinstance(rest, Polygon)
        told = rest
    drawn = [line.points_mm for line in build_scene(plan).of("trim")]
    assert len(drawn) == len(steps) and all(len(points) == 2 for points in drawn)
    edges = [box(0, 0, width, height).exterior, *map(longer, drawn)]
    piece = Polygon(plan.cuts[0].line_mm)
    (kept,) = [p for p in polygonize(shapely.unary_union(edges)) if p.contains(piece)]
    assert kept.symmetric_difference(told).area < 1e-6
    back = [line.points_mm for line in build_scene(plan, mirror=True).of("trim")]
    assert {frozenset((width - x, y) for x, y in points) for points in back} == {
        frozenset(points) for points in drawn
    }


def longer(points: Sequence[tuple[float, float]]) -> LineString:
    """A stroke with its ends a little beyond the edges it meets."""
    (x, y), (u, v) = points
    e = 1e-6 / math.dist((x, y), (u, v))
    return LineString([(x - e * (u - x), y - e * (v - y)), (u + e * (u - x), v + e * (v - y))])


def test_each_holding_place_names_its_cut_where_several_are_held(plan: Plan) -> None:
    held = [c.number for c in plan.cuts if c.hold_mm]
    scene = make_sheet(plan).scene
    told = [b.text for b in scene.labels if b.role == "hold"]
    wanted = [str(c.number) for c in plan.cuts for _ in c.hold_mm]
    assert told == ([] if len(held) < 2 else wanted)
    bare = tuple(replace(c, hold_mm=()) for c in plan.cuts)
    two = (*(replace(c, hold_mm=(c.line_mm[0],)) for c in bare[:2]), *bare[2:])
    sheet = make_sheet(replace(plan, cuts=two))
    assert sorted(n.text for n in sheet.scene.names) == ["1", "2"]
    legend = "A number beside a holding place"
    assert legend in " ".join(" ".join(texts(sheet.pdf)).split())
    one = make_sheet(replace(plan, cuts=(two[0], *bare[1:])))
    assert one.scene.names == () and legend not in " ".join(" ".join(texts(one.pdf)).split())


def test_findings_at_one_place_share_a_letter_and_all_are_listed(plan: Plan) -> None:
    found = (
        Finding("a", "warn", (50.0, 50.0), "It is thin here.", "Go slowly."),
        Finding("b", "warn", (51.0, 50.0), "It is small, too.", ""),
        Finding("c", "stop", (90.0, 50.0), "No drill fits.", "Widen it."),
        Finding("d", "warn", None, "The stack is tall.", ""),
        Finding("e", "note", (10.0, 10.0), "Only to know.", ""),
    )
    sheet = make_sheet(replace(plan, findings=found))
    assert [n.letter for n in sheet.scene.notes] == ["A", "B"]
    text = texts(sheet.pdf)[-sheet.list_pages].replace("\r\n", " ")
    assert "A: It is thin here. It is small, too." in text
    assert "B: No drill fits." in text
    assert "A: Go slowly." in text and "B: Widen it." in text
    assert "The stack is tall." in text and "Only to know." not in text


def test_a_cut_in_two_runs_has_two_arrows_and_bars_where_they_meet(plan: Plan) -> None:
    cut = plan.cuts[0]
    half = replace(cut, meet_along_mm=cut.length_mm / 2)
    scene = build_scene(replace(plan, cuts=(half, *plan.cuts[1:])))
    region = Polygon(cut.line_mm)
    mine = [line for line in scene.lines if line.cut == cut.number]
    assert sum(line.role == "arrow" for line in mine) == 4  # a shaft and a head each way
    bars = [line for line in mine if line.role == "meet"]
    opposite = LineString(cut.line_mm).interpolate(cut.length_mm / 2)
    assert len(bars) == 2
    for line in mine:
        if line.role in ("arrow", "meet"):
            assert region.buffer(1e-6).covers(LineString(line.points_mm))
    for line in bars:
        assert Point(line.points_mm[0]).distance(opposite) < 0.5


def test_marks_differ_in_shape_by_technique() -> None:
    shapes = {t: shape((0.0, 0.0), 1.0) for t, shape in TURN_SHAPES.items()}
    corners = {t: len(lines[0]) for t, lines in shapes.items()}
    assert corners["back-out"] == 4 and corners["loop"] == 5 and corners["spin"] > 10
    assert set(shapes) == {"spin", "back-out", "loop"}


def test_hatch_covers_the_waste_and_nothing_else(plan: Plan) -> None:
    """Length of stripes times spacing is the striped area; none lies on kept wood."""
    scene = build_scene(plan)
    outside = next(c for c in plan.cuts if c.side == "outside")
    openings = [Polygon(c.line_mm) for c in plan.cuts if c.side == "inside"]
    kept = Polygon(outside.line_mm).difference(shapely.union_all(openings))
    total = scene.width_mm * scene.height_mm
    for spacing in (0.5, 2.4):
        lines = stripes(scene.areas, spacing)
        length = sum(LineString(line).length for line in lines)
        assert length * spacing == pytest.approx(total - kept.area, rel=0.02)
        wrong = sum(LineString(line).intersection(kept.buffer(-0.01)).length for line in lines)
        assert wrong < 1e-6


def test_hatch_leaves_numbers_and_nested_pieces_clear() -> None:
    square = ((0.0, 0.0), (30.0, 0.0), (30.0, 30.0), (0.0, 30.0), (0.0, 0.0))
    inner = tuple((10 + x / 3, 10 + y / 3) for x, y in square)
    gap = tuple((2 + x / 10, 2 + y / 10) for x, y in square)
    far_gap = tuple((p[0] + 1, p[1] + 1) for p in gap)
    lines = stripes([Area("waste", (square, inner))], 0.5, [gap, far_gap])
    for (ax, ay), (bx, by) in lines:
        x, y = (ax + bx) / 2, (ay + by) / 2
        assert not (10 < x < 20 and 10 < y < 20)
        assert not (2 < x < 5 and 2 < y < 5)
        assert not (3 < x < 6 and 3 < y < 6)
    area = sum(float(np.hypot(b[0] - a[0], b[1] - a[1])) for a, b in lines) * 0.5
    assert area == pytest.approx(900 - 100 - (9 + 9 - 4), rel=0.02)


def test_kept_side_is_plain_and_waste_striped_in_one_bit(plan: Plan) -> None:
    """A photocopy keeps the difference: ink share of waste and of kept wood."""
    scene = with_hatch(build_scene(replace(plan, findings=(), necks=())))
    sheet = make_sheet(plan)
    ink = render(sheet.pdf, 0, 300, threshold=200)
    px = 300 / 25.4
    origin = sheet.layout.tiles[0].origin_mm

    def share(x0: float, y0: float, x1: float, y1: float) -> float:
        part = ink[
            int((y0 - origin[1] + 14) * px) : int((y1 - origin[1] + 14) * px),
            int((x0 - origin[0] + 8) * px) : int((x1 - origin[0] + 8) * px),
        ]
        return float(part.mean())

    assert scene.of("hatch")
    board = scene.width_mm
    assert share(20.0, 2.0, board - 20.0, 12.0) > 0.02  # the frame above the piece
    assert share(20.0, 18.0, board - 20.0, 25.0) < 0.001  # kept wood above the openings


def test_orientation_of_rings_is_told_from_their_area() -> None:
    assert signed_area(((0, 0), (1, 0), (1, 1), (0, 0))) > 0  # clockwise on the screen


def test_last_sheet_is_remembered_and_replaced(tmp_path: Path) -> None:
    project = tmp_path / "a.svg"
    folder = tmp_path / "home" / "deep"
    assert last_sheet(folder, project) is None
    remember_sheet(folder, project, Printed("aaaa1111", False, "2026-01-01T10:00:00+00:00"))
    remember_sheet(folder, tmp_path / "b.svg", Printed("bbbb", True, ""))
    newer = Printed("cccc2222", True, "2026-01-02T10:00:00+00:00")
    remember_sheet(folder, project, newer)
    assert last_sheet(folder, project) == newer
    assert last_sheet(folder, tmp_path / "b.svg") == Printed("bbbb", True, "")
    assert [p.name for p in folder.iterdir()] == ["sheets.json"]


def test_the_saw_is_told_when_the_sheet_is_another_plans(tmp_path: Path) -> None:
    project = tmp_path / "a.svg"
    assert sheet_warning(tmp_path, project, "aaaa1111") == ""
    remember_sheet(tmp_path, project, Printed("aaaa1111", False, ""))
    assert sheet_warning(tmp_path, project, "aaaa1111") == ""
    assert "aaaa1111" in sheet_warning(tmp_path, project, "bbbb2222")
    remember_sheet(tmp_path, project, Printed("aaaa1111", True, ""))
    assert "mirrored" in sheet_warning(tmp_path, project, "aaaa1111")


@pytest.mark.parametrize("content", ["", "[]", "{", '{"x": 3}', "\x00\xff"])
def test_a_spoilt_note_counts_as_none(tmp_path: Path, content: str) -> None:
    (tmp_path / "sheets.json").write_text(content, encoding="utf-8")
    assert last_sheet(tmp_path, tmp_path / "x") is None
    remember_sheet(tmp_path, tmp_path / "x", Printed("d" * 8, False, ""))
    assert json.loads((tmp_path / "sheets.json").read_text(encoding="utf-8"))


def test_accents_that_the_face_lacks_are_left_off(plan: Plan) -> None:
    named = replace(plan, project=replace(plan.project, name="Größe Żaglówka"))
    assert "Größe Zaglówka" in texts(make_sheet(named).pdf)[0]


def test_scene_loads_nothing_heavy() -> None:
    code = (
        "import sys; import companion.draw.scene, companion.draw.printed;"
        "print([m for m in ('numpy', 'shapely', 'scipy', 'reportlab') if m in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"
