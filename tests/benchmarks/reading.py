"""Reading speed beside another SVG geometry library (svgelements), same tolerance.

``python -m tests.benchmarks.reading FOLDER [COUNT]`` takes the largest drawings of a
folder (of Debian's openclipart-svg, for the figures in the notes; by default those
vendored with the tests). Three figures for each file, processor seconds: this reader up
to flattened points, this reader whole (regions united, numbered, findings), and
svgelements parsing and flattening with the same bound on the chords.
"""

from __future__ import annotations

import importlib
import math
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from companion.errors import PatternError
from companion.pattern.budget import points_budget
from companion.pattern.flatten import flatten
from companion.pattern.limits import limits
from companion.pattern.matrix import multiply
from companion.pattern.options import ReadOptions
from companion.pattern.outline import joined
from companion.pattern.reader import read_pattern
from companion.pattern.tree import parse_document
from companion.pattern.walk import Walker

DEFAULT = Path(__file__).parents[1] / "data" / "outside"
TOLERANCE_MM = 0.02
TOLERANCE_PX = TOLERANCE_MM * 96 / 25.4
TO_MM = (25.4 / 96, 0.0, 0.0, 25.4 / 96, 0.0, 0.0)


def our_points(path: Path) -> int:
    """Parse, walk and flatten every shape."""
    table = limits()
    walked = Walker(parse_document(path.read_bytes(), path.name, table), path.name, table).run()
    shapes = [p.outline.moved(multiply(TO_MM, p.matrix)) for p in walked.painted]
    return len(flatten(joined(shapes), TOLERANCE_MM, points_budget(table.points, path.name)).points)


def our_pattern(path: Path) -> int:
    """The whole reading."""
    return len(read_pattern(path, ReadOptions()).pieces)


def chords(points: list[complex], factor: float) -> int:
    """Wang's bound, as this reader has it."""
    second = [a - 2 * b + c for a, b, c in zip(points, points[1:], points[2:], strict=False)]
    return max(1, math.ceil(math.sqrt(factor * max(map(abs, second)) / TOLERANCE_PX)))


def their_points(path: Path) -> int:
    """Parse with svgelements and flatten its segments through its own numpy points."""
    other: Any = importlib.import_module("svgelements")
    drawing = other.SVG.parse(str(path), ppi=96.0, reify=True)
    count = 0
    for element in drawing.elements():
        if not isinstance(element, other.Shape):
            continue
        for segment in other.Path(element).segments():
            curves = segment.as_cubic_curves() if isinstance(segment, other.Arc) else [segment]
            for curve in curves:
                if isinstance(curve, other.CubicBezier):
                    four = (curve.start, curve.control1, curve.control2, curve.end)
                    n = chords([complex(*p) for p in four], 0.75)
                elif isinstance(curve, other.QuadraticBezier):
                    three = (curve.start, curve.control, curve.end)
                    n = chords([complex(*p) for p in three], 0.25)
                else:
                    count += 1
                    continue
                curve.npoint(np.linspace(0.0, 1.0, n + 1))
                count += n
    return count


def seconds(work: Callable[[Path], int], path: Path) -> tuple[float, str]:
    """Processor seconds, and what came of it."""
    start = time.process_time()
    try:
        result = f"{work(path):,}"
    except PatternError as error:
        result = error.title
    except Exception as error:  # another library may fail as it likes
        result = type(error).__name__
    return time.process_time() - start, result


def main() -> None:
    """Read the command's words and print the table."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else DEFAULT
    most = int(sys.argv[2]) if len(sys.argv) > 2 else 20
    files = sorted(
        (p for p in folder.rglob("*.svg") if p.is_file() and not p.is_symlink()),
        key=lambda p: (-p.stat().st_size, p.name),
    )[:most]
    works = (our_points, our_pattern, their_points)
    for work in works:
        seconds(work, files[-1])
    totals = [0.0, 0.0, 0.0]
    print(f"{'kB':>6} {'points':>8} {'whole':>8} {'other':>8}  file")
    for path in files:
        spent = [seconds(work, path) for work in works]
        totals = [t + s for t, (s, _) in zip(totals, spent, strict=True)]
        figures = " ".join(f"{s:8.3f}" for s, _ in spent)
        results = " | ".join(r for _, r in spent)
        print(f"{path.stat().st_size // 1000:6} {figures}  {path.name} ({results})")
    print(f"{'sum':>6} " + " ".join(f"{t:8.3f}" for t in totals))


if __name__ == "__main__":
    main()
