"""Thickening and bridges on words in outside fonts, written and read again.

The words (tests/planner/words) are outlines of openly licensed fonts: thin scripts,
scripts, blackletter. The letters of Ecolier miss each other by some hundredths of a
millimetre where they should join, nearer than any blade passes: there the companion may
only tell which necks it cannot mend, and must keep the parts apart.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from companion.errors import PlanError
from companion.pattern.model import Opening, Pattern, Piece
from companion.pattern.options import ReadOptions
from companion.pattern.reader import read_pattern
from companion.planner.axis import medial_axis
from companion.planner.bridges import bridges
from companion.planner.pattern_svg import pattern_svg
from companion.planner.room import kept_open
from companion.planner.rules import rules_for
from companion.planner.slots import waste_of_opening, widest_mm
from companion.planner.thicken import thicken
from companion.planner.weak import weak_places
from companion.shop import tables

WORDS = json.loads((Path(__file__).parent / "words" / "words.json").read_text("utf-8"))["words"]
MDF, BLADE, BOARD = tables.material("mdf"), tables.blade("3"), 6.0
WANTED = 2.4
TOLERANCE = 0.02
HARD = "Ecolier"


def read_word(entry: dict[str, str], folder: Path) -> Pattern:
    path = folder / "word.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="-500 -4000 20000 6000">'
        f'<path d="{entry["d"]}"/></svg>',
        "utf-8",
    )
    return read_pattern(path, ReadOptions(width_mm=200.0))


def written(pattern: Pattern, folder: Path) -> Pattern:
    path = folder / "again.svg"
    path.write_text(pattern_svg(pattern), "utf-8")
    return read_pattern(path, ReadOptions())


def thin_zone(pattern: Pattern, reach: float) -> BaseGeometry:
    """All places near a stretch thinner than wanted."""
    spots = []
    for piece in pattern.pieces:
        axis = medial_axis(piece.shape)
        spots += axis.xy[axis.thickness < WANTED].tolist()
    return shapely.MultiPoint(spots).buffer(reach) if spots else Polygon()


def whole(pattern: Pattern) -> BaseGeometry:
    return shapely.union_all([p.shape for p in pattern.pieces])


def check_word(entry: dict[str, str], folder: Path) -> None:
    old = read_word(entry, folder)
    done = thicken(old, MDF, BOARD, BLADE, wanted_mm=WANTED)
    new = written(done.pattern, folder)
    assert len(new.pieces) == len(old.pieces)
    if entry["font"] == HARD:
        return
    assert not done.unmet
    assert len(new.openings) == len(old.openings)
    necks = weak_places(new, MDF, BOARD, BLADE).necks
    assert min(n.thickness_mm for n in necks) >= WANTED - TOLERANCE
    needed = BLADE.passes_mm + 2 * rules_for().hole.tight_margin_mm
    for opening in old.openings:
        before = widest_mm(waste_of_opening(old, opening))[1]
        match = next(o for o in done.pattern.openings if o.number == opening.number)
        after = widest_mm(waste_of_opening(done.pattern, match))[1]
        assert after >= min(before, needed) - 0.02
    # nothing was taken away, and what was added lies at the thin places
    # (the reader straightens outlines within some micrometres)
    assert whole(old).difference(whole(new)).buffer(-0.01).is_empty
    added = whole(new).difference(whole(old)).buffer(-0.01)
    assert added.difference(thin_zone(old, 3.0 * WANTED)).is_empty
    assert done.added_mm2 > 0.0 or not done.changes


@pytest.mark.parametrize(
    "entry",
    [w for w in WORDS if w["word"] in ("Thistle", "Kitchen", "Backstube", "Bindery")],
    ids=lambda w: w["word"],
)  # fmt: skip
def test_some_words_hold(entry: dict[str, str], tmp_path: Path) -> None:
    check_word(entry, tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("entry", WORDS, ids=lambda w: f"{w['font']} {w['word']}")
def test_every_word_holds(entry: dict[str, str], tmp_path: Path) -> None:
    check_word(entry, tmp_path)


def test_enough_words() -> None:
    kinds = {w["kind"] for w in WORDS}
    assert {"thin script", "blackletter"} <= kinds
    assert len([w for w in WORDS if w["font"] != HARD]) >= 30


@pytest.mark.parametrize("word", ["Kitchen", "Bindery"])
def test_a_wanted_force_is_reached(word: str, tmp_path: Path) -> None:
    entry = next(w for w in WORDS if w["word"] == word)
    old = read_word(entry, tmp_path)
    done = thicken(old, MDF, BOARD, BLADE, wanted_n=5.0)
    assert not done.unmet and done.changes
    new = written(done.pattern, tmp_path)
    forces = [n.force_n for n in weak_places(new, MDF, BOARD, BLADE).necks if n.force_n is not None]
    assert min(forces) >= 5.0 * 0.97
    assert all(c.before_n is None or c.after_n is None or c.after_n > c.before_n
               for c in done.changes)  # fmt: skip
    # less wood than making the whole outline bolder
    bold = thicken(old, MDF, BOARD, BLADE, wanted_n=5.0, everywhere=True)
    assert not bold.unmet
    assert done.added_mm2 < bold.added_mm2


def test_everywhere_moves_the_whole_outline(tmp_path: Path) -> None:
    entry = next(w for w in WORDS if w["word"] == "Bindery")
    old = read_word(entry, tmp_path)
    done = thicken(old, MDF, BOARD, BLADE, wanted_mm=WANTED, everywhere=True)
    assert not done.unmet
    for before, after in zip(old.pieces, done.pattern.pieces, strict=True):
        if after.shape.area > before.shape.area:
            assert before.shape.exterior.buffer(0.05).difference(after.shape).area < (
                0.2 * before.shape.exterior.buffer(0.05).area
            )


def simple(*shapes: Polygon, within: dict[int, int] | None = None) -> Pattern:
    """A pattern of hand-made pieces."""
    pieces, count = [], 0
    for number, shape in enumerate(shapes, 1):
        rings = [Polygon(r) for r in shape.interiors]
        openings = tuple(Opening(count + k, r, number) for k, r in enumerate(rings, 1))
        count += len(rings)
        pieces.append(Piece(number, shape, openings, (within or {}).get(number)))
    return Pattern(tuple(pieces), (), (), "")


def test_growth_stops_where_the_blade_needs_the_waste() -> None:
    # a bar of 1 mm between two slots of 1.2 mm: there is no room on either side
    frame = box(0, 0, 60, 40)
    for y in (18.3, 20.5):
        hole = box(10, y, 50, y + 1.2)
        cut = frame.difference(hole)
        assert isinstance(cut, Polygon)
        frame = cut
    done = thicken(simple(frame), MDF, BOARD, BLADE, wanted_mm=6.0)
    assert done.unmet
    for opening in done.pattern.openings:
        assert widest_mm(opening.ring)[1] >= 1.18


def test_a_neck_beside_a_slot_grows_to_the_other_side() -> None:
    # the bar lies against a slot of 1.3 mm but has 10 mm of waste at its other side
    frame = box(0, 0, 60, 60).difference(box(10, 20, 50, 21.3)).difference(box(10, 22.3, 50, 40))
    assert isinstance(frame, Polygon)
    done = thicken(simple(frame), MDF, BOARD, BLADE, wanted_mm=3.0)
    assert not done.unmet
    slot = min(done.pattern.openings, key=lambda o: o.ring.area)
    assert widest_mm(slot.ring)[1] >= 1.18
    necks = weak_places(done.pattern, MDF, BOARD, BLADE).necks
    assert min(n.thickness_mm for n in necks) >= 3.0 - TOLERANCE


def test_a_bar_in_a_ring_is_made_to_hold_and_its_force_told() -> None:
    """A bar of 2 x 40 mm between two openings, asked to hold twice as much."""
    frame = box(0, 0, 60, 60).difference(box(10, 12, 50, 28.5)).difference(box(10, 30.5, 50, 48))
    assert isinstance(frame, Polygon)
    (before, *_) = weak_places(simple(frame), MDF, BOARD, BLADE).necks
    assert before.force_n is not None
    done = thicken(simple(frame), MDF, BOARD, BLADE, wanted_n=2 * before.force_n)
    (after, *_) = weak_places(done.pattern, MDF, BOARD, BLADE).necks
    assert after.force_n is not None and not done.unmet
    assert 1.95 * before.force_n <= after.force_n <= 2.2 * before.force_n
    (change,) = done.changes
    assert change.before_n == pytest.approx(before.force_n)
    # told for the place where it was weakest; how finely the wood is drawn moves that a little
    assert change.after_n == pytest.approx(after.force_n, rel=0.1)


H_SHAPE = shapely.union_all([box(10, 10, 16, 50), box(44, 10, 50, 50), box(15, 27, 45, 33)])
# where three ways meet, the middle lies a little inwards of the bars' own
MIDDLE_OF_H = shapely.from_wkt(
    "MULTILINESTRING((13 20, 13 25), (13 35, 13 40), (47 20, 47 25), (47 35, 47 40),"
    "(13.75 30, 46.25 30))"
)


@pytest.mark.parametrize("slot", [1.0, 3.0])
@pytest.mark.parametrize(
    ("shape", "middle"),
    [(H_SHAPE, MIDDLE_OF_H), (box(27, 10, 33, 50), LineString([(30, 20), (30, 40)]))],
)
def test_the_ways_that_stay_open_are_as_wide_as_the_blade_needs_and_hang_together(
    shape: Polygon, middle: BaseGeometry, slot: float
) -> None:
    """Bars of waste, 6 mm wide: only their dead ends may fill up a little."""
    frame = box(0, 0, 60, 60).difference(shape)
    assert isinstance(frame, Polygon)
    kept = kept_open(simple(frame), slot, 2.0, 4.0)[1]
    assert isinstance(kept, Polygon)
    assert kept.contains(middle.buffer(0.48 * slot))
    assert kept.bounds[1] > 15.0 and kept.bounds[3] < 45.0


def test_sturdy_patterns_stay_as_they_are() -> None:
    pattern = simple(box(0, 0, 60, 60))
    done = thicken(pattern, MDF, BOARD, BLADE, wanted_mm=2.4)
    assert done.pattern == pattern
    assert not done.changes and not done.unmet and done.added_mm2 == 0.0


def test_one_wish_only() -> None:
    pattern = simple(box(0, 0, 60, 60))
    for width, force in ((None, None), (2.0, 5.0)):
        with pytest.raises(PlanError):
            thicken(pattern, MDF, BOARD, BLADE, wanted_mm=width, wanted_n=force)


def test_page_keeps_places(tmp_path: Path) -> None:
    for shift in (0.0, -30.0):
        shape = shapely.affinity.translate(box(0, 0, 40, 30), 10 + shift, 10 + shift)
        assert isinstance(shape, Polygon)
        pattern = simple(shape.difference(Point(25 + shift, 25 + shift).buffer(5)))  # type: ignore[arg-type]
        again = written(pattern, tmp_path)
        assert again.kept_area_mm2 == pytest.approx(pattern.kept_area_mm2, abs=0.05)
        x0, y0, x1, y1 = again.bounds_mm
        assert (x1 - x0, y1 - y0) == pytest.approx((40.0, 30.0), abs=1e-3)
        if shift == 0.0:
            assert (x0, y0) == pytest.approx((10.0, 10.0), abs=1e-3)


def island() -> Pattern:
    outer = box(0, 0, 100, 60).difference(box(10, 10, 90, 50))
    assert isinstance(outer, Polygon)
    return simple(outer, box(14, 14, 40, 46), box(60, 20, 70, 30), within={2: 1, 3: 1})


def test_two_bridges_an_island() -> None:
    done = bridges(island(), 3.0)
    assert not done.loose
    assert len(done.pattern.pieces) == 1
    assert [b.island for b in done.bridges] == [2, 2, 3, 3]
    first = done.bridges[0]
    assert first.length_mm == pytest.approx(4.0, abs=1e-6)  # the shortest gap there is
    # straight bars of 3 mm: the added wood is length times width, the ends aside
    gap = sum(b.length_mm for b in done.bridges) * 3.0
    added = done.pattern.kept_area_mm2 - island().kept_area_mm2
    assert added == pytest.approx(gap, rel=0.05)


def test_bridges_are_read_again(tmp_path: Path) -> None:
    again = written(bridges(island(), 3.0).pattern, tmp_path)
    assert len(again.pieces) == 1
    necks = weak_places(again, MDF, BOARD, BLADE).necks
    assert min(n.thickness_mm for n in necks) == pytest.approx(3.0, abs=0.02)


def test_bridges_of_one_island_stand_apart() -> None:
    done = bridges(island(), 3.0)
    for number in (2, 3):
        rim = next(p for p in island().pieces if p.number == number).shape.exterior
        way = [rim.project(Point(b.from_mm)) for b in done.bridges if b.island == number]
        gap = abs(way[0] - way[1])
        assert min(gap, rim.length - gap) >= 0.25 * rim.length - 1e-6


def test_no_island_no_bridge() -> None:
    pattern = simple(box(0, 0, 50, 50))
    assert bridges(pattern, 3.0).pattern == pattern
    assert np.isclose(bridges(pattern, 3.0).pattern.kept_area_mm2, 2500.0)
