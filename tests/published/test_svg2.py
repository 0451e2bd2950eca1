"""Drawings whose result the SVG specification fixes, each with its place named.

Coordinates are those printed in the specification's own example files; areas and
lengths follow from them by elementary geometry.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from companion.pattern.arcs import centre_form
from companion.pattern.budget import points_budget
from companion.pattern.flatten import flatten
from companion.pattern.lengths import PX_PER_UNIT, Viewport, user_length
from companion.pattern.matrix import multiply, parse_transform, place_viewbox
from companion.pattern.options import ReadOptions
from companion.pattern.outline import Floats
from companion.pattern.pathdata import parse_path
from companion.pattern.reader import read_pattern_text
from companion.pattern.shapes import ellipse_outline, rect_outline
from tests.published.registry import Compare, Source

SOURCE = Source(
    "SVG 2 (W3C), chapters 8, 9, 10, 13 and appendix B; SVG 1.1; CSS Values 3; W3C SVG 1.1 "
    "suite. Coordinates as printed in the example files, areas and lengths by geometry.",
    "C/D",
    "curves become chords of 1e-6 units; the printed digits",
)

MM_UNIT = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="{0}mm" height="{0}mm" viewBox="0 0 {0} {0}">'
)


def points_of(d: str, tolerance: float = 1e-6) -> Floats:
    outline, fault = parse_path(d)
    assert fault is None
    return flatten(outline, tolerance, points_budget(9**9, "test")).points


def area_of(d: str) -> float:
    return float(shapely.Polygon(points_of(d)).area)


def length_of(d: str) -> float:
    return float(shapely.LineString(points_of(d)).length)


def kept_area(body: str, side: int = 1000) -> float:
    data = f"{MM_UNIT.format(side)}{body}</svg>".encode()
    return read_pattern_text(data, ReadOptions(), "spec.svg").kept_area_mm2


# -- SVG 2 chapter 9, paths -----------------------------------------------------


def test_arcs01_first_pie(row: Compare) -> None:
    """SVG 2 chapter 9 'elliptical arc', example arcs01: 3/4 of a disc of radius 150."""
    d = "M300,200 h-150 a150,150 0 1,0 150,-150 z"
    row(area_of(d), 0.75 * math.pi * 150**2, rel=1e-6)
    x0, y0, x1, y1 = shapely.Polygon(points_of(d)).bounds
    row((x0, y0, x1, y1), (150, 50, 450, 350), abs=1e-3)
    cx, cy, rx, ry, theta, delta = centre_form(150, 200, 150, 150, 0.0, True, False, 300, 50)
    row((cx, cy, rx, ry), (300, 200, 150, 150))
    row(math.degrees(theta) % 360, 180)
    row(math.degrees(delta), -270)


def test_arcs01_second_pie(row: Compare) -> None:
    """SVG 2 chapter 9, example arcs01: a quarter of the disc."""
    d = "M275,175 v-150 a150,150 0 0,0 -150,150 z"
    row(area_of(d), 17671.459, rel=1e-6)


BLIPS = [
    (25.0, 1.250000, (675.0, 312.5), 87.8102),
    (50.0, 1.246635, (775.0, 262.5), 135.2178),
    (75.0, 1.246011, (875.0, 212.5), 186.4818),
    (100.0, 1.245793, (975.0, 162.5), 239.3704),
]


@pytest.mark.parametrize(("ry", "scale", "centre", "length"), BLIPS)
def test_arcs01_blips(
    row: Compare, ry: float, scale: float, centre: tuple[float, float], length: float
) -> None:
    """SVG 2 chapter 9, arcs01, and B.2.5: radii too small grow by the root of lambda."""
    x1, y1 = centre[0] - 25.0, centre[1] + 12.5
    args = (25.0, ry, math.radians(-30.0), False, True, x1 + 50.0, y1 - 25.0)
    cx, cy, rx, grown, _, delta = centre_form(x1, y1, *args)
    row((cx, cy), centre)
    row((rx / 25.0) ** 2, scale, abs=1e-6)
    row((grown / ry) ** 2, scale, abs=1e-6)
    row(math.degrees(delta), 180)
    row(length_of(f"M{x1},{y1} a25,{ry} -30 0,1 50,-25"), length, abs=1e-3)


def test_arcs01_whole_line(row: Compare) -> None:
    """SVG 2 chapter 9, arcs01: the line with the four blips."""
    blips = " ".join(f"l 50,-25 a25,{r} -30 0,1 50,-25" for r in (25, 50, 75, 100))
    row(length_of(f"M600,350 {blips} l 50,-25"), 928.3886, abs=2e-3)


QUARTET = [
    (False, False, (225.0, 75.0), -90.0),
    (False, True, (125.0, 125.0), 90.0),
    (True, False, (125.0, 125.0), -270.0),
    (True, True, (225.0, 75.0), 270.0),
]


@pytest.mark.parametrize(("large", "sweep", "centre", "delta"), QUARTET)
def test_arc_flags(
    row: Compare, large: bool, sweep: bool, centre: tuple[float, float], delta: float
) -> None:
    """SVG 2 chapter 9, example arcs02: the four arcs of the two flags."""
    form = centre_form(125, 75, 100, 50, 0.0, large, sweep, 225, 125)
    row(form[:2], centre)
    row(math.degrees(form[5]), delta)


def test_triangle01(row: Compare) -> None:
    """SVG 2 chapter 9, example triangle01."""
    d = "M 100 100 L 300 100 L 200 300 z"
    row(area_of(d), 20000)
    row(length_of(d), 647.2136, abs=1e-4)


def test_cubic01_reflects_its_handle(row: Compare) -> None:
    """SVG 2 chapter 9, cubic01: S takes the mirror image (250,300) of (250,100)."""
    outline, _ = parse_path("M100,200 C100,100 250,100 250,200 S400,300 400,200")
    assert outline.segments[1, 1].tolist() == [250, 300]
    row(length_of("M100,200 C100,100 250,100 250,200"), 237.8736, abs=1e-3)
    both = length_of("M100,200 C100,100 250,100 250,200 S400,300 400,200")
    row(both, 2 * 237.8736, abs=1e-3)


def test_quad01_reflects_its_handle(row: Compare) -> None:
    """SVG 2 chapter 9, quad01: T takes the mirror image (800,550) of (400,50)."""
    outline, _ = parse_path("M200,300 Q400,50 600,300 T1000,300")
    start, first = outline.segments[1, 0], outline.segments[1, 1]
    row((start + 1.5 * (first - start)).tolist(), [800, 550])
    row(length_of("M200,300 Q400,50 600,300 T1000,300"), 2 * 487.7711, abs=1e-3)


GRAMMAR = [
    ("M 100-200L1 1", (100, -200)),
    ("M 0.6.5L1 1", (0.6, 0.5)),
    ("M 1e1 1E+1L0 0", (10, 10)),
    ("M23.,4L0 0", (23, 4)),
    ("M\t1\r\n2L0 0", (1, 2)),
]


@pytest.mark.parametrize(("d", "start"), GRAMMAR)
def test_grammar_of_pairs(row: Compare, d: str, start: tuple[float, float]) -> None:
    """SVG 2 chapter 9, the grammar for path data."""
    outline, fault = parse_path(d)
    assert fault is None
    row(outline.segments[0, 0].tolist(), start)


def test_error_rule_keeps_the_last_whole_segment() -> None:
    """SVG 2 chapter 9 'Error handling in path data': M 10,10 L 20,20,30 draws one line."""
    outline, fault = parse_path("M 10,10 L 20,20,30")
    assert outline.segments[:, [0, 3]].tolist() == [[[10, 10], [20, 20]]]
    assert fault is not None
    assert fault.position == len("M 10,10 L 20,20,30")


def test_empty_data_is_valid() -> None:
    """SVG 2 chapter 9: an empty d disables rendering and is no error."""
    outline, fault = parse_path("")
    assert fault is None
    assert len(outline.segments) == 0


def test_arc_special_cases(row: Compare) -> None:
    """SVG 2 chapter 9: same ends draw nothing, a zero radius a line, signs are dropped."""
    assert len(parse_path("M10 10A5 5 0 0 1 10 10")[0].segments) == 0
    assert parse_path("M10 10A0 5 0 0 1 20 20")[0].straight.tolist() == [True]
    negative, positive = (area_of(f"M10 10A{r} 5 0 0 1 15 15z") for r in (-5, 5))
    row(negative, positive)


GOOD = [
    "M120,120 h25 a25,25 0 10 -25,25z",
    "M200,120 h-25 a25,25 0 1125,25 z",
    "M120,200 h25 a25,25 0 1 1-25,-25 z",
]
BAD = [
    "M280,120 h25 a25,25 0 6 0 -25,25 z",
    "M360,120 h-25 a25,25 0 1 -1 25,25 z",
    "M200,200 h-25 a25,2501 025,-25 z",
    "M280,200 h25 a25,25 0 1 7 -25 -25 z",
    "M360,200 h-25 a25,25 0 -1 0 25,-25 z",
]


@pytest.mark.parametrize("d", GOOD)
def test_paths_data_20_legal(row: Compare, d: str) -> None:
    """W3C SVG 1.1 suite, paths-data-20-f: flags need no separator; three quarters of a disc."""
    row(area_of(d), 1472.6216, rel=1e-5)


@pytest.mark.parametrize("d", BAD)
def test_paths_data_20_in_error(d: str) -> None:
    """W3C SVG 1.1 suite, paths-data-20-f: nothing after the h is drawn."""
    outline, fault = parse_path(d)
    assert fault is not None
    assert outline.straight.tolist() == [True]


# -- SVG 2 chapter 10, basic shapes ---------------------------------------------


def test_rect02_round_corners(row: Compare) -> None:
    """SVG 2 chapter 10, example rect02: rx=50, ry copies it."""
    body = '<rect x="100" y="100" width="400" height="200" rx="50"/>'
    row(kept_area(body), 77853.982, rel=1e-4)
    ring = flatten(rect_outline(0, 0, 400, 200, 50, 50), 1e-6, points_budget(9**9, "t")).points
    row(shapely.LineString(ring).length, 1114.1593, abs=1e-3)
    assert ring[0].tolist() == [50, 0]
    assert ring[1].tolist() == [350, 0]


def test_rect02_turned(row: Compare) -> None:
    """SVG 2 chapter 10, example rect02: translate(700 210) rotate(-30)."""
    m = parse_transform("translate(700 210) rotate(-30)")
    assert m is not None
    moved = rect_outline(0, 0, 400, 200, 0, 0).moved(m).segments[:, 0]
    row(moved[1].tolist(), [1046.4102, 10.0], abs=1e-4)
    row(moved[3].tolist(), [800, 383.2051], abs=1e-4)


def test_ellipse01_turned(row: Compare) -> None:
    """SVG 2 chapter 10, example ellipse01: rx 250, ry 100, rotate(-30)."""
    m = parse_transform("translate(900 200) rotate(-30)")
    assert m is not None
    outline = ellipse_outline(0, 0, 250, 100).moved(m)
    ring = flatten(outline, 1e-7, points_budget(9**9, "t")).points
    x0, y0, x1, y1 = shapely.Polygon(ring).bounds
    row(((x1 - x0) / 2, (y1 - y0) / 2), (222.2049, 152.0691), abs=1e-3)
    row(shapely.Polygon(ring).area, 78539.816, rel=1e-6)
    row(shapely.LineString(ring).length, 1150.65563, abs=1e-3)


def test_circle_starts_at_three_o_clock_and_goes_clockwise() -> None:
    """SVG 2 chapter 10: the equivalent path of a circle."""
    outline = ellipse_outline(10, 20, 5, 5)
    assert outline.segments[0, 0].tolist() == [15, 20]
    assert outline.segments[0, 3, 1] > 20


STAR = "350,75 379,161 469,161 397,215 423,301 350,250 277,301 303,215 231,161 321,161"
HEXAGON = "850,75 958,137.5 958,262.5 850,325 742,262.6 742,137.5"


@pytest.mark.parametrize(("points", "area"), [(STAR, 18055.0), (HEXAGON, 40505.4)])
def test_polygon01(row: Compare, points: str, area: float) -> None:
    """SVG 2 chapter 10, example polygon01 (its 262.6 stands so in the specification)."""
    row(kept_area(f'<polygon points="{points}"/>'), area, rel=1e-5)


def test_shapes_without_size_are_not_drawn(row: Compare) -> None:
    """SVG 2 chapter 10 and 10.3: zero width, height or radius disables rendering."""
    body = '<rect width="0" height="9"/><circle r="0"/><rect x="5" y="5" width="9" height="9"/>'
    row(kept_area(body), 81)


# -- SVG 2 chapter 13, fill rules -----------------------------------------------

PENTAGRAM = "M 250,75 L 323,301 131,161 369,161 177,301 z"


@pytest.mark.parametrize(("rule", "area"), [("nonzero", 17523.2309), ("evenodd", 12108.4617)])
def test_fill_rule_pentagram(row: Compare, rule: str, area: float) -> None:
    """SVG 2 chapter 13, the figures of fill-rule: the star."""
    row(kept_area(f'<path d="{PENTAGRAM}" fill-rule="{rule}"/>'), area, rel=1e-4)


def ring(radius: float, sweep: int) -> str:
    return (
        f"M600 {200 - radius} a{radius},{radius} 0 0 {sweep} 0,{2 * radius} "
        f"a{radius},{radius} 0 0 {sweep} 0,{-2 * radius} z"
    )


RINGS = [
    (1, 1, "nonzero", 35968.094),
    (1, 1, "evenodd", 28425.130),
    (1, 0, "nonzero", 28425.130),
    (1, 0, "evenodd", 28425.130),
]


@pytest.mark.parametrize(("outer", "inner", "rule", "area"), RINGS)
def test_fill_rule_rings(row: Compare, outer: int, inner: int, rule: str, area: float) -> None:
    """SVG 2 chapter 13, the figures of fill-rule: circles of 107 and 49 by direction."""
    body = f'<path d="{ring(107, outer)} {ring(49, inner)}" fill-rule="{rule}"/>'
    row(kept_area(body), area, rel=2e-4)


def test_open_subpaths_are_filled_as_if_closed(row: Compare) -> None:
    """SVG 2 chapter 13: fill closes open subpaths."""
    row(kept_area('<path d="M100 100 L300 100 L200 300"/>'), 20000, rel=1e-5)


# -- SVG 2 chapter 8, coordinate systems ----------------------------------------


def test_absolute_units(row: Compare) -> None:
    """CSS Values 3 'Absolute lengths': 1in = 2.54cm = 25.4mm = 101.6Q = 72pt = 6pc = 96px."""
    for text in ("1in", "2.54cm", "25.4mm", "101.6Q", "72pt", "6pc", "96px", "96", "1IN"):
        row(user_length(text, Viewport(1, 1), "x"), 96)
    row(PX_PER_UNIT["mm"], 3.7795275591, abs=1e-10)


def test_units_rect(row: Compare) -> None:
    """SVG 1.1 7.10, example Units: 4in x 2in equals 384 x 192 user units."""
    inches = kept_area('<rect width="4in" height="2in"/>', 1000)
    row(inches, kept_area('<rect width="384" height="192"/>', 1000))


def test_arcs01_viewport(row: Compare) -> None:
    """SVG 2 chapter 8: 12cm x 5.25cm for 1200 x 400 leaves 12.5 mm of slack, halved (xMidYMid)."""
    head = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="12cm" height="5.25cm" '
        'viewBox="0 0 1200 400">'
    )
    data = f'{head}<rect x="300" y="200" width="100" height="50"/></svg>'.encode()
    pattern = read_pattern_text(data, ReadOptions(), "arcs01.svg")
    row(pattern.bounds_mm, (30.0, 26.25, 40.0, 31.25), abs=1e-9)


VIEWBOXES = [
    ((0, 0, 1500, 1000), (300, 200), "none", (0.2, 0.2, 0, 0)),
    ((0, 0, 1500, 1000), (150, 200), "none", (0.1, 0.2, 0, 0)),
    ((0, 0, 30, 40), (50, 30), "xMinYMin meet", (0.75, 0.75, 0, 0)),
    ((0, 0, 30, 40), (50, 30), "xMidYMid meet", (0.75, 0.75, 13.75, 0)),
    ((0, 0, 30, 40), (50, 30), "xMaxYMax meet", (0.75, 0.75, 27.5, 0)),
    ((0, 0, 30, 40), (30, 60), "xMinYMin meet", (1, 1, 0, 0)),
    ((0, 0, 30, 40), (30, 60), "xMidYMid meet", (1, 1, 0, 10)),
    ((0, 0, 30, 40), (30, 60), "xMaxYMax meet", (1, 1, 0, 20)),
    ((0, 0, 30, 40), (30, 60), "xMinYMid slice", (1.5, 1.5, 0, 0)),
    ((0, 0, 30, 40), (30, 60), "xMidYMid slice", (1.5, 1.5, -7.5, 0)),
    ((0, 0, 30, 40), (30, 60), "xMaxYMid slice", (1.5, 1.5, -15, 0)),
]


@pytest.mark.parametrize(("box", "size", "aspect", "expected"), VIEWBOXES)
def test_viewbox_placement(
    row: Compare,
    box: tuple[float, float, float, float],
    size: tuple[float, float],
    aspect: str,
    expected: tuple[float, float, float, float],
) -> None:
    """SVG 2 chapter 8, examples ViewBox and PreserveAspectRatio."""
    a, _, _, d, e, f = place_viewbox(box, (0.0, 0.0, *size), aspect)
    row((a, d, e, f), expected)


def test_nested_transforms(row: Compare) -> None:
    """SVG 1.1 7.4, example Nested: translate(50,90) rotate(-45) translate(130,160)."""
    m = parse_transform("translate(50,90) rotate(-45) translate(130,160)")
    expected = (0.707107, -0.707107, 0.707107, 0.707107, 255.060967, 111.213203)
    row(m, expected, abs=1e-6)


def test_rotate_about_a_point_is_three_transforms(row: Compare) -> None:
    """CSS Transforms 1, 'rotate' of SVG: translate, rotate, translate back."""
    about = parse_transform("rotate(30 5 7)")
    three = parse_transform("translate(5 7) rotate(30) translate(-5 -7)")
    assert about is not None
    assert three is not None
    row(about, three)
    row(multiply(about, (1, 0, 0, 1, 5, 7))[4:], (5, 7))


def test_flattening_keeps_within_its_tolerance() -> None:
    """Wang 1984: no point of the curve is farther from the chords than asked for."""
    outline, _ = parse_path("M100,200 C100,-300 650,500 250,200 S400,300 400,200")
    for tolerance in (0.5, 0.02, 0.001):
        chords = shapely.LineString(flatten(outline, tolerance, points_budget(9**9, "t")).points)
        t = np.linspace(0, 1, 3001)[:, None, None]
        p = outline.segments
        curve = (1 - t) ** 3 * p[:, 0] + 3 * t * (1 - t) ** 2 * p[:, 1]
        curve = curve + 3 * t * t * (1 - t) * p[:, 2] + t**3 * p[:, 3]
        away = shapely.distance(shapely.points(curve.reshape(-1, 2)), chords).max()
        assert away <= tolerance
        assert away > tolerance / 20
