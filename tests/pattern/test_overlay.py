"""Regions are united, cut and parted on a fine grid, never in floating point."""

from __future__ import annotations

import ast
import itertools
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import translate
from shapely.geometry import MultiPolygon, Polygon, box

import companion
from companion.pattern import overlay
from companion.pattern.overlay import (
    EMPTY,
    areas_only,
    difference,
    either,
    intersection,
    union,
    union_all,
)

CORNER = st.integers(0, 12)
BOXES = st.lists(
    st.tuples(CORNER, CORNER, st.integers(1, 6), st.integers(1, 6)), min_size=1, max_size=8
)
OVERLAYS = {
    "union",
    "union_all",
    "unary_union",
    "difference",
    "intersection",
    "symmetric_difference",
    "disjoint_subset_union_all",
}


def _squares(boxes: list[tuple[int, int, int, int]]) -> np.ndarray:
    """The unit squares that any of the boxes covers."""
    board = np.zeros((20, 20), dtype=bool)
    for x, y, w, h in boxes:
        board[x : x + w, y : y + h] = True
    return board


def _covered(region: shapely.Geometry) -> np.ndarray:
    x, y = np.meshgrid(np.arange(20) + 0.5, np.arange(20) + 0.5, indexing="ij")
    return np.asarray(shapely.contains_xy(region, x, y))


@settings(deadline=None)
@given(BOXES, BOXES)
def test_overlays_of_boxes_are_those_of_their_squares(
    one: list[tuple[int, int, int, int]], other: list[tuple[int, int, int, int]]
) -> None:
    a = union_all([box(x, y, x + w, y + h) for x, y, w, h in one])
    b = union_all([box(x, y, x + w, y + h) for x, y, w, h in other])
    p, q = _squares(one), _squares(other)
    for region, squares in (
        (a, p),
        (union(a, b), p | q),
        (difference(a, b), p & ~q),
        (intersection(a, b), p & q),
        (either(a, b), p ^ q),
    ):
        assert (_covered(region) == squares).all()
        assert region.area == pytest.approx(squares.sum())
        assert region.is_valid


def test_parts_that_lie_apart_are_kept_whole() -> None:
    hole = [(0.2, 0.2), (0.6, 0.2), (0.6, 0.8), (0.2, 0.8)]
    ring = box(0, 0, 0.8, 1).difference(Polygon(hole))
    rings = [translate(ring, i) for i in range(30)]
    whole = union_all(rings)
    assert isinstance(whole, MultiPolygon)
    assert len(whole.geoms) == 30
    assert whole.area == pytest.approx(sum(r.area for r in rings))


@pytest.mark.parametrize("seed", range(20))
def test_parts_are_grouped_as_they_meet(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """In portions of any size, boxes that touch are in one group and others are not."""
    rng = np.random.default_rng(seed)
    monkeypatch.setattr(overlay, "MOST_PAIRS", int(rng.choice([1, 10, 1000])))
    monkeypatch.setattr(overlay, "SAMPLE", int(rng.choice([1, 3, 64])))
    low = rng.uniform(0, 20, (40, 2))
    high = low + rng.uniform(0.1, 3, (40, 2))
    boxes = np.asarray(shapely.box(*low.T, *high.T))
    whole = shapely.get_parts(shapely.union_all(boxes))
    of, part = shapely.STRtree(whole).query(boxes, predicate="intersects")
    group = overlay._groups(boxes)
    assert len(of) == 40
    assert len(set(zip(group[of].tolist(), part.tolist(), strict=True))) == len(whole)
    assert group.max() + 1 == len(whole)
    assert union_all(boxes).area == pytest.approx(shapely.union_all(boxes).area)


def test_long_slanting_parts_are_grouped_in_little_memory() -> None:
    """Twelve thousand of them, whose boxes all meet: all pairs would take 2 GB."""
    x = np.arange(12_000) * 0.01
    ends = [np.column_stack([x, 0 * x]), np.column_stack([x + 200, 0 * x + 200])]
    slanting = np.asarray(shapely.buffer(shapely.linestrings(np.stack(ends, axis=1)), 0.002))
    tracemalloc.start()
    group = overlay._groups(slanting)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert not group.any()
    assert peak < 100e6


def test_nothing_united_is_nothing() -> None:
    assert union_all([]) is EMPTY
    assert difference(box(0, 0, 1, 1), box(0, 0, 1, 1)).is_empty
    assert areas_only(shapely.from_wkt("GEOMETRYCOLLECTION (POINT (1 1))")) is EMPTY


def test_empty_parts_are_nothing_beside_others() -> None:
    """They have no box, so nothing meets them."""
    square = shapely.box(0.0, 0.0, 2.0, 3.0)
    assert union_all([EMPTY, EMPTY]).is_empty
    assert union_all([EMPTY, square, EMPTY]).equals(square)


def test_an_outline_that_crosses_itself_is_no_error() -> None:
    bow = Polygon([(0, 0), (4, 4), (4, 0), (0, 4)])
    plate = box(1, -1, 3, 6)
    with pytest.raises(shapely.errors.GEOSException):
        shapely.union(bow, plate, grid_size=1e-6)
    for region in (union(bow, plate), union_all([bow, plate])):
        assert region.area == pytest.approx(14.0 + 8.0 - 2.0, abs=1e-4)
    assert difference(plate, bow).area == pytest.approx(14.0 - 2.0, abs=1e-4)


ALLOWED = {
    # lines, noded or measured, no regions
    "pattern/fillrule.py",
    "pattern/hairline.py",
    "pattern/union.py",
    "pattern/overlay.py",
}


def test_no_region_is_made_without_a_grid() -> None:
    """Calls of the library's overlay stand in one module, but for those on lines."""
    root = Path(companion.__file__).parent
    found = []
    for path in itertools.chain(*((root / p).rglob("*.py") for p in ("pattern", "planner"))):
        name = path.relative_to(root).as_posix()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Attribute)
                and node.func.attr in OVERLAYS
                and name not in ALLOWED
                # sets of numbers have methods of the same names
                and name not in ("planner/lawler.py", "planner/order.py")
            ):
                found.append(f"{name}:{node.lineno} {node.func.attr}")
    assert not found
