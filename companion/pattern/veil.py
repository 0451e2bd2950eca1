"""Adds up half-clear paint, which by itself is neither ink nor paper.

Two veils of 4 % black are darker than paper, three of 1.9 % too, and two of 80 % white
hide black; only paint that changes no channel by half a level of 255 is left out. The tone
is worked out only where veils meet one another, or light ink: there each layer divides
the ground into cells of one colour (simple alpha compositing, Compositing and Blending
Level 1, chapter 5.1). A half-clear group is laid on as one: what its shapes hide of one
another does not show.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from companion.pattern.layers import Layer
from companion.pattern.limits import Limits
from companion.pattern.notes import Notes
from companion.pattern.overlay import EMPTY, difference, intersection
from companion.pattern.paint import Effect
from companion.pattern.painted import Tint
from companion.pattern.paper import fold
from companion.pattern.union import united
from companion.pattern.watchdog import check

Colour = tuple[float, float, float]
WHITE: Colour = (1.0, 1.0, 1.0)
MOST_PAIRS = 2000
MOST_POINTS = 400_000
MOST_CELLS = 60
SURE_INK = 0.8
"""With too many cells, those darker than this are taken together as black."""


def with_veils(layers: list[Layer], limits: Limits, name: str, notes: Notes) -> BaseGeometry:
    """The ink that shows in the end, half-clear paint added up.

    Args:
        layers: in paint order, veils among them.
        limits: what is paper, and how much may be worked.
        name: how messages name the file.
        notes: told when there are too many veils to add up.

    Returns:
        Polygon or MultiPolygon; may be empty.
    """
    shown = _groups_as_one(layers)
    plain = fold([x for x in shown if x.effect is not Effect.VEIL], limits, name)
    window = _window(shown, limits, name)
    if window is None:
        notes.add(
            "faint-not-added",
            "note",
            "Faint paint lies in too many layers to be added up; each was judged by itself.",
            "Give what is wood a plain dark fill.",
        )
        return plain
    if window.area <= limits.speck_mm2:
        return plain
    ink = [
        cell
        for colour, cell in _cells(shown, window, limits, name).items()
        if min(colour) < limits.paper_channel
    ]
    rest = difference(plain, window) if not plain.is_empty else EMPTY
    return united([r for r in [rest, *ink] if not r.is_empty], limits, name)


def _groups_as_one(layers: list[Layer]) -> list[Layer]:
    """Take from a group's lower shapes what a veil of the same group hides."""
    result: list[Layer] = []
    for layer in layers:
        if layer.effect is Effect.VEIL and layer.group and layer.solid:
            for k, lower in enumerate(result):
                if lower.group == layer.group and lower.region.intersects(layer.region):
                    left = difference(lower.region, layer.region)
                    result[k] = replace(lower, region=left)
        result.append(layer)
    return [layer for layer in result if not layer.region.is_empty]


def over(below: Colour, tint: Tint) -> Colour:
    """Colour of paint over a colour.

    >>> over((1.0, 1.0, 1.0), (0.0, 0.0, 0.0, 0.25))
    (0.75, 0.75, 0.75)
    """
    alpha = tint[3]
    r, g, b = (
        round(c * (1.0 - alpha) + t * alpha, 4) for c, t in zip(below, tint[:3], strict=True)
    )
    return (r, g, b)


def _window(layers: list[Layer], limits: Limits, name: str) -> BaseGeometry | None:
    """Where a veil meets another, or ink that it can hide; None when that is too much."""
    veils = [k for k, x in enumerate(layers) if x.effect is Effect.VEIL]
    if not veils:
        return EMPTY
    regions = np.array([x.region for x in layers], dtype=object)
    tree = shapely.STRtree(regions)
    first, second = tree.query(regions[veils], predicate="intersects")
    pairs = [
        (veils[i], j)
        for i, j in zip(first.tolist(), second.tolist(), strict=True)
        if _may_change(layers[veils[i]], layers[j], j < veils[i], limits)
    ]
    used = sorted({k for pair in pairs for k in pair})
    points = int(shapely.get_num_coordinates(regions[used]).sum()) if used else 0
    if len(pairs) > MOST_PAIRS or points > MOST_POINTS:
        return None
    if not pairs:
        return EMPTY
    lower, upper = np.array(pairs).T
    common = [intersection(a, b) for a, b in zip(regions[lower], regions[upper], strict=True)]
    return united([g for g in common if not g.is_empty], limits, name)


def _may_change(veil: Layer, other: Layer, below: bool, limits: Limits) -> bool:
    """Whether the two together may be other than ink and paper alone tell."""
    if other is veil:
        return False
    if other.effect is Effect.VEIL:
        return True
    if other.effect is not Effect.INK or not below:
        return False
    return min(over(over(WHITE, other.tint), veil.tint)) >= limits.paper_channel


def _cells(
    layers: list[Layer], window: BaseGeometry, limits: Limits, name: str
) -> dict[Colour, BaseGeometry]:
    """The window divided by colour."""
    cells: dict[Colour, BaseGeometry] = {WHITE: window}
    shapely.prepare(window)
    for layer in layers:
        if not shapely.intersects(window, layer.region):
            continue
        check()
        parts: dict[Colour, list[BaseGeometry]] = {}
        for colour, cell in cells.items():
            inside = intersection(cell, layer.region)
            if inside.is_empty:
                parts.setdefault(colour, []).append(cell)
                continue
            parts.setdefault(over(colour, layer.tint), []).append(inside)
            outside = difference(cell, layer.region)
            if not outside.is_empty:
                parts.setdefault(colour, []).append(outside)
        if len(parts) > MOST_CELLS:
            parts = _fewer(parts)
        cells = {colour: united(found, limits, name) for colour, found in parts.items()}
    return cells


def _fewer(parts: dict[Colour, list[BaseGeometry]]) -> dict[Colour, list[BaseGeometry]]:
    fewer: dict[Colour, list[BaseGeometry]] = {}
    for colour, found in parts.items():
        dark = min(colour) < SURE_INK
        fewer.setdefault((0.0, 0.0, 0.0) if dark else colour, []).extend(found)
    return fewer
