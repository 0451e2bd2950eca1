"""Finds the necks: the local minima of thickness along the branches of an axis.

Rule: a neck lies between two places that are at least ``PROMINENCE`` thicker; a
junction counts as such a place unless the axis thickens away from it on every
side. A tail ends where less than a certain length is left to its tip, since every
point thins to nothing: its thinnest place before that is a neck as well.
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
    at_node: dict[int, list[Valley]] = {}
    ends: dict[int, int] = {}
    for span in net.spans:
        low, high = _usable(axis, span, tip_mm)
        for node in (span.nodes[0], span.nodes[-1]):
            ends[int(node)] = ends.get(int(node), 0) + 1
        if low > high:
            continue
        thick = axis.thickness[span.nodes[low : high + 1]].tolist()
        for before, least, behind in _minima(thick):
            valley = Valley(span, low + before, low + behind, low + least)
            node = int(span.nodes[valley.least])
            if valley.least in (0, len(span.nodes) - 1) and axis.degree[node] != 1:
                at_node.setdefault(node, []).append(valley)
            else:
                found.append(valley)
    # an end shared by several spans is a neck only if all of them thicken away from it
    found += [v[0] for node, v in at_node.items() if len(v) == ends[node]]
    return found
