"""Finds the necks: the local minima of thickness along the branches of an axis.

Rule: a neck lies between two places that are at least ``PROMINENCE`` thicker. A
junction is none: its circle touches the outline in three places, so that the axis
thins from it along at least two of its branches. A tail ends where less than a
certain length is left to its tip, since every point thins to nothing: its thinnest
place before that is a neck as well.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from companion.planner.axis import Axis
from companion.planner.network import Network, Span
from companion.planner.outline import Floats

PROMINENCE = 1.05
PROMINENCE_MM = 0.02
PLATEAU = 1.02
"""Places this near the minimum are as good as the minimum."""
TIP_THICKNESSES = 1.5
"""A tip is at least this many thicknesses long."""


@dataclass(frozen=True)
class Valley:
    """A thin stretch of a span around one neck."""

    span: Span
    low: int
    """First position of the stretch in the span's nodes."""
    high: int
    """Last position."""
    least: int
    """Position of the least thickness."""

    def plateau(self, thickness: Floats) -> tuple[int, int]:
        """First and last position around the least that are hardly thicker."""
        nodes = self.span.nodes
        limit = PLATEAU * thickness[nodes[self.least]] + 0.005
        a = b = self.least
        while a > self.low and thickness[nodes[a - 1]] <= limit:
            a -= 1
        while b < self.high and thickness[nodes[b + 1]] <= limit:
            b += 1
        return a, b


def way_along(axis: Axis, span: Span) -> Floats:
    """Distance of each node of a span from its first, mm."""
    step = np.diff(axis.xy[span.nodes], axis=0)
    return np.concatenate(([0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))))


def _usable(axis: Axis, span: Span, tip_mm: float) -> tuple[int, int]:
    """Positions between which a span is judged; empty (low > high) for mere tips."""
    way, thick = way_along(axis, span), axis.thickness[span.nodes]
    low, high = 0, len(way) - 1
    needed = np.maximum(tip_mm, TIP_THICKNESSES * thick)
    if axis.degree[span.nodes[-1]] == 1:
        good = np.flatnonzero(way[-1] - way + 0.5 * thick[-1] >= needed)
        high = int(good[-1]) if len(good) else -1
    if axis.degree[span.nodes[0]] == 1:
        good = np.flatnonzero(way + 0.5 * thick[0] >= needed)
        low = int(good[0]) if len(good) else len(way)
    return low, high


def _minima(thick: list[float]) -> list[tuple[int, int, int]]:
    """Minima with a hill on both sides (beyond the ends stand high hills).

    Returns:
        Triples of hill before, minimum, hill behind, as indices.
    """
    found: list[tuple[int, int, int]] = []
    hill, least, top, falling = 0, 0, 0, True
    for k, value in enumerate(thick):
        if falling:
            if value < thick[least]:
                least = k
            elif value > thick[least] * PROMINENCE + PROMINENCE_MM:
                found.append((hill, least, k))
                falling, top = False, k
        elif value > thick[top]:
            top = k
        elif value < (thick[top] - PROMINENCE_MM) / PROMINENCE:
            found[-1] = (found[-1][0], found[-1][1], top)
            falling, hill, least = True, top, k
    if falling:
        found.append((hill, least, len(thick) - 1))
    else:
        found[-1] = (found[-1][0], found[-1][1], top)
    return found


def valleys(net: Network, tip_mm: float) -> list[Valley]:
    """All necks of a piece.

    Args:
        net: the piece's network.
        tip_mm: least length of a tip, mm.
    """
    axis = net.axis
    found: list[Valley] = []
    for span in net.spans:
        low, high = _usable(axis, span, tip_mm)
        if low > high:
            continue
        thick = axis.thickness[span.nodes[low : high + 1]].tolist()
        for before, least, behind in _minima(thick):
            valley = Valley(span, low + before, low + behind, low + least)
            at_end = valley.least in (0, len(span.nodes) - 1)
            if not (at_end and axis.degree[span.nodes[valley.least]] > 2):
                found.append(valley)
    return found
