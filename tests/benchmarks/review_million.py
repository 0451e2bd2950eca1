"""How long a review takes over ten years: ``python -m tests.benchmarks.review_million [EVENTS]``.

Makes a journal of so many events (a million unless told), in the form in which the saw
writes them: 60 projects, a plan of 40 steps each, a session and a run now and then. Then
starts ``kerfside review`` in fresh interpreters: of one project and over everything when nothing
is worked out yet, and both again. Wanted: 0.5 s and 3 s.
On a machine with other work the processor's seconds tell more than the wall's.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from companion.journal.model import Entry
from companion.journal.store import Journal
from companion.planner.plan import Plan, Project
from tests.session.plans import plan

PROJECTS = 60
PER_STEP = 4
"""Events of a step: progress once a minute, then done."""


def fill(journal: Journal, events: int, projects: int = PROJECTS) -> None:
    """Write a journal of about so many events."""
    made = plan(cuts=8)
    for p in range(projects):
        journal.keep_plan(f"plan{p}", named(made, p).to_json())
    batch: list[Entry] = []
    written = run = 0
    while written < events:
        own = list(one_run(made, run, projects))
        run += 1
        written += len(own)
        batch += own
        if len(batch) > 20_000 or written >= events:
            journal.append(batch)
            batch = []


def named(of: Plan, project: int) -> Plan:
    """The plan under the name of a project."""
    return replace(of, project=Project(f"Project {project}", f"{project:064d}"))


def one_run(of: Plan, run: int, projects: int) -> Iterator[Entry]:
    """One session with one whole run."""
    project = run % projects
    wall, mono = 1.4e9 + run * 40_000.0, 100.0
    session, name = f"s{run}", f"r{run}"
    yield Entry(wall, mono, session, "session-start", {
        "version": "1", "utc_offset_min": 0, "rehearsed": False, "skill": "beginner",
        "project": f"Project {project}", "mode": "checklist", "at": 1,
    })  # fmt: skip
    yield Entry(wall, mono, session, "run-start", {
        "run": 1, "runs": 1, "batch": f"b{run}", "work": f"w{project}", "plan": f"plan{project}",
        "project": f"Project {project}", "material": "mdf", "thickness_mm": 6.0, "stack": 1,
        "blade": "3", "rehearsed": False, "mode": "step", "at": 1,
    }, name)  # fmt: skip
    for step in of.steps:
        for part in range(1, PER_STEP + 1):
            mono += 15.0
            done = part == PER_STEP
            yield Entry(wall + mono, mono, session, "step-done" if done else "progress", {
                "mode": "step", "at": step.number + done, "active_s": 15.0 * part,
            }, name, step.number, step.cut, step.stage)  # fmt: skip
    yield Entry(wall + mono, mono, session, "run-done", {
        "run_s": mono, "mode": "summary", "at": len(of.steps) + 1,
    }, name)  # fmt: skip
    yield Entry(wall + mono, mono, session, "leave", {"mode": "left", "at": len(of.steps) + 1})


def timed(home: Path, *arguments: str) -> tuple[float, float]:
    """Seconds of one command in a fresh interpreter, by the wall and of the processor."""
    begun, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, "-m", "companion", *arguments], check=True, stdout=subprocess.DEVNULL,
        env={**os.environ, "KERFSIDE_HOME": str(home)},
    )  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    own = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    return time.perf_counter() - begun, own


def main() -> None:
    """Measure and print."""
    events = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        with Journal(home / "journal.sqlite3") as journal:
            fill(journal, events)
            print(f"{journal.count()} events")
        for what, arguments in (
            ("bare start", ["--version"]),
            ("one project, nothing worked out yet", ["review", "Project 7"]),
            ("all, nothing of the others worked out yet", ["review"]),
            ("all, again", ["review"]), ("all, once more", ["review"]),
            ("one project, again", ["review", "Project 7"]),
            ("page over all", ["review", "--html", str(home / "all.html")]),
            ("page of one", ["review", "Project 7", "--html", str(home / "one.html")]),
        ):  # fmt: skip
            wall_s, own_s = timed(home, *arguments)
            print(f"{wall_s:7.2f} s ({own_s:6.2f} s of the processor)  {what}", flush=True)


if __name__ == "__main__":
    main()
