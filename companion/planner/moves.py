"""Short moves from hole to hole where the order is otherwise free.

The rule kept here: a path through all places, each once, never one before another
that must come first, as short as can be found. Up to EXACT places the answer is the
best there is (dynamic programming over the sets that may already be done); beyond
that it starts from the nearest next place and is improved by moving short runs
elsewhere, and by turning runs round, until nothing helps.

Used for cuts that free nothing and for drilling, where no order is gentler than another.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from companion.findings import Point

EXACT = 12
"""Up to this many places every order is weighed."""
LEAST_GAIN = 1e-9
"""A change must shorten the path by more than this to count; keeps the search finite."""


def distances_mm(points: Sequence[Point]) -> npt.NDArray[np.float64]:
    """Straight distances between all places, (n, n)."""
    xy = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    return np.asarray(np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1)))


def path_length(way: Sequence[int], cost: npt.NDArray[np.float64]) -> float:
    """Length of a path, not closed."""
    return float(sum(cost[a, b] for a, b in zip(way[:-1], way[1:], strict=True)))


def short_path(
    cost: npt.NDArray[np.float64],
    before: Sequence[frozenset[int]] | None = None,
    start: int | None = None,
    end: int | None = None,
    exact: int = EXACT,
) -> tuple[int, ...]:
    """A short way through all places.

    Args:
        cost: (n, n), from row to column; need not be symmetric.
        before: for each place the places that come earlier; None: none.
        start: index of the first place, if it is fixed.
        end: index of the last place, if it is fixed.
        exact: up to this many places the best way is found.

    Returns:
        All indices. Equal input gives equal output; ties go to the lower index.
    """
    n = len(cost)
    needs = [set(before[i]) if before else set() for i in range(n)]
    for i in range(n):
        if start is not None and i != start:
            needs[i].add(start)
        if end is not None and i != end:
            needs[end].add(i)
    closed = _transitive(needs)
    if n <= exact:
        return _best(cost, closed)
    return _improved(_nearest(cost, closed), cost, closed)


def short_round(
    cost: npt.NDArray[np.float64], start: int = 0, exact: int = EXACT
) -> tuple[int, ...]:
    """A short closed tour; begins at ``start``, the way home is counted.

    >>> short_round(distances_mm([(0, 0), (5, 5), (0, 5), (5, 0)]))
    (0, 2, 1, 3)
    """
    n = len(cost)
    if n < 3:
        return tuple([start, *(i for i in range(n) if i != start)][:n])
    wide = np.zeros((n + 1, n + 1))
    wide[:n, :n] = cost
    wide[:n, n] = cost[:, start]
    return short_path(wide, None, start, n, exact)[:-1]


def _transitive(needs: Sequence[set[int]]) -> list[int]:
    """All earlier places of each, as bits."""
    closed = [sum(1 << j for j in need) for need in needs]
    changed = True
    while changed:
        changed = False
        for i, mask in enumerate(closed):
            wider = mask
            for j in range(len(closed)):
                if mask >> j & 1:
                    wider |= closed[j]
            if wider != mask:
                closed[i], changed = wider, True
    return closed


def _best(cost: npt.NDArray[np.float64], needs: Sequence[int]) -> tuple[int, ...]:
    """Shortest way, by the sets that may be done and the place reached last."""
    n = len(cost)
    if n == 0:
        return ()
    layer: dict[tuple[int, int], float] = {(1 << i, i): 0.0 for i in range(n) if not needs[i]}
    came: dict[tuple[int, int], int] = {}
    for _ in range(n - 1):
        following: dict[tuple[int, int], float] = {}
        for (done, last), length in layer.items():
            for i in range(n):
                if done >> i & 1 or needs[i] & ~done:
                    continue
                key, total = (done | 1 << i, i), length + float(cost[last, i])
                if total < following.get(key, np.inf):
                    following[key], came[key] = total, last
        layer = following
    key = min(layer, key=lambda k: (layer[k], k[1]))
    way = [key[1]]
    while key in came:
        last = came[key]
        key = (key[0] & ~(1 << key[1]), last)
        way.append(last)
    return tuple(reversed(way))


def _nearest(cost: npt.NDArray[np.float64], needs: Sequence[int]) -> list[int]:
    """Always on to the nearest place that may come next."""
    way: list[int] = []
    done, left = 0, list(range(len(cost)))
    while left:
        ready = [i for i in left if not needs[i] & ~done]
        step = min(ready, key=lambda i: (float(cost[way[-1], i]) if way else 0.0, i))
        way.append(step)
        left.remove(step)
        done |= 1 << step
    return way


def _allowed(way: Sequence[int], needs: Sequence[int]) -> bool:
    done = 0
    for i in way:
        if needs[i] & ~done:
            return False
        done |= 1 << i
    return True


def _improved(
    way: list[int], cost: npt.NDArray[np.float64], needs: Sequence[int]
) -> tuple[int, ...]:
    """Move runs of up to three elsewhere and turn runs round while the path shrinks."""
    symmetric = bool(np.allclose(cost, cost.T))
    while True:
        better = _moved_run(way, cost, needs)
        if better is None and symmetric:
            better = _turned_run(way, cost, needs)
        if better is None:
            return tuple(way)
        way = better


def _edges(way: Sequence[int], cost: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Cost between any two positions; an imaginary place at either end costs nothing."""
    n = len(way)
    padded = np.zeros((n + 2, n + 2))
    padded[1:-1, 1:-1] = cost[np.ix_(way, way)]
    return padded


def _moved_run(
    way: list[int], cost: npt.NDArray[np.float64], needs: Sequence[int]
) -> list[int] | None:
    """The best move of a run of up to three to another place; None when none helps."""
    n, e = len(way), _edges(way, cost)
    found: list[tuple[float, int, int, int]] = []
    for run in range(1, min(3, n - 1) + 1):
        for i in range(1, n - run + 2):
            j = i + run - 1
            off = e[i - 1, i] + e[j, j + 1] - e[i - 1, j + 1]
            spots = np.concatenate([np.arange(0, i - 1), np.arange(j + 1, n + 1)])
            gain = off - (e[spots, i] + e[j, spots + 1] - e[spots, spots + 1])
            helps = gain > LEAST_GAIN
            found += [
                (-float(g), i, run, int(k)) for g, k in zip(gain[helps], spots[helps], strict=True)
            ]
    for _, i, run, k in sorted(found):
        piece, rest = way[i - 1 : i - 1 + run], way[: i - 1] + way[i - 1 + run :]
        at = k if k < i else k - run
        moved = rest[:at] + piece + rest[at:]
        if _allowed(moved, needs):
            return moved
    return None


def _turned_run(
    way: list[int], cost: npt.NDArray[np.float64], needs: Sequence[int]
) -> list[int] | None:
    """The best run to go through backwards; None when none helps."""
    n, e = len(way), _edges(way, cost)
    found: list[tuple[float, int, int]] = []
    for i in range(1, n):
        j = np.arange(i + 1, n + 1)
        gain = e[i - 1, i] + e[j, j + 1] - e[i - 1, j] - e[i, j + 1]
        found += [(-float(gain[m]), i, int(j[m])) for m in np.flatnonzero(gain > LEAST_GAIN)]
    for _, i, last in sorted(found):
        turned = way[: i - 1] + way[i - 1 : last][::-1] + way[last:]
        if _allowed(turned, needs):
            return turned
    return None
