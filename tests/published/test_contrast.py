"""Contrast of colours: the formula against values in print, and the least pair of each theme."""

from __future__ import annotations

import pytest

from companion.tui.palette import PALETTES, contrast, luminance
from tests.published.registry import Compare, Source

SOURCE = Source(
    "WCAG 2.1 (W3C): relative luminance, contrast ratio, success criteria 1.4.3, 1.4.6, 1.4.11; "
    "worked values from the documentation of two colour libraries.",
    "C",
    "half of the last digit in print",
)
ORANGE, PURPLE = "#ff8100", "#64003a"
PAIRS = [
    ("#000000", "#ffffff", 21.0, 1e-9, "C"), ("#767676", "#ffffff", 4.54, 0.005, "C"),
    ("#ffff00", "#ffffff", 1.07, 0.005, "C"),
    (ORANGE, PURPLE, 5.235369975583679, 1e-9, "C"),
    ("#777777", "#ffffff", 4.478, 0.0005, "D"), ("#949494", "#ffffff", 3.03, 0.005, "D"),
    ("#959595", "#ffffff", 2.995, 0.0005, "D"), ("#595959", "#ffffff", 7.00, 0.005, "D"),
    ("#ff0000", "#ffffff", 3.998, 0.0006, "D"), ("#0000ff", "#ffffff", 8.59, 0.005, "D"),
    ("#008000", "#ffffff", 5.14, 0.005, "D"),
]  # fmt: skip


@pytest.mark.parametrize(("one", "other", "ratio", "slack", "trust"), PAIRS)
def test_contrast_ratio(
    row: Compare, one: str, other: str, ratio: float, slack: float, trust: str
) -> None:
    """WCAG 2.1, definition of contrast ratio."""
    row(contrast(one, other), ratio, abs=slack, what=f"{one} on {other}", trust=trust)
    assert contrast(other, one) == contrast(one, other)


def test_luminance(row: Compare) -> None:
    """WCAG 2.1, definition of relative luminance."""
    row(luminance(ORANGE), 0.36960513804637335, rel=1e-12, what=f"luminance of {ORANGE}")


def test_the_thresholds_part_grey_from_grey() -> None:
    """Known neighbours: #767676 passes 4.5 on white, #777777 does not; so #949494 with 3."""
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")
    assert contrast("#949494", "#ffffff") >= 3.0 > contrast("#959595", "#ffffff")


@pytest.mark.parametrize("theme", sorted(PALETTES))
def test_least_pair_of_a_theme(row: Compare, theme: str) -> None:
    """WCAG 2.1, 1.4.6 (text 7:1) and 1.4.11 (lines 3:1)."""
    palette = PALETTES[theme]  # type: ignore[index]
    texts = [(contrast(a, b), name) for name, a, b in palette.text_pairs()]
    lines = [(contrast(a, b), name) for name, a, b in palette.line_pairs()]
    assert len(texts) > 20 and lines
    row.at_least(min(texts)[0], 7.0, what=f"{theme}: {min(texts)[1]}, least of {len(texts)}")
    row.at_least(min(lines)[0], 3.0, what=f"{theme}: {min(lines)[1]}, least of {len(lines)}")
