"""In which order the holes are drilled.

The rule kept: one drill after the other, thin to thick, for the fewest changes; with each
a short round over its holes that begins at the top left, where the board is taken up.
No order of holes is gentler to the board than another, so only the way counts.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import TypeVar

from companion.planner.moves import distances_mm, short_round
from companion.planner.plan import Hole, SizedHole
from companion.planner.starts import Entry

Drilled = TypeVar("Drilled", Hole, SizedHole)

EXACT, STEPS = 9, 60
"""Up to so many holes of one drill the shortest round; beyond it so many steps of
improvement, some milliseconds. Against the best rounds published, see tests/published."""


def holes_of(entries: Mapping[int, Entry], order: Sequence[int]) -> tuple[Hole, ...]:
    """The holes, numbered by their cuts; a cut that shares another's hole has none.

    Args:
        entries: by contour.
        order: contours in the order in which they are cut.
    """
    holes = []
    for number, index in enumerate(order, 1):
        entry = entries[index]
        if entry.shares is None:
            drill = entry.drill
            size, name = (drill.diameter_mm, drill.name) if drill else (0.0, "")
            holes.append(Hole(number, entry.hole_mm, size, number, name))
    return tuple(holes)


def drilling_order(holes: Sequence[Drilled]) -> tuple[Drilled, ...]:
    """The holes in the order in which they are drilled.

    Args:
        holes: entry holes or what is drilled to size; those that no drill fits (0 mm) come last.
    """
    groups: dict[tuple[bool, float, str], list[Drilled]] = defaultdict(list)
    for hole in holes:
        groups[hole.drill_mm <= 0.0, hole.drill_mm, hole.drill_name].append(hole)
    out: list[Drilled] = []
    for key in sorted(groups):
        group = groups[key]
        first = min(range(len(group)), key=lambda k: (sum(group[k].at_mm), group[k].number))
        way = short_round(distances_mm([h.at_mm for h in group]), first, EXACT, STEPS)
        out += [group[k] for k in way]
    return tuple(out)
