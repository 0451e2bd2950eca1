"""True size, measured on what an independent renderer (PDFium) makes of the PDF."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString

from companion.draw.frame import CROSSHAIR_MM, Head, draw_frame, draw_tile
from companion.draw.marks import RING_BEYOND_MM
from companion.draw.paper import FOOT_MM, HEAD_MM, SIDE_MM, Layout, find_paper, lay_out
from companion.draw.pdf import Sheets
from companion.draw.pens import HAIRLINE_MM
from companion.draw.scene import Scene, build_scene
from companion.draw.sheet import Sheet, SheetOptions, make_sheet
from companion.planner.plan import Plan, SizedHole
from companion.words import ENGLISH
from tests.draw.rendered import Floats, Ink, circle_of, page_sizes_mm, render
from tests.draw.sheet_plans import panel, plan_of

DPI = 600
PX = DPI / 25.4
TRUE_MM = 0.1
"""What issue 6 allows."""


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_of(panel(6, 4))


@pytest.fixture(scope="module")
def sheet(plan: Plan) -> Sheet:
    return make_sheet(plan)


def bar_lengths_mm(ink: Ink) -> list[float]:
    """Lengths of the check bars at the foot: long level strokes, end tick to end tick.

    Found by their looks alone: a row inked for more than 90 mm on end; at its ends the
    ticks, measured a millimetre above the stroke.
    """
    found: list[float] = []
    foot = ink.shape[0] - int(FOOT_MM * PX)
    y = foot
    while y < ink.shape[0]:
        edges = np.flatnonzero(np.diff(np.concatenate([[0], ink[y].astype(int), [0]])))
        starts, ends = edges[::2], edges[1::2]
        long = np.flatnonzero(ends - starts > 90 * PX)
        if not len(long):
            y += 1
            continue
        left, right = int(starts[long[0]]), int(ends[long[0]])
        above = ink[y - int(1.2 * PX)]
        ticks = []
        for end in (left, right):
            near = np.flatnonzero(above[max(0, end - 12) : end + 12]) + max(0, end - 12)
            ticks.append(near.mean())
        found.append(float(ticks[1] - ticks[0]) / PX)
        y += int(2 * PX)
    return found


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_both_check_bars_are_true_on_every_page(plan: Plan, paper: str) -> None:
    made = make_sheet(plan, SheetOptions(paper=find_paper(paper)))
    for page in range(len(page_sizes_mm(made.pdf))):
        bars = bar_lengths_mm(render(made.pdf, page, DPI))
        assert bars == pytest.approx([100.0, 101.6], abs=TRUE_MM), f"page {page}"


def test_the_bar_measure_can_fail(plan: Plan) -> None:
    sheets = Sheets("off")
    sheets.begin((210.0, 297.0))
    sheets.canvas.scale(0.997, 1.0)  # what "fit to page" does to a sheet
    draw_frame(sheets, (210.0, 297.0), Head("", ""), ENGLISH)
    sheets.end()
    bars = bar_lengths_mm(render(sheets.bytes(), 0, DPI))
    assert bars == pytest.approx([99.7, 101.295], abs=0.06)


def test_holes_have_their_drills_size_and_stand_in_their_places(plan: Plan, sheet: Sheet) -> None:
    ink = render(sheet.pdf, 0, DPI)
    origin = sheet.layout.tiles[0].origin_mm
    found = {}
    for hole in plan.holes:
        at = tuple(
            (v - o + e) * PX for v, o, e in zip(hole.at_mm, origin, (SIDE_MM, HEAD_MM), strict=True)
        )
        x, y, r = circle_of(ink, (at[0], at[1]), hole.drill_mm / 2 * PX)
        assert 2 * r / PX == pytest.approx(hole.drill_mm, abs=TRUE_MM)
        found[hole.number] = (x / PX, y / PX)
    # distances from hole to hole owe nothing to the layout
    first = plan.holes[0]
    for hole in plan.holes[1:]:
        measured = math.dist(found[first.number], found[hole.number])
        assert measured == pytest.approx(math.dist(first.at_mm, hole.at_mm), abs=TRUE_MM)


def test_an_opening_drilled_to_size_is_drawn_at_its_size_with_a_second_circle() -> None:
    """Both circles are measured; an entry hole beside it has one."""
    made = plan_of(panel(3, 2))
    at, entry = (7.0, 40.0), made.holes[0]
    made = replace(made, to_size=(SizedHole(99, at, 5.0, "5.0 mm", 9, 1, len(made.cuts)),))
    drawn = make_sheet(made)
    ink = render(drawn.pdf, 0, DPI)
    origin = drawn.layout.tiles[0].origin_mm

    def measured(place: tuple[float, float], radius: float) -> float:
        x, y = ((v - o + e) * PX for v, o, e in zip(place, origin, (SIDE_MM, HEAD_MM), strict=True))
        return circle_of(ink, (x, y), radius * PX)[2] / PX

    assert measured(at, 2.5) == pytest.approx(2.5, abs=TRUE_MM / 2)
    assert measured(at, 2.5 + RING_BEYOND_MM) == pytest.approx(
        2.5 + RING_BEYOND_MM, abs=TRUE_MM / 2
    )
    assert measured(entry.at_mm, entry.drill_mm / 2) == pytest.approx(
        entry.drill_mm / 2, abs=TRUE_MM / 2
    )


def test_lines_lie_where_the_plan_has_them(plan: Plan) -> None:
    scene = lines_only(plan)
    layout = lay_out(scene.bounds_mm, find_paper("A4"))
    ink = assemble(scene, layout)
    assert len(layout.tiles) == 1
    assert_same_lines(ink, plan, layout)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_tiles_put_together_by_their_crosshairs_give_the_pattern(paper: str) -> None:
    plan = plan_of(panel(9, 6, 30.0, 18.0))
    scene = lines_only(plan)
    layout = lay_out(scene.bounds_mm, find_paper(paper))
    assert layout.columns > 1 or layout.rows > 1
    assert_same_lines(assemble(scene, layout), plan, layout)


def lines_only(plan: Plan) -> Scene:
    scene = build_scene(plan)
    return Scene(scene.width_mm, scene.height_mm, lines=tuple(scene.of("piece-line")))


def assemble(scene: Scene, layout: Layout, dpi: int = DPI) -> Ink:
    """Lay the printed tiles over each other so that the crosshairs meet, as a sawyer would.

    Only the first tile's place is taken as given; every other is put where the
    crosshairs found in its picture fall on those already lying.
    """
    sheets = Sheets("tiles")
    sheets.define_scene(scene, "scene")
    for tile in layout.tiles:
        sheets.begin(layout.page_mm)
        draw_tile(sheets, "scene", layout, tile)
        sheets.end()
    pdf = sheets.bytes()
    x0, y0, x1, y1 = layout.covers_mm
    table = np.zeros((int((y1 - y0 + 3) * PX), int((x1 - x0 + 3) * PX)), bool)
    lying: dict[tuple[int, int], tuple[float, float]] = {}
    for page, tile in enumerate(layout.tiles):
        ink = render(pdf, page, dpi)
        seen = crosshairs(ink, layout) if len(layout.tiles) > 1 else {}
        shift = (-SIDE_MM * PX, -HEAD_MM * PX)
        known = [
            (lying[(tile.column + c, tile.row + r)], seen[(c, r)])
            for c, r in seen
            if (tile.column + c, tile.row + r) in lying
        ]
        if known:
            shift = (
                float(np.mean([a[0] - b[0] for a, b in known])),
                float(np.mean([a[1] - b[1] for a, b in known])),
            )
        for (c, r), (x, y) in seen.items():
            lying.setdefault((tile.column + c, tile.row + r), (x + shift[0], y + shift[1]))
        left, top = round(SIDE_MM * PX), round(HEAD_MM * PX)
        window = ink[top + 6 : top + int(layout.window_mm[1] * PX) - 6]
        window = window[:, left + 6 : left + int(layout.window_mm[0] * PX) - 6]
        px, py = round(left + 6 + shift[0]), round(top + 6 + shift[1])
        part = table[py : py + window.shape[0], px : px + window.shape[1]]
        part |= window[: part.shape[0], : part.shape[1]]
    return table


def crosshairs(ink: Ink, layout: Layout) -> dict[tuple[int, int], tuple[float, float]]:
    """Find the four crosshairs of a tile: where most ink lies along both arms."""
    arm = int(CROSSHAIR_MM * PX) - 4
    reach = int(2.0 * PX)
    half, (width, height) = layout.overlap_mm / 2, layout.window_mm
    found = {}
    for c in (0, 1):
        for r in (0, 1):
            x = round((SIDE_MM + (width - half if c else half)) * PX)
            y = round((HEAD_MM + (height - half if r else half)) * PX)
            near = ink[y - arm - reach : y + arm + reach, x - arm - reach : x + arm + reach]
            n = near.shape[0] - 2 * arm
            level = np.stack([near[arm : arm + n, i : i + n] for i in range(2 * arm + 1)])
            upright = np.stack([near[i : i + n, arm : arm + n] for i in range(2 * arm + 1)])
            score = np.minimum(level.sum(axis=0), upright.sum(axis=0))
            rows, columns = np.nonzero(score == score.max())
            assert score.max() > 1.9 * arm, "no crosshair there"
            found[(c, r)] = (x - reach + columns.mean(), y - reach + rows.mean())
    return found


def assert_same_lines(ink: Ink, plan: Plan, layout: Layout) -> None:
    """The symmetric difference of ink and pattern line is nowhere wider than 0.1 mm."""
    x0, y0, _, _ = layout.covers_mm
    # every place of the pattern line has ink within 0.1 mm
    for cut in plan.cuts:
        line = LineString(cut.line_mm)
        along = shapely.line_interpolate_point(line, np.arange(0.0, line.length, 0.25))
        places = shapely.get_coordinates(along) - [x0, y0]
        assert_ink_near(ink, places)
    # every inked place is within 0.1 mm of a pattern line's own width
    lines = shapely.multilinestrings([LineString(c.line_mm) for c in plan.cuts])
    shapely.prepare(lines)
    rows, columns = np.nonzero(ink)
    at = np.column_stack([(columns + 0.5) / PX + x0, (rows + 0.5) / PX + y0])
    at = away_from_crosshairs(at, layout)
    assert len(at) > 1000
    wide = HAIRLINE_MM / 2 + TRUE_MM
    inside = shapely.dwithin(lines, shapely.points(at), wide)
    assert inside.all(), f"{(~inside).sum()} inked places off the line, first {at[~inside][:3]}"


def assert_ink_near(ink: Ink, places: Floats) -> None:
    reach = int(TRUE_MM * PX)
    rows = np.clip((places[:, 1] * PX).astype(int), reach, ink.shape[0] - reach - 1)
    columns = np.clip((places[:, 0] * PX).astype(int), reach, ink.shape[1] - reach - 1)
    steps = [
        (i, j)
        for i in range(-reach, reach + 1)
        for j in range(-reach, reach + 1)
        if math.hypot(i, j) <= TRUE_MM * PX
    ]
    near = np.zeros(len(places), bool)
    for i, j in steps:
        near |= ink[rows + i, columns + j]
    assert near.all(), f"no ink at {places[~near][:3]}"


def away_from_crosshairs(at: Floats, layout: Layout) -> Floats:
    keep = np.ones(len(at), bool)
    for x, y in layout.lattice_mm:
        keep &= np.hypot(at[:, 0] - x, at[:, 1] - y) > CROSSHAIR_MM + 0.3
    return at[keep]


def test_a_tile_laid_wrong_is_noticed() -> None:
    """The comparer can fail: ink moved by 0.3 mm is not the pattern."""
    plan = plan_of(panel(2, 2))
    scene = lines_only(plan)
    layout = lay_out(scene.bounds_mm, find_paper("A4"))
    ink = np.roll(assemble(scene, layout), round(0.3 * PX), axis=1)
    with pytest.raises(AssertionError):
        assert_same_lines(ink, plan, layout)
