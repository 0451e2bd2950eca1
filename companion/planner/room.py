"""Where a piece may grow: the waste that must stay open for the blade.

Rule: along the middle of all waste a strip stays free that is as wide as the blade
needs, or as wide as the waste is where that is less; in each opening a circle stays
free through which the blade is threaded. Whatever grows stops there, so that no
opening closes, no slot narrows below its need, and no two parts run together.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import LineString
from shapely.geometry import Point as Spot
from shapely.geometry.base import BaseGeometry

from companion.findings import Point
from companion.pattern.model import Pattern
from companion.pattern.overlay import union_all
from companion.planner.axis import Axis, medial_axis
from companion.planner.outline import Floats, Ints
from companion.planner.slots import polygons, waste_of_opening, waste_outside, widest_mm

CIRCLE = 40
"""Corners of a circle."""


def rope(xy: Floats, radius: Floats) -> BaseGeometry:
    """The area swept by a circle of changing radius along a line.

    Args:
        xy: places, shape (n, 2), mm.
        radius: at each of them, mm; nothing is drawn where it is zero.
    """
    turn = np.linspace(0.0, 2.0 * np.pi, CIRCLE, endpoint=False)
    unit = np.column_stack((np.cos(turn), np.sin(turn)))
    # corners as much outside the true circle as the sides are inside it
    discs = xy[:, None, :] + radius[:, None, None] * unit / np.cos(np.pi / CIRCLE) ** 0.5
    live = np.concatenate((radius > 0.0, [False]))
    first = np.flatnonzero(live)
    if not len(first):
        return shapely.Polygon()
    second = np.where(live[first + 1], first + 1, first)
    both = np.concatenate((discs[first], discs[second]), axis=1)
    index = np.repeat(np.arange(len(first)), 2 * CIRCLE)
    hulls = shapely.convex_hull(shapely.multipoints(both.reshape(-1, 2), indices=index))
    return union_all(np.asarray(hulls))


def _strip(xy: Floats, half: Floats, most: float) -> BaseGeometry:
    """The area within ``most`` of a line, or within less where the room is less."""
    if half.min() >= most:
        return LineString(xy).simplify(0.02).buffer(most, quad_segs=CIRCLE // 4)
    places, radius, _ = thinned(xy, half, 0.5 * most)
    return rope(places, np.minimum(radius, most))


def thinned(xy: Floats, value: Floats, step_mm: float) -> tuple[Floats, Floats, Floats]:
    """Even steps along a line.

    Returns:
        Places, values, and distances from the start.
    """
    step = np.diff(xy, axis=0)
    way = np.concatenate(([0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))))
    count = max(int(np.ceil(way[-1] / step_mm)), 2) + 1
    even = np.linspace(0.0, way[-1], count)
    places = np.column_stack([np.interp(even, way, xy[:, k]) for k in range(2)])
    return places, np.interp(even, way, value), even


def _passable(axis: Axis, nodes: Ints, slot_mm: float, give_mm: float) -> Ints:
    """A branch of waste without its dead ends: those may fill up.

    A dead end reaches to where the blade passes, and ``give_mm`` further.
    """
    step = np.diff(axis.xy[nodes], axis=0)
    way = np.concatenate(([0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))))
    wide = np.flatnonzero(axis.thickness[nodes] >= slot_mm)
    if len(wide) and axis.degree[nodes[0]] == 1:
        wide = wide[way[wide] >= way[wide[0]] + give_mm]
    if len(wide) and axis.degree[nodes[-1]] == 1:
        wide = wide[way[wide] <= way[wide[-1]] - give_mm]
    first, last = 0, len(nodes) - 1
    if axis.degree[nodes[0]] == 1:
        first = int(wide[0]) if len(wide) else len(nodes)
    if axis.degree[nodes[-1]] == 1:
        last = int(wide[-1]) if len(wide) else -1
    return nodes[first : last + 1]


def kept_open(
    pattern: Pattern, slot_mm: float, hole_mm: float, give_mm: float
) -> dict[int, BaseGeometry]:
    """The waste that must stay waste.

    Args:
        pattern: before anything grows.
        slot_mm: width that the blade needs to pass.
        hole_mm: diameter that it needs to be threaded, room around it included.
        give_mm: how much of a dead end of waste may fill up.

    Returns:
        By opening number; 0 for the waste outside all pieces.
    """
    margin = 4.0 * slot_mm + 10.0
    waste = {0: waste_outside(pattern, margin)}
    waste |= {o.number: waste_of_opening(pattern, o) for o in pattern.openings}
    kept: dict[int, BaseGeometry] = {}
    for number, region in waste.items():
        axes = [medial_axis(part) for part in polygons(region)]
        parts, widest = _ways(axes, slot_mm, give_mm)
        if number:
            centre, wide = widest_mm(region)
            need = min(wide, hole_mm)
            if widest is None or widest[1] < 0.99 * need:
                # the only room for the hole is a dead end: nothing may fill up there
                parts, _ = _ways(axes, slot_mm, 0.0)
            else:
                centre = widest[0]
            parts.append(Spot(centre).buffer(0.5 * need, quad_segs=CIRCLE // 4))
        kept[number] = union_all(parts)
    return kept


def _ways(
    axes: list[Axis], slot_mm: float, give_mm: float
) -> tuple[list[BaseGeometry], tuple[Point, float] | None]:
    """The strips along the middle of waste, and the widest place on them with its width."""
    parts: list[BaseGeometry] = []
    widest: tuple[Point, float] | None = None
    for axis in axes:
        for branch in axis.branches:
            nodes = _passable(axis, branch.nodes, slot_mm, give_mm)
            if len(nodes) < 2:
                continue
            thick = axis.thickness[nodes]
            parts.append(_strip(axis.xy[nodes], 0.5 * thick, 0.5 * slot_mm))
            if widest is None or thick.max() > 1.01 * widest[1]:
                near = np.flatnonzero(thick >= 0.99 * thick.max())
                node = int(nodes[near[len(near) // 2]])
                place = (float(axis.xy[node, 0]), float(axis.xy[node, 1]))
                widest = (place, float(axis.thickness[node]))
    return parts, widest
