"""What is told on the way, and what lies between cuts, due by the minutes of sawing."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import pytest
import shapely
from shapely.geometry import Polygon, box

from companion.planner.prompts import Work
from companion.planner.steps import _Book, _Rhythm
from companion.planner.timing import Features, feed_amount, rates_for
from companion.shop import tables
from companion.words import ENGLISH
from tests.planner.drawn import pattern_of
from tests.planner.test_reach import PLANNED_CUT
from tests.planner.test_steps import planned

RATES = rates_for("practised")
PLAIN = Features("inside", 1, 100.0, 0.0, 0.0, 0, 0, 0, 6.0, 1.0)


def lasting(minutes: float) -> Features:
    """A straight cut that is sawn in so many minutes."""
    each = feed_amount(PLAIN, RATES).seconds / 100.0
    return replace(PLAIN, straight_mm=minutes * 60.0 / each)


@pytest.mark.parametrize("share", [0.26, 0.34, 0.51, 1.1])
@pytest.mark.parametrize(("stage", "key"), [("vacuum", "vacuum_min"), ("clamp", "clamp_check_min")])
def test_it_is_due_before_the_first_cut_after_its_minutes(
    stage: str, key: str, share: float
) -> None:
    """Cuts of one length, blades that last for ever."""
    every = tables.number("timing", f"rhythm.{key}", 1, 600)
    work = cast(Work, SimpleNamespace(blade_life_min=1e9))
    book, rhythm = _Book(RATES), _Rhythm(work, RATES)
    since = 0.0
    for _ in range(9):
        written = len(book.steps)
        rhythm.before(book, PLANNED_CUT, lasting(share * every), ENGLISH)
        due = since > every
        assert (stage in [s.stage for s in book.steps[written:]]) == due
        since = share * every + (0.0 if due else since)
    assert stage in [s.stage for s in book.steps]


@pytest.mark.parametrize("share", [0.3, 0.45, 0.7])
def test_a_blade_is_changed_before_the_cut_that_would_outlive_it(share: float) -> None:
    life = 60.0
    work = cast(Work, SimpleNamespace(blade_life_min=life, blade=SimpleNamespace(number="3")))
    book, rhythm = _Book(RATES), _Rhythm(work, RATES)
    since = 0.0
    for _ in range(9):
        written = len(book.steps)
        rhythm.before(book, PLANNED_CUT, lasting(share * life), ENGLISH)
        due = since > 0.0 and since + share * life > life
        assert ("blade" in [s.stage for s in book.steps[written:]]) == due
        since = share * life + (0.0 if due else since)
    assert "blade" in [s.stage for s in book.steps]


@pytest.mark.parametrize(("waist", "gently"), [(3.0, True), (5.0, True), (8.0, False)])
def test_a_hand_that_is_told_once_a_cut_hears_of_a_waist_thinner_than_the_board(
    waist: float, gently: bool
) -> None:
    """A dumb-bell of 6 mm board, cut in one go."""
    bell = shapely.union_all(
        [box(0, 0, 60, 60), box(60, 30 - waist / 2, 100, 30 + waist / 2), box(100, 0, 160, 60)]
    )
    assert isinstance(bell, Polygon)
    (step,) = [s for s in planned(pattern_of((bell, [], None))).steps if s.stage == "cut"]
    assert ("gently" in step.say) == gently
