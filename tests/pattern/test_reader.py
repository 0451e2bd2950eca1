"""The reader from end to end on small drawings."""

from __future__ import annotations

import math

import pytest

from companion.errors import PatternError
from companion.pattern.model import Pattern
from companion.pattern.options import ReadOptions
from companion.pattern.reader import read_pattern_text

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">'


def read(body: str, options: ReadOptions | None = None, head: str = HEAD) -> Pattern:
    return read_pattern_text(f"{head}{body}</svg>".encode(), options or ReadOptions(), "test.svg")


def codes(pattern: Pattern) -> set[str]:
    return {f.code for f in pattern.findings}


def test_ring_is_one_piece_with_one_opening() -> None:
    pattern = read('<path fill-rule="evenodd" d="M10 10h80v80h-80zM30 30h40v40h-40z"/>')
    assert len(pattern.pieces) == 1
    assert len(pattern.openings) == 1
    assert pattern.kept_area_mm2 == pytest.approx(6400 - 1600)
    assert pattern.bounds_mm == (10, 10, 90, 90)


def test_white_on_dark_takes_away() -> None:
    pattern = read(
        '<rect x="10" y="10" width="80" height="80"/>'
        '<circle cx="50" cy="50" r="20" fill="white"/><circle cx="50" cy="50" r="5"/>'
    )
    assert [len(p.openings) for p in pattern.pieces] == [1, 0]
    assert pattern.pieces[1].within == 1
    assert pattern.kept_area_mm2 == pytest.approx(6400 - math.pi * (400 - 25), rel=2e-4)


def test_overlapping_shapes_are_one_piece_and_said_so() -> None:
    pattern = read('<circle cx="40" cy="50" r="15"/><circle cx="60" cy="50" r="15"/>')
    assert len(pattern.pieces) == 1
    assert "overlap-united" in codes(pattern)


def test_wanted_width_is_met() -> None:
    pattern = read('<circle cx="40" cy="50" r="15"/>', ReadOptions(width_mm=240))
    x0, y0, x1, y1 = pattern.bounds_mm
    assert x1 - x0 == pytest.approx(240, abs=0.002)
    assert y1 - y0 == pytest.approx(240, abs=0.04)


def test_text_alone_is_refused_with_a_remedy() -> None:
    with pytest.raises(PatternError, match="only text") as caught:
        read('<text x="1" y="20">Harbour</text>')
    assert "outlines" in caught.value.remedy
