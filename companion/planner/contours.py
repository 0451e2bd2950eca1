"""The lines to be sawn as a tree of closed contours in board millimetres.

The rule kept here: a piece's outline is an outside contour, each of its openings
an inside contour, and whoever encloses whom follows from the pattern alone. From
that tree come the two things everything else asks for: what must be cut before
what (design 5.1), and the region of waste in which a contour's hole may lie.

Every ring runs clockwise as seen on the board. With y down that is a positive
shoelace area, so the ring's interior lies at ``(-t_y, t_x)`` of its tangent t.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from companion.findings import Point
from companion.pattern.model import Pattern
from companion.pattern.overlay import difference, intersection, union_all
from companion.planner.plan import Side

NEAR_MM = 60.0
"""How far around a piece the board's margin is looked at for its hole."""


@dataclass(frozen=True, slots=True)
class Contour:
    """One closed line of the pattern, to be cut as a whole."""

    index: int
    """Place in the tuple that :func:`contours` returns, from 0."""
    side: Side
    """``inside`` frees an opening's waste, ``outside`` frees a piece."""
    piece: int
    """Number of the piece it belongs to, as in the pattern."""
    opening: int | None
    """Number of the opening; None for an outside contour."""
    ring: Polygon
    """The outline filled, without whatever lies inside; board mm, clockwise."""
    parent: int | None
    """Index of the contour that encloses it, nearest; None at the top."""
    children: tuple[int, ...]
    """Indices of the contours directly inside it, ascending."""


def contours(pattern: Pattern, shift_mm: Point = (0.0, 0.0)) -> tuple[Contour, ...]:
    """List the pattern's lines, each piece's openings before its outline.

    Args:
        pattern: as read, in page mm.
        shift_mm: added to every point to come from the page onto the board.

    Returns:
        One contour per opening and per piece, by piece number; ``[i].index == i``.
    """
    keys: list[tuple[int, int | None]] = []
    rings: list[Polygon] = []
    for piece in pattern.pieces:
        for opening in piece.openings:
            keys.append((piece.number, opening.number))
            rings.append(Polygon(opening.ring.exterior))
        keys.append((piece.number, None))
        rings.append(Polygon(piece.shape.exterior))
    place = {key: i for i, key in enumerate(keys)}
    piece_of = {o.number: o.piece for o in pattern.openings}
    parents: list[int | None] = []
    for piece in pattern.pieces:
        parents.extend([place[piece.number, None]] * len(piece.openings))
        within = piece.within
        parents.append(None if within is None else place[piece_of[within], within])
    children: list[list[int]] = [[] for _ in keys]
    for i, parent in enumerate(parents):
        if parent is not None:
            children[parent].append(i)
    moved = [orient(shapely.transform(ring, lambda xy: xy + shift_mm)) for ring in rings]
    return tuple(
        Contour(
            i, "outside" if keys[i][1] is None else "inside", keys[i][0], keys[i][1],
            moved[i], parents[i], tuple(children[i]),
        )
        for i in range(len(keys))
    )  # fmt: skip


def precedence(all_contours: Sequence[Contour]) -> tuple[tuple[int, int], ...]:
    """Pairs (before, after) that every order must keep: a child before its parent.

    A piece's openings are children of its outline, so this also says that all
    inside cuts of a piece come before its outside cut. Longer chains follow.
    """
    return tuple((child, c.index) for c in all_contours for child in c.children)


def frees(contour: Contour, all_contours: Sequence[Contour]) -> BaseGeometry:
    """The area that comes loose when the contour is cut, its children gone before.

    Inside: the opening's waste; outside: the piece. May be a MultiPolygon when
    children touch the ring.
    """
    if not contour.children:
        return contour.ring
    inner = union_all([all_contours[i].ring for i in contour.children])
    return difference(contour.ring, inner)


class Rooms:
    """The waste around or inside each contour; what contours share is found once.

    Args:
        all_contours: from :func:`contours`.
        width_mm: of the board.
        height_mm: of the board.
    """

    def __init__(self, all_contours: Sequence[Contour], width_mm: float, height_mm: float) -> None:
        self._all = tuple(all_contours)
        self._board = box(0.0, 0.0, width_mm, height_mm)
        self._tops = [c.ring for c in self._all if c.parent is None]
        self._kept: dict[int, BaseGeometry] = {}

    def of(self, contour: Contour) -> BaseGeometry:
        """The waste in which the contour's hole may lie, board mm.

        Inside: the opening without the pieces in it. Outside: the waste of the
        opening that encloses the piece; at the top the board within NEAR_MM of the
        piece, without any piece.
        """
        if contour.side == "inside":
            return self._inner(contour.index)
        if contour.parent is not None:
            return self._inner(contour.parent)
        x0, y0, x1, y1 = contour.ring.bounds
        near = box(x0 - NEAR_MM, y0 - NEAR_MM, x1 + NEAR_MM, y1 + NEAR_MM)
        return intersection(self._margin, near)

    def _inner(self, index: int) -> BaseGeometry:
        """The waste of an opening; found once, since its pieces share it."""
        if index not in self._kept:
            self._kept[index] = frees(self._all[index], self._all)
        return self._kept[index]

    @cached_property
    def _margin(self) -> BaseGeometry:
        """The board without any piece at the top."""
        return difference(self._board, union_all(self._tops))
