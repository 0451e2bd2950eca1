"""Drawings from outside against an independent renderer (resvg).

The ordinary run takes a share; ``-m slow`` takes all at full size.

What is compared, and how counts are, stands in measure.py. A drawing agrees in its counts
when they are equal, or are when both sides are counted in the same way on the same pixels
(where these are too coarse, on finer ones); 98 % must. Beside that stands a rule about
places, which no count can hide from: no pixel whose centre lies farther than half a pixel
from our outlines has another tone, and mends changed nothing but specks and slivers. A gap,
a web or a piece that we lack or have too many shows as pixels far from any outline of ours,
however little area it has; that the rule fails there is tested below with planted errors.

Each drawing with other counts stands in explained.toml with its measured reason, written
by ``python -m tests.tools.outside``; wide.toml is the same for drawings not vendored.
"""

from __future__ import annotations

import tomllib
from dataclasses import replace
from fnmatch import fnmatch
from functools import lru_cache
from pathlib import Path

import pytest
from shapely.geometry import Polygon

from tests.pattern.measure import LARGEST_SIDE, Compared, compare, drawings, finest_alike

OUTSIDE = Path(__file__).parents[1] / "data" / "outside"
SUITE = OUTSIDE / "w3c"
DRAWINGS = drawings()
TESTS = sorted(SUITE.glob("*.svg"))
MOST_OFF = 0.01
MOST_DIFFERENCE = 0.005
LEAST_EQUAL = 0.98
SUITE_MM = 450.0
"""Large, so that lines a pixel wide are not thinner than the flattening allows."""
OTHER_SIDE = 2717
"""A second size: a difference that is only the luck of pixels does not show at both."""


@lru_cache(maxsize=2)
def different(table: str = "explained.toml") -> dict[str, dict[str, object]]:
    """Drawings whose counts differ, with both counts and the reason."""
    found: dict[str, dict[str, object]] = tomllib.loads((OUTSIDE / table).read_text("utf-8"))[
        "different"
    ]
    return found


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
    return compared.light()


@pytest.mark.parametrize("path", DRAWINGS[::10], ids=name_of)
def test_some_drawings_agree(path: Path) -> None:
    compared = check(path, 1800)
    assert compared.counted_alike or compared.same_to_pixels


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


HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="150mm" height="40mm" viewBox="0 0 150 40">'


def planted(true: str, read: str) -> Compared:
    """A drawing for the renderer, and what the reader is made to take it for."""
    bodies = (f"{HEAD}{body}</svg>".encode() for body in (true, read))
    data, wrong = bodies
    return compare(data, "planted.svg", planted=wrong)


PLATE = "M0 0H150V40H0z"
ERRORS = {
    "an opening is lost": (f"{PLATE}M20 10v.5h.5v-.5z", PLATE),
    "an opening is made up": (PLATE, f"{PLATE}M20 10v.5h.5v-.5z"),
    "a slit is lost": (f"{PLATE}M20 10h60v.12h-60z", PLATE),
    "a gap is bridged": ("M0 0H74.9V40H0zM75.1 0H150V40H75.1z", PLATE),
    "a bridge is cut": (PLATE, "M0 0H74.9V40H0zM75.1 0H150V40H75.1z"),
    "an opening has moved": (f"{PLATE}M20 10v5h5v-5z", f"{PLATE}M20.2 10v5h5v-5z"),
    "a piece is lost": ("M0 0H150V10H0zM20 20h.5v.5h-.5z", "M0 0H150V10H0z"),
}


@pytest.mark.parametrize("error", ERRORS)
def test_an_error_that_pixels_can_tell_is_told(error: str) -> None:
    """Errors just above a pixel (0.083 mm): the rule must fail, whatever the counts."""
    true, read = (f'<path fill-rule="evenodd" d="{d}"/>' for d in ERRORS[error])
    compared = planted(true, read)
    assert not compared.same_to_pixels
    # what has only moved is as many as before
    assert compared.counted_alike == (error == "an opening has moved")
    same = planted(true, true)
    assert same.same_to_pixels and same.counted_alike


def test_what_no_pixel_tells_is_the_same() -> None:
    """Two squares that meet in a point: two pieces, and one or two to pixels, as they fall."""
    body = '<path d="M0 0H75V20H0zM75 20h75v20h-75z"/>'
    compared = planted(body, body)
    assert compared.ours == (2, 0)
    assert compared.same_to_pixels
    # a gap a third of a pixel wide falls between the centres, or on one row of them
    body = '<path d="M0 0H75V40H0zM75.028 0H150V40H75.028z"/>'
    assert planted(body, body).same_to_pixels


def test_a_mend_beyond_its_findings_is_told() -> None:
    """An opening of 1 mm2 that vanishes in mending is no speck."""
    body = f'<path fill-rule="evenodd" d="{PLATE}M20 10v1h1v-1zM40 10v.2h.2v-.2z"/>'
    compared = planted(body, body)
    assert compared.same_to_pixels
    assert [f.code for f in compared.pattern.findings] == ["specks-dropped"]
    piece = compared.pattern.pieces[0]
    filled = replace(piece, shape=Polygon(piece.shape.exterior), openings=())
    wrong = replace(compared, pattern=replace(compared.pattern, pieces=(filled,)))
    assert not wrong.same_to_pixels


def test_every_difference_has_a_reason() -> None:
    for file in ("explained.toml", "wide.toml"):
        for name, row in different(file).items():
            assert row["ours"] != row["theirs"], name
            assert row["why"], name
            assert row["settled"] or row["cause"], name
        table = tomllib.loads((OUTSIDE / file).read_text("utf-8"))["all"]
        assert table["counted_alike"] >= LEAST_EQUAL * table["compared"]
        assert table["equal_to_pixels"] >= LEAST_EQUAL * table["compared"]


@pytest.mark.slow
def test_all_drawings_agree() -> None:
    """At least 200; area within 1 % on all; 98 % counted alike; places; and the list is true."""
    assert len(DRAWINGS) >= 200
    found = {name_of(path): check(path, LARGEST_SIDE) for path in DRAWINGS}
    beyond = {n for n, c in found.items() if not (c.counts_equal or c.same_to_pixels)}
    assert len(beyond) <= (1.0 - LEAST_EQUAL) * len(DRAWINGS)
    listed = different()
    assert beyond == {name for name, row in listed.items() if not row["settled"]}
    paths = {name_of(path): path for path in DRAWINGS}
    unequal = {
        name: (list(c.ours), list(c.theirs), alike_at(paths[name]))
        for name, c in found.items()
        if not c.counts_equal
    }
    assert unequal == {n: (row["ours"], row["theirs"], row["alike"]) for n, row in listed.items()}
    unlike = sum(alike == 0.0 for _, _, alike in unequal.values())
    assert unlike <= (1.0 - LEAST_EQUAL) * len(DRAWINGS)


def alike_at(path: Path) -> float:
    """Pixels to the mm on which the counts of a drawing are alike."""
    data = path.read_bytes()
    return finest_alike(data, path.name, compare(data, path.name))


@pytest.mark.slow
def test_whole_suite_agrees() -> None:
    """Every vendored test of the suite, but for the departures explained."""
    beyond = {p.stem for p in TESTS if suite_difference(p) > MOST_DIFFERENCE}
    assert beyond <= set(departures())
