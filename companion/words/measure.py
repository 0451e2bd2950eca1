"""Lengths in the user's unit: the one place where a sentence's millimetres become inches.

A rule that holds for every sentence: a field followed by " mm" is a length. So the
layers above give millimetres and write " mm" behind the field, and whoever works in
inches reads and hears inches, in every language.
"""

from __future__ import annotations

import re
from fractions import Fraction
from math import isclose

from companion.units import GRAMS_PER_OUNCE, NEWTON_PER_GRAM, inch

FINEST = 64
"""Rulers and drills are parted in 64ths of an inch (common practice, no published source)."""

_FIELD = r"(?:{[xu]}[,;] )?{[^{}]*}"
"""One field, or a place: x, y."""
LENGTHS = re.compile(
    rf"(?P<fields>{_FIELD}(?:(?: x | to | bis | and | und ){_FIELD})*) mm(?P<area>2?)(?![\w/])"
)
"""The fields of a sentence that are lengths (or, with a 2, areas)."""

INCH_NAMES = {"en": "in", "de": "Zoll"}


def inches_text(value_mm: float) -> str:
    """A number of inches: a ruler's fraction where it is one exactly, else decimals.

    Whole numbers keep a decimal, so that "6.0 in" is not read as "6 in the waste".

    >>> inches_text(6.35), inches_text(31.75), inches_text(152.4), inches_text(6), inches_text(406)
    ('1/4', '1 1/4', '6.0', '0.236', '16.0')
    """
    size = inch(value_mm)
    parts = round(size * FINEST)
    if parts % FINEST and isclose(size * FINEST, parts, abs_tol=1e-6):
        whole, rest = divmod(parts, FINEST)
        share = Fraction(rest, FINEST)
        return f"{whole} {share}" if whole else f"{share}"
    decimals = 1 if abs(size) >= 10 else 2 if abs(size) >= 1 else 3
    text = f"{size:.{decimals}f}".rstrip("0")
    return text + "0" if text.endswith(".") else text


def square_inches_text(value_mm2: float) -> str:
    """An area in square inches.

    >>> square_inches_text(645.16), square_inches_text(12.0)
    ('1.00', '0.019')
    """
    size = inch(inch(value_mm2))
    return f"{size:.2f}" if size >= 1 else f"{size:.3f}"


def weight_text(force_n: float, pounds: bool = False) -> str:
    """A force as the weight that says it, rounded as one would say it.

    >>> weight_text(3.1), weight_text(0.05), weight_text(44.0)
    ('320 g', '5.1 g', '4.5 kg')
    >>> weight_text(3.1, pounds=True), weight_text(0.05, pounds=True), weight_text(44.0, True)
    ('11 oz', '0.18 oz', '9.9 lb')
    """
    grams = force_n / NEWTON_PER_GRAM
    if pounds:
        weight, unit, larger, times = grams / GRAMS_PER_OUNCE, "oz", "lb", 16.0
    else:
        weight, unit, larger, times = grams, "g", "kg", 1000.0
    if weight >= 0.995 * times:
        weight, unit = weight / times, larger
    return f"{float(f'{weight:.2g}'):g} {unit}"
