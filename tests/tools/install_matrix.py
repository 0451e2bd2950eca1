"""Builds the wheel and tries it in clean environments that know nothing of the repository.

``python -m tests.tools.install_matrix [INTERPRETER ...] [--folder DIR]``: for each interpreter
(by default every python3.11 and newer on the path), once with the newest dependencies and once
with the lowest that pyproject allows, every verb is run on a copied demo. Prints a table. Needs
``uv`` (``pip install uv``) for the lowest versions; needs the package registry.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
DEMO = "quay_number"
SHOWN = ("textual", "shapely", "svgpathtools", "numpy", "scipy", "reportlab", "num2words")
FINE = (0, 1)
"""1 says that a finding forbids cutting: a result, not a fault."""


@dataclass(frozen=True)
class Outcome:
    """One environment."""

    python: str
    resolution: str
    versions: str
    verbs: tuple[str, ...]
    """Verbs that ran."""
    trouble: str
    """What went wrong; empty: nothing."""

    def line(self) -> str:
        """The row in Markdown."""
        told = self.trouble or f"all {len(self.verbs)} runs"
        return f"| {self.python} | {self.resolution} | {told} | {self.versions} |"


def interpreters() -> list[str]:
    """Every Python from 3.11 on that is on the path."""
    named = (f"python3.{minor}" for minor in range(11, 20))
    return [found for name in named if (found := shutil.which(name))]


def build_wheel(to: Path) -> Path:
    """The wheel of the project as it stands."""
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "-w", str(to), str(ROOT)],
        check=True,
    )  # fmt: skip
    return next(to.glob("kerfside-*.whl"))


def runs(project: Path, out: Path) -> Iterator[tuple[str, list[str], str]]:
    """Each verb with its arguments and what it is fed."""
    yield "check", ["check", str(project)], ""
    yield "plan", ["plan", str(project), "--json"], ""
    yield "sheet", ["sheet", str(project), "-o", str(out / "sheet.pdf")], ""
    yield "new", ["new", str(project / "pattern.svg"), str(out / "fresh"), "--no-questions"], ""
    yield "setup", ["setup", "--skill", "terse"], ""
    yield "saw", ["saw", str(project), "--plain", "--rehearse", "--anyway"], "done\n" * 400
    yield "review", ["review", DEMO, "--rehearsed"], ""
    yield "practice", ["practice"], ""
    yield "help", ["help", "saw"], ""


def tried(python: str, lowest: bool, wheel: Path, folder: Path) -> Outcome:
    """Make one environment and run everything in it."""
    name = subprocess.run(
        [python, "-c", "import platform; print(platform.python_version())"],
        capture_output=True, text=True, check=True,
    ).stdout.strip()  # fmt: skip
    word = "lowest" if lowest else "newest"
    home = folder / f"{name}-{word}"
    shutil.rmtree(home, ignore_errors=True)
    made = subprocess.run([python, "-m", "venv", str(home / "venv")], capture_output=True)
    if made.returncode:
        return Outcome(name, word, "", (), "no environment: the interpreter has no venv")
    inside = home / "venv" / "bin" / "python"
    if lowest:
        # named once more, or the wheel alone would be direct and all of its own the newest
        named = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
        install = ["uv", "pip", "install", "--python", str(inside), "--resolution",
                   "lowest-direct", str(wheel), *named["project"]["dependencies"]]  # fmt: skip
    else:
        install = [str(inside), "-m", "pip", "install", "--quiet", str(wheel)]
    done = subprocess.run(install, capture_output=True, text=True)
    if done.returncode:
        last = " ".join((done.stderr.strip() or "?").split())
        return Outcome(name, word, "", (), f"not installable: {last[-300:]}")
    return _run_all(name, word, home)


def _run_all(name: str, word: str, home: Path) -> Outcome:
    project = home / DEMO
    shutil.copytree(ROOT / "demo_projects" / DEMO, project)
    environment = {
        k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "VIRTUAL_ENV")
    } | {"KERFSIDE_HOME": str(home / "kept")}
    inside = home / "venv" / "bin"
    asked = "import importlib.metadata as m\n" + "\n".join(
        f"print({p!r}, m.version({p!r}))" for p in SHOWN
    )
    told = subprocess.run([inside / "python", "-c", asked], capture_output=True, text=True)
    versions = ", ".join(told.stdout.split("\n")[:-1])
    went: list[str] = []
    for verb, arguments, feed in runs(project, home):
        done = subprocess.run(
            [inside / "kerfside", *arguments], input=feed, capture_output=True, text=True,
            cwd=home, env=environment,
        )  # fmt: skip
        if done.returncode not in FINE or "Traceback" in done.stderr:
            last = (done.stderr.strip() or f"code {done.returncode}").splitlines()[-1]
            return Outcome(name, word, versions, tuple(went), f"{verb}: {last[:150]}")
        went.append(verb)
    return Outcome(name, word, versions, tuple(went), "")


def main() -> int:
    """Print the table; 1 when something went wrong."""
    parser = argparse.ArgumentParser(prog="python -m tests.tools.install_matrix")
    parser.add_argument("interpreters", nargs="*")
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--only", choices=("newest", "lowest"))
    args = parser.parse_args()
    folder = args.folder or Path(tempfile.mkdtemp())
    folder.mkdir(parents=True, exist_ok=True)
    wheel = build_wheel(folder)
    print("| Python | dependencies | result | versions |\n|---|---|---|---|", flush=True)
    failed = False
    for python in args.interpreters or interpreters():
        for word in ("newest", "lowest"):
            if args.only in (None, word):
                outcome = tried(python, word == "lowest", wheel, folder)
                failed = failed or bool(outcome.trouble)
                print(outcome.line(), flush=True)
    return int(failed)


if __name__ == "__main__":
    raise SystemExit(main())
