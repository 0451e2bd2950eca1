"""Unions of many shapes, refused before they grow beyond measure.

Neighbours are united first, then their unions, as in a tournament. Before two large
partners meet, the crossings of their outlines are estimated, so that a refusal costs
little time and memory.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from companion.errors import PatternError
from companion.pattern.limits import Limits
from companion.pattern.outline import Floats, Ints
from companion.pattern.overlay import EMPTY, Geometries, areas_only, union, union_all
from companion.pattern.watchdog import check
from companion.sentence import sentence

SMALL = 800
"""Points that are united at once, without an estimate: 160,000 crossings at most."""
ROUNDINGS = 3
SAMPLE = 240
CHUNK = 6


def united(regions: Sequence[BaseGeometry], limits: Limits, name: str) -> BaseGeometry:
    """Union of polygons.

    Raises:
        PatternError: their outlines cross more often than the table allows.
    """
    if not regions:
        return EMPTY
    if len(regions) == 1:
        return regions[0]
    array = np.array(regions, dtype=object)
    return _tournament(array[_neighbour_order(array)], limits, name)


def _neighbour_order(array: Geometries) -> Ints:
    """Strips from left to right, each from top to bottom (sort-tile-recursive)."""
    bounds = shapely.bounds(array)
    x, y = bounds[:, 0] + bounds[:, 2], bounds[:, 1] + bounds[:, 3]
    strips = max(1, int(np.sqrt(len(array) / 4.0)))
    by_x = np.argsort(x, kind="stable")
    strip = np.empty(len(array), dtype=np.int64)
    strip[by_x] = np.arange(len(array)) * strips // len(array)
    order: Ints = np.lexsort((y, strip))
    return order


def _tournament(array: Geometries, limits: Limits, name: str) -> BaseGeometry:
    check()
    if len(array) == 1:
        only: BaseGeometry = array[0]
        return only
    if int(shapely.get_num_coordinates(array).sum()) <= SMALL:
        return union_all(array)
    half = len(array) // 2
    left = _tournament(array[:half], limits, name)
    right = _tournament(array[half:], limits, name)
    check_pair(left, right, limits, name)
    return union(left, right)


def check_pair(left: BaseGeometry, right: BaseGeometry, limits: Limits, name: str) -> None:
    """Refuse two regions whose outlines cross too often.

    Raises:
        PatternError: more crossings than the table allows.
    """
    counts = [int(shapely.get_num_coordinates(g)) for g in (left, right)]
    if counts[0] * counts[1] <= limits.crossings:
        return
    many, few = (left, right) if counts[0] >= counts[1] else (right, left)
    estimate_crossings(
        segments_of([shapely.boundary(few)]),
        segments_of([shapely.boundary(many)]),
        limits.crossings,
        name,
    )


def check_lines(lines: list[BaseGeometry], limits: Limits, name: str) -> None:
    """Refuse lines that cross themselves and one another too often.

    Raises:
        PatternError: more crossings than the table allows.
    """
    segments = segments_of(lines)
    if len(segments) ** 2 > 2 * limits.self_crossings:
        estimate_crossings(segments, segments, limits.self_crossings, name)


def estimate_crossings(few: Floats, many: Floats, most: int, name: str) -> None:
    """Ask a sample of segments how many others each one crosses.

    Long segments are asked more often and count for less, so that the sum is true on
    average and few samples do; the draw is always the same. It stops as soon as the
    sample alone passes the limit.

    Raises:
        PatternError: about more than ``most`` crossings.
    """
    tree = shapely.STRtree(np.asarray(shapely.linestrings(few)))
    lengths = np.hypot(*(many[:, 1] - many[:, 0]).T)
    total = float(lengths.sum())
    if total <= 0.0:
        return
    chosen = np.random.default_rng(len(many)).choice(len(many), SAMPLE, p=lengths / total)
    sample = np.asarray(shapely.linestrings(many[chosen]))
    worth = total / lengths[chosen] / SAMPLE * (0.5 if few is many else 1.0)
    crossings = 0.0
    for at in range(0, SAMPLE, CHUNK):
        of = tree.query(sample[at : at + CHUNK], predicate="crosses")[0]
        crossings += float(worth[at + of].sum())
        if crossings > most:
            raise PatternError(
                "the drawing's outlines are too tangled",
                sentence(
                    "{name}: they cross one another more than {most:,} times", name=name, most=most
                ),
                "Unite the shapes in a drawing program, or leave the hatching out.",
            )


def segments_of(lines: list[BaseGeometry]) -> Floats:
    """(N, 2, 2) straight segments of lines."""
    points, of = shapely.get_coordinates(shapely.get_parts(lines), return_index=True)
    same = of[1:] == of[:-1]
    return np.stack([points[:-1][same], points[1:][same]], axis=1)


def on_grid(region: BaseGeometry, grid_mm: float) -> BaseGeometry:
    """Coordinates rounded to the grid, still valid.

    Rounding alone does for most parts. Where it makes an outline cross itself, that part
    goes the library's slower way; where it makes parts overlap, these are united and
    rounded again. (The slower way over the whole took 38 s for 18,000 parts, this 1.)
    """
    whole: BaseGeometry = region
    for _ in range(ROUNDINGS):
        if whole.is_empty:
            return EMPTY
        flat = _rounded_parts(whole, grid_mm)
        if len(flat) < 2:
            return flat[0] if flat else EMPTY
        whole = _together(flat)
        if shapely.is_valid(whole):
            return whole
        whole = _without_overlaps(np.array(flat, dtype=object))
    return areas_only(shapely.set_precision(whole, grid_mm))


def _without_overlaps(parts: Geometries) -> BaseGeometry:
    """Unite the parts that share more than points; leave the others alone."""
    first, second = shapely.STRtree(parts).query(parts, predicate="intersects")
    once = first < second
    first, second = first[once], second[once]
    shared = shapely.length(shapely.intersection(parts[first], parts[second])) > 0.0
    group = np.arange(len(parts))
    for i, j in zip(first[shared].tolist(), second[shared].tolist(), strict=True):
        a, b = int(group[i]), int(group[j])
        if a != b:
            group[group == max(a, b)] = min(a, b)
    crowded = np.unique(group[np.concatenate([first[shared], second[shared]])])
    result = parts[~np.isin(group, crowded)].tolist()
    for number in crowded.tolist():
        result += shapely.get_parts(union_all(parts[group == number])).tolist()
    return _together([p for p in result if p.geom_type == "Polygon"])


def _together(polygons: list[BaseGeometry]) -> BaseGeometry:
    """One MultiPolygon of several polygons."""
    found = shapely.multipolygons(polygons)
    assert isinstance(found, BaseGeometry)
    return found


def _rounded_parts(region: BaseGeometry, grid_mm: float) -> list[BaseGeometry]:
    """Each part rounded and valid by itself."""
    parts = shapely.get_parts(region)
    rounded = shapely.set_precision(parts, grid_mm, mode="pointwise")
    sound = shapely.is_valid(rounded)
    rounded[sound] = shapely.remove_repeated_points(rounded[sound])
    rounded[~sound] = shapely.set_precision(parts[~sound], grid_mm)
    return [p for p in shapely.get_parts(rounded).tolist() if not p.is_empty]
