"""Habits of the trade: shown beside what the tables hold, and failing nothing where only that.

What a page in print says (C) may fail; what is common practice without a source (P) may not.
"""

from __future__ import annotations

import math

import pytest

from companion.planner.rules import rules_for
from companion.shop.tables import blade_choices, blades, default_drills, number, table
from tests.published.registry import Compare, Source

SOURCE = Source(
    "The trade's common practice, no published source (P); where a page is named it was read (C): "
    "trade magazine fall 1998 p. 36, workshop blogs 2017 to 2021, production-cutting page, work "
    "diary of a pattern cutter (2012), saw-tooth guides.",
    "P",
    "a habit, not a measure",
)
STARTING = [
    (3.175, "2/0", "1"), (6.35, "1", "3"), (12.7, "3", "5"), (19.05, "5", "7"), (25.4, "7", "9"),
]  # fmt: skip
"""Board up to, mm; finest and coarsest blade usually begun with."""


def place(number: str) -> int:
    return [b.number for b in blades()].index(number)


@pytest.mark.parametrize(("up_to_mm", "fine", "coarse"), STARTING)
def test_blade_to_begin_with(row: Compare, up_to_mm: float, fine: str, coarse: str) -> None:
    """Common practice: finer blades for thinner boards."""
    chosen = next(c for c in blade_choices() if up_to_mm <= c.up_to_mm)
    inside = place(fine) <= place(chosen.fine) <= place(chosen.usual) <= place(coarse)
    told = f"{chosen.fine} to {chosen.usual}"
    row(told if not inside else f"{fine} to {coarse}", f"{fine} to {coarse}",
        what=f"blade for boards up to {up_to_mm} mm")  # fmt: skip


def test_numbers_run_from_fine_to_coarse(row: Compare) -> None:
    """Trade magazine, fall 1998 p. 36: a bigger number is wider and has fewer teeth."""
    ordered = [b.number for b in blades()]
    row(" ".join(ordered), "2/0 1 2 3 4 5 7 9 12", what="blades by width", trust="C")
    common = {"2/0", "1", "3", "5", "7", "9", "12"}
    missing = " ".join(sorted(common - set(ordered)))
    row(missing or "none", "none", what="common sizes that are missing", trust="C",
        place="workshop blog, 2021-01-30")  # fmt: skip


def test_teeth_in_the_work(row: Compare) -> None:
    """Saw-tooth guide: never fewer than two teeth in the work."""
    for tpi, mm in ((9.5, 5.35), (12.5, 4.06), (20, 2.54), (28, 1.81)):
        size = next(b for b in blades() if b.tpi == tpi)
        row(2 * 25.4 / size.tpi, mm, abs=0.006, what=f"least board for {tpi} teeth per inch, mm",
            trust="C/D", why="printed to 0.01 mm")  # fmt: skip


def test_relief_plug(row: Compare) -> None:
    """Forum thread: sin(angle) = kerf / drop; 0.020 in and 6 degrees drop 0.191 in."""
    row(0.020 / math.sin(math.radians(6)), 0.191, abs=5e-4, trust="C", what="drop, in",
        why="printed to 0.001 in")  # fmt: skip


def test_life_of_a_blade(row: Compare) -> None:
    """Work diary 2012 (12 to 20 min) and blogs (1 to 2 blades a project): no agreed figure."""
    life = number("timing", "rhythm.blade_life_min")
    row.at_least(life, 12.0, what="minutes of cutting to a blade")
    row.at_most(life, 30.0, what="minutes of cutting to a blade")


def test_pace_of_cutting(row: Compare) -> None:
    """Work diary 2012: 10 x 10 in with 10 to 13 pieces in 12 to 20 min."""
    feed = number("timing", "feed.mm_per_min")
    # about twelve rings of a twelfth of the sheet's area, each cut once
    length = 12 * 4 * math.sqrt(254.0**2 / 12) / 2
    row.at_least(length / feed, 5.0, what="straight cutting of such a sheet, min")
    row.at_most(length / feed, 20.0, what="straight cutting of such a sheet, min")


def test_bridges_are_as_wide_as_the_board_is_thick(row: Compare) -> None:
    """Common practice: uncut bridges as wide as the stock is thick."""
    row(rules_for().start.thick_times, 1.0, rel=0.5, what="wood behind a start, thicknesses")


def test_kerf_is_the_blade_and_a_little(row: Compare) -> None:
    """Forum thread; tool glossary: blade thickness plus set or burr."""
    row.at_least(number("blades", "kerf.added_mm"), 0.01, what="kerf beyond the blade, mm")
    row.at_most(number("blades", "kerf.added_mm"), 0.2, what="kerf beyond the blade, mm")


def test_default_drills_pass_the_usual_blades(row: Compare) -> None:
    """Workshop blog, 2021-01-30: most work is done with 3, 5 and 7."""
    largest = max(d.diameter_mm for d in default_drills())
    for name in ("3", "5", "7"):
        size = next(b for b in blades() if b.number == name)
        row.at_most(size.passes_mm, largest, what=f"No. {name} through the default set, mm")


def test_stack(row: Compare) -> None:
    """Production-cutting page: the whole stack 5/8 to 3/4 in."""
    for mm, layers in ((3.175, 5), (6.35, 3), (9.525, 2)):
        row.at_most(mm * layers, 19.05 + 1e-9, what=f"{layers} layers of {mm} mm", trust="C")


def test_noise_is_told_at_the_action_level(row: Compare) -> None:
    """29 CFR 1910.95: action level 85 dBA over eight hours, a dose of 50 %."""
    text = str(table("checklist")["sources"]["noise"])
    row("85 dBA" if "85 dBA" in text else text, "85 dBA", what="the checklist's own source",
        trust="C")  # fmt: skip
    hours = 8 / 2 ** ((85 - 90) / 5)
    row(100 * 8 / hours, 50.0, what="dose of 8 h at 85 dBA, %", trust="C", place="App. A")
