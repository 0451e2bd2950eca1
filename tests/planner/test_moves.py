"""Short ways from hole to hole."""

from __future__ import annotations

from itertools import permutations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.planner.moves import distances_mm, path_length, short_path, short_round


def random_needs(rng: np.random.Generator, n: int, density: float) -> list[frozenset[int]]:
    rank = rng.permutation(n)
    return [
        frozenset(int(j) for j in range(n) if rank[j] < rank[i] and rng.random() < density)
        for i in range(n)
    ]


def keeps(way: tuple[int, ...], needs: list[frozenset[int]]) -> bool:
    return all(needs[i] <= set(way[:k]) for k, i in enumerate(way))


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1), n=st.integers(0, 6), density=st.sampled_from([0.0, 0.2, 0.6])
)
def test_up_to_a_few_places_it_is_the_shortest(seed: int, n: int, density: float) -> None:
    rng = np.random.default_rng(seed)
    cost = rng.random((n, n))  # not symmetric, no triangle inequality
    needs = random_needs(rng, n, density)
    way = short_path(cost, needs)
    assert sorted(way) == list(range(n))
    assert keeps(way, needs)
    best = min((path_length(p, cost) for p in permutations(range(n)) if keeps(p, needs)), default=0)
    assert path_length(way, cost) <= best + 1e-12


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), n=st.integers(13, 40), density=st.sampled_from([0.0, 0.05]))
def test_longer_ways_keep_the_rules_and_beat_the_nearest_next(
    seed: int, n: int, density: float
) -> None:
    rng = np.random.default_rng(seed)
    cost = distances_mm([(float(x), float(y)) for x, y in rng.random((n, 2)) * 100])
    needs = random_needs(rng, n, density)
    way = short_path(cost, needs)
    assert sorted(way) == list(range(n))
    assert keeps(way, needs)
    nearest: list[int] = []
    while len(nearest) < n:
        ready = [i for i in range(n) if i not in nearest and needs[i] <= set(nearest)]
        nearest.append(min(ready, key=lambda i: (cost[nearest[-1], i] if nearest else 0.0, i)))
    assert path_length(way, cost) <= path_length(nearest, cost) + 1e-9
    assert way == short_path(cost, needs)


def test_ends_are_kept() -> None:
    cost = distances_mm([(x, 0.0) for x in (0.0, 3.0, 1.0, 2.0)])
    assert short_path(cost, None, start=0, end=1) == (0, 2, 3, 1)
    assert short_path(cost, None, start=2)[0] == 2
    assert short_path(cost, None, end=2)[-1] == 2


def test_the_heuristic_reaches_the_exact_answer_on_small_fields() -> None:
    """How far the improved way is from the best one, over 12 fields of 9 places."""
    rng = np.random.default_rng(11)
    worse = []
    for _ in range(12):
        cost = distances_mm([(float(x), float(y)) for x, y in rng.random((9, 2))])
        exact = path_length(short_path(cost), cost)
        quick = path_length(short_path(cost, exact=0), cost)
        assert quick >= exact - 1e-12
        worse.append(quick / exact - 1)
    assert np.mean(worse) < 0.05
    assert max(worse) < 0.25


def test_small_rounds() -> None:
    assert short_round(np.zeros((0, 0))) == ()
    assert short_round(np.zeros((1, 1))) == (0,)
    assert short_round(distances_mm([(0, 0), (1, 0)]), start=1) == (1, 0)
