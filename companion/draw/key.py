"""Key pages: the drawing enlarged, for the numbers that found no room at true size.

Only lines, holes and numbers, at the least whole enlargement that leaves no number
out. Each page says that it is not to be glued; its check bars stay true.
"""

from __future__ import annotations

from dataclasses import replace

from companion.draw.frame import Head, draw_frame, draw_map, draw_tile
from companion.draw.labels import with_numbers
from companion.draw.paper import Paper, lay_out
from companion.draw.pdf import Sheets
from companion.draw.scene import Role, Scene, build_scene
from companion.findings import Point
from companion.planner.plan import Plan
from companion.words import Words

FACTORS = (2, 3, 4, 6, 8)
KEPT: frozenset[Role] = frozenset({"board", "piece-line", "hole-cross", "to-size"})


def enlarged(plan: Plan, factor: float) -> Plan:
    """The plan with all places and holes scaled; marks that are not drawn are dropped."""

    def scale(points: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple((factor * x, factor * y) for x, y in points)

    board = replace(
        plan.board,
        width_mm=factor * plan.board.width_mm,
        height_mm=factor * plan.board.height_mm,
    )
    holes = tuple(
        replace(h, at_mm=scale((h.at_mm,))[0], drill_mm=factor * h.drill_mm) for h in plan.holes
    )
    to_size = tuple(
        replace(h, at_mm=scale((h.at_mm,))[0], drill_mm=factor * h.drill_mm) for h in plan.to_size
    )
    cuts = tuple(
        replace(
            c,
            start_mm=scale((c.start_mm,))[0],
            line_mm=scale(c.line_mm),
            lead_mm=(),
            turns=(),
            hold_mm=(),
        )
        for c in plan.cuts
    )
    return replace(
        plan, board=board, holes=holes, to_size=to_size, cuts=cuts, necks=(),
        fasteners_mm=(), findings=(),
        pieces=min(plan.pieces, 1),  # their names stand on the sheet itself
    )  # fmt: skip


def key_scene(plan: Plan, mirror: bool) -> tuple[Scene, int, tuple[str, ...]]:
    """The least enlargement on which every number has room.

    Returns:
        The numbered scene, its factor, and the numbers left out even at the largest.
    """
    for factor in FACTORS:
        scene = build_scene(enlarged(plan, factor), mirror)
        lines = tuple(line for line in scene.lines if line.role in KEPT)
        numbered, left_out = with_numbers(replace(scene, lines=lines, areas=()))
        if not left_out:
            break
    return numbered, factor, left_out


def draw_key(
    sheets: Sheets, plan: Plan, paper: Paper, mirror: bool, plan_hash: str, words: Words
) -> tuple[str, ...]:
    """Write the key pages; returns the numbers left out even so."""
    scene, factor, left_out = key_scene(plan, mirror)
    layout = lay_out(scene.bounds_mm, paper)
    sheets.define_scene(scene, "key")
    for tile in layout.tiles:
        sheets.begin(layout.page_mm)
        right = words.say(
            "plan {hash}   KEY, enlarged {factor} times: not to be glued",
            hash=plan_hash, factor=factor,
        )  # fmt: skip
        draw_frame(sheets, layout.page_mm, Head(plan.project.name, right), words)
        draw_tile(sheets, "key", layout, tile)
        draw_map(sheets, layout, tile)
        sheets.end()
    return left_out
