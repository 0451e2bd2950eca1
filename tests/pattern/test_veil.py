"""Half-clear paint is added up where it lies in layers (companion.pattern.veil)."""

from __future__ import annotations

import pytest

from companion.errors import PatternError
from companion.pattern import veil
from companion.pattern.model import Pattern
from companion.pattern.options import ReadOptions
from companion.pattern.reader import read_pattern_text
from tests.pattern.measure import compare
from tests.pattern.test_reader import HEAD

SQUARE = '<rect x="10" y="10" width="80" height="80" fill="black"/>'
FAINT = '<rect x="{x}" y="10" width="40" height="40" fill="black" fill-opacity=".04"/>'
VEIL = '<rect x="20" y="20" width="{w}" height="30" fill="white" fill-opacity=".8"/>'


def drawing(body: str) -> str:
    return f"{HEAD}{body}</svg>"


def read(body: str) -> Pattern:
    return read_pattern_text(drawing(body).encode(), ReadOptions(), "veils.svg")


def ink_mm2(body: str) -> float:
    return sum(piece.shape.area for piece in read(body).pieces)


CASES = {
    # 0.96 * 0.96 = 0.92 of white is left where both lie: ink of 20 x 40.
    "two faint layers": (FAINT.format(x=10) + FAINT.format(x=30), 20 * 40),
    # 0.981 ** 3 = 0.944 of white: each alone hardly shows, the three together do.
    "three layers fainter than 2 %": (
        (FAINT.format(x=10) + FAINT.format(x=30) + FAINT.format(x=40)).replace(".04", ".019"),
        10 * 40,
    ),
    # 0.996 ** 14 = 0.945
    "many layers of a level each": (FAINT.format(x=10).replace(".04", ".004") * 14, 40 * 40),
    # 0.2 * 0.2 of the black shows: paper where both veils lie.
    "two white veils": (SQUARE + VEIL.format(w=50) + VEIL.format(w=30), 80 * 80 - 30 * 30),
    "one white veil over black": (SQUARE + VEIL.format(w=50), 80 * 80),
    # 0.85 + 0.15 * 0.8 = 0.97
    "one white veil over light ink": (
        SQUARE.replace("black", "#d9d9d9") + VEIL.format(w=50),
        80 * 80 - 50 * 30,
    ),
    "paper between two faint layers": (
        FAINT.format(x=10)
        + '<rect width="99" height="99" fill="white"/>'
        + FAINT.format(x=10)
        + '<circle cx="70" cy="70" r="0"/><rect x="60" y="60" width="10" height="10"/>',
        100,
    ),
    # A group is laid on as one: white hides black in it, then both are thinned.
    "a group of half the opacity": (
        f'<g opacity=".5">{SQUARE}<rect x="20" y="20" width="30" height="30" fill="white"/></g>',
        80 * 80 - 30 * 30,
    ),
    "shapes of a faint group do not add up": (
        '<rect x="80" y="80" width="10" height="10"/><g opacity=".04">'
        + FAINT.format(x=10).replace(".04", "1") * 2
        + "</g>",
        100,
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_the_sum_is_ink_or_paper(name: str) -> None:
    """Areas from the alpha arithmetic beside each case; a renderer says the same."""
    body, expected = CASES[name]
    assert ink_mm2(body) == pytest.approx(expected, abs=0.01)
    assert compare(drawing(body).encode(), name, side_px=1200).difference_share < 0.005


def test_faint_paint_alone_is_no_pattern() -> None:
    with pytest.raises(PatternError, match="nothing in the drawing is left") as caught:
        read(FAINT.format(x=10))
    assert "faint" in caught.value.cause


def test_paint_below_half_a_level_is_none() -> None:
    """0.0019 of a channel's 255 levels is less than half a level, however many lie there."""
    body = '<rect x="80" y="80" width="10" height="10"/>'
    assert ink_mm2(body + FAINT.format(x=10).replace(".04", ".0019") * 60) == pytest.approx(100)


def test_too_many_veils_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    body = SQUARE + VEIL.format(w=50) * 4
    monkeypatch.setattr(veil, "MOST_PAIRS", 3)
    assert "faint-not-added" in {f.code for f in read(body).findings}
    assert ink_mm2(body) == pytest.approx(80 * 80)


def test_many_colours_are_taken_together(monkeypatch: pytest.MonkeyPatch) -> None:
    body, expected = CASES["two white veils"]
    monkeypatch.setattr(veil, "MOST_CELLS", 0)
    assert ink_mm2(body) == pytest.approx(expected)
    monkeypatch.setattr(veil, "SURE_INK", 0.9)
    assert ink_mm2(body) == pytest.approx(expected + 30 * 30)  # black again: never less wood


def test_a_fading_highlight_is_told() -> None:
    stops = '<stop stop-color="white"/><stop offset="1" stop-color="white" stop-opacity="0"/>'
    body = f'{SQUARE}<linearGradient id="a">{stops}</linearGradient><rect x="20" y="20" '
    pattern = read(f'{body}width="9" height="9" fill="url(#a)"/>')
    assert "gradient-left-out" in {f.code for f in pattern.findings}
    assert len(pattern.openings) == 0
