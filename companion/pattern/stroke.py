"""Strokes as ink of their width: caps, joins, mitre limit and dashes.

Source: SVG 2 chapter 13 "Computing the shape of an element's stroke". The band of
the line with bevelled joins comes from shapely; what belongs outside its bends is added
(companion.pattern.bends), because a mitre past the limit falls back to a bevel there
and is not merely shortened.

The library's buffer of a line that comes back to itself now and then loses the
opening inside it (GEOS 3.14: a rounded frame lost its middle). So a line is drawn in
stretches that cannot come back, none turning much more than a right angle, each
starting one segment before the last one ended; their union is the band.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from companion.pattern.bends import bends
from companion.pattern.budget import Budget
from companion.pattern.dashes import dashed
from companion.pattern.joins import Line
from companion.pattern.outline import Floats
from companion.pattern.overlay import EMPTY, difference, union_all
from companion.pattern.painted import Stroke

FINE_SHARE = 1e-3
"""Grid of the overlay against the tolerance: as fine as that of whole drawings."""
MOST_TURN = math.pi / 2.0
"""Turning, summed over its corners, after which a stretch ends."""


def stroke_region(
    lines: list[Line], stroke: Stroke, tolerance: float, dashes: Budget
) -> BaseGeometry:
    """The ink of a stroke, in the unit of the points.

    Args:
        lines: flattened subpaths.
        stroke: its width in the same unit.
        tolerance: for round caps and joins.
        dashes: counts the dashes.
    """
    half = stroke.width / 2.0
    segments = round_segments(half, tolerance)
    grid = FINE_SHARE * 10.0 ** math.floor(math.log10(tolerance))
    stretches: list[Floats] = []
    behind: dict[int, list[BaseGeometry]] = {}
    discs: list[Floats] = []
    extras: list[BaseGeometry] = []
    for line in lines:
        for run in dashed(line, stroke, dashes):
            points = run.points
            if len(points) < 2:
                extras += _dot(points[0], stroke, half, segments) if len(points) else []
                continue
            extras += bends(run, stroke, tolerance)
            if not run.loop and stroke.cap == "round":
                discs += [points[0], points[-1]]
            elif not run.loop and stroke.cap == "square":
                points = np.vstack(
                    [points[0] - run.start * half, points, points[-1] + run.end * half]
                )
            parts = _stretches(np.vstack([points, points[1:2]]) if run.loop else points)
            if not run.loop and stroke.cap == "butt":
                for k, end in ((0, (run.start, points[:2])), (-1, (-run.end, points[:-3:-1]))):
                    excess = _behind(*end, half, tolerance)
                    if excess is not None:
                        behind.setdefault(len(stretches) + k % len(parts), []).append(excess)
            stretches += parts
    if stretches:
        bands = _buffered(stretches, half, segments, stroke.join)
        for k, excess_of in behind.items():
            bands[k] = difference(bands[k], union_all(excess_of, grid), grid)
        extras += bands
    if discs:
        at = np.array(shapely.points(np.array(discs)), dtype=object)
        extras += shapely.buffer(at, half, quad_segs=segments).tolist()
    if not extras:
        return EMPTY
    return union_all(extras, grid)


def _buffered(stretches: list[Floats], half: float, segments: int, join: str) -> list[BaseGeometry]:
    """Bands with flat ends."""
    style: Literal["round", "bevel"] = "round" if join == "round" else "bevel"
    lines = np.array([shapely.LineString(points) for points in stretches], dtype=object)
    bands: list[BaseGeometry] = shapely.buffer(
        lines, half, quad_segs=segments, cap_style="flat", join_style=style
    ).tolist()
    return bands


def _behind(way: Floats, chord: Floats, half: float, tolerance: float) -> BaseGeometry | None:
    """What the first chord's band shows behind the flat end of a curve; None if too little.

    The chord stands askew to the end, so that one corner of its band lies behind it,
    as far in as the curve's centre.

    Args:
        way: unit vector of the curve at its end, inwards.
        chord: the end and the next point.
        half: of the width.
        tolerance: what may stand out.
    """
    step = chord[1] - chord[0]
    length = float(np.hypot(*step))
    across = float(way[0] * step[1] - way[1] * step[0]) / length
    if half * abs(across) <= tolerance:
        return None
    inner = np.array([-way[1], way[0]]) * (math.copysign(1.0, across))
    inner *= min(1.02 * half, length / (2.0 * abs(across)))
    back = way * half * abs(across)
    a = chord[0]
    return shapely.Polygon([a, a + inner, a + inner - back, a - back])


def _stretches(line: Floats) -> list[Floats]:
    """Parts that turn by little more than a right angle, overlapping by one segment."""
    way = np.diff(line, axis=0)
    ahead, side = way[:-1] * way[1:], way[:-1] * way[1:, ::-1]
    turns = np.abs(np.arctan2(side[:, 0] - side[:, 1], ahead.sum(axis=1))).tolist()
    parts: list[Floats] = []
    first, turned = 0, 0.0
    for corner, turn in enumerate(turns, start=1):
        if turned > 0.0 and turned + turn > MOST_TURN:
            parts.append(line[first : corner + 1])
            first, turned = corner - 1, 0.0
        turned += turn
    parts.append(line[first:])
    return parts


def _dot(at: Floats, stroke: Stroke, half: float, segments: int) -> list[BaseGeometry]:
    """A line without length: a disc or a square for round and square caps, else nothing."""
    x, y = float(at[0]), float(at[1])
    if stroke.cap == "round":
        return [shapely.Point(x, y).buffer(half, quad_segs=segments)]
    if stroke.cap == "square":
        return [shapely.box(x - half, y - half, x + half, y + half)]
    return []


def round_segments(radius: float, tolerance: float) -> int:
    """Chords per quarter circle that keep within the tolerance."""
    if radius <= tolerance:
        return 2
    angle = 2.0 * math.acos(max(1.0 - tolerance / radius, -1.0))
    return int(min(max(2, math.ceil(math.pi / 2.0 / angle)), 512))
