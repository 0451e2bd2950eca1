"""Wood sawn off a board before its pattern is begun, so that it clears the saw's frame.

The rule kept: a trim is edges and corners, as one would saw them off with a straight
cut, and leaves every piece and every hole its frame.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from companion.findings import Point
from companion.pattern.overlay import difference, intersection
from companion.planner.linework import Floats
from companion.planner.reach import Reach
from companion.words.catalogue import Words

SWING_STEP_DEG = 5.0
"""Headings at which a swing is kept clear when the board is trimmed."""
LEAST_TRIM_MM = 0.5
"""Smaller trims are not told."""


@dataclass(frozen=True, slots=True)
class Trim:
    """Wood to saw off a board before the pattern is begun."""

    board: Polygon
    """What is left."""
    edges_mm: tuple[float, float, float, float]
    """Strips off the left, top, right, bottom edge; 0: none."""
    corners_mm: tuple[tuple[float, float], ...]
    """Legs of the triangle off each corner, along the level and the upright edge: top
    left, top right, bottom right, bottom left; (0, 0): none."""


def trim(reach: Reach, path: Floats, keep: BaseGeometry) -> Trim | None:
    """The wood to take off a rectangular board so that a path clears the frame.

    Each place p with heading u forbids the corners that lie further behind it than
    the throat: half a plane. The board without all those is what may stay.

    Args:
        reach: of the saw with the whole board.
        path: closed line in travel order (n, 2).
        keep: what must stay: the pieces with their frame.

    Returns:
        The trim, or None when it would take something that must stay.
    """
    board = Polygon(reach.corners_mm)
    at, heading = _places_and_headings(path)
    left = board
    for _ in range(64):
        corners = shapely.get_coordinates(left.exterior)[:-1]
        behind = (at * heading).sum(axis=1) - (corners @ heading.T).min(axis=0)
        k = int(np.argmax(behind))
        if behind[k] <= reach.throat_mm + 1e-6:
            return described(board, left)
        cut = intersection(left, _half_plane(at[k] - heading[k] * reach.throat_mm, heading[k]))
        if not isinstance(cut, Polygon) or cut.is_empty or not cut.buffer(1e-6).covers(keep):
            return None
        left = cut
    return None


def _places_and_headings(path: Floats) -> tuple[Floats, Floats]:
    """Every position with every heading the work has there, swings in small steps."""
    step = np.diff(path, axis=0)
    size = np.hypot(step[:, 0], step[:, 1])
    keep = size > 1e-9
    start, end, heading = path[:-1][keep], path[1:][keep], step[keep] / size[keep, None]
    angle = np.arctan2(heading[:, 1], heading[:, 0])
    turn = np.mod(np.roll(angle, -1) - angle + np.pi, 2 * np.pi) - np.pi
    sharp = np.flatnonzero(np.abs(turn) > np.radians(SWING_STEP_DEG))
    steps = (np.degrees(np.abs(turn[sharp])) / SWING_STEP_DEG).astype(np.intp) + 1
    which = np.repeat(sharp, steps)
    share = (np.arange(len(which)) - np.repeat(np.cumsum(steps) - steps, steps)) / np.repeat(
        steps, steps
    )
    # the last of each swing is the next stretch's own heading, at its start
    between = angle[which] + turn[which] * share
    swung = np.stack([np.cos(between), np.sin(between)], axis=1)
    return np.concatenate([start, end, end[which]]), np.concatenate([heading, heading, swung])


def _half_plane(on: Floats, ahead: Floats) -> Polygon:
    """All that lies ahead of the line through a point square to a heading, 10 m of it."""
    side = np.array([-ahead[1], ahead[0]]) * 1e4
    return Polygon([on + side, on - side, on - side + ahead * 1e4, on + side + ahead * 1e4])


def described(board: Polygon, left: Polygon) -> Trim:
    """The difference of two boards as strips and corners."""
    x0, y0, x1, y1 = board.bounds
    a0, b0, a1, b1 = left.bounds
    tips = []
    for x, y in ((a0, b0), (a1, b0), (a1, b1), (a0, b1)):
        tip = difference(box(a0, b0, a1, b1), left)
        mine = [g for g in shapely.get_parts(tip) if g.distance(shapely.Point(x, y)) < 1e-6]
        if not mine:
            tips.append((0.0, 0.0))
            continue
        u0, v0, u1, v1 = mine[0].bounds
        tips.append((u1 - u0, v1 - v0))
    return Trim(left, (a0 - x0, b0 - y0, x1 - a1, y1 - b1), tuple(tips))


def corners_of_board(board: Polygon) -> tuple[Point, ...]:
    """Corners of what is left of a board, rounded as the other places of a plan are."""
    return tuple((round(x, 4), round(y, 4)) for x, y in board.exterior.coords[:-1])


def trim_steps(found: Trim, words: Words) -> list[str]:
    """A trim as things to do, one at a time, edges first."""
    say, parts = words.say, []
    for name, size in zip(_edges(words), found.edges_mm, strict=True):
        if size >= LEAST_TRIM_MM:
            parts.append(say("Trim {size:.0f} mm off {edge}.", size=_whole(size), edge=name))
    for name, (level, upright) in zip(_tips(words), found.corners_mm, strict=True):
        if max(level, upright) >= LEAST_TRIM_MM:
            parts.append(
                say(
                    "Trim {corner}, {level:.0f} mm along and {upright:.0f} mm down.",
                    corner=name, level=_whole(level), upright=_whole(upright),
                )
            )  # fmt: skip
    return parts


def _whole(size_mm: float) -> float:
    """Rounded up to whole millimetres; what is over by a rounding error alone is not."""
    return float(np.ceil(round(size_mm, 3)))


def _edges(words: Words) -> tuple[str, ...]:
    say = words.say
    return (say("the left edge"), say("the top edge"), say("the right edge"),
            say("the bottom edge"))  # fmt: skip


def _tips(words: Words) -> tuple[str, ...]:
    say = words.say
    return (say("the top left corner"), say("the top right corner"),
            say("the bottom right corner"), say("the bottom left corner"))  # fmt: skip


def trim_words(found: Trim, words: Words) -> str:
    """A trim in words, edges first."""
    say, parts = words.say, []
    for name, size in zip(_edges(words), found.edges_mm, strict=True):
        if size >= LEAST_TRIM_MM:
            parts.append(say("{size:.0f} mm off {edge}", size=_whole(size), edge=name))
    for name, (level, upright) in zip(_tips(words), found.corners_mm, strict=True):
        if max(level, upright) >= LEAST_TRIM_MM:
            parts.append(
                say(
                    "{corner}, {level:.0f} mm along and {upright:.0f} mm down the side",
                    corner=name,
                    level=_whole(level),
                    upright=_whole(upright),
                )  # fmt: skip
            )
    return "; ".join(parts)
