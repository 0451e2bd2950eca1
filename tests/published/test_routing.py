"""Short moves against published instances with known best lengths.

Sources: TSPLIB95 (G. Reinelt, Heidelberg): instances burma14, ulysses16, eil51,
berlin52, and the sequential-ordering instances ESC07, ESC11, ESC12, br17.10, br17.12
with the best lengths of its lists (ESC11: by exact enumeration, not in the list). Only
numbers are entered here. In a sequential-ordering instance an entry (j, i) = -1 says
that i comes before j; the first and last node are fixed. Two metrics of TSPLIB are
used, EUC_2D and GEO, as its FAQ defines them: a tour that is best in rounded lengths
need not be so in true ones.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest

from companion.planner.drilling import EXACT, STEPS
from companion.planner.moves import path_length, short_path, short_round
from tests.published.registry import Compare, Source

SOURCE = Source(
    "TSPLIB95 (Reinelt, Heidelberg): best-solutions lists, FAQ, SOP instances; exact enumeration.",
    "C/D",
    "lengths are whole numbers",
)

Floats = npt.NDArray[np.float64]

BURMA14 = """16.47 96.10 16.47 94.44 20.09 92.54 22.39 93.37 25.23 97.24 22.00 96.05 20.47 97.02
17.20 96.29 16.30 97.38 14.05 98.12 16.53 97.38 21.52 95.59 19.41 97.13 20.09 94.55"""
ULYSSES16 = """38.24 20.42 39.57 26.15 40.56 25.32 36.26 23.12 33.48 10.54 37.56 12.19 38.42 13.11
37.52 20.44 41.23 9.10 41.17 13.05 36.08 -5.21 38.47 15.13 38.15 15.35 37.51 15.17 35.49 14.32
39.36 19.56"""
EIL51 = """37 52 49 49 52 64 20 26 40 30 21 47 17 63 31 62 52 33 51 21 42 41 31 32 5 25 12 42 36 16
52 41 27 23 17 33 13 13 57 58 62 42 42 57 16 57 8 52 7 38 27 68 30 48 43 67 58 48 58 27 37 69
38 46 46 10 61 33 62 63 63 69 32 22 45 35 59 15 5 6 10 17 21 10 5 64 30 15 39 10 32 39 25 32
25 55 48 28 56 37 30 40"""
BERLIN52 = """565 575 25 185 345 750 945 685 845 655 880 660 25 230 525 1000 580 1175 650 1130
1605 620 1220 580 1465 200 1530 5 845 680 725 370 145 665 415 635 510 875 560 365 300 465 520 585
480 415 835 625 975 580 1215 245 1320 315 1250 400 660 180 410 250 420 555 575 665 1150 1160
700 580 685 595 685 610 770 610 795 645 720 635 760 650 475 960 95 260 875 920 700 500 555 815
830 485 1170 65 830 610 605 625 595 360 1340 725 1740 245"""

ESC07 = """0 0 0 0 0 0 0 0 1000000 -1 0 100 200 75 0 300 100 0 -1 400 0 500 325 400 600 0 0
-1 700 800 0 550 700 900 800 0 -1 -1 250 225 0 275 525 250 0 -1 -1 100 200 -1 0 -1 -1 0
-1 -1 1100 1200 1075 1000 0 1100 0 -1 -1 0 500 325 400 600 0 0 -1 -1 -1 -1 -1 -1 -1 -1 0"""
ESC11 = """0 0 0 0 0 0 0 0 0 0 0 0 1000000 -1 0 387 440 682 657 584 688 708 362 357 927 0
-1 -1 0 10 935 439 127 769 498 836 341 956 0 -1 -1 -1 0 596 865 70 513 512 373 824 220 0
-1 319 277 439 0 428 212 412 771 620 651 605 0 -1 -1 -1 60 988 0 326 279 687 295 738 270 0
-1 312 158 704 881 696 0 277 413 396 268 156 0 -1 512 939 784 271 432 771 0 279 436 31 444 0
-1 875 927 364 629 419 788 923 0 858 761 139 0 -1 365 43 766 924 845 437 395 991 0 980 359 0
-1 978 839 918 822 885 276 96 537 211 0 608 0 -1 864 168 211 455 543 904 412 535 954 971 0 0
-1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 0"""
ESC12 = """0 0 0 0 0 0 0 0 0 0 0 0 0 1000000
-1 0 364 354 287 229 289 68 137 239 135 373 162 0 -1 364 0 276 352 143 88 395 222 457 332 202 217 0
-1 354 276 0 527 135 201 412 391 583 481 279 207 0
-1 287 352 527 0 377 407 285 138 310 200 525 325 0
-1 229 143 135 377 0 68 287 241 458 356 144 82 0
-1 -1 -1 -1 -1 68 0 347 277 512 387 132 142 0 -1 68 395 412 285 287 347 0 167 179 120 431 220 0
-1 137 222 391 138 241 277 167 0 229 104 395 187 0
-1 239 457 583 310 458 512 179 229 0 121 630 391 0
-1 135 332 481 200 356 387 120 104 121 0 505 289 0
-1 373 202 279 525 144 132 431 395 630 505 0 226 0
-1 -1 -1 -1 -1 82 -1 -1 -1 391 289 226 0 0 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 0"""
BR17_10 = """0 3 5 48 48 8 8 5 5 3 3 0 3 5 8 8 5 1000000 -1 0 3 48 -1 -1 8 5 5 0 0 3 0 3 8 -1 5 3
-1 3 0 72 -1 48 48 24 24 3 3 5 3 0 48 -1 24 5 -1 48 74 0 0 6 6 12 -1 48 48 48 48 74 6 6 12 48
-1 48 74 0 0 6 6 12 12 48 48 48 48 74 6 6 12 48 -1 8 50 6 6 0 0 8 8 8 8 8 8 50 0 0 8 8
-1 8 50 6 6 0 0 8 8 8 8 8 8 50 0 0 8 8 -1 5 26 12 12 -1 8 0 0 5 5 5 -1 26 8 8 0 5
-1 5 26 12 12 8 8 0 0 5 5 5 5 26 8 8 0 5 -1 0 3 48 -1 8 8 5 5 0 0 3 0 3 8 8 5 3
-1 0 3 48 48 8 8 5 5 0 0 3 0 3 8 8 5 3 -1 3 5 48 48 8 8 5 5 3 3 0 3 5 8 8 5 0
-1 0 3 48 48 -1 8 5 5 0 0 3 0 3 8 8 5 3 -1 3 0 72 -1 48 48 24 24 3 3 5 3 0 48 48 24 5
-1 8 50 6 6 -1 0 -1 8 8 8 8 -1 50 0 0 8 8 -1 8 50 6 -1 0 0 8 8 8 8 8 8 50 0 0 8 8
-1 5 26 12 12 8 8 0 0 5 5 5 5 26 8 8 0 5 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 0"""
BR17_12_ALSO = ((1, 8), (2, 8), (2, 9), (4, 8), (9, 8), (13, 8), (15, 8))
"""br17.12 is br17.10 with these entries -1 as well."""


def euclid(text: str) -> Floats:
    xy = np.array(text.split(), dtype=float).reshape(-1, 2)
    return np.asarray(np.floor(np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1)) + 0.5))


def geo(text: str) -> Floats:
    """TSPLIB's GEO distance: degrees and minutes, pi = 3.141592, earth 6378.388 km."""
    values = np.array(text.split(), dtype=float).reshape(-1, 2)
    degrees = np.trunc(values)
    rad = 3.141592 * (degrees + 5.0 * (values - degrees) / 3.0) / 180.0
    lat, lon = rad[:, 0], rad[:, 1]
    q1 = np.cos(lon[:, None] - lon[None])
    q2, q3 = np.cos(lat[:, None] - lat[None]), np.cos(lat[:, None] + lat[None])
    angle = np.arccos(np.clip(0.5 * ((1 + q1) * q2 - (1 - q1) * q3), -1, 1))
    cost = np.floor(6378.388 * angle + 1)
    np.fill_diagonal(cost, 0)
    return np.asarray(cost)


def sequence(text: str) -> tuple[Floats, list[frozenset[int]]]:
    values = [int(v) for v in text.split()]
    n = math.isqrt(len(values))
    cost = np.array(values, dtype=float).reshape(n, n)
    needs = [frozenset(int(i) for i in np.flatnonzero(cost[j] == -1)) for j in range(n)]
    return cost, needs


def closed(way: tuple[int, ...], cost: Floats) -> float:
    return path_length(way, cost) + float(cost[way[-1], way[0]])


@pytest.mark.parametrize(
    ("cost", "published"),
    [
        (geo(BURMA14), 4562),
        (geo(ULYSSES16), 9665),
        (euclid(EIL51), 1308),
        (euclid(BERLIN52), 22205),
    ],
    ids=["burma14", "ulysses16", "eil51", "berlin52"],
)
def test_numbers_were_entered_rightly(row: Compare, cost: Floats, published: int) -> None:
    """Length of the tour 1, 2, ..., n, as summed by others."""
    row(closed(tuple(range(len(cost))), cost), published)


def test_burma14_exactly(row: Compare) -> None:
    """TSPLIB95, best-solutions list."""
    cost = geo(BURMA14)
    row(closed(short_round(cost, exact=15), cost), 3323)


def test_ulysses16_exactly(row: Compare) -> None:
    """TSPLIB95, tour-file comment."""
    cost = geo(ULYSSES16)
    row(closed(short_round(cost, exact=17), cost), 6859)


@pytest.mark.parametrize(
    ("cost", "best", "within"),
    [
        (geo(BURMA14), 3323, 0.02),
        (geo(ULYSSES16), 6859, 0.02),
        (euclid(EIL51), 426, 0.05),
        (euclid(BERLIN52), 7542, 0.05),
    ],
    ids=["burma14", "ulysses16", "eil51", "berlin52"],
)
def test_rounds_beyond_the_exact_size_come_close(
    row: Compare, cost: Floats, best: int, within: float
) -> None:
    """TSPLIB95, best-solutions list."""
    way = short_round(cost)
    assert sorted(way) == list(range(len(cost)))
    assert best <= closed(way, cost)
    row.at_most(closed(way, cost), best * (1 + within), why="2 and 5 % above the best known")


@pytest.mark.parametrize(
    ("cost", "best"),
    [
        (geo(BURMA14), 3323),
        (geo(ULYSSES16), 6859),
        (euclid(EIL51), 426),
        (euclid(BERLIN52), 7542),
    ],
    ids=["burma14", "ulysses16", "eil51", "berlin52"],
)
def test_drilling_rounds_come_close_in_milliseconds(row: Compare, cost: Floats, best: int) -> None:
    """TSPLIB95, best-solutions list; with the steps that drilling allows itself."""
    for start in (0, len(cost) // 2):
        way = short_round(cost, start, exact=EXACT, steps=STEPS)
        assert sorted(way) == list(range(len(cost))) and way[0] == start
        row.at_most(closed(way, cost), best * 1.1, why="10 % above the best known")


SEQUENCES = [
    ("ESC07", ESC07, (), 2125, 9),
    ("ESC11", ESC11, (), 2075, 13),
    ("ESC12", ESC12, (), 1675, 14),
    ("br17.10", BR17_10, (), 55, 18),
    ("br17.12", BR17_10, BR17_12_ALSO, 55, 18),
]


@pytest.mark.parametrize(("name", "text", "also", "best", "size"), SEQUENCES)
def test_sequential_ordering(
    row: Compare, name: str, text: str, also: tuple[tuple[int, int], ...], best: int, size: int
) -> None:
    """TSPLIB95, SOP best-solutions list (ESC11: exact enumeration)."""
    cost, _ = sequence(text)
    for entry in also:
        cost[entry] = -1
    needs = [frozenset(int(i) for i in np.flatnonzero(cost[j] == -1)) for j in range(len(cost))]
    assert len(cost) == size, name
    exact = short_path(cost, needs, exact=18)
    row(path_length(exact, cost), best, what=f"{name}, exact")
    quick = short_path(cost, needs, exact=0)
    assert all(needs[i] <= set(quick[:k]) for k, i in enumerate(quick)), name
    assert path_length(quick, cost) >= best, name
