"""Findings speak of the numbers the sawyer sees: those of holes and cuts, and the pieces' marks."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from shapely.geometry import box

from companion.findings import Finding
from companion.pattern.options import ReadOptions
from companion.planner.make import make_plan
from companion.planner.numbers import cut_of, cut_of_opening, numbered
from companion.planner.plan import Plan
from companion.planner.project import ProjectSpec
from companion.shop.settings import default_settings
from companion.words import ENGLISH, Words
from tests.planner.drawn import disc, pattern_of
from tests.planner.drawn import plan as bench


def islands(width: float, words: Words = ENGLISH) -> Plan:
    """Three openings in a row, an island in the pattern's first, so that it is cut earlier."""
    plate = (box(0, 0, width, 60), [disc(14, (40 + 40 * k, 30)) for k in range(3)], None)
    spec = ProjectSpec("test", Path("."), Path("x.svg"),
                       options=replace(ReadOptions(), shaded="waste"))  # fmt: skip
    return make_plan(spec, pattern_of(plate, (disc(8, (40, 30)), [], 1)), default_settings(), words)


def test_an_island_names_the_cut_that_drops_it() -> None:
    plan = islands(160.0)
    (told,) = [f for f in plan.findings if f.code == "island-drops"]
    (around,) = [c for c in plan.cuts if c.opening == 1]
    assert around.number != 1, "else the two numbers cannot be told apart"
    assert f"once cut {around.number} is made" in told.text


def test_no_finding_speaks_of_an_openings_own_number_or_keeps_a_mark() -> None:
    for words in (ENGLISH, Words("de")):
        plan = islands(800.0, words)
        assert {f.code for f in plan.findings} >= {"island-drops", "board-over-throat"}
        for finding in plan.findings:
            text = finding.text + finding.remedy
            assert not re.search(r"[\ue000\ue001]", text)
            assert not re.search(r"(opening|Öffnung) \d", text)


def test_a_number_without_a_cut_stays_the_patterns() -> None:
    plan = islands(160.0)
    lost = Finding("x", "warn", None, f"cut {cut_of_opening(99)}", f"see {cut_of_opening(1)}")
    (told,) = numbered([lost], plan.cuts)
    (around,) = [c for c in plan.cuts if c.opening == 1]
    assert (told.text, told.remedy) == ("cut 99", f"see {around.number}")


def test_an_outline_is_named_by_its_cut_too() -> None:
    """Two plaques: each outline's mark gives way to the number of its own cut."""
    work = bench(pattern_of((box(0, 0, 60, 40), [], None), (box(70, 0, 90, 40), [], None)))
    plan = islands(160.0)
    outlines = {c.piece: c.number for c in plan.cuts if c.side == "outside"}
    assert set(outlines) == {1, 2}
    marked = [Finding("x", "warn", None, f"cut {cut_of(c)}", "") for c in work.every]
    told = [f.text for f in numbered(marked, plan.cuts)]
    assert told == [f"cut {outlines[c.piece]}" for c in work.every]
