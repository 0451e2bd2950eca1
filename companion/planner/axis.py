"""The medial axis of a piece: its thickness everywhere, as a network of branches.

Rule: the Voronoi vertices of the densified outline that lie inside the piece are
centres of (nearly) largest inscribed circles; the Voronoi edges between them
form the axis. They are taken from the Delaunay triangles, which are the same
diagram told the other way round and come as arrays. What is left out:

* edges between samples whose way along the outline is hardly longer than the
  straight way (the residual of Ogniewicz and Kuebler, "Hierarchic Voronoi
  skeletons", Pattern Recognition 28, 1995: it never falls along a branch from
  its end inwards, so that the axis stays in one piece);
* end branches that are nowhere longer than ``SLENDER`` times their thickness:
  the twigs that a corner grows.

Thickness is not taken from the samples but from the straight stretches beside
them: nearest plus farthest of the walls that a vertex touches. In a corridor
that sum is exact even where the vertex is a little off the middle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import Delaunay, cKDTree
from shapely.geometry import Polygon

from companion.planner.outline import (
    Bools,
    Floats,
    Ints,
    Outline,
    distance_to_walls,
    outline_of,
    split,
)
from companion.planner.prune import Branch, branches_of, pruned

RESIDUAL_MM = 0.08
"""Edges with less detour along the outline than this belong to a smooth wall."""
FINEST_MM = 0.03
"""No stretch of the outline is cut shorter; walls nearer than about this are not told apart."""
SPAN_PER_WIDTH = 0.6
"""A stretch of the outline is at most this share of the width beside it."""
REFINEMENTS = 3
SPACING = 0.5
"""Nodes are at most this share of the thickness apart."""


@dataclass(frozen=True)
class Axis:
    """Medial axis of one polygon."""

    xy: Floats
    """Nodes, shape (n, 2), mm."""
    thickness: Floats
    """Diameter of the largest circle inside the piece around each node, mm."""
    branches: tuple[Branch, ...]
    """Runs of nodes between ends and junctions."""
    degree: Ints
    """Number of branches that meet in each node: 1 an end, 3 or more a junction."""
    outline: Outline
    """The samples from which it was made."""
    node_of_sample: Ints
    """The axis node that each outline sample belongs to."""


@dataclass(frozen=True)
class _Diagram:
    centres: Floats
    corners: Ints
    """Samples of each triangle, shape (n, 3)."""
    inside: Bools
    edge: Ints
    """Pairs of triangles, shape (m, 2)."""
    walls: Ints
    """Pair of samples between which each edge runs, shape (m, 2)."""


def medial_axis(shape: Polygon, step_mm: float | None = None) -> Axis:
    """Find the medial axis.

    Args:
        shape: valid polygon, mm.
        step_mm: greatest distance of outline samples; None takes it from the
            mean thickness.

    Returns:
        The axis; a single node without branches for a shape without length,
        such as a disc.
    """
    outline, triangles = _sampled(shape, step_mm)
    diagram = _diagram(shape, outline, triangles)
    keep = _lasting(outline, diagram)
    edge = diagram.edge[keep]
    if not len(edge):
        return _single_node(outline, diagram)
    node_of_triangle, xy, thickness, links = _merged(outline, diagram, edge)
    links = pruned(xy, thickness, links)
    used = np.unique(links)
    if not len(used):
        used = np.array([int(np.argmax(thickness))])
    renumber = np.full(len(xy), -1, dtype=np.int64)
    renumber[used] = np.arange(len(used))
    links = renumber[links]
    node_of_triangle = np.where(node_of_triangle >= 0, renumber[node_of_triangle], -1)
    xy, thickness, links = _filled(outline, xy[used], thickness[used], links)
    degree = np.bincount(links.ravel(), minlength=len(xy))
    return Axis(
        xy, thickness, branches_of(links, degree), degree, outline,
        _owners(outline, diagram.corners, node_of_triangle),
    )  # fmt: skip


def _sampled(shape: Polygon, step_mm: float | None) -> tuple[Outline, Delaunay]:
    """Samples fine enough for the widths beside them, and the triangles between them."""
    outline = outline_of(shape)
    if step_mm is None:
        step_mm = max(0.7 * shape.area / shape.length, 4 * FINEST_MM)
    outline = split(outline, np.maximum(np.ceil(outline.spans / step_mm), 1).astype(np.int64))
    for _ in range(REFINEMENTS):
        triangles = Delaunay(outline.xy)
        width = _width_beside(outline, triangles)
        wanted = np.maximum(np.minimum(width, width[outline.following]) * SPAN_PER_WIDTH, FINEST_MM)
        parts = np.maximum(np.ceil(outline.spans / wanted - 1e-6), 1).astype(np.int64)
        if int(parts.sum()) <= 1.01 * len(parts):
            return outline, triangles
        outline = split(outline, np.minimum(parts, 64))
    return outline, Delaunay(outline.xy)


def _width_beside(outline: Outline, triangles: Delaunay) -> Floats:
    """Least Delaunay edge from each sample to another wall, mm (infinite if none)."""
    corners = triangles.simplices.astype(np.int64)
    pair = np.concatenate((corners[:, :2], corners[:, 1:], corners[:, ::2]))
    i, j = pair[:, 0], pair[:, 1]
    chord = np.hypot(*(outline.xy[i] - outline.xy[j]).T)
    across = _arc(outline, i, j) > 3.0 * chord
    width = np.full(len(outline.xy), np.inf)
    np.minimum.at(width, i[across], chord[across])
    np.minimum.at(width, j[across], chord[across])
    return width


def _arc(outline: Outline, i: Ints, j: Ints) -> Floats:
    """Shorter way along the outline between samples, mm; infinite between rings."""
    way = np.abs(outline.along[i] - outline.along[j])
    way = np.minimum(way, outline.ring_length[outline.ring[i]] - way)
    return np.where(outline.ring[i] == outline.ring[j], way, np.inf)


def _diagram(shape: Polygon, outline: Outline, triangles: Delaunay) -> _Diagram:
    """Voronoi vertices inside the shape and the edges between them."""
    corners = triangles.simplices.astype(np.int64)
    a, b, c = (outline.xy[corners[:, k]] for k in range(3))
    ab, ac = b - a, c - a
    double = 2.0 * (ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0])
    flat = np.abs(double) < 1e-14
    double[flat] = 1.0
    ab2, ac2 = (ab * ab).sum(axis=1), (ac * ac).sum(axis=1)
    centres = a + np.column_stack(
        ((ac[:, 1] * ab2 - ab[:, 1] * ac2) / double, (ab[:, 0] * ac2 - ac[:, 0] * ab2) / double)
    )
    shapely.prepare(shape)
    inside = ~flat & shapely.contains_xy(shape, centres[:, 0], centres[:, 1])
    edges, walls = [], []
    index = np.arange(len(corners))
    for k in range(3):
        other = triangles.neighbors[:, k].astype(np.int64)
        take = (other > index) & inside & inside[other]
        edges.append(np.column_stack((index[take], other[take])))
        walls.append(corners[take][:, [(k + 1) % 3, (k + 2) % 3]])
    return _Diagram(centres, corners, inside, np.concatenate(edges), np.concatenate(walls))


def _lasting(outline: Outline, diagram: _Diagram) -> Bools:
    """Which edges belong to the axis and not to the ripple of a wall."""
    i, j = diagram.walls[:, 0], diagram.walls[:, 1]
    chord = np.hypot(*(outline.xy[i] - outline.xy[j]).T)
    keep: Bools = _arc(outline, i, j) - chord > RESIDUAL_MM
    return keep


def _merged(outline: Outline, diagram: _Diagram, edge: Ints) -> tuple[Ints, Floats, Floats, Ints]:
    """Join vertices that coincide; measure thickness.

    Returns:
        Node of each triangle (-1: none), places, thicknesses, links (pairs of nodes).
    """
    total = len(diagram.centres)
    length = np.hypot(*(diagram.centres[edge[:, 0]] - diagram.centres[edge[:, 1]]).T)
    short = edge[length < 1e-3]
    joint = coo_matrix((np.ones(len(short)), (short[:, 0], short[:, 1])), shape=(total, total))
    _, group = connected_components(joint, directed=False)
    live = np.unique(edge)
    names, node = np.unique(group[live], return_inverse=True)
    node_of_triangle = np.full(total, -1, dtype=np.int64)
    node_of_triangle[live] = node
    share = np.bincount(node)
    xy = np.column_stack(
        [np.bincount(node, weights=diagram.centres[live, k]) / share for k in range(2)]
    )
    walls = np.stack(
        [
            distance_to_walls(outline, diagram.corners[live, k], diagram.centres[live])
            for k in (0, 1, 2)
        ]
    )
    across = walls.min(axis=0) + walls.max(axis=0)
    thickness = np.full(len(names), np.inf)
    np.minimum.at(thickness, node, across)
    links = np.sort(node_of_triangle[edge], axis=1)
    links = np.unique(links[links[:, 0] != links[:, 1]], axis=0)
    return node_of_triangle, xy, thickness, links


def _filled(
    outline: Outline, xy: Floats, thickness: Floats, links: Ints
) -> tuple[Floats, Floats, Ints]:
    """Nodes along long links: where the axis leaves a mouth, thickness is far from linear."""
    if not len(links):
        return xy, thickness, links
    a, b = links[:, 0], links[:, 1]
    length = np.hypot(*(xy[a] - xy[b]).T)
    thin = np.maximum(np.minimum(thickness[a], thickness[b]), FINEST_MM)
    parts = np.clip(np.ceil(length / (SPACING * thin)), 1, 60).astype(np.int64)
    long = np.flatnonzero(parts > 1)
    if not len(long):
        return xy, thickness, links
    count = parts[long] - 1
    link = np.repeat(long, count)
    step = np.arange(len(link)) - np.repeat(np.cumsum(count) - count, count) + 1
    share = (step / parts[link])[:, None]
    more = xy[a[link]] * (1.0 - share) + xy[b[link]] * share
    spots = np.concatenate((more, xy[a[link]], xy[b[link]]))
    _, near = cKDTree(outline.xy).query(spots)
    narrow = 2.0 * distance_to_walls(outline, np.asarray(near, dtype=np.int64), spots)
    wide, at_a, at_b = np.split(narrow, 3)
    # a node beside the middle is nearer to one wall than to the other by so much; never
    # more than linear, since thickness along a link is a convex function
    side = share[:, 0]
    aside = (thickness[a[link]] - at_a) * (1.0 - side) + (thickness[b[link]] - at_b) * side
    linear = thickness[a[link]] * (1.0 - side) + thickness[b[link]] * side
    wide = np.minimum(wide + np.maximum(aside, 0.0), linear)
    number = len(xy) + np.arange(len(link))
    last = step == count.repeat(count)
    chain = np.column_stack((np.where(step == 1, a[link], number - 1), number))
    ends = np.column_stack((number[last], b[link[last]]))
    links = np.concatenate((links[parts == 1], chain, ends))
    return np.concatenate((xy, more)), np.concatenate((thickness, wide)), links


def _single_node(outline: Outline, diagram: _Diagram) -> Axis:
    """Axis of a shape without length: the centre of its largest circle."""
    reach = np.hypot(*(diagram.centres - outline.xy[diagram.corners[:, 0]]).T)
    best = int(np.argmax(np.where(diagram.inside, reach, -1.0)))
    return Axis(
        diagram.centres[[best]], 2.0 * reach[[best]], (), np.zeros(1, dtype=np.int64), outline,
        np.zeros(len(outline.xy), dtype=np.int64),
    )  # fmt: skip


def _owners(outline: Outline, corners: Ints, node_of_triangle: Ints) -> Ints:
    """Axis node of each sample: of a triangle it belongs to, else of its neighbour on the ring."""
    owner = np.full(len(outline.xy), -1, dtype=np.int64)
    live = node_of_triangle >= 0
    for k in range(3):
        owner[corners[live, k]] = node_of_triangle[live]
    known = np.flatnonzero(owner >= 0)
    if not len(known):
        return np.zeros(len(owner), dtype=np.int64)
    for ring in range(len(outline.ring_length)):
        here = np.flatnonzero(outline.ring == ring)
        mine = here[owner[here] >= 0]
        if not len(mine):
            gap = outline.xy[here][:, None, :] - outline.xy[known][None, ::8, :]
            owner[here] = owner[known[::8]][(gap**2).sum(axis=2).argmin(axis=1)]
            continue
        place, length = outline.along[here], outline.ring_length[ring]
        marks = np.concatenate(
            (outline.along[mine] - length, outline.along[mine], outline.along[mine] + length)
        )
        right = np.searchsorted(marks, place)
        left = np.maximum(right - 1, 0)
        right = np.minimum(right, len(marks) - 1)
        nearer = np.where(place - marks[left] <= marks[right] - place, left, right)
        owner[here] = owner[mine[nearer % len(mine)]]
    return owner
