"""Properties that hold for any drawing, and a small share of the fuzzing."""

from __future__ import annotations

import random

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from shapely.geometry.base import BaseGeometry

from companion.errors import PatternError
from companion.pattern.arcs import arc_rows
from companion.pattern.budget import dash_budget, points_budget
from companion.pattern.chains import chain
from companion.pattern.fillrule import as_ring, fill, signed_area, winding
from companion.pattern.flatten import flatten, thin
from companion.pattern.joins import Fineness, stroke_lines
from companion.pattern.limits import limits
from companion.pattern.options import ReadOptions
from companion.pattern.outline import Floats
from companion.pattern.paint import Effect
from companion.pattern.painted import Stroke
from companion.pattern.pathdata import parse_path
from companion.pattern.reader import read_pattern_text
from companion.pattern.stroke import stroke_region
from companion.pattern.tight import Width
from companion.pattern.union import segments_of
from tests.pattern.fuzz_reader import SEEDS, mutate, one_input, seeds
from tests.pattern.test_reader import HEAD

NUMBER = st.integers(0, 100)
POINTS = st.lists(st.tuples(NUMBER, NUMBER), min_size=3, max_size=12)
QUIET = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


def rings_of(lists: list[list[tuple[int, int]]]) -> list[Floats]:
    made = [as_ring(np.array(points, dtype=float)) for points in lists]
    return [ring for ring in made if ring is not None]


@QUIET
@given(st.lists(POINTS, min_size=1, max_size=3), st.booleans())
def test_fill_agrees_with_a_ray_at_every_point(
    lists: list[list[tuple[int, int]]], even_odd: bool
) -> None:
    """SVG 2 chapter 13, fill-rule, asked point by point on a lattice off the outline."""
    rings = rings_of(lists)
    if not rings:
        return
    region = fill(rings, even_odd, limits(), "test").region
    at = np.stack(np.meshgrid(np.arange(0.5, 100, 7.013), np.arange(0.5, 100, 6.987)), -1)
    lattice = at.reshape(-1, 2)
    edges = segments_of([shapely.LinearRing(r) for r in rings])
    near = shapely.distance(shapely.points(lattice), shapely.union_all(shapely.linestrings(edges)))
    lattice = lattice[near > 0.01]
    sums, crossings = winding(lattice, edges)
    expected = crossings % 2 == 1 if even_odd else sums != 0
    found = shapely.contains_xy(region, lattice[:, 0], lattice[:, 1])
    assert (found == expected).all()
    assert region.is_valid


@QUIET
@given(POINTS)
def test_signed_area_turns_with_the_ring(points: list[tuple[int, int]]) -> None:
    ring = np.array([*points, points[0]], dtype=float)
    assert signed_area(ring) == pytest.approx(-signed_area(ring[::-1]))


@QUIET
@given(POINTS, st.sampled_from([0.02, 0.5, 3.0]))
def test_thinning_keeps_within_its_tolerance(
    points: list[tuple[int, int]], tolerance: float
) -> None:
    line = np.array(points, dtype=float)
    dense = np.concatenate([line + (np.roll(line, -1, 0) - line) * t for t in (0, 0.37, 0.8)])
    kept = thin([dense], tolerance)[0]
    chords = shapely.LineString(kept) if len(kept) > 1 else shapely.Point(kept[0])
    assert shapely.distance(shapely.points(dense), chords).max() <= tolerance + 1e-9


def test_thinning_leaves_no_needless_points() -> None:
    straight = np.column_stack([np.linspace(0, 99, 200), np.zeros(200)])
    assert len(thin([straight], 0.001)[0]) == 2


BACK_AND_FORTH = [
    *((10, 0), (0, 0), (0, 1), (1, 0), (19, 21), (1, 0)),
    *((0, 1), (1, 34), (0, 1), (0, 8), (20, 0)),
]
"""Its opening was lost while the library united its parts in floating point."""


@QUIET
@given(
    st.lists(st.tuples(NUMBER, NUMBER), min_size=2, max_size=16),
    st.sampled_from([2, 8, 20]),
    st.booleans(),
)
@example(BACK_AND_FORTH, 2, False)
def test_round_lines_are_the_union_of_their_segments(
    corners: list[tuple[int, int]], width: float, closed: bool
) -> None:
    """With round caps and joins, ink is what lies within half the width of the line."""
    line = np.array(corners, dtype=float)
    outline, _ = parse_path("M" + " ".join(f"{x},{y}" for x, y in corners) + "z" * closed)
    fine = Fineness(0.001, 0.0, 0.0, 4.0, Width(width / 2, 1.0, 0.001, 0.0))
    lines = stroke_lines(outline, fine, points_budget(9**9, "t"))
    stroke = Stroke(Effect.INK, width, "round", "round", 4.0, (), 0.0, False)
    ours = stroke_region(lines, stroke, 0.001, dash_budget(9, "test"))
    drawn = np.vstack([line, line[:1]]) if closed else line
    ends = np.stack([drawn[:-1], drawn[1:]], axis=1)
    bands = shapely.buffer(shapely.linestrings(ends), width / 2, quad_segs=128)
    true = shapely.union_all(bands, grid_size=1e-6)
    assert shapely.symmetric_difference(ours, true).area <= 2e-3 * true.area


CURVE = st.tuples(*[NUMBER] * 8)


@QUIET
@given(CURVE)
def test_flattening_and_thinning_stay_within_the_table(curve: tuple[int, ...]) -> None:
    """The promise of the table: 0.02 mm, thinning and rounding to the grid included."""
    d = "M{} {}C{} {} {} {} {} {}".format(*curve)
    outline, _ = parse_path(d)
    table = limits()
    points = flatten(outline, 0.6 * table.flatness_mm, points_budget(9**9, "t")).points
    points = np.round(thin([points], 0.3 * table.flatness_mm)[0], 3)
    chords = shapely.LineString(points)
    t = np.linspace(0, 1, 400)[:, None]
    p = outline.segments[0]
    true = (1 - t) ** 3 * p[0] + 3 * t * (1 - t) ** 2 * p[1] + 3 * t * t * (1 - t) * p[2]
    true = true + t**3 * p[3]
    assert shapely.distance(shapely.points(true), chords).max() <= table.flatness_mm


@QUIET
@given(st.lists(st.tuples(NUMBER, NUMBER), min_size=4, max_size=9, unique=True), st.randoms())
def test_chains_do_not_depend_on_direction(
    corners: list[tuple[int, int]], chance: random.Random
) -> None:
    """An outline cut into lines, shuffled and turned, is one loop again."""
    ring = np.array([*corners, corners[0]], dtype=float)
    lines = [ring[i : i + 2][:: chance.choice((1, -1))] for i in range(len(ring) - 1)]
    chance.shuffle(lines)
    chained = chain([(line, False) for line in lines], 0.1)
    assert len(chained.loops) == 1
    assert not chained.open_lines


@QUIET
@given(
    st.lists(
        st.tuples(NUMBER, NUMBER, st.integers(1, 60), st.sampled_from(["#000", "#fff", "#888"])),
        min_size=1,
        max_size=9,
    )
)
def test_paint_order_agrees_with_folding_one_by_one(
    squares: list[tuple[int, int, int, str]],
) -> None:
    """Rounds of unions give what adding and taking away one after the other gives."""
    body = "".join(
        f'<rect x="{x}" y="{y}" width="{w}" height="{w}" fill="{c}"/>' for x, y, w, c in squares
    )
    expected: BaseGeometry = shapely.Polygon()
    for x, y, w, colour in squares:
        square = shapely.box(x, y, x + w, y + w).intersection(shapely.box(0, 0, 100, 100))
        dark = colour != "#fff" or all(s[3] == "#fff" for s in squares)
        expected = expected.union(square) if dark else expected.difference(square)
    try:
        pattern = read_pattern_text(f"{HEAD}{body}</svg>".encode(), ReadOptions(), "t.svg")
    except PatternError:
        assert expected.area < 0.5
        return
    assert pattern.kept_area_mm2 == pytest.approx(expected.area, abs=1e-6)
    for piece in pattern.pieces:
        assert piece.shape.is_valid
        grid = shapely.get_coordinates(piece.shape) * 1000
        assert np.abs(grid - np.round(grid)).max() < 1e-6


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    one_input(data)


PIECES = st.lists(
    st.sampled_from(
        ["M", "m", "L", "l", "A", "a", "C", "s", "q", "T", "z", "H", "v", "0", "1", "-1", ".5", "9"]
        + ["1e3", " ", ",", "1e39", "nan", "50", "100", "33.3", "-", "."]
    ),
    max_size=40,
)


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(PIECES, st.sampled_from([1, 2, 7]), st.integers(0, 31))
def test_any_path_data_is_read_or_refused(pieces: list[str], kind: int, options: int) -> None:
    one_input(bytes([kind + 8 * options]) + "".join(pieces).encode())


def test_mutated_drawings_are_read_or_refused() -> None:
    chance = random.Random(5)
    known = seeds(SEEDS)
    assert len(known) > 100
    for _ in range(400):
        one_input(mutate(chance.choice(known), chance))


_WILD = st.floats(allow_nan=False, allow_infinity=False)


@given(
    ends=st.tuples(*[_WILD] * 4),
    radii=st.tuples(_WILD, _WILD),
    flags=st.tuples(*[st.booleans()] * 2),
)
def test_any_arc_is_reckoned_or_a_line(
    ends: tuple[float, ...], radii: tuple[float, float], flags: tuple[bool, bool]
) -> None:
    """SVG 2, 9.5.1: what cannot be an arc is a line, and ends where the command says."""
    rows, straight = arc_rows(ends[0], ends[1], *radii, 30.0, *flags, ends[2], ends[3])
    assert (rows == []) == (ends[:2] == ends[2:])
    assert not straight or len(rows) == 1
    if rows:
        assert rows[0][:2] == ends[:2] and rows[-1][6:] == ends[2:]


@pytest.mark.parametrize(
    "numbers",
    [
        (0.0, 0.0, 1e200, 1e200, 0.0, 1.0),
        (0.0, 0.0, 1e-300, 1.0, 1.0, 0.0),
        (0, 0, 1e155, 1e10, 1, 1),
    ],
)
def test_radii_beyond_reckoning_draw_a_line(numbers: tuple[float, ...]) -> None:
    x1, y1, rx, ry, x2, y2 = numbers
    assert arc_rows(x1, y1, rx, ry, 0.0, True, True, x2, y2)[1]
