"""What the blade does at each corner: follow, spin, back out, or loop (design 5.5).

The blade is a real body, not a point: a strip as wide as its number says, teeth ahead.
Spun on the spot it sweeps a disc of its section's diagonal, and that whole disc must
lie in waste, at most a little way back from the corner, or the blade's back marks the
piece. Round a point of the piece it can run on into the waste, loop and come back, if
the loop keeps clear of every line, of the board's edge and of what is cut away
already. Where neither holds, or the sawyer's skill says so, it cuts into the corner,
backs out and comes from the other side. Bends it can steer are no turns at all.

The choice depends on the corner alone, not on the direction of travel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from companion.planner.contours import Contour
from companion.planner.corners import Corner, corners_of
from companion.planner.linework import Bools, Floats, Linework, unit
from companion.planner.places import waste_normal
from companion.planner.plan import Technique, Turn
from companion.planner.reach import Reach, worst
from companion.planner.rules import Rules
from companion.planner.starts import Entry
from companion.shop.model import BladeSize

TOUCH_MM = 0.02
"""The swept disc may come this near to a line: a hundredth of what a sawyer can see."""
LEAST_HALF = float(np.radians(2.5))
"""Half the angle of a point of the piece under which no loop goes round it."""
SPOTS = 9
"""Places on the bisector at which a spin is tried."""


@dataclass(frozen=True, slots=True)
class Ground:
    """What a turn has to keep clear of, besides the lines."""

    width_mm: float
    """Of the board."""
    height_mm: float
    """Of the board."""
    gone: BaseGeometry | None = None
    """Area cut away before this cut; None when nothing is."""
    reach: Reach | None = None
    """Of the saw: a loop swings the board the long way round. None: no matter."""


def techniques(
    work: Linework, contour: Contour, blade: BladeSize, rules: Rules, ground: Ground
) -> tuple[tuple[Corner, Technique], ...]:
    """The corners of a contour and how each is taken, by arc length."""
    return tuple((c, how) for c, how, _ in _taken(work, contour, blade, rules, ground))


def _taken(
    work: Linework, contour: Contour, blade: BladeSize, rules: Rules, ground: Ground
) -> tuple[tuple[Corner, Technique, Floats | None], ...]:
    """The same, with the way of the blade where it loops."""
    line = work.lines[contour.index]
    chord = blade.width_mm * rules.turn.chord_widths
    found = corners_of(work, contour, blade, rules.turn)
    if not found:
        return ()
    arc = np.array([c.arc_mm for c in found])
    reach = np.array([max(chord, c.span_mm) for c in found])
    at = line.at(arc)
    before, after = (
        unit(line.at(arc - reach / 2) - line.at(arc - reach / 2 - chord)),
        unit(line.at(arc + reach / 2 + chord) - line.at(arc + reach / 2)),
    )
    into_waste = _into_waste(contour, found, before)
    spins = _spin_clear(work, at, into_waste, blade, rules)
    wanted = np.array([_may_loop(c, bool(s), rules) for c, s in zip(found, spins, strict=True)])
    loops = _loop_clear(work, wanted, at, before, after, blade, rules, ground)
    how = [_choose(c, bool(s), o is not None, rules)
           for c, s, o in zip(found, spins, loops, strict=True)]  # fmt: skip
    return tuple(
        (c, h, o if h == "loop" else None) for c, h, o in zip(found, how, loops, strict=True)
    )


def turns(
    work: Linework,
    contour: Contour,
    entry: Entry,
    blade: BladeSize,
    rules: Rules,
    ground: Ground,
) -> tuple[Turn, ...]:
    """The turns of one cut in travel order; see :func:`turns_and_loops`."""
    return turns_and_loops(work, contour, entry, blade, rules, ground)[0]


def turns_and_loops(
    work: Linework,
    contour: Contour,
    entry: Entry,
    blade: BladeSize,
    rules: Rules,
    ground: Ground,
) -> tuple[tuple[Turn, ...], tuple[Floats, ...]]:
    """The turns of one cut in travel order, and the closed ways (n, 2) of its loops, mm.

    The corner where the cut starts and ends is none: the cut ends there. Nor is one where
    two runs meet.

    Args:
        work: all lines.
        contour: the one that is cut.
        entry: its start and direction.
        blade: the body.
        rules: thresholds of the skill level.
        ground: board and what is gone.
    """
    length = work.lines[contour.index].length
    near = min(blade.width_mm, length / 8)
    meet = -np.inf if entry.meet_along_mm is None else entry.meet_along_mm
    out: list[Turn] = []
    loops: list[Floats] = []
    for corner, technique, way in _taken(work, contour, blade, rules, ground):
        along = (corner.arc_mm - entry.start_arc_mm) % length
        if entry.direction == "anticlockwise":
            along = (length - along) % length
        if near < along < length - near and abs(along - meet) > near:
            out.append(Turn(corner.at_mm, min(abs(corner.bend_deg), 180.0), technique, along))
            loops += [] if way is None else [way]
    return tuple(sorted(out, key=lambda t: t.along_mm)), tuple(loops)


def _spins(corner: Corner, spin_clear: bool, rules: Rules) -> bool:
    """Whether the skill spins a corner of this angle, given the room."""
    if corner.waste_deg < 180.0:
        return spin_clear and corner.waste_deg >= rules.turn.spin_waste_deg
    return spin_clear and abs(corner.bend_deg) <= rules.turn.spin_tip_deg


def _may_loop(corner: Corner, spin_clear: bool, rules: Rules) -> bool:
    """Whether a loop would be taken at a corner if there is room for it."""
    sharp = abs(corner.bend_deg) >= rules.turn.loop_deg
    return corner.waste_deg > 180.0 and (sharp or not _spins(corner, spin_clear, rules))


def _choose(corner: Corner, spin_clear: bool, loop_clear: bool, rules: Rules) -> Technique:
    """The technique of one corner, from its angle, the skill's thresholds and the room."""
    if loop_clear and _may_loop(corner, spin_clear, rules):
        return "loop"
    return "spin" if _spins(corner, spin_clear, rules) else "back-out"


def _into_waste(contour: Contour, found: Sequence[Corner], before: Floats) -> Floats:
    """Unit bisectors of the waste at the corners: (k, 2)."""
    half = np.radians(np.array([c.bend_deg for c in found])) / 2
    x, y = before[:, 0], before[:, 1]
    middle = [x * np.cos(half) - y * np.sin(half), x * np.sin(half) + y * np.cos(half)]
    return waste_normal(contour, np.stack(middle, axis=1))


def _spin_clear(
    work: Linework, at: Floats, into_waste: Floats, blade: BladeSize, rules: Rules
) -> Bools:
    """Whether the disc that the spun blade sweeps fits in waste near each corner."""
    radius = blade.passes_mm / 2
    back = radius + rules.turn.back_up_widths * blade.width_mm
    out = np.linspace(radius, back, SPOTS)
    centres = at[:, None, :] + into_waste[:, None, :] * out[None, :, None]
    apart = work.distance(centres.reshape(-1, 2)).reshape(len(at), SPOTS)
    # what is touched on the way out is cut
    unbroken = np.minimum.accumulate(apart, axis=1) > TOUCH_MM
    fits = (apart >= radius - TOUCH_MM) & unbroken
    # the quick distance is never too small: what it lets pass is looked at exactly
    fits[fits] = work.apart(centres[fits], radius - TOUCH_MM)
    found: Bools = np.asarray(fits.any(axis=1), dtype=np.bool_)
    # a line that lies between the places tried puts the disc, and any farther one, beyond the waste
    nearest = centres[found, fits[found].argmax(axis=1)]
    found[found] = ~work.between(at[found] + TOUCH_MM * into_waste[found], nearest)
    return found


def _loop_clear(
    work: Linework, wanted: Bools, at: Floats, before: Floats, after: Floats,
    blade: BladeSize, rules: Rules, ground: Ground,
) -> list[Floats | None]:  # fmt: skip
    """The widest loop round each point of the piece that keeps clear of everything; or None.

    The loop runs straight on from the point, round a circle that touches both
    the line gone on along and the line come back along, and back to the point.
    """
    clear: list[Floats | None] = [None] * len(at)
    middle = before - after
    # half the angle between the line gone on along and the one come back along
    half = np.arccos(np.clip(np.hypot(middle[:, 0], middle[:, 1]) / 2, -1.0, 1.0))
    tips = wanted & (half > LEAST_HALF)
    for radius in loop_radii(blade, rules):
        left = np.flatnonzero(tips & np.array([c is None for c in clear]))
        centres = at[left] + unit(middle[left]) * (radius / np.sin(half[left]))[:, None]
        free = work.distance(centres) >= radius + blade.kerf_mm / 2
        for k in left[free]:
            path = loop_path(at[k], before[k], after[k], radius)
            if _path_clear(work, path, blade, rules, ground):
                clear[k] = path
    return clear


def loop_radii(blade: BladeSize, rules: Rules) -> list[float]:
    """The radii at which a loop is tried, wide to tight, mm."""
    turn = rules.turn
    widths = np.linspace(turn.loop_radius_widths, turn.loop_least_widths, 3)
    return [float(w) * blade.width_mm for w in widths]


def _path_clear(
    work: Linework, path: Floats, blade: BladeSize, rules: Rules, ground: Ground
) -> bool:
    """Whether a loop keeps clear of lines, of the board's edge and of what is gone."""
    half_kerf = blade.kerf_mm / 2
    size = np.array([ground.width_mm, ground.height_mm])
    if (np.minimum(path, size - path) < rules.hole.frame_mm).any():
        return False
    far = path[np.hypot(*(path - path[0]).T) > 2 * blade.kerf_mm]
    if work.nears(far, half_kerf + TOUCH_MM):
        return False
    if ground.reach is not None and not ground.reach.never_meets(path):
        # either way round: the choice must not depend on the direction of travel
        ways = (worst(ground.reach, p, closed=False)[0] for p in (path, path[::-1]))
        if max(ways) > ground.reach.throat_mm:
            return False
    disc = shapely.Polygon(path)
    if _holds_line(work, path, disc):
        return False
    return ground.gone is None or not disc.buffer(half_kerf).intersects(ground.gone)


def _holds_line(work: Linework, path: Floats, disc: shapely.Polygon) -> bool:
    """Whether some line runs inside the loop, so that its chip would take wood of a piece."""
    centre = path.mean(axis=0)
    reach = float(np.hypot(*(path - centre).T).max())
    near = work.tree.query_ball_point(centre, reach)
    if not near:
        return False
    points = work.points[np.array(near)]
    inner = disc.buffer(-0.05)
    return bool(shapely.contains_xy(inner, points[:, 0], points[:, 1]).any())


def loop_path(at: Floats, before: Floats, after: Floats, radius_mm: float) -> Floats:
    """The blade's way round a point: on along ``before``, round, back along ``after``.

    Args:
        at: the point of the piece (2,).
        before: unit heading on arrival (2,).
        after: unit heading on leaving (2,).
        radius_mm: of the circle.

    Returns:
        Closed path (n, 2), first = last = the point.
    """
    middle = before - after
    middle = middle / np.hypot(*middle)
    half = float(np.arccos(np.clip(before @ middle, -1.0, 1.0)))
    centre = at + middle * (radius_mm / np.sin(half))
    leg = radius_mm / np.tan(half)
    first, last = at + before * leg, at - after * leg
    a = float(np.arctan2(*(first - centre)[::-1]))
    b = float(np.arctan2(*(last - centre)[::-1]))
    # the long way round, away from the point
    sweep = (b - a) % (2 * np.pi)
    toward = float(np.arctan2(*(at - centre)[::-1]))
    if (toward - a) % (2 * np.pi) < sweep:
        sweep -= 2 * np.pi
    angles = a + sweep * np.linspace(0.0, 1.0, 25)
    arc = centre + radius_mm * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    legs = np.linspace(0.0, 1.0, 9)[:, None]
    out = at + (first - at) * legs
    back = last + (at - last) * legs
    return np.asarray(np.concatenate([out[:-1], arc, back[1:]]), dtype=np.float64)
