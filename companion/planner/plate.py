"""The board as a thin plate on a regular grid: how far it gives under a push.

The rule kept here: a cell's stiffness is that of the whole board times the share of
wood left in it, and the border is held. Taking wood away only ever lowers stiffness,
so the give never falls as more is cut; the rule of order rests on that.

The element is the rectangular one with twelve degrees of freedom, deflection and two
slopes at each corner (Melosh 1963; Zienkiewicz & Cheung 1964). It is checked against
the published coefficients of square plates in tests/published/test_plates.py.

Grid columns couple only to their neighbours, so the system is block tridiagonal.
Eliminating it from the left and from the right meets in every column with the give
of *all* its nodes: give_k = diag((S_k + R_k - A_k)^-1). That replaces one solve per
sampled point, and when wood comes back in a few columns only what lies behind them
on either side is eliminated again.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Literal

import numpy as np
import numpy.typing as npt
import shapely
from scipy.linalg.blas import dsyrk, dtrsm
from scipy.linalg.lapack import dpotrf
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry
from threadpoolctl import ThreadpoolController

from companion.pattern.overlay import intersection

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
Border = Literal["clamped", "supported"]

POISSON = 0.3
"""Poisson's ratio: only ratios of gives matter, and the tables of plates use 0.3."""
FLOOR = 1e-4
"""Stiffness left in an empty cell, so that the system stays regular."""


def element(width: float, height: float) -> Floats:
    """Stiffness of one rectangular plate element for D = 1.

    Corners in the order (0,0), (0,h), (w,0), (w,h); at each the deflection, its slope
    in x times w and its slope in y times h (so that all entries have one scale).

    Args:
        width: of the cell in x, any unit of length.
        height: of the cell in y, same unit.

    Returns:
        (12, 12), symmetric, in 1/length**2; three zero eigenvalues (rigid motions).
    """
    in_x = np.array([0, 1, 0, 2, 1, 0, 3, 2, 1, 0, 3, 1])
    in_y = np.array([0, 0, 1, 0, 1, 2, 0, 1, 2, 3, 1, 3])

    def derived(power: Ints, x: float, times: int) -> Floats:
        """Derivatives of powers of x: 0, 1 or 2 times."""
        factor = (np.ones(12), power, power * (power - 1))[times]
        return np.asarray(factor * x ** np.maximum(power - times, 0).astype(float))

    def terms(x: float, y: float, dx: int, dy: int) -> Floats:
        return derived(in_x, x, dx) * derived(in_y, y, dy)

    corners = [(0.0, 0.0), (0.0, 1.0), (1.0, 0.0), (1.0, 1.0)]
    shape = np.linalg.inv(
        np.array([terms(x, y, dx, dy) for x, y in corners for dx, dy in ((0, 0), (1, 0), (0, 1))])
    )
    bending = np.array([[1, POISSON, 0], [POISSON, 1, 0], [0, 0, (1 - POISSON) / 2]])
    nodes, weights = np.polynomial.legendre.leggauss(4)
    total = np.zeros((12, 12))
    for x, wx in zip((nodes + 1) / 2, weights / 2, strict=True):
        for y, wy in zip((nodes + 1) / 2, weights / 2, strict=True):
            curvature = np.array(
                [
                    terms(x, y, 2, 0) / width**2,
                    terms(x, y, 0, 2) / height**2,
                    2 * terms(x, y, 1, 1) / (width * height),
                ]
            )
            b = curvature @ shape
            total += wx * wy * b.T @ bending @ b
    return np.asarray(total * width * height)


class Grid:
    """Equal cells over the board; columns run along its shorter side.

    Args:
        width_mm: of the board.
        height_mm: of the board.
        cells: about how many cells in all.
    """

    def __init__(self, width_mm: float, height_mm: float, cells: int) -> None:
        self.turned = height_mm > width_mm
        """Whether x and y change places inside the grid."""
        long, short = max(width_mm, height_mm), min(width_mm, height_mm)
        edge = (long * short / cells) ** 0.5
        self.rows = max(4, round(short / edge))
        """Cells across the shorter side."""
        self.columns = max(4, min(round(long / edge), cells // 4))
        """Cells along the longer side."""
        self.size_mm = np.array([long / self.columns, short / self.rows])
        """Of one cell, along the longer and the shorter side."""
        self._board = box(0.0, 0.0, width_mm, height_mm)

    def inside(self, xy_mm: Floats) -> Floats:
        """Board mm, (n, 2), to units of cells along the longer and the shorter side."""
        xy = np.asarray(xy_mm, dtype=np.float64)
        return np.asarray((xy[:, ::-1] if self.turned else xy) / self.size_mm)

    def share(self, shape: BaseGeometry) -> tuple[slice, slice, Floats]:
        """Share of each cell that a shape covers, exact.

        Each edge adds, to its own cell, the area between itself and the cell's far
        side, and to all cells beyond it a full strip; signs cancel outside.

        Args:
            shape: polygon, multipolygon or empty, board mm.

        Returns:
            Columns and rows that it touches, and the shares in them, (columns, rows).
        """
        if not self._board.covers(shape):
            shape = intersection(shape, self._board)
        shape = shapely.orient_polygons(shape)
        rings = shapely.get_rings(shapely.get_parts(shape))
        rings = rings[shapely.area(shapely.polygons(rings)) > 0] if len(rings) else rings
        if not len(rings):
            return slice(0, 0), slice(0, 0), np.zeros((0, 0))
        xy, of = shapely.get_coordinates(rings, return_index=True)
        xy = np.clip(self.inside(xy), 0.0, (self.columns, self.rows))
        low = np.floor(xy.min(axis=0)).astype(np.intp)
        high = np.maximum(np.ceil(xy.max(axis=0)).astype(np.intp), low + 1)
        joined = of[1:] == of[:-1]
        signed = _coverage(xy[:-1][joined] - low, xy[1:][joined] - low, high - low)
        covered = np.clip(signed * (1.0 if signed.sum() > 0 else -1.0), 0.0, 1.0)
        return slice(low[0], high[0]), slice(low[1], high[1]), covered


def _coverage(start: Floats, end: Floats, size: Ints) -> Floats:
    """Signed area that edges cover in each unit cell; see :meth:`Grid.share`.

    Args:
        start: (n, 2), inside [0, size].
        end: (n, 2).
        size: columns and rows.
    """
    count = len(start)
    owner, at = [np.arange(count)], [np.zeros(count)]
    for axis in (0, 1):
        a, b = start[:, axis], end[:, axis]
        first = np.floor(np.minimum(a, b)).astype(np.intp) + 1
        crossed = np.maximum(np.ceil(np.maximum(a, b)).astype(np.intp) - first, 0)
        edge = np.repeat(np.arange(count), crossed)
        nth = np.arange(len(edge)) - np.repeat(np.cumsum(crossed) - crossed, crossed)
        owner.append(edge)
        at.append((first[edge] + nth - a[edge]) / (b[edge] - a[edge]))
    edge, t = np.concatenate(owner), np.concatenate(at)
    rank = np.lexsort((t, edge))
    edge, t = edge[rank], t[rank]
    last = np.append(edge[1:] != edge[:-1], True)
    t_end = np.where(last, 1.0, np.append(t[1:], 1.0))
    step = end[edge] - start[edge]
    p, q = start[edge] + step * t[:, None], start[edge] + step * t_end[:, None]
    middle, rise = (p + q) / 2, (q - p)[:, 1]
    cell = np.minimum(np.floor(middle).astype(np.intp), size - 1)
    flat = cell[:, 0] * size[1] + cell[:, 1]
    total = int(size[0] * size[1])
    own = np.bincount(flat, rise * (cell[:, 0] + 1 - middle[:, 0]), total).reshape(size)
    beyond = np.bincount(flat, rise, total).reshape(size)
    return np.asarray(own + np.cumsum(beyond, axis=0) - beyond)


class Plate:
    """Gives of a plate whose cells may change, eliminated again only where needed.

    Args:
        columns: cells along x (elimination runs along x; make it the longer side).
        rows: cells along y.
        cell: width and height of a cell.
        stiffness: (columns, rows), 1 = the whole board.
        border: ``clamped`` (no deflection, no slope) or ``supported`` (no deflection).
    """

    def __init__(
        self,
        columns: int,
        rows: int,
        cell: tuple[float, float],
        stiffness: Floats,
        border: Border = "clamped",
    ) -> None:
        self.columns, self.rows = columns, rows
        self._k = element(*cell)
        nodes = rows + 1
        self._stiffness = np.zeros((columns, rows))
        self._own = np.zeros((columns + 1, 3 * nodes, 3 * nodes))
        self._next = np.zeros((columns, 3 * nodes, 3 * nodes))
        self._free = [_free_dofs(i in (0, columns), nodes, border) for i in range(columns + 1)]
        self._at = [_span(f) for f in self._free]
        self._blocks = [i for i in range(columns + 1) if len(self._free[i])]
        size = columns + 1
        self._left: list[Floats | None] = [None] * size
        self._right: list[Floats | None] = [None] * size
        self._valid_left, self._valid_right = -1, size
        self.change(slice(0, columns), stiffness)

    def change(self, columns: slice, stiffness: Floats) -> None:
        """Give some columns of cells a new stiffness.

        Args:
            columns: which, with start and stop.
            stiffness: (columns, rows), all the rows.
        """
        c0, c1 = columns.start, columns.stop
        if c1 <= c0:
            return
        self._stiffness[c0:c1] = stiffness
        self._own[c0 : c1 + 1] = 0.0
        self._next[c0:c1] = 0.0
        first, last = max(c0 - 1, 0), min(c1 + 1, self.columns)
        k, s = self._k, self._stiffness
        # A node column is fed from both sides; only the columns zeroed above are filled.
        _fill(self._own[c0:c1], s[c0:c1], k[:6, :6])
        _fill(self._own[c0 + 1 : c1 + 1], s[c0:c1], k[6:, 6:])
        _fill(self._next[c0:c1], s[c0:c1], k[:6, 6:])
        if first < c0:
            _fill(self._own[c0 : c0 + 1], s[first:c0], k[6:, 6:])
        if last > c1:
            _fill(self._own[c1 : c1 + 1], s[c1:last], k[:6, :6])
        self._valid_left = min(self._valid_left, c0 - 1)
        self._valid_right = max(self._valid_right, c1 + 1)

    def _a(self, i: int) -> Floats:
        return _block(self._own[i], self._at[i], self._at[i])

    def _eliminate(self, asked: Sequence[int]) -> None:
        """Bring both eliminations up to date as far as the columns asked for.

        Touches only what :meth:`change` spoilt.
        """
        first, last = self._blocks[0], self._blocks[-1]
        high, low = min(asked[-1], last), max(asked[0], first)
        for i in range(max(self._valid_left + 1, first), high + 1):
            before = self._left[i - 1] if i > first else None
            self._left[i] = _reduce(
                self._a(i), before, self._coupling(i - 1) if i > first else None
            )
        for i in range(min(self._valid_right - 1, last), low - 1, -1):
            after = self._right[i + 1] if i < last else None
            self._right[i] = _reduce(self._a(i), after, self._coupling(i).T if i < last else None)
        self._valid_left = max(self._valid_left, high)
        self._valid_right = min(self._valid_right, low)

    def _coupling(self, i: int) -> Floats:
        return _block(self._next[i], self._at[i], self._at[i + 1])

    def gives(self, nodes: Sequence[Ints]) -> list[Floats]:
        """Deflection of each node under a unit force on that node.

        Args:
            nodes: for every node column, ``columns + 1`` of them, the rows asked for.

        Returns:
            For every column one value a row; 0 where the border holds it. In
            force * length**2 / D for the unit of length of ``cell``.
        """
        # One thread: the blocks are small, threads only wait for each other (measured 28
        # times slower on two busy cores), and sums come out alike on every machine.
        with _threads().limit(limits=1, user_api="blas"):
            asked = [i for i, rows in enumerate(nodes) if len(rows)]
            if asked:
                self._eliminate(asked)
            return self._meet(nodes)

    def _meet(self, nodes: Sequence[Ints]) -> list[Floats]:
        """Put both eliminations together in every column that is asked for."""
        out: list[Floats] = []
        for i, rows in enumerate(nodes):
            value = np.zeros(len(rows))
            place = np.searchsorted(self._free[i], 3 * rows)
            place = np.minimum(place, max(len(self._free[i]) - 1, 0))
            held = not len(self._free[i]) or not len(rows)
            if not held:
                loose = self._free[i][place] == 3 * rows
                left, right = self._left[i], self._right[i]
                assert left is not None and right is not None
                factor = _cholesky(left + right - self._a(i))
                push = np.zeros((len(factor), int(loose.sum())), order="F")
                push[place[loose], np.arange(push.shape[1])] = 1.0
                half = dtrsm(1.0, factor, push, lower=1, overwrite_b=1)
                value[loose] = np.einsum("ij,ij->j", half, half)
            out.append(value)
        return out


@cache
def _threads() -> ThreadpoolController:
    """The loaded linear algebra libraries; looking for them takes milliseconds."""
    return ThreadpoolController()


def _free_dofs(at_end: bool, nodes: int, border: Border) -> Ints:
    """Degrees of freedom of one node column that the border leaves free."""
    free = np.ones((nodes, 3), dtype=bool)
    if border == "clamped":
        free[[0, -1]] = False
        free[:] &= not at_end
    else:
        free[[0, -1], :2] = False
        if at_end:
            free[:, [0, 2]] = False
    return np.flatnonzero(free.ravel())


def _fill(blocks: Floats, stiffness: Floats, part: Floats) -> None:
    """Add a 6 x 6 part of the element, once a cell, along the blocks' diagonals."""
    count, size = blocks.shape[0], blocks.shape[1]
    s0, s1, s2 = blocks.strides
    windows = np.lib.stride_tricks.as_strided(
        blocks, (count, size // 3 - 1, 6, 6), (s0, 3 * (s1 + s2), s1, s2)
    )
    for parity in (0, 1):  # neighbours overlap; every other one does not
        windows[:, parity::2] += stiffness[:, parity::2, None, None] * part


def _cholesky(matrix: Floats) -> Floats:
    factor, info = dpotrf(matrix, lower=1, clean=1)
    if info:
        raise np.linalg.LinAlgError("the plate's stiffness is not positive definite")
    return np.asarray(factor)


def _span(places: Ints) -> slice | Ints:
    """Places as a slice where they follow each other: most of them do."""
    if len(places) and places[-1] - places[0] + 1 == len(places):
        return slice(int(places[0]), int(places[-1]) + 1)
    return places


def _block(matrix: Floats, rows: slice | Ints, columns: slice | Ints) -> Floats:
    """Some rows and columns, a view where both are slices."""
    return np.asarray(matrix[rows][:, columns])


def _reduce(own: Floats, behind: Floats | None, coupling: Floats | None) -> Floats:
    """A column's stiffness once all columns behind it are eliminated.

    Only the lower triangle counts: that above the diagonal is left as it was.
    """
    if behind is None or coupling is None:
        return own.copy()
    half = dtrsm(1.0, _cholesky(behind), coupling, lower=1)
    return np.asarray(dsyrk(-1.0, half, 1.0, own, trans=1, lower=1))
