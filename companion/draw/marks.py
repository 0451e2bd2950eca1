"""The shapes of the marks on the sheet, as polylines in mm.

Every kind of mark has its own shape, so that a photocopy in one-bit black and
white loses nothing: spin = an arc with an arrow head, back-out = a triangle,
loop = a diamond, neck = two chevrons that pinch it, hold = four corner
brackets, fastener = a circle with an X, hole = a circle with an upright cross,
opening drilled to size = the same with a second circle around it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import islice, pairwise
from typing import TYPE_CHECKING

from companion.findings import Point
from companion.planner.plan import Cut, Neck, Plan, SizedHole, Technique
from companion.shop import tables

if TYPE_CHECKING:
    from companion.draw.scene import Role

Points = tuple[Point, ...]

CROSS_BEYOND_MM = 0.9
"""How far the centre cross of a hole stands out of its circle: room for a centre punch."""
RING_BEYOND_MM = 0.5
"""From the edge of an opening that is drilled to size to the ring that marks it."""
TURN_RADIUS_MM = 0.9
LEAST_TURN_RADIUS_MM = 0.35
ARROW_MM = 4.5
"""Length of a travel arrow at full scale."""
ARROW_OFF_MM = 0.9
"""Distance of the arrow from the line, on the waste side."""
ARROW_TRIES = 8
START_BAR_MM = 2.2
HOLE_CLEAR_MM = 1.9
"""From a hole's centre to an arrow: the cross of a common drill."""
HOLD_HALF_MM = 3.0
SCREW_RADIUS_MM = 1.75
CHEVRON_MM = 1.4
CORNER_MM = 12.0
MOST_NECKS = 16
"""Thin places marked, weakest first, of those thinner than the shop table's ``neck-thin``:
where everything is marked, nothing is."""
LEVELS = 16
"""Level lines, less one, on which a piece's name seeks its place."""


def box(x: float, y: float, width: float, height: float) -> Points:
    """A closed rectangle."""
    return ((x, y), (x + width, y), (x + width, y + height), (x, y + height), (x, y))


def corner(x: float, mirrored: bool) -> Points:
    """The L at the corner from which the sheet is aligned; it lies inside the board."""
    step = -1.0 if mirrored else 1.0
    inset = 0.6
    return (
        (x + step * inset, CORNER_MM),
        (x + step * inset, inset),
        (x + step * CORNER_MM, inset),
    )


def cross(at: Point, radius: float) -> tuple[Points, Points]:
    """The centre cross of a hole."""
    x, y = at
    r = radius + CROSS_BEYOND_MM
    return ((x - r, y), (x + r, y)), ((x, y - r), (x, y + r))


def arc(at: Point, radius: float, start_deg: float, sweep_deg: float) -> Points:
    """An arc as a polyline, a step of at most 15 degrees."""
    steps = max(2, math.ceil(abs(sweep_deg) / 15.0))
    found = []
    for i in range(steps + 1):
        a = math.radians(start_deg + sweep_deg * i / steps)
        found.append((at[0] + radius * math.cos(a), at[1] + radius * math.sin(a)))
    return tuple(found)


def ring(at: Point, radius: float) -> Points:
    """A full circle as a closed polyline."""
    points = arc(at, radius, 0.0, 360.0)
    return (*points[:-1], points[0])


def edge(hole: SizedHole) -> Points:
    """The edge that a drill makes, as a closed line."""
    return ring(hole.at_mm, hole.drill_mm / 2)


def cross_of(hole: SizedHole) -> tuple[Points, Points]:
    """The centre cross of an opening that is drilled to size."""
    return cross(hole.at_mm, hole.drill_mm / 2)


def ring_around(hole: SizedHole) -> Points:
    """The second circle that tells it from an entry hole."""
    return ring(hole.at_mm, hole.drill_mm / 2 + RING_BEYOND_MM)


def _spin(at: Point, r: float) -> tuple[Points, ...]:
    body = arc(at, r, -60.0, 300.0)
    tip = body[-1]
    return body, ((tip[0] - 0.75 * r, tip[1] - 0.1 * r), tip, (tip[0] + 0.05 * r, tip[1] + 0.8 * r))


def _back_out(at: Point, r: float) -> tuple[Points, ...]:
    a, b, c = (arc(at, 1.25 * r, d, 1.0)[0] for d in (-90.0, 30.0, 150.0))
    return ((a, b, c, a),)


def _loop(at: Point, r: float) -> tuple[Points, ...]:
    x, y = at
    d = 1.2 * r
    return (((x - d, y), (x, y - d), (x + d, y), (x, y + d), (x - d, y)),)


TURN_SHAPES: dict[Technique, Callable[[Point, float], tuple[Points, ...]]] = {
    "spin": _spin,
    "back-out": _back_out,
    "loop": _loop,
}
TURN_ROLES: dict[Technique, Role] = {
    "spin": "turn-spin",
    "back-out": "turn-back-out",
    "loop": "turn-loop",
}


def screw(at: Point) -> tuple[Points, ...]:
    """A fastener: a circle with an X in it."""
    x, y = at
    d = SCREW_RADIUS_MM * math.sqrt(0.5)
    return (
        ring(at, SCREW_RADIUS_MM),
        ((x - d, y - d), (x + d, y + d)),
        ((x - d, y + d), (x + d, y - d)),
    )


def brackets(at: Point, scale: float) -> tuple[Points, ...]:
    """A holding place: four corner brackets around a fingertip."""
    x, y = at
    h = HOLD_HALF_MM * max(scale, 0.35)
    leg = 0.45 * h
    return tuple(
        (
            (x + sx * h, y + sy * (h - leg)),
            (x + sx * h, y + sy * h),
            (x + sx * (h - leg), y + sy * h),
        )
        for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    )


def thin_necks(plan: Plan) -> list[Neck]:
    """The necks that are marked, on paper and on the screen: thin ones, the weakest first."""
    thin = tables.limit("neck-thin").value * plan.board.thickness_mm
    return list(islice((n for n in plan.necks if n.thickness_mm < thin), MOST_NECKS))


def inner_place(cut: Cut, inside: Sequence[Cut], drilled: Sequence[SizedHole] = ()) -> Point:
    """A place for a word in the wood of a piece: the middle of its longest level stretch.

    Args:
        cut: the piece's outline.
        inside: the cuts directly inside it.
        drilled: the openings that are drilled in it.
    """
    rings = [cut.line_mm, *(c.line_mm for c in inside if c.area_mm2 > 0.0), *map(edge, drilled)]
    ys = [p[1] for p in cut.line_mm]
    low, high = min(ys), max(ys)
    best, at = -1.0, cut.start_mm
    for k in range(1, LEVELS):
        y = low + (high - low) * k / LEVELS
        met = sorted(
            a[0] + (y - a[1]) * (b[0] - a[0]) / (b[1] - a[1])
            for ring in rings
            for a, b in pairwise(ring)
            if (a[1] > y) != (b[1] > y)
        )
        for left, right in zip(met[::2], met[1::2], strict=False):
            if right - left > best + 1e-6:
                best, at = right - left, ((left + right) / 2, y)
    return at


def pinches(
    necks: Sequence[tuple[Point, float]], contours: Sequence[Points]
) -> list[tuple[Points, ...]]:
    """Necks: for each two chevrons, one on each side, that point at it.

    They point along the nearest way from the neck's middle to a line.

    Args:
        necks: middle and thickness of each.
        contours: all pattern lines.
    """
    ways = _ways_to_nearest([at for at, _ in necks], contours)
    return [pinch(at, thickness, way) for (at, thickness), way in zip(necks, ways, strict=True)]


def pinch(at: Point, thickness: float, way: Point) -> tuple[Points, ...]:
    """Two chevrons that point at a place along a unit vector, from both sides."""
    ux, uy = way
    found = []
    for s in (-1.0, 1.0):
        off = thickness / 2 + 0.4
        tip = (at[0] + s * ux * off, at[1] + s * uy * off)
        back = (tip[0] + s * ux * CHEVRON_MM, tip[1] + s * uy * CHEVRON_MM)
        side = (-uy * 0.7 * CHEVRON_MM, ux * 0.7 * CHEVRON_MM)
        found.append(
            ((back[0] + side[0], back[1] + side[1]), tip, (back[0] - side[0], back[1] - side[1]))
        )
    return tuple(found)


def _ways_to_nearest(places: Sequence[Point], contours: Sequence[Points]) -> list[Point]:
    """Unit vectors from places to the nearest point of any line; (1, 0) on a line.

    >>> _ways_to_nearest([(1.0, 1.0)], [box(0, 0, 9, 3)])
    [(0.0, -1.0)]
    """
    if not places or not contours:
        return [(1.0, 0.0) for _ in places]
    import numpy as np

    starts = np.array([p for line in contours for p in line[:-1]])
    steps = np.array([p for line in contours for p in line[1:]]) - starts
    square = np.maximum((steps**2).sum(axis=1), 1e-12)
    found = []
    for at in places:
        t = np.clip(((np.array(at) - starts) * steps).sum(axis=1) / square, 0.0, 1.0)
        ways = starts + t[:, None] * steps - np.array(at)
        away = np.hypot(ways[:, 0], ways[:, 1])
        k = int(np.argmin(np.round(away, 9)))
        d = float(away[k])
        found.append((float(ways[k, 0]) / d, float(ways[k, 1]) / d) if d > 1e-6 else (1.0, 0.0))
    return found


def signed_area(ring_mm: Sequence[Point]) -> float:
    """Area of a closed ring, positive when it runs clockwise on the screen (y down).

    >>> signed_area(box(0, 0, 2, 3))
    6.0
    """
    total = 0.0
    for a, b in zip(ring_mm, ring_mm[1:], strict=False):
        total += a[0] * b[1] - b[0] * a[1]
    return total / 2


def waste_on_right(cut: Cut) -> bool:
    """Whether the waste lies to the right of the travel."""
    clockwise = signed_area(cut.line_mm) >= 0.0
    return clockwise == (cut.side == "inside")


def mark_scale(cut: Cut) -> float:
    """Size of a cut's marks, 1 in a large opening, smaller in a small one."""
    if cut.side == "outside":
        return 1.0
    size = math.sqrt(abs(signed_area(cut.line_mm)))
    return min(1.0, max(0.3, size / 14.0))


def turn_radii(cut: Cut, scale: float) -> list[float]:
    """Radius of each turn's mark: at most 0.4 of the way to the next corner."""
    turns = cut.turns
    found = []
    for i, turn in enumerate(turns):
        gap = math.inf
        if len(turns) > 1:
            near = (turns[i - 1].at_mm, turns[(i + 1) % len(turns)].at_mm)
            gap = min(math.dist(turn.at_mm, p) for p in near)
        r = min(TURN_RADIUS_MM * max(scale, 0.5), 0.4 * gap)
        found.append(max(LEAST_TURN_RADIUS_MM, r))
    return found


def _walk(line: Points, along: float) -> tuple[Point, Point]:
    """Point at a distance along a line, and the unit heading there."""
    left = along
    a, b = line[0], line[1]
    for a, b in zip(line, line[1:], strict=False):
        step = math.dist(a, b)
        if step >= left and step > 0.0:
            break
        left -= step
    step = math.dist(a, b)
    if step == 0.0:
        return a, (1.0, 0.0)
    t = min(1.0, left / step)
    heading = ((b[0] - a[0]) / step, (b[1] - a[1]) / step)
    return (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])), heading


def _beside(line: Points, along: float, off: float, right: bool) -> Point:
    """A place beside the line, ``off`` mm to the right or left of the travel."""
    (x, y), (ux, uy) = _walk(line, along)
    s = off if right else -off
    return (x - s * uy, y + s * ux)


def start_bar(cut: Cut, waste_right: bool, scale: float) -> Points:
    """A short bar on the waste side of the line where the cut starts and ends.

    It halves the angle between the end and the start of the line, so that in a sharp
    corner it stays in the waste.
    """
    line = cut.line_mm
    _, out = _walk(line, 0.0)
    _, back = _walk(line[::-1], 0.0)
    side = 1.0 if waste_right else -1.0
    x = side * (-out[1] + back[1])
    y = side * (out[0] - back[0])
    size = math.hypot(x, y)
    if size < 0.05:  # the line turns back on itself: no middle to point to
        return line[0], _beside(line, 0.0, START_BAR_MM * scale, waste_right)
    length = START_BAR_MM * scale / size
    return line[0], (line[0][0] + length * x, line[0][1] + length * y)


def meet_bars(cut: Cut, waste_right: bool, scale: float) -> tuple[Points, ...]:
    """Two bars across the waste side where the two runs of one cut meet."""
    along = cut.meet_along_mm or 0.0
    return tuple(
        (_walk(cut.line_mm, a)[0], _beside(cut.line_mm, a, START_BAR_MM * scale, waste_right))
        for a in (along - 0.4 * scale, along + 0.4 * scale)
    )


def travel_arrow(cut: Cut, waste_right: bool, scale: float) -> tuple[Points, ...]:
    """An arrow beside the line, on the waste side, the way the blade goes.

    It begins at the start, or a little farther on where the hole or a sharp corner
    leaves no room there.
    """
    length = min(ARROW_MM * scale, cut.length_mm / 5) or 0.1
    shaft = _shaft(cut, waste_right, scale, 0.0, length)
    for i in range(ARROW_TRIES):
        begin = i * 0.5 * length
        if begin + length > cut.length_mm / 3:
            break
        tried = _shaft(cut, waste_right, scale, begin, length)
        if _has_room(cut, tried):
            shaft = tried
            break
    tip, back = shaft[-1], shaft[-2]
    d = math.dist(tip, back)
    if d < 1e-9:
        return (shaft,)
    ux, uy = (tip[0] - back[0]) / d, (tip[1] - back[1]) / d
    h = 1.1 * scale
    head = tuple(
        (tip[0] - h * ux + s * 0.5 * h * -uy, tip[1] - h * uy + s * 0.5 * h * ux)
        for s in (1.0, -1.0)
    )
    return shaft, (head[0], tip, head[1])


def _shaft(cut: Cut, waste_right: bool, scale: float, begin: float, length: float) -> Points:
    off = ARROW_OFF_MM * scale
    return tuple(
        _beside(cut.line_mm, begin + length * t, off, waste_right)
        for t in (0.0, 0.25, 0.5, 0.75, 1.0)
    )


def _has_room(cut: Cut, shaft: Points) -> bool:
    """Whether an arrow stays in the waste and clear of the hole's cross."""
    if cut.lead_mm and any(math.dist(p, cut.lead_mm[0]) < HOLE_CLEAR_MM for p in shaft):
        return False
    inside = cut.side == "inside"
    return all(_contains(cut.line_mm, p) == inside for p in shaft)


def _contains(ring_mm: Points, at: Point) -> bool:
    """Whether a closed ring contains a place (even-odd).

    >>> _contains(box(0, 0, 2, 2), (1, 1)), _contains(box(0, 0, 2, 2), (3, 1))
    (True, False)
    """
    x, y = at
    within = False
    for a, b in zip(ring_mm, ring_mm[1:], strict=False):
        if (a[1] > y) != (b[1] > y):
            within ^= x < a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
    return within
