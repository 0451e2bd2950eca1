"""Small patterns drawn by hand or by chance, and a bench to plan them on."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from companion.findings import Finding
from companion.pattern.model import Opening, Pattern, Piece
from companion.planner.contours import Contour, Rooms, contours
from companion.planner.linework import Linework
from companion.planner.project import Pin
from companion.planner.reach import Reach, reach_of
from companion.planner.rules import Rules, rules_for
from companion.planner.starts import Entry, Task, enter_all
from companion.shop.model import BladeSize, Drill, SawProfile, Skill

NO_3 = BladeSize("3", 0.032 * 25.4, 0.014 * 25.4, 0.42, 23.0, "facts section 3", "M")
NO_2_0 = BladeSize("2/0", 0.022 * 25.4, 0.010 * 25.4, 0.30, 28.0, "facts section 3", "M")
DRILLS = tuple(
    Drill(f"{d:g} mm", d) for d in (0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.5, 2.0, 2.5, 3.0)
)
BIG_SAW = SawProfile(2000.0, 50.0, 10.0, 10.0)
"""Reach is no matter with it."""


def regular(n: int, r: float, at: tuple[float, float] = (0.0, 0.0), turn: float = 0.0) -> Polygon:
    """A regular polygon by its circumradius."""
    angles = turn + 2 * np.pi * np.arange(n) / n
    return Polygon([(at[0] + r * math.cos(a), at[1] + r * math.sin(a)) for a in angles])


def star(n: int, r: float, inner: float, at: tuple[float, float] = (0.0, 0.0)) -> Polygon:
    """A star with n points."""
    return Polygon(
        [
            (
                at[0] + (r if k % 2 == 0 else inner) * math.cos(math.pi * k / n),
                at[1] + (r if k % 2 == 0 else inner) * math.sin(math.pi * k / n),
            )
            for k in range(2 * n)
        ]
    )


def disc(r: float, at: tuple[float, float] = (0.0, 0.0), points: int = 64) -> Polygon:
    """A circle as a regular polygon."""
    return regular(points, r, at)


def pattern_of(
    *pieces: tuple[Polygon, list[Polygon], int | None], veins: tuple[LineString, ...] = ()
) -> Pattern:
    """A pattern from outlines, their openings, and the opening each piece lies in."""
    made: list[Piece] = []
    number = 0
    for p, (outline, holes, within) in enumerate(pieces, 1):
        openings = tuple(Opening(number + k, hole, p) for k, hole in enumerate(holes, 1))
        number += len(holes)
        shape = Polygon(outline.exterior, [h.exterior for h in holes])
        assert shape.is_valid
        made.append(Piece(p, shape, openings, within))
    return Pattern(tuple(made), veins, (), "0" * 64)


def panel(rows: int, pitch: float, radius: float, points: int = 64) -> Pattern:
    """A square panel of equal round openings."""
    size = rows * pitch
    holes = [
        disc(radius, ((i + 0.5) * pitch, (j + 0.5) * pitch), points)
        for j in range(rows)
        for i in range(rows)
    ]
    return pattern_of((box(0, 0, size, size), holes, None))


@dataclass(frozen=True)
class Planned:
    """All that the parts under test made of one pattern."""

    every: tuple[Contour, ...]
    work: Linework
    rooms: Rooms
    size_mm: tuple[float, float]
    rules: Rules
    reach: Reach
    entries: tuple[Entry, ...]
    findings: tuple[Finding, ...]
    shift: tuple[float, float]


def plan(
    pattern: Pattern,
    margin: float = 15.0,
    saw: SawProfile = BIG_SAW,
    blade: BladeSize = NO_3,
    skill: Skill = "practised",
    pins: tuple[Pin, ...] = (),
    drills: tuple[Drill, ...] = DRILLS,
    margins: tuple[float, float, float, float] | None = None,
) -> Planned:
    """Put a pattern on a board with margins (left, top, right, bottom) and enter its cuts."""
    x0, y0, x1, y1 = pattern.bounds_mm
    left, top, right, bottom = margins or (margin,) * 4
    shift = (left - x0, top - y0)
    size = (x1 - x0 + left + right, y1 - y0 + top + bottom)
    every = contours(pattern, shift)
    work, rooms, rules = Linework(every), Rooms(every, *size), rules_for(skill)
    reach = reach_of(saw, *size)
    task = Task(work, rooms, size, blade, drills, rules, 6.0, reach, pins, (NO_2_0, NO_3))
    entries, findings = enter_all(task)
    return Planned(every, work, rooms, size, rules, reach, entries, findings, shift)


@st.composite
def openings(draw: st.DrawFn, cell: float) -> Polygon:
    """One opening that fits a cell around the origin, at any angle."""
    r = draw(st.floats(0.12, 0.44)) * cell
    kind = draw(st.sampled_from(["disc", "polygon", "star", "slot", "blob", "cross"]))
    if kind == "disc":
        shape = disc(r)
    elif kind == "polygon":
        shape = regular(draw(st.integers(3, 8)), r)
    elif kind == "star":
        shape = star(draw(st.integers(3, 7)), r, r * draw(st.floats(0.3, 0.7)))
    elif kind == "slot":
        shape = box(-r, -r * 0.25, r, r * 0.25)
    elif kind == "cross":
        shape = joined(
            box(-r * 0.9, -r * 0.3, r * 0.9, r * 0.3), box(-r * 0.3, -r * 0.9, r * 0.3, r * 0.9)
        )
    else:
        waves = draw(st.lists(st.floats(0.0, 0.3), min_size=2, max_size=4))
        angle = np.linspace(0.0, 2 * np.pi, 72, endpoint=False)
        wave = np.ones(72)
        for k, w in enumerate(waves):
            wave += w * np.cos((k + 2) * angle)
        radius = r * wave / wave.max()
        shape = Polygon(np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1))
    turned = affinity.rotate(shape, draw(st.floats(0.0, 360.0)), origin=(0, 0))
    assert isinstance(turned, Polygon)
    return turned


@st.composite
def patterns(draw: st.DrawFn, most: int = 3) -> Pattern:
    """A panel or a plaque with openings, now and then a piece within an opening."""
    rows, columns = draw(st.integers(1, most)), draw(st.integers(1, most))
    cell = draw(st.floats(14.0, 40.0))
    holes, nested = [], []
    for j in range(rows):
        for i in range(columns):
            at = ((i + 0.5) * cell, (j + 0.5) * cell)
            hole = affinity.translate(draw(openings(cell)), *at)
            assert isinstance(hole, Polygon)
            holes.append(hole)
            core = hole.buffer(-0.14 * cell)
            if draw(st.booleans()) and isinstance(core, Polygon) and core.area > 20.0:
                nested.append((core, len(holes)))
    frame = box(0, 0, columns * cell, rows * cell)
    if draw(st.booleans()):
        rounded = frame.buffer(0.2 * cell).simplify(0.05)
        assert isinstance(rounded, Polygon)
        frame = rounded
    turn = draw(st.floats(0.0, 360.0))
    middle = (columns * cell / 2, rows * cell / 2)

    def turned(p: Polygon) -> Polygon:
        out = affinity.rotate(p, turn, origin=middle)
        assert isinstance(out, Polygon)
        return out

    pieces: list[tuple[Polygon, list[Polygon], int | None]] = [
        (turned(frame), [turned(h) for h in holes], None)
    ]
    pieces += [(turned(core), [], within) for core, within in nested]
    return pattern_of(*pieces)


def joined(a: Polygon, b: Polygon) -> Polygon:
    """Two overlapping shapes as one."""
    both = a.union(b)
    assert isinstance(both, Polygon)
    return both


def waste(planned: Planned) -> BaseGeometry:
    """The board without any piece."""
    left: BaseGeometry = box(0, 0, *planned.size_mm)
    for c in planned.every:
        if c.side == "outside":
            shape: BaseGeometry = c.ring
            for i in c.children:
                shape = shape.difference(planned.every[i].ring)
            left = left.difference(shape)
    return left
