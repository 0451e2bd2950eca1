"""Everything that costs time, in one table: ``python -m tests.benchmarks [SIZE ...]``.

By default 10, 100 and 1,000 openings (events for journal and review), and 10,000 where that makes
sense. Written as Markdown: processor milliseconds, the ratio to the bare library call of the same
run, and the power of the size with which each stage grows.
"""

from __future__ import annotations

import math
import os
import platform
import sys
import tempfile
from importlib.metadata import version
from pathlib import Path

from tests.benchmarks import stages
from tests.benchmarks.stages import Figure

SIZES = (10, 100, 1000)
LARGE = 10_000
LARGEST_PLAN = 2000
"""Openings beyond which only reading, journal and review are timed."""


def machine() -> str:
    """What it ran on."""
    cpu = "unknown processor"
    info = Path("/proc/cpuinfo")
    if info.exists():
        names = [r.split(":")[1].strip() for r in info.read_text().split("\n") if "model name" in r]
        cpu = names[0] if names else cpu
    load = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    libraries = ", ".join(f"{n} {version(n)}" for n in ("numpy", "scipy", "shapely", "textual"))
    return (
        f"{cpu}, {os.cpu_count()} cores{load}; {platform.system()}, Python "
        f"{platform.python_version()}; {libraries}"
    )


def measured(sizes: tuple[int, ...], folder: Path) -> list[Figure]:
    """Every stage at every size that makes sense."""
    found: list[Figure] = []
    os.environ["KERFSIDE_HOME"] = str(folder / "home")
    # what is imported at the first use belongs to no size
    stages.planning(stages.project(folder / "warm", 4), 4)
    stages.quiet("review")
    for size in sizes:
        print(f"measuring {size} …", file=sys.stderr, flush=True)
        project = stages.project(folder / f"panel{size}", size)
        if size > LARGEST_PLAN:
            found.append(stages.read_only(project, size))
        else:
            figures, plan = stages.planning(project, size)
            found += figures
            found.append(stages.sheet(project, plan, size, folder))
            found.append(stages.first_frame(project, size))
            found.append(stages.key_to_paint(plan, size))
        (folder / f"events{size}").mkdir()
        found.append(stages.event_commit(size, folder / f"events{size}"))
        found.append(stages.review(size, folder / f"review{size}"))
    return found


def exponent(figures: list[Figure]) -> float:
    """Power of the size, a straight line through the logarithms; NaN for a single size.

    >>> exponent([Figure("x", n, n**2.0, "") for n in (10, 100, 1000)])
    2.0
    """
    points = [(math.log(f.size), math.log(f.ours_s)) for f in figures if 0 < f.ours_s < math.inf]
    if len(points) < 2:
        return math.nan
    mean_x = sum(x for x, _ in points) / len(points)
    mean_y = sum(y for _, y in points) / len(points)
    above = sum((x - mean_x) * (y - mean_y) for x, y in points)
    return round(above / sum((x - mean_x) ** 2 for x, _ in points), 6)


def table(figures: list[Figure]) -> str:
    """All of it as Markdown."""
    sizes = sorted({f.size for f in figures})
    names = list(dict.fromkeys(f.stage for f in figures))
    head = "| stage | " + " | ".join(f"{s}, ms (ratio)" for s in sizes) + " | grows | bare call |"
    rows = [f"On {machine()}.", "", head, "|---" * (len(sizes) + 3) + "|"]
    for name in names:
        own = {f.size: f for f in figures if f.stage == name}
        cells = []
        for size in sizes:
            f = own.get(size)
            ratio = f"{f.ours_s / f.bare_s:.1f}" if f and f.bare_s > 0 else "-"
            told = f"{1000 * f.ours_s:.1f} ({ratio})" if f else ""
            cells.append("not within 30 s" if f and math.isinf(f.ours_s) else told)
        power = exponent(list(own.values()))
        grows = "-" if math.isnan(power) else f"n^{power:.2f}"
        bare = next(iter(own.values())).bare
        rows.append(f"| {name} | " + " | ".join(cells) + f" | {grows} | {bare} |")
    return "\n".join(rows)


def main() -> None:
    """Measure and print."""
    asked = tuple(int(a) for a in sys.argv[1:]) or (*SIZES, LARGE)
    with tempfile.TemporaryDirectory() as folder:
        print(table(measured(asked, Path(folder))))


if __name__ == "__main__":
    main()
