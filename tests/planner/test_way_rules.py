"""Short ways: what the search promises at its end, and never breaks on the way."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from companion.planner.moves import (
    _allowed,
    _nearest,
    _settled,
    distances_mm,
    path_length,
    short_path,
)

Floats = NDArray[np.float64]


def field(seed: int, n: int) -> Floats:
    rng = np.random.default_rng(seed)
    return distances_mm([(float(x), float(y)) for x, y in rng.random((n, 2)) * 100])


@pytest.mark.parametrize("seed", range(6))
def test_a_settled_way_gets_no_shorter_by_turning_any_run_round(seed: int) -> None:
    """Every run of every length, by brute force: the definition of a 2-opt way."""
    n = 16
    cost = field(seed, n)
    start = [int(i) for i in np.random.default_rng(seed).permutation(n)]
    way, left = _settled(start, cost, [0] * n, True, 500)
    assert left > 0 and sorted(way) == list(range(n))
    length = path_length(way, cost)
    for a in range(n):
        for b in range(a + 1, n):
            turned = way[:a] + way[a : b + 1][::-1] + way[b + 1 :]
            assert path_length(turned, cost) >= length - 1e-9


@pytest.mark.parametrize("seed", range(6))
def test_a_settled_way_gets_no_shorter_by_moving_any_short_run(seed: int) -> None:
    """Runs of one to three places, to every other place, turned round or not."""
    n = 14
    cost = field(seed + 50, n)
    start = [int(i) for i in np.random.default_rng(seed).permutation(n)]
    way, left = _settled(start, cost, [0] * n, True, 500)
    assert left > 0
    length = path_length(way, cost)
    for run in (1, 2, 3):
        for a in range(n - run + 1):
            piece, rest = way[a : a + run], way[:a] + way[a + run :]
            for k in range(len(rest) + 1):
                moved = rest[:k] + piece + rest[k:]
                assert path_length(moved, cost) >= length - 1e-9


def test_the_first_way_waits_for_what_comes_before_place_nought_too() -> None:
    """All wait for place 0, and place 0 for place 1, which is the far one."""
    n = 14
    cost = field(3, n)
    before = [frozenset({1}), frozenset[int](), *([frozenset({0})] * (n - 2))]
    needs = [sum(1 << j for j in b) for b in before]
    assert _nearest(cost, needs)[:2] == [1, 0] and _allowed(_nearest(cost, needs), needs)
    way = short_path(cost, before)
    assert way[:2] == (1, 0) and sorted(way) == list(range(n))
