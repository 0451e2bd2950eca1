"""A frame of beams cut from a board: stiffness in the board's plane and out of it.

In the plane each node has two displacements and a turn (bending, stretching);
out of it one displacement and two turns (bending, twisting), as in a grid of
beams. Shear is counted (Timoshenko beams). The section of a beam is its
thickness in the plane times the thickness of the board.

Rule: forces in a section are asked for by *influence*: one solve for a section
tells what a force at any node in any direction does to it.

Sources: element matrices: Przemieniecki, "Theory of Matrix Structural Analysis"
(1968), sections 5.6 and 11; twist of a rectangle: Roark's Formulas for Stress and
Strain, 7th ed., table 10.1, case 4; shear coefficient 5/6 of a rectangle (Reissner).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu

from companion.planner.outline import Floats, Ints

SHEAR_COEFFICIENT = 5.0 / 6.0


@dataclass(frozen=True)
class Beams:
    """A frame, before it is held anywhere."""

    xy: Floats
    """Nodes, shape (n, 2), mm."""
    ends: Ints
    """Pairs of nodes, shape (m, 2)."""
    bending_mm: Floats
    """For each beam the even thickness that bends like it, mm."""
    pulling_mm: Floats
    """For each beam the even thickness that stretches (and gives way out of plane) like it, mm."""
    board_mm: float
    """Thickness of the board."""
    modulus_mpa: float
    shear_ratio: float
    """Modulus over shear modulus."""


@dataclass(frozen=True)
class Section:
    """A cut through one end of a beam."""

    beam: int
    at_end: bool
    """At the beam's second node rather than its first."""


@dataclass(frozen=True)
class Influence:
    """What unit loads at each node do to one section."""

    moment: Floats
    """In-plane moment by force x, force y and moment at each node, shape (n, 3)."""
    pull: Floats
    """Axial force by the same, shape (n, 3)."""
    bend: Floats
    """Out-of-plane moment by force z and moments about x and y, shape (n, 3)."""
    twist: Floats
    """Twisting moment by the same, shape (n, 3)."""


def even_thickness(thickness: Floats, at: Ints, power: float) -> Floats:
    """The even thicknesses that give as much as runs of varying ones.

    Args:
        thickness: evenly spaced along all beams, one after the other, mm.
        at: where beams begin and end, ascending indices, shape (m + 1,).
        power: 3 for bending in the plane, 1 for stretching and bending out of it.

    Returns:
        Of each beam, mm, shape (m,).

    >>> even_thickness(np.array([2.0, 2.0, 2.0]), np.array([0, 2]), 3.0).round(6).tolist()
    [2.0]
    """
    give = thickness**-power
    total = np.concatenate(([0.0], np.cumsum(0.5 * (give[1:] + give[:-1]))))
    mean: Floats = np.diff(total[at]) / np.diff(at)
    result: Floats = mean ** (-1.0 / power)
    return result


def twist_constant(a: Floats, b: Floats) -> Floats:
    """Torsion constant J of rectangles, mm4 (Roark table 10.1, case 4).

    Args:
        a: one side, mm.
        b: the other, mm.

    >>> round(float(twist_constant(np.array(1.0), np.array(1.0))), 4)
    0.1408
    """
    long, short = np.maximum(a, b) / 2.0, np.minimum(a, b) / 2.0
    ratio = short / long
    result: Floats = long * short**3 * (16.0 / 3.0 - 3.36 * ratio * (1.0 - ratio**4 / 12.0))
    return result


def twist_stress(a: Floats, b: float) -> Floats:
    """Greatest shear stress of a rectangle for a unit twisting moment (Roark table 10.1, case 4).

    Args:
        a: one side of each, mm.
        b: the other, mm.

    Returns:
        MPa for 1 N mm.
    """
    long, short = np.maximum(a, b) / 2.0, np.minimum(a, b) / 2.0
    r = short / long
    result: Floats = (
        3.0 / (8.0 * long * short**2)
        * (1.0 + 0.6095 * r + 0.8865 * r**2 - 1.8023 * r**3 + 0.9100 * r**4)
    )  # fmt: skip
    return result


def _bending(rigidity: Floats, shear: Floats, length: Floats) -> Floats:
    """Stiffness of beams for (deflection, slope) at both ends, shape (m, 4, 4)."""
    soft = 12.0 * rigidity / (shear * length**2)
    k = rigidity / (length**3 * (1.0 + soft))
    out = np.zeros((len(length), 4, 4))
    for (i, j), value in {
        (0, 0): 12.0 + 0 * length, (0, 1): 6.0 * length, (0, 2): -12.0 + 0 * length,
        (0, 3): 6.0 * length, (1, 1): (4.0 + soft) * length**2, (1, 2): -6.0 * length,
        (1, 3): (2.0 - soft) * length**2, (2, 2): 12.0 + 0 * length, (2, 3): -6.0 * length,
        (3, 3): (4.0 + soft) * length**2,
    }.items():  # fmt: skip
        out[:, i, j] = out[:, j, i] = k * value
    return out


class Held:
    """A frame with some nodes held fast, ready to be loaded."""

    def __init__(self, beams: Beams, held: Ints, pinned: Ints | None = None) -> None:
        """Assemble and factor both stiffness matrices.

        Args:
            beams: the frame; every part of it must be tied to a held node.
            held: nodes that neither move nor turn.
            pinned: nodes that turn but do not move.
        """
        self.beams = beams
        step = beams.xy[beams.ends[:, 1]] - beams.xy[beams.ends[:, 0]]
        self._length = np.hypot(step[:, 0], step[:, 1])
        self._cos, self._sin = step[:, 0] / self._length, step[:, 1] / self._length
        free = np.ones((len(beams.xy), 3), dtype=bool)
        free[held] = False
        # in the plane the third of a node's moves is its turn, out of it the last two are
        plane, grid = free, free.copy()
        if pinned is not None:
            plane[pinned, :2] = False
            grid[pinned, 0] = False
        self._free = {False: np.flatnonzero(plane), True: np.flatnonzero(grid)}
        self._plane = self._in_plane()
        self._grid = self._out_of_plane()
        self._plane_solver = splu(self._assembled(False))
        self._grid_solver = splu(self._assembled(True))

    def _in_plane(self) -> Floats:
        """Rows of end forces (pull, side, moment at both ends) by global moves, (m, 6, 6)."""
        b = self.beams
        area = b.pulling_mm * b.board_mm
        rigidity = b.modulus_mpa * b.board_mm * b.bending_mm**3 / 12.0
        shear = SHEAR_COEFFICIENT * b.modulus_mpa / b.shear_ratio * area
        local = np.zeros((len(area), 6, 6))
        bend = _bending(rigidity, shear, self._length)
        at = np.array([1, 2, 4, 5])
        local[:, at[:, None], at] = bend
        stiff = b.modulus_mpa * area / self._length
        local[:, 0, 0] = local[:, 3, 3] = stiff
        local[:, 0, 3] = local[:, 3, 0] = -stiff
        turn = np.zeros_like(local)
        for k in (0, 3):
            turn[:, k, k] = turn[:, k + 1, k + 1] = self._cos
            turn[:, k, k + 1], turn[:, k + 1, k] = self._sin, -self._sin
            turn[:, k + 2, k + 2] = 1.0
        self._plane_turn = turn
        result: Floats = local @ turn
        return result

    def _out_of_plane(self) -> Floats:
        """Rows of end forces (side, moment, twist at both ends) by global moves, (m, 6, 6)."""
        b = self.beams
        rigidity = b.modulus_mpa * b.pulling_mm * b.board_mm**3 / 12.0
        shear_modulus = b.modulus_mpa / b.shear_ratio
        shear = SHEAR_COEFFICIENT * shear_modulus * b.pulling_mm * b.board_mm
        local = np.zeros((len(rigidity), 6, 6))
        bend = _bending(rigidity, shear, self._length)
        at = np.array([0, 1, 3, 4])
        local[:, at[:, None], at] = bend
        board = np.full_like(b.pulling_mm, b.board_mm)
        stiff = shear_modulus * twist_constant(b.pulling_mm, board) / self._length
        local[:, 2, 2] = local[:, 5, 5] = stiff
        local[:, 2, 5] = local[:, 5, 2] = -stiff
        turn = np.zeros_like(local)
        for k in (0, 3):
            # slope along the beam is turn x * sin - turn y * cos; twist is the turn about it
            turn[:, k, k] = 1.0
            turn[:, k + 1, k + 1], turn[:, k + 1, k + 2] = self._sin, -self._cos
            turn[:, k + 2, k + 1], turn[:, k + 2, k + 2] = self._cos, self._sin
        self._grid_turn = turn
        result: Floats = local @ turn
        return result

    def _assembled(self, grid: bool) -> csc_matrix[np.float64]:
        rows, turn = (self._grid, self._grid_turn) if grid else (self._plane, self._plane_turn)
        full = np.swapaxes(turn, 1, 2) @ rows
        ends = self.beams.ends
        place = (ends[:, :, None] * 3 + np.arange(3)).reshape(-1, 6)
        free = self._free[grid]
        number = np.full(3 * len(self.beams.xy), -1)
        number[free] = np.arange(len(free))
        place = number[place]
        row = np.repeat(place, 6, axis=1).ravel()
        column = np.tile(place, (1, 6)).ravel()
        loose = (row >= 0) & (column >= 0)
        entries = (full.ravel()[loose], (row[loose], column[loose]))
        return csc_matrix(entries, shape=(len(free), len(free)))

    def _solve(self, grid: bool, load: Floats) -> Floats:
        """Moves for load columns over all degrees of freedom, shape (3 n, k)."""
        solver = self._grid_solver if grid else self._plane_solver
        moves = np.zeros_like(load)
        free = self._free[grid]
        moves[free] = solver.solve(np.ascontiguousarray(load[free]))
        return moves

    def moves(self, load: Floats, out_of_plane: bool = False) -> Floats:
        """Displacements and turns under given loads.

        Args:
            load: shape (n, 3); in the plane force x, force y, moment; out of it
                force z, moment about x, moment about y; N and N mm.
            out_of_plane: which of the two.

        Returns:
            Shape (n, 3), mm and radians.
        """
        return self._solve(out_of_plane, load.reshape(-1, 1)).reshape(-1, 3)

    def influences(self, sections: list[Section]) -> list[Influence]:
        """What unit loads anywhere do to sections: four solves a section.

        Args:
            sections: where the inner forces are asked for.
        """
        count, total = len(sections), 3 * len(self.beams.xy)
        plane, grid = np.zeros((total, 2 * count)), np.zeros((total, 2 * count))
        for k, section in enumerate(sections):
            ends = self.beams.ends[section.beam]
            place = (ends[:, None] * 3 + np.arange(3)).ravel()
            shift = 3 if section.at_end else 0
            plane[place, 2 * k] = self._plane[section.beam, 2 + shift]
            plane[place, 2 * k + 1] = self._plane[section.beam, shift]
            grid[place, 2 * k] = self._grid[section.beam, 1 + shift]
            grid[place, 2 * k + 1] = self._grid[section.beam, 2 + shift]
        a, b = self._solve(False, plane), self._solve(True, grid)
        return [
            Influence(
                a[:, 2 * k].reshape(-1, 3), a[:, 2 * k + 1].reshape(-1, 3),
                b[:, 2 * k].reshape(-1, 3), b[:, 2 * k + 1].reshape(-1, 3),
            )
            for k in range(count)
        ]  # fmt: skip
