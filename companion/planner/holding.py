"""Where to hold what comes free, before it does.

The rule kept: fingers hold solid wood of the part that will be free, at least the
sawyer's finger distance from the blade during the last stretch of its cut; two places
when the part is large enough to turn under one finger. A piece that is large but
slender, as a word in a thin script, is pressed flat on a sturdy stroke instead, away from
its necks. A part
too small to be held at that distance gets no place: it is left to drop, or taped, never
pinched.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from scipy.spatial import cKDTree

from companion.findings import Finding, Point
from companion.planner.contours import Contour
from companion.planner.linework import Floats, Linework
from companion.planner.rules import Rules
from companion.planner.starts import Entry
from companion.words.catalogue import ENGLISH, Words

APART_COST, NECK_GAIN = 0.05, 0.25
"""Worth of a mm nearer to the end of the cut, and of a mm farther from a neck, in mm of
solid wood under the finger; own choice, no source."""
NECK_TIPS = 4.0
"""Beyond so many fingertip radii a neck is far enough."""


def holding_places(
    work: Linework, contour: Contour, entry: Entry, finger_mm: float, rules: Rules,
    necks_mm: Sequence[Point] = (),
) -> tuple[Point, ...]:  # fmt: skip
    """One or two places on the part that a cut frees.

    Args:
        work: all lines.
        contour: the one that is cut.
        entry: its start and direction.
        finger_mm: least distance from the blade to a finger.
        rules: size of a fingertip, length of the last stretch.
        necks_mm: thin places of the freed piece, board mm: no finger presses on one while
            there is another place, and farther from them is better.

    Returns:
        Places in board mm, the firmest first; empty when the part is too small.
    """
    path = last_stretch(entry, rules.hold.last_share)
    centres, radii, apart = _far(work, contour, path, rules.hold.finger_radius_mm, finger_mm)
    if not len(centres) and contour.side == "outside":
        centres, radii, apart = _far(work, contour, path, rules.hold.slender_mm / 2, finger_mm)
    if not len(centres):
        return ()
    solid = np.minimum(radii, 3 * rules.hold.finger_radius_mm)
    clear = _clear_of(necks_mm, centres, rules.hold.finger_radius_mm)
    # nearer to the end of the cut holds better, as long as it is far enough
    score = np.round(solid - APART_COST * apart + NECK_GAIN * clear, 6)
    on_neck = clear < rules.hold.finger_radius_mm
    if not on_neck.all():
        score[on_neck] = -np.inf
        solid = np.where(on_neck, 0.0, solid)
    first = int(np.argmax(score))
    places = [first]
    between = np.hypot(*(centres - centres[first]).T)
    good = (between >= finger_mm) & (solid >= 0.5 * solid[first]) & np.isfinite(score)
    if good.any():
        places.append(int(np.argmax(np.where(good, np.round(score + 0.1 * between, 6), -np.inf))))
    return tuple((float(centres[k, 0]), float(centres[k, 1])) for k in places)


def _clear_of(necks_mm: Sequence[Point], places: Floats, finger_radius_mm: float) -> Floats:
    """Distance from each place to the nearest neck, as far as it matters: (k,)."""
    most = NECK_TIPS * finger_radius_mm
    if not len(necks_mm):
        return np.full(len(places), most)
    apart, _ = cKDTree(np.array(necks_mm)).query(places)
    return np.minimum(np.asarray(apart, dtype=np.float64), most)


def last_stretch(entry: Entry, share: float) -> Floats:
    """The end of a cut's line as a path (n, 2), its last ``share``."""
    xy = np.array(entry.line_mm)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    begin = along[-1] * (1.0 - share)
    first = np.array(
        [[np.interp(begin, along, xy[:, 0]), np.interp(begin, along, xy[:, 1])]],
        dtype=np.float64,
    )
    return np.concatenate([first, xy[along > begin]])


def too_small(contour: Contour, finger_mm: float, words: Words = ENGLISH) -> Finding:
    """The finding for a piece that no finger may hold."""
    at = contour.ring.representative_point()
    return Finding(
        "hold-too-small", "warn", (at.x, at.y),
        words.say(
            "Piece {n} comes free with no place to hold it {finger:.0f} mm from the blade.",
            n=contour.piece, finger=finger_mm,
        ),
        words.say("A step tapes over its line; do not hold it by hand."),
        finger_mm,
    )  # fmt: skip


def _far(
    work: Linework, contour: Contour, path: Floats, radius_mm: float, finger_mm: float
) -> tuple[Floats, Floats, Floats]:
    """Solid places at the finger's distance: centres, radii, distances to the path."""
    centres, radii = _solid(work, contour, radius_mm)
    apart = _distance_to_path(centres, path)
    far = apart >= finger_mm
    return centres[far], radii[far], apart[far]


def _solid(work: Linework, contour: Contour, radius_mm: float) -> tuple[Floats, Floats]:
    """Centres and radii of balls that touch the contour from the part it frees.

    Inside cuts free the waste before the line, outside cuts the piece behind it.
    The balls of the pieces' other lines are added for an outside cut, since a
    large plain part may lie far from its outline.
    """
    wanted = [contour.index, *(contour.children if contour.side == "outside" else ())]
    centres, radii = [], []
    for index in wanted:
        s = work.samples[index]
        inside = contour.side == "inside"
        centres.append(s.room_at if inside else s.thick_at)
        radii.append((s.room_mm if inside else s.thick_mm) / 2)
    at, radius = np.concatenate(centres), np.concatenate(radii)
    solid = radius >= radius_mm
    return at[solid], radius[solid]


def _distance_to_path(points: Floats, path: Floats) -> Floats:
    """Distance from each point to a path: (k, 2), (n, 2) to (k,)."""
    line = shapely.linestrings(path)
    return np.asarray(shapely.distance(line, shapely.points(points)), dtype=np.float64)
