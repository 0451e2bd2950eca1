"""Strokes as ink of their width: caps, joins, mitre limit and dashes.

Source: SVG 2 chapter 13 "Computing the shape of an element's stroke". The band of
the line with bevelled joins comes from shapely; the tip of each mitre within its
limit is added on top, because a mitre past the limit falls back to a bevel there
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

from companion.pattern.budget import Budget
from companion.pattern.outline import Floats
from companion.pattern.painted import Stroke
from companion.pattern.union import EMPTY, areas_only

MOST_TURN = math.pi / 2.0
"""Turning, summed over its corners, after which a stretch ends."""


def stroke_region(
    lines: list[Floats], closed: list[bool], stroke: Stroke, tolerance: float, dashes: Budget
) -> BaseGeometry:
    """The ink of a stroke, in the unit of the points.

    Args:
        lines: flattened subpaths.
        closed: whether each ended by closepath.
        stroke: its width in the same unit.
        tolerance: for round caps and joins.
        dashes: counts the dashes.
    """
    half = stroke.width / 2.0
    segments = round_segments(half, tolerance)
    stretches: list[Floats] = []
    discs: list[Floats] = []
    extras: list[BaseGeometry] = []
    for line, is_closed in zip(lines, closed, strict=True):
        for part, loop in _runs(line, is_closed, stroke, dashes):
            run = _without_repeats(part)
            if len(run) < 2:
                extras += _dot(run[0], stroke, half, segments) if len(run) else []
                continue
            if loop and (run[0] != run[-1]).any():
                run = np.vstack([run, run[:1]])
            if stroke.join == "miter":
                extras += _mitres(run, loop, half, stroke.miter_limit, tolerance)
            if not loop and stroke.cap == "round":
                discs += [run[0], run[-1]]
            elif not loop and stroke.cap == "square":
                run = _lengthened(run, half)
            stretches += _stretches(np.vstack([run, run[1:2]]) if loop else run)
    if stretches:
        extras += _buffered(stretches, half, segments, stroke.join)
    if discs:
        points = np.array(shapely.points(np.array(discs)), dtype=object)
        extras += shapely.buffer(points, half, quad_segs=segments).tolist()
    if not extras:
        return EMPTY
    # The parts of dashed lines lie apart; together they would take a hundred times longer.
    whole: BaseGeometry = shapely.disjoint_subset_union_all(np.array(extras, dtype=object))
    return areas_only(whole)


def _buffered(stretches: list[Floats], half: float, segments: int, join: str) -> list[BaseGeometry]:
    """Bands with flat ends."""
    style: Literal["round", "bevel"] = "round" if join == "round" else "bevel"
    lines = np.array([shapely.LineString(points) for points in stretches], dtype=object)
    bands: list[BaseGeometry] = shapely.buffer(
        lines, half, quad_segs=segments, cap_style="flat", join_style=style
    ).tolist()
    return bands


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


def _lengthened(line: Floats, by: float) -> Floats:
    """Both ends moved outwards along their segments, for square caps."""
    longer = line.copy()
    for end, inner in ((0, 1), (-1, -2)):
        way = line[end] - line[inner]
        longer[end] += way / max(float(np.hypot(*way)), 1e-300) * by
    return longer


def _without_repeats(line: Floats) -> Floats:
    keep = np.ones(len(line), dtype=bool)
    keep[1:] = (line[1:] != line[:-1]).any(axis=1)
    return line[keep]


def _runs(line: Floats, closed: bool, stroke: Stroke, dashes: Budget) -> list[tuple[Floats, bool]]:
    """The dashes of a line, or the line itself; whether each is a loop."""
    line = _without_repeats(line)
    if not stroke.dashes or len(line) < 2:
        return [(line, closed)]
    steps = np.hypot(*np.diff(line, axis=0).T)
    at = np.concatenate([[0.0], np.cumsum(steps)])
    length = float(at[-1])
    period = sum(stroke.dashes)
    dashes.take(length / period * len(stroke.dashes))
    runs: list[tuple[float, float]] = []
    place = -math.fmod(stroke.dash_offset, period)
    place = place - period if place > 0.0 else place
    while place < length:
        for on, off in zip(stroke.dashes[::2], stroke.dashes[1::2], strict=True):
            a, b = max(place, 0.0), min(place + on, length)
            if a < b or (on == 0.0 and 0.0 <= place <= length):
                runs.append((a, max(a, b)))
            place += on + off
    parts = [_between(line, at, a, b) for a, b in runs]
    if closed and len(runs) > 1 and runs[0][0] == 0.0 and runs[-1][1] == length:
        parts[0] = np.vstack([parts.pop(), parts[0][1:]])
    elif closed and len(runs) == 1 and runs[0] == (0.0, length):
        return [(line, True)]
    return [(part, False) for part in parts]


def _between(line: Floats, at: Floats, a: float, b: float) -> Floats:
    """The stretch of a line between two distances along it."""
    ends = [np.array([np.interp(s, at, line[:, 0]), np.interp(s, at, line[:, 1])]) for s in (a, b)]
    if a == b:
        i = min(int(np.searchsorted(at, a, side="right")), len(line) - 1)
        way = line[i] - line[i - 1]
        return np.vstack([ends[0], ends[0] + way / max(np.hypot(*way), 1e-300) * 1e-9])
    inner = line[(at > a) & (at < b)]
    return np.vstack([ends[0], inner, ends[1]])


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


def _mitres(
    line: Floats, loop: bool, half: float, limit: float, tolerance: float
) -> list[BaseGeometry]:
    """The tips of the mitres within the limit, as one polygon each.

    The tip lies at half / sin(angle / 2) from the corner, angle being that between
    the two segments; the mitre ratio is 1 / sin(angle / 2) (SVG 2 chapter 13).
    """
    points = np.vstack([line[-2:-1], line]) if loop else line
    if len(points) < 3:
        return []
    way = np.diff(points, axis=0)
    way /= np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-300)[:, None]
    before, after, corner = way[:-1], way[1:], points[1:-1]
    cos_turn = np.clip((before * after).sum(axis=1), -1.0, 1.0)
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    half_cos = np.sqrt((1.0 + cos_turn) / 2.0)
    ratio = 1.0 / np.maximum(half_cos, 1e-12)
    outward = half * (ratio - half_cos)
    chosen = np.nonzero((ratio <= limit) & (outward > 0.25 * tolerance) & (cross != 0.0))[0]
    tips: list[BaseGeometry] = []
    for i in chosen.tolist():
        side = -1.0 if cross[i] > 0.0 else 1.0
        normal_a = np.array([-before[i, 1], before[i, 0]]) * side
        normal_b = np.array([-after[i, 1], after[i, 0]]) * side
        a, b = corner[i] + normal_a * half, corner[i] + normal_b * half
        middle = normal_a + normal_b
        tip = corner[i] + middle / np.hypot(*middle) * half * ratio[i]
        tips.append(shapely.Polygon([corner[i], a, tip, b]))
    return tips
