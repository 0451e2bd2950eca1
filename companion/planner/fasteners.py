"""Where pins or screws hold a stack together.

A pin stands in the frame: waste outside every piece, which stays in one with the
board until the outside cuts are done, and which no cut, loop, hole or lead-in comes near.
Waste inside a piece falls away with its own cut and holds nothing. Near the board's edge a
pin splits the wood, so it stands further in where the margin has room for that.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from companion.findings import Finding, Point
from companion.pattern.overlay import difference, intersection, union_all
from companion.planner.linework import Floats
from companion.planner.plan import Board, Cut, Hole
from companion.shop import tables
from companion.words import ENGLISH, Words

GRID = 40
"""Candidates along the longer side of the board."""


def fasteners(
    board: Board,
    outlines: Sequence[Polygon],
    cuts: Sequence[Cut],
    holes: Sequence[Hole],
    words: Words = ENGLISH,
    loops: Sequence[Floats] = (),
    kerf_mm: float = 0.0,
    left: Polygon | None = None,
) -> tuple[tuple[Point, ...], tuple[Finding, ...]]:
    """Choose places for pins.

    Args:
        board: a single board needs none.
        outlines: of the outermost pieces, filled, board mm.
        cuts: all cuts, for their lead-ins.
        holes: all holes.
        words: the language.
        loops: closed ways of the blade through the waste, (n, 2) each, mm; what they
            enclose falls out.
        kerf_mm: width of its slot.
        left: the board after its trim; None: nothing is trimmed off.

    Returns:
        Places in board mm, at most the number wanted, or none with a finding that says
        tape; and findings.
    """
    if board.stack < 2:
        return (), ()
    clear = tables.limit("fastener-clearance").value
    spacing = tables.limit("fastener-spacing").value
    wanted = max(4, 2 * math.ceil((board.width_mm + board.height_mm) / spacing))
    whole = left or box(0.0, 0.0, board.width_mm, board.height_mm)
    blocked = [outline.buffer(clear) for outline in outlines]
    blocked += [
        shapely.Point(h.at_mm).buffer(clear + h.drill_mm / 2)
        for h in holes
        if cuts[h.cut - 1].side == "outside"
    ]
    blocked += [
        LineString(c.lead_mm).buffer(clear)
        for c in cuts
        if c.side == "outside" and len(c.lead_mm) > 1
    ]
    blocked += [Polygon(way).buffer(clear + kerf_mm / 2) for way in loops]
    waste = difference(whole, union_all(blocked))
    for inset, enough in ((tables.limit("fastener-edge").value, 4), (clear, 3)):
        free = intersection(waste, whole.buffer(-max(inset, clear), join_style="mitre"))
        places = _spread(_candidates(free, board), wanted)
        if len(places) >= enough:
            return tuple(places), ()
    note = tables.limit("fastener-clearance")
    return (), (
        Finding(
            "stack-by-tape", note.severity, None,
            words.say("The margin has no room for three pins clear of every cut."),
            words.say("Bind the stack with tape around the edge, or give the board more margin."),
        ),
    )  # fmt: skip


def _candidates(free: BaseGeometry, board: Board) -> list[Point]:
    """Places of a regular grid that lie in the free waste, row by row."""
    step = max(board.width_mm, board.height_mm) / GRID
    nx = max(2, round(board.width_mm / step))
    ny = max(2, round(board.height_mm / step))
    # the outermost places stand as near to the corners as the clearance lets them
    x0, y0, x1, y1 = free.bounds if not free.is_empty else (0.0, 0.0, 0.0, 0.0)
    grid = [
        (x0 + (x1 - x0) * i / nx, y0 + (y1 - y0) * j / ny)
        for j in range(ny + 1)
        for i in range(nx + 1)
    ]
    shapely.prepare(free)
    inside = shapely.intersects_xy(free, [p[0] for p in grid], [p[1] for p in grid])
    return [(round(x, 2), round(y, 2)) for (x, y), ok in zip(grid, inside, strict=True) if ok]


def _spread(candidates: list[Point], wanted: int) -> list[Point]:
    """Farthest-point choice from the top left on: corners first, then between them."""
    if not candidates:
        return []
    first = min(candidates, key=lambda p: (p[0] + p[1], p))
    chosen = [first]
    apart = [math.dist(first, p) for p in candidates]
    while len(chosen) < wanted:
        far = max(range(len(candidates)), key=lambda i: (apart[i], -i))
        # closer than this another pin holds no better
        if apart[far] < 25.0:
            break
        chosen.append(candidates[far])
        apart = [
            min(d, math.dist(candidates[far], p)) for d, p in zip(apart, candidates, strict=True)
        ]
    return sorted(chosen, key=lambda p: (p[1], p[0]))
