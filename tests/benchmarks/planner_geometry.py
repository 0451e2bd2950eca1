"""Times the planner's geometry without the stiffness model, beside the bare library calls.

Run: ``python -m tests.benchmarks.planner_geometry 8 16 32`` (rows of a square panel).

Each opening is a wavy blob or star of 120 points. Measured in processor seconds of one
run: contours, lines with thickness and room, holes with starts, directions and reach,
turns, holding places; and what the job needs at least from libraries: the waste
(difference), every opening's inscribed circle, the Voronoi cells of the densified lines.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import Voronoi
from shapely.geometry import Polygon, box

from companion.pattern.model import Pattern
from companion.planner.contours import Rooms, contours
from companion.planner.holding import holding_places
from companion.planner.linework import Linework
from companion.planner.reach import reach_of
from companion.planner.rules import rules_for
from companion.planner.starts import Task, enter_all
from companion.planner.turns import Ground, turns
from companion.shop.model import SawProfile
from tests.planner.drawn import DRILLS, NO_2_0, NO_3, pattern_of

PITCH_MM = 12.0
POINTS = 120
BARE_MM = 0.25
"""Spacing of the points whose Voronoi cells are timed."""
SAW = SawProfile(406.0, 50.0, 10.0, 10.0)


@dataclass(frozen=True)
class Times:
    """Processor seconds of one panel."""

    openings: int
    planned_s: float
    bare_s: float
    turns: int


def panel(rows: int, seed: int = 1) -> Pattern:
    """A square panel of uneven openings, 30 % of them toothed."""
    rng = np.random.default_rng(seed)
    angle = np.linspace(0, 2 * np.pi, POINTS, endpoint=False)
    holes = []
    for j in range(rows):
        for i in range(rows):
            radius = np.ones(POINTS)
            for k, size in enumerate(rng.uniform(0.0, 0.3, 4)):
                radius += size * np.cos((k + 2) * angle + rng.uniform(0, 6))
            radius *= 0.42 * PITCH_MM / radius.max()
            if rng.random() < 0.3:
                tooth = np.arange(POINTS) % (POINTS // 5) < POINTS // 10
                radius = np.where(tooth, radius, 0.5 * radius)
            middle = (np.array([i, j]) + 0.5) * PITCH_MM
            ray = np.stack([np.cos(angle), np.sin(angle)], axis=1)
            holes.append(Polygon(middle + radius[:, None] * ray))
    return pattern_of((box(0, 0, rows * PITCH_MM, rows * PITCH_MM), holes, None))


def measure(rows: int) -> Times:
    """Plan the geometry of one panel, and make the bare calls."""
    pattern, size = panel(rows), rows * PITCH_MM + 30.0
    begun = time.process_time()
    every = contours(pattern, (15.0, 15.0))
    work, rooms, rules = Linework(every), Rooms(every, size, size), rules_for("practised")
    reach = reach_of(SAW, size, size)
    task = Task(
        work, rooms, (size, size), NO_2_0, DRILLS, rules, 6.0, reach, (), (NO_2_0, NO_3)
    )  # fmt: skip
    entries, _ = enter_all(task)
    ground, count = Ground(size, size, reach=reach), 0
    for contour, entry in zip(every, entries, strict=True):
        count += len(turns(work, contour, entry, NO_2_0, rules, ground))
        holding_places(work, contour, entry, 25.0, rules)
    planned = time.process_time()
    box(0, 0, size, size).difference(pattern.pieces[0].shape)
    for contour in every[:-1]:
        shapely.maximum_inscribed_circle(contour.ring, tolerance=0.02)
    Voronoi(np.concatenate([n.at(np.arange(0.0, n.length, BARE_MM)) for n in work.lines]))
    return Times(rows * rows, planned - begun, time.process_time() - planned, count)


def main() -> None:
    """Print one line for each number of rows given."""
    for rows in map(int, sys.argv[1:] or ["8", "16", "32"]):
        t = measure(rows)
        print(
            f"{t.openings:5d} openings: planned {t.planned_s:6.2f} s,"
            f" bare calls {t.bare_s:6.2f} s, {t.planned_s / t.bare_s:.1f} times;"
            f" {t.turns} turns"
        )


if __name__ == "__main__":
    main()
