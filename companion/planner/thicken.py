"""The fix for weak places: the least growth of the outline that makes the piece hold.

Rule: along each thin stretch of the axis a circle of the wanted width is swept, so
that the outline moves out by exactly what is missing there and by less and less
beside it; overall, the whole outline moves out by what is missing at the thinnest
neck. Nothing is asked to be thicker than the board (a share in the shop's table): what needs
more needs another drawing. Waste that the blade needs stays open (module room), so growth that
is blocked on one side goes on at the other. The result is measured again, with a new axis,
until no neck is below the wanted value or nothing more can grow.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.ndimage import maximum_filter1d, uniform_filter1d
from shapely.geometry import LinearRing, Polygon
from shapely.geometry.base import BaseGeometry
from threadpoolctl import threadpool_limits

from companion.errors import PlanError, UsageError
from companion.findings import Point
from companion.pattern.model import Opening, Pattern, Piece
from companion.pattern.overlay import difference, intersection, union, union_all
from companion.planner.axis import Axis, medial_axis
from companion.planner.necks import Valley, valleys, way_along
from companion.planner.network import Network, Span, network
from companion.planner.outline import Floats
from companion.planner.plan import Neck
from companion.planner.room import kept_open, rope, thinned
from companion.planner.rules import rules_for
from companion.planner.section import Board
from companion.planner.slots import polygons
from companion.planner.snap import needed_thickness, snap_at
from companion.planner.weak import in_weakness, piece_necks
from companion.sentence import sentence
from companion.shop import tables
from companion.shop.model import BladeSize, Material

ROUNDS = 8
"""Rounds of growing and measuring in one pass."""
PASSES = 3
"""Passes, each with the middle of the waste found anew."""
OVER_MM = 0.008
"""Added to every wanted width, so that the many-cornered circle does not fall short."""
SPIKE = -0.998
"""Cosine of the turn from which on a corner is a hair (176 degrees)."""
CAP = 1.02
"""Nothing grows wider than this many times the wanted width."""
NOOK_MM = 0.4
"""Nooks narrower than twice this beside what was added are filled: no blade gets there."""
GOOD_MM = 0.01
"""A neck that is this much under the wanted width is done."""
MORE = 1.01
"""Times the wanted force that is aimed at."""
GOOD_SHARE = 0.98
"""A force that is this share of the wanted one is done: the model itself is no surer."""


@dataclass(frozen=True, slots=True)
class Change:
    """One neck before and after."""

    number: int
    """Among all necks of the drawing as it was, 1 the weakest: as in Plan.necks."""
    at_mm: Point
    before_mm: float
    after_mm: float
    """Thickness at the same place."""
    before_n: float | None
    after_n: float | None
    """Snap force at the same place; None as in Neck."""


@dataclass(frozen=True, slots=True)
class Thickened:
    """The pattern that holds."""

    pattern: Pattern
    changes: tuple[Change, ...]
    """The necks that were too weak, weakest first."""
    most_mm: float
    """Nothing was made thicker than this."""
    unmet: tuple[Neck, ...]
    """Necks that are still below what was wanted: the waste beside them is needed, or they are
    as thick as may be."""
    added_mm2: float
    """Wood that was added."""


@dataclass(frozen=True, slots=True)
class _Wish:
    """What is wanted."""

    width_mm: float | None
    force_n: float | None
    board: Board
    tip_mm: float
    most_mm: float


@dataclass(frozen=True, slots=True)
class _Room:
    """Where a piece must not grow."""

    waste: BaseGeometry
    """Waste that must stay open."""
    closed: BaseGeometry
    """That, and the neighbourhood of other pieces."""


def thicken(
    pattern: Pattern,
    material: Material,
    thickness_mm: float,
    blade: BladeSize,
    *,
    wanted_mm: float | None = None,
    wanted_n: float | None = None,
    everywhere: bool = False,
) -> Thickened:
    """Make every neck as thick, or as strong, as wanted.

    Args:
        pattern: what was read.
        material: of the board.
        thickness_mm: of one board.
        blade: what must still pass through the waste.
        wanted_mm: least thickness of a neck.
        wanted_n: least snap force of a neck; one of the two is needed.
        everywhere: move the whole outline, not only that of the weak places.

    Raises:
        PlanError: neither or both wishes were given.
        UsageError: the wanted thickness is more than anything is made.
    """
    if (wanted_mm is None) == (wanted_n is None):
        raise PlanError(
            "say either a width or a force", "", "Use --thicken 2.4mm or --hold 5N, not both."
        )
    board = Board(material, thickness_mm, tables.number("weak", "beam.shear_ratio"))
    most = thickness_mm * tables.number("weak", "thicken.most_share")
    if wanted_mm is not None and wanted_mm > most:
        raise UsageError(
            sentence("{n} mm is thicker than the board", n=f"{wanted_mm:g}"), "",
            sentence(
                "Ask for {most} mm at most: wood as thick as the board is not weak. For more, draw "
                "it bolder.", most=f"{most:g}",
            ),
        )  # fmt: skip
    wish = _Wish(wanted_mm, wanted_n, board, tables.number("weak", "neck.tip_mm"), most)
    # one thread, as for a plan: the systems are small, and threads would wait for each other
    with threadpool_limits(limits=1):
        return _thickened(pattern, wish, blade, everywhere)


def _thickened(pattern: Pattern, wish: _Wish, blade: BladeSize, everywhere: bool) -> Thickened:
    """Measure, grow in passes, and measure again."""
    material, thickness_mm = wish.board.material, wish.board.thickness_mm
    necks = in_weakness(
        neck for piece in pattern.pieces
        for neck in piece_necks(piece, medial_axis(piece.shape), material, thickness_mm)
    )  # fmt: skip
    first = [(number, neck) for number, neck in enumerate(necks, 1) if _short(neck, wish)]
    grown, unmet = _pass(pattern, wish, blade, everywhere)
    for _ in range(PASSES - 1):
        if not unmet:
            break
        # where growth was blocked, the waste that is left has its middle elsewhere now
        grown, unmet = _pass(grown, wish, blade, False)
    changes = tuple(c for piece in grown.pieces for c in _changes(first, piece, wish))
    added = grown.kept_area_mm2 - pattern.kept_area_mm2
    return Thickened(
        grown, tuple(sorted(changes, key=lambda c: c.number)), wish.most_mm, tuple(unmet), added
    )


def _pass(
    pattern: Pattern, wish: _Wish, blade: BladeSize, everywhere: bool
) -> tuple[Pattern, list[Neck]]:
    """Grow all pieces within the waste that the pattern leaves now.

    Returns:
        The pattern and the necks that are still weak.
    """
    spare = tables.number("weak", "thicken.spare_mm")
    around = 2.0 * rules_for().hole.tight_margin_mm + 0.02
    give = 0.5 * (wish.width_mm or wish.board.thickness_mm)
    apart = blade.kerf_mm + spare
    kept = kept_open(pattern, apart, blade.passes_mm + around, give)
    waste = union_all(list(kept.values()))
    pieces: list[Piece] = []
    unmet: list[Neck] = []
    for number, piece in enumerate(pattern.pieces):
        others = [p.shape for p in (*pieces, *pattern.pieces[number + 1 :])]
        near = [p for p in others if p.distance(piece.shape) < 4.0 * apart + 2.0 * give]
        closed = union_all([waste, *(p.buffer(apart) for p in near)])
        shape, left = _grown(piece, wish, _Room(waste, closed), everywhere)
        pieces.append(_renewed(piece, shape, kept) if shape is not piece.shape else piece)
        unmet += left
    return replace(pattern, pieces=tuple(pieces)), unmet


def _renewed(piece: Piece, shape: Polygon, kept: dict[int, BaseGeometry]) -> Piece:
    """The piece with its new shape; each opening keeps its number."""
    rings = [Polygon(ring) for ring in shape.interiors]
    openings = []
    for opening in piece.openings:
        mark = kept[opening.number]
        ring = max(rings, key=lambda r: intersection(r, mark).area) if rings else opening.ring
        openings.append(Opening(opening.number, ring, opening.piece))
    return Piece(piece.number, shape, tuple(openings), piece.within)


def _short(neck: Neck, wish: _Wish) -> bool:
    """Whether a neck is below what is wanted."""
    if wish.width_mm is not None:
        return neck.thickness_mm < wish.width_mm - GOOD_MM
    return neck.force_n is not None and neck.force_n < GOOD_SHARE * (wish.force_n or 0.0)


def _weak(axis: Axis, piece: Piece, wish: _Wish) -> list[Neck]:
    """Necks below what is wanted; a wish for width leaves their forces out."""
    if wish.width_mm is None:
        necks = piece_necks(piece, axis, wish.board.material, wish.board.thickness_mm)
        return [n for n in necks if _short(n, wish)]
    if not axis.branches or axis.thickness.min() >= wish.width_mm:
        return []
    found = valleys(network(axis), wish.tip_mm)
    nodes = sorted({int(v.span.nodes[v.least]) for v in found})
    return [
        Neck((float(axis.xy[n, 0]), float(axis.xy[n, 1])), float(axis.thickness[n]), None,
             piece.number)
        for n in nodes if axis.thickness[n] < wish.width_mm - GOOD_MM
    ]  # fmt: skip


def _grown(piece: Piece, wish: _Wish, room: _Room, everywhere: bool) -> tuple[Polygon, list[Neck]]:
    """Grow one piece until it holds.

    Returns:
        The new shape, and the necks that are still weak.
    """
    axis = medial_axis(piece.shape)
    weak = _weak(axis, piece, wish)
    shape: Polygon = piece.shape
    if not weak:
        return shape, []
    for number in range(ROUNDS):
        net = network(axis)
        missing = _missing(net, valleys(net, 0.8 * wish.tip_mm), wish)
        if float(missing.max(initial=0.0)) <= 0.0:
            break
        if everywhere and number < ROUNDS // 2:
            growth: BaseGeometry = shape.buffer(
                float(missing.max()), join_style="mitre", mitre_limit=2.0
            )
        else:
            # what is still missing after a round was blocked on one side: ask twice for it
            growth = _swept(net, missing, 1.0 if number == 0 else 2.0)
        before = shape.area
        shape = _joined(shape, growth, room)
        axis = medial_axis(shape)
        weak = _weak(axis, replace(piece, shape=shape), wish)
        if not weak or shape.area - before < 1e-4:
            break
    return shape, weak


def _missing(net: Network, found: list[Valley], wish: _Wish) -> Floats:
    """How much each axis node's circle must grow in radius, mm."""
    axis = net.axis
    missing = np.zeros(len(axis.xy))
    for valley in found:
        nodes = valley.span.nodes[valley.low : valley.high + 1]
        thick = axis.thickness[nodes]
        if wish.width_mm is not None:
            if thick.min() >= wish.width_mm - GOOD_MM:
                continue
            wanted = np.full(len(nodes), wish.width_mm)
        else:
            wanted = needed_thickness(net, valley, wish.board, MORE * (wish.force_n or 0.0))
            wanted = np.minimum(wanted, wish.most_mm)
        lack = 0.5 * (wanted + OVER_MM - thick)
        missing[nodes] = np.maximum(missing[nodes], lack)
    return missing


def _swept(net: Network, missing: Floats, times: float) -> BaseGeometry:
    """The circles along all thin stretches, blended in."""
    axis = net.axis
    parts = []
    for span in net.spans:
        lack = missing[span.nodes]
        if lack.max() <= 0.0:
            continue
        half = 0.5 * axis.thickness[span.nodes]
        blend = float((half + lack)[lack > 0.0].max()) * 2.0
        step = max(0.1 * blend, 0.05)
        lack = times * np.maximum(lack, 0.0)
        aim = np.where(lack > 0.0, half + lack, 0.0)
        xy, _, way = thinned(axis.xy[span.nodes], lack, step)
        radius = thinned(axis.xy[span.nodes], half, step)[1]
        more, most = _peaks(net, span, lack, way), _peaks(net, span, aim, way)
        reach = max(int(round(blend / max(way[1] - way[0], 1e-9))) | 1, 3)
        soft = uniform_filter1d(
            maximum_filter1d(more, reach, mode="nearest"), reach, mode="nearest"
        )
        # the axis wavers by a little from sample to sample: the new outline must not
        xy[1:-1] = uniform_filter1d(xy, max(reach // 5, 1) | 1, axis=0, mode="nearest")[1:-1]
        # never wider than what is wanted nearby: the blend must not swell sturdy places
        most = CAP * maximum_filter1d(most, 3 * reach, mode="nearest")
        wider = np.minimum(radius + soft, most)
        parts.append(rope(xy, np.where(wider > radius + 1e-4, wider, 0.0)))
    return union_all(parts)


def _peaks(net: Network, span: Span, value: Floats, even: Floats) -> Floats:
    """Values of a span's nodes at even steps; no peak between two steps is lost."""
    way = way_along(net.axis, span)
    result: Floats = np.interp(even, way, value)
    behind = np.clip(np.searchsorted(even, way), 1, len(even) - 1)
    np.maximum.at(result, behind, value)
    np.maximum.at(result, behind - 1, value)
    return result


def _joined(shape: Polygon, growth: BaseGeometry, room: _Room) -> Polygon:
    """The piece and what may be added to it; new pockets that no blade needs are filled."""
    grown = union_all([shape, difference(growth, room.closed)])
    nooks = difference(grown.buffer(NOOK_MM).buffer(-NOOK_MM), grown)
    near = difference(growth, shape).buffer(NOOK_MM)
    whole = polygons(union(grown, difference(intersection(nooks, near), room.closed)))
    best = max(whole, key=lambda p: intersection(p, shape).area)
    shapely.prepare(room.waste)
    rings = [r for r in best.interiors if room.waste.intersects(Polygon(r))]
    return Polygon(_despiked(best.exterior), [_despiked(r) for r in rings])


def _despiked(ring: LinearRing) -> LinearRing:
    """The ring without hairs: corners where the outline turns back on itself."""
    xy = np.asarray(ring.coords)[:-1]
    while len(xy) > 3:
        before, behind = xy - np.roll(xy, 1, axis=0), np.roll(xy, -1, axis=0) - xy
        size = np.hypot(*before.T) * np.hypot(*behind.T)
        turned = (before * behind).sum(axis=1) < SPIKE * size
        hairs = np.flatnonzero(turned & ~np.roll(turned, 1))
        if not len(hairs):
            break
        xy = np.delete(xy, hairs, axis=0)
    return LinearRing(xy)


def _changes(first: list[tuple[int, Neck]], piece: Piece, wish: _Wish) -> list[Change]:
    """The weak places of one piece measured in it as it is now."""
    here = [(number, neck) for number, neck in first if neck.piece == piece.number]
    if not here:
        return []
    axis = medial_axis(piece.shape)
    net = network(axis)
    found = []
    for number, neck in here:
        away = axis.xy - np.array(neck.at_mm)
        node = int(np.argmin((away * away).sum(axis=1)))
        thick, force = float(axis.thickness[node]), snap_at(net, node, wish.board)
        found.append(Change(number, neck.at_mm, neck.thickness_mm, thick, neck.force_n, force))
    return found
