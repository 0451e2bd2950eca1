"""The outline of strokes at corners, in tight curves and at their ends."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from companion.pattern.bends import fineness
from companion.pattern.budget import dash_budget, points_budget
from companion.pattern.joins import stroke_lines
from companion.pattern.limits import limits
from companion.pattern.options import ReadOptions
from companion.pattern.overlay import difference, union_all
from companion.pattern.paint import Effect
from companion.pattern.painted import Stroke
from companion.pattern.pathdata import parse_path
from companion.pattern.reader import read_pattern_text
from companion.pattern.stroke import stroke_region
from tests.pattern.test_reader import read

INK = ReadOptions(lines="ink")


def ink(d: str, width: float, extra: str = "") -> BaseGeometry:
    """Ink of a path on a page of mm."""
    body = f'<path d="{d}" fill="none" stroke="black" stroke-width="{width}" {extra}/>'
    return shapely.union_all([p.shape for p in read(body, INK).pieces])


def swept(d: str, width: float) -> BaseGeometry:
    """All cross lines of a single cubic, by their definition, finely sampled."""
    p = parse_path(d)[0].segments[0]
    near = np.geomspace(1e-6, 0.1, 40)
    t = np.unique(np.concatenate([np.linspace(0.0, 1.0, 200), near, 1.0 - near]))
    for _ in range(14):  # finer where it turns
        way = _along(p, t)
        turn = np.abs(np.diff(np.unwrap(np.arctan2(way[:, 1], way[:, 0])))) > 0.02
        t = np.sort(np.concatenate([t, (t[:-1][turn] + t[1:][turn]) / 2]))
    s, way = (1 - t)[:, None], _along(p, t)
    t = t[:, None]
    at = s**3 * p[0] + 3 * t * s * s * p[1] + 3 * t * t * s * p[2] + t**3 * p[3]
    size = np.hypot(*way.T)
    moves = size > 1e-12  # the very end of a curve whose last control lies on it tells nothing
    at, way = at[moves], way[moves] / size[moves][:, None]
    across = np.stack([-way[:, 1], way[:, 0]], axis=1) * width / 2
    left, right = at + across, at - across
    # neighbouring cross lines and what the step between them sweeps; they may cross
    fans = shapely.polygons(np.stack([left[:-1], left[1:], right[1:], right[:-1]], axis=1))
    return union_all(np.asarray(shapely.make_valid(fans)))


def _along(p: np.ndarray, t: np.ndarray) -> np.ndarray:
    """A third of a cubic's derivative."""
    s, t = (1 - t)[:, None], t[:, None]
    way: np.ndarray = s * s * (p[1] - p[0]) + 2 * t * s * (p[2] - p[1]) + t * t * (p[3] - p[2])
    return way


def widest(region: BaseGeometry) -> float:
    """Diameter of the largest circle in a region."""
    parts = [p for p in shapely.get_parts(region).tolist() if p.area > 1e-6]
    return max((2 * shapely.maximum_inscribed_circle(p, 1e-3).length for p in parts), default=0.0)


def stroked(d: str, width: float, join: str = "miter") -> BaseGeometry:
    """Ink of a path before it is put on the grid."""
    stroke = Stroke(Effect.INK, width, "butt", join, 4.0, (), 0.0, False)
    fine = fineness(width / 2, 0.012, 0.006, 0.001)
    lines = stroke_lines(parse_path(d)[0], fine, points_budget(9**9, "t"))
    return stroke_region(lines, stroke, 0.012, dash_budget(9, "t"))


@pytest.mark.parametrize(("limit", "pointed"), [(4.0, True), (3.8, False)])
def test_a_mitre_goes_by_the_tangent_not_by_the_first_chord(limit: float, pointed: bool) -> None:
    """SVG 2 chapter 13, "Line join shape": theta is the angle between the segments at the join.

    30 degrees there make a ratio of 3.864. The curve bends on towards the line, so that
    its chords make less than 29 degrees and more than 4.
    """
    x, y = 2 * math.cos(math.pi / 6), 2 * math.sin(math.pi / 6)
    d = f"M90 50H50c{x:.6f} {y:.6f} 4 1.2 20 1.2"
    region = ink(d, 4, f'stroke-miterlimit="{limit}"')
    tip = 2.0 * 3.864
    near = shapely.Point(
        50 - (tip - 0.3) * math.cos(math.pi / 12), 50 - (tip - 0.3) * math.sin(math.pi / 12)
    )
    assert region.covers(near) == pointed


@pytest.mark.parametrize("join", ["bevel", "miter", "round"])
def test_a_tight_curve_is_round_outside_whatever_the_join(join: str) -> None:
    """SVG 2 chapter 13: ink is all that lies on a cross line; a join is for corners only.

    A half-turn of 0.05 mm radius in a line 10 mm wide: its outer edge is a half-circle.
    """
    region = ink("M20 50H50a.05 .05 0 0 1 0 .1H20", 10, f'stroke-linejoin="{join}"')
    assert region.area == pytest.approx(30 * 10.1 + math.pi * 5.05**2 / 2, rel=2e-3)
    assert region.bounds == pytest.approx((20, 45, 55.05, 55.1), abs=0.03)


@pytest.mark.parametrize("join", ["miter", "round"])
def test_a_flat_end_stands_across_the_curve_not_across_its_chord(join: str) -> None:
    """SVG 2 chapter 13, "Line cap shape": butt adds nothing beyond the last cross line."""
    region = ink("M60 50A10 10 0 0 0 50 40", 8, f'stroke-linejoin="{join}"')
    true = shapely.Point(50, 50).buffer(14, quad_segs=256) - shapely.Point(50, 50).buffer(
        6, quad_segs=256
    )
    true = true & shapely.box(50, 30, 70, 50)
    assert region.hausdorff_distance(true) <= 0.03


def test_a_square_end_goes_on_in_the_way_of_the_curve() -> None:
    """SVG 2 chapter 13, "Line cap shape": a rectangle along the direction at the end."""
    region = ink("M60 50A10 10 0 0 0 50 40", 8, 'stroke-linecap="square"')
    assert region.bounds == pytest.approx((46, 36, 64, 54), abs=0.03)
    assert region.covers(shapely.box(56.02, 50, 63.98, 53.98))


def test_a_closing_line_shorter_than_the_grid_makes_no_join() -> None:
    """Coordinates merge at 0.001 mm: the direction of a rounding error is none."""
    clean = ink("M20 20H60V60z", 2)
    for rest in ("20.0003 20", "20 20.0003", "19.9997 20.0002", "20.0002 19.9997"):
        assert ink(f"M20 20H60V60L{rest}z", 2).hausdorff_distance(clean) < 0.01


def test_a_hook_too_small_for_the_chords_still_turns_the_end() -> None:
    """SVG 2 chapter 13: the ink is the union of all cross lines, be the hook 0.01 mm.

    A drawing program puts such hooks at the ends of traced lines. Renderers that offset
    either side of the line leave a lens of paper there.
    """
    d = "M50 60C51.67 47.3 50.6 48.8 50.6 48.8"
    ours, true = ink(d, 2.2), swept(d, 2.2)
    assert shapely.symmetric_difference(ours, true).area <= 0.01 * true.area  # the lens: 4 %


@pytest.mark.parametrize("width", [1.5e-16, 1e-9, 1e-7, 1e-5])
@pytest.mark.parametrize("more", ["", 'stroke-linecap="round"', 'stroke-dasharray="2 1"'])
def test_a_stroke_that_is_hardly_there_is_no_ink_and_no_error(width: float, more: str) -> None:
    """As a clip art writes it, left by scaling: the fill is read all the same."""
    path = '<path d="M10 10H60V40H10z" stroke="black" stroke-width="{}" {}/>'
    pieces = read(path.format(width, more), INK).pieces
    assert sum(p.shape.area for p in pieces) == pytest.approx(1500.0, rel=1e-5)


def test_dashes_keep_the_joins_within_them() -> None:
    """SVG 2 chapter 13: joins stand between segments within a dash, the loop's start too."""
    assert ink("M20 20H60V60", 10, 'stroke-dasharray="500"').area == pytest.approx(800, rel=1e-4)
    # two dashes of 80 on a square's 160 round, shifted: each goes round two corners
    square = ink("M20 20H60V60H20z", 10, 'stroke-dasharray="70 10" stroke-dashoffset="30"')
    assert square.area == pytest.approx(50 * 50 - 30 * 30 - 2 * 10 * 10, rel=1e-4)


@pytest.mark.parametrize("d", ["M20 20C60 20 20 60 60 60", "M20 20C20 80 30 20 30 21"])
def test_curves_are_the_union_of_their_cross_lines(d: str) -> None:
    """SVG 2 chapter 13, "Computing the shape of an element's stroke", word for word."""
    ours, true = stroked(d, 6.0), swept(d, 6.0)
    assert shapely.symmetric_difference(ours, true).area <= 2e-3 * true.area


TIGHT = {
    "a hook at its end": ("M5.620 3.878C7.917 6.051 6.017 2.876 6.018 2.876", 6.928),
    "a hook at its start": ("M9.505 1.442C9.517 1.443 4.233 8.277 4.092 5.496", 0.672),
    "a tight turn before a wide one": ("M7.884 3.032C7.643 4.165 4.031 2.035 2.623 7.504", 6.897),
    "a turn about as tight as the line": (
        "M2.625 4.212C1.059 6.332 3.804 7.253 6.539 4.312",
        4.872,
    ),
    "a curve smaller than the line": ("M4.762 6.386C4.759 6.335 4.773 6.403 4.736 6.421", 1.468),
    "there and back": ("M8.364 2.189C5.995 5.299 8.236 2.239 8.141 2.175", 3.678),
}


@pytest.mark.parametrize("join", ["miter", "round"])
@pytest.mark.parametrize("name", TIGHT)
def test_a_turn_tighter_than_the_line_sweeps_its_fan(name: str, join: str) -> None:
    """As above, to 0.05 mm at any place: by chords alone up to 1 mm of ink was missing."""
    ours, true = stroked(*TIGHT[name], join), swept(*TIGHT[name])
    assert widest(difference(true, ours)) <= 0.03
    assert widest(difference(ours, true)) <= 0.05


TANGLE = (
    "193.241,324.07 226.768,244.0678 207.458,112.516 309.0493.241,324.07 113.7,16"
    "344.05.5 0 0 054.337,163.873 0.92,64.5596 2.808,2687,1.078 208.458,112.516 3"
    "09.0493.241,324.07 113.7,16344.05.5 0 0 054.337,163.873 0.92,64.559 112.241,82 20726z "
)
"""Found by the fuzzer: lines that run over one another, some 20 m long."""


def test_thousands_of_dashes_over_one_another_take_little_memory() -> None:
    """18,756 parts that meet when rounded: 60 MB, not 600 for a prepared copy of each."""
    table = replace(limits(), reading_bytes=400_000_000)
    svg = (
        '<svg viewBox="0 0 99 99"><polyline stroke="#123" '
        f'points="{TANGLE}" stroke-dasharray="3 1"/></svg>'
    )
    pattern = read_pattern_text(svg.encode(), ReadOptions(), "tangle.svg", table)
    assert pattern.pieces
