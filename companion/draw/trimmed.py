"""The straight cuts by which a board is trimmed, as the plan's steps tell them.

The rule kept: words and line are one thing. What the planner needs gone may have a bent
edge; what is told, and so what is drawn, are strips off edges and then corners cut
straight, in whole millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from companion.findings import Point

Stroke = tuple[Point, Point]
EXACT_MM = 1e-3
"""A plan's places are rounded: less than this beyond a whole millimetre is none."""


def trim_cuts(width_mm: float, height_mm: float, left_mm: Sequence[Point]) -> tuple[Stroke, ...]:
    """Where a board is sawn, each cut from edge to edge of what is left when its turn comes.

    Args:
        width_mm: of the whole board.
        height_mm: of the whole board.
        left_mm: corners of what the plan keeps of it (`Plan.trim_mm`); none: it stays whole.

    >>> trim_cuts(100.0, 50.0, [(0, 0), (91, 0), (98, 3), (100, 7), (100, 50), (0, 50)])
    (((91.0, 0.0), (100.0, 7.0)),)
    """
    if not left_mm:
        return ()
    # shapely comes only where a board is trimmed; the scene is drawn without it
    from shapely.geometry import Polygon, box

    from companion.planner.trims import LEAST_TRIM_MM, described

    found = described(box(0.0, 0.0, width_mm, height_mm), Polygon(left_mm))
    x0, y0, x1, y1 = 0.0, 0.0, width_mm, height_mm
    left, top, right, bottom = (
        _whole(size) if size >= LEAST_TRIM_MM else 0.0 for size in found.edges_mm
    )
    cuts: list[Stroke] = []
    if left:
        x0 += left
        cuts.append(((x0, y0), (x0, y1)))
    if top:
        y0 += top
        cuts.append(((x0, y0), (x1, y0)))
    if right:
        x1 -= right
        cuts.append(((x1, y0), (x1, y1)))
    if bottom:
        y1 -= bottom
        cuts.append(((x0, y1), (x1, y1)))
    tips = ((x0, y0, 1, 1), (x1, y0, -1, 1), (x1, y1, -1, -1), (x0, y1, 1, -1))
    for (x, y, along, down), legs in zip(tips, found.corners_mm, strict=True):
        if max(legs) >= LEAST_TRIM_MM:
            level, upright = map(_whole, legs)
            cuts.append(((x + along * level, y), (x, y + down * upright)))
    return tuple(cuts)


def _whole(size_mm: float) -> float:
    """Up to the next whole millimetre, as it is told."""
    return float(math.ceil(size_mm - EXACT_MM))
