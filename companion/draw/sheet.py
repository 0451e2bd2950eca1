"""The sheet for the board: drawing pages at true size, then the list pages.

The scene is built, laid out and numbered; numbers keep clear of the crosshairs too,
so the layout comes first and is made again, wider, when a number had to go outside it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from companion.draw import cutlist
from companion.draw.frame import Head, crosshair, draw_frame, draw_map, draw_tile
from companion.draw.hatch import with_hatch
from companion.draw.key import draw_key
from companion.draw.labels import OUTSIDE_MM, with_numbers
from companion.draw.paper import Layout, Paper, lay_out, list_paper, papers
from companion.draw.pdf import Sheets
from companion.draw.scene import Line, Scene, build_scene
from companion.planner.plan import Plan
from companion.shop.checks import checklist
from companion.shop.model import Checklist
from companion.words import ENGLISH, Words


@dataclass(frozen=True, slots=True)
class SheetOptions:
    """How the sheet is wanted."""

    paper: Paper | None = None
    """None: A4."""
    tile: bool = True
    """Join several sheets when the board is larger than the paper; False: one large page."""
    mirror: bool = False
    """For gluing to the board's back."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A finished sheet."""

    pdf: bytes
    layout: Layout
    scene: Scene
    """As drawn, numbers and hatch included."""
    list_pages: int
    unplaced: tuple[str, ...]
    """Numbers that found no room at true size; the key pages show them."""


def drawn_scene(
    plan: Plan, options: SheetOptions, paper: Paper
) -> tuple[Scene, Layout, tuple[str, ...]]:
    """The scene with numbers and hatch, and its layout on paper.

    Where the board's bare edges alone would take more pages, they are left off.
    """
    bare = build_scene(plan, options.mirror)
    scene, layout, unplaced = _numbered(bare, bare.bounds_mm, options, paper)
    if len(layout.tiles) > 1 and plan.cuts:
        inner, fewer, missing = _numbered(bare, bare.work_mm, options, paper)
        if len(fewer.tiles) < len(layout.tiles) and _covers(fewer.covers_mm, inner.work_mm):
            edged = tuple(line for line in inner.lines if line.role != "corner")
            scene, layout, unplaced = replace(inner, lines=edged), fewer, missing
    return with_hatch(scene), layout, unplaced


def _numbered(
    bare: Scene, box: tuple[float, float, float, float], options: SheetOptions, paper: Paper
) -> tuple[Scene, Layout, tuple[str, ...]]:
    """Numbers put in, and a layout that covers at least a box of the scene."""
    x0, y0, x1, y1 = box
    # as small as the box allows; else as far as any number may ever go
    for wider in (0.0, OUTSIDE_MM):
        bounds = (x0 - wider, y0 - wider, x1 + wider, y1 + wider)
        layout = lay_out(bounds, paper, options.tile)
        guarded = bare.add(
            Line("bar", points) for at in layout.lattice_mm for points in crosshair(at)
        )
        numbered, unplaced = with_numbers(guarded)
        # the crosshairs are drawn by the page, not by the scene
        lines = tuple(line for line in numbered.lines if line.role != "bar")
        numbered = replace(numbered, lines=lines)
        if _covers(layout.covers_mm, numbered.work_mm):
            break
    return numbered, layout, unplaced


def _covers(outer: tuple[float, ...], inner: tuple[float, ...]) -> bool:
    """Whether one box holds another."""
    return (
        outer[0] <= inner[0] and outer[1] <= inner[1]
        and outer[2] >= inner[2] and outer[3] >= inner[3]
    )  # fmt: skip


def make_sheet(
    plan: Plan,
    options: SheetOptions | None = None,
    words: Words = ENGLISH,
    safety: Checklist | None = None,
    progress: Callable[[str], None] | None = None,
) -> Sheet:
    """Draw a plan as PDF.

    Args:
        plan: what to print.
        options: paper, tiles, mirror, units.
        words: the language.
        safety: the cautions; None: those of the shop's tables.
        progress: told the name of each part as it begins.

    Returns:
        The file's bytes and what is on it; equal input gives equal bytes.

    Raises:
        UsageError: the board is too large for one page.
    """
    chosen = options or SheetOptions()
    paper = chosen.paper or papers()["A4"]
    tell = progress or (lambda _: None)
    tell("numbers")
    scene, layout, unplaced = drawn_scene(plan, chosen, paper)
    tell("pages")
    plan_hash = plan.short_hash
    sheets = Sheets(plan.project.name or "kerfside")
    sheets.define_scene(scene, "scene")
    beside = []
    if len(layout.tiles) > 1:
        beside.append(
            words.say(
                "Trim a page along its dashed line where it meets the next, and lay it over that "
                "page so that the crosshairs meet. The crossed box is this page."
            )
        )
    beside += _edges_text(plan, layout, words)
    for number, tile in enumerate(layout.tiles, start=1):
        sheets.begin(layout.page_mm)
        right = _head(plan_hash, chosen, layout, number, words)
        left = plan.project.name
        if plan.has_stop:
            # what must not be overlooked stands large, the name beside the plan's
            left, right = words.say("STOP: do not cut this, see the list."), f"{left}   {right}"
        head = Head(left, right, " ".join(beside))
        draw_frame(sheets, layout.page_mm, head, words)
        draw_tile(sheets, "scene", layout, tile)
        draw_map(sheets, layout, tile)
        sheets.end()
    if any(text.isdigit() for text in unplaced):
        tell("key")
        draw_key(sheets, plan, list_paper(paper), chosen.mirror, plan_hash, words)
    tell("lists")
    before = sheets.pages
    cutlist.draw_lists(
        sheets,
        cutlist.Lists(
            plan=plan, scene=scene, layout=layout, words=words,
            safety=safety or checklist(), plan_hash=plan_hash, unplaced=unplaced,
        ),
    )  # fmt: skip
    return Sheet(sheets.bytes(), layout, scene, sheets.pages - before, unplaced)


def _edges_text(plan: Plan, layout: Layout, words: Words) -> list[str]:
    """How the sheet is laid on the board where not all of the board's edges are on it."""
    x0, y0, x1, y1 = layout.covers_mm
    on_paper = (x0 <= 0.0, y0 <= 0.0, x1 >= plan.board.width_mm, y1 >= plan.board.height_mm)
    if all(on_paper):
        return []
    if any(on_paper):
        return [words.say(
            "Some of the board's edges lie off the paper: lay those drawn on the board's own, and "
            "the drawing midway between the others."
        )]  # fmt: skip
    return [words.say("The board's edges lie off the paper: glue it to the middle of the board.")]


def _head(plan_hash: str, options: SheetOptions, layout: Layout, number: int, words: Words) -> str:
    """What stands at the top right of a drawing page."""
    tile = layout.tiles[number - 1]
    parts = [words.say("plan {hash}", hash=plan_hash)]
    if len(layout.tiles) > 1:
        parts.append(
            words.say(
                "page {n} of {of}: column {column}, row {row}",
                n=number, of=len(layout.tiles), column=tile.column, row=tile.row,
            )
        )  # fmt: skip
    if options.mirror:
        parts.insert(0, words.say("MIRRORED: glue to the back"))
    return "   ".join(parts)
