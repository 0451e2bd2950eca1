"""The drills table against the sizes in print."""

from __future__ import annotations

import math

import pytest

from companion.planner.to_size import circle_of, drill_for
from companion.shop.tables import all_drills, blades, drill
from tests.planner.drawn import disc
from tests.published.registry import Compare, Source

SOURCE = Source(
    "ASME B94.11M number drills: #80 to #54 as read in a public-domain drill chart (2007), "
    "#53, 50, 47, 45, 43, 42 in a tap-drill table; the others from memory. Fractions by "
    "arithmetic; BS 328 metric steps.",
    "C",
    "sizes are names: exact to 0.1 um",
)
IN_PRINT = """80 .0135 79 .0145 78 .0160 77 .0180 76 .0200 75 .0210 74 .0225 73 .0240 72 .0250
71 .0260 70 .0280 69 .0292 68 .0310 67 .0320 66 .0330 65 .0350 64 .0360 63 .0370 62 .0380
61 .0390 60 .0400 59 .0410 58 .0420 57 .0430 55 .0520 54 .0550 53 .0595 50 .0700 47 .0785
45 .0820 43 .0890 42 .0935""".split()
FROM_MEMORY = """56 .0465 52 .0635 51 .0670 49 .0730 48 .0760 46 .0810 44 .0860 41 .0960 40 .0980
1 .2280""".split()
ENTRY = {
    "2/0": "#72", "1": "#69", "2": "#67", "3": "#65", "4": "#61", "5": "#58", "7": "#55",
    "9": "#53", "12": "#51",
}  # fmt: skip
"""Smallest number drill wider than each blade's diagonal."""


def pairs(words: list[str]) -> list[tuple[str, float]]:
    return [(n, float(v)) for n, v in zip(words[::2], words[1::2], strict=True)]


@pytest.mark.parametrize(("number", "inches"), pairs(IN_PRINT))
def test_number_drills(row: Compare, number: str, inches: float) -> None:
    """ASME B94.11M, number drills."""
    row(drill(f"#{number}").diameter_mm, inches * 25.4, abs=1e-4, what=f"#{number}, mm")


@pytest.mark.parametrize(("number", "inches"), pairs(FROM_MEMORY))
def test_number_drills_from_memory(row: Compare, number: str, inches: float) -> None:
    """ASME B94.11M, number drills, not seen in print."""
    row(drill(f"#{number}").diameter_mm, inches * 25.4, abs=1e-4, what=f"#{number}, mm", trust="M")


def test_the_ends_of_the_range(row: Compare) -> None:
    """Drill-size page: #80 is 0.343 mm, #57 1.092 mm, #1 5.791 mm."""
    for name, mm, trust in (("#80", 0.343, "C"), ("#57", 1.092, "C"), ("#1", 5.791, "C")):
        row(drill(name).diameter_mm, mm, abs=6e-4, what=f"{name}, mm", trust=trust)


def test_fractions(row: Compare) -> None:
    """The fraction of an inch."""
    names = [n for n in all_drills() if n.endswith(" in")]
    assert len(names) == 13
    for name in names:
        over, under = name.removesuffix(" in").split("/")
        row(drill(name).diameter_mm, int(over) / int(under) * 25.4, abs=1e-6, what=f"{name}, mm",
            trust="D")  # fmt: skip


def test_metric_steps(row: Compare) -> None:
    """BS 328: tenths with +.02, +.05, +.08 under 1 mm, 0.05 to 2.95, then 0.1."""
    sizes = sorted(d.diameter_mm for n, d in all_drills().items() if n.endswith(" mm"))
    fine = [round(n / 10 + o, 2) for n in range(2, 10) for o in (0, 0.02, 0.05, 0.08)]
    middle = [round(1 + 0.05 * i, 2) for i in range(40)]
    coarse = [s for s in sizes if s >= 3.0]
    assert [s for s in sizes if s < 3.0] == pytest.approx(fine + middle)
    row(len(fine), len([s for s in sizes if s < 1.0]), what="sizes under 1 mm")
    row(len(middle), len([s for s in sizes if 1.0 <= s < 3.0]), what="sizes 1.0 to 2.95 mm")
    steps = {round(b - a, 3) for a, b in zip(coarse, coarse[1:], strict=False)}
    row(",".join(map(str, sorted(steps))), "0.1", what="step from 3 mm on")


@pytest.mark.parametrize("blade", blades(), ids=lambda b: b.number)
def test_least_hole_of_a_blade(row: Compare, blade: object) -> None:
    """Diagonal of the blade's section; blade sizes themselves are from memory."""
    size = next(b for b in blades() if b == blade)
    diagonal = math.hypot(size.width_mm, size.thickness_mm)
    assert size.passes_mm == pytest.approx(diagonal)
    numbers = [d for n, d in all_drills().items() if n.startswith("#")]
    found = min((d for d in numbers if d.diameter_mm > diagonal), key=lambda d: d.diameter_mm)
    row(found.name, ENTRY[size.number], what=f"least number drill for blade {size.number}",
        trust="D", why="inputs from memory, the step to the next drill is arithmetic")  # fmt: skip


def test_an_independent_point(row: Compare) -> None:
    """Workshop blog, 2017-04-28: a #57 drill passes a No. 3 blade."""
    size = next(b for b in blades() if b.number == "3")
    row.at_most(size.passes_mm, drill("#57").diameter_mm, what="No. 3 through #57, mm")


def test_a_round_opening_of_a_size_in_print_is_made_by_that_drill(row: Compare) -> None:
    """ASME B94.11M: circles of the chart's inches, among all drills that are sold."""
    sold = list(all_drills().values())
    found = []
    for _, inches in pairs(IN_PRINT):
        made = drill_for(circle_of(disc(inches * 25.4 / 2, points=720)), sold)
        found.append("" if made is None else made.name)
    right = sum(name == f"#{n}" for name, (n, _) in zip(found, pairs(IN_PRINT), strict=True))
    row(right, len(pairs(IN_PRINT)), what="circles of a size in print that find their own drill")
