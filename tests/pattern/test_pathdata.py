"""Path data: agreement with svgpathtools where it is right, the clauses where it is not."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from svgpathtools import CubicBezier, Line, QuadraticBezier
from svgpathtools import parse_path as other_parse

from companion.pattern.outline import Floats
from companion.pattern.pathdata import parse_path

OUTSIDE = Path(__file__).parents[1] / "data" / "outside"
DATA = re.compile(r'\sd="([^"]+)"')


def ours_at(d: str, t: float) -> Floats:
    """A point on each segment that is not an arc's part."""
    outline, fault = parse_path(d)
    assert fault is None
    p, s = outline.segments, 1.0 - t
    curve = s**3 * p[:, 0] + 3 * s * s * t * p[:, 1] + 3 * s * t * t * p[:, 2] + t**3 * p[:, 3]
    line = s * p[:, 0] + t * p[:, 3]
    return np.where(outline.straight[:, None], line, curve)


def theirs_at(d: str, t: float) -> Floats:
    points = [
        segment.point(t)
        for segment in other_parse(d)
        if isinstance(segment, (Line, CubicBezier, QuadraticBezier))
    ]
    return np.array([(p.real, p.imag) for p in points])


def without_arcs() -> list[str]:
    found: list[str] = []
    for path in sorted(OUTSIDE.rglob("*.svg")):
        for d in DATA.findall(path.read_text("utf-8", "replace")):
            if not re.search("[aA]", d) and len(d) < 4000 and parse_path(d)[1] is None:
                found.append(d)
    return found[::4]


def test_same_segments_as_svgpathtools_on_real_drawings() -> None:
    """The two agree on path data that is legal, free of arcs and of empty segments."""
    compared = 0
    for d in without_arcs():
        ours, theirs = ours_at(d, 0.3), theirs_at(d, 0.3)
        if len(ours) != len(theirs) or not len(ours):
            continue
        assert np.abs(ours - theirs).max() < 1e-6 * max(1.0, float(np.abs(theirs).max()))
        compared += 1
    assert compared > 100


# Data, and the segments that the clause leaves; svgpathtools reads each otherwise.
DEPARTURES = [
    # SVG 2 chapter 9, "Error handling in path data": an unknown letter ends the drawing.
    ("M0 0L10 10X5 5", 1),
    # Same clause: a lone number at the end of a command is left out, the rest is drawn.
    ("M10 10l10-5.5.5z", 1),
    ("M0 0L10 10L20,20,30", 2),
    # SVG 2 chapter 9, grammar, "flag": only 0 and 1 are flags.
    ("M0 0H4A5 5 0 6 0 9 9L3 3", 1),
    # SVG 2 chapter 9, "Out-of-range elliptical arc parameters": same ends, no segment.
    ("M0 0A5 5 0 0 1 0 0L9 9", 1),
    # SVG 2 chapter 9, grammar: no comma between a command and its numbers.
    ("M0 0H4L,5,5", 1),
    ("M1 1H4,L2 2", 1),
]


@pytest.mark.parametrize(("d", "segments"), DEPARTURES)
def test_where_the_specification_decides(d: str, segments: int) -> None:
    assert len(parse_path(d)[0].segments) == segments
    try:
        others = len(other_parse(d))
    except (ValueError, AssertionError, IndexError):
        return
    assert others != segments


LEGAL = [
    ("M0 0h1v1z", 3),
    ("m1 1 2 2 3 3", 2),
    ("M0 0 1 1 2 2z m5 5l1 1", 4),
    ("M0 0z l5 5z", 3),
    ("M0 0c1 1 2 2 3 3 4 4 5 5 6 6", 2),
    ("M0 0s1 1 2 2t5 5", 2),
    ("M0 0a5 5 0 1110 0", 6),
    ("M0 0a5-5 0 0110 0", 6),
    ("M.5.5.5.5", 1),
    ("M-1-1-2-2", 1),
    ("M1e2,1E-1L+1,+2", 1),
    ("none", 0),
    ("M5 5", 0),
]


@pytest.mark.parametrize(("d", "segments"), LEGAL)
def test_legal_data(d: str, segments: int) -> None:
    outline, fault = parse_path(d)
    assert fault is None
    assert len(outline.segments) == segments


BROKEN = [
    ("L5 5", 0, 0),
    ("5 5", 0, 0),
    ("M1 1,", 4, 0),
    ("M1 1 2", 6, 0),
    ("M1 1H", 5, 0),
    ("M1 1Hz", 5, 0),
    ("M1 1L2 2 z 3", 11, 2),
    ("M1 1LNaN 2", 5, 0),
    ("M1 1A1 1 0 0 0", 5, 0),
    ("M1 1L2 2#", 8, 1),
]


@pytest.mark.parametrize(("d", "position", "segments"), BROKEN)
def test_place_of_the_fault(d: str, position: int, segments: int) -> None:
    outline, fault = parse_path(d)
    assert fault is not None
    assert fault.position == position
    assert len(outline.segments) == segments
