"""Tells ink from paper: what a fill or stroke does to the wood.

Dark paint adds, paper-coloured paint on top takes away, and paint that does not
show does nothing. Colours are read by tinycss2 (CSS Color 4).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from typing import Literal

import tinycss2.color4

from companion.pattern.limits import Limits


class Effect(Enum):
    """What paint does."""

    INK = "ink"
    PAPER = "paper"
    VEIL = "veil"
    """Clear paint that changes the tone, but by itself neither makes ink nor takes it away."""
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Paint:
    """A fill or stroke property, read."""

    kind: Literal["none", "colour", "server"]
    """``server``: a gradient or pattern named by url."""
    rgba: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 1.0)
    """Channels 0 to 1; black for a server."""
    url: str = ""
    """Id of the server."""
    fallback: Paint | None = None
    """Given after the url; None when there is none."""

    @property
    def spare(self) -> Paint:
        """What is painted when the server is missing."""
        return self.fallback or NO_PAINT


NO_PAINT = Paint("none")
BLACK = Paint("colour")


@lru_cache(maxsize=4096)
def _colour(text: str) -> tuple[float, float, float, float] | Literal["current"] | None:
    try:
        colour = tinycss2.color4.parse_color(text)
    except (ValueError, OverflowError, ZeroDivisionError):
        return None
    if colour is None:
        return None
    if isinstance(colour, str):
        return "current"
    try:
        rgb = colour if colour.space == "srgb" else colour.to("srgb")
        r, g, b = (min(max(float(v or 0.0), 0.0), 1.0) for v in rgb.coordinates)
        alpha = min(max(float(colour.alpha), 0.0), 1.0)
    except (ValueError, NotImplementedError, TypeError):
        return (0.0, 0.0, 0.0, 1.0)
    return (r, g, b, alpha)


def parse_colour(text: str, current: str) -> tuple[float, float, float, float] | None:
    """Channels and alpha, 0 to 1; None when it is not a colour.

    >>> parse_colour("#fff", "black"), parse_colour("currentColor", "red")
    ((1.0, 1.0, 1.0, 1.0), (1.0, 0.0, 0.0, 1.0))
    """
    value = _colour(text.strip())
    if value == "current":
        value = _colour(current.strip())
        return (0.0, 0.0, 0.0, 1.0) if value is None or value == "current" else value
    return value


@lru_cache(maxsize=4096)
def parse_paint(text: str, current: str) -> Paint | None:
    """Read a paint value.

    Args:
        text: the property's value.
        current: the value of the color property.

    Returns:
        The paint; None when the value is invalid and the declaration is ignored.
    """
    text = text.strip()
    low = text.lower()
    if low in ("none", "transparent"):
        return NO_PAINT
    if low.startswith("url("):
        close = text.find(")")
        if close < 0:
            return None
        ident = text[4:close].strip().strip("'\"").strip()
        fallback = text[close + 1 :].strip()
        spare = parse_paint(fallback, current) if fallback else None
        return Paint("server", (0.0, 0.0, 0.0, 1.0), ident.lstrip("#"), spare)
    if low in ("context-fill", "context-stroke"):
        return BLACK
    rgba_or_none = parse_colour(text.split(" icc-color(")[0], current)
    return None if rgba_or_none is None else Paint("colour", rgba_or_none)


def effect_of(paint: Paint, opacity: float, limits: Limits) -> Effect:
    """What the paint does at this opacity.

    Half-clear white over ink leaves grey, which is ink: only paint that makes
    both black and white paper-coloured takes away. Several such layers may add up
    (companion.pattern.veil).
    """
    if paint.kind == "none":
        return Effect.NOTHING
    alpha = paint.rgba[3] * opacity
    if alpha < limits.faint_alpha:
        return Effect.NOTHING
    darkest = min(paint.rgba[:3])
    over_white = alpha * darkest + (1.0 - alpha)
    over_black = alpha * darkest
    if over_black >= limits.paper_channel:
        return Effect.PAPER
    return Effect.INK if over_white < limits.paper_channel else Effect.VEIL
