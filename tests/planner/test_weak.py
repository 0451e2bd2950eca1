"""What is told about a pattern: each finding has its place, measure, reason and remedy.

Thresholds are looked up in the shop's tables, never repeated here.
"""

from __future__ import annotations

import math
import re

import pytest
import shapely
from shapely.geometry import Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from companion.findings import Finding
from companion.pattern.model import Opening, Pattern, Piece
from companion.planner.slots import Narrow, corner_findings, narrow_places
from companion.planner.thicken import thicken
from companion.planner.weak import WeakResult, _thicken_remedy, thickness_map, weak_places
from companion.shop import tables
from companion.shop.model import SawProfile
from companion.units import length_mm
from companion.words import ENGLISH, Words

MDF, BLADE = tables.material("mdf"), tables.blade("3")
SAW = SawProfile(throat_mm=400.0, max_thickness_mm=50.0, dial_of=10.0, margin_mm=10.0)


def pattern(*shapes: BaseGeometry, within: dict[int, int] | None = None) -> Pattern:
    pieces, count = [], 0
    for number, shape in enumerate(shapes, 1):
        assert isinstance(shape, Polygon)
        rings = [Polygon(r) for r in shape.interiors]
        openings = tuple(Opening(count + k, r, number) for k, r in enumerate(rings, 1))
        count += len(rings)
        pieces.append(Piece(number, shape, openings, (within or {}).get(number)))
    return Pattern(tuple(pieces), (), (), "")


def looked_at(*shapes: BaseGeometry, within: dict[int, int] | None = None) -> WeakResult:
    return weak_places(pattern(*shapes, within=within), MDF, 6.0, BLADE)


def unturned(shape: BaseGeometry) -> list[Finding]:
    """What is said of the corners of a piece when the plan turns in none of them."""
    return corner_findings(looked_at(shape).corners, [], BLADE, ENGLISH)


def told(result: WeakResult, code: str) -> list[Finding]:
    return [f for f in result.findings if f.code == code]


def test_finger_breaks_where_the_cantilever_says() -> None:
    # closed form F = strength * board * t^2 / (6 L), root of a finger 4 x 80 mm in 6 mm MDF
    result = looked_at(box(-60, -30, 0, 30).union(box(-1, -2, 80, 2)))
    neck = result.necks[0]
    assert neck.force_n == pytest.approx(35.85 * 6.0 * 16.0 / (6.0 * 80.0), rel=0.02)
    assert neck.at_mm[0] == pytest.approx(0.0, abs=2.5)
    assert neck.thickness_mm == pytest.approx(4.0, abs=0.01)


def test_force_grows_as_the_section_says() -> None:
    def force(thick: float, board: float) -> float:
        shape = box(-60, -30, 0, 30).union(box(-1, -thick / 2, 80, thick / 2))
        found = weak_places(pattern(shape), MDF, board, BLADE).necks[0].force_n
        assert found is not None
        return found

    assert force(4.0, 12.0) == pytest.approx(2 * force(4.0, 6.0), rel=0.01)
    assert force(4.0, 12.0) == pytest.approx(4 * force(2.0, 12.0), rel=0.03)


def test_bar_in_a_ring_shares_the_load() -> None:
    # fixed-fixed bar of 2 x 50 mm between stout bodies: worst moment 4 F L / 27 (Roark table 8.1
    # case 1d); the bodies give a little, so the bar's end lies somewhat inside them
    frame = box(0, 0, 130, 80).difference(box(40, 25, 90, 39)).difference(box(40, 41, 90, 60))
    bar = looked_at(frame).necks[0]
    closed = 35.85 * 6.0 * 4.0 / 6.0 / (4.0 * 50.0 / 27.0)
    assert bar.force_n is not None
    assert 0.85 * closed <= bar.force_n <= 1.05 * closed
    cut = frame.difference(box(88, 38, 90, 42))  # now it hangs at one end only
    hanging = looked_at(cut).necks[0]
    assert hanging.force_n is not None
    assert hanging.force_n < 0.3 * bar.force_n


def test_neck_finding_has_all_it_needs() -> None:
    result = looked_at(box(-60, -30, 0, 30).union(box(-1, -0.5, 60, 0.5)))
    codes = {"neck-very-weak", "neck-fragile", "neck-weak", "neck-thin", "neck-lost"}
    (finding,) = [f for f in result.findings if f.code in codes]
    row = tables.limit(finding.code)
    assert finding.severity == row.severity
    assert finding.at_mm is not None and finding.size_mm == pytest.approx(1.0, abs=0.01)
    assert "1.00 mm" in finding.text and " g, breaks it" in finding.text
    assert "--thicken" in finding.remedy


@pytest.mark.parametrize(("wide", "severity"), [(0.3, "stop"), (1.0, "warn"), (5.0, "note")])
def test_what_will_not_survive_the_saw_is_told_apart_from_what_may_break(
    wide: float, severity: str
) -> None:
    shape = box(-60, -30, 0, 30).union(box(-1, -wide / 2, 10 + 2 * wide, wide / 2))
    (finding,) = [f for f in looked_at(shape).findings if f.code.startswith("neck-")]
    assert finding.severity == severity
    assert ("will not survive" in finding.text) is (severity == "stop")
    assert ("may go" in finding.text) is (severity == "warn")
    assert ("--thicken" in finding.remedy) is (severity != "note")


def test_gravest_row_wins_and_gaps_between_cuts_have_their_name() -> None:
    # 0.3 mm between two openings; 0.3 mm wide tail
    two = box(0, 0, 80, 40).difference(box(10, 10, 39.85, 30)).difference(box(40.15, 10, 70, 30))
    limit = tables.limit("cuts-merge").value
    assert limit > 0.3
    assert told(looked_at(two), "cuts-merge")
    tail = box(0, 0, 40, 40).union(box(39, 20, 60, 20.3))
    assert told(looked_at(tail), "neck-lost")
    assert not told(looked_at(tail), "cuts-merge")


def test_many_necks_are_told_in_part_and_counted() -> None:
    fingers = [box(0, 3 * k, 40, 3 * k + 1.2) for k in range(30)]
    result = looked_at(shapely.union_all([box(-30, -5, 1, 95), *fingers]))
    single = [f for f in result.findings if f.code.startswith("neck-")]
    assert len(single) == int(tables.number("weak", "neck.told"))
    (rest,) = told(result, "necks-more")
    assert rest.text.startswith("10 more")


def test_openings_no_blade_enters() -> None:
    plate = box(0, 0, 60, 60)
    tiny = plate.difference(Point(30, 30).buffer(0.15))
    assert told(looked_at(tiny), "opening-under-kerf")
    small = plate.difference(Point(30, 30).buffer(0.5))
    assert not told(looked_at(small), "opening-under-kerf"), "it has room for the kerf"
    just = plate.difference(Point(30, 30).buffer(0.49 * BLADE.kerf_mm, quad_segs=32))
    (finding,) = told(looked_at(just), "opening-under-kerf")
    assert finding.at_mm == pytest.approx((30.0, 30.0), abs=0.05)


def test_slot_under_the_kerf() -> None:
    hole = Point(30, 30).buffer(6).union(box(34, 29.9, 50, 30.1))
    (finding,) = told(looked_at(box(0, 0, 60, 60).difference(hole)), "slot-under-kerf")
    assert finding.at_mm is not None and 35 < finding.at_mm[0] < 50
    assert finding.size_mm == pytest.approx(14.0, abs=0.5)
    outside = box(0, 0, 60, 60).difference(box(30, -1, 30.2, 20))
    assert told(looked_at(outside), "slot-under-kerf")
    wide = Point(30, 30).buffer(6).union(box(34, 29, 50, 31))
    assert not told(looked_at(box(0, 0, 60, 60).difference(wide)), "slot-under-kerf")


def test_tight_inside_corners_are_counted() -> None:
    sharp = Polygon([(20, 20), (40, 26), (40, 14)])  # three corners, one of 33 degrees
    (finding,) = unturned(box(0, 0, 60, 60).difference(sharp))
    assert finding.severity == tables.limit("inside-radius").severity
    assert finding.at_mm == pytest.approx((20.5, 20.0), abs=1.0)
    smooth = box(0, 0, 60, 60).difference(Point(30, 30).buffer(8))
    assert not unturned(smooth)


def test_corners_that_the_plan_turns_in_do_not_stay_full() -> None:
    sharp = Polygon([(10, 30), (30, 36), (50, 30), (30, 24)])  # two corners of 33 degrees
    found = looked_at(box(0, 0, 60, 60).difference(sharp))
    left = corner_findings(found.corners, [(10.0, 30.0)], BLADE, ENGLISH)
    assert len(found.corners) == 2 and left[0].text.startswith("1 inside corner")
    assert left[0].at_mm is not None and left[0].at_mm[0] > 45.0
    assert not corner_findings(found.corners, [(10.0, 30.0), (50.0, 30.0)], BLADE, ENGLISH)


@pytest.mark.parametrize("number", ["3", "9", "12"])
def test_the_boards_own_corners_are_not_cut(number: str) -> None:
    disc = pattern(Polygon(Point(30, 30).buffer(25, quad_segs=32).exterior))
    assert not weak_places(disc, MDF, 24.0, tables.blade(number)).corners


def test_remedies_name_no_blade_that_is_not_there() -> None:
    slit = pattern(box(0, 0, 60, 60).difference(Point(30, 30).buffer(6).union(
        box(34, 29.95, 50, 30.05))))  # fmt: skip
    hole = pattern(box(0, 0, 60, 60).difference(Point(30, 30).buffer(0.1)))
    for number, finer in (("3", True), (tables.every_blade()[0].number, False)):
        blade = tables.blade(number)
        (slot,) = told(weak_places(slit, MDF, 6.0, blade), "slot-under-kerf")
        (dot,) = told(weak_places(hole, MDF, 6.0, blade), "opening-under-kerf")
        (full,) = corner_findings([Narrow((10.0, 10.0), 0.3)], [], blade, ENGLISH)
        assert [("finer" in f.remedy) for f in (slot, dot, full)] == [finer] * 3
    for number, coarser in (("9", True), ("12", False)):
        found = weak_places(pattern(box(0, 0, 60, 60)), MDF, 24.0, tables.blade(number), saw=SAW)
        (tall,) = told(found, "stack-tall")
        assert ("coarser" in tall.remedy) is coarser


def test_depth_of_a_corner_is_that_of_geometry() -> None:
    # a circle of radius r stays r (1 / sin(a/2) - 1) from a corner of angle a
    square = box(0, 0, 20, 20)
    places = narrow_places([square], 2.0)
    assert len(places) == 4
    for place in places:
        assert place.depth_mm == pytest.approx(2.0 * (math.sqrt(2) - 1), abs=0.06)


def test_islands_and_parts() -> None:
    ring = box(0, 0, 100, 60).difference(box(10, 10, 90, 50))
    inner = box(30, 20, 70, 40)
    nested = pattern(ring, inner, within={2: 1})
    waste = weak_places(nested, MDF, 6.0, BLADE, shaded="waste")
    (island,) = told(waste, "island-drops")
    assert "--bridge" in island.remedy
    assert island.size_mm == pytest.approx(math.sqrt(40.0 * 20.0)), "a square as large"
    assert told(weak_places(nested, MDF, 6.0, BLADE), "part-comes-free")
    dot = looked_at(box(0, 0, 30, 80), Point(15, -15).buffer(6))
    (part,) = told(dot, "part-comes-free")
    assert "dot" in part.text
    assert part.size_mm == pytest.approx(math.sqrt(math.pi) * 6.0, rel=0.01)
    (small,) = told(dot, "piece-small")
    assert small.size_mm == pytest.approx(12.0, abs=0.1)
    assert not told(looked_at(box(0, 0, 30, 80)), "piece-small")


def test_board_and_saw() -> None:
    plate = pattern(box(0, 0, 100, 60))

    def found(
        board: tuple[float, float] = (140.0, 100.0), shift: float = 20.0, stack: int = 1,
        saw: SawProfile = SAW,
    ) -> set[str]:  # fmt: skip
        result = weak_places(
            plate, MDF, 6.0, BLADE, stack=stack, board_mm=board, place_mm=(shift, shift), saw=saw
        )
        return {f.code for f in result.findings}

    assert not found()
    assert "edge-near" in found(board=(104.0, 100.0), shift=2.0)
    assert "board-too-small" in found(board=(100.0, 100.0), shift=20.0)
    assert "stack-over-saw" in found(stack=9)
    assert "stack-tall" in found(stack=4)
    short = SawProfile(throat_mm=110.0, max_thickness_mm=50.0, dial_of=10.0, margin_mm=10.0)
    assert "board-over-throat" in found(saw=short)


def test_thickness_map_of_a_strip() -> None:
    piece = pattern(box(0, 0, 60, 8)).pieces[0]
    chart = thickness_map(piece)
    assert chart.most_mm == pytest.approx(8.0, rel=0.01)
    assert sum(len(s) for s in chart.strokes_mm) == sum(len(t) for t in chart.thickness_mm)


def test_necks_at_one_place_are_told_once_and_none_farther_off_is_kept_back() -> None:
    # two plates that all but meet along 1 mm, twice, 30 mm apart: films of 2 micrometres
    plates = box(0, 0, 60, 20).union(box(0, 20.5, 60, 40))
    for x in (10.0, 40.0):
        for k in range(3):
            plates = plates.union(box(x + 0.4 * k, 19, x + 0.4 * k + 0.002, 21))
    result = looked_at(plates)
    assert len(result.necks) >= 6
    found = [f for f in result.findings if f.code.startswith(("neck", "cuts-merge"))]
    assert len(found) == 2 and {f.severity for f in found} == {"stop"}
    assert all("a touch breaks it" in f.text and "e-" not in f.text for f in found)
    xs = sorted(f.at_mm[0] for f in found if f.at_mm)
    assert xs[0] < 12.0 and xs[1] > 39.0


def test_same_pattern_same_answer() -> None:
    frame = box(0, 0, 90, 60).difference(box(20, 22, 70, 40)).difference(box(20, 15, 70, 20))
    assert looked_at(frame).necks == looked_at(frame).necks
    assert looked_at(frame).findings == looked_at(frame).findings


@pytest.mark.parametrize(
    ("force", "weight"), [(5.0, "510 g"), (0.098, "10 g"), (9.76, "1 kg"), (44.0, "4.5 kg")]
)
def test_weight_that_says_a_force(force: float, weight: str) -> None:
    assert ENGLISH.weight(force) == weight


def test_who_works_in_inches_hears_pounds() -> None:
    # 1 lbf = 4.4482216152605 N, 16 oz to the pound (international pound, 1959)
    inches = Words(inch=True)
    assert [inches.weight(4.4482216152605 * n) for n in (1.0, 0.5, 2.5)] == [
        "1 lb",
        "8 oz",
        "2.5 lb",
    ]
    shape = box(-60, -30, 0, 30).union(box(-1, -0.5, 60, 0.5))
    found = weak_places(pattern(shape), MDF, 6.0, BLADE, words=inches).findings
    assert any(" oz, breaks it" in f.text for f in found)


def test_a_neck_that_holds_is_not_to_be_thickened() -> None:
    # 4 x 20 mm of 6 mm MDF: under the board's thickness, above every limit of weakness
    shape = box(-60, -30, 0, 30).union(box(-1, -2, 20, 2))
    (finding,) = told(looked_at(shape), "neck-thin")
    assert finding.severity == "note" and "--" not in finding.remedy and "holds" in finding.text


def test_what_a_remedy_asks_for_ends_its_finding() -> None:
    # a tail of 1.2 x 60 mm: thickened and held as the remedies say, nothing is left to thicken
    seen = pattern(box(-60, -30, 0, 30).union(box(-1, -0.6, 40, 0.6)))
    for code, flag in (("neck-fragile", "thicken"), ("neck-weak", "hold")):
        neck = weak_places(seen, MDF, 6.0, BLADE).necks[0]
        remedy = _thicken_remedy(tables.limit(code), neck, 6.0, ENGLISH)
        value = float(re.search(rf"--{flag} ([\d.]+)", remedy)[1])  # type: ignore[index]
        wish = {"wanted_mm": value} if flag == "thicken" else {"wanted_n": value}
        seen = thicken(seen, MDF, 6.0, BLADE, **wish).pattern  # type: ignore[arg-type]
    codes = {f.code for f in weak_places(seen, MDF, 6.0, BLADE).findings}
    assert not codes & {"neck-fragile", "neck-weak", "neck-very-weak", "neck-lost"}


def test_where_no_mend_helps_none_is_offered() -> None:
    # a tail of 3 x 200 mm with a flag at its end: too weak even when it is as thick as the board
    tail = box(-60, -30, 0, 30).union(box(-1, -1.5, 200, 1.5)).union(box(199, -40, 260, 40))
    board_mm = 3.0
    seen = thicken(pattern(tail), MDF, board_mm, BLADE, wanted_mm=board_mm).pattern
    result = weak_places(seen, MDF, board_mm, BLADE)
    found = [f for f in result.findings if f.code in ("neck-weak", "neck-very-weak")]
    assert found and all("--" not in f.remedy and "No mend helps" in f.remedy for f in found)
    # and that is true: the mend leaves it as it is
    again = thicken(seen, MDF, board_mm, BLADE, wanted_n=5.5)
    assert again.unmet


@pytest.mark.parametrize(("lever_mm", "board_mm", "holds"), [
    (25, 6.0, True), (25, 3.0, False), (400, 6.0, False),
])  # fmt: skip
def test_a_mend_is_offered_only_where_it_suffices(
    lever_mm: float, board_mm: float, holds: bool
) -> None:
    """A stalk of 2 mm with a flag at its end, short to long: what is said, the mend does."""
    stalk = box(-60, -30, 0, 30).union(box(-1, -1, lever_mm, 1))
    seen = pattern(stalk.union(box(lever_mm - 1, -12, lever_mm + 20, 12)))
    result = weak_places(seen, MDF, board_mm, BLADE)
    found = [
        f for f in result.findings if f.code in ("neck-weak", "neck-very-weak", "neck-fragile")
    ]
    done = thicken(seen, MDF, board_mm, BLADE, wanted_n=5.5)
    assert found
    for finding in found:
        assert ("--" in finding.remedy) == (not done.unmet)
        assert ("Thickening alone does not do it" in finding.remedy) == bool(done.unmet)
    assert bool(done.unmet) != holds


def test_necks_at_one_place_are_told_once_with_how_many_are_meant() -> None:
    # a bar with three waists, 1.2 mm from one another
    bar: BaseGeometry = box(-1, -0.6, 40, 0.6)
    for x in (18.8, 20.0, 21.2):
        bar = bar.difference(Point(x, 0.8).buffer(0.45)).difference(Point(x, -0.8).buffer(0.45))
    result = looked_at(box(-60, -30, 0, 30).union(bar))
    (finding,) = [f for f in result.findings if f.code.startswith("neck-") and "more" in f.text]
    assert "breaks it. And 2 more weak places within 2.5 mm of it. It" in finding.text
    assert finding.at_mm == pytest.approx((20.0, 0.0), abs=1.3)
    alone = looked_at(box(-60, -30, 0, 30).union(box(-1, -0.5, 60, 0.5)))
    assert not any("more weak" in f.text for f in alone.findings)


@pytest.mark.parametrize("words", [Words(), Words(inch=True)])
def test_a_remedy_can_be_typed_as_it_is_printed(words: Words) -> None:
    shape = box(-60, -30, 0, 30).union(box(-1, -0.5, 20, 0.5))
    (finding,) = told(weak_places(pattern(shape), MDF, 6.0, BLADE, words=words), "neck-fragile")
    flag, value = re.findall(r"(--\w+) (\S+),", finding.remedy)[0]
    assert flag == "--thicken" and value.endswith("in" if words.inch else "mm")
    # at least the limit of 0.35 boards, and no more than a tenth over it
    assert 2.1 < length_mm(value) < 2.31
