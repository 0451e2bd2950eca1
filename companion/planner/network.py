"""What holds what: the axis as a graph of junctions and branches, walked from its heart.

Rule: a branch whose removal parts the piece is a bridge; all others lie in rings.
The nodes are put in the order of a walk that starts in the heart (where half of
the wood lies to no one side), so that all that hangs beyond a place of a bridge
is one slice of that order.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from companion.planner.axis import Axis
from companion.planner.outline import Floats, Ints


@dataclass(frozen=True)
class Span:
    """A branch as the walk met it."""

    nodes: Ints
    """Axis nodes from the end nearer the heart to the far end, both included."""
    upper: int
    """Axis node of the near end."""
    lower: int
    """Axis node of the far end; equal to ``upper`` for a ring back to itself."""
    bridge: bool
    """Whether its removal parts the piece."""


@dataclass(frozen=True)
class Network:
    """Branches, hung from the heart."""

    axis: Axis
    spans: tuple[Span, ...]
    root: int
    """Axis node of the heart."""
    rank: Ints
    """Place of each axis node in the walk."""
    leave: Ints
    """For each end or junction: rank behind its last descendant; 0 for other nodes."""
    ring_of: Ints
    """For each end or junction: number of its ring system (ends share one only
    through rings); -1 for other nodes."""
    sample_xy: Floats
    """Outline samples in the order of their nodes' ranks, shape (n, 2), mm."""
    sample_node: Ints
    """Axis node of each of them."""
    sample_start: Ints
    """First sample of each rank, shape (nodes + 1,)."""
    area_before: Floats
    """Wood before each sample in that order, mm2, shape (n + 1,)."""

    def below(self, span: Span, position: int) -> slice:
        """Samples beyond a place of a bridge.

        Args:
            span: a bridge.
            position: index into its nodes.
        """
        first = int(self.rank[span.nodes[position]])
        if position == 0:
            first = int(self.rank[span.nodes[1]])
        return slice(int(self.sample_start[first]), int(self.sample_start[self.leave[span.lower]]))

    def hanging(self, node: int) -> slice:
        """Samples of an end or junction and all beyond it."""
        return slice(
            int(self.sample_start[self.rank[node]]), int(self.sample_start[self.leave[node]])
        )

    def area(self, part: slice) -> float:
        """Wood of a slice of samples, mm2."""
        return float(self.area_before[part.stop] - self.area_before[part.start])


@dataclass
class _Walk:
    """State of one depth-first walk."""

    rank: Ints
    leave: Ints
    low: dict[int, int] = field(default_factory=dict)
    spans: list[tuple[Ints, int, int, bool]] = field(default_factory=list)
    """Nodes, upper, lower, whether it is a tree branch."""
    count: int = 0

    def place(self, nodes: list[int]) -> None:
        """Give the next ranks."""
        for node in nodes:
            self.rank[node] = self.count
            self.count += 1


def _runs(axis: Axis, root: int) -> list[list[int]]:
    """Node lists of all branches, the one through the root cut there."""
    runs: list[list[int]] = []
    for branch in axis.branches:
        nodes = branch.nodes.tolist()
        if root in nodes[1:-1]:
            cut = nodes.index(root)
            if branch.closed and axis.degree[nodes[0]] == 2:
                runs.append([*nodes[cut:-1], *nodes[: cut + 1]])
            else:
                runs += [nodes[: cut + 1], nodes[cut:]]
        else:
            runs.append(nodes)
    return runs


def _walk(axis: Axis, runs: list[list[int]], root: int) -> _Walk:
    """Depth-first from the root; Tarjan's low points without recursion."""
    total = len(axis.xy)
    state = _Walk(np.full(total, -1, dtype=np.int64), np.zeros(total, dtype=np.int64))
    at: dict[int, list[tuple[int, bool]]] = {}
    for number, run in enumerate(runs):
        at.setdefault(run[0], []).append((number, True))
        at.setdefault(run[-1], []).append((number, False))
    done = [False] * len(runs)
    state.place([root])
    state.low[root] = int(state.rank[root])
    stack: list[tuple[int, int, list[tuple[int, bool]]]] = [(root, -1, list(at.get(root, [])))]
    while stack:
        node, parent, ways = stack[-1]
        if not ways:
            stack.pop()
            state.leave[node] = state.count
            if stack:
                state.low[parent] = min(state.low[parent], state.low[node])
            continue
        number, forward = ways.pop()
        if done[number]:
            continue
        done[number] = True
        nodes = runs[number] if forward else runs[number][::-1]
        far = nodes[-1]
        seen = far in state.low
        state.place(nodes[1:-1] if seen else nodes[1:])
        state.spans.append((np.array(nodes, dtype=np.int64), node, far, not seen))
        if seen:
            state.low[node] = min(state.low[node], int(state.rank[far]))
        else:
            state.low[far] = int(state.rank[far])
            stack.append((far, node, list(at.get(far, []))))
    return state


def _samples(axis: Axis, rank: Ints) -> tuple[Ints, Ints, Floats]:
    """Order of the outline samples, first sample of each rank, running area."""
    outline = axis.outline
    order = np.argsort(rank[axis.node_of_sample], kind="stable")
    start = np.searchsorted(rank[axis.node_of_sample][order], np.arange(len(axis.xy) + 1))
    hub = axis.xy[axis.node_of_sample]
    a, b = outline.xy - hub, outline.xy[outline.following] - hub
    c = hub[outline.following] - hub
    # the stretch of wall, and the stretch of axis behind it, make a quadrangle
    area = 0.5 * np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    area += 0.5 * np.abs(b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0])
    return order, start.astype(np.int64), np.concatenate(([0.0], np.cumsum(area[order])))


def _hung(axis: Axis, root: int) -> Network:
    runs = _runs(axis, root)
    state = _walk(axis, runs, root)
    lost = np.flatnonzero(state.rank < 0)
    state.rank[lost] = np.arange(state.count, state.count + len(lost))
    spans = tuple(
        Span(nodes, upper, lower, tree and state.low[lower] > int(state.rank[upper]))
        for nodes, upper, lower, tree in state.spans
    )
    ring_of = np.full(len(axis.xy), -1, dtype=np.int64)
    ring_of[root] = root
    for span, (_, _, _, tree) in zip(spans, state.spans, strict=True):
        if tree:
            ring_of[span.lower] = span.lower if span.bridge else ring_of[span.upper]
    order, start, before = _samples(axis, state.rank)
    return Network(
        axis, spans, root, state.rank, state.leave, ring_of,
        axis.outline.xy[order], axis.node_of_sample[order], start, before,
    )  # fmt: skip


def network(axis: Axis) -> Network:
    """Hang the axis from its heart.

    The heart is the thickest node, moved along bridges as long as more than half
    of the wood lies beyond one.
    """
    net = _hung(axis, int(np.argmax(axis.thickness)))
    total = net.area_before[-1]
    heavy = [
        span for span in net.spans
        if span.bridge and net.area(net.hanging(span.lower)) > 0.5 * total
    ]  # fmt: skip
    if not heavy:
        return net
    lowest = max(heavy, key=lambda span: int(net.rank[span.lower]))
    return _hung(axis, lowest.lower)
