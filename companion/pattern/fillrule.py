"""Turns subpaths into the region that they fill, by nonzero or evenodd.

Source: SVG 2 chapter 13, "fill-rule": a ray from the point, +1 for each crossing
from left to right, -1 from right to left; nonzero fills where the sum is not 0,
evenodd where the count is odd; open subpaths are closed for filling.

Most drawings need only the quick way: outlines that cross nothing are nested by
who encloses whom. Outlines that cross are cut at their crossings into faces, and
each face is asked for its sum.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from companion.findings import Point
from companion.pattern.limits import Limits
from companion.pattern.outline import Floats, Ints
from companion.pattern.overlay import EMPTY
from companion.pattern.union import check_lines, segments_of
from companion.pattern.watchdog import check

CHUNK = 20_000


@dataclass(frozen=True, slots=True)
class Filled:
    """A filled shape."""

    region: BaseGeometry
    """Polygon or MultiPolygon, valid; may be empty."""
    crossing_at: Point | None
    """Where its outline crosses itself; None when it does not."""


def as_ring(points: Floats) -> Floats | None:
    """Closed, without repeats; None when it spans no area."""
    keep = np.ones(len(points), dtype=bool)
    keep[1:] = (points[1:] != points[:-1]).any(axis=1)
    points = points[keep]
    if len(points) and (points[0] != points[-1]).any():
        points = np.vstack([points, points[:1]])
    return points if len(points) >= 4 else None


def fill(rings: list[Floats], even_odd: bool, limits: Limits, name: str) -> Filled:
    """The region of one shape.

    Args:
        rings: closed, on the grid, at least four points each.
        even_odd: evenodd instead of nonzero.
        limits: for the grid and the largest count of crossings.
        name: how messages name the file.
    """
    check()
    if not rings:
        return Filled(EMPTY, None)
    lines = [shapely.LinearRing(r) for r in rings]
    if len(lines) == 1:
        single = shapely.Polygon(lines[0])
        if shapely.is_valid(single):
            return Filled(single, None)
    elif shapely.is_simple(shapely.multilinestrings(lines)):
        return Filled(nest(lines, rings, even_odd), None)
    return _cut_into_faces(lines, rings, even_odd, limits, name)


def signed_area(ring: Floats) -> float:
    """Shoelace sum; positive when clockwise on a page with y down."""
    x, y = ring[:, 0] - ring[0, 0], ring[:, 1] - ring[0, 1]
    return float((x[:-1] * y[1:] - x[1:] * y[:-1]).sum() / 2.0)


def enclosures(lines: list[shapely.LinearRing], rings: list[Floats]) -> list[list[int]]:
    """For each ring, those that enclose it; rings neither cross nor touch."""
    polygons = shapely.polygons(lines)
    tree = shapely.STRtree(polygons)
    firsts = shapely.points(np.array([r[0] for r in rings]))
    shapely.prepare(polygons)
    inner, outer = tree.query(firsts, predicate="within")
    around: list[list[int]] = [[] for _ in rings]
    for i, j in zip(inner.tolist(), outer.tolist(), strict=True):
        if i != j:
            around[i].append(j)
    return around


def nest(lines: list[shapely.LinearRing], rings: list[Floats], even_odd: bool) -> BaseGeometry:
    """Region of rings that cross nothing: each is an edge or it is not."""
    around = enclosures(lines, rings)
    turn = [1 if signed_area(r) > 0.0 else -1 for r in rings]
    filled_in: list[bool] = []
    edge: list[bool] = []
    for i, outer in enumerate(around):
        outside = sum(turn[j] for j in outer)
        inside = outside + turn[i]
        if even_odd:
            outside, inside = len(outer) % 2, (len(outer) + 1) % 2
        filled_in.append(inside != 0)
        edge.append((inside != 0) != (outside != 0))
    holes: dict[int, list[shapely.LinearRing]] = {
        i: [] for i in range(len(rings)) if edge[i] and filled_in[i]
    }
    for i, outer in enumerate(around):
        if edge[i] and not filled_in[i]:
            shell = max((j for j in outer if edge[j]), key=lambda j: (len(around[j]), j))
            holes[shell].append(lines[i])
    polygons = [shapely.Polygon(lines[i], inner) for i, inner in holes.items()]
    return polygons[0] if len(polygons) == 1 else shapely.multipolygons(polygons)


def _cut_into_faces(
    lines: list[shapely.LinearRing],
    rings: list[Floats],
    even_odd: bool,
    limits: Limits,
    name: str,
) -> Filled:
    check_lines(list(lines), limits, name)
    noded = shapely.union_all(np.array(lines, dtype=object))
    faces = shapely.get_parts(shapely.polygonize([noded]))
    at = _first_crossing(lines)
    if not len(faces):
        return Filled(EMPTY, at)
    inside = shapely.get_coordinates(shapely.point_on_surface(faces))
    sums, crossings = winding(inside, segments_of(list(lines)))
    keep = crossings % 2 == 1 if even_odd else sums != 0
    if not keep.any():
        return Filled(EMPTY, at)
    return Filled(shapely.coverage_union_all(faces[keep]), at)


def _first_crossing(lines: list[shapely.LinearRing]) -> Point | None:
    """A place where one ring crosses itself; None when only different rings meet."""
    for line in lines:
        reason = shapely.is_valid_reason(shapely.Polygon(line))
        if "Self-intersection" in reason and "[" in reason:
            x, y = reason[reason.index("[") + 1 : reason.index("]")].split()[:2]
            return float(x), float(y)
    return None


def winding(points: Floats, segments: Floats) -> tuple[Ints, Ints]:
    """Winding number and count of crossings of a ray to the right, per point.

    Args:
        points: (F, 2), on no segment.
        segments: (N, 2, 2), directed.
    """
    low = np.minimum(segments[:, 0, 1], segments[:, 1, 1])
    high = np.maximum(segments[:, 0, 1], segments[:, 1, 1])
    right = segments[:, :, 0].max(axis=1)
    boxes = shapely.box(segments[:, :, 0].min(axis=1), low, right, high)
    tree = shapely.STRtree(boxes)
    far = float(right.max()) + 1.0
    sums = np.zeros(len(points), dtype=np.int64)
    counts = np.zeros(len(points), dtype=np.int64)
    for start in range(0, len(points), CHUNK):
        part = points[start : start + CHUNK]
        rays = shapely.linestrings(
            np.stack([part, np.column_stack([np.full(len(part), far), part[:, 1]])], axis=1)
        )
        of, which = tree.query(rays)
        a, b, p = segments[which, 0], segments[which, 1], part[of]
        down = (a[:, 1] <= p[:, 1]) & (b[:, 1] > p[:, 1])
        up = (b[:, 1] <= p[:, 1]) & (a[:, 1] > p[:, 1])
        side = (b[:, 0] - a[:, 0]) * (p[:, 1] - a[:, 1]) - (p[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
        hit_down, hit_up = down & (side > 0), up & (side < 0)
        sums[start : start + CHUNK] = np.bincount(
            of, weights=hit_down.astype(float) - hit_up, minlength=len(part)
        ).astype(np.int64)
        counts[start : start + CHUNK] = np.bincount(
            of, weights=hit_down.astype(float) + hit_up, minlength=len(part)
        ).astype(np.int64)
    return sums, counts
