"""A way from a hole to a line that no hole can stand beside.

Where pieces lie closer together than a drill needs, a blade still passes: it is
threaded where there is room, and saws its way along the middle of the waste to the
line. The ways are the Voronoi edges of all lines that leave room for the kerf; they
never cross a line, so a way that begins in a contour's waste stays in it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import Voronoi, cKDTree

from companion.planner.contours import Contour
from companion.planner.holes import HolePlaces
from companion.planner.linework import Floats, Linework
from companion.planner.places import Places

WAY_COST_PER_MM = 0.05
"""A start costs this much more for each mm of its way; relative to the costs of places."""
SPARE_MM = 0.02
"""Ways keep this much more than half a kerf from every line."""
DOORS = 6
"""Nodes nearest to a start through which its way may begin."""
TRIES = 400
"""Pairs of start and node for which a way is sought, cheapest first."""

Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """How a start is reached."""

    start: int
    """Index of the candidate start."""
    path: Floats
    """From the hole's centre to the start (n, 2), both included."""
    shares: int | None
    """Contour whose hole it is; None: a new one."""
    radius_mm: float
    """Of the hole."""


class Detours:
    """The ways through all waste of a board, found once.

    Args:
        work: all lines.
        half_kerf_mm: half of what a way needs to be wide.
        hole_mm: least distance from a new hole's centre to a line.
    """

    def __init__(self, work: Linework, half_kerf_mm: float, hole_mm: float) -> None:
        self._work = work
        self._half_mm = half_kerf_mm
        diagram = Voronoi(work.points)
        low, high = work.points.min(axis=0), work.points.max(axis=0)
        within = np.asarray(((diagram.vertices >= low) & (diagram.vertices <= high)).all(axis=1))
        apart = np.zeros(len(within))
        apart[within] = work.distance(diagram.vertices[within])
        good = apart >= half_kerf_mm + SPARE_MM
        self._node: Floats = diagram.vertices[good]
        number = np.cumsum(good) - 1
        pairs = np.array(diagram.ridge_vertices, dtype=np.intp).reshape(-1, 2)
        walls = work.points[diagram.ridge_points]
        # an edge runs midway between two points; nearer ones are one line, not two walls
        wide = np.hypot(*(walls[:, 0] - walls[:, 1]).T) >= 2 * (half_kerf_mm + SPARE_MM)
        usable = wide & (pairs >= 0).all(axis=1)
        usable[usable] = good[pairs[usable]].all(axis=1)
        self._far, self._before = _from_holes(
            self._node, number[pairs[usable]].astype(np.intp), apart[good] >= hole_mm
        )
        reached = np.flatnonzero(np.isfinite(self._far))
        self._reached = reached
        self._tree = cKDTree(self._node[reached]) if len(reached) else None

    def way(
        self, contour: Contour, spots: Places, places: HolePlaces, radius_mm: float
    ) -> Way | None:
        """The cheapest way to a start of a contour.

        Args:
            contour: the one to reach.
            spots: its candidate starts with their costs.
            places: where holes may be, and those that are.
            radius_mm: of a new hole.

        Returns:
            The way; None when no start sees one, or its hole is taken by none it may share.
        """
        if self._tree is None:
            return None
        k = min(DOORS, len(self._reached))
        apart, which = self._tree.query(spots.xy, k=k)
        door = self._reached[np.asarray(which).reshape(-1, k)]
        cost = spots.cost[:, None] + WAY_COST_PER_MM * (
            self._far[door] + np.asarray(apart).reshape(-1, k)
        )
        for flat in np.argsort(np.round(cost, 9), axis=None, kind="stable")[:TRIES]:
            j, d = divmod(int(flat), k)
            node = int(door[j, d])
            if not places.reaches(contour, spots.xy[j], spots.waste[j], self._node[node]):
                continue
            chain = [node]
            while self._before[chain[-1]] >= 0:
                chain.append(int(self._before[chain[-1]]))
            found = self._hole(contour, places, self._node[chain[-1]], radius_mm)
            if found is None:
                continue
            hole, shares, radius = found
            path = np.concatenate([[hole], self._node[chain[::-1]], [spots.xy[j]]])
            return Way(j, self._straightened(path), shares, radius)
        return None

    def _hole(
        self, contour: Contour, places: HolePlaces, at: Floats, radius_mm: float
    ) -> tuple[Floats, int | None, float] | None:
        """A new hole at a place, or the one that is there already."""
        if places.free_mm(contour, at[None, :], exact=True)[0] >= radius_mm:
            return at, None, radius_mm
        for owner, x, y, radius in places.taken(contour):
            there = np.array([x, y])
            near = float(np.hypot(*(there - at))) < 4 * radius_mm + 2 * radius
            if near and not self._work.crosses(np.stack([at, there])):
                return there, owner, radius
        return None

    def _straightened(self, path: Floats) -> Floats:
        """The path without bends that the lines do not ask for; its last stretch stays."""
        keep, k, last = [0], 0, len(path) - 2
        while k < last:
            step = last
            while step > k + 1 and self._work.nears(path[[k, step]], self._half_mm):
                step = k + (step - k + 1) // 2
            k = step
            keep.append(k)
        return path[[*keep, last + 1]]


def _from_holes(node: Floats, edge: Indices, roomy: NDArray[np.bool_]) -> tuple[Floats, Indices]:
    """Distance of every node to the nearest that has room for a hole, and the next on the way.

    Returns:
        Distances (n,), infinite where none is reached, and the following node (n,), negative
        at a hole.
    """
    source = np.flatnonzero(roomy)
    if not len(source):
        return np.full(len(node), np.inf), np.full(len(node), -1, dtype=np.intp)
    size = np.hypot(*(node[edge[:, 0]] - node[edge[:, 1]]).T) + 1e-9
    graph = coo_matrix((size, (edge[:, 0], edge[:, 1])), shape=(len(node), len(node))).tocsr()
    far, before, _ = dijkstra(
        graph, directed=False, indices=source, return_predecessors=True, min_only=True
    )
    return np.asarray(far, dtype=np.float64), np.asarray(before, dtype=np.intp)
