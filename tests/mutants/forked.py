"""Tests run in a process forked from one that has the libraries loaded, on a budget of CPU time."""

from __future__ import annotations

import contextlib
import importlib
import json
import os
import resource
import signal
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

LIBRARIES = (
    "numpy", "scipy.sparse.linalg", "scipy.spatial", "scipy.optimize", "shapely", "shapely.ops",
    "hypothesis", "hypothesis.strategies", "hypothesis.stateful", "hypothesis.extra.numpy",
    "babel.messages.pofile", "PIL.Image", "tinycss2", "svgpathtools", "sqlite3", "num2words",
)  # fmt: skip
"""Loaded once, before any test: ours must not be among them, since it is what changes."""

QUIET = "mutants"
"""The profile of hypothesis."""

HOME = Path(__file__).parent.parent.parent


def load_libraries() -> None:
    """Load what every guard needs."""
    for name in LIBRARIES:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)


def _quiet_hypothesis() -> None:
    """The same examples each time; a failure is enough, its smallest form is not wanted."""
    from hypothesis import HealthCheck, Phase, settings

    settings.register_profile(
        QUIET, derandomize=True, deadline=None, database=None,
        phases=[Phase.explicit, Phase.generate], suppress_health_check=list(HealthCheck),
    )  # fmt: skip


class Reach:
    """Notes which lines of one file each test runs, and how long it takes."""

    def __init__(self, file: Path) -> None:
        import coverage

        self.file = str(file)
        self.cov = coverage.Coverage(data_file=None, include=[self.file], config_file=False)
        self.seconds: dict[str, float] = {}
        self.failed: list[str] = []

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Any:  # noqa: ANN401
        self.cov.switch_context(item.nodeid)
        began = time.process_time()
        result = yield
        self.seconds[item.nodeid] = time.process_time() - began
        self.cov.switch_context("")
        return result

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed.append(report.nodeid)

    def written(self) -> str:
        """What was noted, as JSON: seconds by test, and the tests by line."""
        by_line = self.cov.get_data().contexts_by_lineno(self.file)
        lines = {str(k): [c for c in v if c] for k, v in by_line.items()}
        return json.dumps({"seconds": self.seconds, "lines": lines, "failed": self.failed})


class InOrder:
    """Runs the chosen tests in the order given."""

    def __init__(self, wanted: Sequence[str]) -> None:
        self.place = {name: i for i, name in enumerate(wanted)}

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = sorted(
            (i for i in items if i.nodeid in self.place), key=lambda i: self.place[i.nodeid]
        )


def forked(
    files: Sequence[str], plugin: Reach | InOrder, cpu_s: float, out: Path | None = None
) -> str:
    """Run tests in a child.

    Args:
        files: what pytest is given.
        plugin: notes or chooses.
        cpu_s: CPU seconds after which the child is killed.
        out: where a :class:`Reach` leaves its notes.

    Returns:
        ``passed``, ``failed``, ``broken`` (could not even be collected), ``none`` (no test)
        or ``over`` (out of time).
    """
    child = os.fork()
    if child == 0:
        code = 70
        try:
            os.setsid()
            with open(os.devnull, "r+b") as nothing:
                for handle in (0, 1, 2):
                    os.dup2(nothing.fileno(), handle)
            limit = int(time.process_time() + cpu_s) + 1
            resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 5))
            _quiet_hypothesis()
            if isinstance(plugin, Reach):
                plugin.cov.start()
            args = ["-q", "-p", "no:cacheprovider", "-p", "no:xdist"]
            args += ["--hypothesis-profile", QUIET]  # after the one of tests/conftest.py
            args += ["-o", "addopts=--doctest-modules", "-m", "not slow", *files]
            if isinstance(plugin, InOrder):
                args.append("-x")
            code = int(pytest.main(args, plugins=[plugin]))
            if isinstance(plugin, Reach) and out is not None:
                plugin.cov.stop()
                out.write_text(plugin.written(), encoding="utf-8")
        finally:
            os._exit(code)
    ended = _waited(child, cpu_s * 20 + 60)
    return {0: "passed", 1: "failed", 5: "none", None: "over"}.get(ended, "broken")


def _waited(child: int, wall_s: float) -> int | None:
    """Exit code of the child; None where it ran out of time."""
    until = time.monotonic() + wall_s
    while True:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.killpg(child, signal.SIGKILL)
            if os.WIFSIGNALED(status):
                by_clock = os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL)
                return None if by_clock else -1
            return os.WEXITSTATUS(status)
        if time.monotonic() > until:
            os.killpg(child, signal.SIGKILL)
        time.sleep(0.02)


def use(root: Path) -> None:
    """Take the project from a folder that may be changed."""
    os.chdir(root)
    # the folder this runs from holds the same packages
    sys.path[:] = [str(root), *(p for p in sys.path if Path(p or ".").resolve() != HOME)]
    for name in [n for n in sys.modules if n.split(".")[0] in ("companion", "tests")]:
        del sys.modules[name]
    sys.dont_write_bytecode = True
    os.environ |= {"PYTHONDONTWRITEBYTECODE": "1", "OPENBLAS_NUM_THREADS": "1"}
    os.environ["PYTHONPATH"] = str(root)
