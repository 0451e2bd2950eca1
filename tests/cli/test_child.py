"""Child processes run our modules and the library's, not what lies about where the user stands."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

import companion
from companion.devices.child import environment, module_command
from companion.devices.voice.client import helper_command


def test_files_beside_a_pattern_are_no_modules(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("queue", "random", "json", "companion"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit(77)")
    monkeypatch.chdir(tmp_path)
    for command in (
        module_command("companion.cli.ahead") + [str(tmp_path / "no.sqlite3")],
        helper_command(tmp_path, null=True),
    ):
        done = subprocess.run(command, stdin=subprocess.DEVNULL, env=environment(), timeout=60)
        assert done.returncode == 0
        # that the files would have been taken: or else this test shows nothing
        wrong = [word for word in command if word != "-P"]
        assert subprocess.run(wrong, stdin=subprocess.DEVNULL, timeout=60).returncode == 77


def test_a_child_finds_the_package_once(monkeypatch: pytest.MonkeyPatch) -> None:
    root = str(Path(companion.__file__).resolve().parent.parent)
    for before, after in (("", [root]), (root, [root]), (f"/x{os.pathsep}{root}", [root, "/x"])):
        monkeypatch.setenv("PYTHONPATH", before)
        assert environment()["PYTHONPATH"].split(os.pathsep) == after


def test_nothing_installed_stands_before_the_library(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Beside an installed package lie others, and some are named like the library's."""
    (tmp_path / "companion").mkdir()
    monkeypatch.setattr(companion, "__file__", str(tmp_path / "companion" / "__init__.py"))
    (tmp_path / "queue.py").write_text("raise SystemExit(77)")
    monkeypatch.setenv("PYTHONPATH", "/x")
    command = module_command("queue")
    # told where the package is, as when it is not installed, a child would take that one
    assert subprocess.run(command, env=environment(), timeout=60).returncode == 77
    monkeypatch.setattr("site.getsitepackages", lambda: [str(tmp_path)])
    assert environment()["PYTHONPATH"] == "/x"
    assert subprocess.run(command, env=environment(), timeout=60).returncode == 0
