"""Snap force: the smallest sideways force anywhere on the lighter part that breaks a neck.

A neck on a bridge carries whatever the part beyond it is pushed with: moment and
pull follow from the lever alone. In a ring the load is shared: the rings are
solved as a frame, held where they hang (or at the heart), and the force may act
anywhere on the stretch between the two junctions beside the neck, or on what hangs from it.

A section breaks when bending and pull together reach the board's bending strength
in its outermost fibre; out of the plane, when bending and twist together give a
principal stress as high. The least of both is the snap force. A part too stubby
to break by bending has none: beams are not valid there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from companion.planner.beams import Beams, Held, Influence, Section, even_thickness
from companion.planner.necks import Valley
from companion.planner.network import Network, Span
from companion.planner.outline import Floats, Ints
from companion.planner.section import Board, notches, outermost, section_stress

STUBBY = 1.5
"""On a bridge: least lever over thickness for which bending is believed."""
STUBBY_RING = 3.0
"""In a ring: least length of the stretch over thickness."""
SECTIONS_PER_BRIDGE = 16
RINGS_SOLVED = 120
"""Necks in rings whose force is worked out, weakest by estimate first."""
NODES_IN_FRAME = 4000
SPANS_AROUND = 40
"""In a net of more spans than ``WHOLE_RING`` only so many around a neck are solved, held where
the rest begins. On a panel of 144 openings the force came out at 0.97 to 1.18 times that of the
whole net, at the median 1.01."""
WHOLE_RING = 400
COARSEST, FINEST = 3, 24
"""Beams a span is cut into, at least and at most."""


@dataclass(frozen=True)
class Snap:
    """Where and how a neck breaks."""

    node: int
    """Axis node of the section."""
    force_n: float | None
    """None: too stubby, or not worked out."""
    push_at_mm: tuple[float, float] | None
    """Where the smallest force acts; None when there is no force."""
    across_board: bool
    """Whether the smallest force acts out of the board's plane."""


def _directions(net: Network, span: Span, positions: Ints) -> Floats:
    """Unit vectors along the axis at places of a span."""
    nodes = span.nodes
    reach = max(1, min(3, len(nodes) // 4))
    a, b = np.maximum(positions - reach, 0), np.minimum(positions + reach, len(nodes) - 1)
    step: Floats = net.axis.xy[nodes[b]] - net.axis.xy[nodes[a]]
    return step / np.maximum(np.hypot(step[:, 0], step[:, 1]), 1e-12)[:, None]


@dataclass(frozen=True)
class _Sections:
    """Sections of one bridge that have something beyond them."""

    position: list[int]
    """In the span's nodes."""
    force_n: list[float]
    at: Floats
    """Where the smallest force acts."""
    across: list[bool]
    """Whether it acts across the board."""
    lever_mm: list[float]


def _bridge_sections(
    net: Network, valley: Valley, wanted: Sequence[int], board: Board
) -> _Sections:
    """All wanted sections of a bridge in one batch."""
    sides = _Sides(net, valley)
    parts = [(p, part) for p in wanted if len(part := sides.lighter(p))]
    if not parts:
        return _Sections([], [], np.zeros((0, 2)), [], [])
    positions = np.array([p for p, _ in parts])
    nodes = valley.span.nodes[positions]
    size = np.array([len(part) for _, part in parts])
    of, begin = np.repeat(np.arange(len(size)), size), np.cumsum(size) - size
    points = np.concatenate([part for _, part in parts])
    along = _directions(net, valley.span, positions)[of]
    arm = points - net.axis.xy[nodes][of]
    plane, across = section_stress(
        net.axis.thickness[nodes][of], board.thickness_mm,
        np.column_stack((-arm[:, 1], arm[:, 0])), along, (arm * along).sum(axis=1),
        arm[:, 1] * along[:, 0] - arm[:, 0] * along[:, 1],
        notches(net, valley.span, positions)[of],
    )  # fmt: skip
    worst = np.maximum(plane, across)
    most = np.maximum.reduceat(worst, begin)
    hits = np.flatnonzero(worst == most[of])
    k = hits[np.searchsorted(hits, begin)]
    return _Sections(
        positions.tolist(),
        (board.material.bending_mpa / np.maximum(most, 1e-12)).tolist(),
        points[k], (across[k] > plane[k]).tolist(), np.hypot(arm[k, 0], arm[k, 1]).tolist(),
    )  # fmt: skip


class _Sides:
    """The lighter side of places along a stretch of a bridge."""

    def __init__(self, net: Network, valley: Valley) -> None:
        self._net, self._span = net, valley.span
        self._first = net.below(valley.span, valley.low)
        self._last = net.below(valley.span, valley.high)
        self._far: Floats | None = None
        self._near: Floats | None = None

    def lighter(self, position: int) -> Floats:
        """Outermost outline of the lighter side of a place; what all share is taken once."""
        net, part = self._net, self._net.below(self._span, position)
        if net.area(part) <= 0.5 * net.area_before[-1]:
            if self._far is None:
                self._far = outermost(net.sample_xy[self._last])
            return np.concatenate((self._far, net.sample_xy[part.start : self._last.start]))
        if self._near is None:
            xy = net.sample_xy
            self._near = outermost(np.concatenate((xy[: self._first.start], xy[part.stop :])))
        return np.concatenate((self._near, net.sample_xy[self._first.start : part.start]))


def bridge_snaps(net: Network, valley: Valley, board: Board) -> list[Snap]:
    """Snap at the neck itself, and at the weakest place of its stretch if that is weaker.

    Args:
        net: the piece's network.
        valley: a thin stretch of a bridge.
        board: what it is cut from.
    """
    first, last = valley.plateau(net.axis.thickness)
    places = np.linspace(valley.low, valley.high, SECTIONS_PER_BRIDGE).round().astype(int)
    wanted = sorted({valley.least, first, last, *places.tolist()})
    best: dict[bool, tuple[float, int, Snap]] = {}
    cut = _bridge_sections(net, valley, wanted, board)
    for k, (position, force) in enumerate(zip(cut.position, cut.force_n, strict=True)):
        node = int(valley.span.nodes[position])
        on_plateau = first <= position <= last
        snap = Snap(node, force, (float(cut.at[k, 0]), float(cut.at[k, 1])), cut.across[k])
        if cut.lever_mm[k] < STUBBY * net.axis.thickness[node]:
            if not on_plateau:
                continue
            snap, force = Snap(node, None, None, False), np.inf
        if on_plateau not in best or force < best[on_plateau][0]:
            best[on_plateau] = (force, position, snap)
    found = [best[True][2]] if True in best else []
    if False in best and (True not in best or best[False][0] < 0.9 * best[True][0]):
        found.append(best[False][2])
    return found


@dataclass
class _Ring:
    """One ring system as a frame."""

    held: Held
    node_index: dict[int, int]
    """Frame node of the axis nodes that became one."""
    beam_before: dict[tuple[int, int], int]
    """Beam that ends in a place: (span id, position)."""
    stretch: dict[int, list[Span]]
    """Spans of the stretch that each span (by id) belongs to."""
    inner: dict[int, list[int]]
    """Axis nodes within each stretch at which something may hang, by span id."""
    hung: dict[int, list[Floats]]
    """Outlines of all that hangs from each node."""
    places: dict[int, list[int]]
    """Positions of each span that became frame nodes."""


def _positions(span: Span, extra: list[int], parts: int) -> list[int]:
    """Positions of a span that become frame nodes."""
    even = np.linspace(0, len(span.nodes) - 1, parts + 1).round().astype(int).tolist()
    return sorted({*even, *extra})


def _frame(
    net: Network, spans: list[Span], grounds: set[int], extra: dict[int, list[int]], board: Board
) -> _Ring:
    """Cut the spans of one ring system into beams and hold it at its grounds."""
    axis = net.axis
    parts = int(np.clip(NODES_IN_FRAME // len(spans), COARSEST, FINEST))
    index: dict[int, int] = {}
    before: dict[tuple[int, int], int] = {}
    places: dict[int, list[int]] = {}
    ends: list[tuple[int, int]] = []
    bending: list[Floats] = []
    pulling: list[Floats] = []
    for span in spans:
        least = 2 if span.upper == span.lower else 1
        places[id(span)] = at = _positions(span, extra.get(id(span), []), max(parts, least))
        for a, b in zip(at, at[1:], strict=False):
            i = index.setdefault(int(span.nodes[a]), len(index))
            j = index.setdefault(int(span.nodes[b]), len(index))
            before[id(span), b] = len(ends)
            before.setdefault((id(span), a), len(ends))
            ends.append((i, j))
        thick, stops = axis.thickness[span.nodes], np.array(at)
        bending.append(even_thickness(thick, stops, 3.0))
        pulling.append(even_thickness(thick, stops, 1.0))
    xy = axis.xy[np.fromiter(index, dtype=np.int64)]
    beams = Beams(
        xy, np.array(ends, dtype=np.int64), np.concatenate(bending), np.concatenate(pulling),
        board.thickness_mm, board.material.modulus_mpa, board.shear_ratio,
    )  # fmt: skip
    stretch, inner = _stretches(spans, grounds)
    hung: dict[int, list[Floats]] = {}
    for span in net.spans:
        if span.bridge and span.upper in index:
            hung.setdefault(span.upper, []).append(net.sample_xy[net.hanging(span.lower)])
    held = Held(beams, np.array([index[g] for g in sorted(grounds)], dtype=np.int64))
    return _Ring(held, index, before, stretch, inner, hung, places)


def _stretches(
    spans: list[Span], grounds: set[int]
) -> tuple[dict[int, list[Span]], dict[int, list[int]]]:
    """Join spans across nodes where only two of them meet, the grounds excepted."""
    at = _meeting(spans)
    group = {id(span): [span] for span in spans}
    inner: dict[int, list[int]] = {id(span): [] for span in spans}
    for node, meeting in at.items():
        if len(meeting) != 2 or node in grounds:
            continue
        one, other = group[id(meeting[0])], group[id(meeting[1])]
        joined = one if one is other else one + other
        hang = [*inner[id(meeting[0])], node]
        if one is not other:
            hang += inner[id(meeting[1])]
        for span in joined:
            group[id(span)], inner[id(span)] = joined, hang
    return group, inner


def _loads(net: Network, ring: _Ring, span: Span) -> tuple[Floats, Ints]:
    """Places where a force may act on a stretch, and the frame node that takes each."""
    points: list[Floats] = []
    nodes: list[int] = []
    size: list[int] = []
    for part in ring.stretch[id(span)]:
        at = np.array(ring.places[id(part)])
        if len(at) < 3:
            continue
        # ranks rise along a span: half way to the neighbours on both sides
        low = net.rank[part.nodes[np.maximum((at[:-2] + at[1:-1]) // 2, 1)]]
        high = net.rank[part.nodes[(at[1:-1] + at[2:]) // 2]]
        rows = zip(net.sample_start[low].tolist(), net.sample_start[high + 1].tolist(), strict=True)
        for node, (begin, stop) in zip(part.nodes[at[1:-1]].tolist(), rows, strict=True):
            beside = net.sample_xy[begin:stop:4]
            points += (net.axis.xy[node : node + 1], beside)
            nodes.append(ring.node_index[node])
            size.append(1 + len(beside))
    for node in ring.inner[id(span)]:
        here = outermost(np.concatenate([net.axis.xy[[node]], *ring.hung.get(node, [])]))
        points.append(here)
        nodes.append(ring.node_index[node])
        size.append(len(here))
    if not points:
        return np.zeros((0, 2)), np.zeros(0, dtype=np.int64)
    return np.concatenate(points), np.repeat(np.array(nodes, dtype=np.int64), size)


def _ring_snap(
    net: Network, ring: _Ring, node: int, influence: Influence, board: Board,
    loads: tuple[Floats, Ints], raised: Floats,
) -> Snap:  # fmt: skip
    """The smallest force that breaks one section of a ring."""
    points, taker = loads
    arm = points - ring.held.beams.xy[taker]
    back = np.column_stack((-arm[:, 1], arm[:, 0]))

    def plane(a: Floats) -> Floats:
        result: Floats = a[taker, :2] + a[taker, 2:] * back
        return result

    def across(a: Floats) -> Floats:
        result: Floats = a[taker, 0] + a[taker, 1] * arm[:, 1] - a[taker, 2] * arm[:, 0]
        return result

    in_plane, out = section_stress(
        net.axis.thickness[[node]], board.thickness_mm, plane(influence.moment),
        plane(influence.pull), across(influence.bend), across(influence.twist), raised,
    )  # fmt: skip
    worst = np.maximum(in_plane, out)
    k = int(np.argmax(worst))
    force = board.material.bending_mpa / max(float(worst[k]), 1e-12)
    return Snap(node, force, (float(points[k, 0]), float(points[k, 1])), bool(out[k] > in_plane[k]))


def _span_length(net: Network, span: Span) -> float:
    step = np.diff(net.axis.xy[span.nodes], axis=0)
    return float(np.hypot(step[:, 0], step[:, 1]).sum())


def ring_snaps(net: Network, found: list[Valley], board: Board) -> list[Snap]:
    """Snap of each neck in a ring; beyond the weakest ``RINGS_SOLVED`` without a force.

    Args:
        net: the piece's network.
        found: thin stretches of spans that are no bridges.
        board: what it is cut from.
    """

    def estimate(valley: Valley) -> float:
        thick = float(net.axis.thickness[valley.span.nodes[valley.least]])
        return thick**2 / max(_span_length(net, valley.span), 1e-9)

    order = sorted(range(len(found)), key=lambda k: (estimate(found[k]), k))
    snaps = [Snap(int(v.span.nodes[v.least]), None, None, False) for v in found]
    chosen: dict[int, list[int]] = {}
    for k in order[:RINGS_SOLVED]:
        chosen.setdefault(int(net.ring_of[found[k].span.lower]), []).append(k)
    for ground, numbers in chosen.items():
        spans = [s for s in net.spans if not s.bridge and net.ring_of[s.lower] == ground]
        if len(spans) <= WHOLE_RING:
            ring = _ring_of(net, spans, {ground}, [found[k] for k in numbers], board)
            for k, snap in zip(numbers, ring, strict=True):
                snaps[k] = snap
            continue
        at = _meeting(spans)
        for k in numbers:
            near, grounds = _around(found[k].span, at, ground)
            snaps[k] = _ring_of(net, near, grounds, [found[k]], board)[0]
    return snaps


def _meeting(spans: list[Span]) -> dict[int, list[Span]]:
    """Spans that meet at each of their end nodes."""
    at: dict[int, list[Span]] = {}
    for span in spans:
        at.setdefault(span.upper, []).append(span)
        at.setdefault(span.lower, []).append(span)
    return at


def _around(centre: Span, at: dict[int, list[Span]], ground: int) -> tuple[list[Span], set[int]]:
    """The spans nearest to one, and the nodes where the rest of the net begins."""
    near, known, head = [centre], {id(centre)}, 0
    while head < len(near) and len(near) < SPANS_AROUND:
        for node in (near[head].upper, near[head].lower):
            for span in at[node]:
                if id(span) not in known:
                    known.add(id(span))
                    near.append(span)
        head += 1
    ends = {node for span in near for node in (span.upper, span.lower)}
    held = {n for n in ends if n == ground or any(id(s) not in known for s in at[n])}
    return near, held


def _ring_of(
    net: Network, spans: list[Span], grounds: set[int], asked: list[Valley], board: Board
) -> list[Snap]:
    """Solve one frame for some of its necks."""
    extra: dict[int, list[int]] = {}
    places: list[list[int]] = []
    for valley in asked:
        first, last = valley.plateau(net.axis.thickness)
        places.append(sorted({first, (first + last) // 2, valley.least, last}))
        extra.setdefault(id(valley.span), []).extend(places[-1])
    ring = _frame(net, spans, grounds, extra, board)
    ends = ring.held.beams.ends
    sections = []
    for valley, at in zip(asked, places, strict=True):
        for position in at:
            beam = ring.beam_before[id(valley.span), position]
            node = ring.node_index[int(valley.span.nodes[position])]
            sections.append(Section(beam, bool(ends[beam, 1] == node)))
    influences = iter(ring.held.influences(sections))
    out = []
    for valley, at in zip(asked, places, strict=True):
        loads = _loads(net, ring, valley.span)
        length = sum(_span_length(net, s) for s in ring.stretch[id(valley.span)])
        best = Snap(int(valley.span.nodes[valley.least]), None, None, False)
        raised = notches(net, valley.span, np.array(at))
        for n, position in enumerate(at):
            influence, node = next(influences), int(valley.span.nodes[position])
            if not len(loads[0]) or length < STUBBY_RING * net.axis.thickness[node]:
                continue
            snap = _ring_snap(net, ring, node, influence, board, loads, raised[[n]])
            if snap.force_n is not None and (best.force_n is None or snap.force_n < best.force_n):
                best = snap
        out.append(best)
    return out


def _span_of(net: Network, node: int) -> tuple[Span, int] | None:
    """A span through a node and the node's position in it."""
    for span in net.spans:
        at = np.flatnonzero(span.nodes == node)
        if len(at):
            return span, int(at[0])
    return None


def snap_at(net: Network, node: int, board: Board) -> float | None:
    """Snap force of the section at any axis node; None as in Snap.

    Args:
        net: the piece's network.
        node: an axis node.
        board: what it is cut from.
    """
    place = _span_of(net, node)
    if place is None:
        return None
    valley = Valley(place[0], place[1], place[1], place[1])
    snaps = (
        bridge_snaps(net, valley, board) if place[0].bridge else ring_snaps(net, [valley], board)
    )
    return snaps[0].force_n if snaps else None


def needed_thickness(net: Network, valley: Valley, board: Board, force_n: float) -> Floats:
    """Thickness at each node of a stretch that would carry a force.

    On a bridge each section is asked; in a ring the whole stretch gets what its
    weakest section needs. In the plane strength grows with the square of the
    thickness, across the board with the thickness itself.

    Args:
        net: the piece's network.
        valley: the stretch.
        board: what it is cut from.
        force_n: wanted snap force.

    Returns:
        mm, for the nodes from ``valley.low`` to ``valley.high``; 0 where nothing is asked.
    """
    positions = np.arange(valley.low, valley.high + 1)
    if not valley.span.bridge:
        snap = ring_snaps(net, [valley], board)[0]
        if snap.force_n is None or snap.force_n >= force_n:
            return np.zeros(len(positions))
        power = 1.0 if snap.across_board else 0.5
        thick = float(net.axis.thickness[snap.node]) * (force_n / snap.force_n) ** power
        return np.full(len(positions), thick)
    # the places that are judged too: beside one that is just not stubby, others may be
    even = np.linspace(valley.low, valley.high, 2 * SECTIONS_PER_BRIDGE).round()
    some = np.unique([*even, valley.least, *valley.plateau(net.axis.thickness)])
    cut = _bridge_sections(net, valley, some.astype(int).tolist(), board)
    wanted = dict.fromkeys(some.astype(int).tolist(), 0.0)
    for k, (position, force) in enumerate(zip(cut.position, cut.force_n, strict=True)):
        thick = float(net.axis.thickness[valley.span.nodes[position]])
        if cut.lever_mm[k] >= STUBBY * thick and force < force_n:
            wanted[position] = thick * (force_n / force) ** (1.0 if cut.across[k] else 0.5)
    return np.interp(positions, some, list(wanted.values()))
