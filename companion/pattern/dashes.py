"""Cuts lines into dashes (SVG 2 chapter 13, "Computing the shape of an element's stroke")."""

from __future__ import annotations

import math

import numpy as np

from companion.pattern.budget import Budget
from companion.pattern.joins import Line
from companion.pattern.outline import Floats, Ints
from companion.pattern.painted import Stroke

NO_CORNERS: Ints = np.zeros(0, dtype=np.int64)
NO_WAYS: Floats = np.zeros((0, 2))


def dashed(line: Line, stroke: Stroke, dashes: Budget) -> list[Line]:
    """The dashes of a line, or the line itself.

    Args:
        line: in the unit of the stroke.
        stroke: tells dashes and offset.
        dashes: counts them.
    """
    if not stroke.dashes or len(line.points) < 2:
        return [line]
    steps = np.hypot(*np.diff(line.points, axis=0).T)
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
    if line.loop and runs == [(0.0, length)]:
        return [line]
    parts = [_between(line, at, a, b) for a, b in runs]
    if line.loop and len(runs) > 1 and runs[0][0] == 0.0 and runs[-1][1] == length:
        parts[0] = _over_the_start(line, parts.pop(), parts[0])
    return parts


def _between(line: Line, at: Floats, a: float, b: float) -> Line:
    """The stretch of a line between two distances along it."""
    points = line.points
    k = int(np.searchsorted(at, a, side="right"))
    if a < b <= at[min(k, len(at) - 1)]:
        return _within_one(line, at, a, b, k)
    ends = [
        np.array([np.interp(s, at, points[:, 0]), np.interp(s, at, points[:, 1])]) for s in (a, b)
    ]
    if a == b:
        i = min(int(np.searchsorted(at, a, side="right")), len(points) - 1)
        way = points[i] - points[i - 1]
        way = way / max(np.hypot(*way), 1e-300)
        dot = np.vstack([ends[0], ends[0] + way * 1e-9])
        return Line(dot, False, NO_CORNERS, NO_WAYS, NO_WAYS, way, way)
    inside = (at > a) & (at < b)
    cut = np.vstack([ends[0], points[inside], ends[1]])
    keep = np.ones(len(cut), dtype=np.bool_)
    keep[1:] = (cut[1:] != cut[:-1]).any(axis=1)
    place = np.cumsum(keep) - 1
    held = inside[line.corners]
    corners = line.corners[held] - int(np.argmax(inside)) + 1
    cut = cut[keep]
    start = line.start if a == 0.0 else _way(cut[0], cut[min(1, len(cut) - 1)])
    end = line.end if b == at[-1] else _way(cut[max(-2, -len(cut))], cut[-1])
    return Line(cut, False, place[corners], line.before[held], line.after[held], start, end)


def _within_one(line: Line, at: Floats, a: float, b: float, k: int) -> Line:
    """A dash within one straight piece, as nearly all are."""
    (px, py), (qx, qy) = line.points[k - 1 : k + 1].tolist()
    low, high = at[k - 1 : k + 1].tolist()
    x, y = (qx - px) / (high - low), (qy - py) / (high - low)
    a_on, b_on = a - low, b - low
    cut = np.array([[px + x * a_on, py + y * a_on], [px + x * b_on, py + y * b_on]])
    way = np.array([x, y])
    start = line.start if a == 0.0 else way
    end = line.end if b == at[-1] else way
    return Line(cut, False, NO_CORNERS, NO_WAYS, NO_WAYS, start, end)


def _way(a: Floats, b: Floats) -> Floats:
    way: Floats = (b - a) / max(float(np.hypot(*(b - a))), 1e-300)
    return way


def _over_the_start(line: Line, last: Line, first: Line) -> Line:
    """The dash that goes on where a loop starts."""
    join = len(last.points) - 1
    starts_bent = bool(len(line.corners)) and line.corners[0] == 0
    middle = slice(0, 1) if starts_bent else slice(0, 0)
    return Line(
        np.vstack([last.points, first.points[1:]]),
        False,
        np.concatenate([last.corners, [join][: int(starts_bent)], first.corners + join]).astype(
            np.int64
        ),
        np.concatenate([last.before, line.before[middle], first.before]),
        np.concatenate([last.after, line.after[middle], first.after]),
        last.start,
        first.end,
    )
