"""A network of axis nodes: runs between junctions, and the twigs that are cut off.

Rule: an end branch stays if somewhere along it the way to the tip is at least
``SLENDER`` times the thickness there. A right-angled corner reaches 0.71, one of
60 degrees 1.0, a wedge of 47 degrees 1.25; a finger on a wide body is judged
where it leaves the body and not by the body's size.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from companion.planner.outline import Floats, Ints

SLENDER = 1.25


@dataclass(frozen=True)
class Branch:
    """A run of axis nodes."""

    nodes: Ints
    """From one end to the other, both included; first = last in a ring."""

    @property
    def closed(self) -> bool:
        """Whether it comes back to its first node."""
        return bool(self.nodes[0] == self.nodes[-1])


def _neighbours(links: Ints, count: int) -> list[list[int]]:
    """Of each node, in the order of the links."""
    here, there = links.ravel(), links[:, ::-1].ravel()
    order = np.argsort(here, kind="stable")
    other = there[order].tolist()
    stop = np.cumsum(np.bincount(here, minlength=count)).tolist()
    return [other[a:b] for a, b in zip([0, *stop], stop, strict=False)]


def pruned(xy: Floats, thickness: Floats, links: Ints) -> Ints:
    """Cut off the twigs until none is left.

    Args:
        xy: nodes, shape (n, 2), mm.
        thickness: at each node, mm.
        links: pairs of nodes, shape (m, 2).

    Returns:
        The links that stay.
    """
    near = _neighbours(links, len(xy))
    x, y, thick = xy[:, 0].tolist(), xy[:, 1].tolist(), thickness.tolist()
    kept_tips: set[int] = set()
    while True:
        doomed = []
        for tip in [n for n, by in enumerate(near) if len(by) == 1 and n not in kept_tips]:
            run = _twig(tip, near, x, y, thick)
            if run is None:
                kept_tips.add(tip)
            else:
                doomed.append(run)
        if not doomed:
            break
        for run in doomed:
            for a, b in zip(run, run[1:], strict=False):
                if b in near[a]:
                    near[a].remove(b)
                    near[b].remove(a)
    for tip in [n for n, by in enumerate(near) if len(by) == 1]:
        run = _corner(tip, near, x, y, thick)
        for a, b in zip(run, run[1:], strict=False):
            near[a].remove(b)
            near[b].remove(a)
    left = [(a, b) for a, by in enumerate(near) for b in by if a < b]
    return np.array(left, dtype=np.int64).reshape(-1, 2)


def _twig(
    tip: int, near: list[list[int]], x: list[float], y: list[float], thick: list[float]
) -> list[int] | None:
    """Nodes from the tip to the junction if the branch is a twig, else None."""
    run, way, here, came = [tip], 0.5 * thick[tip], tip, -1
    while True:
        if way >= SLENDER * thick[here]:
            return None
        if len(near[here]) > 2 or (len(near[here]) == 1 and came >= 0):
            return run
        ahead = near[here][0] if near[here][0] != came else near[here][1]
        way += ((x[ahead] - x[here]) ** 2 + (y[ahead] - y[here]) ** 2) ** 0.5
        came, here = here, ahead
        run.append(here)


def _corner(
    tip: int, near: list[list[int]], x: list[float], y: list[float], thick: list[float]
) -> list[int]:
    """Nodes at the end of a branch that lead into a blunt corner, to be cut off.

    There thickness grows by more than 1 / ``SLENDER`` of the way.
    """
    run, way, best, best_at = [tip], 0.0, thick[tip], 0
    came, here = -1, tip
    while len(near[here]) == (1 if came < 0 else 2):
        ahead = near[here][0] if near[here][0] != came else near[here][1]
        way += ((x[ahead] - x[here]) ** 2 + (y[ahead] - y[here]) ** 2) ** 0.5
        came, here = here, ahead
        run.append(here)
        gain = thick[here] - way / SLENDER
        if gain > best:
            best, best_at = gain, len(run) - 1
        elif gain < best - 0.3 * thick[here]:
            return run[: best_at + 1]
    return run[:1]


def branches_of(links: Ints, degree: Ints) -> tuple[Branch, ...]:
    """Runs between nodes of degree other than 2, then rings without a junction.

    Args:
        links: pairs of nodes, shape (m, 2).
        degree: number of links at each node.
    """
    near = _neighbours(links, len(degree))
    used: set[tuple[int, int]] = set()
    found: list[Branch] = []

    def walk(start: int, ahead: int) -> None:
        run = [start, ahead]
        came, here = start, ahead
        while here != start and len(by := near[here]) == 2:
            came, here = here, by[1] if by[0] == came else by[0]
            run.append(here)
        # a run is begun from its ends alone: their first steps are enough to know it by
        used.update(((start, ahead), (here, came)))
        found.append(Branch(np.array(run, dtype=np.int64)))

    for node, by in enumerate(near):
        if len(by) not in (0, 2):
            for ahead in by:
                if (node, ahead) not in used:
                    walk(node, ahead)
    seen = {int(n) for b in found for n in b.nodes}
    for node, by in enumerate(near):
        if len(by) == 2 and node not in seen:
            walk(node, by[0])
            seen.update(int(n) for n in found[-1].nodes)
    return tuple(found)
