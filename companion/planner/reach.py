"""Reach: can the board swing through a cut without meeting the back of the saw.

The blade's teeth face the sawyer and the wood is fed away from the sawyer, so
the heading u of the cut, drawn on the board, always points to the sawyer and -u to
the rear of the saw. The frame stands ``throat`` behind the blade at p: no corner c of
the board may lie further back than that, (c - p) . (-u) <= throat - margin, which is
the rule of design 5.4, (p - c) . u <= throat - margin.

Whole lines are tested at once; nothing here is sampled more coarsely than a
vertex, and a turn on the spot is tested over its whole swing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from companion.planner.linework import Bools, Floats
from companion.shop.model import SawProfile


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """What the saw allows with one board.

    The board is given by its corners (k, 2), mm; any convex outline will do.
    """

    corners_mm: Floats
    throat_mm: float
    """Blade to frame, less the margin."""

    def behind(self, at: Floats, heading: Floats) -> Floats:
        """How far the board reaches behind the blade at each place, mm.

        Args:
            at: blade positions (n, 2).
            heading: unit headings of the cut there (n, 2).

        Returns:
            The largest (p - c) . u over the board's corners (n,).
        """
        front = (self.corners_mm @ heading.T).min(axis=0)
        return np.asarray((at * heading).sum(axis=1) - front, dtype=np.float64)

    def clears(self, at: Floats, heading: Floats) -> Bools:
        """Whether the board clears the frame at each place."""
        return np.asarray(self.behind(at, heading) <= self.throat_mm, dtype=np.bool_)

    def swing(self, at: Floats, before: Floats, after: Floats) -> Floats:
        """Furthest reach behind the blade while the work turns on the spot, mm.

        Args:
            at: the spots (n, 2).
            before: unit headings before the turns (n, 2).
            after: unit headings after them (n, 2); the shorter way round is taken.

        Returns:
            The largest (p - c) . u over the corners and over every heading u passed
            through (n,): a corner's own distance when u passes through its direction.
        """
        a = np.arctan2(before[:, 1], before[:, 0])[:, None]
        cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
        b = a + np.arctan2(cross, (before * after).sum(axis=1))[:, None]
        to = at[:, None, :] - self.corners_mm[None, :, :]
        size, angle = np.hypot(to[:, :, 0], to[:, :, 1]), np.arctan2(to[:, :, 1], to[:, :, 0])
        ends = np.maximum(size * np.cos(angle - a), size * np.cos(angle - b))
        low = np.minimum(a, b)
        within = np.mod(angle - low, 2 * np.pi) <= np.abs(b - a)
        return np.asarray(np.where(within, size, ends).max(axis=1), dtype=np.float64)


def reach_of(saw: SawProfile, width_mm: float, height_mm: float) -> Reach:
    """The reach of a saw with a rectangular board whose top left is the origin."""
    corners = np.array(
        [[0.0, 0.0], [width_mm, 0.0], [width_mm, height_mm], [0.0, height_mm]], dtype=np.float64
    )
    return Reach(corners, saw.throat_mm - saw.margin_mm)


def worst(reach: Reach, line_mm: Floats) -> tuple[float, int]:
    """The furthest reach behind the blade along a path, and at which place of it.

    Swings at its vertices are included.

    Returns:
        Millimetres behind the blade, and the index of the vertex where it happens.
    """
    step = np.diff(line_mm, axis=0)
    size = np.hypot(step[:, 0], step[:, 1])
    index = np.flatnonzero(size > 1e-9)
    unit = step[index] / size[index, None]
    first = reach.behind(line_mm[index], unit)
    second = reach.behind(line_mm[index + 1], unit)
    both = np.concatenate([first, second])
    where = np.concatenate([index, index + 1])
    top = int(np.argmax(both))
    best, at = float(both[top]), int(where[top])
    if len(index) > 1:
        swings = reach.swing(line_mm[index[1:]], unit[:-1], unit[1:])
        top = int(np.argmax(swings))
        if float(swings[top]) > best:
            best, at = float(swings[top]), int(index[1:][top])
    return best, at
