"""One internal unit: the millimetre. Other units come and go only here.

Sources: 1 in = 25.4 mm exactly (international inch, 1959); the CSS absolute
units as in CSS Values 3, "Absolute lengths" (1 in = 96 px = 72 pt = 6 pc).
"""

from __future__ import annotations

import re

from companion.errors import UsageError
from companion.sentence import sentence

MM_PER_INCH = 25.4
PX_PER_INCH = 96.0
NEWTON_PER_GRAM = 9.80665e-3
"""Weight of one gram; standard gravity 9.80665 m/s2 (CGPM 1901)."""
GRAMS_PER_OUNCE = 28.349523125
"""Avoirdupois, exactly: 1 lb = 0.45359237 kg = 16 oz (international pound, 1959)."""

MM_PER_UNIT: dict[str, float] = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "q": 0.25,
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    '"': MM_PER_INCH,
    "zoll": MM_PER_INCH,
    "px": MM_PER_INCH / PX_PER_INCH,
    "pt": MM_PER_INCH / 72.0,
    "pc": MM_PER_INCH / 6.0,
}

_LENGTH = re.compile(r"^\s*[+]?([\d.,]*\d[.,]?)\s*([a-zA-Z\"]*)\s*$")
_FRACTION = re.compile(r"^\s*(?:(\d+)[ -])?\s*(\d+)/(\d+)\s*([a-zA-Z\"]*)\s*$")
_NUMBER = re.compile(r"\d*[.,]?\d*")
_THOUSANDS = re.compile(r"[1-9]\d{0,2},\d{3}")
"""Read as thousands in one language and as thousandths in another."""


def plain_number(text: str) -> str:
    """A number as people write it, with a point or a comma before the decimals.

    Args:
        text: digits, and one mark at most: marks between thousands are refused, since
            "1.234,5" and "1,234.5" are read differently where different languages are spoken.

    Returns:
        The same with a decimal point.

    Raises:
        UsageError: not a number, or not clear which one.

    >>> plain_number("406,4"), plain_number("0,125"), plain_number("7.5")
    ('406.4', '0.125', '7.5')
    """
    number = text.strip()
    if not any(c.isdigit() for c in number) or set(number) - set("0123456789.,"):
        raise UsageError(
            sentence("not a number: {text!r}", text=text), "", sentence("Write a number.")
        )
    if not _NUMBER.fullmatch(number) or _THOUSANDS.fullmatch(number):
        raise UsageError(
            sentence("not clear which number is meant: {text!r}", text=text), "",
            sentence("Leave out marks between thousands; write a point before the decimals,"
                     " as in 1234.5."),
        )  # fmt: skip
    return number.replace(",", ".")


def length_mm(text: str, default_unit: str = "mm") -> float:
    """Read a length as people write it.

    Args:
        text: number with an optional unit, e.g. ``200mm``, ``406,4 mm``, ``1/4"``, ``1 1/2in``.
        default_unit: unit of a bare number.

    Returns:
        The length in mm, greater than zero.

    Raises:
        UsageError: not a number, an unclear one, an unknown unit, zero, or absurdly large.

    >>> length_mm("200mm"), length_mm('1/4"'), length_mm("1 1/2 in"), length_mm("20,5")
    (200.0, 6.35, 38.099999999999994, 20.5)
    """
    fraction = _FRACTION.match(text)
    plain = _LENGTH.match(text)
    if fraction and int(fraction[3]) != 0:
        number = int(fraction[1] or 0) + int(fraction[2]) / int(fraction[3])
        unit = fraction[4]
    elif plain:
        number, unit = float(plain_number(plain[1])), plain[2]
    else:
        raise UsageError(
            sentence("not a length: {text!r}", text=text), "",
            sentence("Write a number and a unit, as in 200mm."),
        )  # fmt: skip
    scale = MM_PER_UNIT.get((unit or default_unit).lower())
    if scale is None:
        raise UsageError(
            sentence("unknown unit in {text!r}", text=text), "",
            sentence("Use mm, cm, in, pt or px."),
        )  # fmt: skip
    value = number * scale
    if not 0.0 < value < 100_000.0:
        raise UsageError(
            sentence("length out of range: {text!r}", text=text), "",
            sentence("Give more than 0 and under 100 m."),
        )  # fmt: skip
    return value


def inch(value_mm: float) -> float:
    """Millimetres to inches."""
    return value_mm / MM_PER_INCH
