"""Veins: lines cut as a single kerf, which free nothing.

A vein is sawn from one end to the other and the blade is backed out along its own
kerf. It is entered at an end: from waste beside it when it runs out at an edge,
else through a small hole at the end itself, which stays visible and is told. A vein
without room for a hole is left out of the plan, and that is told too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from companion.findings import Finding, Point
from companion.planner.linework import Floats, Linework
from companion.planner.plan import Turn
from companion.planner.reach import Reach, worst
from companion.planner.resorts import told, vein_resort
from companion.planner.rules import HoleRules
from companion.planner.starts import Entry
from companion.planner.vein_gaps import vein_gaps, vein_necks
from companion.shop import tables
from companion.shop.model import Drill
from companion.words import ENGLISH, Words

Disc = tuple[float, float, float]
BEYOND = 1.02
"""A hole beside an edge keeps its margin with this much to spare, and 0.02 mm."""


@dataclass(frozen=True, slots=True)
class Vein:
    """One vein with its hole."""

    entry: Entry
    """Its line goes out and back: closed, first = last = the end at the hole."""
    piece: int
    """Number of the piece it decorates."""
    outline: int
    """Index of that piece's outside contour."""


def plan_veins(
    lines: Sequence[LineString],
    work: Linework,
    drill: Drill,
    size_mm: tuple[float, float],
    taken: Sequence[Disc],
    rules: HoleRules,
    kerf_mm: float,
    words: Words = ENGLISH,
    reach: Reach | None = None,
    board_mm: float = 0.0,
) -> tuple[tuple[Vein, ...], tuple[Finding, ...]]:
    """Give each vein its hole.

    Args:
        lines: on the board, mm; those under 0.5 mm are dots and left out.
        work: all contours.
        drill: the thinnest that passes the blade.
        size_mm: width and height of the board.
        taken: holes that are kept clear of: centre and radius, mm.
        rules: margins.
        kerf_mm: of the blade.
        words: the language.
        reach: of the saw; None leaves it out of account.
        board_mm: thickness of one board; 0 leaves necks beside veins out.

    Returns:
        The veins that can be cut, numbered after the contours, and findings.
    """
    ground = _Ground(work, drill.diameter_mm / 2, size_mm, taken, rules, reach)
    made: list[Vein] = []
    findings: list[Finding] = []
    shown: list[Point] = []
    for line in lines:
        xy: Floats = np.asarray(shapely.get_coordinates(line), dtype=np.float64)
        index = len(work.contours) + len(made)
        vein, shows = ground.enter(xy, index, drill)
        if vein is None:
            findings.append(_left_out((float(xy[0, 0]), float(xy[0, 1])), drill, words))
            continue
        made.append(vein)
        if shows:
            shown.append(vein.entry.hole_mm)
    if shown:
        findings.append(_shows(shown, drill, words))
    ways = [out_of(v.entry.line_mm) for v in made]
    findings += vein_gaps(ways, work, kerf_mm, words)
    radii = [drill.diameter_mm / 2 if v.entry.hole_mm == v.entry.start_mm else 0.0 for v in made]
    findings += vein_necks(ways, radii, work, kerf_mm, board_mm, words)
    return tuple(made), tuple(findings)


def out_of(line_mm: Sequence[Point]) -> Floats:
    """The way out of a vein's line, which goes out and back: (n, 2)."""
    return np.array(line_mm[: len(line_mm) // 2 + 1], dtype=np.float64)


def with_resorts(
    entries: Mapping[int, Entry], first: int, order: Sequence[int], reach: Reach, words: Words
) -> tuple[dict[int, Entry], list[Finding]]:
    """Veins that meet the saw's frame from either end, with what is done about them.

    Args:
        entries: of all cuts, by their index.
        first: index of the first vein's.
        order: indices of the entries in the order of the cuts.
        reach: of the saw, with the board as it is trimmed.
        words: the language.

    Returns:
        All entries, and the findings.
    """
    made, resorts = dict(entries), []
    for number, index in enumerate(order, 1):
        if index < first:
            continue
        entry = entries[index]
        found = vein_resort(
            reach, np.array(entry.lead_mm), out_of(entry.line_mm),
            entry.drill.diameter_mm if entry.drill else 0.0, words.say("cut {n}", n=number), words,
        )  # fmt: skip
        if found is not None:
            made[index] = replace(entry, resort=found)
            resorts.append(found)
    return made, told(resorts, reach, words)


class _Ground:
    """Knows where holes of one size may be."""

    def __init__(
        self, work: Linework, radius_mm: float, size_mm: tuple[float, float],
        taken: Sequence[Disc], rules: HoleRules, reach: Reach | None,
    ) -> None:  # fmt: skip
        self._reach = reach
        self._work, self._radius, self._size, self._rules = work, radius_mm, size_mm, rules
        self._holes = list(taken)
        self._outlines = [c for c in work.contours if c.side == "outside"]
        self._kept = [
            Polygon(
                c.ring.exterior.coords,
                [work.contours[i].ring.exterior.coords for i in c.children],
            )
            for c in self._outlines
        ]
        for kept in self._kept:
            shapely.prepare(kept)

    def enter(self, xy: Floats, index: int, drill: Drill) -> tuple[Vein | None, bool]:
        """The vein, and whether its hole stays visible in the piece."""
        length = float(np.hypot(*np.diff(xy, axis=0).T).sum()) if len(xy) > 1 else 0.0
        if length < 0.5:
            return None, False
        ways = (xy, xy[::-1])
        clear = [way for way in ways if self._clears(way)]
        # from the end at which the board clears, if there is one with room for a hole
        for some in (clear, ways) if clear else (ways,):
            for way in some:
                beside = self._beside(way)
                if beside is not None:
                    return self._made(way, beside, index, drill), False
            for way in some:
                if self._free(way[0]):
                    shows = self._in_piece(way[0]) is not None
                    return self._made(way, way[0], index, drill), shows
        return None, False

    def _clears(self, way: Floats) -> bool:
        """Whether the board clears the saw's frame on the way out; on the way back it stays so."""
        reach = self._reach
        return reach is None or worst(reach, way, closed=False)[0] <= reach.throat_mm

    def _beside(self, way: Floats) -> Floats | None:
        """Centre of a hole in the waste just before the vein's first point."""
        out = way[0] - way[1]
        step = (self._radius + self._rules.margin_mm) * BEYOND + 0.02
        centre: Floats = way[0] + out / max(float(np.hypot(*out)), 1e-9) * step
        if self._in_piece(centre) is None and self._free(centre):
            return centre
        return None

    def _in_piece(self, at: Floats) -> int | None:
        for k, kept in enumerate(self._kept):
            if shapely.contains_xy(kept, float(at[0]), float(at[1])):
                return k
        return None

    def _free(self, at: Floats) -> bool:
        """Room for the hole: lines, board's edge and other holes keep their margins."""
        radius, rules = self._radius, self._rules
        apart = float(self._work.exact_distance(at[None, :])[0])
        edge = min(at[0], at[1], self._size[0] - at[0], self._size[1] - at[1])
        if apart < radius + rules.margin_mm or edge < radius + rules.frame_mm:
            return False
        return all(
            float(np.hypot(at[0] - x, at[1] - y)) >= radius + r + rules.margin_mm
            for x, y, r in self._holes
        )

    def _made(self, way: Floats, hole: Floats, index: int, drill: Drill) -> Vein:
        self._holes.append((float(hole[0]), float(hole[1]), self._radius))
        points = tuple((float(x), float(y)) for x, y in way)
        line = (*points, *points[-2::-1])
        at = (float(hole[0]), float(hole[1]))
        lead = (at, points[0])
        middle: Floats = way[len(way) // 2]
        found = self._in_piece(middle)
        nearest = [float(k.distance(shapely.Point(middle))) for k in self._kept]
        outline = self._outlines[int(np.argmin(nearest)) if found is None else found]
        entry = Entry(index, at, drill, lead, points[0], "clockwise", line, 0.0)
        return Vein(entry, outline.piece, outline.index)


def vein_turns(line: Sequence[Point], chord_mm: float, follow_deg: float) -> tuple[Turn, ...]:
    """The corners of a vein on the way out, where the blade is spun in its own kerf.

    There is no waste to loop or to back out through; on the way back the kerf guides.

    Args:
        line: out and back, as in the plan.
        chord_mm: the bend is measured over chords of this length on both sides.
        follow_deg: up to this bend the blade is simply steered.

    >>> out = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)]
    >>> [(t.at_mm, t.angle_deg, t.along_mm) for t in vein_turns([*out, *out[-2::-1]], 0.9, 33.0)]
    [((10.0, 0.0), 90.0, 10.0)]
    """
    xy = np.asarray(line[: len(line) // 2 + 1], dtype=np.float64)
    steps = np.hypot(*np.diff(xy, axis=0).T)
    xy = xy[np.concatenate([[True], steps > 0.0])]
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])

    def at(where: Floats) -> Floats:
        return np.stack([np.interp(where, arc, xy[:, i]) for i in (0, 1)], axis=1)

    before, after = xy - at(arc - chord_mm), at(arc + chord_mm) - xy
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    bend = np.abs(np.degrees(np.arctan2(cross, (before * after).sum(axis=1))))
    bend[[0, -1]] = 0.0
    found: list[Turn] = []
    for k in np.flatnonzero(bend > follow_deg):
        turn = Turn((float(xy[k, 0]), float(xy[k, 1])), float(bend[k]), "spin", float(arc[k]))
        if found and turn.along_mm - found[-1].along_mm <= chord_mm:
            # one corner drawn with several points: its sharpest counts
            if turn.angle_deg > found[-1].angle_deg:
                found[-1] = turn
            continue
        found.append(turn)
    return tuple(found)


def _left_out(at: Point, drill: Drill, words: Words) -> Finding:
    limit = tables.limit("vein-left-out")
    return Finding(
        limit.code, limit.severity, at,
        words.say("A vein has no room at either end for a hole of {drill}; it is not cut.",
                  drill=drill.name),
        words.say("Lengthen it to an edge, move its end away from other lines, or draw it as ink."),
        drill.diameter_mm,
    )  # fmt: skip


def _shows(holes: Sequence[Point], drill: Drill, words: Words) -> Finding:
    limit = tables.limit("vein-hole-shows")
    return Finding(
        limit.code, limit.severity, holes[0],
        words.count("{n} vein starts at a hole of {drill} that stays visible in the piece.",
                    "{n} veins start at holes of {drill} that stay visible in the piece.",
                    len(holes), drill=drill.name),
        words.say("Run the vein out to an edge if the hole must not show."),
        drill.diameter_mm,
    )  # fmt: skip
