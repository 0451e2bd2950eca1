"""Corners of a line: the places where a blade of some width cannot simply be steered.

The rule kept: a corner is a property of the line at the scale of the blade, not of
its vertices. The bend between two chords of one blade width, behind and ahead of a
place, tells a sharp corner and a curve too tight for the blade alike; adding points,
turning or mirroring the drawing, or starting the ring elsewhere changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from companion.findings import Point
from companion.planner.linework import Floats, Line
from companion.planner.plan import Side

GRID_PER_CHORD = 6
"""Places per chord at which the bend is looked at."""
DIP = 0.8
"""Two bends of one sign are two corners when the bend sinks to this share between them."""
SHARP_CHORDS = 1.4
"""A bend over at most this many chords is one sharp corner, over more a tight curve."""
HALVINGS = 12
"""Halvings of a sixth of a chord: the crossing is found to a ten-thousandth of it."""
BACK_DEG = -45.0
"""Headings that differ by less than this the other way are a wiggle, not a whole turn."""
MOST_TURN_DEG = 200.0
"""A tight curve that turns further is split into equal turns."""


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
    for sign in (1.0, -1.0):
        runs = _runs(sign * bend >= least_deg)
        ends = _ends(line, h, grid, runs, sign, least_deg)
        for run, (first, last) in zip(runs, ends, strict=True):
            found += _in_run(line, h, grid, sign * bend, run, first, last, sign)
    turn_to_waste = 1.0 if side == "inside" else -1.0
    out = []
    for arc, angle, span in sorted((float(np.mod(a, line.length)), b, s) for a, b, s in found):
        x, y = line.at(np.array([arc]))[0]
        waste = float(np.clip(180.0 - turn_to_waste * angle, 0.0, 360.0))
        out.append(Corner(arc, (float(x), float(y)), angle, waste, span))
    return tuple(out)


def _runs(over: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> list[list[int]]:
    """Indices of each circular run of True, in travel order."""
    n = len(over)
    if over.all():
        return [list(range(n))]
    begins = np.flatnonzero(over & ~np.roll(over, 1))
    runs = []
    for b in begins:
        k = 1
        while over[(b + k) % n]:
            k += 1
        runs.append([int((b + j) % n) for j in range(k)])
    return runs


def _ends(
    line: Line, h: float, grid: Floats, runs: list[list[int]], sign: float, least: float
) -> list[tuple[float, float]]:
    """Where exactly the bend crosses the threshold before and after each run.

    Halving on the line itself: the grid's places must not matter.

    Returns:
        Arc lengths (first, last) of each run, first within the line, last after it.
    """
    if not runs:
        return []
    n = len(grid)
    inside = np.array([[grid[r[0]], grid[r[-1]]] for r in runs])
    outside = np.array([[grid[r[0] - 1], grid[(r[-1] + 1) % n]] for r in runs])
    outside[:, 0] -= np.where(outside[:, 0] > inside[:, 0], line.length, 0.0)
    outside[:, 1] += np.where(outside[:, 1] < inside[:, 1], line.length, 0.0)
    for _ in range(HALVINGS):
        middle = (inside + outside) / 2
        over = sign * np.degrees(line.bend(middle.ravel(), h)).reshape(-1, 2) >= least
        inside, outside = np.where(over, middle, inside), np.where(over, outside, middle)
    first = inside[:, 0]
    last = inside[:, 1] + np.where(inside[:, 1] < first - 1e-9, line.length, 0.0)
    return [(float(a), float(b)) for a, b in zip(first, last, strict=True)]


def _in_run(
    line: Line, h: float, grid: Floats, bend: Floats, run: list[int], first: float, last: float,
    sign: float,
) -> list[tuple[float, float, float]]:  # fmt: skip
    """Corners within one run of bends of one sign: (arc, signed angle, span)."""
    if len(run) == len(grid):
        return _round(line, sign)
    arcs, value = grid[run], bend[run]
    arcs = np.where(arcs < arcs[0], arcs + line.length, arcs)
    parts = _split(arcs, value, h)
    if len(parts) > 1:
        tops = [lo + int(np.argmax(value[lo:hi])) for lo, hi in parts]
        return [(float(arcs[k]), sign * float(value[k]), h) for k in tops]
    top, span = int(np.argmax(value)), last - first
    arc = float(arcs[top])
    if span > SHARP_CHORDS * h:
        arc = float(np.average(arcs, weights=value * _widths(arcs)))
    total = max(_turned(line, h, first, last, sign), float(value[top]))
    count = int(np.ceil(total / MOST_TURN_DEG))
    if count == 1:
        return [(arc, sign * total, span)]
    places = [first + span * (k + 0.5) / count for k in range(count)]
    return [(place, sign * total / count, span / count) for place in places]


def _widths(arcs: Floats) -> Floats:
    """Length of line that each place stands for."""
    if len(arcs) < 2:
        return np.ones(len(arcs))
    return np.asarray(np.gradient(arcs), dtype=np.float64) + 1e-9


def _split(arcs: Floats, value: Floats, h: float) -> list[tuple[int, int]]:
    """Cut a run where the bend sinks between two maxima at least a chord apart."""
    peaks = [int(np.argmax(value))]
    edge = np.concatenate([[-np.inf], value, [-np.inf]])
    tops = np.flatnonzero((value >= edge[:-2]) & (value >= edge[2:]))
    for k in tops[np.argsort(-value[tops], kind="stable")]:
        near = min(abs(arcs[k] - arcs[p]) for p in peaks)
        if near < 0.75 * h:
            continue
        dips = [value[min(k, p) : max(k, p) + 1].min() for p in peaks]
        if all(dip < DIP * value[k] for dip in dips):
            peaks.append(int(k))
    peaks.sort()
    cuts = [0]
    for a, b in zip(peaks, peaks[1:], strict=False):
        cuts.append(a + int(np.argmin(value[a : b + 1])))
    cuts.append(len(value))
    return list(zip(cuts, cuts[1:], strict=False))


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
