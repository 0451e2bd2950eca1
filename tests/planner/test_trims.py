"""A trim told as one thing to do and as a sentence: both name the same wood."""

from __future__ import annotations

import pytest
from shapely.geometry import box

from companion.planner.trims import Trim, trim_steps, trim_words
from companion.words import ENGLISH

NONE = (0.0, 0.0)


@pytest.mark.parametrize(
    ("edges", "corners", "parts"),
    [
        ((0.0, 0.0, 12.2, 0.0), (NONE, NONE, NONE, NONE), ["13 mm off the right edge"]),
        (
            (0.4, 0.0, 0.0, 0.6),
            (NONE, (30.0, 0.3), NONE, (0.2, 41.0)),
            [
                "1 mm off the bottom edge",
                "the top right corner, 30 mm along and 1 mm down",
                "the bottom left corner, 1 mm along and 41 mm down",
            ],
        ),
        (
            (150.0 + 1e-9, 0.0, 0.0, 0.0),
            (NONE, NONE, (41.0 - 1e-9, 30.0 + 1e-9), NONE),
            ["150 mm off the left edge", "the bottom right corner, 41 mm along and 30 mm down"],
        ),
        ((0.0, 0.0, 0.0, 0.0), ((0.3, 0.4), NONE, NONE, NONE), []),
    ],
)
def test_a_corner_is_told_when_either_leg_counts(
    edges: tuple[float, float, float, float],
    corners: tuple[tuple[float, float], ...],
    parts: list[str],
) -> None:
    found = Trim(box(0, 0, 100, 100), edges, corners)
    steps, sentence = trim_steps(found, ENGLISH), trim_words(found, ENGLISH)
    assert len(steps) == len(parts) == len([p for p in sentence.split("; ") if p])
    for part, step, told in zip(parts, steps, sentence.split("; "), strict=False):
        assert part in step and part in told
