"""Papers, and how a scene is laid out on them as tiles at true size.

Tiles overlap by a fixed strip. The middles of the overlap strips form a lattice; a
crosshair stands at every lattice point, so each page carries four of them, and
neighbours share two. Portrait or landscape is chosen to need the fewest pages.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from importlib import resources

from companion.errors import UsageError
from companion.findings import Point
from companion.sentence import sentence
from companion.units import length_mm

SIDE_MM = 8.0
"""Unprinted margin at the left and right: home printers leave 4 to 6 mm."""
HEAD_MM = 14.0
"""From the top of the page to the drawing: margin and head line."""
FOOT_MM = 26.0
"""From the drawing to the bottom of the page: check bars, page map, margin."""
OVERLAP_MM = 12.0
EDGE_MM = 3.0
"""Room before a drawing that takes several pages."""
LEAST_WINDOW_MM = 60.0
LONGEST_MM = 5000.0
"""A page of a PDF may measure 14,400 points, 5,080 mm (PDF 1.7, Annex C)."""


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet of paper, upright; a roll has no height of its own."""

    name: str
    width_mm: float
    height_mm: float | None
    """None for a roll: as long as needed."""


@dataclass(frozen=True, slots=True)
class Tile:
    """One page's window on the scene."""

    column: int
    row: int
    """Both from 1."""
    origin_mm: Point
    """The window's top left, scene mm."""


@dataclass(frozen=True, slots=True)
class Layout:
    """All tiles of one scene on one paper."""

    paper: Paper
    page_mm: tuple[float, float]
    """Width and height of the page as printed, turned when landscape."""
    window_mm: tuple[float, float]
    """Width and height of the drawing on a page."""
    columns: int
    rows: int
    overlap_mm: float
    tiles: tuple[Tile, ...]
    """Row by row from the top left."""

    @property
    def covers_mm(self) -> tuple[float, float, float, float]:
        """Part of the scene that the tiles show: x min, y min, x max, y max."""
        first, last = self.tiles[0].origin_mm, self.tiles[-1].origin_mm
        return first[0], first[1], last[0] + self.window_mm[0], last[1] + self.window_mm[1]

    @property
    def lattice_mm(self) -> tuple[Point, ...]:
        """Places of the crosshairs, scene mm; none on a single page."""
        if len(self.tiles) == 1:
            return ()
        x0, y0 = self.tiles[0].origin_mm
        half = self.overlap_mm / 2
        step_x, step_y = (w - self.overlap_mm for w in self.window_mm)
        return tuple(
            (x0 + c * step_x + half, y0 + r * step_y + half)
            for r in range(self.rows + 1)
            for c in range(self.columns + 1)
        )


def papers() -> dict[str, Paper]:
    """The papers of the table, by name.

    >>> papers()["A4"].width_mm, sorted(papers())
    (210.0, ['A3', 'A4', 'Letter', 'Tabloid'])
    """
    text = resources.files("companion.draw").joinpath("data/papers.toml").read_text("utf-8")
    return {n: Paper(n, p["width_mm"], p["height_mm"]) for n, p in tomllib.loads(text).items()}


def find_paper(text: str) -> Paper:
    """Read ``--paper``: a name, or ``roll:610mm`` for a roll of that width.

    Raises:
        UsageError: no such paper, or a roll too narrow to hold the check bars.

    >>> find_paper("letter").name, find_paper("roll:24in").width_mm
    ('Letter', 609.5999999999999)
    """
    known = papers()
    for name, paper in known.items():
        if name.lower() == text.strip().lower():
            return paper
    kind, _, width = text.partition(":")
    if kind.strip().lower() == "roll" and width:
        roll = Paper("roll", length_mm(width), None)
        if roll.width_mm < LEAST_WINDOW_MM + 2 * SIDE_MM + 60.0:
            raise UsageError(
                sentence('the roll is too narrow: {strip}', strip=width.strip()), "",
                "Use one at least 140 mm wide, so that the check bars fit on it.",
            )  # fmt: skip
        return roll
    raise UsageError(
        sentence('unknown paper {text!r}', text=text), "",
        sentence('Use {known}, or roll:WIDTH as in roll:610mm.', known=', '.join(sorted(known))),
    )  # fmt: skip


def list_paper(paper: Paper) -> Paper:
    """The paper of the lists: read at the bench, where a roll or a poster is no help."""
    known = papers()
    return paper if paper.name in known and paper.width_mm < 220.0 else known["A4"]


def lay_out(
    bounds_mm: tuple[float, float, float, float], paper: Paper, tile: bool = True
) -> Layout:
    """Choose orientation and tiles for a scene.

    Args:
        bounds_mm: what must be shown: x min, y min, x max, y max.
        paper: the sheet.
        tile: False: one page as large as the scene, whatever the paper.

    Raises:
        UsageError: one page would be longer than a PDF page may be.
    """
    width, height = bounds_mm[2] - bounds_mm[0], bounds_mm[3] - bounds_mm[1]
    if not tile:
        page = (max(width, 130.0) + 2 * SIDE_MM, height + HEAD_MM + FOOT_MM)
        if max(page) > LONGEST_MM:
            raise UsageError(
                "the board is too large for one page",
                sentence("{width:.0f} x {height:.0f} mm", width=width, height=height),
                "Let it be tiled.",
            )
        return _grid(bounds_mm, Paper("one page", *page), page, OVERLAP_MM)
    if paper.height_mm is None:
        # along the roll or across it, as long as it takes
        along = (paper.width_mm, min(LONGEST_MM, height + HEAD_MM + FOOT_MM))
        across = (min(LONGEST_MM, max(width, 130.0) + 2 * SIDE_MM), paper.width_mm)
        pages = (along, across)
    else:
        pages = ((paper.width_mm, paper.height_mm), (paper.height_mm, paper.width_mm))
    layouts = [_grid(bounds_mm, paper, page, OVERLAP_MM) for page in pages]
    return min(layouts, key=_paper_used)


def _paper_used(layout: Layout) -> tuple[int, float]:
    """Pages, then area: what the choice of orientation saves."""
    return len(layout.tiles), layout.page_mm[0] * layout.page_mm[1]


def _grid(
    bounds_mm: tuple[float, float, float, float],
    paper: Paper,
    page: tuple[float, float],
    overlap: float,
) -> Layout:
    """Tiles of one page size over a scene."""
    window = (page[0] - 2 * SIDE_MM, page[1] - HEAD_MM - FOOT_MM)
    counts, starts = [], []
    for axis in (0, 1):
        size = bounds_mm[axis + 2] - bounds_mm[axis]
        step = window[axis] - overlap
        count = max(1, math.ceil((size - overlap) / step - 1e-9))
        covered = count * step + overlap
        counts.append(count)
        slack = covered - size
        # one page: in its middle; several: from the first, so that the last may be a strip
        starts.append(bounds_mm[axis] - (slack / 2 if count == 1 else min(slack / 2, EDGE_MM)))
    tiles = tuple(
        Tile(
            c + 1,
            r + 1,
            (
                starts[0] + c * (window[0] - overlap),
                starts[1] + r * (window[1] - overlap),
            ),
        )
        for r in range(counts[1])
        for c in range(counts[0])
    )
    return Layout(paper, page, window, counts[0], counts[1], overlap, tiles)
