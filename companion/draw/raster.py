"""A raster of what is taken on the sheet, for placing labels.

Conservative: a box is called free only when no drawn line passes through it. Lines
are sampled at half a cell, and every question is asked for a box one cell larger.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from companion.findings import Point

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

CELL_MM = 0.2
MOST_CELLS = 6_000_000


class Raster:
    """Cells over the board and a border around it; True where something is drawn."""

    def __init__(self, size_mm: tuple[float, float], border_mm: float) -> None:
        import numpy as np

        width, height = (s + 2 * border_mm for s in size_mm)
        self.cell_mm = max(CELL_MM, math.sqrt(width * height / MOST_CELLS))
        self.border_mm = border_mm
        self.taken = np.zeros(
            (math.ceil(height / self.cell_mm) + 1, math.ceil(width / self.cell_mm) + 1), bool
        )

    def _cells(self, x: Floats, y: Floats) -> tuple[Ints, Ints]:
        """Row and column of places; places off the raster fall on its rim."""
        import numpy as np

        rows = np.floor((y + self.border_mm) / self.cell_mm).astype(np.int64)
        columns = np.floor((x + self.border_mm) / self.cell_mm).astype(np.int64)
        return (
            np.clip(rows, 0, self.taken.shape[0] - 1),
            np.clip(columns, 0, self.taken.shape[1] - 1),
        )

    def draw(self, *polylines: Sequence[Point]) -> None:
        """Mark the cells along polylines; one call for many is far faster than many calls."""
        import numpy as np

        if not polylines:
            return
        p = np.array([point for line in polylines for point in line], dtype=float)
        inner = np.ones(len(p), bool)
        inner[np.cumsum([len(line) for line in polylines]) - 1] = False
        first = np.flatnonzero(inner)
        start, step = p[first], p[first + 1] - p[first]
        count = np.ceil(np.hypot(step[:, 0], step[:, 1]) / (self.cell_mm / 2)).astype(int) + 1
        edge = np.repeat(np.arange(len(step)), count)
        nth = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
        t = nth / count[edge]
        # the last point of each edge is the first of the next, or an end of its own
        rows, columns = self._cells(
            np.append(start[edge, 0] + t * step[edge, 0], p[:, 0]),
            np.append(start[edge, 1] + t * step[edge, 1], p[:, 1]),
        )
        self.taken[rows, columns] = True

    def fill(self, at: Point, box: tuple[float, float]) -> None:
        """Mark a whole box."""
        r0, r1, c0, c1 = self._span(at, box)
        self.taken[max(r0, 0) : r1, max(c0, 0) : c1] = True

    def _span(self, at: Point, box: tuple[float, float]) -> tuple[int, int, int, int]:
        """Row and column ranges of a box widened by one cell; may pass the rim."""
        x, y = at[0] + self.border_mm, at[1] + self.border_mm
        c = self.cell_mm
        return (
            math.floor((y - box[1] / 2) / c) - 1,
            math.floor((y + box[1] / 2) / c) + 2,
            math.floor((x - box[0] / 2) / c) - 1,
            math.floor((x + box[0] / 2) / c) + 2,
        )

    def box_is_free(self, at: Point, box: tuple[float, float]) -> bool:
        """Whether nothing is drawn in a box, and the box lies on the raster."""
        r0, r1, c0, c1 = self._span(at, box)
        rows, columns = self.taken.shape
        if r0 < 0 or c0 < 0 or r1 > rows or c1 > columns:
            return False
        return not bool(self.taken[r0:r1, c0:c1].any())

    def sums(self) -> NDArray[np.int32]:
        """Running sums over rows and columns, for :meth:`free`."""
        import numpy as np

        rows, columns = self.taken.shape
        sums = np.zeros((rows + 1, columns + 1), np.int32)
        np.cumsum(self.taken, axis=0, dtype=np.int32, out=sums[1:, 1:])
        np.cumsum(sums[1:, 1:], axis=1, out=sums[1:, 1:])
        return sums

    def free(self, sums: NDArray[np.int32], centres: Floats, box: tuple[float, float]) -> Flags:
        """Which boxes around the centres are free, by running sums taken earlier."""
        import numpy as np

        c = self.cell_mm
        x, y = centres[:, 0] + self.border_mm, centres[:, 1] + self.border_mm
        r0 = np.floor((y - box[1] / 2) / c).astype(np.int64) - 1
        r1 = np.floor((y + box[1] / 2) / c).astype(np.int64) + 2
        c0 = np.floor((x - box[0] / 2) / c).astype(np.int64) - 1
        c1 = np.floor((x + box[0] / 2) / c).astype(np.int64) + 2
        rows, columns = self.taken.shape
        inside = (r0 >= 0) & (c0 >= 0) & (r1 <= rows) & (c1 <= columns)
        r0, r1 = np.clip(r0, 0, rows), np.clip(r1, 0, rows)
        c0, c1 = np.clip(c0, 0, columns), np.clip(c1, 0, columns)
        found = sums[r1, c1] - sums[r0, c1] - sums[r1, c0] + sums[r0, c0]
        free: Flags = inside & (found == 0)
        return free

    def hits_along(self, start: Point, ends: Floats) -> Ints:
        """How many stretches of drawn cells lie on the ways from one place to many."""
        import numpy as np

        return self.runs_between(np.broadcast_to(np.array(start), ends.shape), ends)

    def runs_between(self, starts: Floats, ends: Floats) -> Ints:
        """How many separate stretches of drawn cells lie on each straight way."""
        import numpy as np

        way = ends - starts
        longest = float(np.hypot(way[:, 0], way[:, 1]).max(initial=0.0))
        t = np.linspace(0.0, 1.0, max(2, math.ceil(longest / (self.cell_mm * 0.7)) + 1))
        x = starts[:, 0, None] + way[:, 0, None] * t
        y = starts[:, 1, None] + way[:, 1, None] * t
        rows, columns = self._cells(x, y)
        hit = self.taken[rows, columns]
        rises = hit[:, 1:] & ~hit[:, :-1]
        runs: Ints = rises.sum(axis=1) + hit[:, 0]
        return runs
