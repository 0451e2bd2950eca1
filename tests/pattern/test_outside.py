"""Drawings from outside against an independent renderer (resvg).

The ordinary run takes a share; ``-m slow`` takes all at full size.
"""

from __future__ import annotations

import tomllib
from fnmatch import fnmatch
from functools import lru_cache
from pathlib import Path

import pytest

from tests.pattern.measure import LARGEST_SIDE, Compared, compare

OUTSIDE = Path(__file__).parents[1] / "data" / "outside"
SUITE = OUTSIDE / "w3c"
DRAWINGS = sorted(p for p in OUTSIDE.rglob("*.svg") if p.parent != SUITE)
TESTS = sorted(SUITE.glob("*.svg"))
MOST_OFF = 0.01
MOST_DIFFERENCE = 0.005
LEAST_EQUAL = 0.98
SUITE_MM = 450.0
"""Large, so that lines a pixel wide are not thinner than the flattening allows."""
OTHER_SIDE = 2717
"""A second size: a difference that is only the luck of pixels does not show at both."""


@lru_cache(maxsize=1)
def explained() -> set[str]:
    table = tomllib.loads((OUTSIDE / "explained.toml").read_text("utf-8"))
    return {f"{folder}/{name}" for folder, names in table.items() for name in names}


@lru_cache(maxsize=1)
def departures() -> dict[str, str]:
    table = tomllib.loads((SUITE / "left_out.toml").read_text("utf-8"))
    found: dict[str, str] = table["departures"]
    return found


def name_of(path: Path) -> str:
    return f"{path.parent.name}/{path.stem}"


def check(path: Path, side: int) -> Compared:
    compared = compare(path.read_bytes(), path.name, side_px=side)
    assert compared.area_off <= MOST_OFF, name_of(path)
    return compared


@pytest.mark.parametrize("path", DRAWINGS[::10], ids=name_of)
def test_some_drawings_agree(path: Path) -> None:
    compared = check(path, 1800)
    if name_of(path) in explained():
        return
    ours = (compared.parts_ours, compared.holes_ours)
    if ours != (compared.parts_theirs, compared.holes_theirs):
        compared = check(path, LARGEST_SIDE)
    assert compared.counts_equal


def suite_difference(path: Path) -> float:
    """Symmetric difference over the ink, the lesser of two sizes."""
    data = path.read_bytes()
    first = compare(data, path.name, SUITE_MM).difference_share
    if first <= MOST_DIFFERENCE:
        return first
    return min(first, compare(data, path.name, SUITE_MM, OTHER_SIDE).difference_share)


@pytest.mark.parametrize("path", TESTS[::8], ids=name_of)
def test_some_of_the_w3c_suite_agrees(path: Path) -> None:
    """W3C SVG 1.1 suite, second edition; what is left out stands in left_out.toml."""
    if path.stem not in departures():
        assert suite_difference(path) <= MOST_DIFFERENCE


def test_every_test_of_the_suite_is_compared_or_left_out_with_a_reason() -> None:
    """No file is both; no departure names a file that is not there."""
    table = tomllib.loads((SUITE / "left_out.toml").read_text("utf-8"))
    vendored = {path.stem for path in TESTS}
    assert set(table["departures"]) <= vendored
    patterns = [p.strip() for names in table["left_out"] for p in names.split(",")]
    both = {name for name in vendored for p in patterns if fnmatch(name, p)}
    assert both == set()
    assert all(reason.strip() for part in table.values() for reason in part.values())


def test_the_comparison_can_fail() -> None:
    """A drawing whose opening the renderer does not see must be told apart."""
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="90mm" viewBox="0 0 90 90">'
    # The renderer takes the unit in upper case for an error and draws no stroke.
    body = '<style>#a{stroke-width:20PX}</style><circle id="a" cx="45" cy="45" r="30" '
    compared = compare(f'{head}{body}stroke="black" fill="none"/></svg>'.encode(), "fails.svg")
    assert compared.difference_share > 10 * MOST_DIFFERENCE


@pytest.mark.slow
def test_all_drawings_agree() -> None:
    """At least 200; area within 1 % on all, counts equal on 98 %, the rest explained."""
    assert len(DRAWINGS) >= 200
    unequal = {name_of(path) for path in DRAWINGS if not check(path, LARGEST_SIDE).counts_equal}
    assert len(unequal) <= (1.0 - LEAST_EQUAL) * len(DRAWINGS)
    assert unequal <= explained()


@pytest.mark.slow
def test_whole_suite_agrees() -> None:
    """Every vendored test of the suite, but for the departures explained."""
    beyond = {p.stem for p in TESTS if suite_difference(p) > MOST_DIFFERENCE}
    assert beyond <= set(departures())
