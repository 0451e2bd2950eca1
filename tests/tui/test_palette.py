"""Contrast by the published formula, and every pair of every theme."""

from __future__ import annotations

import pytest

from companion.tui.palette import (
    LINE_RATIO,
    PALETTES,
    TEXT_RATIO,
    contrast,
    luminance,
)

ORANGE, PURPLE = "#ff8100", "#64003a"


# values stated in the documentation of two colour libraries, and by the WCAG 2.x formula
@pytest.mark.parametrize(
    ("one", "other", "ratio", "slack"),
    [("#000000", "#ffffff", 21.0, 1e-9), ("#767676", "#ffffff", 4.54, 0.005),
     ("#ffff00", "#ffffff", 1.07, 0.005), (ORANGE, PURPLE, 5.235369975583679, 1e-6),
     ("#777777", "#ffffff", 4.478, 0.0006), ("#949494", "#ffffff", 3.03, 0.005),
     ("#595959", "#ffffff", 7.00, 0.005), ("#ff0000", "#ffffff", 3.998, 0.0006),
     ("#0000ff", "#ffffff", 8.59, 0.005), ("#008000", "#ffffff", 5.14, 0.005)],
)  # fmt: skip
def test_contrast_agrees_with_published_values(
    one: str, other: str, ratio: float, slack: float
) -> None:
    assert contrast(one, other) == pytest.approx(ratio, abs=slack)
    assert contrast(other, one) == contrast(one, other)


def test_luminance_agrees_with_a_published_value() -> None:
    assert luminance(ORANGE) == pytest.approx(0.36960513804637335, rel=1e-9)


@pytest.mark.parametrize("theme", PALETTES)
def test_every_text_pair_stands_out_seven_to_one(theme: str) -> None:
    pairs = list(PALETTES[theme].text_pairs())  # type: ignore[index]
    assert len(pairs) > 20
    poor = [(name, round(contrast(a, b), 2)) for name, a, b in pairs if contrast(a, b) < TEXT_RATIO]
    assert not poor


@pytest.mark.parametrize("theme", PALETTES)
def test_every_map_line_stands_out_three_to_one(theme: str) -> None:
    pairs = list(PALETTES[theme].line_pairs())  # type: ignore[index]
    poor = [(name, round(contrast(a, b), 2)) for name, a, b in pairs if contrast(a, b) < LINE_RATIO]
    assert not poor
