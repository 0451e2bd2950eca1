"""Height of letters at the eye: the formula in print, and the scale chosen for a distance."""

from __future__ import annotations

import math

import pytest

from companion.draw import letters
from tests.published.registry import Compare, Source

SOURCE = Source(
    "ISO 9241-3 character height (16' least, 20' to 22' preferred), as quoted by a vendor's "
    "ergonomics page; NUREG-0700 1.3.1-4 (formula, 24' and 45' as upper ends); CSS Values 3.",
    "C/D",
    "the heights in print are rounded to 0.01 mm",
)
HEIGHTS = [
    (500, (2.33, 2.91, 3.20)), (600, (2.79, 3.49, 3.84)), (700, (3.26, 4.07, 4.48)),
    (1000, (4.65, 5.82, 6.40)),
]  # fmt: skip


@pytest.mark.parametrize(("distance_mm", "heights_mm"), HEIGHTS)
def test_angle_of_a_height(row: Compare, distance_mm: float, heights_mm: tuple[float, ...]) -> None:
    """NUREG-0700 1.3.1-4, H = 2 d tan(MA / 2)."""
    for minutes, height in zip((16, 20, 22), heights_mm, strict=True):
        slack = 0.006 / height * minutes
        row(
            letters.arc_minutes(height, distance_mm), minutes, abs=slack,
            what=f"{height} mm at {distance_mm} mm, arc minutes",
        )  # fmt: skip


def test_reference_pixel(row: Compare) -> None:
    """CSS Values 3, reference pixel: 1/96 in at 28 in is about 0.0213 degrees."""
    row(letters.arc_minutes(25.4 / 96, 28 * 25.4) / 60, 0.0213, abs=5e-5, trust="C",
        what="reference pixel, degrees")  # fmt: skip


@pytest.mark.parametrize("distance_mm", [700.0, 1500.0, 2500.0])
@pytest.mark.parametrize("cell_mm", [3.0, 4.5, 6.0])
def test_rows_of_a_capital(row: Compare, cell_mm: float, distance_mm: float) -> None:
    """ISO 9241-3, preferred height 20 arc minutes or more."""
    least = letters.scales(cell_mm, distance_mm)[0]
    name = f"cell {cell_mm} mm, eye at {distance_mm / 1000:g} m"
    # seven half rows to a capital, times the scale; worked out here once more
    wanted_mm = 2 * distance_mm * math.tan(math.radians(20 / 60) / 2)
    scale = next((s for s in range(1, 7) if 7 * s * cell_mm / 2 >= wanted_mm), 6)
    row(least * 3.5, scale * 3.5, what=f"{name}: rows of a capital")
    seen = letters.arc_minutes(letters.height_mm(least, cell_mm), distance_mm)
    row.at_least(seen, 20.0, what=f"{name}: arc minutes of a capital")
