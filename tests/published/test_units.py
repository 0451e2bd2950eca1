"""Units: what a length, a weight and a strength come to."""

from __future__ import annotations

import pytest

from companion.units import NEWTON_PER_GRAM, inch, length_mm
from tests.published.registry import Compare, Source

SOURCE = Source(
    "CSS Values 3, Absolute lengths; international inch (1959): 25.4 mm; standard gravity "
    "(CGPM 1901): 9.80665 m/s2; ANSI A208.2 in both unit systems.",
    "C",
    "definitions: rounding of the machine only",
)
LENGTHS = [
    ("1in", 25.4), ("2.54cm", 25.4), ("101.6Q", 25.4), ("72pt", 25.4), ("6pc", 25.4),
    ("96px", 25.4), ("1IN", 25.4), ("1/4in", 6.35), ("1 1/2 in", 38.1), ("406,4 mm", 406.4),
    ("3m", 3000.0),
]  # fmt: skip


@pytest.mark.parametrize(("text", "mm"), LENGTHS)
def test_lengths(row: Compare, text: str, mm: float) -> None:
    """CSS Values 3, table of absolute lengths."""
    row(length_mm(text), mm, rel=1e-12, what=f"{text}, mm")


def test_back_to_inches(row: Compare) -> None:
    """International inch."""
    row(inch(25.4), 1.0, rel=1e-15, what="25.4 mm in inches")


def test_weight(row: Compare) -> None:
    """CGPM 1901, standard gravity."""
    row(NEWTON_PER_GRAM * 1000, 9.80665, rel=1e-15, what="weight of 1 kg, N")
