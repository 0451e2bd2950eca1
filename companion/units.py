"""One internal unit: the millimetre. Other units come and go only here.

Sources: 1 in = 25.4 mm exactly (international inch, 1959); the CSS absolute
units as in CSS Values 3, "Absolute lengths" (1 in = 96 px = 72 pt = 6 pc).
"""

from __future__ import annotations

import re

from companion.errors import UsageError

MM_PER_INCH = 25.4
PX_PER_INCH = 96.0
NEWTON_PER_GRAM = 9.80665e-3
"""Weight of one gram; standard gravity 9.80665 m/s2 (CGPM 1901)."""

MM_PER_UNIT: dict[str, float] = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "q": 0.25,
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    '"': MM_PER_INCH,
    "px": MM_PER_INCH / PX_PER_INCH,
    "pt": MM_PER_INCH / 72.0,
    "pc": MM_PER_INCH / 6.0,
}

_LENGTH = re.compile(r"^\s*([+]?(?:\d+(?:\.\d*)?|\.\d+))\s*([a-zA-Z\"]*)\s*$")
_FRACTION = re.compile(r"^\s*(?:(\d+)[ -])?\s*(\d+)/(\d+)\s*([a-zA-Z\"]*)\s*$")


def length_mm(text: str, default_unit: str = "mm") -> float:
    """Read a length as people write it.

    Args:
        text: number with an optional unit, e.g. ``200mm``, ``7.5 in``, ``1/4"``, ``1 1/2in``.
        default_unit: unit of a bare number.

    Returns:
        The length in mm, greater than zero.

    Raises:
        UsageError: not a number, an unknown unit, zero, or absurdly large.

    >>> length_mm("200mm"), length_mm('1/4"'), length_mm("1 1/2 in"), length_mm("20")
    (200.0, 6.35, 38.099999999999994, 20.0)
    """
    fraction = _FRACTION.match(text)
    plain = _LENGTH.match(text)
    if fraction and int(fraction[3]) != 0:
        number = int(fraction[1] or 0) + int(fraction[2]) / int(fraction[3])
        unit = fraction[4]
    elif plain:
        number, unit = float(plain[1]), plain[2]
    else:
        raise UsageError(f"not a length: {text!r}", "", "Write a number and a unit, as in 200mm.")
    scale = MM_PER_UNIT.get((unit or default_unit).lower())
    if scale is None:
        raise UsageError(f"unknown unit in {text!r}", "", "Use mm, cm, in, pt or px.")
    value = number * scale
    if not 0.0 < value < 100_000.0:
        raise UsageError(f"length out of range: {text!r}", "", "Give more than 0 and under 100 m.")
    return value


def inch(value_mm: float) -> float:
    """Millimetres to inches."""
    return value_mm / MM_PER_INCH
