"""Curves to points, no farther from the true curve than the table allows.

Each cubic is cut evenly into as many chords as Wang's bound asks for
(n = sqrt(6/8 * largest second difference / tolerance); G. Wang 1984), all curves of
the drawing at once; then points that the remaining tolerance does not need are
taken out. Sixty per cent of the tolerance go to the first step, thirty to the second,
the rest covers rounding to the grid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from companion.pattern.budget import Budget
from companion.pattern.outline import Bools, Floats, Ints, Outline

CHORD_SHARE = 0.6
THINNING_SHARE = 0.3


@dataclass(frozen=True, slots=True)
class Polylines:
    """Points of the subpaths of one shape, one after the other."""

    points: Floats
    """(M, 2)."""
    starts: Ints
    """(S + 1,): first point of each subpath; the last entry is M."""
    closed: tuple[bool, ...]
    """(S,): ended by closepath."""
    chords: Ints
    """(N,): chords of each segment."""

    def each(self) -> list[Floats]:
        """One array of points per subpath."""
        return [self.points[a:b] for a, b in pairwise(self.starts.tolist())]

    def of_each(self, marks: Bools) -> list[Bools]:
        """Marks of the points, (M,), per subpath."""
        return [marks[a:b] for a, b in pairwise(self.starts.tolist())]


def chord_counts(segments: Floats, straight: np.ndarray, tolerance: float) -> Ints:
    """Chords per segment by Wang's bound."""
    second = segments[:, :2] - 2.0 * segments[:, 1:3] + segments[:, 2:]
    bend = np.sqrt((second**2).sum(axis=2).max(axis=1, initial=0.0))
    counts = np.ceil(np.sqrt(np.minimum(0.75 * bend / tolerance, 1e12))).astype(np.int64)
    counts = np.maximum(counts, 1)
    counts[straight] = 1
    result: Ints = counts
    return result


def flatten(outline: Outline, tolerance: float, budget: Budget) -> Polylines:
    """Turn a shape's segments into points.

    Args:
        outline: in the unit of the tolerance.
        tolerance: largest distance from the true curve.
        budget: counts the points.
    """
    counts = chord_counts(outline.segments, outline.straight, tolerance)
    budget.take(int(counts.sum()) + len(outline.starts))
    return points_at(outline, even_places(counts), counts)


def even_places(counts: Ints) -> Floats:
    """Where each chord ends on its segment, 0 to 1: (sum of counts,)."""
    firsts = np.cumsum(counts) - counts
    of = np.repeat(np.arange(len(counts)), counts)
    places: Floats = (np.arange(len(of)) - firsts[of] + 1) / counts[of]
    return places


def points_at(outline: Outline, places: Floats, counts: Ints) -> Polylines:
    """A shape's points at given places.

    Args:
        outline: with N segments.
        places: (sum of counts,), ascending on each segment, its last 1.
        counts: (N,), at least 1.
    """
    p = outline.segments
    total, subpaths = len(places), len(outline.starts)
    if total == len(p):
        ends = p[:, 3]
    else:
        t = places[:, None]
        s = 1.0 - t
        q = p[np.repeat(np.arange(len(p)), counts)]
        ends = s * s * s * q[:, 0] + 3 * t * s * s * q[:, 1] + 3 * t * t * s * q[:, 2]
        ends += t * t * t * q[:, 3]
    lengths = np.add.reduceat(counts, outline.starts) + 1
    starts = np.concatenate([[0], np.cumsum(lengths)])
    points = np.empty((total + subpaths, 2))
    is_first = np.zeros(total + subpaths, dtype=bool)
    is_first[starts[:-1]] = True
    points[is_first] = p[outline.starts, 0]
    points[~is_first] = ends
    return Polylines(points, starts, tuple(bool(c) for c in outline.closed), counts)


STRETCH = 256
"""Points thinned at once: the method takes the square of their number at worst."""


def thin(lines: list[Floats], tolerance: float, held: Sequence[Bools] = ()) -> list[Floats]:
    """Leave out points nearer to the chord than the tolerance; ends stay.

    A ring keeps at least four points.

    Args:
        lines: (N, 2) each.
        tolerance: in their unit.
        held: which points of each line, (N,), stay in any case; empty for none.
    """
    if not lines:
        return []
    points = np.concatenate(lines)
    counts = np.array([len(line) for line in lines])
    starts = np.cumsum(counts) - counts
    keep = _kept(points, starts, counts, tolerance)
    if held:
        keep |= np.concatenate(held)
    result = []
    for line, start in zip(lines, starts.tolist(), strict=True):
        chosen = keep[start : start + len(line)]
        is_ring = len(line) > 3 and bool((line[0] == line[-1]).all())
        result.append(line if is_ring and int(chosen.sum()) < 4 else line[chosen])
    return result


def _kept(points: Floats, starts: Ints, counts: Ints, tolerance: float) -> Bools:
    """Which points stay; lines are thinned in stretches that share their ends."""
    pieces = np.maximum(1, -(-(counts - 1) // STRETCH))
    of = np.repeat(np.arange(len(counts)), pieces)
    number = np.arange(len(of)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    first = starts[of] + number * STRETCH
    last = np.minimum(first + STRETCH, starts[of] + counts[of] - 1)
    lengths = last - first + 1
    long = lengths > 2
    keep = np.ones(len(points), dtype=np.bool_)
    first, lengths = first[long], lengths[long]
    if not len(first):
        return keep
    ends = np.cumsum(lengths)
    index = (
        np.arange(int(ends[-1])) - np.repeat(ends - lengths, lengths) + np.repeat(first, lengths)
    )
    row = np.repeat(np.arange(len(first)), lengths)
    # A third coordinate carries each point's index through the library's thinning.
    tagged = np.column_stack([points[index], index.astype(float)])
    thinned = shapely.simplify(
        shapely.linestrings(tagged, indices=row), tolerance, preserve_topology=False
    )
    kept = shapely.get_coordinates(thinned, include_z=True)[:, 2].astype(np.int64)
    keep[index] = False
    keep[kept] = True
    return keep
