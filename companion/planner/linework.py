"""All contours as arrays: points along each line, normals into the waste, free balls.

Holes, starts, turns and holding places ask the same few questions thousands of
times: how far is this point from any line, how thick is the piece behind this
place, how wide the waste before it. They are answered here once, vectorised, by one
search tree over the densified lines; exact distances come from short pieces of the
lines in a second tree. Cost grows as n log n with the length of all lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from companion.planner.contours import Contour

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Indices = NDArray[np.intp]
Complexes = NDArray[np.complex128]

DENSE_MM = 0.25
"""Spacing of the search points: for a ball of radius 0.5 mm the distance errs by 0.016."""
SHARP_DEG = 5.0
"""Vertices that bend more are search points themselves: they stick out between the others."""
SAMPLE_MM = 0.8
"""Spacing of the places at which thickness is asked for."""
PIECE_POINTS = 24
"""Vertices per short piece of line in the exact tree."""
MOST_BALL_MM = 25.0
"""Thickness beyond twice this is simply called thick."""


def unit(v: Floats) -> Floats:
    """Vectors (k, 2) scaled to length 1; a zero vector stays."""
    size = np.hypot(v[:, 0], v[:, 1])[:, None]
    return np.asarray(v / np.where(size > 1e-12, size, 1.0), dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """One closed line, walked clockwise as seen on the board, by arc length."""

    xy: Floats
    """Vertices (n + 1, 2), first = last, mm."""
    along: Floats
    """Arc length at each vertex (n + 1,), from 0 to the whole length."""

    @property
    def length(self) -> float:
        """Of the whole line, mm."""
        return float(self.along[-1])

    def at(self, arc: Floats) -> Floats:
        """Points at arc lengths, taken modulo the length: (k,) to (k, 2)."""
        return self._at(arc).view(np.float64).reshape(-1, 2)

    def _at(self, arc: Floats) -> Complexes:
        """The same points as x + iy: one interpolation instead of two."""
        corners = np.ascontiguousarray(self.xy).view(np.complex128).ravel()
        return np.atleast_1d(np.interp(np.mod(arc, self.length), self.along, corners))

    def around(self, arc: float) -> Floats:
        """A place on the line, the vertex before it and the vertex after it: (3, 2).

        The same as first, last but one and second of :meth:`part` for a whole lap.
        """
        at, tiny, n = arc % self.length, 1e-9 * self.length, len(self.along) - 1
        after = int(np.searchsorted(self.along, at + tiny, side="right"))
        before = int(np.searchsorted(self.along, at - tiny, side="left")) - 1
        # vertex n is vertex 0
        places = [at, self.along[before if before >= 0 else n - 1], self.along[(after - 1) % n + 1]]
        return self.at(np.array(places))

    def bend(self, arc: Floats, chord_mm: float) -> Floats:
        """Angle from the chord behind to the chord ahead of each place, radians.

        Positive turns from x towards y: clockwise on the board. The chords depend on
        the line alone, not on where its vertices are, so the result stays the same
        when points are added to the line or the line is turned.
        """
        k = len(arc)
        z = self._at(np.concatenate([arc - chord_mm, arc, arc + chord_mm]))
        ahead, behind = z[2 * k :] - z[k : 2 * k], z[k : 2 * k] - z[:k]
        return np.asarray(np.angle(ahead * behind.conj()), dtype=np.float64)

    def tangent(self, arc: Floats, chord_mm: float) -> Floats:
        """Unit heading at each place, from the chord that straddles it: (k, 2)."""
        d = self.at(arc + chord_mm / 2) - self.at(arc - chord_mm / 2)
        size = np.hypot(d[:, 0], d[:, 1])[:, None]
        return np.asarray(d / np.where(size > 0, size, 1.0), dtype=np.float64)

    def sharp_points(self) -> Floats:
        """Vertices at which the line bends by more than SHARP_DEG: (k, 2)."""
        step = np.diff(self.xy, axis=0)
        back = np.roll(step, 1, axis=0)
        cross = back[:, 0] * step[:, 1] - back[:, 1] * step[:, 0]
        bend = np.abs(np.arctan2(cross, (back * step).sum(axis=1)))
        return np.asarray(self.xy[:-1][bend > np.radians(SHARP_DEG)], dtype=np.float64)

    def part(self, start: float, end: float) -> Floats:
        """The line from one arc length to a larger one, both ends included: (k, 2).

        ``end - start`` may reach the whole length, then the part is closed.
        """
        n = len(self.along) - 1
        first = np.searchsorted(self.along, np.mod(start, self.length), side="right")
        laps = np.floor(start / self.length)
        arcs = np.concatenate([self.along[:-1] + (laps + k) * self.length for k in (0, 1, 2)])
        inner = arcs[int(first) : int(first) + 2 * n]
        tiny = 1e-9 * self.length
        inner = inner[(inner > start + tiny) & (inner < end - tiny)]
        return self.at(np.concatenate([[start], inner, [end]]))


def line_of(contour: Contour) -> Line:
    """The contour's ring by arc length, repeated points dropped."""
    xy = shapely.get_coordinates(contour.ring.exterior)
    step = np.hypot(*np.diff(xy, axis=0).T)
    keep = np.concatenate([[True], step > 1e-9])
    xy = xy[keep]
    xy[-1] = xy[0]
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    return Line(xy, along)


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Places along one line, evenly spaced."""

    arc: Floats
    """Arc length (k,)."""
    xy: Floats
    """Points (k, 2)."""
    heading: Floats
    """Unit tangent, clockwise travel (k, 2)."""
    waste: Floats
    """Unit normal into the waste (k, 2)."""
    thick_mm: Floats
    """Thickness of the piece behind the line (k,), at most twice MOST_BALL_MM."""
    room_mm: Floats
    """Width of the waste before the line (k,), likewise capped."""
    thick_at: Floats
    """Centres of the balls in the piece (k, 2)."""
    room_at: Floats
    """Centres of the balls in the waste (k, 2)."""


class Linework:
    """All lines of a pattern on a board, with their search trees.

    Args:
        all_contours: from ``contours``.
    """

    def __init__(self, all_contours: Sequence[Contour]) -> None:
        self.contours = tuple(all_contours)
        self.lines = tuple(line_of(c) for c in self.contours)
        dense = [
            np.concatenate([line.at(_even(line.length, DENSE_MM)), line.sharp_points()])
            for line in self.lines
        ]
        self.points: Floats = np.concatenate(dense) if dense else np.zeros((0, 2))
        self.tree = cKDTree(self.points)

    @cached_property
    def _exact(self) -> shapely.STRtree:
        """Short pieces of all lines."""
        pieces = [
            line.xy[k : k + PIECE_POINTS + 1]
            for line in self.lines
            for k in range(0, len(line.xy) - 1, PIECE_POINTS)
        ]
        sizes = np.array([len(p) for p in pieces])
        of = np.repeat(np.arange(len(pieces)), sizes)
        made = shapely.linestrings(np.concatenate(pieces), indices=of)
        return shapely.STRtree(np.atleast_1d(np.asarray(made)))

    def distance(self, points: Floats) -> Floats:
        """Nearly exact distance to the nearest line, never too small: (k, 2) to (k,)."""
        found, _ = self.tree.query(points)
        return np.asarray(found, dtype=np.float64)

    def exact_distance(self, points: Floats) -> Floats:
        """Exact distance to the nearest line: (k, 2) to (k,)."""
        tree = self._exact
        pairs, apart = tree.query_nearest(
            shapely.points(points), return_distance=True, all_matches=False
        )
        out = np.full(len(points), np.inf)
        out[pairs[0]] = apart
        return out

    def apart(self, points: Floats, apart_mm: float) -> Bools:
        """Whether each point (k, 2) is at least ``apart_mm`` from every line, exactly."""
        near = self._exact.query(
            shapely.points(points), predicate="dwithin", distance=apart_mm - 1e-9
        )
        out = np.ones(len(points), dtype=np.bool_)
        out[near[0]] = False
        return out

    def crosses(self, path: Floats) -> bool:
        """Whether an open path (k, 2) meets any line."""
        tree = self._exact
        return bool(len(tree.query(shapely.linestrings(path), predicate="intersects")))

    def between(self, start: Floats, end: Floats) -> Bools:
        """Whether any line lies between places (k, 2) and others (k, 2), straight: (k,)."""
        ways = np.asarray(shapely.linestrings(np.stack([start, end], axis=1)))
        out = np.zeros(len(start), dtype=np.bool_)
        out[self._exact.query(ways, predicate="intersects")[0]] = True
        return out

    def nears(self, path: Floats, apart_mm: float) -> bool:
        """Whether an open path (k, 2) comes nearer to any line than ``apart_mm``."""
        tree = self._exact
        return bool(
            len(tree.query(shapely.linestrings(path), predicate="dwithin", distance=apart_mm))
        )

    @cached_property
    def samples(self) -> tuple[Samples, ...]:
        """Even places along every line with thickness and room, one batch for all."""
        arcs = [_even(line.length, SAMPLE_MM, least=24) for line in self.lines]
        if not arcs:
            return ()
        xy = [line.at(a) for line, a in zip(self.lines, arcs, strict=True)]
        heading = [
            line.tangent(a, min(0.4, line.length / 12))
            for line, a in zip(self.lines, arcs, strict=True)
        ]
        waste = [
            np.stack([-t[:, 1], t[:, 0]], axis=1) * (1.0 if c.side == "inside" else -1.0)
            for c, t in zip(self.contours, heading, strict=True)
        ]
        p, n = np.concatenate(xy), np.concatenate(waste)
        thick, thick_at = self._balls(p, -n)
        room, room_at = self._balls(p, n)
        cut = np.cumsum([len(a) for a in arcs])[:-1]
        columns = zip(
            arcs, xy, heading, waste,
            np.split(2 * thick, cut), np.split(2 * room, cut),
            np.split(thick_at, cut), np.split(room_at, cut),
            strict=True,
        )  # fmt: skip
        return tuple(Samples(*row) for row in columns)

    def _balls(self, p: Floats, n: Floats) -> tuple[Floats, Floats]:
        """Largest ball that touches each place from the side of n and meets no line.

        The shrinking-ball iteration for medial axes (Ma, Bae and Choi 2012): start
        large; while a point of the lines lies inside, pass the ball through it.

        Args:
            p: places on the lines (k, 2).
            n: unit normals (k, 2).

        Returns:
            Radii (k,) and centres (k, 2), mm.
        """
        radius = np.full(len(p), MOST_BALL_MM)
        live = np.arange(len(p))
        for _ in range(24):
            centre = p[live] + n[live] * radius[live, None]
            found, nearest = self.tree.query(centre)
            apart, which = np.asarray(found), np.asarray(nearest)
            inside = apart < 0.99 * radius[live] - 0.02
            live = live[inside]
            if not len(live):
                break
            to = self.points[which[inside]] - p[live]
            ahead = (to * n[live]).sum(axis=1)
            fits = (to * to).sum(axis=1) / np.maximum(2 * ahead, 1e-12)
            smaller = fits < radius[live] - 1e-6
            radius[live] = np.where(smaller, np.maximum(fits, 1e-3), radius[live])
            live = live[smaller & (fits > 1e-3)]
            if not len(live):
                break
        return radius, p + n * radius[:, None]


def _even(length: float, step_mm: float, least: int = 8) -> Floats:
    """Arc lengths of evenly spaced places, ends not repeated."""
    n = max(least, int(np.ceil(length / step_mm)))
    return np.asarray(np.arange(n) * (length / n), dtype=np.float64)
