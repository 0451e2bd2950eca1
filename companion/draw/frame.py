"""What surrounds the drawing on every page: head line, check bars, page map, crosshairs.

The check bars are what makes a wrong scale impossible to miss: 100 mm and 4 in, on
every page, with the sentence that says to measure them.
"""

from __future__ import annotations

from dataclasses import dataclass

from companion.draw import marks
from companion.draw.paper import FOOT_MM, HEAD_MM, SIDE_MM, Layout, Tile
from companion.draw.pdf import Sheets
from companion.draw.pens import PENS, Pen
from companion.findings import Point
from companion.units import MM_PER_INCH
from companion.words import Words

BAR_TICK_MM = 3.0
SMALL_MM = 2.8
"""Em size of the small print, 8 pt."""
TRIM = Pen(0.1, (1.0, 1.5))
MAP_MM = 13.0
CROSSHAIR_MM = 4.5
"""Half length of a crosshair's arms; less than half the overlap, so that it is whole twice."""


@dataclass(frozen=True, slots=True)
class Head:
    """The words at the top of every page."""

    left: str
    right: str
    beside: str = ""
    """What stands beside the check bars; empty: nothing."""


def bars_mm() -> tuple[tuple[str, float], ...]:
    """Names and lengths of the check bars.

    >>> bars_mm()
    (('100 mm', 100.0), ('4 in', 101.6))
    """
    return (("100 mm", 100.0), ("4 in", 4 * MM_PER_INCH))


def draw_frame(sheets: Sheets, page_mm: tuple[float, float], head: Head, words: Words) -> None:
    """Head line and check bars of one page."""
    width, height = page_mm
    sheets.text((SIDE_MM, HEAD_MM - 4.0), head.left, 3.4, bold=True)
    sheets.text((width - SIDE_MM, HEAD_MM - 4.0), head.right, SMALL_MM, "right")
    top = height - FOOT_MM + 5.0
    for i, (name, length) in enumerate(bars_mm()):
        y = top + 5.5 * i
        sheets.pen(PENS["bar"])
        sheets.lines(bar((SIDE_MM, y), length))
        sheets.text((SIDE_MM + length + 2.0, y + 1.0), name, SMALL_MM)
    sentence = words.say(
        "Measure both bars. If one is off, print again at 100 %, without fitting to the page."
    )
    x = SIDE_MM + bars_mm()[1][1] + 18.0
    for i, line in enumerate(sheets.wrap(head.beside, width - x - SIDE_MM - 18.0, SMALL_MM)):
        sheets.text((x, top - 1.0 + 3.4 * i), line, SMALL_MM)
    y = top + 10.5
    for line in sheets.wrap(sentence, width - 2 * SIDE_MM - MAP_MM - 4.0, SMALL_MM):
        sheets.text((SIDE_MM, y), line, SMALL_MM)
        y += 3.4


def bar(at: Point, length: float) -> list[tuple[Point, ...]]:
    """A check bar: its length is that between the middles of its end ticks."""
    (x, y), half = at, BAR_TICK_MM / 2
    return [
        ((x, y), (x + length, y)),
        ((x, y - half), (x, y + half)),
        ((x + length, y - half), (x + length, y + half)),
        *(
            ((x + length * i / 4, y - half / 2), (x + length * i / 4, y + half / 2))
            for i in (1, 2, 3)
        ),
    ]


def draw_map(sheets: Sheets, layout: Layout, tile: Tile) -> None:
    """A small plan of all pages at the foot, with this one's place crossed out; none of one."""
    if len(layout.tiles) == 1:
        return
    page_width, page_height = layout.page_mm
    step_x, step_y = layout.window_mm
    scale = min(MAP_MM / (layout.columns * step_x), MAP_MM / (layout.rows * step_y))
    w, h = step_x * scale, step_y * scale
    x0 = page_width - SIDE_MM - layout.columns * w
    y0 = page_height - SIDE_MM - MAP_MM
    sheets.pen(Pen(0.15))
    for t in layout.tiles:
        x, y = x0 + (t.column - 1) * w, y0 + (t.row - 1) * h
        sheets.lines([marks.box(x, y, w, h)])
        if (t.column, t.row) == (tile.column, tile.row):
            sheets.lines([((x, y), (x + w, y + h)), ((x, y + h), (x + w, y))])


def crosshair(at: Point) -> list[tuple[Point, ...]]:
    """A crosshair: two arms and a circle that leave the very middle open to the eye."""
    x, y = at
    a = CROSSHAIR_MM
    return [((x - a, y), (x + a, y)), ((x, y - a), (x, y + a)), marks.ring(at, a / 2)]


def draw_tile(sheets: Sheets, name: str, layout: Layout, tile: Tile) -> None:
    """The named drawing's window with its crosshairs and trim lines."""
    corner = (SIDE_MM, HEAD_MM)
    sheets.place_scene(name, corner, layout.window_mm, tile.origin_mm)
    if len(layout.tiles) == 1:
        return
    sheets.pen(PENS["bar"])
    dx, dy = corner[0] - tile.origin_mm[0], corner[1] - tile.origin_mm[1]
    width, height = layout.window_mm
    for x, y in layout.lattice_mm:
        if 0 <= x - tile.origin_mm[0] <= width and 0 <= y - tile.origin_mm[1] <= height:
            sheets.lines(crosshair((x + dx, y + dy)))
    sheets.pen(TRIM)
    sheets.lines([marks.box(*corner, width, height)])
