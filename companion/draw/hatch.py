"""Hatching: waste is striped, wood that is kept stays plain.

One sweep along parallel lines at 45 degrees serves all areas at once. Along each
line the crossings with the areas' edges switch waste on and off (even-odd); the
crossings with gaps (boxes around numbers, holes) are counted by winding, so
gaps may overlap. What is left are plain segments that any painter can draw: no clip
paths, no pattern fills. Time grows with edges and stripes, O(n log n).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from companion.draw import marks
from companion.draw.scene import Area, Label, Line, Scene
from companion.findings import Point

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SPACING_MM = 2.4
"""Between stripes of the frame and of large openings."""
FINE_SPACING_MM = 0.9
"""Between stripes of openings so narrow that the wide spacing could miss them."""
NARROW_MM = 2.5
"""Mean width (2 area / perimeter) under which an opening gets the fine spacing."""
LEAST_MM = 0.1
"""Shorter stripes are left out."""


def with_hatch(scene: Scene) -> Scene:
    """The scene with its waste striped; numbers and holes stay clear.

    Call it after the numbers are placed.
    """
    gaps = [_box(label) for label in scene.labels]
    gaps += [marks.ring(d.at_mm, d.radius_mm + 0.2) for d in scene.discs]
    wide: list[Area] = []
    fine: list[Area] = []
    for area in scene.areas:
        (fine if _narrow(area) else wide).append(area)
    lines = [
        Line("hatch", segment)
        for areas, spacing in ((wide, SPACING_MM), (fine, FINE_SPACING_MM))
        for segment in stripes(areas, spacing, gaps)
    ]
    return scene.add(lines)


def _box(label: Label) -> tuple[Point, ...]:
    (x, y), (w, h) = label.at_mm, label.box_mm
    return marks.box(x - w / 2, y - h / 2, w, h)


def _narrow(area: Area) -> bool:
    if area.cut is None:
        return False
    outer = area.rings_mm[0]
    around = sum(math.dist(a, b) for a, b in zip(outer, outer[1:], strict=False))
    return 2 * abs(marks.signed_area(outer)) < NARROW_MM * around


def stripes(
    areas: Sequence[Area], spacing_mm: float, gaps: Iterable[Sequence[Point]] = ()
) -> list[tuple[Point, Point]]:
    """Segments at 45 degrees that fill areas by the even-odd rule, less the gaps.

    Args:
        areas: regions that do not overlap, mm.
        spacing_mm: between stripes.
        gaps: closed rings that stay clear; they may overlap.

    Returns:
        Segments in a fixed order.

    >>> square = Area("waste", (marks.box(0, 0, 10, 10),))
    >>> round(sum(math.dist(a, b) for a, b in stripes([square], 0.01)) * 0.01)  # the area
    100
    """
    import numpy as np

    index_a, u_a, _ = _crossings([r for a in areas for r in a.rings_mm], spacing_mm)
    if not len(index_a):
        return []
    index_g, u_g, turn_g = _crossings(list(gaps), spacing_mm)
    index = np.concatenate([index_a, index_g])
    u = np.concatenate([u_a, u_g])
    switch = np.concatenate([np.ones(len(index_a), int), np.zeros(len(index_g), int)])
    wind = np.concatenate([np.zeros(len(index_a), int), turn_g])
    order = np.lexsort((u, index))
    index, u = index[order], u[order]
    # Every closed ring crosses a stripe an even number of times and winds back
    # to zero, so the running sums need no restart from stripe to stripe.
    on = (np.cumsum(switch[order]) % 2 == 1) & (np.cumsum(wind[order]) == 0)
    keep = on[:-1] & (index[:-1] == index[1:]) & (u[1:] - u[:-1] > LEAST_MM)
    v = (index[:-1][keep] + 0.5) * spacing_mm
    half = math.sqrt(0.5)
    ends = [(half * (w - v), half * (w + v)) for w in (u[:-1][keep], u[1:][keep])]
    rows = np.column_stack([ends[0][0], ends[0][1], ends[1][0], ends[1][1]]).round(4).tolist()
    return [((r[0], r[1]), (r[2], r[3])) for r in rows]


def _crossings(
    rings: Sequence[Sequence[Point]], spacing_mm: float
) -> tuple[NDArray[np.int64], Floats, NDArray[np.int64]]:
    """Where rings cross the stripes: stripe index, place along the stripe, sense."""
    import numpy as np

    if not rings:
        return np.zeros(0, np.int64), np.zeros(0), np.zeros(0, np.int64)
    points = np.array([p for ring in rings for p in ring], dtype=float)
    sizes = np.array([len(ring) for ring in rings])
    half = math.sqrt(0.5)
    u = half * (points[:, 0] + points[:, 1])
    v = (half * (points[:, 1] - points[:, 0])) / spacing_mm - 0.5
    inner = np.ones(len(points), bool)
    inner[np.cumsum(sizes) - 1] = False
    first = np.flatnonzero(inner)
    u0, u1, v0, v1 = u[first], u[first + 1], v[first], v[first + 1]
    # half-open: a stripe through a vertex is crossed by exactly one of its edges
    low = np.ceil(np.minimum(v0, v1)).astype(np.int64)
    count = np.ceil(np.maximum(v0, v1)).astype(np.int64) - low
    edge = np.repeat(np.arange(len(first)), count)
    nth = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    index = low[edge] + nth
    t = (index - v0[edge]) / (v1[edge] - v0[edge])
    along = u0[edge] + t * (u1[edge] - u0[edge])
    return index, along, np.where(v1[edge] > v0[edge], 1, -1)
