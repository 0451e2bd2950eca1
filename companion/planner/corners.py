"""Corners of a line: the places where a blade of some width cannot simply be steered.

The rule kept: a corner is a property of the line at the scale of the blade, not of
its vertices. The bend between two chords of one blade width, behind and ahead of a
place, tells a sharp corner and a curve too tight for the blade alike; adding points,
turning or mirroring the drawing, or starting the ring elsewhere changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np

from companion.findings import Point
from companion.planner.contours import Contour
from companion.planner.linework import Bools, Floats, Line, Linework
from companion.planner.plan import Side
from companion.planner.rules import TurnRules
from companion.shop.model import BladeSize

GRID_PER_CHORD = 6
"""Places per chord at which the bend is looked at."""
CLOSE_PER_CHORD = 24
"""The same within a bend over the threshold."""
DIP = 0.8
"""Two bends of one sign are two corners when it sinks to this share of the lesser between."""
TOP = 0.98
"""Bends this near to the largest are the flat top of a corner."""
SNAP_CHORDS = 0.1
"""A vertex this near to the middle of the top is the corner."""
SHARP_CHORDS = 1.5
"""A bend over at most this many chords is one sharp corner, over more a tight curve."""
HALVINGS = 9
"""Halvings of a sixth of a chord: the crossing is found to a three-thousandth of it."""
BACK_DEG = -45.0
"""Headings that differ by less than this the other way are a wiggle, not a whole turn."""
MOST_TURN_DEG = 200.0
"""A tight curve that turns further is split into equal turns."""


_KEPT: WeakKeyDictionary[Linework, dict[tuple[int, float, float], tuple[Corner, ...]]]
_KEPT = WeakKeyDictionary()
"""Corners already found; starts and turns ask for the same."""


@dataclass(frozen=True, slots=True)
class Corner:
    """One corner of a closed line walked clockwise."""

    arc_mm: float
    """Arc length on the clockwise line."""
    at_mm: Point
    bend_deg: float
    """Change of heading, positive clockwise as seen on the board; -360 to 360."""
    waste_deg: float
    """Angle of the waste at the corner, 0 to 360: under 180 a corner of the waste,
    over 180 a point of the piece."""
    span_mm: float
    """Length of line over which it bends; about one chord for a sharp corner."""


def corners(line: Line, side: Side, chord_mm: float, least_deg: float) -> tuple[Corner, ...]:
    """Find the corners of a line.

    Args:
        line: walked clockwise.
        side: of the contour; tells on which side the waste is.
        chord_mm: chord that measures the bend, about the blade's width.
        least_deg: bends under this are steered.

    Returns:
        Corners by arc length. A line shorter than four chords is looked at with
        shorter ones.
    """
    h = min(chord_mm, line.length / 6)
    n = max(24, int(np.ceil(line.length / h)) * GRID_PER_CHORD)
    even = np.arange(n) * (line.length / n)
    grid: Floats = np.unique(np.concatenate([even, line.along[:-1]])).astype(np.float64)
    bend: Floats = np.degrees(line.bend(grid, h)).astype(np.float64)
    found: list[tuple[float, float, float]] = []
    runs: list[tuple[int, int]] = []
    signs: list[float] = []
    for sign in (1.0, -1.0):
        over = sign * bend >= DIP * least_deg
        if over.all():
            found += _round(line, sign) if (sign * bend).max() >= least_deg else []
            continue
        runs += (new := _runs(over))
        signs += [sign] * len(new)
    ends = _ends(line, h, grid, runs, np.array(signs), DIP * least_deg)
    looks = list(zip(signs, _looked_at(line, h, ends, signs), strict=True))
    for (sign, look), alone in zip(looks, _alone(looks, line.length, 2 * h), strict=True):
        if look.bend.max() >= least_deg:
            found += _in_run(line, h, look, sign, least_deg, alone)
    turn_to_waste = 1.0 if side == "inside" else -1.0
    out = []
    for arc, angle, span in sorted((float(np.mod(a, line.length)), b, s) for a, b, s in found):
        x, y = line.at(np.array([arc]))[0]
        waste = float(np.clip(180.0 - turn_to_waste * angle, 0.0, 360.0))
        out.append(Corner(arc, (float(x), float(y)), angle, waste, span))
    return tuple(out)


def corners_of(
    work: Linework, contour: Contour, blade: BladeSize, rules: TurnRules
) -> tuple[Corner, ...]:
    """The corners of a contour for a blade and a skill; found once, then kept."""
    chord = blade.width_mm * rules.chord_widths
    kept = _KEPT.setdefault(work, {})
    key = (contour.index, chord, rules.follow_deg)
    if key not in kept:
        line = work.lines[contour.index]
        kept[key] = corners(line, contour.side, chord, rules.follow_deg)
    return kept[key]


def _runs(over: Bools) -> list[tuple[int, int]]:
    """First and last index of each circular run of True, in travel order; not all is True."""
    first = np.flatnonzero(over & ~np.roll(over, 1))
    last = np.flatnonzero(over & ~np.roll(over, -1))
    if len(first) and last[0] < first[0]:
        last = np.roll(last, -1)
    return list(zip(first.tolist(), last.tolist(), strict=True))


def _ends(
    line: Line, h: float, grid: Floats, runs: list[tuple[int, int]], sign: Floats, least: float
) -> list[tuple[float, float]]:
    """Where exactly the bend, of each run's sign, crosses the threshold before and after it.

    Halving on the line itself: the grid's places must not matter.

    Returns:
        Arc lengths (first, last) of each run, first within the line, last after it.
    """
    if not runs:
        return []
    n = len(grid)
    index = np.array(runs)
    inside = grid[index]
    outside = grid[(index + (-1, 1)) % n]
    outside[:, 0] -= np.where(outside[:, 0] > inside[:, 0], line.length, 0.0)
    outside[:, 1] += np.where(outside[:, 1] < inside[:, 1], line.length, 0.0)
    for _ in range(HALVINGS):
        middle = (inside + outside) / 2
        bend = np.degrees(line.bend(middle.ravel(), h)).reshape(-1, 2)
        over = sign[:, None] * bend >= least
        inside, outside = np.where(over, middle, inside), np.where(over, outside, middle)
    first = inside[:, 0]
    last = inside[:, 1] + np.where(inside[:, 1] < first - 1e-9, line.length, 0.0)
    return [(float(a), float(b)) for a, b in zip(first, last, strict=True)]


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """A run of bends of one sign, looked at closely."""

    first: float
    """Arc length at which the bend rises over the threshold."""
    last: float
    """Arc length at which it sinks under it, after the first."""
    arcs: Floats
    """Places between (m,)."""
    bend: Floats
    """Bends there, degrees, all positive (m,)."""


def _looked_at(
    line: Line, h: float, ends: list[tuple[float, float]], signs: list[float]
) -> list[_Look]:
    """Each run with the places at which its bend is looked at closely, and the bends.

    The bend is smooth between places where the point itself or the end of a chord lies
    on a vertex; with those places among them nothing depends on the rest.
    """
    if not ends:
        return []
    vertex = line.along[:-1]
    kinks = np.sort(np.mod(np.concatenate([vertex, vertex - h, vertex + h]), line.length))
    kinks = np.concatenate([kinks, kinks + line.length])
    arcs = []
    for first, last in ends:
        even = np.linspace(first, last, max(9, int(np.ceil(CLOSE_PER_CHORD * (last - first) / h))))
        lo, hi = np.searchsorted(kinks, [first, last])
        arcs.append(np.unique(np.concatenate([even, kinks[lo:hi]])))
    value = np.degrees(line.bend(np.concatenate(arcs), h))
    parts = np.split(value, np.cumsum([len(a) for a in arcs])[:-1])
    return [
        _Look(a, b, c, sign * v)
        for (a, b), c, v, sign in zip(ends, arcs, parts, signs, strict=True)
    ]


def _alone(looks: list[tuple[float, _Look]], length: float, gap_mm: float) -> list[bool]:
    """Whether each run is further than a gap from every other, of either sign."""
    order = sorted(range(len(looks)), key=lambda k: looks[k][1].first)
    out = [True] * len(looks)
    for k, following in zip(order, order[1:] + order[:1], strict=True):
        apart = (looks[following][1].first - looks[k][1].last) % length
        if len(order) > 1 and apart < gap_mm:
            out[k] = out[following] = False
    return out


def _in_run(
    line: Line, h: float, look: _Look, sign: float, least: float, alone: bool
) -> list[tuple[float, float, float]]:
    """Corners within one run: (arc, signed angle, span).

    A run by itself turns as much as the line does from before to after it; where
    others are near, each corner turns by its own largest bend.
    """
    arcs, value = look.arcs, look.bend
    parts = _split(value, 0, len(value))
    if len(parts) > 1:
        tops = [(lo, hi, float(value[lo:hi].max())) for lo, hi in parts]
        return [
            (_peak(line, h, arcs[lo:hi], value[lo:hi]), sign * top, h)
            for lo, hi, top in tops
            if top >= least
        ]
    span = look.last - look.first
    if span > SHARP_CHORDS * h:
        arc = _mean(arcs, value * _widths(arcs))
    else:
        arc = _peak(line, h, arcs, value)
    total = float(value.max())
    if alone:
        total = max(_turned(line, h, look.first, look.last, sign), total)
    count = int(np.ceil(total / MOST_TURN_DEG))
    if count == 1:
        return [(arc, sign * total, span)]
    places = [look.first + span * (k + 0.5) / count for k in range(count)]
    return [(place, sign * total / count, span / count) for place in places]


def _peak(line: Line, h: float, arcs: Floats, value: Floats) -> float:
    """The place of a sharp corner: the vertex there, or the middle of a flat top."""
    high = value >= TOP * value.max()
    middle = _mean(arcs[high], _widths(arcs[high]))
    nearest = line.along[int(np.argmin(np.abs(line.along - np.mod(middle, line.length))))]
    off = float(nearest - np.mod(middle, line.length))
    return middle + off if abs(off) < SNAP_CHORDS * h else middle


def _widths(arcs: Floats) -> Floats:
    """Length of line that each place stands for."""
    if len(arcs) < 2:
        return np.ones(len(arcs))
    step = np.diff(arcs)
    return np.asarray(np.concatenate([step[:1], (step[1:] + step[:-1]) / 2, step[-1:]]) + 1e-9)


def _mean(value: Floats, weight: Floats) -> float:
    """Weighted mean."""
    return float((value * weight).sum() / weight.sum())


def _split(value: Floats, lo: int, hi: int) -> list[tuple[int, int]]:
    """Cut a run at its deepest valley between two maxima, and each part again."""
    part = value[lo:hi]
    if len(part) < 3:
        return [(lo, hi)]
    left = np.maximum.accumulate(part)
    right = np.maximum.accumulate(part[::-1])[::-1]
    depth = part / np.minimum(left, right)
    k = int(np.argmin(depth))
    if depth[k] >= DIP:
        return [(lo, hi)]
    return _split(value, lo, lo + k) + _split(value, lo + k, hi)


def _turned(line: Line, h: float, first: float, last: float, sign: float) -> float:
    """Total turning between the chord before a run and the chord after it, degrees."""
    places = line.at(np.array([first - h, first, last, last + h]))
    p, q = places[1] - places[0], places[3] - places[2]
    angle = sign * float(np.degrees(np.arctan2(p[0] * q[1] - p[1] * q[0], float(p @ q))))
    return angle if angle > BACK_DEG else angle + 360.0


def _round(line: Line, sign: float) -> list[tuple[float, float, float]]:
    """A line that bends too tightly everywhere: three turns evenly around it."""
    third = line.length / 3
    return [(third * (k + 0.5), sign * 120.0, third) for k in range(3)]
