"""Strengths of boards in the shop's table against the handbooks."""

from __future__ import annotations

import pytest

from companion.shop.tables import fact, materials
from tests.published.registry import Compare, Source

SOURCE = Source(
    "USDA Forest Products Laboratory, Wood Handbook (FPL-GTR-190): Table 5-3 (solid wood, 12 % "
    "moisture, along the grain), Table 12-1 (panels), Table 5-1 (ratios across the grain); ANSI "
    "A208.2 Table 2 as reprinted in a buyers' guide (2014).",
    "C",
    "the table's own rounding",
)
ALONG = {
    "basswood": (10.1, 60, "C"), "yellow-poplar": (10.9, 70, "C"),
    "sugar-maple": (12.6, 109, "C"), "red-maple": (11.3, 92.4, "C"),
    "black-walnut": (11.6, 101, "C"), "black-cherry": (10.3, 85, "C"),
    "northern-red-oak": (12.5, 99, "M"), "red-oak": (12.5, 99, "M"),
    "white-oak": (12.27, 104.8, "C"), "yellow-birch": (13.9, 114, "C"),
    "eastern-white-pine": (8.5, 59, "M"), "ponderosa-pine": (8.9, 65, "C"),
    "sugar-pine": (8.2, 57, "C"), "western-white-pine": (10.1, 67, "C"),
    "western-redcedar": (7.7, 51.7, "C"), "eastern-redcedar": (6.1, 61, "C"),
    "northern-white-cedar": (5.5, 45, "C"),
}  # fmt: skip
"""Modulus, GPa; bending strength, MPa; trust."""
PANELS = {
    "mdf": (3590, 3590, 35.85, 35.85), "hardboard": (3100, 5520, 31.02, 56.54),
    "softwood-plywood": (6960, 8550, 33.72, 42.61),
}  # fmt: skip
"""Least and most modulus, then bending strength, MPa."""


@pytest.mark.parametrize("key", sorted(k for k, m in materials().items() if m.modulus_along_mpa))
def test_solid_wood_along_the_grain(row: Compare, key: str) -> None:
    """Wood Handbook, Table 5-3."""
    board = materials()[key]
    if key not in ALONG:
        pytest.fail(f"{key} is new: enter its figures here")
    modulus, bending, trust = ALONG[key]
    assert board.modulus_along_mpa is not None and board.bending_along_mpa is not None
    row(board.modulus_along_mpa / 1000, modulus, rel=0.01, what=f"{key}: modulus, GPa", trust=trust)
    row(board.bending_along_mpa, bending, rel=0.01, what=f"{key}: bending, MPa", trust=trust)


@pytest.mark.parametrize("key", sorted(PANELS))
def test_panels(row: Compare, key: str) -> None:
    """Wood Handbook, Table 12-1."""
    board = materials()[key]
    low, high, weak, strong = PANELS[key]
    row.at_least(board.modulus_mpa, low, what=f"{key}: modulus, MPa")
    row.at_most(board.modulus_mpa, high, what=f"{key}: modulus, MPa")
    row.at_least(board.bending_mpa, weak, what=f"{key}: bending, MPa")
    row.at_most(board.bending_mpa, strong, what=f"{key}: bending, MPa")


def test_thin_mdf(row: Compare) -> None:
    """ANSI A208.2 Table 2, grade 220; 1 N/mm2 is 145.0377 psi."""
    bending = materials()["thin-mdf"].bending_mpa
    row(bending, 28.9, rel=1e-9, what="thin MDF: bending, MPa")
    row(bending * 145.0377, 4192, abs=0.6, what="the same in psi", trust="C/D")


def test_basswood_across_the_grain(row: Compare) -> None:
    """Wood Handbook, Table 5-1: ET / EL = 0.027."""
    row(materials()["basswood"].modulus_mpa, 0.027 * 10100, rel=1e-6, trust="M",
        what="basswood: modulus across, MPa")  # fmt: skip


def test_allowances(row: Compare) -> None:
    """ILO, Introduction to Work Study, app. 3: 5 % personal, 4 % fatigue."""
    rest = fact("timing", "rhythm.rest_min").value
    minutes = float(str(rest))
    pause = float(str(fact("timing", "seconds.rest").value)) / 60
    row(pause / (minutes + pause), 0.09, abs=0.02, trust="M", what="share of rest in the plan",
        why="a whole number of minutes")  # fmt: skip
