"""Strokes as ink of their width: caps, joins, mitre limit and dashes.

Source: SVG 2 chapter 13 "Computing the shape of an element's stroke". The band of
the line with bevelled joins comes from shapely; the tip of each mitre within its
limit is added on top, because a mitre past the limit falls back to a bevel there
and is not merely shortened.
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
from companion.pattern.union import EMPTY

CAPS: dict[str, Literal["round", "square", "flat"]] = {
    "butt": "flat",
    "round": "round",
    "square": "square",
}


MEETING = 1e-7
"""Part of the half width by which the end of an open line that meets its start is drawn back."""


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
    bands: list[BaseGeometry] = []
    for line, is_closed in zip(lines, closed, strict=True):
        for part, loop in _runs(line, is_closed, stroke, dashes):
            bands += _band(part, loop, stroke, half, tolerance)
    if not bands:
        return EMPTY
    return bands[0] if len(bands) == 1 else shapely.union_all(bands)


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


def _band(
    line: Floats, loop: bool, stroke: Stroke, half: float, tolerance: float
) -> list[BaseGeometry]:
    segments = round_segments(half, tolerance)
    line = _without_repeats(line)
    if len(line) < 2:
        return _dot(line[0], stroke, half, segments) if len(line) else []
    if loop and (line[0] != line[-1]).any():
        line = np.vstack([line, line[:1]])
    if not loop and (line[0] == line[-1]).all():
        # The library would join ends that meet; only closepath does.
        back = line[-2] - line[-1]
        line = line.copy()
        line[-1] += back / np.hypot(*back) * (half * MEETING)
    join: Literal["round", "bevel"] = "round" if stroke.join == "round" else "bevel"
    drawn = np.vstack([line, line[1:2]]) if loop else line
    cap: Literal["round", "square", "flat"] = "flat" if loop else CAPS[stroke.cap]
    band = shapely.LineString(drawn).buffer(
        half, quad_segs=segments, cap_style=cap, join_style=join
    )
    tips = (
        _mitres(line, loop, half, stroke.miter_limit, tolerance) if stroke.join == "miter" else []
    )
    return [band, *tips]


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
