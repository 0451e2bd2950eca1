"""What the order promises apart from its worst moment: nodes, states, reasons."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from shapely.geometry import Point, Polygon, box

from companion.planner import order as order_module
from companion.planner.order import (
    BoardModel,
    OrderItem,
    best_order,
    late_by_trade,
    veins_first,
)
from companion.planner.plate import Floats
from companion.words import ENGLISH
from tests.planner.test_order import item, panel, two_pieces


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
    left = (box(20, 20, 80, 80), Point(50, 50).buffer(10))
    right = (box(100, 20, 160, 80), Point(130, 50).buffer(10))
    items = two_pieces(left, right)
    placed = best_order(items, 180.0, 100.0, ENGLISH)
    assert {p.index for p in placed[-2:]} == {1, 3}
    assert placed[-2].reason == "All inside this piece is done, so it may come out."
    assert placed[-1].reason.startswith("Last:")


def test_of_like_openings_the_outer_goes_late_and_of_unlike_ones_the_larger() -> None:
    """A tenth more area is no clear difference between openings; threefold is."""
    board = (200.0, 200.0)
    inner, outer = item(0, Point(100, 100).buffer(18.8)), item(1, Point(180, 100).buffer(18.0))
    key = late_by_trade([inner, outer], board)
    assert key(1, None) < key(0, None), "the least takes the late place"
    wide = item(0, Point(100, 100).buffer(32.0))
    key = late_by_trade([wide, outer], board)
    assert key(0, None) < key(1, None)


def test_of_outlines_the_one_larger_by_a_quarter_goes_late_wherever_it_lies() -> None:
    board = (200.0, 200.0)
    large = item(0, box(90, 90, 110, 115), side="outside")
    small = item(1, box(170, 90, 190, 110), side="outside")
    key = late_by_trade([large, small], board)
    assert key(0, None) < key(1, None)


def test_middle_first_is_told_of_early_cuts_in_the_middle_alone() -> None:
    items, width, height = panel(6, 6, 30.0, 12.0, frame=10.0)
    placed = best_order(items, width, height, ENGLISH)
    in_middle = {
        i.index
        for i in items
        if 0.3 * width < i.at[0] < 0.7 * width and 0.3 * height < i.at[1] < 0.7 * height
    }
    told = {p.index: p.reason.startswith("Middle first") for p in placed}
    early = [p.index for p in placed[: len(placed) // 3]]
    assert any(told.values()) and not set(early) <= in_middle, "else nothing is tried"
    for k, p in enumerate(placed):
        assert not told[p.index] or (p.index in in_middle and k < len(placed) / 3)


def test_a_vein_that_waits_for_a_vein_that_waits_for_an_opening_is_not_lost() -> None:
    hole = item(0, Point(50, 50).buffer(10))
    line = np.array([[10.0, 10.0], [20.0, 12.0]])

    def waiting(index: int, before: int) -> OrderItem:
        return OrderItem(
            index, Polygon(), line, frozenset({before}), (10, 10), "inside", 1, 0.0
        )  # fmt: skip

    items = [hole, waiting(1, 0), waiting(2, 1), waiting(3, 2)]
    assert veins_first(items, [0, 1, 2, 3]) == (0, 1, 2, 3)
    placed = best_order(items, 100.0, 100.0, ENGLISH)
    assert [p.index for p in placed] == [0, 1, 2, 3]
