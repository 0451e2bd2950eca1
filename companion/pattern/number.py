"""From a region to numbered pieces and openings, as companion.pattern.model says."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from companion.findings import Point
from companion.pattern.model import Opening, Piece


def pieces_of(region: BaseGeometry) -> tuple[Piece, ...]:
    """Number pieces and openings.

    Pieces by area of the outline, largest first, ties by place; openings over the
    whole pattern, by piece, then top to bottom, left to right.

    Args:
        region: Polygon or MultiPolygon, valid.
    """
    shapes = [_canonical(p) for p in shapely.get_parts(region).tolist() if not p.is_empty]
    shapes.sort(key=_piece_key)
    numbered: list[tuple[Polygon, tuple[Opening, ...]]] = []
    count = 0
    for index, shape in enumerate(shapes):
        rings = sorted((Polygon(r) for r in shape.interiors), key=_place)
        openings = tuple(Opening(count + k + 1, ring, index + 1) for k, ring in enumerate(rings))
        count += len(openings)
        numbered.append((shape, openings))
    within = _within([o for _, openings in numbered for o in openings], shapes)
    return tuple(
        Piece(i + 1, shape, openings, within[i]) for i, (shape, openings) in enumerate(numbered)
    )


def _canonical(polygon: Polygon) -> Polygon:
    """Always the same start and direction for the same region."""
    normal = shapely.normalize(polygon)
    assert isinstance(normal, Polygon)
    return normal


def _place(polygon: Polygon) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = polygon.bounds
    return (round(y0, 3), round(x0, 3), round(y1, 3), round(x1, 3))


def _piece_key(polygon: Polygon) -> tuple[float, tuple[float, float, float, float]]:
    return (-round(Polygon(polygon.exterior).area, 6), _place(polygon))


def _within(openings: list[Opening], shapes: list[Polygon]) -> list[int | None]:
    """For each piece, the smallest opening around it."""
    if not openings or not shapes:
        return [None] * len(shapes)
    rings = np.array([o.ring for o in openings], dtype=object)
    areas = shapely.area(rings)
    tree = shapely.STRtree(rings)
    inner = shapely.point_on_surface(np.array(shapes, dtype=object))
    of, which = tree.query(inner, predicate="within")
    best: list[int | None] = [None] * len(shapes)
    for i, j in zip(of.tolist(), which.tolist(), strict=True):
        held = best[i]
        if held is None or areas[j] < areas[held]:
            best[i] = j
    return [None if j is None else openings[j].number for j in best]


@dataclass(frozen=True, slots=True)
class Contact:
    """A single point in which two outlines meet."""

    at_mm: Point
    """Where, mm."""
    first: int
    """Number of a piece."""
    second: int
    """Number of another piece; the same where two outlines of one piece meet."""


def point_contacts(pieces: tuple[Piece, ...], grid_mm: float) -> list[Contact]:
    """Where two outlines meet in a single point.

    Two pieces come apart there; two openings of one piece, or an opening and the edge,
    leave wood without width. The overlay that made the pieces put a corner of both
    wherever they meet, so that equal corners tell.
    """
    rings = shapely.get_rings([p.shape for p in pieces])
    owner = np.repeat(np.arange(len(pieces)), [1 + len(p.shape.interiors) for p in pieces])
    points, of = shapely.get_coordinates(rings, return_index=True)
    cells = np.round(points / grid_mm).astype(np.int64)
    order = np.lexsort((of, cells[:, 1], cells[:, 0]))
    cells, of = cells[order], of[order]
    meet = (cells[1:] == cells[:-1]).all(axis=1) & (of[1:] != of[:-1])
    return [
        Contact((x * grid_mm, y * grid_mm), pieces[i].number, pieces[j].number)
        for (x, y), i, j in zip(
            cells[1:][meet].tolist(),
            owner[of[:-1][meet]].tolist(),
            owner[of[1:][meet]].tolist(),
            strict=True,
        )
    ]
