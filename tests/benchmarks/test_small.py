"""The one command measures every stage, and its arithmetic is right."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import pytest

from tests.benchmarks.__main__ import exponent, measured, table
from tests.benchmarks.stages import Figure

STAGES = (
    "reading", "thickness", "holes", "order", "whole plan", "sheet", "first frame",
    "key to paint", "event commit", "review",
)  # fmt: skip


@pytest.mark.skipif(sys.platform == "win32", reason="the first frame needs a pseudo-terminal")
def test_every_stage_has_a_figure(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path / "home"))
    figures = measured((10,), tmp_path)
    assert [f.stage for f in figures] == list(STAGES)
    assert all(f.ours_s > 0 and f.bare_s > 0 for f in figures)
    told = table(figures)
    assert all(f"| {name} | " in told for name in STAGES) and "cores" in told


def test_growth_is_the_slope_of_the_logarithms() -> None:
    for power in (0.0, 1.0, 1.5):
        figures = [Figure("x", n, 3e-3 * n**power, "y", 1e-3) for n in (10, 100, 1000)]
        assert exponent(figures) == pytest.approx(power)
    assert math.isnan(exponent(figures[:1]))
    assert "n^1.50" in table(figures) and "(3.0)" not in table(figures[1:])
