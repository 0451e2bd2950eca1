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

STEP_BUDGET = 6_000_000
"""Steps of improvement times places squared: bounds the time to about a second."""
MOST_STEPS = 2000
"""Steps of improvement at most."""
SHAKEN = 9
"""A shake lets two neighbouring runs, each shorter than this, change places."""
TRIED = 40
"""How many improvements are tried, best first, when precedence forbids some."""


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
    steps: int = MOST_STEPS,
) -> tuple[int, ...]:
    """A short way through all places.

    Args:
        cost: (n, n), from row to column; need not be symmetric.
        before: for each place the places that come earlier; None: none.
        start: index of the first place, if it is fixed.
        end: index of the last place, if it is fixed.
        exact: up to this many places the best way is found.
        steps: of improvement at most, beyond that.

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
    return _improved(_nearest(cost, closed), cost, closed, steps)


def short_round(
    cost: npt.NDArray[np.float64], start: int = 0, exact: int = EXACT, steps: int = MOST_STEPS
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
    wide[n, :n] = cost[start]  # never gone; keeps a symmetric field symmetric
    return short_path(wide, None, start, n, exact, steps)[:-1]


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
    way: list[int], cost: npt.NDArray[np.float64], needs: Sequence[int], steps: int
) -> tuple[int, ...]:
    """Shorten, shake and shorten again; a shaken way is kept only when it ends shorter."""
    symmetric = bool(np.allclose(cost, cost.T))
    steps = min(steps, STEP_BUDGET // len(way) ** 2)
    way, steps = _settled(way, cost, needs, symmetric, steps)
    length = path_length(way, cost)
    dice = np.random.default_rng(0)  # always the same: equal input, equal output
    while steps > 0 and len(way) >= 5:
        a = int(dice.integers(1, len(way) - 1))
        b, c = (a + 1 + int(v) for v in np.cumsum(dice.integers(1, SHAKEN, 2)) - 1)
        shaken = way[:a] + way[b:c] + way[a:b] + way[c:]
        steps -= 1
        if not _allowed(shaken, needs):
            continue
        other, steps = _settled(shaken, cost, needs, symmetric, steps)
        if path_length(other, cost) < length - LEAST_GAIN:
            way, length = other, path_length(other, cost)
    return tuple(way)


def _settled(
    way: list[int],
    cost: npt.NDArray[np.float64],
    needs: Sequence[int],
    symmetric: bool,
    steps: int,
) -> tuple[list[int], int]:
    """Move runs of up to three elsewhere and turn runs round while the path shrinks.

    Returns:
        The way, and how many steps are left.
    """
    while steps > 0:
        steps -= 1
        edges = _edges(way, cost)
        better = _turned_run(way, edges, needs) if symmetric else None
        if better is None:
            better = _moved_run(way, edges, needs)
        if better is None:
            break
        way = better
    return way, steps


def _edges(way: Sequence[int], cost: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Cost between any two positions; an imaginary place at either end costs nothing."""
    n = len(way)
    padded = np.zeros((n + 2, n + 2))
    padded[1:-1, 1:-1] = cost[np.ix_(way, way)]
    return padded


def _best_first(gain: npt.NDArray[np.float64]) -> npt.NDArray[np.intp]:
    """Flat places of the entries that gain, best first, at most TRIED of them."""
    flat = np.flatnonzero(gain > LEAST_GAIN)
    rank = np.argsort(-gain.ravel()[flat], kind="stable")
    return flat[rank[:TRIED]]


def _moved_run(
    way: list[int], e: npt.NDArray[np.float64], needs: Sequence[int]
) -> list[int] | None:
    """The best move of a run of up to three to another place; None when none helps."""
    n = len(way)
    along = np.diagonal(e, 1)  # from each position to the next
    found: list[tuple[float, int, int, int]] = []
    for run in range(1, min(3, n - 1) + 1):
        i = np.arange(1, n - run + 2)
        j = i + run - 1
        off = along[i - 1] + along[j] - e[i - 1, j + 1]
        k = np.arange(n + 1)
        gain = off[:, None] - (e[k[None], i[:, None]] + e[j[:, None], k[None] + 1] - along[k])
        gain[(k >= i[:, None] - 1) & (k <= j[:, None])] = 0.0
        for at in _best_first(gain):
            a, b = divmod(int(at), n + 1)
            found.append((-float(gain[a, b]), a + 1, run, b))
    for _, start, run, after in sorted(found):
        piece, rest = way[start - 1 : start - 1 + run], way[: start - 1] + way[start - 1 + run :]
        place = after if after < start else after - run
        moved = rest[:place] + piece + rest[place:]
        if _allowed(moved, needs):
            return moved
    return None


def _turned_run(
    way: list[int], e: npt.NDArray[np.float64], needs: Sequence[int]
) -> list[int] | None:
    """The best run to go through backwards; None when none helps."""
    n = len(way)
    along = np.diagonal(e, 1)
    i = np.arange(1, n + 1)
    gain = along[i - 1][:, None] + along[i][None] - e[np.ix_(i - 1, i)] - e[np.ix_(i, i + 1)]
    gain = np.triu(gain, 1)
    for at in _best_first(gain):
        first, last = divmod(int(at), n)
        turned = way[:first] + way[first : last + 1][::-1] + way[last + 1 :]
        if _allowed(turned, needs):
            return turned
    return None
