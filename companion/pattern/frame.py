"""Filled areas as waste: what is left of the plate within its outer frame.

The frame is a dark ring that encloses all else, or one unfilled closed stroke that
does; when none is drawn, a plate around the ink, its margin from the table.
"""

from __future__ import annotations

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from companion.pattern.layers import Layer
from companion.pattern.limits import Limits
from companion.pattern.notes import Notes
from companion.pattern.overlay import difference, union_all
from companion.sentence import sentence


def line_frame(
    candidates: list[tuple[int, Polygon]], layers: list[Layer]
) -> tuple[int, Polygon] | None:
    """The unfilled closed stroke that encloses every other shape.

    Args:
        candidates: index among the painted shapes, and what its line encloses.
        layers: all layers.

    Returns:
        Its index and the frame; None when no line encloses all else.
    """
    for index, polygon in sorted(candidates, key=lambda c: (-c[1].area, c[0]))[:3]:
        others = [layer.region for layer in layers if layer.shape != index]
        if others and all(polygon.covers(region) for region in others):
            return index, polygon
    return None


def inverted(
    ink: BaseGeometry, frame: Polygon | None, limits: Limits, notes: Notes
) -> BaseGeometry:
    """The wood around ink that is waste.

    Args:
        ink: what is dark.
        frame: the outline of the plate if a line gives it.
        limits: margin and grid.
        notes: told which frame was taken.
    """
    if frame is not None:
        text = "Filled areas are waste; the line around everything was taken as the plate's edge."
        notes.add("frame-line", "note", text, "", _corner(frame))
        return _minus(frame, ink, limits)
    parts = shapely.get_parts(ink).tolist()
    ring = max(parts, key=lambda p: (Polygon(p.exterior).area, p.bounds))
    hull = Polygon(ring.exterior)
    others = [p for p in parts if p is not ring]
    if others and ring.interiors and all(hull.covers(p) for p in others):
        text = "Filled areas are waste; the dark ring around everything was taken as the frame."
        notes.add("frame-ring", "note", text, "", _corner(hull))
        inside = union_all([Polygon(r) for r in ring.interiors])
        return _minus(inside, union_all(others), limits)
    margin = limits.frame_margin_mm
    x0, y0, x1, y1 = ink.bounds
    plate = shapely.box(x0 - margin, y0 - margin, x1 + margin, y1 + margin)
    text = sentence(
        "Filled areas are waste and no frame is drawn: a plate {w:.1f} x {h:.1f} mm was put "
        "around them, {margin:g} mm wider on every side.",
        w=x1 - x0 + 2 * margin,
        h=y1 - y0 + 2 * margin,
        margin=margin,
    )
    notes.add("frame-added", "note", text, "Draw a closed line around everything to choose it.")
    return _minus(plate, ink, limits)


def _corner(polygon: Polygon) -> tuple[float, float]:
    return (polygon.bounds[0], polygon.bounds[1])


def _minus(plate: BaseGeometry, ink: BaseGeometry, limits: Limits) -> BaseGeometry:
    return difference(plate, ink)
