"""Strokes as ink, strokes as cut lines, and how auto decides."""

from __future__ import annotations

import math

import pytest

from companion.errors import PatternError
from companion.pattern.options import ReadOptions
from tests.pattern.test_paint import find
from tests.pattern.test_reader import codes, read

INK = ReadOptions(lines="ink")
CUT = ReadOptions(lines="cut")
LINE = 'fill="none" stroke="black" stroke-width="10"'


def area(body: str, options: ReadOptions = INK) -> float:
    return read(body, options).kept_area_mm2


CAPS = [("butt", 500.0), ("square", 600.0), ("round", 500.0 + math.pi * 25)]


@pytest.mark.parametrize(("cap", "expected"), CAPS)
def test_caps(cap: str, expected: float) -> None:
    """SVG 2 chapter 13, stroke-linecap: a line of 50 x 10."""
    body = f'<path d="M20 50H70" stroke-linecap="{cap}" {LINE}/>'
    assert area(body) == pytest.approx(expected, rel=2e-3)


JOINS = [
    ("bevel", 2 * 400 - 25 + 12.5),
    ("miter", 2 * 400 - 25 + 25),
    ("round", 2 * 400 - 25 + math.pi * 25 / 4),
]


@pytest.mark.parametrize(("join", "expected"), JOINS)
def test_joins(join: str, expected: float) -> None:
    """SVG 2 chapter 13, stroke-linejoin: two lines of 40 x 10 meeting at a right angle."""
    body = f'<path d="M20 20H60V60" stroke-linejoin="{join}" {LINE}/>'
    assert area(body) == pytest.approx(expected, rel=2e-3)


def test_mitre_past_its_limit_is_a_bevel() -> None:
    """SVG 2 chapter 13, stroke-miterlimit: the ratio of a right angle is 1.4142."""
    body = f'<path d="M20 20H60V60" stroke-miterlimit="{{}}" {LINE}/>'
    assert area(body.format(1.42)) == pytest.approx(800, rel=1e-4)
    assert area(body.format(1.41)) == pytest.approx(787.5, rel=1e-4)


def test_closed_lines_have_no_caps() -> None:
    body = f'<rect x="20" y="20" width="40" height="40" {LINE}/>'
    pattern = read(body, INK)
    assert pattern.kept_area_mm2 == pytest.approx(50 * 50 - 30 * 30, rel=1e-4)
    assert len(pattern.openings) == 1


def test_open_path_that_returns_is_not_closed() -> None:
    """SVG 2 chapter 13: only closepath joins; ends that meet keep their caps."""
    open_path = f'<path d="M20 20H60V60H20V20" {LINE}/>'
    assert area(open_path) == pytest.approx(50 * 50 - 30 * 30 - 25, rel=1e-4)


@pytest.mark.parametrize("width", [1, 3, 3.5, 4, 5, 8, 20, 150])
def test_a_rounded_frame_keeps_its_middle(width: float) -> None:
    """A tile's edge; the library's buffer of the closed line lost the opening at some sizes."""
    body = (
        '<path fill="none" stroke="#00f" stroke-width="3" d="M60,74.19c0,1.55-1.22,2.81-2.72,2.81'
        "H13.72c-1.5,0-2.72-1.26-2.72-2.81V6.81C11,5.26,12.22,4,13.72,4h43.56C58.78,4,60,5.26,60,"
        '6.81V74.19z"/>'
    )
    pattern = read(body, ReadOptions(lines="ink", width_mm=width))
    assert len(pattern.openings) == 1
    assert pattern.kept_area_mm2 == pytest.approx(718.4 / 52**2 * width**2, rel=0.02)


def test_dashes() -> None:
    """SVG 2 chapter 13, stroke-dasharray and -dashoffset; odd lists are doubled."""
    line = f'<path d="M10 50H90" {LINE} stroke-dasharray="{{}}" stroke-dashoffset="{{}}"/>'
    pattern = read(line.format("10 10", 0), INK)
    assert len(pattern.pieces) == 4
    assert pattern.kept_area_mm2 == pytest.approx(400, rel=1e-4)
    assert len(read(line.format("10 10", 5), INK).pieces) == 5
    assert area(line.format("10", 0)) == pytest.approx(400, rel=1e-4)
    assert area(line.format("10 -3", 0)) == pytest.approx(800, rel=1e-4)


def test_points_of_no_length_show_round_and_square_caps() -> None:
    """SVG 2 chapter 13, zero-length subpaths."""
    dot = f'<path d="M50 50z" stroke-linecap="{{}}" {LINE}/><rect width="5" height="5"/>'
    assert area(dot.format("round")) == pytest.approx(25 + math.pi * 25, rel=3e-3)
    assert area(dot.format("square")) == pytest.approx(125, rel=1e-4)
    assert area(dot.format("butt")) == pytest.approx(25)


def test_stroke_is_transformed_with_the_shape() -> None:
    body = f'<g transform="scale(1 3)"><path d="M20 10H70" {LINE}/></g>'
    assert area(body) == pytest.approx(50 * 30, rel=1e-4)
    fixed = body.replace("<path", '<path vector-effect="non-scaling-stroke"')
    # 10 page px, which are 2.6458 mm.
    assert area(fixed) == pytest.approx(50 * 10 * 25.4 / 96, rel=1e-3)


def test_white_stroke_takes_away() -> None:
    body = '<rect width="60" height="60" y="9"/><path d="M0 40H90" stroke="#fff" stroke-width="6"/>'
    pattern = read(body)
    assert len(pattern.pieces) == 2
    assert pattern.kept_area_mm2 == pytest.approx(60 * 54)


def test_paint_order() -> None:
    """SVG 2 chapter 13, paint-order: the stroke below the fill shows only outside."""
    body = '<rect x="9" y="9" width="60" height="60" stroke="#fff" stroke-width="6" {}/>'
    assert area(body.format("")) == pytest.approx(54 * 54)
    assert area(body.format('paint-order="stroke"')) == pytest.approx(60 * 60)


HAIR = 'fill="none" stroke="red" stroke-width="0.1"'


def test_contours_nest_by_depth() -> None:
    """Two hairline contours: a piece with an opening; a third is a piece again."""
    rings = "".join(f'<circle cx="50" cy="50" r="{r}" {HAIR}/>' for r in (40, 30, 20))
    pattern = read(rings)
    assert [len(p.openings) for p in pattern.pieces] == [1, 0]
    expected = math.pi * (1600 - 900 + 400)
    assert pattern.kept_area_mm2 == pytest.approx(expected, rel=1e-3)
    assert "lines-as-cut" in codes(pattern)


def test_auto_takes_thick_lines_for_ink_and_says_so() -> None:
    pattern = read(f'<circle cx="50" cy="50" r="30" {LINE}/>')
    assert pattern.kept_area_mm2 == pytest.approx(math.pi * (35**2 - 25**2), rel=1e-3)
    assert "lines-as-ink" in codes(pattern)


def test_lines_without_a_fill_attribute_are_no_filled_shapes() -> None:
    """Drawing programs for machines write bare lines, black inside by default."""
    corners = [(20, 20), (70, 20), (70, 60), (20, 60)]
    sides = "".join(
        f'<line x1="{a[0]}" y1="{a[1]}" x2="{b[0]}" y2="{b[1]}" stroke="red" stroke-width=".2"/>'
        for a, b in zip(corners, corners[1:] + corners[:1], strict=True)
    )
    pattern = read(sides + '<path d="M30 30L60 30z" stroke="red" stroke-width=".2"/>')
    assert "lines-as-cut" in codes(pattern)
    assert pattern.kept_area_mm2 == pytest.approx(2000)


def test_white_lines_alone_are_ink() -> None:
    body = '<line x1="20" y1="50" x2="70" y2="50" stroke="white" stroke-width="10"/>'
    pattern = read(body, INK)
    assert "white-as-ink" in codes(pattern)
    assert pattern.kept_area_mm2 == pytest.approx(500)


def test_outline_drawn_in_parts_is_joined() -> None:
    parts = (
        f'<path d="M10 10H60" {HAIR}/><path d="M60.05 10V60" {HAIR}/>'
        f'<path d="M10 60.03H60" {HAIR}/><path d="M10 10V60" {HAIR}/>'
    )
    pattern = read(parts)
    assert len(pattern.pieces) == 1
    assert pattern.kept_area_mm2 == pytest.approx(2500, rel=2e-3)
    gaps = sorted(f.size_mm or 0 for f in pattern.findings if f.code == "open-end-joined")
    assert gaps == pytest.approx([0.03, 0.05, 0.0583], abs=1e-3)


def test_ends_farther_apart_than_the_table_are_not_joined() -> None:
    with pytest.raises(PatternError, match="closed"):
        read(f'<path d="M10 10H60V60H10V10.2" {HAIR}/>')


def test_open_lines_are_veins() -> None:
    pattern = read(f'<rect x="9" y="9" width="60" height="60" {HAIR}/><path d="M20 20H40" {HAIR}/>')
    assert len(pattern.veins) == 1
    assert pattern.veins[0].length == pytest.approx(20)
    assert find(pattern, "vein").size_mm == pytest.approx(20)


def test_crossing_contours_are_united() -> None:
    two = f'<circle cx="40" cy="50" r="20" {HAIR}/><circle cx="60" cy="50" r="20" {HAIR}/>'
    pattern = read(two)
    assert len(pattern.pieces) == 1
    assert len(pattern.openings) == 0
    assert "overlap-united" in codes(pattern)


def test_contour_drawn_twice_is_taken_once() -> None:
    pattern = read(f'<rect x="9" y="9" width="60" height="60" {HAIR}/>' * 2)
    assert pattern.kept_area_mm2 == pytest.approx(3600)
    assert "duplicate-united" in codes(pattern)


def test_lines_that_meet_between_their_ends() -> None:
    grid = "".join(f'<path d="M10 {y}H70M{y} 10V70" {HAIR}/>' for y in (20, 40, 60))
    pattern = read(grid)
    assert pattern.kept_area_mm2 == pytest.approx(1600)
    assert "lines-meeting" in codes(pattern)
    assert pattern.veins


def test_cut_lines_inside_a_fill_are_openings() -> None:
    body = f'<rect x="9" y="9" width="60" height="60"/><circle cx="40" cy="40" r="10" {HAIR}/>'
    pattern = read(body, CUT)
    assert pattern.kept_area_mm2 == pytest.approx(3600 - math.pi * 100, rel=1e-3)


WASTE = ReadOptions(shaded="waste", lines="ink")
HOLES = '<rect x="20" y="20" width="10" height="10"/><rect x="50" y="20" width="10" height="10"/>'


def test_waste_with_a_dark_ring() -> None:
    ring = '<path fill-rule="evenodd" d="M5 5h90v60h-90zM8 8h84v54h-84z"/>'
    pattern = read(ring + HOLES, WASTE)
    assert pattern.kept_area_mm2 == pytest.approx(84 * 54 - 200)
    assert pattern.bounds_mm == pytest.approx((8, 8, 92, 62))
    assert "frame-ring" in codes(pattern)


def test_waste_with_a_line_around() -> None:
    line = '<rect x="5" y="5" width="90" height="60" fill="none" stroke="black" stroke-width="1"/>'
    pattern = read(line + HOLES, WASTE)
    assert pattern.kept_area_mm2 == pytest.approx(90 * 60 - 200)
    assert "frame-line" in codes(pattern)


def test_waste_without_a_frame_gets_a_plate() -> None:
    pattern = read(HOLES, WASTE)
    assert pattern.kept_area_mm2 == pytest.approx(60 * 30 - 200)
    assert "frame-added" in codes(pattern)
    assert len(pattern.openings) == 2


def test_sizes_are_asked_for_when_they_are_a_guess() -> None:
    icon = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 24 24">'
    pattern = read('<rect width="24" height="24"/>', head=icon)
    assert pattern.bounds_mm == pytest.approx((0, 0, 6.35, 6.35))
    finding = find(pattern, "size-assumed")
    assert "96 px per inch" in finding.text
    assert "width_mm" in finding.remedy
    small = read('<rect width="24" height="24"/>', head=icon[:-1] + ' width="24px" height="24">')
    assert "size-small" in codes(small)
    assert "size-assumed" not in codes(small)
    told = read('<rect width="24" height="24"/>', ReadOptions(width_mm=90), icon)
    assert not {"size-assumed", "size-small"} & codes(told)
    relative = read(
        '<rect width="24" height="24"/>', head=icon[:-1] + ' width="100%" height="1em">'
    )
    assert "size-assumed" in codes(relative)


def test_mirror_then_turn_then_width() -> None:
    flag = '<path d="M10 10h40v10h-30v20h-10z"/>'
    plain = read(flag).pieces[0].shape
    mirrored = read(flag, ReadOptions(mirror=True)).pieces[0].shape
    assert mirrored.area == pytest.approx(plain.area)
    assert mirrored.centroid.x == pytest.approx(-plain.centroid.x)
    turned = read(flag, ReadOptions(rotate_deg=90)).pieces[0].shape
    assert turned.centroid.x == pytest.approx(-plain.centroid.y)
    assert turned.centroid.y == pytest.approx(plain.centroid.x)
    wide = read(flag, ReadOptions(rotate_deg=90, width_mm=120))
    assert wide.bounds_mm[2] - wide.bounds_mm[0] == pytest.approx(120, abs=1e-3)
    assert wide.bounds_mm[3] - wide.bounds_mm[1] == pytest.approx(160, abs=1e-3)


def test_same_input_same_output() -> None:
    body = "".join(f'<circle cx="{9 + 7 * i}" cy="{50 - i}" r="6"/>' for i in range(10))
    first, second = read(body), read(body)
    assert first == second
    assert first.sha256 == second.sha256


def test_numbers_go_by_area_then_place() -> None:
    body = (
        '<rect x="60" y="60" width="9" height="9"/><rect x="9" y="9" width="9" height="9"/>'
        '<path fill-rule="evenodd" d="M30 9h30v30h-30zM50 20h5v5h-5zM33 12h5v5h-5zM45 12h5v5h-5z"/>'
    )
    pattern = read(body)
    assert [p.number for p in pattern.pieces] == [1, 2, 3]
    assert [p.shape.bounds[0] for p in pattern.pieces] == [30, 9, 60]
    assert [o.ring.bounds[:2] for o in pattern.openings] == [(33, 12), (45, 12), (50, 20)]
    assert [o.number for o in pattern.openings] == [1, 2, 3]


def test_units_of_the_page() -> None:
    """CSS Values 3: a page in mm without viewBox still has user units of 1/96 inch."""
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="210mm" height="297mm">'
    pattern = read('<rect width="96" height="96"/>', head=head)
    assert pattern.bounds_mm == pytest.approx((0, 0, 25.4, 25.4))
