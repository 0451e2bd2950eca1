"""Lines for strokes: points, and at each corner the true directions of the segments.

A chord of a curve does not leave a corner the way the curve does. Where the two
differ, a mitre comes out too long or, past its limit, is lost, and a flat cap stands
askew. So each line keeps the tangents at its ends and corners (SVG 2 chapter 13, "the
angle between the tangents to the two segments at the join").
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from companion.pattern.budget import Budget
from companion.pattern.flatten import thin
from companion.pattern.outline import Bools, Floats, Ints, Outline
from companion.pattern.tight import Width, flatten_tight

STILL = 1e-12
"""Shorter than this, against the segment's size, a way tells no direction."""


@dataclass(frozen=True, slots=True)
class Line:
    """A subpath, or the part of it that a dash shows."""

    points: Floats
    """(N, 2), none the same as the one before; a loop's last is its first."""
    loop: bool
    """No ends: both are one corner."""
    corners: Ints
    """(K,): points where segments meet in an angle, ascending; 0 for a loop's start."""
    before: Floats
    """(K, 2): unit vector in which the line comes to each corner."""
    after: Floats
    """(K, 2): unit vector in which it leaves."""
    start: Floats
    """(2,): unit vector at the first point; zero for a line without length."""
    end: Floats
    """(2,): unit vector at the last point."""


@dataclass(frozen=True, slots=True)
class Fineness:
    """How finely a line is drawn, in the unit of its outline."""

    chord: float
    """Largest distance of a chord from its curve."""
    thinning: float
    """Largest distance of a point left out."""
    grid: float
    """Points closer than this are one: the direction between them is chance."""
    sharp: float
    """Least turn of a corner, radians; less is part of a curve."""
    width: Width
    """Of the stroke."""


def stroke_lines(outline: Outline, fine: Fineness, points: Budget) -> list[Line]:
    """Flatten a shape for its stroke.

    Args:
        outline: the shape.
        fine: how finely.
        points: counts them.
    """
    flat, held = flatten_tight(outline, fine.chord, fine.width, points)
    first, last, sizes = _tangents(outline)
    pieces: list[Floats] = []
    holds: list[Bools] = []
    plans: list[tuple[int, Ints, Ints]] = []
    bounds = np.append(outline.starts, len(outline.segments)).tolist()
    for k, (line, hold) in enumerate(zip(flat.each(), flat.of_each(held), strict=True)):
        segments = np.arange(bounds[k], bounds[k + 1])
        moves = sizes[segments] > fine.grid
        if not moves.any():
            moves = sizes[segments] > 0.0
        at = np.cumsum(flat.chords[segments])[moves]
        segments = segments[moves]
        if not len(segments):
            pieces.append(line[:1])
            holds.append(hold[:1])
            plans.append((1, segments, segments))
            continue
        following = _next(segments)
        bent = _turn(last[segments], first[following]) > fine.sharp
        bent[-1] &= bool(outline.closed[k])
        inner = bent[:-1]
        cuts = [0, *at[:-1][inner].tolist(), len(line) - 1]
        pieces += [line[a : b + 1] for a, b in pairwise(cuts)]
        holds += [hold[a : b + 1] for a, b in pairwise(cuts)]
        plans.append((len(cuts) - 1, segments, np.nonzero(bent)[0]))
    thinned = iter(thin(pieces, fine.thinning, holds))
    result: list[Line] = []
    for k, (count, segments, bent_at) in enumerate(plans):
        parts = [next(thinned) for _ in range(count)]
        whole = _line(parts, bool(outline.closed[k]), segments, bent_at, (first, last))
        result.append(_merged(whole, fine.grid))
    return result


def _line(
    parts: list[Floats], closed: bool, segments: Ints, bent: Ints, ways: tuple[Floats, Floats]
) -> Line:
    """Put the parts between corners together again."""
    first, last = ways
    nothing = np.zeros((0, 2))
    if not len(segments):
        zero = np.zeros(2)
        return Line(parts[0], False, np.zeros(0, dtype=np.int64), nothing, nothing, zero, zero)
    points = np.concatenate([parts[0], *(p[1:] for p in parts[1:])])
    ends = np.cumsum([len(p) - 1 for p in parts])
    before, after = last[segments[bent]], first[_next(segments)[bent]]
    corners = ends[: len(bent)]
    if closed and len(bent) and bent[-1] == len(segments) - 1:
        # the corner where a loop closes comes first
        corners = np.concatenate([[0], corners[:-1]])
        before, after = np.roll(before, 1, axis=0), np.roll(after, 1, axis=0)
    return Line(points, closed, corners, before, after, first[segments[0]], last[segments[-1]])


def _merged(line: Line, grid: float) -> Line:
    """Points on the grid's step before them left out; ends stay where they are."""
    points = line.points
    if len(points) < 2:
        return line
    keep = np.ones(len(points), dtype=np.bool_)
    keep[1:] = np.hypot(*np.diff(points, axis=0).T) > grid
    if keep.all():
        return line
    held = np.nonzero(keep)[0]
    if not keep[-1] and len(held) > 1:
        points = points.copy()
        points[held[-1]] = points[-1]
    elif len(held) == 1:  # all of it within a step: only what repeats goes
        keep[1:] = (points[1:] != points[:-1]).any(axis=1)
    place = np.cumsum(keep) - 1
    return replace(line, points=points[keep], corners=place[line.corners])


def _tangents(outline: Outline) -> tuple[Floats, Floats, Floats]:
    """Unit vectors at both ends of each segment, and how far it goes along either axis.

    A control point on its end tells no direction; then the next one does (SVG 2
    chapter 9, "Zero-length path segments" and "Path directionality").
    """
    p = outline.segments
    line = p[:, 3] - p[:, 0]
    if outline.straight.all():
        unit = _unit(line)
        return unit, unit, np.abs(line).max(axis=1, initial=0.0)
    size = np.abs(p[:, 1:] - p[:, :1]).max(axis=(1, 2), initial=0.0)
    size[outline.straight] = np.abs(line[outline.straight]).max(axis=1, initial=0.0)
    first = _first_way((p[:, 1] - p[:, 0], p[:, 2] - p[:, 0], line), outline.straight, size)
    last = _first_way((p[:, 3] - p[:, 2], p[:, 3] - p[:, 1], line), outline.straight, size)
    return first, last, size


def _first_way(ways: tuple[Floats, Floats, Floats], straight: Bools, size: Floats) -> Floats:
    """The first of three ways that has a length, of length one."""
    near, middle, far = ways
    still = np.hypot(near[:, 0], near[:, 1]) <= STILL * size
    still |= straight
    if still.any():
        both = still & ((np.hypot(middle[:, 0], middle[:, 1]) <= STILL * size) | straight)
        near = np.where(still[:, None], np.where(both[:, None], far, middle), near)
    return _unit(near)


def _unit(way: Floats) -> Floats:
    unit: Floats = way / np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-300)[:, None]
    return unit


def _next(segments: Ints) -> Ints:
    """Each one's follower, the first one's after the last."""
    return np.append(segments[1:], segments[:1])


def _turn(a: Floats, b: Floats) -> Floats:
    """Angle between unit vectors, 0 to pi."""
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    turn: Floats = np.abs(np.arctan2(cross, (a * b).sum(axis=1)))
    return turn
