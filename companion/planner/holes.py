"""Entry holes: which drill, and where a hole of its size may be.

The rules kept (design 5.3): a hole lies in waste with its full radius, nowhere nearer
to a line than its radius plus a margin, nor nearer to the board's edge than the frame
needs; it is drilled with the smallest drill of the sawyer's own set that passes the
blade with slack, or one a step or two thicker where there is room; in tight waste it
sits at the widest spot; and when nothing fits, the finding says what would.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from companion.findings import Finding, Point
from companion.planner.blades import finer_exists, passing
from companion.planner.contours import Contour
from companion.planner.linework import Floats, Linework
from companion.planner.numbers import cut_of
from companion.planner.rules import HoleRules
from companion.shop.model import BladeSize, Drill
from companion.words.catalogue import Words

OFF_LINE_MM = 1e-3
"""A lead is looked at from this near to its start, where it meets its own line."""


def fitting_drills(
    blade: BladeSize, drills: Sequence[Drill], rules: HoleRules
) -> tuple[Drill, ...]:
    """The drills of a set that may be used for a blade, thinnest first.

    The first passes the blade's diagonal with slack; the others are at most
    ``steps_up`` sizes above it and ``largest_times`` the diagonal. Empty when
    no drill of the set is thick enough.
    """
    thick = passing(blade, drills, rules.slack_mm)
    if not thick:
        return ()
    most = max(rules.largest_times * blade.passes_mm, thick[0].diameter_mm)
    return tuple(d for d in thick[: rules.steps_up + 1] if d.diameter_mm <= most)


def widest_spot(region: BaseGeometry, precision_mm: float = 0.02) -> tuple[Point, float]:
    """Centre and radius of the largest circle inside a region.

    Args:
        region: polygon, holes respected; of several parts the widest counts.
        precision_mm: the radius is at most this much under the true maximum.

    Returns:
        The centre and the radius, mm; radius 0 for an empty or degenerate region.

    >>> from shapely.geometry import box
    >>> (x, y), r = widest_spot(box(0, 0, 8, 2))
    >>> round(y, 1), round(r, 1)
    (1.0, 1.0)
    """
    if region.is_empty or not isinstance(region, Polygon | MultiPolygon) or region.area <= 0.0:
        x, y = (0.0, 0.0) if region.is_empty else shapely.get_coordinates(region)[0]
        return (float(x), float(y)), 0.0
    radius = shapely.maximum_inscribed_circle(region, tolerance=precision_mm)
    (x, y), _ = shapely.get_coordinates(radius)
    return (float(x), float(y)), float(radius.length)


class HolePlaces:
    """Answers where a hole may be, and remembers the holes already placed.

    Args:
        work: all lines.
        width_mm: of the board.
        height_mm: of the board.
        rules: margins.
    """

    def __init__(self, work: Linework, width_mm: float, height_mm: float, rules: HoleRules) -> None:
        self._work = work
        self._size = np.array([width_mm, height_mm])
        self._rules = rules
        self._rings = shapely.STRtree([c.ring for c in work.contours])
        self._taken: dict[int, list[tuple[int, float, float, float]]] = defaultdict(list)

    @staticmethod
    def region_of(contour: Contour) -> int:
        """A number shared by contours whose holes lie in one stretch of waste."""
        if contour.side == "inside":
            return contour.index
        return -1 if contour.parent is None else contour.parent

    def free_mm(self, contour: Contour, centres: Floats, exact: bool = False) -> Floats:
        """Largest radius a hole may have at each place, mm; may be negative.

        Lines keep the margin, the board's edge the frame, other holes the margin.
        Whether a place is waste at all is not asked here.

        Args:
            contour: whose hole it is.
            centres: (k, 2).
            exact: True for the true distance to the lines; else it may be some
                hundredths too large.
        """
        work, rules = self._work, self._rules
        apart = work.exact_distance(centres) if exact else work.distance(centres)
        edge = np.minimum(centres, self._size - centres).min(axis=1)
        free = np.minimum(apart - rules.margin_mm, edge - rules.frame_mm)
        taken = self._taken[self.region_of(contour)]
        if taken:
            holes = np.array([row[1:] for row in taken])
            gap = np.hypot(*(centres[:, None, :] - holes[None, :, :2]).transpose(2, 0, 1))
            free = np.minimum(free, (gap - holes[:, 2] - rules.margin_mm).min(axis=1))
        return np.asarray(free, dtype=np.float64)

    def reaches(
        self, contour: Contour, start: Floats, toward_waste: Floats, centre: Floats
    ) -> bool:
        """Whether a straight lead meets lines only at its start, and lies in waste there.

        Args:
            contour: whose line the start is on.
            start: on the line (2,).
            toward_waste: unit normal there (2,).
            centre: the lead's other end (2,).
        """
        lead = centre - start
        size = float(np.hypot(*lead))
        if size < OFF_LINE_MM or float(lead @ toward_waste) <= 0.0:
            return False
        off = start + lead * (OFF_LINE_MM / size)
        if self._work.crosses(np.stack([off, centre])):
            return False
        return self.in_waste(contour, centre)

    def in_waste(self, contour: Contour, centre: Floats) -> bool:
        """Whether a place lies in the contour's own waste, not beyond a near wall of it.

        A lead is checked from a little off its start, and where waste narrows to nothing
        the opposite wall may be nearer than that, or the normal point into wood.
        """
        around = self._rings.query(shapely.Point(centre), predicate="within")
        wanted = set() if contour.side == "outside" else {contour.index}
        up = contour.parent
        while up is not None:
            wanted.add(up)
            up = self._work.contours[up].parent
        return set(around.tolist()) == wanted

    def take(self, contour: Contour, centre: Point, radius_mm: float) -> None:
        """Remember a hole, so that others keep clear of it."""
        self._taken[self.region_of(contour)].append((contour.index, *centre, radius_mm))

    def taken(self, contour: Contour) -> tuple[tuple[int, float, float, float], ...]:
        """Holes already in the same stretch of waste: contour, x, y, radius."""
        return tuple(self._taken[self.region_of(contour)])


def no_drill(blade: BladeSize, drills: Sequence[Drill], rules: HoleRules, words: Words) -> Finding:
    """The finding for a set without a drill thick enough for the blade."""
    need = blade.passes_mm + rules.slack_mm
    thickest = max((d.diameter_mm for d in drills), default=0.0)
    return Finding(
        "drill-missing", "stop", None,
        words.say(
            "No drill of your set passes blade No. {blade}: it needs {need:.2f} mm,"
            " the thickest has {thickest:.2f} mm.",
            blade=blade.number, need=need, thickest=thickest,
        ),
        words.say("Add a drill of {need:.2f} mm or a little more, or a finer blade.", need=need)
        if finer_exists(blade)
        else words.say("Add a drill of {need:.2f} mm or a little more.", need=need),
        need,
    )  # fmt: skip


def no_room(
    contour: Contour, at: Point, most: float, blade: BladeSize,
    blades: Sequence[BladeSize], drills: Sequence[Drill], rules: HoleRules, words: Words,
) -> Finding:  # fmt: skip
    """The finding for waste too narrow for any hole the blade can be threaded through.

    Args:
        contour: whose waste it is.
        at: the widest spot.
        most: largest diameter a hole may have there, mm; may be negative.
        blade: the one chosen.
        blades: all that the shop knows; the thickest that would fit is named.
        drills: the sawyer's set.
        rules: margins.
        words: the language.
    """
    thin = fitting_drills(blade, drills, rules)
    need = thin[0].diameter_mm if thin else blade.passes_mm + rules.slack_mm
    where = (
        words.say("The waste of cut {n}", n=cut_of(contour))
        if contour.side == "inside"
        else words.say("The waste around piece {n}", n=contour.piece)
    )
    if most >= need:
        return Finding(
            "hole-no-way", "stop", at,
            words.say(
                "{where} has room for a hole, but no way as wide as the kerf leads from it"
                " to the line.",
                where=where,
            ),
            words.say(
                "Widen the gaps beside it to {kerf:.2f} mm or more, or use a finer blade.",
                kerf=blade.kerf_mm + 0.1,
            )
            if finer_exists(blade)
            else words.say(
                "Widen the gaps beside it to {kerf:.2f} mm or more.", kerf=blade.kerf_mm + 0.1
            ),
            blade.kerf_mm,
        )  # fmt: skip
    text = words.say(
        "{where} takes a hole of {most:.2f} mm at most; with your drills blade No. {blade}"
        " needs {need:.2f} mm.",
        where=where, most=max(most, 0.0), blade=blade.number, need=need,
    )  # fmt: skip
    for other in sorted(blades, key=lambda b: -b.passes_mm):
        fits = fitting_drills(other, drills, rules)
        if fits and fits[0].diameter_mm <= most + 1e-6:
            remedy = words.say(
                "Use blade No. {blade} with the {drill} drill for it.",
                blade=other.number, drill=fits[0].name,
            )  # fmt: skip
            break
    else:
        fits = fitting_drills(blade, drills, rules)
        wider = (fits[0].diameter_mm if fits else need) - most
        remedy = (
            words.say("Give the board {wider:.1f} mm more margin.", wider=wider)
            if contour.parent is None
            else words.say(
                "Widen it by {wider:.2f} mm, enlarge the pattern, or leave it uncut.", wider=wider
            )
        )
    return Finding("hole-no-room", "stop", at, text, remedy, max(most, 0.0))
