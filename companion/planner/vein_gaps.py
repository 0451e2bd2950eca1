"""Wood that veins leave too thin: between a vein and a line, another vein, or itself.

A vein's kerf lies half to each side of it, that of a piece's line wholly in the waste. So
what stays is the distance less half a kerf to a line, less a whole one to a vein. Where
a vein meets the other by purpose, at a crossing or at its end, the wood is thin close by
whatever the angle: only what stays thin beyond that is told.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely import STRtree
from shapely.geometry import LineString

from companion.findings import Finding, Point
from companion.planner.linework import Bools, Floats, Linework
from companion.planner.slots import short_lines
from companion.shop import tables
from companion.words import Words

STEP_MM = 0.1
"""Distance of the places along a vein that are looked at."""
TOUCH_MM = 0.6 * STEP_MM
"""Places nearer than this touch: where two veins cross, one lies within half a step."""
MEETING = 3.0
"""Around a meeting so many times the distance asked for is left out: an angle of 20 degrees
or more has opened by then."""


def vein_gaps(
    lines: Sequence[Floats], work: Linework, kerf_mm: float, words: Words
) -> list[Finding]:
    """The finding for veins beside which too little wood stays.

    Args:
        lines: of the veins that are cut, one way, board mm (n, 2) each.
        work: the lines of all pieces.
        kerf_mm: of the blade.
        words: the language.

    Returns:
        One, at the thinnest place; none when enough wood stays everywhere.
    """
    limit = tables.limit("cuts-merge")
    others = _Others(lines, kerf_mm + limit.value)
    thinnest: tuple[float, Point] | None = None
    bad = 0
    for k, line in enumerate(lines):
        xy, arc = _sampled(line)
        wood = np.full(len(xy), np.inf)
        gaps = [(others.apart(k, xy), kerf_mm)]
        if work.contours:
            gaps.append((work.exact_distance(xy), kerf_mm / 2))
        for apart, taken in gaps:
            asked = taken + limit.value
            wood = np.minimum(wood, np.where(_meeting(arc, apart, asked), np.inf, apart - taken))
        wood = np.minimum(wood, _to_itself(xy, arc, kerf_mm, limit.value))
        least = int(np.argmin(wood))
        if wood[least] < limit.value:
            bad += 1
            place = (float(xy[least, 0]), float(xy[least, 1]))
            thinnest = min(thinnest or (np.inf, place), (float(wood[least]), place))
    if thinnest is None:
        return []
    left, at = thinnest
    return [Finding(
        "vein-close", limit.severity, at,
        words.count(
            "Beside {n} vein only {left} mm of wood stay to the next cut; it breaks out.",
            "Beside {n} veins only {left} mm of wood stay to the next cut; it breaks out.",
            bad, left=f"{max(left, 0.0):.1f}",
        ),
        words.say("Draw the vein farther away, or leave it out."),
        max(left, 0.0),
    )]  # fmt: skip


def vein_necks(
    lines: Sequence[Floats], hole_radii_mm: Sequence[float], work: Linework, kerf_mm: float,
    board_mm: float, words: Words,
) -> list[Finding]:  # fmt: skip
    """The finding for veins that leave a neck to an edge: at an end, along them, at their hole.

    Args:
        lines: of the veins that are cut, one way from the hole, board mm (n, 2) each.
        hole_radii_mm: of a hole at the vein's first place; 0: it lies beside it in the waste.
        work: the lines of all pieces.
        kerf_mm: of the blade.
        board_mm: thickness of one board.
        words: the language.

    Returns:
        One, at the thinnest place, for what is thinner than the table lets a neck be;
        what breaks out at the saw already is told by :func:`vein_gaps`.
    """
    limit, lost = tables.limit("neck-fragile"), tables.limit("cuts-merge")
    asked = limit.value * board_mm
    bad: list[tuple[float, Point]] = []
    for line, radius in zip(lines, hole_radii_mm, strict=True):
        xy, arc = _sampled(line)
        apart = work.exact_distance(xy)
        beside = apart - kerf_mm / 2
        wood = np.where(_meeting(arc, apart, kerf_mm / 2 + asked), np.inf, beside)
        told = bool((wood < lost.value).any())
        if radius > 0.0:
            wood[0] = apart[0] - radius
            told = told and wood[0] >= asked
        least = int(np.argmin(wood))
        if wood[least] < asked and not told:
            bad.append((float(wood[least]), (float(xy[least, 0]), float(xy[least, 1]))))
    if not bad:
        return []
    left, at = min(bad)
    return [Finding(
        "vein-neck", limit.severity, at,
        words.count(
            "{n} vein leaves a neck of {left} mm to the edge in {board} mm board.",
            "{n} veins leave necks to the edge in {board} mm board, the thinnest of {left} mm.",
            len(bad), left=f"{max(left, 0.0):.1f}", board=f"{board_mm:g}",
        ),
        words.say("End the vein earlier, or draw it farther from the edge."),
        max(left, 0.0),
    )]  # fmt: skip


class _Others:
    """How far the other veins are, as far as it matters.

    Args:
        lines: of all veins, board mm (n, 2) each.
        most_mm: what lies farther away than this is not seen.
    """

    def __init__(self, lines: Sequence[Floats], most_mm: float) -> None:
        self._most = most_mm
        pieces = [short_lines([LineString(xy)]) for xy in lines]
        self._tree = STRtree(np.concatenate(pieces) if pieces else [])
        self._owner = np.repeat(np.arange(len(lines)), [len(p) for p in pieces])

    def apart(self, number: int, xy: Floats) -> Floats:
        """From places of one vein to the nearest other vein; infinite when that is far (n,)."""
        found = np.full(len(xy), np.inf)
        places = np.atleast_1d(np.asarray(shapely.points(xy)))
        which, near = self._tree.query(places, predicate="dwithin", distance=self._most)
        other = self._owner[near] != number
        which, near = which[other], near[other]
        away = shapely.distance(places[which], self._tree.geometries[near])
        np.minimum.at(found, which, away)
        return found


def _sampled(xy: Floats) -> tuple[Floats, Floats]:
    """Even places along a vein and their arc lengths."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    arc = np.linspace(0.0, along[-1], max(3, int(np.ceil(along[-1] / STEP_MM)) + 1))
    return np.stack([np.interp(arc, along, xy[:, i]) for i in (0, 1)], axis=1), arc


def _meeting(arc: Floats, apart: Floats, asked: float) -> Bools:
    """Places near to where a vein touches or crosses what it is measured against."""
    touch = np.flatnonzero(apart < TOUCH_MM)
    runs = np.split(touch, np.flatnonzero(np.diff(touch) > 1) + 1)
    # one that lies on another for a while does not meet it, it is the same cut
    short = [r for r in runs if len(r) and arc[r[-1]] - arc[r[0]] <= 2 * asked]
    if not short:
        return np.zeros(len(arc), dtype=np.bool_)
    return _away(arc, arc[np.concatenate(short)]) <= MEETING * asked


def _away(arc: Floats, marks: Floats) -> Floats:
    """Distance of each place along a vein from the nearest mark on it (n,)."""
    marks = np.concatenate([[-np.inf], np.sort(marks), [np.inf]])
    after = np.searchsorted(marks, arc, side="right")
    return np.minimum(arc - marks[after - 1], marks[after] - arc)


def _to_itself(xy: Floats, arc: Floats, kerf_mm: float, wanted: float) -> Floats:
    """Wood between places of a vein and other bends of it, mm."""
    wood = np.full(len(xy), np.inf)
    asked = kerf_mm + wanted
    pairs = cKDTree(xy).query_pairs(asked, output_type="ndarray")
    i, j = pairs[:, 0], pairs[:, 1]
    # along a straight vein neighbours are as far as their arcs; a bend back is nearer
    bent = np.abs(arc[i] - arc[j]) > MEETING * asked
    i, j = i[bent], j[bent]
    gap = np.hypot(*(xy[i] - xy[j]).T)
    crossing = arc[i[gap < TOUCH_MM]]
    left = gap - kerf_mm
    np.minimum.at(wood, i, left)
    np.minimum.at(wood, j, left)
    if len(crossing):
        marks = np.concatenate([crossing, arc[j[gap < TOUCH_MM]]])
        wood[_away(arc, marks) <= MEETING * asked] = np.inf
    return wood
