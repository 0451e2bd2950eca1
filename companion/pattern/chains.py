"""Joins cut lines at their ends, so that an outline drawn in parts becomes one loop.

Ends closer than the table's distance belong together; each end is used once, the
nearest pairs first, so that the same drawing always joins the same way.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from companion.findings import Point
from companion.pattern.outline import Floats


@dataclass(frozen=True, slots=True)
class Join:
    """Two ends that were brought together."""

    at_mm: Point
    """Between them."""
    gap_mm: float
    """How far apart they were."""


@dataclass(frozen=True, slots=True)
class Chained:
    """Loops and what stays open."""

    loops: list[Floats]
    """First point repeated at the end."""
    open_lines: list[Floats]
    """Lines with two free ends."""
    joins: list[Join]
    """Gaps that were closed."""


def chain(lines: list[tuple[Floats, bool]], reach: float) -> Chained:
    """Join lines to loops.

    Args:
        lines: points, and whether the line is closed by itself.
        reach: largest gap to close, in the unit of the points.
    """
    loops: list[Floats] = []
    loose: list[Floats] = []
    for points, closed in lines:
        if closed or (len(points) > 3 and (points[0] == points[-1]).all()):
            loops.append(np.vstack([points, points[:1]]))
        elif len(points) > 1:
            loose.append(points)
    partner, joins = _pair_ends(loose, reach)
    chains, closed_flags = _follow(loose, partner)
    open_lines: list[Floats] = []
    for points, is_loop in zip(chains, closed_flags, strict=True):
        if is_loop:
            loops.append(np.vstack([points, points[:1]]))
        else:
            open_lines.append(points)
    return Chained(loops, open_lines, joins)


def _pair_ends(lines: list[Floats], reach: float) -> tuple[dict[int, int], list[Join]]:
    """Partner of each end; end 2i is the start of line i, 2i + 1 its end."""
    if not lines:
        return {}, []
    ends = np.array([p for line in lines for p in (line[0], line[-1])])
    points = np.asarray(shapely.points(ends))
    tree = shapely.STRtree(points)
    a, b = tree.query(points, predicate="dwithin", distance=reach)
    keep = a < b
    a, b = a[keep], b[keep]
    gaps = np.hypot(*(ends[a] - ends[b]).T)
    partner: dict[int, int] = {}
    joins: list[Join] = []
    for k in np.lexsort((b, a, gaps)).tolist():
        i, j = int(a[k]), int(b[k])
        if i in partner or j in partner or (i // 2 == j // 2 and len(lines[i // 2]) < 3):
            continue
        partner[i], partner[j] = j, i
        if gaps[k] > 0.0:
            middle = (ends[i] + ends[j]) / 2.0
            joins.append(Join((float(middle[0]), float(middle[1])), float(gaps[k])))
    return partner, joins


def _follow(lines: list[Floats], partner: dict[int, int]) -> tuple[list[Floats], list[bool]]:
    """Walk from end to end; first the chains with a free end, then the loops."""
    used = [False] * len(lines)
    chains: list[Floats] = []
    flags: list[bool] = []
    free = [e for e in range(2 * len(lines)) if e not in partner]
    for start in [*free, *range(2 * len(lines))]:
        if used[start // 2]:
            continue
        parts: list[Floats] = []
        end = start
        is_loop = False
        while True:
            line = end // 2
            used[line] = True
            points = lines[line] if end % 2 == 0 else lines[line][::-1]
            parts.append(points if not parts else _without_double(parts[-1], points))
            following = partner.get(end ^ 1)
            if following is None or used[following // 2]:
                is_loop = following is not None
                break
            end = following
        chains.append(np.vstack(parts))
        flags.append(is_loop)
    return chains, flags


def _without_double(before: Floats, points: Floats) -> Floats:
    same = len(before) > 0 and bool((before[-1] == points[0]).all())
    return points[1:] if same else points
