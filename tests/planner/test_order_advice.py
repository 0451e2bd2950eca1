"""The order of cuts against the trade's rules of thumb, over 50 outside drawings.

Rules of thumb (common practice, no published source): inside before outside, the middle
before the edges, small pieces before large. Measured over the drawings in
order_icons.json, on a board 10 mm larger all round:

- inside before outside, and inner before enclosing: always, by precedence.
- a piece less than half as large before its neighbour: always, by precedence.
- the middle before the edges, pairs of openings that differ clearly in how far out they
  lie: about four in five agree. Exceptions: the board gives less (or as much, within a
  near-tie) at the inner one of the two, or they belong to different pieces, of which one
  comes out first.
- small openings before large ones of the same piece: hardly ever. A large opening leaves
  the board giving more along its own line whenever it is cut, so it goes while the rest
  is still whole. Nothing is asserted about it here.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from companion.pattern.options import ReadOptions
from companion.pattern.reader import read_pattern_text
from companion.planner.contours import contours, frees
from companion.planner.lawler import NEAR, fill_from_last
from companion.planner.order import CLEARLY, BoardModel, OrderItem, small_first

ICONS = Path(__file__).parent / "order_icons.json"
MARGIN_MM = 10.0
FARTHER = 0.15
"""Difference of distance from the middle, as a share of half the board, that is clear."""


def items_of(svg: str, name: str) -> tuple[list[OrderItem], float, float]:
    pattern = read_pattern_text(svg.encode(), ReadOptions(width_mm=150.0), name)
    x0, y0, x1, y1 = pattern.bounds_mm
    every = contours(pattern, (MARGIN_MM - x0, MARGIN_MM - y0))
    items = []
    for c in every:
        free, inner = frees(c, every), c.ring.representative_point()
        line = np.array(c.ring.exterior.segmentize(1.0).coords)
        items.append(
            OrderItem(
                c.index, free, line, frozenset(c.children), (inner.x, inner.y),
                c.side, c.piece, free.area,
            )
        )  # fmt: skip
    return items, x1 - x0 + 2 * MARGIN_MM, y1 - y0 + 2 * MARGIN_MM


def test_agreement_over_fifty_outside_drawings() -> None:
    agree = differ = 0
    icons = json.loads(ICONS.read_text(encoding="utf-8"))["icons"]
    assert len(icons) == 50
    for icon in icons:
        items, width, height = items_of(icon["svg"], icon["name"])
        outside = frozenset(i.index for i in items if i.side == "outside")
        cost = BoardModel(items, width, height, 400).cost
        found = fill_from_last(small_first(items), cost, None, outside)
        place = {i: k for k, i in enumerate(found.order)}
        at_end = dict(zip(found.order, found.if_last, strict=True))
        out = {
            i.index: max(
                abs(2 * i.frees.centroid.x / width - 1), abs(2 * i.frees.centroid.y / height - 1)
            )
            for i in items
        }
        around = {j: i.index for i in items for j in i.before}
        for a in items:
            assert all(place[j] < place[a.index] for j in a.before)
            for b in items:
                small = a.frees.convex_hull.area * CLEARLY <= b.frees.convex_hull.area
                together = around.get(a.index) == around.get(b.index)
                if a.side == b.side == "outside" and small and together:
                    assert place[a.index] < place[b.index]
                if a.side == b.side == "inside" and out[a.index] + FARTHER < out[b.index]:
                    if place[a.index] < place[b.index]:
                        agree += 1
                        continue
                    differ += 1
                    less_here = at_end[a.index] <= at_end[b.index] * (1 + NEAR)
                    assert less_here or a.piece != b.piece, icon["name"]
    assert agree + differ > 100
    assert agree >= 3 * differ
