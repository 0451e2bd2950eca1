"""What to do about a cut whose board meets the saw's frame in both directions.

The order kept (design 5.4): two runs from one hole first, for they ask nothing of
board or blade; then a trim of the board's corners or edges that leaves every piece
its frame; then a blade turned by 90 degrees for the stretches that do not clear; then
a spiral blade, which needs no turning of the board at all. When nothing helps, that
is said, and the cut must not be begun on this saw.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from companion.findings import Finding, Point, Severity
from companion.planner.contours import Contour
from companion.planner.linework import Floats, Line
from companion.planner.numbers import cut_of
from companion.planner.places import unit
from companion.planner.plan import Cut
from companion.planner.reach import Reach, back_out_behind, stretches, worst
from companion.words.catalogue import Words

SWING_STEP_DEG = 5.0
"""Headings at which a swing is kept clear when the board is trimmed."""
MOST_NAMED = 6
"""Cuts named in one finding; the rest are counted."""
LEAST_TRIM_MM = 0.5
"""Smaller trims are not told."""

Kind = Literal["two-runs", "trim", "turned-blade", "spiral", "none"]


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
            return _described(board, left)
        cut = left.intersection(_half_plane(at[k] - heading[k] * reach.throat_mm, heading[k]))
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
    at, unit = [start, end], [heading, heading]
    angle = np.arctan2(heading[:, 1], heading[:, 0])
    turn = np.mod(np.roll(angle, -1) - angle + np.pi, 2 * np.pi) - np.pi
    for k in np.flatnonzero(np.abs(turn) > np.radians(SWING_STEP_DEG)):
        between = angle[k] + turn[k] * np.linspace(
            0.0, 1.0, int(np.degrees(abs(turn[k])) / SWING_STEP_DEG) + 2
        )
        at.append(np.repeat(end[k : k + 1], len(between), axis=0))
        unit.append(np.stack([np.cos(between), np.sin(between)], axis=1))
    return np.concatenate(at), np.concatenate(unit)


def _half_plane(on: Floats, ahead: Floats) -> Polygon:
    """All that lies ahead of the line through a point square to a heading, 10 m of it."""
    side = np.array([-ahead[1], ahead[0]]) * 1e4
    return Polygon([on + side, on - side, on - side + ahead * 1e4, on + side + ahead * 1e4])


def _described(board: Polygon, left: Polygon) -> Trim:
    """The difference of two boards as strips and corners."""
    x0, y0, x1, y1 = board.bounds
    a0, b0, a1, b1 = left.bounds
    tips = []
    for x, y in ((a0, b0), (a1, b0), (a1, b1), (a0, b1)):
        tip = Polygon(box(a0, b0, a1, b1)).difference(left)
        mine = [g for g in shapely.get_parts(tip) if g.distance(shapely.Point(x, y)) < 1e-6]
        if not mine:
            tips.append((0.0, 0.0))
            continue
        u0, v0, u1, v1 = mine[0].bounds
        tips.append((u1 - u0, v1 - v0))
    return Trim(left, (a0 - x0, b0 - y0, x1 - a1, y1 - b1), tuple(tips))


def turned_blade(reach: Reach, path: Floats) -> float | None:
    """Length to be cut with the blade turned by 90 degrees, so that all clears; mm.

    Swings do not count: the blade is turned where the heading changes, the board stays.
    None when some stretch clears neither straight nor turned to one and the same side.
    """
    plain = stretches(reach, path, closed=True, swings=False)
    stuck = plain.behind_mm > reach.throat_mm
    for side in (90.0, -90.0):
        turned = stretches(reach, path, closed=True, turned_deg=side, swings=False)
        if (turned.behind_mm[stuck] <= reach.throat_mm).all():
            size = np.hypot(*(plain.end[stuck] - plain.start[stuck]).T)
            return float(size.sum())
    return None


def spiral(reach: Reach, path: Floats) -> bool:
    """Whether the path clears with the board held at some one angle throughout."""
    for angle in np.radians(np.arange(0.0, 360.0, 5.0)):
        heading = np.repeat(np.array([[np.cos(angle), np.sin(angle)]]), len(path), axis=0)
        if (reach.behind(path, heading) <= reach.throat_mm).all():
            return True
    return False


@dataclass(frozen=True, slots=True)
class Resort:
    """How one cut that clears in neither direction is made all the same."""

    kind: Kind
    name: str
    """Of the contour, in words."""
    behind_mm: float
    """How far the board reaches behind the blade in the better direction."""
    at_mm: Point
    """Where it does, or where two runs meet."""
    remedy: str


def resort(
    reach: Reach, contour: Contour, line: Line, split_at: Point | None, keep: BaseGeometry,
    words: Words,
) -> Resort:  # fmt: skip
    """The gentlest way to make a cut that clears in neither direction.

    Args:
        reach: of the saw with the board.
        contour: the one to cut.
        line: its line.
        split_at: where two runs from one hole meet; None when they do not serve.
        keep: pieces with their frame, which no trim may touch.
        words: the language.
    """
    behind, at = min(worst(reach, path, closed=True) for path in (line.xy, line.xy[::-1]))
    kind, remedy, at = _remedy(reach, line, split_at, keep, words, at)
    return Resort(kind, name_of(contour, words), behind, at, remedy)


def told(resorts: Sequence[Resort], reach: Reach, words: Words) -> list[Finding]:
    """One finding for each remedy, naming the cuts it serves, the worst first."""
    groups: dict[tuple[Kind, str], list[Resort]] = defaultdict(list)
    for r in resorts:
        groups[r.kind, r.remedy].append(r)
    findings = []
    for (kind, remedy), group in groups.items():
        group.sort(key=lambda r: -r.behind_mm)
        names = ", ".join(r.name for r in group[:MOST_NAMED])
        if len(group) > MOST_NAMED:
            names += words.count(" and {n} more", " and {n} more", len(group) - MOST_NAMED)
        text = words.say(
            "The board reaches {behind:.0f} mm behind the blade, the saw allows {throat:.0f}:"
            " {names}.",
            names=names, behind=group[0].behind_mm, throat=reach.throat_mm,
        )  # fmt: skip
        severity: Severity = "stop" if kind == "none" else "warn"
        code = "reach" if kind == "none" else f"reach-{kind}"
        over = group[0].behind_mm - reach.throat_mm
        findings.append(Finding(code, severity, group[0].at_mm, text, remedy, over))
    return findings


def name_of(contour: Contour, words: Words) -> str:
    """A contour in words, as findings name it."""
    return words.say("cut {n}", n=cut_of(contour))


def lead_blocked(
    contour: Contour, hole: Point, behind_mm: float, reach: Reach, words: Words
) -> Finding:
    """The finding for a line that clears, but not the way to it from any hole."""
    return Finding(
        "reach-lead", "warn", hole,
        words.say(
            "From the hole to the line the board reaches {behind:.0f} mm behind the blade, the"
            " saw allows {throat:.0f}: {names}.",
            behind=behind_mm, throat=reach.throat_mm, names=name_of(contour, words),
        ),
        words.say("Turn the blade by 90 degrees for the way to the line, or trim the board."),
        behind_mm - reach.throat_mm,
    )  # fmt: skip


def back_outs_blocked(cut: Cut, reach: Reach, far_mm: float, words: Words) -> list[Finding]:
    """The finding for corners that the frame lets nobody take from their other side.

    Args:
        cut: with its turns.
        reach: of the saw with the board.
        far_mm: how far beyond a corner its second approach begins.
        words: the language.
    """
    turns = [t for t in cut.turns if t.technique == "back-out"]
    path = np.array(cut.line_mm)
    if not turns or reach.never_meets(path):
        return []
    step = np.hypot(*np.diff(path, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(step)])
    arc = np.array([t.along_mm for t in turns])

    def place(at: Floats) -> Floats:
        return np.stack([np.interp(at, along, path[:, k]) for k in (0, 1)], axis=1)

    at = place(arc)
    before, after = unit(at - place(arc - far_mm)), unit(place(arc + far_mm) - at)
    if cut.meet_along_mm is not None:
        # the second run comes to these from the other end
        later = (arc > cut.meet_along_mm)[:, None]
        before, after = np.where(later, -after, before), np.where(later, -before, after)
    behind = back_out_behind(reach, at, before, after, far_mm)
    over = np.flatnonzero(behind > reach.throat_mm)
    if not len(over):
        return []
    k = int(over[np.argmax(behind[over])])
    return [Finding(
        "reach-back-out", "warn", turns[k].at_mm,
        words.count(
            "In cut {cut} the board meets the frame when {n} corner is taken from its other side.",
            "In cut {cut} the board meets the frame when {n} corners are taken from their other"
            " side.",
            len(over), cut=cut.number,
        ),
        words.say("Draw back there, widen the kerf in the waste, and turn the work on the spot."),
        float(behind[k]) - reach.throat_mm,
    )]  # fmt: skip


def _remedy(
    reach: Reach, line: Line, split_at: Point | None, keep: BaseGeometry, words: Words, at: Point
) -> tuple[Kind, str, Point]:
    say = words.say
    if split_at is not None:
        return (
            "two-runs",
            say(
                "Cut it in two runs from the same hole: first the planned way to the marked place,"
                " then from the start the other way until the kerfs meet."
            ),
            split_at,
        )
    trims = [trim(reach, p, keep) for p in (line.xy, line.xy[::-1])]
    best = max((t for t in trims if t is not None), key=lambda t: t.board.area, default=None)
    if best is not None:
        return "trim", say("Before cutting, trim {what}.", what=_told(best, words)), at
    turned = [turned_blade(reach, p) for p in (line.xy, line.xy[::-1])]
    lengths = [t for t in turned if t is not None]
    if lengths:
        return "turned-blade", say(
            "As a last resort turn the blade by 90 degrees for {length:.0f} mm of it.",
            length=min(lengths),
        ), at  # fmt: skip
    if spiral(reach, line.xy):
        return (
            "spiral",
            say("As a last resort cut it with a spiral blade; the edge is rougher."),
            at,
        )
    return "none", say("Use a saw with a deeper throat, a smaller board or a smaller pattern."), at


def _told(found: Trim, words: Words) -> str:
    """A trim in words, edges first."""
    say, parts = words.say, []
    names = (say("the left edge"), say("the top edge"), say("the right edge"),
             say("the bottom edge"))  # fmt: skip
    for name, size in zip(names, found.edges_mm, strict=True):
        if size >= LEAST_TRIM_MM:
            parts.append(say("{size:.0f} mm off {edge}", size=float(np.ceil(size)), edge=name))
    tips = (say("the top left corner"), say("the top right corner"),
            say("the bottom right corner"), say("the bottom left corner"))  # fmt: skip
    for name, (level, upright) in zip(tips, found.corners_mm, strict=True):
        if max(level, upright) >= LEAST_TRIM_MM:
            parts.append(
                say(
                    "{corner}, {level:.0f} mm along and {upright:.0f} mm down the side",
                    corner=name,
                    level=float(np.ceil(level)),
                    upright=float(np.ceil(upright)),
                )  # fmt: skip
            )
    return "; ".join(parts)
