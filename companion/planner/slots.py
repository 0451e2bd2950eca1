"""Waste that the blade cannot enter or follow: openings, slots and inside corners.

Rule: the blade leaves a slot as wide as its kerf, so waste is opened (shrunk and
grown again) with a circle of that width; what is lost is too narrow for it. The same
with a circle of the tightest turn shows the corners that stay a little full.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Polygon, box
from shapely.geometry import Point as Spot
from shapely.geometry.base import BaseGeometry
from shapely.strtree import STRtree

from companion.findings import Finding, Point
from companion.pattern.model import Opening, Pattern
from companion.pattern.overlay import difference, union_all
from companion.planner.blades import finer_exists
from companion.planner.numbers import cut_of_opening
from companion.shop import tables
from companion.shop.model import BladeSize
from companion.words import Words

MEET_MM = 0.01
"""A narrow place nearer than this to waste that is wide enough is its end."""
PIECE = 6
"""Corners per piece of line in a search tree."""
QUARTER = 8
"""Straight stretches for a quarter of a circle when growing and shrinking."""


@dataclass(frozen=True, slots=True)
class Narrow:
    """A place where waste is narrower than a circle."""

    at_mm: Point
    depth_mm: float
    """How far the narrow place reaches from waste that is wide enough."""


def waste_of_opening(pattern: Pattern, opening: Opening) -> BaseGeometry:
    """The opening without the pieces that lie inside it."""
    inside = [p.shape for p in pattern.pieces if p.within == opening.number]
    if not inside:
        return opening.ring
    return difference(opening.ring, union_all([Polygon(s.exterior) for s in inside]))


def waste_outside(pattern: Pattern, margin_mm: float = 10.0) -> BaseGeometry:
    """The board around the outermost pieces, a margin wide."""
    x0, y0, x1, y1 = pattern.bounds_mm
    # round at its corners, which nobody cuts
    room = box(x0, y0, x1, y1).buffer(margin_mm)
    outer = [Polygon(p.shape.exterior) for p in pattern.pieces if p.within is None]
    return difference(room, union_all(outer))


def polygons(shape: BaseGeometry) -> list[Polygon]:
    """The polygons of any geometry, empty ones left out."""
    found: Iterable[BaseGeometry] = shape.geoms if hasattr(shape, "geoms") else [shape]
    return [p for p in found if isinstance(p, Polygon) and not p.is_empty]


def narrow_places(regions: Sequence[BaseGeometry], radius_mm: float) -> list[Narrow]:
    """Where a circle of a radius does not fit.

    Args:
        regions: of waste, polygon or polygons each, mm.
        radius_mm: of the circle.

    Returns:
        One for each separate place; depth is infinite if no part of its region is wide enough.
    """
    # All are opened in one go, laid out in a row so far apart that none is near another.
    some = [r for r in regions if not r.is_empty]
    if not some:
        return []
    bounds = shapely.bounds(some)
    gap = float(np.hypot(*(bounds[:, 2:] - bounds[:, :2]).T).max())
    stop = np.cumsum(bounds[:, 2] - bounds[:, 0] + 2.0 * gap)
    moved = np.concatenate(([0.0], stop[:-1])) - bounds[:, 0]
    row = [affinity.translate(r, float(m)) for r, m in zip(some, moved, strict=True)]
    found = _narrow(MultiPolygon([p for r in row for p in polygons(r)]), radius_mm)
    back = moved[np.searchsorted(stop - gap, [n.at_mm[0] for n in found])].tolist()
    return [
        Narrow((n.at_mm[0] - m, n.at_mm[1]), n.depth_mm) for n, m in zip(found, back, strict=True)
    ]


def _narrow(waste: MultiPolygon, radius_mm: float) -> list[Narrow]:
    """The same for waste whose regions lie far apart."""
    core = waste.buffer(-radius_mm, quad_segs=QUARTER)
    # a little more than it was shrunk, so that rounding leaves no slivers
    open_part = core.buffer(radius_mm * 1.02 + 1e-3, quad_segs=QUARTER)
    left = polygons(difference(waste, open_part))
    if not left:
        return []
    places = shapely.get_coordinates(shapely.point_on_surface(left)).tolist()
    depths = _depths(left, open_part)
    return [Narrow((x, y), d) for (x, y), d in zip(places, depths.tolist(), strict=True)]


def _depths(parts: list[Polygon], open_part: BaseGeometry) -> NDArray[np.float64]:
    """How far each part reaches from what is open; infinite where they do not meet."""
    depth = np.full(len(parts), np.inf)
    if open_part.is_empty:
        return depth
    # the parts lie outside it, so its rim is as near as itself, and that goes in small pieces
    rim = STRtree(short_lines(shapely.get_rings(polygons(open_part)).tolist()))
    met = np.unique(rim.query(parts, predicate="dwithin", distance=MEET_MM)[0])
    depth[met] = 0.0
    corners, of = shapely.get_coordinates(np.array(parts)[met], return_index=True)
    spots = shapely.points(corners)
    apart = shapely.distance(spots, rim.geometries[rim.nearest(spots)])
    np.maximum.at(depth, met[of], apart)
    return depth


def short_lines(lines: list[LineString]) -> NDArray[np.object_]:
    """Lines cut into pieces of a few corners, for a search tree."""
    xy, line = shapely.get_coordinates(lines, return_index=True)
    first = np.flatnonzero(np.diff(line, prepend=-1))
    place = np.arange(len(xy)) - first[line]
    # a corner between two pieces belongs to both
    again = np.flatnonzero((place % PIECE == 0) & (place > 0))
    piece = np.cumsum(place % PIECE == 0) - 1
    at = np.concatenate([np.arange(len(xy)), again])
    owner = np.concatenate([piece, piece[again] - 1])
    order = np.lexsort((at, owner))
    at, owner = at[order], owner[order]
    # a piece of the line's last corner alone is no line
    whole = np.bincount(owner)[owner] > 1
    _, owner = np.unique(owner[whole], return_inverse=True)
    return np.atleast_1d(shapely.linestrings(xy[at[whole]], indices=owner))


def widest_mm(waste: BaseGeometry) -> tuple[Point, float]:
    """Centre and diameter of the largest circle inside, mm."""
    if waste.is_empty or not isinstance(waste, Polygon | MultiPolygon):
        return (0.0, 0.0), 0.0
    spoke = shapely.maximum_inscribed_circle(waste, tolerance=0.01)
    x, y = shapely.get_coordinates(spoke)[0]
    return (float(x), float(y)), 2.0 * float(spoke.length)


def _opening_findings(
    pattern: Pattern, waste: dict[int, BaseGeometry], blade: BladeSize, words: Words
) -> list[Finding]:
    kerf = tables.limit("opening-under-kerf")
    needed = kerf.value * blade.kerf_mm
    found = []
    for opening in pattern.openings:
        if opening.number not in waste:
            continue
        # by a little more than half: what the coarse rim leaves in doubt is measured
        if not waste[opening.number].buffer(-0.55 * needed, quad_segs=4).is_empty:
            continue
        at, wide = widest_mm(waste[opening.number])
        if wide < needed:
            found.append(Finding(
                kerf.code, kerf.severity, at,
                words.say("The opening of cut {cut} is {wide} mm at its widest; blade {blade} "
                          "leaves a slot of {kerf} mm, wider than the opening.",
                          cut=cut_of_opening(opening.number),
                          wide=f"{wide:.2f}", blade=blade.number, kerf=f"{blade.kerf_mm:.2f}"),
                words.say("Use a finer blade, widen the opening, or draw it as a single line.")
                if finer_exists(blade)
                else words.say("Widen the opening, or draw it as a single line."),
                wide,
            ))  # fmt: skip
    return found


def _slot_findings(waste: list[BaseGeometry], blade: BladeSize, words: Words) -> list[Finding]:
    """Slots under the kerf one by one, full corners counted."""
    kerf = tables.limit("opening-under-kerf")
    long = tables.number("weak", "slot.kerfs") * blade.kerf_mm
    grave = tables.severity("weak", "slot.kerfs")
    found = []
    for place in narrow_places(waste, 0.5 * kerf.value * blade.kerf_mm):
        if long <= place.depth_mm < float("inf"):
            found.append(Finding(
                "slot-under-kerf", grave, place.at_mm,
                words.say("A slot narrower than the kerf of {kerf} mm runs {long} mm deep: "
                          "the blade will widen it into the piece.",
                          kerf=f"{blade.kerf_mm:.2f}", long=f"{place.depth_mm:.1f}"),
                words.say("Use a finer blade, widen the slot, or draw it as a single line.")
                if finer_exists(blade)
                else words.say("Widen the slot, or draw it as a single line."),
                place.depth_mm,
            ))  # fmt: skip
    return found


def full_corners(
    waste: list[BaseGeometry], told: list[Finding], blade: BladeSize
) -> tuple[Narrow, ...]:
    """Corners that stay full when the blade goes round; slots told already are left out."""
    least = tables.number("weak", "corner.left_mm")
    slots = shapely.MultiPoint([f.at_mm for f in told if f.at_mm is not None])
    return tuple(
        place for place in narrow_places(waste, _least_radius(blade))
        if least <= place.depth_mm < float("inf")
        and (slots.is_empty or slots.distance(Spot(place.at_mm)) > place.depth_mm)
    )  # fmt: skip


def _least_radius(blade: BladeSize) -> float:
    """Radius of the tightest bend the blade is steered round, mm."""
    return tables.limit("inside-radius").value * blade.width_mm


def corner_findings(
    corners: Sequence[Narrow], taken: Sequence[Point], blade: BladeSize, words: Words
) -> list[Finding]:
    """The corners that stay full, counted.

    Args:
        corners: that the blade cannot be steered round.
        taken: where the plan backs out, spins or starts: those are cut from both sides.
        blade: the chosen one.
        words: the language.
    """
    row = tables.limit("inside-radius")
    radius = _least_radius(blade)
    done = np.array(taken, dtype=np.float64).reshape(-1, 2)
    full = [
        place for place in corners
        if not (np.hypot(*(done - place.at_mm).T) <= place.depth_mm + radius).any()
    ]  # fmt: skip
    if not full:
        return []
    # corners alike are told by their place, not by the last digit of their depth
    worst = max(full, key=lambda p: (round(p.depth_mm, 4), p.at_mm))
    return [
        Finding(
            row.code, row.severity, worst.at_mm,
            words.count("{n} inside corner is tighter than blade {blade} turns ({radius} mm): up "
                        "to {left} mm of wood stays in it.",
                        "{n} inside corners are tighter than blade {blade} turns ({radius} mm): "
                        "up to {left} mm of wood stays in them.", len(full), blade=blade.number,
                        radius=f"{radius:.2f}", left=f"{worst.depth_mm:.1f}"),
            words.say("Use a finer blade, cut such corners from both sides, or round them.")
            if finer_exists(blade)
            else words.say("Cut such corners from both sides, or round them."),
            radius,
        )
    ]  # fmt: skip


def findings(
    pattern: Pattern, blade: BladeSize, words: Words, drilled: Collection[int] = ()
) -> tuple[list[Finding], tuple[Narrow, ...]]:
    """Openings and slots that the blade cannot enter, and corners it cannot go round.

    Args:
        pattern: what was read.
        blade: the chosen blade.
        words: the language.
        drilled: openings that no blade enters.

    Returns:
        The findings, and the corners: the turns of the plan decide which of them stay full.
    """
    if not pattern.pieces:
        return [], ()
    openings = {
        o.number: waste_of_opening(pattern, o) for o in pattern.openings if o.number not in drilled
    }
    waste = [*openings.values(), waste_outside(pattern)]
    narrow = _slot_findings(waste, blade, words)
    told = [*_opening_findings(pattern, openings, blade, words), *narrow]
    return told, full_corners(waste, narrow, blade)
