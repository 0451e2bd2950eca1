"""Areas and lines in mm, painted on terminal cells.

The rules kept here: the aspect of a cell stands in one place (``CELL_ASPECT``),
and what an area is can be told by its pattern as well as by its tone. Braille is
the finest canvas (2 x 4 dots, one colour a cell); quadrants are solid and need
fewer glyphs of the font; ASCII is what is left. All work is done in numpy on
arrays of dots: y first, then x.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Literal

import numpy as np
import numpy.typing as npt

from companion.findings import Point

Ints = npt.NDArray[np.int32]
Floats = npt.NDArray[np.float64]
Signs = npt.NDArray[np.str_]
Mode = Literal["braille", "quadrant", "ascii"]

CELL_ASPECT = 2.0
"""Height of a terminal cell over its width."""
DOTS: dict[Mode, tuple[int, int]] = {"braille": (4, 2), "quadrant": (2, 2), "ascii": (1, 1)}
"""Dots per cell, down and across."""

_BRAILLE_BITS = np.array([[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]])
_QUADRANT_BITS = np.array([[1, 2], [4, 8]])
_QUADRANTS = np.array(list(" ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█"))
_BRAILLES = np.array([chr(0x2800 + n) for n in range(256)])
_BRAILLES[0] = " "


class Area(IntEnum):
    """What a place of the board is."""

    BARE = 0
    """Outside the board."""
    WASTE = 1
    """Standing wood that will be removed."""
    KEEP = 2
    """Wood of a piece."""
    AWAY = 3
    """Cut away; air."""
    FREED = 4
    """Where a finished piece was taken out."""


class Ink(IntEnum):
    """What a cell's sign is; the screen gives each its colour."""

    NONE = 0
    PATTERN = 1
    """The area's own pattern."""
    FRAME = 2
    """Edge of the board."""
    LATER = 3
    """Line of a cut still to be made."""
    DONE = 4
    """Line of a cut that is made."""
    NOW = 5
    """Line of the current cut."""
    MARK = 6
    """Hole, start, arrow, turn."""
    HOLD = 7
    """Where to hold."""
    NECK = 8
    """A narrow place."""


@dataclass(frozen=True, slots=True)
class View:
    """Which part of the board fills which cells."""

    columns: int
    rows: int
    left_mm: float
    """Board x at the left edge of the first column."""
    top_mm: float
    """Board y at the top edge of the first row."""
    columns_per_mm: float

    @classmethod
    def around(cls, box_mm: tuple[float, float, float, float], columns: int, rows: int) -> View:
        """The view that shows a whole box (x0, y0, x1, y1), centred, in true proportion."""
        x0, y0, x1, y1 = box_mm
        wide, high = max(x1 - x0, 1e-6), max(y1 - y0, 1e-6)
        k = min(columns / wide, rows * CELL_ASPECT / high)
        # whole free cells left and above: an edge of the board falls on an edge of a cell
        free_columns = (columns - wide * k) // 2
        free_rows = (rows - high * k / CELL_ASPECT) // 2
        return cls(columns, rows, x0 - free_columns / k, y0 - free_rows * CELL_ASPECT / k, k)

    def cell(self, at: Point) -> tuple[int, int]:
        """Column and row of a place; it may lie outside the view."""
        x = (at[0] - self.left_mm) * self.columns_per_mm
        y = (at[1] - self.top_mm) * self.columns_per_mm / CELL_ASPECT
        return int(np.floor(x)), int(np.floor(y))

    def dots(self, points: Floats, mode: Mode) -> Floats:
        """Places (n, 2) in mm as dot coordinates (n, 2), x first; dot centres at .5."""
        down, across = DOTS[mode]
        k = self.columns_per_mm
        scale = np.array([k * across, k * down / CELL_ASPECT])
        shifted: Floats = (points - np.array([self.left_mm, self.top_mm])) * scale
        return shifted

    @property
    def box_mm(self) -> tuple[float, float, float, float]:
        """What can be seen: x0, y0, x1, y1."""
        return (
            self.left_mm, self.top_mm,
            self.left_mm + self.columns / self.columns_per_mm,
            self.top_mm + self.rows * CELL_ASPECT / self.columns_per_mm,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Frame:
    """A painted picture: one sign, ink and area for each cell."""

    signs: Signs
    """(rows, columns), one character each."""
    ink: Ints
    area: Ints

    def text(self) -> str:
        """The signs alone, as lines."""
        return "\n".join("".join(row) for row in self.signs)


def fill(field: Ints, outline: Floats, value: int) -> None:
    """Give every dot whose centre lies inside a closed outline (even-odd) a value, in place.

    Args:
        field: (height, width) array of dots.
        outline: (n, 2) dot coordinates; closed whether or not the first point is repeated.
        value: what to write.
    """
    high, wide = field.shape
    x0, y0 = outline[:, 0], outline[:, 1]
    x1, y1 = np.roll(x0, -1), np.roll(y0, -1)
    first = np.clip(np.ceil(np.minimum(y0, y1) - 0.5), 0, high).astype(np.int64)
    last = np.clip(np.ceil(np.maximum(y0, y1) - 0.5), 0, high).astype(np.int64)
    counts = last - first
    crossed = np.nonzero(counts > 0)[0]
    if not crossed.size:
        return
    counts = counts[crossed]
    edge = np.repeat(crossed, counts)
    step = np.arange(edge.size) - np.repeat(np.cumsum(counts) - counts, counts)
    row = first[edge] + step
    x = x0[edge] + (row + 0.5 - y0[edge]) * (x1[edge] - x0[edge]) / (y1[edge] - y0[edge])
    column = np.clip(np.ceil(x - 0.5), 0, wide).astype(np.int64)
    top, left = int(row.min()), int(column.min())
    tall, broad = int(row.max()) - top + 1, int(column.max()) - left + 1
    flips = np.bincount((row - top) * broad + column - left, minlength=tall * broad)
    inside = np.cumsum(flips.reshape(tall, broad), axis=1) % 2 == 1
    part = field[top : top + tall, left : left + broad]
    part[inside[:, : part.shape[1]]] = value


def stroke(field: Ints, starts: Floats, ends: Floats, values: Ints) -> None:
    """Write each segment's value on the dots it passes, in place; later ones win.

    Args:
        field: (height, width) array of dots.
        starts: (n, 2) dot coordinates.
        ends: (n, 2) dot coordinates.
        values: (n,) what to write.
    """
    if not len(starts):
        return
    high, wide = field.shape
    near = (
        (np.maximum(starts, ends) >= 0).all(axis=1)
        & (np.minimum(starts[:, 0], ends[:, 0]) < wide)
        & (np.minimum(starts[:, 1], ends[:, 1]) < high)
    )
    starts, ends, values = starts[near], ends[near], values[near]
    counts = np.ceil(np.abs(ends - starts).max(axis=1, initial=0.0)).astype(np.int64) + 1
    which = np.repeat(np.arange(len(starts)), counts)
    step = np.arange(which.size) - np.repeat(np.cumsum(counts) - counts, counts)
    share = (step / np.maximum(counts[which] - 1, 1))[:, None]
    at = np.floor(starts[which] + (ends[which] - starts[which]) * share).astype(np.int64)
    seen = (at >= 0).all(axis=1) & (at[:, 0] < wide) & (at[:, 1] < high)
    field[at[seen, 1], at[seen, 0]] = values[which[seen]]


def _blocks(dots: Ints, mode: Mode) -> Ints:
    """(rows*d, cols*a) dots as (rows, cols, d, a)."""
    down, across = DOTS[mode]
    high, wide = dots.shape
    split = dots.reshape(high // down, down, wide // across, across)
    blocks: Ints = split.swapaxes(1, 2)
    return blocks


def _pattern(areas: Ints, mode: Mode) -> Ints:
    """The dots of each area's own pattern, as on the sheet: waste striped, kept wood plain.

    Plain is dotted here, for on the screen bare means cut away.
    """
    y, x = np.indices(areas.shape)
    if mode == "braille":
        hatch = (x + y) % 4 == 0
        dotted = (x % 4 == 1) & (y % 4 == 2)
    else:
        hatch = (x + y) % 2 == 0
        dotted = np.zeros_like(hatch)
    dots = ((areas == Area.WASTE) & hatch) | ((areas == Area.KEEP) & dotted)
    return np.where(dots, 1, 0).astype(np.int32)


def _broad(inks: Ints, mode: Mode) -> Ints:
    """The current line, twice as broad where the dots are fine: it is the one to see."""
    if mode != "braille":
        return inks
    now = inks == Ink.NOW
    now[1:] |= now[:-1].copy()
    now[:, 1:] |= now[:, :-1].copy()
    return np.where(now, np.maximum(inks, Ink.NOW), inks).astype(np.int32)


def paint(areas: Ints, inks: Ints, mode: Mode) -> Frame:
    """Turn dots into cells.

    Args:
        areas: (rows*d, cols*a) :class:`Area` per dot.
        inks: the same shape, :class:`Ink` per dot, NONE where there is no line.
        mode: which canvas.

    Returns:
        One sign per cell. A cell with lines has the colour of the most important, and
        any other cell shows its area's pattern.
    """
    cell_areas = _blocks(areas, mode)
    counts = np.stack([(cell_areas == a).sum(axis=(2, 3)) for a in Area])
    # a cell that the board's edge runs through belongs to the board
    counts[Area.BARE] *= counts[1:].sum(axis=0) == 0
    area = np.argmax(counts, axis=0).astype(np.int32)
    cell_inks = _blocks(_broad(inks, mode), mode)
    top_ink = cell_inks.max(axis=(2, 3)).astype(np.int32)
    if mode == "ascii":
        return _paint_ascii(area, top_ink)
    lined = top_ink > Ink.NONE
    # the current line stands alone in its cell; others share theirs
    least = np.where(top_ink < Ink.NOW, Ink.PATTERN, top_ink)
    line_dots = (cell_inks >= least[:, :, None, None]).astype(np.int32)
    if mode == "quadrant":
        return _paint_quadrants(area, top_ink, line_dots)
    dots = np.where(lined[:, :, None, None], line_dots, _blocks(_pattern(areas, mode), mode))
    signs = _BRAILLES[(dots * _BRAILLE_BITS).sum(axis=(2, 3))]
    return Frame(signs, np.where(lined, top_ink, Ink.PATTERN).astype(np.int32), area)


def _paint_quadrants(area: Ints, top_ink: Ints, line_dots: Ints) -> Frame:
    lines = _QUADRANTS[(line_dots * _QUADRANT_BITS).sum(axis=(2, 3))]
    shade = np.array([" ", "/", "░", " ", " "])[area]
    lined = top_ink > Ink.NONE
    ink = np.where(lined, top_ink, Ink.PATTERN).astype(np.int32)
    return Frame(np.where(lined, lines, shade), ink, area)


def _paint_ascii(area: Ints, top_ink: Ints) -> Frame:
    plain = np.array([" ", "/", ".", " ", " "])[area]
    line = np.array([" ", " ", "+", ":", "'", "*", "*", "*", "*"])[top_ink]
    lined = top_ink > Ink.NONE
    ink = np.where(lined, top_ink, Ink.PATTERN).astype(np.int32)
    return Frame(np.where(lined, line, plain), ink, area)
