"""What each part of the way costs at one size, beside the bare library call it needs.

Processor seconds of this process, which a busy machine disturbs little. A drawing of n openings
is a sheet of uneven blobs, 24 points each, written as SVG and taken through everything.
"""

from __future__ import annotations

import asyncio
import contextlib
import io
import json
import math
import os
import resource
import sqlite3
import subprocess
import sys
import time
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import scipy.sparse.linalg
import shapely
from scipy.spatial import Voronoi
from threadpoolctl import threadpool_limits

from companion.cli.main import main as kerfside
from companion.journal.store import Journal
from companion.pattern.options import ReadOptions
from companion.pattern.reader import read_pattern
from companion.planner.make import plan_project
from companion.planner.plan import Plan
from companion.planner.project import load_project
from companion.session import model as m
from companion.shop.settings import default_settings
from companion.words import ENGLISH
from tests.benchmarks import commit, years

LARGEST_MM, PITCH_MM, POINTS = 300.0, 12.0, 24
"""No board wider than what a usual saw swings: a stop finding would end the measurement."""
STAGES = {
    "reading the pattern": "reading", "measuring the lines": "thickness",
    "placing holes and starts": "holes", "finding the order": "order",
}  # fmt: skip
"""What the planner says it does, and the name in the table."""


@dataclass(frozen=True)
class Figure:
    """One stage at one size."""

    stage: str
    size: int
    ours_s: float
    bare: str
    """What the bare call is; empty: there is none."""
    bare_s: float = math.nan


def used(work: Callable[[], object], least_s: float = 0.02) -> float:
    """Processor seconds of one call, the least of as many as make up ``least_s``, at most 20."""
    best, total = math.inf, 0.0
    for _ in range(20):
        begun = time.process_time()
        work()
        took = time.process_time() - begun
        best, total = min(best, took), total + took
        if total >= least_s:
            break
    return best


def pitch_mm(openings: int) -> float:
    """Distance from opening to opening."""
    return min(PITCH_MM, LARGEST_MM / math.ceil(math.sqrt(openings)))


def rings(openings: int, seed: int = 1) -> list[np.ndarray]:
    """Uneven blobs in rows, mm."""
    chance, pitch = np.random.default_rng(seed), pitch_mm(openings)
    across = math.ceil(math.sqrt(openings))
    angle = np.linspace(0, 2 * np.pi, POINTS, endpoint=False)
    found = []
    for n in range(openings):
        radius = 0.38 * pitch * (1 + 0.12 * np.cos(3 * angle + chance.uniform(0, 6)))
        at = (np.array(divmod(n, across))[::-1] + 0.5) * pitch
        found.append(at + radius[:, None] * np.column_stack((np.cos(angle), np.sin(angle))))
    return found


def project(folder: Path, openings: int) -> Path:
    """A project of so many openings."""
    side = math.ceil(math.sqrt(openings)) * pitch_mm(openings)
    paths = [np.array([(0, 0), (side, 0), (side, side), (0, side)]), *rings(openings)]
    data = " ".join("M" + " L".join(f"{x:.4f},{y:.4f}" for x, y in p) + "z" for p in paths)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "pattern.svg").write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{side}mm" height="{side}mm" '
        f'viewBox="0 0 {side} {side}"><path fill-rule="evenodd" d="{data}"/></svg>'
    )
    (folder / "project.toml").write_text(
        f'[project]\nname = "Panel of {openings}"\npattern = "pattern.svg"\nwidth_mm = {side}\n'
        '[board]\nmaterial = "mdf"\nthickness_mm = 6.0\n'
    )
    return folder


def planning(folder: Path, openings: int) -> tuple[list[Figure], Plan]:
    """Read and plan once, told apart by what the planner says it does."""
    stamps: list[tuple[float, str]] = []
    spec = load_project(folder)
    begun = time.process_time()
    plan = plan_project(
        spec, default_settings(), ENGLISH,
        lambda _share, doing: stamps.append((time.process_time(), doing)),
    )  # fmt: skip
    ended = time.process_time()
    stamps.append((ended, ""))
    took: dict[str, float] = {}
    for (at, doing), (then, _) in zip(stamps, stamps[1:], strict=False):
        took[doing] = took.get(doing, 0.0) + then - at
    bare = dict(bares(folder, openings))
    figures = [
        Figure(name, openings, took.get(doing, math.nan), *bare[name])
        for doing, name in STAGES.items()
    ]
    figures.append(
        Figure("whole plan", openings, ended - begun, "sum of those",
               sum(b for _, b in bare.values()))
    )  # fmt: skip
    return figures, plan


def bares(folder: Path, openings: int) -> Iterator[tuple[str, tuple[str, float]]]:
    """The library calls that each stage cannot do without, on the same outlines."""
    path = folder / "pattern.svg"
    shapes = [shapely.Polygon(r) for r in rings(openings)]

    def parse() -> None:
        text = next(iter(ET.parse(path).getroot())).get("d", "")
        parts = [p.strip("Mz ").split(" L") for p in text.split("z") if p.strip()]
        made = [shapely.Polygon([tuple(map(float, q.split(","))) for q in p]) for p in parts]
        shapely.difference(made[0], shapely.union_all(made[1:]))

    dense = shapely.get_coordinates(shapely.segmentize([s.exterior for s in shapes], 0.25))
    cells = 64
    grid = scipy.sparse.diags_array(
        [4.001, -1.0, -1.0, -1.0, -1.0], offsets=[0, 1, -1, cells, -cells],
        shape=(cells * cells, cells * cells), format="csc",
    )  # fmt: skip
    yield "reading", ("ElementTree, shapely difference", used(parse))
    yield "thickness", ("scipy Voronoi at 0.25 mm", used(lambda: Voronoi(dense)))
    yield "holes", ("shapely inscribed circles", used(
        lambda: [shapely.maximum_inscribed_circle(s, 0.1) for s in shapes]))  # fmt: skip
    with threadpool_limits(limits=1):
        once = used(lambda: scipy.sparse.linalg.splu(grid @ grid))
    yield "order", ("sparse LU of a 64 x 64 plate, once", once)


def sheet(folder: Path, plan: Plan, openings: int, out: Path) -> Figure:
    """The PDF, beside the same outlines drawn by the PDF library alone."""
    from reportlab.pdfgen.canvas import Canvas

    def bare() -> None:
        canvas = Canvas(str(out / "bare.pdf"), invariant=1)
        for cut in plan.cuts:
            line = canvas.beginPath()
            line.moveTo(*cut.line_mm[0])
            for at in cut.line_mm[1:]:
                line.lineTo(*at)
            canvas.drawPath(line)
        canvas.save()

    def ours() -> None:
        quiet("sheet", str(folder), "-o", str(out / "sheet.pdf"))

    ours()
    return Figure("sheet", openings, used(ours), "reportlab, lines alone", used(bare))


def quiet(*arguments: str) -> None:
    """One verb in this process, its output dropped."""
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        code = kerfside(arguments)
    if code not in (0, 1):
        raise RuntimeError(f"kerfside {' '.join(arguments)}: {code}")


def first_frame(folder: Path, openings: int) -> Figure:
    """Start of the command to the painted screen, beside a start that imports its library."""
    from tests.benchmarks.first_frame import first_frame_s

    # a fresh interpreter keeps the plan under the code as it lies on the disk now
    subprocess.run(
        [sys.executable, "-m", "companion", "plan", str(folder)], stdout=subprocess.DEVNULL
    )
    try:
        first_frame_s(str(folder), b"READY")
        ours = min(first_frame_s(str(folder), b"READY")[1] for _ in range(3))
    except TimeoutError:
        ours = math.inf  # told as such in the table

    def bare() -> float:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, "-c", "import textual.app"], check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    return Figure(
        "first frame", openings, ours, "import textual.app", min(bare() for _ in range(3))
    )


def key_to_paint(plan: Plan, openings: int) -> Figure:
    """One Done until its screen is painted, beside a bare screen of the library with new text."""
    from textual.app import App
    from textual.widgets import Static

    from tests.tui.rig import Rig

    async def ours() -> float:
        app = Rig(plan)
        async with app.run_test(size=(120, 40)) as pilot:
            await pilot.pause()
            app.to_first_step()
            await pilot.pause()
            took = []
            for _ in range(12):
                app.test_clock.now += 20.0
                begun = time.process_time()
                app.send(m.Done())
                await pilot.pause()
                took.append(time.process_time() - begun)
            return sorted(took)[len(took) // 2]

    async def bare() -> float:
        app: App[None] = App()
        async with app.run_test(size=(120, 40)) as pilot:
            text = Static("begin")
            await app.mount(text)
            await pilot.pause()
            took = []
            for n in range(12):
                begun = time.process_time()
                text.update(f"{n}\n" + "x" * 110)
                await pilot.pause()
                took.append(time.process_time() - begun)
            return sorted(took)[len(took) // 2]

    return Figure(
        "key to paint", openings, asyncio.run(ours()), "textual, one Static", asyncio.run(bare())
    )


def event_commit(events: int, folder: Path) -> Figure:
    """One event until it is on disk, with so many there already; by the clock, disk and all."""
    with Journal(folder / "commit.sqlite3") as journal:
        journal.append([commit.entry(n) for n in range(events)])
        base = sqlite3.connect(folder / "bare.sqlite3", isolation_level=None)
        base.execute("PRAGMA journal_mode = WAL")
        base.execute("PRAGMA synchronous = FULL")
        base.execute("CREATE TABLE IF NOT EXISTS event (number INTEGER PRIMARY KEY, data TEXT)")
        took: tuple[list[float], list[float]] = ([], [])
        for n in range(60):
            one = commit.entry(n)
            text = json.dumps([one.wall_s, one.session, one.kind, dict(one.data), one.run])
            begun = time.perf_counter()
            journal.append([one])
            between = time.perf_counter()
            base.execute("INSERT INTO event (data) VALUES (?)", (text,))
            took[1].append(time.perf_counter() - between)
            took[0].append(between - begun)
        base.close()
    ours, bare = (sorted(t)[len(t) // 2] for t in took)
    return Figure("event commit", events, ours, "SQLite, one bare insert", bare)


def review(events: int, home: Path) -> Figure:
    """The review of so many events, worked out anew, beside reading their rows."""
    home.mkdir(parents=True, exist_ok=True)
    path = home / "journal.sqlite3"
    with Journal(path) as journal:
        years.fill(journal, events, max(1, min(60, events // 200)), years.LIGHT)
    before = os.environ.get("KERFSIDE_HOME")
    os.environ["KERFSIDE_HOME"] = str(home)
    try:
        begun = time.process_time()
        quiet("review")
        ours = time.process_time() - begun
    finally:
        if before is None:
            del os.environ["KERFSIDE_HOME"]
        else:
            os.environ["KERFSIDE_HOME"] = before
    base = sqlite3.connect(path)
    bare = used(lambda: [json.loads(d) for (d,) in base.execute("SELECT data FROM event")])
    base.close()
    return Figure("review", events, ours, "SQLite rows, json.loads", bare)


def read_only(folder: Path, openings: int) -> Figure:
    """Reading alone, for sizes that nobody cuts."""
    name, bare_s = dict(bares(folder, openings))["reading"]
    ours = used(lambda: read_pattern(folder / "pattern.svg", ReadOptions()))
    return Figure("reading", openings, ours, name, bare_s)
