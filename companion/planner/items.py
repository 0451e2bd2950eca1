"""The cuts as the order sees them: what each frees, and what must come before it.

The rule kept: an opening that is drilled to size is no cut. Its wood is gone before the
first one, and nothing waits for it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from shapely.geometry import Polygon

from companion.pattern.overlay import union_all
from companion.planner.contours import frees
from companion.planner.linework import Linework
from companion.planner.order import OrderItem, Placed, best_order
from companion.planner.starts import Entry
from companion.planner.to_size import Fit
from companion.planner.veins import Vein
from companion.words import Words


def ordered(
    work: Linework,
    entries: Mapping[int, Entry],
    veins: Sequence[Vein],
    drilled: Sequence[Fit],
    size_mm: tuple[float, float],
    words: Words,
    progress: Callable[[float], None] | None = None,
) -> tuple[Placed, ...]:
    """The order that keeps the board stiff, with weakness and reason of each place.

    Args:
        work: all lines.
        entries: of the contours that are sawn, by index.
        veins: numbered after the contours.
        drilled: what is drilled to size.
        size_mm: width and height of the board.
        words: in which the reasons are told.
        progress: told the share done, 0 to 1.

    Returns:
        Every cut once, with the index of its contour or vein.
    """
    kept = [*sorted(entries), *(v.entry.contour for v in veins)]
    place = {index: n for n, index in enumerate(kept)}
    decorated: dict[int, set[int]] = defaultdict(set)
    for vein in veins:
        decorated[vein.outline].add(place[vein.entry.contour])
    items = []
    for index in sorted(entries):
        contour = work.contours[index]
        free = frees(contour, work.contours)
        children = {place[i] for i in contour.children if i in place}
        items.append(
            OrderItem(
                index=place[index],
                frees=free,
                line=work.samples[index].xy,
                before=frozenset(children | decorated[index]),
                at=entries[index].hole_mm,
                side=contour.side,
                piece=contour.piece,
                area_mm2=free.area,
            )
        )
    for vein in veins:
        items.append(
            OrderItem(
                index=place[vein.entry.contour],
                frees=Polygon(),
                line=np.array(vein.entry.line_mm),
                before=frozenset(),
                at=vein.entry.hole_mm,
                side="inside",
                piece=vein.piece,
                area_mm2=0.0,
            )
        )
    gone = union_all([work.contours[fit.contour].ring for fit in drilled])
    placed = best_order(items, *size_mm, words, progress=progress, gone=gone)
    return tuple(replace(p, index=kept[p.index]) for p in placed)
