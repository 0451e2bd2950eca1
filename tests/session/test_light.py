"""What the saw's start must not load: geometry, the planner's parts, the screen library."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = ("scipy", "shapely", "numpy", "svgpathtools", "textual", "rich", "reportlab", "num2words",
         "companion.pattern.read", "companion.planner.make")  # fmt: skip
LIGHT = ("companion.session.walk", "companion.journal.store", "companion.review.build",
         "companion.cli.plain", "companion.cli.saw", "companion.cli.review")  # fmt: skip


def loaded_by(module: str) -> set[str]:
    """Modules a fresh interpreter holds after one import."""
    told = subprocess.run(
        [sys.executable, "-c", f"import {module}, sys; print('\\n'.join(sys.modules))"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return set(told.stdout.split())


@pytest.mark.parametrize("module", LIGHT)
def test_start_loads_nothing_heavy(module: str) -> None:
    assert loaded_by(module).isdisjoint(HEAVY)


def test_the_look_can_fail() -> None:
    assert "shapely" in loaded_by("shapely")
