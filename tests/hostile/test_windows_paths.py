"""Paths as Windows writes them, as pure paths: nothing here needs that system.

What is asked of names: that a drawing named in project.toml stays inside its folder, and that
names made from a project's own are ones that every system takes.
"""

from __future__ import annotations

from pathlib import Path, PurePosixPath, PureWindowsPath

import pytest

from companion.cli.main import main
from companion.errors import EXIT_BAD_INPUT
from tests.hostile.told import DEMO

OUTSIDE = [
    "C:\\Windows\\win.ini", "..\\..\\secret.svg", "\\\\server\\share\\x.svg", "C:x.svg",
    "/etc/passwd", "../up.svg", "a/../../up.svg", "nul", "CON", "x.svg:stream",
]  # fmt: skip


@pytest.mark.parametrize("named", OUTSIDE)
def test_a_drawing_outside_its_folder_is_refused(
    named: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path / "home"))
    text = (DEMO / "project.toml").read_text(encoding="utf-8")
    lines = [
        f"pattern = '{named}'" if line.startswith("pattern") else line for line in text.split("\n")
    ]
    assert any(named in line for line in lines), "the demo names its drawing"
    (tmp_path / "project.toml").write_text("\n".join(lines), encoding="utf-8")
    assert main(["check", str(tmp_path)]) == EXIT_BAD_INPUT
    told = capsys.readouterr().err
    assert "kerfside:" in told and "Traceback" not in told


@pytest.mark.parametrize("path", OUTSIDE[:7])
def test_what_counts_as_outside_on_either_system(path: str) -> None:
    """The list above is what it says: each leaves its folder on one system at least."""
    windows, posix = PureWindowsPath(path), PurePosixPath(path)
    leaves = bool(windows.drive or windows.root or ".." in windows.parts)
    assert leaves or posix.is_absolute() or ".." in posix.parts
