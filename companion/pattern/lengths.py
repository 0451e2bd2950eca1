"""SVG lengths in user units (CSS px).

Sources: CSS Values 3 "Absolute lengths" for the ratios; SVG 2 chapter 8 "Units"
for bare numbers (px) and for what a percentage is taken of.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

PX_PER_UNIT = {
    "": 1.0,
    "px": 1.0,
    "in": 96.0,
    "cm": 96.0 / 2.54,
    "mm": 96.0 / 25.4,
    "q": 96.0 / 101.6,
    "pt": 96.0 / 72.0,
    "pc": 16.0,
}
RELATIVE = {"em", "ex", "rem", "ch", "%", "vw", "vh", "vmin", "vmax"}
X_HEIGHT_EM = 0.5
"""CSS Values 3 5.1.1: where the x-height is unknown, 0.5em is used."""

_LENGTH = re.compile(
    r"^[ \t\r\n\f]*([+-]?(?>\d++\.?\d*+|\.\d++)(?>[eE][+-]?\d++)?)([a-zA-Z]*|%)[ \t\r\n\f]*$"
)
Direction = Literal["x", "y", "other"]


@dataclass(frozen=True, slots=True)
class Viewport:
    """What percentages are taken of."""

    width: float
    """User units."""
    height: float
    """User units."""

    def of(self, direction: Direction) -> float:
        """The length that 100 % stands for (SVG 2 ch. 8: the diagonal over the root of 2)."""
        if direction == "x":
            return self.width
        if direction == "y":
            return self.height
        return math.hypot(self.width, self.height) / math.sqrt(2.0)


def split_length(text: str) -> tuple[float, str] | None:
    """Number and lower-case unit; None when it is not a length or the unit is unknown.

    >>> split_length("12CM"), split_length(" 50% "), split_length("1e2"), split_length("auto")
    ((12.0, 'cm'), (50.0, '%'), (100.0, ''), None)
    """
    match = _LENGTH.match(text)
    if not match:
        return None
    number, unit = float(match[1]), match[2].lower()
    if not math.isfinite(number) or (unit not in PX_PER_UNIT and unit not in RELATIVE):
        return None
    return number, unit


def user_length(
    text: str, viewport: Viewport, direction: Direction, font_px: float = 16.0
) -> float | None:
    """A length in user units.

    Args:
        text: number with unit, or percentage.
        viewport: of the element.
        direction: along which side a percentage goes.
        font_px: the font size for em and ex.

    Returns:
        The length; None when the text is not one.
    """
    parts = split_length(text)
    if parts is None:
        return None
    length = _in_user_units(*parts, viewport, direction, font_px)
    return length if math.isfinite(length) else None


def _in_user_units(
    number: float, unit: str, viewport: Viewport, direction: Direction, font_px: float
) -> float:
    if unit in PX_PER_UNIT:
        return number * PX_PER_UNIT[unit]
    if unit == "%":
        return number / 100.0 * viewport.of(direction)
    if unit in ("vw", "vh"):
        return number / 100.0 * (viewport.width if unit == "vw" else viewport.height)
    if unit in ("vmin", "vmax"):
        pick = min if unit == "vmin" else max
        return number / 100.0 * pick(viewport.width, viewport.height)
    return number * font_px * (X_HEIGHT_EM if unit in ("ex", "ch") else 1.0)
