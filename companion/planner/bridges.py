"""Bridges that tie islands to the wood around them.

Rule: two straight bars for each island, the shortest there are, the second at least a
quarter of the island's outline away from the first; an island is tied to the piece
around it or to an island that is tied already, whatever is nearer. A bar never
crosses a third part.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from companion.findings import Point
from companion.pattern.model import Pattern, Piece
from companion.pattern.number import pieces_of
from companion.pattern.overlay import intersection, union_all
from companion.planner.slots import polygons
from companion.shop import tables

PLACES = 160
"""Places tried around one island."""
PER_ISLAND = 2
SEAT = 0.9
"""Share of a bar's ends that must lie in wood."""


@dataclass(frozen=True, slots=True)
class Bridge:
    """One bar."""

    island: int
    """Number of the piece that it holds."""
    from_mm: Point
    """On the island's outline."""
    to_mm: Point
    """On what it is tied to."""
    length_mm: float


@dataclass(frozen=True, slots=True)
class Bridged:
    """The pattern with its islands tied."""

    pattern: Pattern
    bridges: tuple[Bridge, ...]
    """By island, the shorter first."""
    loose: tuple[int, ...]
    """Islands for which no straight bar was found."""


def bridges(pattern: Pattern, width_mm: float) -> Bridged:
    """Tie every island.

    Args:
        pattern: what was read.
        width_mm: of the bars.
    """
    islands = [p for p in pattern.pieces if p.within is not None]
    owner = {o.number: o.piece for o in pattern.openings}
    rings = {o.number: o.ring for o in pattern.openings}
    by_number = {p.number: p for p in pattern.pieces}
    found: list[Bridge] = []
    loose: list[int] = []
    bars: list[BaseGeometry] = []
    for opening in sorted({p.within for p in islands if p.within is not None}):
        inside = [p for p in islands if p.within == opening]
        around = by_number[owner[opening]]
        some, left = _tied(around, inside, width_mm)
        found += some
        loose += left
        ring = rings[opening].buffer(0.01)
        bars += [intersection(_bar(b, width_mm), ring) for b in some]
    found.sort(key=lambda b: (b.island, b.length_mm))
    whole = union_all([*(p.shape for p in pattern.pieces), *bars])
    pieces = tuple(pieces_of(MultiPolygon(polygons(whole)))) if bars else pattern.pieces
    return Bridged(replace(pattern, pieces=pieces), tuple(found), tuple(loose))


def _tied(around: Piece, inside: list[Piece], width_mm: float) -> tuple[list[Bridge], list[int]]:
    """Bars of the islands of one opening, the nearest island first."""
    tied: list[Polygon] = [around.shape]
    waiting = list(inside)
    found: list[Bridge] = []
    while waiting:
        target = union_all(tied)
        options = []
        for piece in waiting:
            others = [p.shape for p in waiting if p is not piece]
            bars = _bars(piece, target, others, width_mm)
            if bars:
                options.append((bars[0].length_mm, piece.number, piece, bars))
        if not options:
            return found, [p.number for p in waiting]
        _, _, piece, bars = min(options, key=lambda o: o[:2])
        found += bars
        tied.append(piece.shape)
        waiting.remove(piece)
    return found, []


def _bars(
    piece: Piece, target: BaseGeometry, others: list[Polygon], width_mm: float
) -> list[Bridge]:
    """The shortest bars from one island to what is tied already."""
    rim = piece.shape.exterior
    way = np.linspace(0.0, rim.length, PLACES, endpoint=False)
    spots = shapely.line_interpolate_point(rim, way)
    best = shapely.shortest_line(piece.shape, target)
    lines: list[LineString] = [best, *shapely.shortest_line(spots, target).tolist()]
    way = np.concatenate(([shapely.line_locate_point(rim, shapely.get_point(best, 0))], way))
    blocked = union_all(others) if others else None
    apart = tables.number("weak", "bridge.apart_share") * rim.length
    wood = union_all([piece.shape, target])
    # bars that meet wood over their whole width first; any others only if there are none
    for seat in (SEAT, 0.0):
        found: list[Bridge] = []
        used: list[float] = []
        for k in np.argsort(shapely.length(lines), kind="stable").tolist():
            line = lines[k]
            gap = [min(abs(way[k] - u), rim.length - abs(way[k] - u)) for u in used]
            if line.length < 1e-6 or any(g < apart for g in gap):
                continue
            (x0, y0), (x1, y1) = line.coords
            bridge = Bridge(piece.number, (x0, y0), (x1, y1), float(line.length))
            bar = _bar(bridge, width_mm)
            if blocked is not None and bar.intersects(blocked):
                continue
            # the bar's two ends reach half its width into the wood: width squared in all
            if intersection(bar, wood).area < seat * width_mm**2:
                continue
            found.append(bridge)
            used.append(float(way[k]))
            if len(found) == PER_ISLAND:
                return found
    return found


def _bar(bridge: Bridge, width_mm: float) -> BaseGeometry:
    """The bar, a little longer than the gap so that its ends meet curved outlines."""
    a, b = np.array(bridge.from_mm), np.array(bridge.to_mm)
    along = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    more = 0.5 * width_mm * along
    return LineString([a - more, b + more]).buffer(0.5 * width_mm, cap_style="flat")
