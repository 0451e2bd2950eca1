"""Affine maps a b c d e f, the transform attribute, and viewBox placement.

Sources: CSS Transforms 1 section 8 "SVG and CSS transforms" (a list applies right
to left to a point); SVG 2 chapter 8 "Computing the equivalent transform of an SVG
viewport".
"""

from __future__ import annotations

import math
import re

Matrix = tuple[float, float, float, float, float, float]
"""x' = a x + c y + e, y' = b x + d y + f."""

IDENTITY: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)

NUMBER = r"[+-]?(?>\d+\.?\d*+|\.\d++)(?>[eE][+-]?\d++)?"
_FUNCTION = re.compile(r"[\s,]*([a-zA-Z]+)\s*\(([^()]*)\)")
_ARGUMENT = re.compile(rf"\s*+,?\s*+({NUMBER})(px|deg|rad|grad|turn)?")
_TO_DEGREES = {"rad": 180.0 / math.pi, "grad": 0.9, "turn": 360.0}


def multiply(outer: Matrix, inner: Matrix) -> Matrix:
    """The map that applies ``inner`` first, then ``outer``."""
    a, b, c, d, e, f = outer
    g, h, i, j, k, m = inner
    return (
        a * g + c * h,
        b * g + d * h,
        a * i + c * j,
        b * i + d * j,
        a * k + c * m + e,
        b * k + d * m + f,
    )


def determinant(m: Matrix) -> float:
    """Signed change of area."""
    return m[0] * m[3] - m[1] * m[2]


def scale_of(m: Matrix) -> float:
    """Mean change of length: the root of the change of area."""
    return math.sqrt(abs(determinant(m)))


def largest_stretch(m: Matrix) -> float:
    """Largest change of length in any direction (the greater singular value)."""
    a, b, c, d = m[:4]
    half_sum = (a * a + b * b + c * c + d * d) / 2.0
    root = math.sqrt(max(half_sum * half_sum - determinant(m) ** 2, 0.0))
    return math.sqrt(half_sum + root)


def is_finite(m: Matrix) -> bool:
    """All six numbers finite."""
    return all(math.isfinite(v) for v in m)


def _rotation(degrees: float) -> Matrix:
    turn = math.radians(math.fmod(degrees, 360.0))
    return (math.cos(turn), math.sin(turn), -math.sin(turn), math.cos(turn), 0.0, 0.0)


def _one(name: str, v: list[float]) -> Matrix | None:
    """One function of the list; None when the count of numbers does not fit."""
    n = len(v)
    if name == "matrix" and n == 6:
        return (v[0], v[1], v[2], v[3], v[4], v[5])
    if name == "translate" and n in (1, 2):
        return (1.0, 0.0, 0.0, 1.0, v[0], v[1] if n == 2 else 0.0)
    if name == "translatex" and n == 1:
        return (1.0, 0.0, 0.0, 1.0, v[0], 0.0)
    if name == "translatey" and n == 1:
        return (1.0, 0.0, 0.0, 1.0, 0.0, v[0])
    if name == "scale" and n in (1, 2):
        return (v[0], 0.0, 0.0, v[-1], 0.0, 0.0)
    if name == "scalex" and n == 1:
        return (v[0], 0.0, 0.0, 1.0, 0.0, 0.0)
    if name == "scaley" and n == 1:
        return (1.0, 0.0, 0.0, v[0], 0.0, 0.0)
    if name == "rotate" and n == 1:
        return _rotation(v[0])
    if name == "rotate" and n == 3:
        there: Matrix = (1.0, 0.0, 0.0, 1.0, v[1], v[2])
        back: Matrix = (1.0, 0.0, 0.0, 1.0, -v[1], -v[2])
        return multiply(multiply(there, _rotation(v[0])), back)
    if name == "skewx" and n == 1:
        return (1.0, 0.0, math.tan(math.radians(v[0])), 1.0, 0.0, 0.0)
    if name == "skewy" and n == 1:
        return (1.0, math.tan(math.radians(v[0])), 0.0, 1.0, 0.0, 0.0)
    return None


def _arguments(text: str) -> list[float] | None:
    numbers: list[float] = []
    at = 0
    while match := _ARGUMENT.match(text, at):
        numbers.append(float(match[1]) * _TO_DEGREES.get(match[2] or "", 1.0))
        at = match.end()
    sound = not text[at:].strip() and all(map(math.isfinite, numbers))
    return numbers if sound else None


def parse_transform(text: str) -> Matrix | None:
    """Read a transform attribute.

    Returns:
        The map; None when the list is in error (SVG 2: the attribute then has no effect).

    >>> parse_transform("translate(50,90) scale(2)")
    (2.0, 0.0, 0.0, 2.0, 50.0, 90.0)
    >>> parse_transform("rotate(1,2)") is None
    True
    """
    total = IDENTITY
    at = 0
    while match := _FUNCTION.match(text, at):
        numbers = _arguments(match[2])
        step = _one(match[1].lower(), numbers) if numbers is not None else None
        if step is None:
            return None
        total = multiply(total, step)
        at = match.end()
    if text[at:].strip(" \t\r\n\f,") not in ("", "none"):
        return None
    return total if is_finite(total) else None


_ALIGN = re.compile(r"^x(Min|Mid|Max)Y(Min|Mid|Max)$")
_SHARE = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}


def parse_viewbox(text: str) -> tuple[float, float, float, float] | None:
    """min-x, min-y, width, height; None when it is not four numbers."""
    numbers = _arguments(text)
    if numbers is None or len(numbers) != 4 or not all(map(math.isfinite, numbers)):
        return None
    return (numbers[0], numbers[1], numbers[2], numbers[3])


def place_viewbox(
    box: tuple[float, float, float, float],
    place: tuple[float, float, float, float],
    aspect: str,
) -> Matrix:
    """The map from viewBox units to the place they are shown in.

    Args:
        box: viewBox, width and height above zero.
        place: x, y, width, height of the viewport in the outer user units.
        aspect: the preserveAspectRatio attribute.

    >>> place_viewbox((0, 0, 30, 40), (0, 0, 50, 30), "xMidYMid meet")
    (0.75, 0.0, 0.0, 0.75, 13.75, 0.0)
    """
    words = [w for w in aspect.split() if w != "defer"]
    sx, sy = place[2] / box[2], place[3] / box[3]
    align = words[0] if words else "xMidYMid"
    if align == "none":
        return (sx, 0.0, 0.0, sy, place[0] - box[0] * sx, place[1] - box[1] * sy)
    match = _ALIGN.match(align)
    share_x, share_y = (_SHARE[match[1]], _SHARE[match[2]]) if match else (0.5, 0.5)
    s = max(sx, sy) if words[1:2] == ["slice"] else min(sx, sy)
    x = place[0] - box[0] * s + share_x * (place[2] - box[2] * s)
    y = place[1] - box[1] * s + share_y * (place[3] - box[3] * s)
    return (s, 0.0, 0.0, s, x, y)
