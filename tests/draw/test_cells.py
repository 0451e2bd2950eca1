"""The map on cells: areas against an independent painter, proportion, patterns, signs."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw
from shapely.geometry import Point, Polygon

from companion.draw import cells
from companion.draw.board import Moment, Outlines, board_frame
from companion.draw.cells import Area, Ink, Mode, View
from companion.draw.marks import MOST_NECKS, inner_place, thin_necks
from companion.draw.scene import build_scene
from companion.draw.signs import SIGNS, Sign, draw_large
from companion.planner.plan import Neck
from tests.tui.plans import circle, many_plan, sized_plan, small_plan, star

MODES: tuple[Mode, ...] = ("braille", "quadrant", "ascii")


def _pillow(outline: list[tuple[float, float]], high: int, wide: int, times: int) -> np.ndarray:
    """The same polygon by Pillow, ``times`` finer, as the share of each dot it covers."""
    image = Image.new("L", (wide * times, high * times), 0)
    # Pillow names pixels by their centres, the canvas by their edges
    points = [(x * times - 0.5, y * times - 0.5) for x, y in outline]
    ImageDraw.Draw(image).polygon(points, fill=1)
    fine = np.asarray(image, dtype=float)
    share: np.ndarray = fine.reshape(high, times, wide, times).mean(axis=(1, 3))
    return share


@pytest.mark.parametrize(
    "outline",
    [star(40, 40, 30, 12, 5), circle(35, 42, 28), star(50, 30, 45, 20, 9),
     ((5.0, 5.0), (70.0, 8.0), (20.0, 60.0), (64.0, 70.0), (5.0, 5.0))],
)  # fmt: skip
def test_filled_dots_agree_with_another_painter(outline: tuple[tuple[float, float], ...]) -> None:
    field = np.zeros((80, 80), dtype=np.int32)
    cells.fill(field, np.array(outline), 7)
    share = _pillow(list(outline), 80, 80, 8)
    # only a dot that the outline itself passes may be told differently
    clear = (share < 0.05) | (share > 0.95)
    assert ((field == 7) == (share > 0.5))[clear].all()
    assert abs((field == 7).sum() - share.sum()) < 0.02 * share.sum()


@settings(max_examples=60)
@given(st.lists(st.tuples(st.floats(-50, 150), st.floats(-50, 150)), min_size=3, max_size=12))
def test_fill_is_even_odd_at_every_dot(points: list[tuple[float, float]]) -> None:
    field = np.zeros((20, 24), dtype=np.int32)
    cells.fill(field, np.array(points), 1)
    for row, column in ((0, 0), (3, 17), (10, 12), (19, 23), (7, 5)):
        x, y = column + 0.5, row + 0.5
        inside = False
        for (x0, y0), (x1, y1) in zip(points, [*points[1:], points[0]], strict=True):
            if (y0 <= y) != (y1 <= y):
                at = x0 + (y - y0) * (x1 - x0) / (y1 - y0)
                if abs(at - x) < 1e-9:
                    return  # on the outline either answer is right
                inside ^= at <= x
        assert bool(field[row, column]) == inside


def test_a_stroke_has_no_gap_and_stays_inside() -> None:
    field = np.zeros((30, 40), dtype=np.int32)
    ends = np.array([[2.0, 3.0], [35.0, 20.0], [-10.0, 28.0]])
    cells.stroke(field, ends[:-1], ends[1:], np.array([5, 6], dtype=np.int32))
    ys, xs = np.nonzero(field == 5)
    assert {int(x) for x in xs} == set(range(2, 35))
    assert (abs(np.diff(ys[np.argsort(xs, kind="stable")])) <= 1).all()
    assert (field == 6).any()


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize(("columns", "rows"), [(30, 10), (60, 24), (100, 40), (33, 57)])
def test_a_circle_is_round_on_cells_of_one_to_two(mode: Mode, columns: int, rows: int) -> None:
    view = View.around((0.0, 0.0, 100.0, 100.0), columns, rows)
    down, across = cells.DOTS[mode]
    field = np.zeros((rows * down, columns * across), dtype=np.int32)
    cells.fill(field, view.dots(np.array(circle(50, 50, 45)), mode), 1)
    ys, xs = np.nonzero(field)
    width = (xs.max() - xs.min() + 1) / across
    height = (ys.max() - ys.min() + 1) / down * cells.CELL_ASPECT
    assert width == pytest.approx(height, abs=2.5)


def test_a_place_and_its_cell_agree() -> None:
    view = View.around((10.0, 20.0, 110.0, 70.0), 80, 20)
    assert view.cell((10.0, 20.0)) == (0, 0)
    assert view.cell((109.9, 69.9)) == (79, 19)
    left, top, right, bottom = view.box_mm
    assert left <= 10.0 and top <= 20.0 and right >= 110.0 and bottom >= 70.0


def _areas(done: frozenset[int], at: tuple[float, float]) -> Area:
    plan = small_plan()
    outlines = Outlines.of(plan)
    view = View.around(outlines.board_box, 150, 65)
    frame = board_frame(outlines, view, "braille", Moment(done, None))
    column, row = view.cell(at)
    return Area(int(frame.area[row, column]))


IN_STAR, IN_DISC, IN_PIECE, IN_FRAME = (60.0, 48.0), (92.0, 82.0), (105.0, 60.0), (3.0, 3.0)


def test_the_board_as_it_stands() -> None:
    assert _areas(frozenset(), IN_STAR) is Area.WASTE
    assert _areas(frozenset(), IN_PIECE) is Area.KEEP
    assert _areas(frozenset(), IN_FRAME) is Area.WASTE
    assert _areas(frozenset({1}), IN_STAR) is Area.AWAY
    assert _areas(frozenset({1}), IN_DISC) is Area.WASTE
    everything = frozenset({1, 2, 3, 4})
    assert _areas(everything, IN_PIECE) is Area.FREED
    assert _areas(everything, IN_FRAME) is Area.WASTE
    # what lies in a piece that is taken out goes with it
    assert _areas(frozenset({4}), IN_STAR) is Area.AWAY


@pytest.mark.parametrize("mode", MODES)
def test_kept_wood_waste_and_air_are_told_apart_without_colour(mode: Mode) -> None:
    plan = small_plan()
    outlines = Outlines.of(plan)
    view = View.around(outlines.board_box, 120, 50)
    frame = board_frame(outlines, view, mode, Moment(frozenset({1}), None, holding=False))

    def look(at: tuple[float, float]) -> str:
        column, row = view.cell(at)
        return "".join(frame.signs[row : row + 2, column : column + 4].ravel())

    looks = {look(IN_STAR), look((100.0, 55.0)), look((4.0, 30.0))}
    assert len(looks) == 3
    assert look(IN_STAR).strip() == ""


def test_an_ascii_terminal_gets_nothing_but_ascii() -> None:
    outlines = Outlines.of(small_plan())
    view = View.around(outlines.zoom_box(1), 80, 24)
    text = board_frame(outlines, view, "ascii", Moment(frozenset({2}), 1)).text()
    assert text.isascii()
    assert {"S", "o", "@", "A", "x", "H"} <= set(text)


def test_every_kind_of_sign_has_its_own_shape() -> None:
    for pick in (0, 1):
        shapes = [pair[pick] for pair in SIGNS.values()]
        assert len(set(shapes)) == len(shapes)


def test_the_current_cut_shows_start_way_turns_and_where_to_hold() -> None:
    plan = small_plan()
    outlines = Outlines.of(plan)
    view = View.around(outlines.zoom_box(1), 80, 30)
    frame = board_frame(outlines, view, "quadrant", Moment(frozenset(), 1))
    column, row = view.cell(plan.cuts[0].start_mm)
    assert frame.signs[row, column] == SIGNS["start"][0]
    column, row = view.cell(plan.cuts[0].lead_mm[0])
    assert "".join(frame.signs[row, column : column + 2]) == SIGNS["hole"][0] + "1"
    for turn in plan.cuts[0].turns:
        column, row = view.cell(turn.at_mm)
        assert frame.signs[row, column] == SIGNS[turn.technique][0]
    # from the top of the star the way leads down to the right
    column, row = view.cell(plan.cuts[0].start_mm)
    assert "↘" in frame.signs[row : row + 6, column : column + 12]
    assert (frame.ink == Ink.HOLD).sum() == len(plan.cuts[0].hold_mm)


def test_holding_places_show_only_when_the_cuts_end_is_in_hand() -> None:
    plan = small_plan()
    outlines = Outlines.of(plan)
    view = View.around(outlines.zoom_box(1), 80, 30)

    def held(stretch: tuple[float, float] | None) -> int:
        moment = Moment(frozenset(), 1, stretch=stretch)
        return int((board_frame(outlines, view, "quadrant", moment).ink == Ink.HOLD).sum())

    assert plan.cuts[0].hold_mm
    assert [held(s) for s in ((0.0, 0.3), (0.3, 0.9))] == [0, 0]
    # the closing leg; the whole cut; of two runs the second
    assert [held(s) for s in ((0.9, 1.0), None, (1.0, 0.4))] == [len(plan.cuts[0].hold_mm)] * 3
    assert held((0.0, 0.4)) == 0


def test_sheet_and_screen_mark_the_same_necks() -> None:
    plan = small_plan()
    thick, thin = plan.board.thickness_mm * 1.1, plan.board.thickness_mm * 0.5
    necks = tuple(Neck((10.0 + 0.7 * k, 10.0), thin if k % 2 else thick, 5.0) for k in range(60))
    plan = dataclasses.replace(plan, necks=necks)
    marked = thin_necks(plan)
    assert len(marked) == MOST_NECKS and all(n.thickness_mm == thin for n in marked)
    assert marked == [n for n in necks if n.thickness_mm == thin][:MOST_NECKS]
    outlines = Outlines.of(plan)
    view = View.around(outlines.board_box, 200, 60)
    frame = board_frame(outlines, view, "quadrant", Moment())
    assert {view.cell(n.at_mm) for n in marked} == {
        (int(c), int(r)) for r, c in np.argwhere(frame.ink == Ink.NECK)
    }
    on_paper = build_scene(plan).of("neck")
    assert len(on_paper) == 2 * MOST_NECKS


def test_pieces_bear_their_names_where_there_are_several() -> None:
    plan = dataclasses.replace(small_plan(), pieces=2)
    last = plan.cuts[-1]
    assert last.side == "outside"
    outlines = Outlines.of(plan)
    view = View.around(outlines.board_box, 120, 40)
    frame = board_frame(outlines, view, "quadrant", Moment(frozenset(), last.number))
    place = inner_place(last, plan.cuts[:-1])
    column, row = view.cell(place)
    assert "".join(frame.signs[row, column : column + 2]) == f"P{last.piece}"
    wood = Polygon(last.line_mm).difference(
        shapely.union_all([Polygon(c.line_mm) for c in plan.cuts[:-1]])
    )
    assert wood.contains(Point(place))


def test_large_signs_are_told_apart_by_shape_alone() -> None:
    view = View(20, 10, 0.0, 0.0, 1.0)
    looks: dict[str, tuple[tuple[int, ...], ...]] = {}
    for kind in ("hole", "start", "spin", "back-out", "loop", "hold", "neck", "arrow"):
        inks = np.zeros((40, 40), dtype=np.int32)
        left = draw_large(inks, [Sign(kind, (10.0, 10.0))], view)
        assert not left
        looks[kind] = tuple(map(tuple, (inks > 0).astype(int)))
        # nine millimetres at cells of 4.5 mm: seen from 1.5 m, 20 arc minutes
        assert max(np.ptp(side) + 1 for side in np.nonzero(inks)) >= 7, kind
    grids = [np.array(look) for look in looks.values()]
    for n, one in enumerate(grids):
        for other in grids[n + 1 :]:
            assert (one != other).sum() >= 8


def test_signs_that_would_crowd_each_other_become_characters() -> None:
    view = View(20, 10, 0.0, 0.0, 1.0)
    inks = np.zeros((40, 40), dtype=np.int32)
    near = [Sign("start", (10.0, 10.0)), Sign("spin", (12.0, 10.0)), Sign("arrow", (9.0, 9.0))]
    assert draw_large(inks, near, view) == [near[1]]


def test_the_close_up_draws_its_signs_and_the_number_of_the_hole() -> None:
    plan = small_plan()
    outlines = Outlines.of(plan)
    view = View.around(outlines.zoom_box(1), 80, 30)
    frame = board_frame(outlines, view, "braille", Moment(frozenset(), 1))
    column, row = view.cell(plan.cuts[0].lead_mm[0])
    assert "1" in frame.signs[row, column : column + 6]
    assert (frame.ink == Ink.HOLD).sum() > 4
    assert (frame.ink == Ink.MARK).sum() > 40


def test_the_last_stretch_shows_where_to_hold_and_its_own_turns_only() -> None:
    plan = small_plan()
    cut = next(c for c in plan.cuts if len(c.turns) > 3 and c.hold_mm)
    far = dataclasses.replace(cut, hold_mm=((2.0, 2.0),))
    plan = dataclasses.replace(plan, cuts=tuple(far if c is cut else c for c in plan.cuts))
    outlines = Outlines.of(plan)

    def holds(part: tuple[float, float]) -> bool:
        x0, y0, x1, y1 = outlines.zoom_box(cut.number, part)
        return x0 <= 2.0 <= x1 and y0 <= 2.0 <= y1

    shares = [t.along_mm / cut.length_mm for t in cut.turns]
    last = (shares[-1], 1.0)
    assert holds(last) and not holds((0.0, shares[0]))
    view = View.around(outlines.zoom_box(cut.number, last), 120, 60)
    shown = board_frame(outlines, view, "ascii", Moment(frozenset(), cut.number, stretch=last))
    whole = board_frame(outlines, view, "ascii", Moment(frozenset(), cut.number))
    # what is in hand begins at the last turn: the others are not asked for any more
    assert (shown.ink == Ink.MARK).sum() < (whole.ink == Ink.MARK).sum()
    column, row = view.cell(cut.turns[-1].at_mm)
    assert shown.ink[row, column] == whole.ink[row, column] == Ink.MARK


def test_a_redraw_of_a_thousand_openings_reuses_its_raster() -> None:
    plan = many_plan(40, 25)
    outlines = Outlines.of(plan)
    view = View.around(outlines.board_box, 120, 50)
    first = outlines.raster(view, "braille")
    board_frame(outlines, view, "braille", Moment(frozenset(range(1, 500)), 500))
    assert outlines.raster(view, "braille") is first
    for cut in range(1, 12):
        outlines.raster(View.around(outlines.zoom_box(cut), 80, 30), "braille")
    assert len(outlines._cache) <= 6


@pytest.mark.parametrize("mode", MODES)
def test_an_opening_drilled_to_size_has_its_own_sign_and_then_its_hole(mode: Mode) -> None:
    plan = sized_plan()
    outlines = Outlines.of(plan)
    view = View.around(outlines.board_box, 120, 50)
    pick = int(mode == "ascii")
    first, second = plan.to_size
    frame = board_frame(
        outlines, view, mode, Moment(all_holes=True, drilled=frozenset({first.number}))
    )
    for hole, kind in ((first, "drilled"), (second, "to-size")):
        column, row = view.cell(hole.at_mm)
        shown = "".join(frame.signs[row, column : column + 2])
        assert shown == SIGNS[kind][pick] + str(hole.number)
    for entry in plan.holes:
        column, row = view.cell(entry.at_mm)
        assert frame.signs[row, column] == SIGNS["hole"][pick]
    # in hand alone, it is drawn larger than any character
    alone = board_frame(outlines, view, mode, Moment(all_holes=True, hole=second.number))
    assert (alone.signs != frame.signs).any()


def test_its_wood_is_gone_as_soon_as_cutting_begins() -> None:
    plan = sized_plan()
    outlines = Outlines.of(plan)
    raster = outlines.raster(View.around(outlines.board_box, 200, 80), "braille")
    dots = {hole.number: raster.owner == hole.number for hole in plan.to_size}
    wide = np.pi * 3.0**2 * (raster.view.columns_per_mm * 2) ** 2
    assert all(0.85 * wide < seen.sum() < 1.15 * wide for seen in dots.values())
    first, second = dots
    for moment, want in (
        (Moment(all_holes=True), (Area.WASTE, Area.WASTE)),
        (Moment(all_holes=True, drilled=frozenset({first})), (Area.AWAY, Area.WASTE)),
        (Moment(current=1), (Area.AWAY, Area.AWAY)),
        (Moment(frozenset({1, 2})), (Area.AWAY, Area.AWAY)),
    ):
        areas = raster.areas(plan, moment)
        for number, state in zip((first, second), want, strict=True):
            assert set(np.unique(areas[dots[number]])) == {state}, moment
    # when its piece has come free the hole stays a hole
    whole = Moment(frozenset(c.number for c in plan.cuts))
    assert set(np.unique(raster.areas(plan, whole)[dots[first]])) == {Area.AWAY}
    # a close-up beside them shows none
    far = outlines.raster(View.around((0.0, 0.0, 20.0, 20.0), 40, 20), "braille")
    assert not np.isin(far.owner, (first, second)).any()
    # outside the board nothing changes, and the piece around is still kept
    assert set(np.unique(raster.areas(plan, Moment(current=1))[raster.owner == -1])) <= {Area.BARE}
    assert (raster.areas(plan, Moment(current=1)) == Area.KEEP).any()


def test_a_pieces_name_stands_on_wood_beside_what_is_drilled() -> None:
    plan = sized_plan()
    outline = plan.cuts[-1]
    inside = [c for c in plan.cuts if c.within == outline.number]
    named = inner_place(outline, inside)
    over = dataclasses.replace(plan.to_size[0], at_mm=named, drill_mm=8.0)
    moved = inner_place(outline, inside, [over])
    assert np.hypot(moved[0] - named[0], moved[1] - named[1]) > 4.0
