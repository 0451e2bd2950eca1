"""Reach: can the board swing through a cut without meeting the back of the saw.

The blade's teeth face the sawyer and the wood is fed away from the sawyer, so
the heading u of the cut, drawn on the board, always points to the sawyer and -u to
the rear of the saw. The frame stands ``throat`` behind the blade at p: no corner c of
the board may lie further back than that, (c - p) . (-u) <= throat - margin, which is
the rule of design 5.4, (p - c) . u <= throat - margin.

Whole lines are tested at once; nothing is sampled more coarsely than a vertex,
and a turn on the spot is tested over its whole swing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from companion.planner.linework import Bools, Floats, Line, unit
from companion.shop.model import SawProfile

FINE_MM = 2.0
"""Stretches between which the feasible ones are told from the others."""
STEADY = float(np.cos(np.radians(0.01)))
"""Headings nearer than this are one: no swing between them."""


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """What the saw allows with one board; any convex board will do."""

    corners_mm: Floats
    """Corners of the board (k, 2)."""
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

    def never_meets(self, xy: Floats) -> bool:
        """Whether the board clears at these places (n, 2) whatever the heading."""
        to = xy[:, None, :] - self.corners_mm[None, :, :]
        return bool((np.hypot(to[:, :, 0], to[:, :, 1]) <= self.throat_mm).all())


def reach_of(saw: SawProfile, width_mm: float, height_mm: float) -> Reach:
    """The reach of a saw with a rectangular board whose top left is the origin."""
    corners = np.array(
        [[0.0, 0.0], [width_mm, 0.0], [width_mm, height_mm], [0.0, height_mm]], dtype=np.float64
    )
    return Reach(corners, saw.throat_mm - saw.margin_mm)


@dataclass(frozen=True, slots=True, eq=False)
class Stretches:
    """A path as straight stretches: positions of both ends, heading, reach behind."""

    start: Floats
    end: Floats
    heading: Floats
    behind_mm: Floats
    """Furthest reach over the stretch and over the swings at its two ends (m,)."""


def stretches(
    reach: Reach, path: Floats, closed: bool, turned_deg: float = 0.0, swings: bool = True
) -> Stretches:
    """Reach behind the blade along a path.

    Args:
        reach: of the saw with the board.
        path: vertices (n, 2); a closed one repeats its first point.
        closed: whether the work also swings from the last stretch into the first.
        turned_deg: how far the blade is turned in its clamps, clockwise seen from
            above; 90 cuts sideways.
        swings: whether the swings from one heading to the next count as well.
    """
    step = np.diff(path, axis=0)
    size = np.hypot(step[:, 0], step[:, 1])
    keep = size > 1e-9
    start, end = path[:-1][keep], path[1:][keep]
    heading = _turned(step[keep] / size[keep, None], turned_deg)
    behind = np.maximum(reach.behind(start, heading), reach.behind(end, heading))
    after = np.roll(heading, -1, axis=0)
    sharp = (heading * after).sum(axis=1) < STEADY
    if not closed and len(sharp):
        sharp[-1] = False
    where = np.flatnonzero(sharp & swings)
    if len(where):
        swing = reach.swing(end[where], heading[where], after[where])
        np.maximum.at(behind, where, swing)
        np.maximum.at(behind, (where + 1) % len(behind), swing)
    return Stretches(start, end, heading, behind)


def worst(reach: Reach, path: Floats, closed: bool) -> tuple[float, tuple[float, float]]:
    """The furthest reach behind the blade along a path, mm, and where.

    A closed path may be begun anywhere, so it swings at its first point as well.
    """
    s = stretches(reach, path, closed)
    k = int(np.argmax(s.behind_mm))
    # the board reaches farthest at a stretch's end; a swing there counts for the next one too,
    # and at a ring's first point the one before it is the last
    if closed and k == 0 and s.behind_mm[-1] >= s.behind_mm[0]:
        k = len(s.behind_mm) - 1
    at = s.end[k]
    return float(s.behind_mm[k]), (float(at[0]), float(at[1]))


def lead_behind(reach: Reach, lead: Floats, onward: Floats) -> float:
    """Furthest reach behind the blade from the hole to the line and into its headings, mm.

    Args:
        reach: of the saw with the board.
        lead: from the hole to the start (n, 2).
        onward: unit headings in which the line is taken from the start: one, or with two
            runs that of the first and that of the second (k, 2).
    """
    if len(lead) == 2:
        return float(leads_behind(reach, lead[None], onward[None])[0])
    into = unit(lead[-1:] - lead[-2:-1])
    along = float(stretches(reach, lead, closed=False).behind_mm.max())
    return max(along, float(_swung(reach, lead[-1:], into, onward[None])[0]))


def leads_behind(reach: Reach, leads: Floats, onward: Floats) -> Floats:
    """The same for many straight lead-ins at once: thousands are tried on a large panel.

    Args:
        reach: of the saw with the board.
        leads: hole and start of each (m, 2, 2).
        onward: headings from each start as for :func:`lead_behind` (m, k, 2).
    """
    hole, start = leads[:, 0], leads[:, 1]
    into = unit(start - hole)
    along = np.maximum(reach.behind(hole, into), reach.behind(start, into))
    return np.maximum(along, _swung(reach, start, into, onward))


def _swung(reach: Reach, at: Floats, into: Floats, onward: Floats) -> Floats:
    """Furthest reach while the work swings from lead-ins into their lines (m,)."""
    found = reach.swing(at, into, onward[:, 0])
    if onward.shape[1] == 1:
        return found
    # into a second run that turns back the work may swing either way round
    second = onward[:, 1]
    half = into + second
    size = np.hypot(half[:, 0], half[:, 1])[:, None]
    square = np.stack([-second[:, 1], second[:, 0]], axis=1)
    middle = np.where(size > 1e-9, -half / np.maximum(size, 1e-12), square)
    before, after = np.concatenate((into, into, middle)), np.concatenate((second, middle, second))
    short, there, back = reach.swing(np.tile(at, (3, 1)), before, after).reshape(3, -1)
    return np.maximum(found, np.minimum(short, np.maximum(there, back)))


def back_out_behind(
    reach: Reach, at: Floats, before: Floats, after: Floats, far_mm: float,
    turned_deg: float = 0.0,
) -> Floats:  # fmt: skip
    """Furthest reach behind the blade when corners are taken from their other side, mm.

    The blade is drawn back, the work turned, and the leaving stretch cut towards the corner.

    Args:
        reach: of the saw with the board.
        at: the corners (k, 2).
        before: unit headings on arrival (k, 2).
        after: unit headings on leaving (k, 2).
        far_mm: how far beyond the corner the second approach begins.
        turned_deg: how far the blade is turned; see :func:`stretches`.
    """
    far = at + after * far_mm
    back, into = _turned(-after, turned_deg), _turned(before, turned_deg)
    ends = np.maximum(reach.behind(at, back), reach.behind(far, back))
    return np.maximum(ends, reach.swing(far, into, back))


def _turned(heading: Floats, turned_deg: float) -> Floats:
    """What points to the sawyer when headings (n, 2) are cut with the blade turned."""
    if not turned_deg:
        return heading
    c, s = np.cos(np.radians(turned_deg)), np.sin(np.radians(turned_deg))
    return np.asarray(heading @ np.array([[c, s], [-s, c]]), dtype=np.float64)


def feasible(reach: Reach, line: Line) -> tuple[Floats, Bools, Bools]:
    """Which stretches of a closed line clear the frame, each way.

    Returns:
        Arc lengths at which fine stretches begin (m,), whether each clears when cut
        clockwise (m,), and when cut anticlockwise (m,).
    """
    n = max(8, int(np.ceil(line.length / FINE_MM)))
    even = np.arange(n) * (line.length / n)
    arc: Floats = np.unique(np.concatenate([even, line.along[:-1]])).astype(np.float64)
    arc = arc[np.concatenate([[True], np.diff(arc) > 1e-7])]
    path = line.at(np.append(arc, line.length))
    path[-1] = path[0]
    there = stretches(reach, path, closed=True).behind_mm <= reach.throat_mm
    back = stretches(reach, path[::-1], closed=True).behind_mm <= reach.throat_mm
    return arc, np.asarray(there), np.asarray(back[::-1])


def two_runs(reach: Reach, line: Line) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Where a cut may start and where its two runs may meet, when neither way clears.

    From the start one run goes clockwise and, after threading again or drawing back,
    the other anticlockwise, until they meet.

    Returns:
        Arc lengths between which the start may lie, and between which the meeting
        place; the second of each may exceed the line's length by up to a lap. None
        when no place serves, or when one direction alone clears.
    """
    arc, there, back = feasible(reach, line)
    if not (there | back).all() or there.all() or back.all():
        return None
    n = len(arc)
    only_there, only_back = there & ~back, back & ~there
    first = int(np.flatnonzero(only_back)[-1])
    order = (np.arange(n) + first + 1) % n
    # walk on from the last stretch that needs going back: first free, then those that
    # need going there, then free, then those that need going back; no other pattern will do
    kind = np.where(only_there, 1, np.where(only_back, -1, 0))[order]
    need_there = np.flatnonzero(kind == 1)
    need_back = np.flatnonzero(kind == -1)
    early_back = need_back[need_back < need_there[0]]
    if ((need_back > need_there[0]) & (need_back < need_there[-1])).any():
        return None
    free_from = int(early_back[-1]) + 1 if len(early_back) else 0
    late_back = need_back[need_back > need_there[-1]]
    free_to = int(late_back[0]) if len(late_back) else n

    def at(k: int) -> float:
        laps, j = divmod(first + 1 + k, n)
        return float(arc[j] + laps * line.length)

    start = (at(free_from), at(int(need_there[0])))
    meet = (at(int(need_there[-1]) + 1), at(free_to))
    return start, meet
