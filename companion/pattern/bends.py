"""What a stroke adds outside its bends: the round of a curve, the tip of a mitre.

Along a curve the cross line of the stroke sweeps round, so that its outer edge is round
whatever the join. At a corner the join lies between the true tangents; between each
tangent and the chord beside it the line still sweeps (SVG 2 chapter 13, "Computing the
shape of an element's stroke" and "Line join shape").
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from companion.pattern.joins import Fineness, Line
from companion.pattern.outline import Bools, Floats
from companion.pattern.painted import Stroke
from companion.pattern.tight import Width

QUARTER = 0.25
"""Share of the tolerance that a bend may be off."""
MOST_TURN = 0.5
"""Radians that a chord may turn where the curve is tighter than its stroke; at most four times
the step of a round edge, since the sectors at its ends are round."""
Bend = tuple[Floats, Floats, Floats, Floats]
"""Points, unit vectors into and out of each, (M, 2) each; the longer chord there, (M,)."""
Joint = tuple[Floats, Floats, Floats]
"""Points, and unit vectors into and out of each; (M, 2) each."""


def fineness(half: float, tolerance: float, thinning: float, grid: float) -> Fineness:
    """How finely a line is drawn for a stroke.

    Args:
        half: of the stroke's width.
        tolerance: for its chords, in the same unit.
        thinning: for points left out.
        grid: on which points are one.
    """
    # the turn whose mitre stands out by a quarter of the tolerance
    sharp = 2.0 * math.asin(min(1.0, math.sqrt(QUARTER * tolerance / half)))
    width = Width(half, min(4.0 * _step(half, tolerance), MOST_TURN), tolerance, grid)
    return Fineness(tolerance, thinning, grid, sharp, width)


def _step(half: float, tolerance: float) -> float:
    """Turn, in radians, whose chord on the stroke's edge is off by a quarter of the tolerance."""
    return 2.0 * math.acos(max(1.0 - QUARTER * tolerance / half, 0.0))


def bends(line: Line, stroke: Stroke, tolerance: float) -> list[BaseGeometry]:
    """Polygons that the band of one line lacks at its bends.

    Args:
        line: with a length.
        stroke: with a round join the band is round at every point already.
        tolerance: for what is round.
    """
    half = stroke.width / 2.0
    if len(line.points) == 2 and _is_straight(line):
        return []  # most dashes
    points = np.vstack([line.points[-2:-1], line.points]) if line.loop else line.points
    way = np.diff(points, axis=0)
    legs = np.hypot(way[:, 0], way[:, 1])
    way /= np.maximum(legs, 1e-300)[:, None]
    at, into, out_of = points[1:-1], way[:-1], way[1:]
    here = line.corners - (0 if line.loop else 1)
    within = np.ones(len(at), dtype=np.bool_)
    within[here] = False  # at a corner the chords say nothing
    leg = np.maximum(legs[:-1], legs[1:])
    swept = [(at[within], into[within], out_of[within], leg[within])]
    if not line.loop and stroke.cap != "round":
        swept += [
            (line.points[:1], line.start[None], way[:1], legs[:1]),
            (line.points[-1:], way[-1:], line.end[None], legs[-1:]),
        ]
    found: list[BaseGeometry] = []
    if len(line.corners):
        swept += [
            (at[here], into[here], line.before, legs[:-1][here]),
            (at[here], line.after, out_of[here], legs[1:][here]),
        ]
        if stroke.join != "round":
            found += joined_at((at[here], line.before, line.after), stroke, tolerance)
    at, into, out_of, leg = (np.concatenate(part) for part in zip(*swept, strict=True))
    turn, step, least = _signed_turn(into, out_of), _step(half, tolerance), QUARTER * tolerance
    far = half * np.sin(np.minimum(np.abs(turn), math.pi / 2.0))
    # inside, the band of a leg covers the sweep but where it is short
    short = far > leg + least
    outer = short | (half * np.abs(turn) > least)
    few = int(within.sum())
    outer[:few] = short[:few] | ((np.abs(turn[:few]) > step) & (stroke.join != "round"))
    side = _outward(into, turn)
    found += _sectors(at[outer], side[outer], turn[outer], half, step)
    found += _sectors(at[short], -side[short], turn[short], half, step)
    return found


def _is_straight(line: Line) -> bool:
    """Both ends of two points go the way of their chord."""
    (ax, ay), (bx, by) = line.points.tolist()
    x, y = bx - ax, by - ay
    least = (1.0 - 1e-9) * math.hypot(x, y)
    ends = (line.start.tolist(), line.end.tolist())
    return all(u * x + v * y >= least for u, v in ends)


def _signed_turn(into: Floats, out_of: Floats) -> Floats:
    cross = into[:, 0] * out_of[:, 1] - into[:, 1] * out_of[:, 0]
    turn: Floats = np.arctan2(cross, (into * out_of).sum(axis=1))
    return turn


def _outward(way: Floats, turn: Floats) -> Floats:
    """Unit vectors to the outer side of a turn."""
    side = np.where(turn > 0.0, 1.0, -1.0)[:, None]
    normal: Floats = np.stack([way[:, 1], -way[:, 0]], axis=1) * side
    return normal


def _sectors(
    at: Floats, normal: Floats, turn: Floats, half: float, step: float
) -> list[BaseGeometry]:
    """Sectors of a circle from a unit vector on."""
    if not len(at):
        return []
    counts = np.ceil(np.abs(turn) / step).astype(np.int64)
    lengths = counts + 2  # the centre, then the arc
    row = np.repeat(np.arange(len(at)), lengths)
    number = np.arange(int(lengths.sum())) - np.repeat(np.cumsum(lengths) - lengths, lengths)
    angle = (np.maximum(number - 1, 0) / counts[row]) * turn[row]
    cos, sin = np.cos(angle), np.sin(angle)
    x, y = normal[row].T
    arm = np.stack([x * cos - y * sin, x * sin + y * cos], axis=1) * half
    arm[number == 0] = 0.0
    rings = shapely.linearrings(at[row] + arm, indices=row)
    sectors: list[BaseGeometry] = np.asarray(shapely.polygons(rings)).tolist()
    return sectors


def joined_at(joint: Joint, stroke: Stroke, tolerance: float) -> list[BaseGeometry]:
    """Mitres within the limit, and bevels, at corners.

    The tip lies at half / sin(angle / 2) from the corner, angle being that between
    the two segments; the mitre ratio is 1 / sin(angle / 2) (SVG 2 chapter 13).
    """
    half = stroke.width / 2.0
    at, into, out_of = joint
    turn = _signed_turn(into, out_of)
    a, b = _outward(into, turn) * half, _outward(out_of, turn) * half
    ratio = 1.0 / np.maximum(np.cos(turn / 2.0), 1e-12)
    pointed: Bools = (ratio <= stroke.miter_limit) & (np.abs(turn) < math.pi)
    pointed &= stroke.join == "miter"
    middle = a + b
    tip = middle / np.maximum(np.hypot(middle[:, 0], middle[:, 1]), 1e-300)[:, None]
    tip = np.where(pointed[:, None], tip * half * ratio[:, None], b)
    rings = at[:, None] + np.stack([np.zeros_like(a), a, tip, b], axis=1)
    # a bevel between opposite ways is a line
    spans = np.abs(turn) < math.pi - 1e-6
    polygons: list[BaseGeometry] = np.asarray(shapely.polygons(rings[spans])).tolist()
    return polygons
