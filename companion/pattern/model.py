"""What the reader hands to the planner: closed regions in millimetres.

Coordinates are the drawing's own page in mm, y down; the planner shifts them
onto the board.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import LineString, Polygon

from companion.findings import Finding


@dataclass(frozen=True, slots=True)
class Opening:
    """A region inside a piece that is removed; pieces may lie inside it (nesting)."""

    number: int
    """From 1 over the whole pattern, by piece, then top to bottom, left to right."""
    ring: Polygon
    """The opening filled: its outline without whatever lies inside it."""
    piece: int
    """Number of the piece whose opening it is."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A part that is kept."""

    number: int
    """From 1, by area of the outline, largest first; ties by place."""
    shape: Polygon
    """Valid polygon with its openings as interior rings."""
    openings: tuple[Opening, ...]
    within: int | None
    """Number of the opening it lies in; None when nothing encloses it."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """The whole drawing."""

    pieces: tuple[Piece, ...]
    veins: tuple[LineString, ...]
    """Open lines to be cut as a single kerf; they free nothing."""
    findings: tuple[Finding, ...]
    """What was mended or not read, with place and size, pattern mm."""
    sha256: str
    """Of the file's bytes as read from disk."""

    @property
    def openings(self) -> tuple[Opening, ...]:
        """All openings, by number."""
        return tuple(o for p in self.pieces for o in p.openings)

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """Least box of the pieces: x min, y min, x max, y max."""
        boxes: Sequence[tuple[float, float, float, float]] = [p.shape.bounds for p in self.pieces]
        return (
            min(b[0] for b in boxes),
            min(b[1] for b in boxes),
            max(b[2] for b in boxes),
            max(b[3] for b in boxes),
        )

    @property
    def kept_area_mm2(self) -> float:
        """Total area of the pieces."""
        return sum(p.shape.area for p in self.pieces)
