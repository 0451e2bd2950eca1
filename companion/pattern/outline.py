"""The common form of every shape: runs of cubic and straight segments.

One array form for all shapes lets numpy transform and flatten a whole drawing at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from companion.pattern.arcs import Row
from companion.pattern.matrix import Matrix

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Outline:
    """Subpaths of one shape."""

    segments: Floats
    """(N, 4, 2): start, controls, end of each segment."""
    straight: Bools
    """(N,): drawn as a line from start to end."""
    starts: Ints
    """(S,): index of the first segment of each subpath, ascending."""
    closed: Bools
    """(S,): ended by closepath."""

    def moved(self, m: Matrix) -> Outline:
        """Under an affine map (exact for lines and Beziers)."""
        a, b, c, d, e, f = m
        turn = np.array([[a, b], [c, d]])
        points = self.segments @ turn + np.array([e, f])
        return Outline(points, self.straight, self.starts, self.closed)

    @property
    def only_strokes(self) -> bool:
        """Each subpath is one straight line, perhaps there and back: nothing to fill."""
        if len(self.segments) > 2 * len(self.starts) or not self.straight.all():
            return False
        ends = np.append(self.starts[1:], len(self.segments))
        counts = ends - self.starts
        back = (self.segments[ends - 1, 3] == self.segments[self.starts, 0]).all(axis=1)
        return bool(((counts == 1) | ((counts == 2) & back)).all())


def outline_of(
    rows: list[Row], straight: list[bool], starts: list[int], closed: list[bool]
) -> Outline:
    """Pack lists into arrays, leaving out subpaths without segments."""
    bounds = [*starts, len(rows)]
    keep = [i for i in range(len(starts)) if bounds[i + 1] > bounds[i]]
    return Outline(
        np.array(rows, dtype=np.float64).reshape(-1, 4, 2),
        np.array(straight, dtype=np.bool_),
        np.array([starts[i] for i in keep], dtype=np.int64),
        np.array([closed[i] for i in keep], dtype=np.bool_),
    )


def joined(outlines: list[Outline]) -> Outline:
    """Many shapes as one, so that they can be flattened at once."""
    full = [o for o in outlines if len(o.starts)]
    if not full:
        return outline_of([], [], [], [])
    offsets = np.cumsum([0] + [len(o.segments) for o in full[:-1]])
    return Outline(
        np.concatenate([o.segments for o in full]),
        np.concatenate([o.straight for o in full]),
        np.concatenate([o.starts + k for o, k in zip(full, offsets, strict=True)]),
        np.concatenate([o.closed for o in full]),
    )
