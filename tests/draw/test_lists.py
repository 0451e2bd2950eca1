"""The list pages: nothing on them is nonsense, nothing that matters is without a place."""

from __future__ import annotations

from dataclasses import replace

from companion.draw.scene import MOST_NOTES
from companion.draw.sheet import make_sheet
from companion.findings import Finding
from companion.planner.plan import Minutes, Plan, SizedHole, Step
from companion.planner.rounds import drill_rounds
from companion.words import ENGLISH
from tests.draw.rendered import texts
from tests.draw.sheet_plans import panel, plan_of


def listed(plan: Plan) -> str:
    """The words of all list pages in one line."""
    sheet = make_sheet(plan)
    return " ".join(" ".join(texts(sheet.pdf)[-sheet.list_pages :]).split())


def slot(k: int) -> Finding:
    """A finding of its own measure, 9 mm beside the one before."""
    text = f"A slot runs {k / 10:.1f} mm deep. It will widen."
    return Finding("slot", "warn", (4.0 + 9.0 * (k % 10), 4.0 + 9.0 * (k // 10)), text, "Mend it.")


def test_places_beyond_the_last_letter_of_the_drawing_are_told_in_figures() -> None:
    most = MOST_NOTES + 5
    plan = replace(plan_of(panel(6, 4)), findings=tuple(map(slot, range(most))))
    told = listed(plan)
    assert "Z: A slot runs 2.5 mm deep." in told
    assert "AA: At 58.0, 22.0 mm. A slot runs 2.6 mm deep." in told
    assert "AE: At 4.0, 31.0 mm. A slot runs 3.0 mm deep." in told
    # what they share, and what helps, is told once
    assert told.count("Mend it.") == told.count("It will widen.") == 1
    assert "have no letter on the drawing" in told
    few = listed(replace(plan, findings=tuple(map(slot, range(3)))))
    assert " At " not in few and "have no letter" not in few


def test_a_stop_is_told_on_the_drawing_that_is_glued_on_and_in_the_list() -> None:
    plan = plan_of(panel(3, 2))
    stops = tuple(replace(slot(k), severity="stop") for k in range(4))
    told = "STOP, do not cut before it is mended: A-D slot."
    pages = [
        " ".join(text.split()) for text in texts(make_sheet(replace(plan, findings=stops)).pdf)
    ]
    assert "STOP: do not cut this, see the list." in pages[0] and told in " ".join(pages[1:])
    assert "STOP" not in listed(replace(plan, findings=(slot(1),)))


def test_a_hole_that_no_drill_fits_asks_for_no_drill_of_no_size() -> None:
    plan = plan_of(panel(3, 2))
    bare = tuple(replace(h, drill_mm=0.0, drill_name="") for h in plan.holes[:2])
    spoilt = replace(plan, holes=(*bare, *plan.holes[2:]))
    numbers = sorted(h.number for h in bare)
    told = listed(spoilt)
    assert "0.00 mm" not in told
    assert f"No drill fits holes {numbers[0]}, {numbers[1]}." in told
    assert not {*numbers} & {n for one in drill_rounds(spoilt.drilled) for n in one.numbers}
    assert "No drill fits" not in listed(plan)


def test_the_summary_tells_hours_as_the_plan_does() -> None:
    plan = plan_of(panel(3, 2))
    paint = Step(
        len(plan.steps) + 1, "finish", None, "Paint", "Paint.", "", Minutes(90.0, 118.0, 150.0),
        wait_min=720.0,
    )  # fmt: skip
    long = replace(plan, minutes=Minutes(137.6, 172.3, 215.8), steps=(*plan.steps, paint))
    told = listed(long)
    assert f"2 h 52 min of work (2 h 18 min to 3 h 36 min), {ENGLISH.duration(118.0)} of" in told
    assert "drying on top 12 h" in told


def test_what_is_drilled_to_size_is_in_the_drill_schedule_and_the_legend_and_in_no_cut() -> None:
    plan = plan_of(panel(3, 2))
    drill = plan.holes[0]
    sized = (
        SizedHole(8, (6.0, 30.0), 6.0, "6.0 mm", 7, 1, 7),
        SizedHole(9, (6.0, 50.0), 6.0, "6.0 mm", 8, 1, 7),
        SizedHole(10, (6.0, 70.0), drill.drill_mm, drill.drill_name, 9, 1, 7),
    )
    told, before = listed(replace(plan, to_size=sized, openings=9)), listed(plan)
    assert "6.0 mm, clamped, 2 holes to size: 8, 9" in told
    assert f"{drill.drill_name}, clamped, 1 hole to size: 10" in told
    assert "9 openings, 10 holes, 3 of them to size" in told
    for said in ("clamps and a backing board", "drill to size", "the drill's manual"):
        assert said in told and said not in before
    # each drill is bought once, and no cut is added
    assert told.count("drills: ") == 1 and told.split("drills: ")[1].count("6.0 mm") >= 1
    assert told.count("inside") == before.count("inside")
