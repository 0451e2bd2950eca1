"""What the order promises apart from its worst moment: nodes, states, reasons."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from shapely.geometry import Point, box

from companion.planner import order as order_module
from companion.planner.order import BoardModel, best_order
from companion.planner.plate import Floats
from companion.words import ENGLISH
from tests.planner.test_order import item, panel


@pytest.mark.parametrize("cells", [90, 121, 144, 300])
def test_one_is_the_give_of_the_whole_boards_weakest_node(cells: int) -> None:
    """Every node of the board is asked; none gives more than the one that is called 1."""
    items, width, height = panel(3, 2, 40.0, 4.0)
    model = BoardModel(items, width, height, cells)
    nodes = np.arange((model.grid.columns + 1) * (model.grid.rows + 1))
    assert float(model._gives([nodes])[0]) == pytest.approx(model.whole_give, rel=1e-9)


def test_a_cut_is_asked_at_nodes_with_wood_around_them() -> None:
    """Half a cell or more, measured on the drawing; and no node is far from the line."""
    items, width, height = panel(3, 3, 40.0, 15.0)
    model = BoardModel(items, width, height, 900)
    size = np.array(model.grid.size_mm)
    rows = model.grid.rows
    for i in items:
        nodes = model._nodes[i.index]
        assert len(nodes) > 8
        for at in np.stack([nodes // (rows + 1), nodes % (rows + 1)], axis=1) * size:
            around = box(*(at - size / 2), *(at + size / 2))
            left = around.area - around.intersection(i.frees).area
            # a cell's wood counts as evenly spread: a node at the rim may have a little less
            assert left / around.area > 0.35
            assert Point(at).distance(i.frees.boundary) <= np.hypot(*size)


def test_beyond_the_single_places_about_so_many_states_are_solved(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With limits of eight: 24 cuts from about eight states, 8 cuts from one each."""
    monkeypatch.setattr(order_module, "SINGLE", 8)
    monkeypatch.setattr(order_module, "STATES", 8)
    asked_of: list[int] = []
    plain = BoardModel.cost

    def counted(self: BoardModel, gone: Sequence[int], asked: Sequence[int]) -> Floats:
        asked_of.append(len(gone))
        return plain(self, gone, asked)

    monkeypatch.setattr(BoardModel, "cost", counted)
    for columns, rows, least, most in ((6, 4, 8, 16), (4, 2, 8, 16)):
        asked_of.clear()
        best_order(*panel(columns, rows, 20.0, 6.0), ENGLISH)
        assert least <= len(set(asked_of)) <= most


def test_of_two_equal_pieces_the_first_may_come_out_as_all_inside_is_done() -> None:
    left, right = box(20, 20, 80, 80), box(100, 20, 160, 80)
    hole, other = Point(50, 50).buffer(10), Point(130, 50).buffer(10)
    items = [
        item(0, hole),
        item(1, left.difference(hole), frozenset({0}), "outside", (15, 15)),
        item(2, other, piece=2),
        item(3, right.difference(other), frozenset({2}), "outside", (95, 15), piece=2),
    ]
    placed = best_order(items, 180.0, 100.0, ENGLISH)
    assert {p.index for p in placed[-2:]} == {1, 3}
    assert placed[-2].reason == "All inside this piece is done, so it may come out."
    assert placed[-1].reason.startswith("Last:")
