"""Round openings that a drill of the set makes by itself.

The rule kept (common practice, no published source): what is round and the size of a drill
that the sawyer owns is drilled to size, not threaded and sawn. Round is judged on the
outline, by its largest distance from the fitted circle; the drill may miss the diameter by
little; and around the hole stays the wood that every hole demands between itself and a line.
An opening with a piece or a vein in it is sawn, and so is one that the sawyer pinned.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from companion.findings import Finding, Point
from companion.planner.contours import Contour
from companion.planner.pins import pin_for
from companion.planner.plan import SizedHole
from companion.planner.project import Pin
from companion.planner.rules import Rules, SizeRules
from companion.shop import tables
from companion.shop.model import Drill
from companion.words import Words

MOST_NAMED = 12
"""Cuts named for each drill in the finding; the others are counted."""


@dataclass(frozen=True, slots=True)
class Circle:
    """The circle fitted to an outline."""

    centre_mm: Point
    radius_mm: float
    off_mm: float
    """Largest distance of the outline from it."""


@dataclass(frozen=True, slots=True)
class Fit:
    """A round opening with the drill that makes it."""

    contour: int
    """Index of its contour."""
    at_mm: Point
    drill: Drill


def circle_of(ring: Polygon) -> Circle:
    """The circle about the outline's middle whose largest distance from it is the least.

    About the centre of the area, which no crowd of points on one side draws away; the
    edges count between their ends too, where they are nearest to it.

    >>> from shapely.geometry import box
    >>> found = circle_of(box(0.0, 0.0, 2.0, 2.0))
    >>> found.centre_mm, round(found.radius_mm, 3), round(found.off_mm, 3)
    ((1.0, 1.0), 1.207, 0.207)
    """
    middle = ring.centroid
    far = float(np.hypot(*(shapely.get_coordinates(ring.exterior) - (middle.x, middle.y)).T).max())
    near = float(ring.exterior.distance(middle))
    return Circle((middle.x, middle.y), (far + near) / 2, (far - near) / 2)


def is_round(circle: Circle, rules: SizeRules) -> bool:
    """Whether an outline is near enough to its circle."""
    most = min(rules.round_off_mm, rules.round_share * circle.radius_mm)
    return circle.off_mm <= max(most, rules.round_least_mm)


def drill_for(circle: Circle, drills: Sequence[Drill]) -> Drill | None:
    """The drill of a set nearest to a circle's diameter; None when all miss it by too much."""
    wide = 2 * circle.radius_mm
    off = tables.limit("round-by-drill").value
    near = [d for d in drills if abs(d.diameter_mm - wide) <= off + 1e-9]
    return min(near, key=lambda d: (abs(d.diameter_mm - wide), d.diameter_mm, d.name), default=None)


def fits(
    contours: Sequence[Contour],
    drills: Sequence[Drill],
    rules: Rules,
    pins: Sequence[Pin] = (),
    veins: Sequence[LineString] = (),
) -> tuple[Fit, ...]:
    """The openings that may be drilled to size.

    Args:
        contours: all lines of the board.
        drills: the sawyer's set.
        rules: what is round, and how near to a line a hole may be.
        pins: what the sawyer decided; a pinned opening is sawn.
        veins: single lines, board mm; a hole keeps clear of them as well.

    Returns:
        By contour, with the drill nearest to the diameter.
    """
    thickest = max((d.diameter_mm for d in drills), default=0.0)
    most = thickest + tables.limit("round-by-drill").value + 2 * rules.to_size.round_off_mm
    small = [
        c for c in contours
        if c.side == "inside" and not c.children and pin_for(c, pins) is None
        and max(c.ring.bounds[2] - c.ring.bounds[0], c.ring.bounds[3] - c.ring.bounds[1]) <= most
    ]  # fmt: skip
    if not small:
        return ()
    lines = shapely.STRtree([*(c.ring.exterior for c in contours), *veins])
    found = []
    for contour in small:
        circle = circle_of(contour.ring)
        drill = drill_for(circle, drills) if is_round(circle, rules.to_size) else None
        if drill is None:
            continue
        clear = drill.diameter_mm / 2 + rules.hole.margin_mm
        middle = shapely.Point(circle.centre_mm)
        near = lines.query(middle, predicate="dwithin", distance=clear)
        if set(near.tolist()) <= {contour.index}:
            found.append(Fit(contour.index, circle.centre_mm, drill))
    return tuple(found)


def sized_holes(
    found: Sequence[Fit], contours: Sequence[Contour], number_of: Mapping[int, int]
) -> tuple[SizedHole, ...]:
    """What is drilled to size, numbered after the cuts.

    Args:
        found: from :func:`fits`.
        contours: all lines.
        number_of: the cuts' numbers by contour.
    """
    holes = []
    for number, fit in enumerate(found, len(number_of) + 1):
        contour = contours[fit.contour]
        # an opening lies in a piece, whose outline is cut
        assert contour.opening is not None and contour.parent is not None
        holes.append(
            SizedHole(
                number, fit.at_mm, fit.drill.diameter_mm, fit.drill.name, contour.opening,
                contour.piece, number_of[contour.parent],
            )
        )  # fmt: skip
    return tuple(holes)


def could_be(found: Sequence[Fit], number_of: Mapping[int, int], words: Words) -> list[Finding]:
    """The finding that names the openings a drill would make, while they are sawn.

    Args:
        found: from :func:`fits`.
        number_of: the cuts' numbers by contour.
        words: the language.
    """
    if not found:
        return []
    by_drill: dict[Drill, list[int]] = defaultdict(list)
    for fit in found:
        by_drill[fit.drill].append(number_of[fit.contour])
    named = "; ".join(
        _named(drill, sorted(by_drill[drill]), words)
        for drill in sorted(by_drill, key=lambda d: (d.diameter_mm, d.name))
    )
    row = tables.limit("round-by-drill")
    return [
        Finding(
            row.code, row.severity, found[0].at_mm,
            words.count(
                "{n} round opening has the size of a drill you own ({named}).",
                "{n} round openings have the size of drills you own ({named}).",
                len(found), named=named,
            ),
            words.count(
                "To drill it instead of sawing, write {key} under [project] in project.toml, or"
                " give {flag}.",
                "To drill them instead of sawing, write {key} under [project] in project.toml, or"
                " give {flag}.",
                len(found), key='round_openings = "drill"', flag="--round-openings drill",
            ),
        )
    ]  # fmt: skip


def or_drilled(findings: Sequence[Finding], found: Sequence[Fit], words: Words) -> list[Finding]:
    """The findings; one that no blade can be threaded at a drill's size tells that way out too.

    Args:
        findings: with places in board mm.
        found: from :func:`fits`, while they are sawn.
        words: the language.
    """
    more = words.say("Or drill it to size: {flag}.", flag="--round-openings drill")
    return [
        replace(f, remedy=f"{f.remedy} {more}")
        if f.code == "hole-no-room" and f.at_mm is not None
        and any(math.dist(f.at_mm, fit.at_mm) < fit.drill.diameter_mm / 2 for fit in found)
        else f
        for f in findings
    ]  # fmt: skip


def _named(drill: Drill, cuts: Sequence[int], words: Words) -> str:
    """A drill and the cuts it would stand in for."""
    listed = ", ".join(str(n) for n in cuts[:MOST_NAMED])
    if len(cuts) > MOST_NAMED:
        listed += words.count(" and {n} more", " and {n} more", len(cuts) - MOST_NAMED)
    return words.count(
        "{drill}: cut {list}", "{drill}: cuts {list}", len(cuts),
        drill=words.drill(drill.name, drill.diameter_mm), list=listed,
    )  # fmt: skip


def openings_of(found: Sequence[Fit], contours: Sequence[Contour]) -> Collection[int]:
    """The numbers of those openings in the pattern."""
    return frozenset(
        number for fit in found if (number := contours[fit.contour].opening) is not None
    )
