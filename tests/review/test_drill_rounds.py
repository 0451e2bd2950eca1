"""Drilling steps in the log: an entry round and a round to size, each against its own time."""

from __future__ import annotations

from pathlib import Path

import pytest
from shapely.geometry import box

from companion.journal.store import Journal
from companion.planner.make import make_plan
from companion.planner.project import ProjectSpec
from companion.planner.timing import rates_for, task
from companion.review.charts import board
from companion.review.observed import timed_steps
from companion.shop.settings import default_settings
from tests.planner.drawn import disc, pattern_of
from tests.review.test_calibrate import walk_through
from tests.session.test_walk import Hands


def test_a_round_to_size_is_judged_by_its_own_time() -> None:
    """Three openings of 3 mm beside a square one: entry holes first, then the thicker drill."""
    holes = [disc(1.5, (x, 20.0)) for x in (15.0, 30.0, 45.0)]
    pattern = pattern_of((box(0, 0, 80, 40), [*holes, box(60, 10, 70, 30)], None))
    spec = ProjectSpec("rack", Path("."), Path("x.svg"), round_openings="drill")
    of = make_plan(spec, pattern, default_settings())
    assert len(of.to_size) == 3 and len(of.holes) == 2
    rates = rates_for("beginner")
    with Journal(None) as journal:
        walk_through(journal, Hands(), of, 1.0, {"saw": "saw", "sawyer": "sawyer"})
        timed = timed_steps(journal, "beginner", "saw", "sawyer")
    expected = [sum(t.table.values()) for t in timed if t.stage == "drill"]
    change = task(rates, "drill_change").seconds
    assert expected == [
        pytest.approx(2 * task(rates, "drill_hole").seconds),
        pytest.approx(3 * task(rates, "drill_to_size").seconds + change),
    ]
    # as the steps have it
    steps = [s.minutes.likely for s in of.steps if s.stage == "drill"]
    assert [60 * m for m in steps] == pytest.approx(expected)


def test_the_board_of_a_review_shows_what_is_drilled_at_its_size_and_without_a_time() -> None:
    pattern = pattern_of((box(0, 0, 80, 40), [disc(1.5, (15.0, 20.0)), box(60, 10, 70, 30)], None))
    spec = ProjectSpec("rack", Path("."), Path("x.svg"), round_openings="drill")
    of = make_plan(spec, pattern, default_settings())
    drawn = board(of, [], [], "board")
    (circle,) = [e for e in drawn.iter() if e.tag.endswith("circle")]
    (hole,) = of.to_size
    assert float(circle.get("r", 0)) == pytest.approx(hole.drill_mm / 2)
    at = [float(circle.get(key, 0)) for key in ("cx", "cy")]
    assert at == pytest.approx(hole.at_mm, abs=0.01)
    # no shade of slow or quick, and no number of a cut
    assert "tone" not in circle.get("class", "")
    numbers = {e.text for e in drawn.iter() if e.tag.endswith("text")}
    assert str(hole.number) not in numbers
