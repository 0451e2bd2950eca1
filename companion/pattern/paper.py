"""The paint model: dark paint adds wood, paper-coloured paint on top takes it away.

Layers are folded in paint order. A layer may be folded together with earlier ones of
its kind as long as no layer of the other kind lies between them at the same place, so
that most drawings need two or three unions however many shapes they hold.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from companion.findings import Point
from companion.pattern.budget import overlay_budget
from companion.pattern.layers import Layer
from companion.pattern.limits import Limits
from companion.pattern.overlay import EMPTY, difference, intersection
from companion.pattern.paint import Effect
from companion.pattern.union import check_pair, united

MAX_PAIRS = 3_000_000


@dataclass(frozen=True, slots=True)
class Overlap:
    """Two shapes of ink that lie over one another."""

    at_mm: Point
    """A point in both."""
    area_mm2: float
    """Of the common part."""
    first: str
    """The lower shape."""
    second: str
    """The upper shape."""
    same: bool
    """They are the same shape drawn twice."""


def levels_of(layers: list[Layer]) -> list[int]:
    """For each layer, the round in which it is folded; even rounds ink, odd paper.

    A layer's round is at least that of every earlier layer whose box it meets, and
    has the parity of its kind.
    """
    boxes = np.asarray(shapely.box(*shapely.bounds([layer.region for layer in layers]).T))
    parity = [0 if layer.effect is Effect.INK else 1 for layer in layers]
    if len(set(parity)) == 1:
        return parity
    tree = shapely.STRtree(boxes)
    levels = [0] * len(layers)
    pairs = 0
    for i in range(len(layers)):
        level = parity[i]
        if pairs <= MAX_PAIRS:
            met = tree.query(boxes[i])
            pairs += len(met)
            below = max((levels[j] for j in met.tolist() if j < i), default=0)
        else:
            below = max(levels[:i], default=0)
        if below > level:
            level = below if below % 2 == parity[i] else below + 1
        levels[i] = level
    return levels


def fold(layers: list[Layer], limits: Limits, name: str) -> BaseGeometry:
    """The ink that shows in the end.

    Returns:
        Polygon or MultiPolygon on the grid; may be empty.
    """
    if not layers:
        return EMPTY
    levels = levels_of(layers)
    ink: BaseGeometry = EMPTY
    rounds: dict[int, list[BaseGeometry]] = {}
    for level, layer in zip(levels, layers, strict=True):
        rounds.setdefault(level, []).append(layer.region)
    overlays = overlay_budget(limits.overlay_points, name)
    for level in sorted(rounds):
        regions = rounds[level]
        overlays.take(shapely.get_num_coordinates([ink, *regions]).sum())
        if level % 2 == 0:
            parts = regions if ink.is_empty else [ink, *regions]
            ink = united(parts, limits, name)
        elif not ink.is_empty:
            paper = united(regions, limits, name)
            check_pair(ink, paper, limits, name)
            ink = difference(ink, paper)
    return ink


def overlaps_of(layers: list[Layer], limits: Limits) -> list[Overlap]:
    """Pairs of ink fills that overlap by more than a speck, in paint order.

    A shape and its own stroke overlap by nature and are not told.
    """
    fills = [x for x in layers if x.effect is Effect.INK and not x.is_stroke]
    if len(fills) < 2:
        return []
    regions = np.array([x.region for x in fills], dtype=object)
    tree = shapely.STRtree(regions)
    shapely.prepare(regions)
    found: list[Overlap] = []
    for i in range(len(fills)):
        for j in sorted(tree.query(regions[i], predicate="intersects").tolist()):
            if j <= i:
                continue
            if len(found) > limits.findings_each:
                return found
            overlap = _overlap(fills[i], fills[j], limits)
            if overlap is not None:
                found.append(overlap)
    return found


def _overlap(lower: Layer, upper: Layer, limits: Limits) -> Overlap | None:
    """The common part of two shapes, if it is more than a speck."""
    common = intersection(lower.region, upper.region)
    area = common.area
    if area <= limits.speck_mm2:
        return None
    apart = lower.region.area + upper.region.area - 2.0 * area
    point = shapely.point_on_surface(common)
    same = apart <= limits.speck_mm2
    return Overlap((point.x, point.y), area, lower.label, upper.label, same)
