"""From page px to mm: the drawing's own size, or the wanted width of its ink."""

from __future__ import annotations

import math

import numpy as np

from companion.errors import PatternError
from companion.pattern.limits import Limits
from companion.pattern.matrix import IDENTITY, Matrix, largest_stretch, multiply
from companion.pattern.options import ReadOptions
from companion.pattern.outline import Floats
from companion.pattern.paint import Effect
from companion.pattern.painted import Painted
from companion.pattern.walk import Walked
from companion.sentence import sentence

MM_PER_PX = 25.4 / 96.0
Box = tuple[float, float, float, float]


def ink_box_px(walked: Walked, lines_only: bool, turn: Matrix = IDENTITY) -> Box:
    """Box of all ink in page px: curves sampled, strokes by half their width.

    Args:
        walked: the shapes.
        lines_only: strokes count without their width.
        turn: a map applied first.
    """
    low, high = np.full(2, np.inf), np.full(2, -np.inf)
    inked = any(s.fill is Effect.INK or s.stroke is not None for s in walked.painted)
    kind = Effect.INK if inked else Effect.VEIL  # veils may add up to ink
    for shape in walked.painted:
        if not (shape.fill is kind or shape.stroke is not None):
            continue
        points = _samples(shape, turn)
        reach = 0.0
        if shape.stroke is not None and not lines_only:
            reach = shape.stroke.width / 2.0
            reach *= 1.0 if shape.stroke.fixed_width else largest_stretch(shape.matrix)
        low = np.minimum(low, points.min(axis=0) - reach)
        high = np.maximum(high, points.max(axis=0) + reach)
    if not (np.isfinite(low).all() and np.isfinite(high).all()):
        return (0.0, 0.0, 0.0, 0.0)
    box = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    page = walked.page
    if turn == IDENTITY and page.width_px is not None and page.height_px is not None:
        inside = (
            max(box[0], 0.0),
            max(box[1], 0.0),
            min(box[2], page.width_px),
            min(box[3], page.height_px),
        )
        if inside[2] > inside[0] and inside[3] > inside[1]:
            return inside
    return box


BERNSTEIN = np.array(
    [[(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3] for t in np.linspace(0, 1, 5)]
)
"""What each control point of a cubic has in five points on it."""


def _samples(shape: Painted, turn: Matrix) -> Floats:
    """Points on the shape's curves: ends and three in between."""
    points: Floats = BERNSTEIN @ shape.outline.moved(multiply(turn, shape.matrix)).segments
    return points.reshape(-1, 2)


def page_matrix(
    box: Box, walked: Walked, options: ReadOptions, limits: Limits, name: str
) -> Matrix:
    """The map from page px to pattern mm.

    Mirrored first, then turned clockwise, then sized so that the ink of the result is
    as wide as wanted.

    Raises:
        PatternError: a size beyond all measure.
    """
    angle = math.radians(math.fmod(options.rotate_deg, 360.0))
    cos, sin = _exact(math.cos(angle)), _exact(math.sin(angle))
    turn: Matrix = (cos, sin, -sin, cos, 0.0, 0.0)
    if options.mirror:
        turn = multiply(turn, (-1.0, 0.0, 0.0, 1.0, 0.0, 0.0))
    scale = MM_PER_PX
    if options.width_mm is not None:
        turned = box if turn == IDENTITY else ink_box_px(walked, False, turn)
        wide = turned[2] - turned[0]
        if not 0.0 < options.width_mm < limits.largest_mm or wide <= 0.0:
            raise PatternError(
                "the wanted width cannot be had",
                sentence(
                    "{name}: {wide:.3f} px of ink, {width_mm} mm wanted",
                    name=name,
                    wide=wide,
                    width_mm=options.width_mm,
                ),
                sentence(
                    "Set width_mm above 0 and below {largest_mm:g}.", largest_mm=limits.largest_mm
                ),
            )
        scale = options.width_mm / wide
    size = max(box[2] - box[0], box[3] - box[1]) * scale
    far = max(map(abs, box)) * scale
    if not (math.isfinite(size) and math.isfinite(far)) or far > 1000.0 * limits.largest_mm:
        size = math.inf
    if size > limits.largest_mm or size < limits.smallest_mm:
        raise PatternError(
            "the drawing's size makes no sense",
            sentence("{name}: the ink is {size:.3g} mm across", name=name, size=size),
            "Set width_mm to the width you want, or mend the drawing's size.",
        )
    return (turn[0] * scale, turn[1] * scale, turn[2] * scale, turn[3] * scale, 0.0, 0.0)


def _exact(value: float) -> float:
    """Quarter turns without rounding dust."""
    nearest = round(value)
    return float(nearest) if abs(value - nearest) < 1e-12 else value
