"""The basic shapes of SVG 2 chapter 10 as outlines."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

from companion.pattern.arcs import STEP, Row, arc_rows
from companion.pattern.lengths import Direction, Viewport, user_length
from companion.pattern.matrix import NUMBER
from companion.pattern.outline import Outline, outline_of
from companion.pattern.quote import quoted
from companion.sentence import sentence

_NUMBER = re.compile(NUMBER)
_RUN = re.compile(rf"[\s]*+(?:(?>{NUMBER})(?:[\s]*+,?+[\s]*+(?>{NUMBER}))*+)?+[\s]*+")
_TURN = [STEP * i for i in range(13)]
_HANDLE = 4.0 / 3.0 * math.tan(STEP / 4.0)
_UNIT: list[Row] = [
    (
        math.cos(a),
        math.sin(a),
        math.cos(a) - _HANDLE * math.sin(a),
        math.sin(a) + _HANDLE * math.cos(a),
        math.cos(b) + _HANDLE * math.sin(b),
        math.sin(b) - _HANDLE * math.cos(b),
        math.cos(b),
        math.sin(b),
    )
    for a, b in zip(_TURN[:-1], _TURN[1:], strict=True)
]
"""The unit circle from 3 o'clock, clockwise on the page (SVG 2 chapter 10)."""

Get = Callable[[str], str]
"""Looks up a geometry property by name; empty when not given."""


def ellipse_outline(cx: float, cy: float, rx: float, ry: float) -> Outline:
    """An ellipse; nothing when a radius is not above zero."""
    if not (rx > 0.0 and ry > 0.0):
        return outline_of([], [], [], [])
    rows: list[Row] = [
        (
            cx + rx * r[0],
            cy + ry * r[1],
            cx + rx * r[2],
            cy + ry * r[3],
            cx + rx * r[4],
            cy + ry * r[5],
            cx + rx * r[6],
            cy + ry * r[7],
        )
        for r in _UNIT
    ]
    rows[-1] = (*rows[-1][:6], rows[0][0], rows[0][1])
    return outline_of(rows, [False] * len(rows), [0], [True])


def rect_outline(x: float, y: float, w: float, h: float, rx: float, ry: float) -> Outline:
    """A rectangle from (x + rx, y), right along the top, corners clockwise (SVG 2 chapter 10)."""
    if not (w > 0.0 and h > 0.0):
        return outline_of([], [], [], [])
    rx, ry = min(rx, w / 2.0), min(ry, h / 2.0)
    if rx <= 0.0 or ry <= 0.0:
        return polygon_outline([(x, y), (x + w, y), (x + w, y + h), (x, y + h)], True)
    rows: list[Row] = []
    straight: list[bool] = []
    corners = [
        ((x + rx, y), (x + w - rx, y), (x + w, y + ry)),
        ((x + w, y + ry), (x + w, y + h - ry), (x + w - rx, y + h)),
        ((x + w - rx, y + h), (x + rx, y + h), (x, y + h - ry)),
        ((x, y + h - ry), (x, y + ry), (x + rx, y)),
    ]
    for a, b, c in corners:
        if a != b:
            rows.append((*a, *a, *b, *b))
            straight.append(True)
        curve, is_line = arc_rows(*b, rx, ry, 0.0, False, True, *c)
        rows += curve
        straight += [is_line] * len(curve)
    return outline_of(rows, straight, [0], [True])


def polygon_outline(points: list[tuple[float, float]], closed: bool) -> Outline:
    """Straight lines through the points."""
    if not points:
        return outline_of([], [], [], [])
    ends = [*points[1:], points[0]] if closed else points[1:]
    rows: list[Row] = [
        (*p, *p, *q, *q)
        for p, q in zip(points, ends, strict=closed)
        if not (closed and p == q and len(points) > 1)
    ]
    return outline_of(rows, [True] * len(rows), [0], [closed])


def parse_points(text: str) -> tuple[list[tuple[float, float]], bool]:
    """The points attribute: complete pairs up to an error, and whether it was sound."""
    run = _RUN.match(text)
    good = run.end() if run else 0
    values = list(map(float, _NUMBER.findall(text[:good])))
    sound = good == len(text) and len(values) % 2 == 0
    pairs = values[: len(values) - len(values) % 2]
    return list(zip(pairs[::2], pairs[1::2], strict=True)), sound


def basic_shape(tag: str, get: Get, viewport: Viewport, font_px: float) -> tuple[Outline, str]:
    """Outline of rect, circle, ellipse, line, polyline or polygon.

    Args:
        tag: the element's name.
        get: its geometry properties.
        viewport: for percentages.
        font_px: for em and ex.

    Returns:
        The outline (empty when the shape is not drawn) and what was wrong, or "".
    """
    wrong = ""

    def length(name: str, direction: Direction, default: float = 0.0) -> float:
        nonlocal wrong
        text = get(name)
        if not text.strip():
            return default
        value = user_length(text, viewport, direction, font_px)
        if value is None:
            wrong = sentence("{name}='{text}' is not a length", name=name, text=quoted(text, 20))
            return default
        return value

    if tag in ("polyline", "polygon"):
        points, sound = parse_points(get("points"))
        wrong = "" if sound else sentence("its list of points breaks off")
        return polygon_outline(points, tag == "polygon"), wrong
    if tag == "line":
        a = (length("x1", "x"), length("y1", "y"))
        b = (length("x2", "x"), length("y2", "y"))
        return polygon_outline([a, b], False), wrong
    if tag == "circle":
        r = length("r", "other")
        return _checked(ellipse_outline(length("cx", "x"), length("cy", "y"), r, r), r, wrong)
    rx, ry = _radii(tag, get, length)
    if tag == "ellipse":
        outline = ellipse_outline(length("cx", "x"), length("cy", "y"), rx, ry)
        return _checked(outline, min(rx, ry), wrong)
    w, h = length("width", "x"), length("height", "y")
    return _checked(
        rect_outline(length("x", "x"), length("y", "y"), w, h, rx, ry), min(w, h), wrong
    )


def _checked(outline: Outline, size: float, wrong: str) -> tuple[Outline, str]:
    return outline, wrong or (sentence("its size is negative") if size < 0.0 else "")


def _radii(tag: str, get: Get, length: Callable[[str, Direction], float]) -> tuple[float, float]:
    """Radii rx and ry; auto copies the other, negative counts as auto (SVG 2 chapter 10)."""
    values: list[float | None] = []
    directions: tuple[Direction, Direction] = ("x", "y")
    for name, direction in zip(("rx", "ry"), directions, strict=True):
        text = get(name).strip()
        value = None if text in ("", "auto") else length(name, direction)
        values.append(None if value is not None and value < 0.0 and tag == "rect" else value)
    rx, ry = values
    if rx is None and ry is None:
        return 0.0, 0.0
    return (
        rx if rx is not None else (ry or 0.0),
        ry if ry is not None else (rx or 0.0),
    )
