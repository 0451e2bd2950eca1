"""Waste that the blade cannot enter or follow: openings, slots and inside corners.

Rule: the blade leaves a slot as wide as its kerf, so waste is opened (shrunk and
grown again) with a circle of that width; what is lost is too narrow for it. The same
with a circle of the tightest turn shows the corners that stay a little full.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import shapely
from shapely.geometry import MultiPolygon, Polygon, box
from shapely.geometry import Point as Spot
from shapely.geometry.base import BaseGeometry
from shapely.strtree import STRtree

from companion.findings import Finding, Point
from companion.pattern.model import Opening, Pattern
from companion.shop import tables
from companion.shop.model import BladeSize
from companion.words import Words

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
    return opening.ring.difference(shapely.union_all([Polygon(s.exterior) for s in inside]))


def waste_outside(pattern: Pattern, margin_mm: float = 10.0) -> BaseGeometry:
    """The board around the outermost pieces, a margin wide."""
    x0, y0, x1, y1 = pattern.bounds_mm
    room = box(x0 - margin_mm, y0 - margin_mm, x1 + margin_mm, y1 + margin_mm)
    outer = [Polygon(p.shape.exterior) for p in pattern.pieces if p.within is None]
    return room.difference(shapely.union_all(outer))


def polygons(shape: BaseGeometry) -> list[Polygon]:
    """The polygons of any geometry, empty ones left out."""
    found: Iterable[BaseGeometry] = shape.geoms if hasattr(shape, "geoms") else [shape]
    return [p for p in found if isinstance(p, Polygon) and not p.is_empty]


def narrow_places(waste: BaseGeometry, radius_mm: float) -> list[Narrow]:
    """Where a circle of a radius does not fit.

    Args:
        waste: polygon or polygons, mm.
        radius_mm: of the circle.

    Returns:
        One for each separate place; depth is infinite if no part of the waste is wide enough.
    """
    core = waste.buffer(-radius_mm, quad_segs=QUARTER)
    # a little more than it was shrunk, so that rounding leaves no slivers
    open_part = core.buffer(radius_mm * 1.02 + 1e-3, quad_segs=QUARTER)
    left = polygons(waste.difference(open_part))
    if not left:
        return []
    grown = polygons(open_part)
    found = []
    tree = STRtree(grown) if grown else None
    for part in left:
        if tree is None:
            depth = float("inf")
        else:
            corners = shapely.points(shapely.get_coordinates(part))
            nearest = tree.nearest(corners)
            depth = float(shapely.distance(corners, tree.geometries[nearest]).max())
            if not part.intersects(tree.geometries[int(tree.nearest(part))].buffer(0.01)):
                depth = float("inf")
        at = part.representative_point()
        found.append(Narrow((at.x, at.y), depth))
    return found


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
    room = tables.limit("opening-no-drill")
    kerf = tables.limit("opening-under-kerf")
    needed = blade.passes_mm + 2.0 * room.value
    found = []
    for opening in pattern.openings:
        if waste[opening.number].buffer(-0.5 * needed, quad_segs=4).is_empty:
            at, wide = widest_mm(waste[opening.number])
        else:
            continue
        if wide < kerf.value * blade.kerf_mm:
            found.append(Finding(
                kerf.code, kerf.severity, at,
                words.say("Opening {number} is {wide} mm at its widest; blade {blade} leaves a "
                          "slot of {kerf} mm, wider than the opening.", number=opening.number,
                          wide=f"{wide:.2f}", blade=blade.number, kerf=f"{blade.kerf_mm:.2f}"),
                words.say("Use a finer blade, widen the opening, or draw it as a single line."),
                wide,
            ))  # fmt: skip
        elif wide < needed:
            found.append(Finding(
                room.code, room.severity, at,
                words.say("Opening {number} is {wide} mm at its widest; blade {blade} needs a "
                          "hole of {need} mm with room around it to be threaded.",
                          number=opening.number, wide=f"{wide:.2f}", blade=blade.number,
                          need=f"{needed:.2f}"),
                words.say("Use a finer blade, or widen the opening."),
                wide,
            ))  # fmt: skip
    return found


def _slot_findings(waste: list[BaseGeometry], blade: BladeSize, words: Words) -> list[Finding]:
    """Slots under the kerf one by one, full corners counted."""
    kerf = tables.limit("opening-under-kerf")
    long = tables.number("weak", "slot.kerfs") * blade.kerf_mm
    grave = tables.severity("weak", "slot.kerfs")
    found = []
    for region in waste:
        for place in narrow_places(region, 0.5 * kerf.value * blade.kerf_mm):
            if long <= place.depth_mm < float("inf"):
                found.append(Finding(
                    "slot-under-kerf", grave, place.at_mm,
                    words.say("A slot narrower than the kerf of {kerf} mm runs {long} mm deep: "
                              "the blade will widen it into the piece.",
                              kerf=f"{blade.kerf_mm:.2f}", long=f"{place.depth_mm:.1f}"),
                    words.say("Use a finer blade, widen the slot, or draw it as a single line."),
                    place.depth_mm,
                ))  # fmt: skip
    return found


def _corner_finding(
    waste: list[BaseGeometry], told: list[Finding], blade: BladeSize, words: Words
) -> list[Finding]:
    """Corners that stay full, counted; slots that are told already are left out."""
    row = tables.limit("inside-radius")
    radius = row.value * blade.width_mm
    least = tables.number("weak", "corner.left_mm")
    slots = shapely.MultiPoint([f.at_mm for f in told if f.at_mm is not None])
    full = [
        place for region in waste for place in narrow_places(region, radius)
        if least <= place.depth_mm < float("inf")
        and (slots.is_empty or slots.distance(Spot(place.at_mm)) > place.depth_mm)
    ]  # fmt: skip
    if not full:
        return []
    worst = max(full, key=lambda p: (p.depth_mm, p.at_mm))
    return [
        Finding(
            row.code, row.severity, worst.at_mm,
            words.count("{n} inside corner is tighter than blade {blade} turns ({radius} mm): up "
                        "to {left} mm of wood stays in it.",
                        "{n} inside corners are tighter than blade {blade} turns ({radius} mm): "
                        "up to {left} mm of wood stays in them.", len(full), blade=blade.number,
                        radius=f"{radius:.2f}", left=f"{worst.depth_mm:.1f}"),
            words.say("Use a finer blade, cut such corners from both sides, or round them."),
            radius,
        )
    ]  # fmt: skip


def findings(pattern: Pattern, blade: BladeSize, words: Words) -> list[Finding]:
    """Openings, slots and corners that the blade cannot enter or follow.

    Args:
        pattern: what was read.
        blade: the chosen blade.
        words: the language.
    """
    if not pattern.pieces:
        return []
    openings = {o.number: waste_of_opening(pattern, o) for o in pattern.openings}
    waste = [*openings.values(), waste_outside(pattern)]
    narrow = _slot_findings(waste, blade, words)
    return [
        *_opening_findings(pattern, openings, blade, words),
        *narrow,
        *_corner_finding(waste, narrow, blade, words),
    ]
