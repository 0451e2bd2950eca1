"""What it comes down to: each sentence against figures worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.journal.store import Journal
from companion.planner.plan import Minutes
from companion.review.advice import in_short, in_short_lines
from companion.review.build import review, together
from companion.review.model import (
    SHARES,
    CutTime,
    MishapSeen,
    Review,
    RunSeen,
    SessionSeen,
    StageSum,
    Totals,
)
from companion.review.runs import RunsSeen
from companion.session import model as m
from companion.words import ENGLISH
from tests.review.test_review import go, one_session
from tests.session.test_walk import Hands, sit


def minutes(likely: float) -> Minutes:
    return Minutes(likely / 2, likely, likely * 2)


def cut(number: int, planned: float, took: float) -> CutTime:
    return CutTime(number, "inside", 100.0, {}, minutes(planned), took, minutes(1.0), 1.0, True, 0)


def run(name: str, took: float, cuts: tuple[CutTime, ...], at_s: float = 0.0) -> RunSeen:
    return RunSeen(
        run=name, project="Buoy", sawyer="Ada", work="w", batch=name, number=1, runs=1,
        rehearsed=False, begun_s=at_s, state="done", at=9, step_count=8, took_min=took,
        planned=minutes(40.0), done_took_min=took, done_planned_min=40.0, cuts=cuts,
        material="mdf", thickness_mm=6.0, stack=1, blade="3",
        stages=(StageSum("thread", 4, 4.0, 8.0), StageSum("cut", 4, 20.0, 20.0),
                StageSum("finish", 1, 16.0, 12.0)),
    )  # fmt: skip


def told(*runs: RunSeen, mishaps: tuple[MishapSeen, ...] = ()) -> Review:
    shares = dict.fromkeys(SHARES, 0.0) | {"cutting": 20.0, "threading": 8.0, "other": 12.0}
    sessions = tuple(
        SessionSeen(r.run, r.project, "Ada", r.rehearsed, r.begun_s, 0, 40.0, shares, "left", 8, 0,
                    0.0) for r in runs
    )  # fmt: skip
    return together(sessions, RunsSeen(runs, mishaps, ()))


def test_where_the_time_goes_and_what_one_takes() -> None:
    times = (60.0, 50.0, 44.0, 43.0, 42.0, 90.0, 41.0)
    lines = in_short(told(*(run(f"r{i}", t, (), i) for i, t in enumerate(times))), ENGLISH)
    # of 40 minutes: 20 cutting, 12 finishing, 8 threading
    assert lines[0] == "Minutes of an hour at the saw: cutting 30, finish 18, threading 12."
    # of the last five 44 43 42 90 41: the middle, not the mean that the 90 spoils
    assert lines[1] == "One Buoy takes 43 min, the middle of the last 5; the first took 60."
    assert lines[2].startswith("Most beyond the plan: thread, 2.0 min a step where 1.0 were "
                               "planned; 4.0 min a run. Lay blade")  # fmt: skip
    assert lines[3] == 'Quicker than planned: the steps of "finish" took 25 % less time.'
    assert lines[-1].startswith("What to charge for ten: ") and "Buoy" in lines[-1]
    (line,) = [s for s in in_short(told(run("a", 55.0, ())), ENGLISH) if s.startswith("One ")]
    assert line == "One Buoy took 55 min."


@pytest.mark.parametrize(("ratio", "sentence"), [
    (1.3, "Your cuts typically take 30 % longer than planned. kerfside review --calibrate"),
    (0.8, "Your cuts typically take 20 % less time than planned. kerfside review --calibrate"),
    (1.05, "Your cuts typically take as long as planned."),
])  # fmt: skip
def test_the_typical_difference_is_not_that_of_one_bad_cut(ratio: float, sentence: str) -> None:
    cuts = tuple(cut(i, 2.0, 2.0 * ratio) for i in range(1, 12)) + (cut(12, 2.0, 60.0),)
    lines = in_short(told(run("a", 60.0, cuts)), ENGLISH)
    assert any(line.startswith(sentence) for line in lines)


def test_the_most_frequent_mishap_and_where() -> None:
    def mishap(kind: str, at: int) -> MishapSeen:
        return MishapSeen(kind, float(at), "a", "cut", 3, 1.0, None, True)

    found = told(run("a", 60.0, ()), mishaps=(
        mishap("burning", 1), mishap("burning", 2), mishap("wandered", 3),
    ))  # fmt: skip
    (line,) = [s for s in in_short(found, ENGLISH) if "mishap" in s]
    assert line.startswith("Most frequent mishap: wood burns, 2 of 3. 2 of them in cut 3 of Buoy. ")
    # those before a plan was made anew happened too, but its cut 3 was another
    before = replace(run("before", 20.0, ()), superseded=True, state="dropped")
    gone_on = told(before, run("a", 60.0, ()), mishaps=(
        *found.mishaps, replace(mishap("burning", 4), run="before"),
    ))  # fmt: skip
    (line,) = [s for s in in_short(gone_on, ENGLISH) if "mishap" in s]
    assert line.startswith("Most frequent mishap: wood burns, 3 of 4. 2 of them in cut 3 of Buoy. ")


def test_nothing_is_concluded_from_nothing() -> None:
    assert in_short(told(replace(run("a", 60.0, ()), rehearsed=True)), ENGLISH) == []
    assert in_short_lines(Review((), (), (), (), Totals()), ENGLISH, 80) == []


def test_lines_fit_the_terminal() -> None:
    clock = Hands()
    with Journal(None) as journal:
        walk = one_session(journal, clock)
        walk = sit(journal, clock=clock)
        while walk.state.mode != "summary":
            go(walk, clock, 30.0, m.Done())
        found = review(list(journal.events()), journal.sources(), journal.plan_text)
    lines = in_short_lines(found, ENGLISH, 60)
    assert lines[1] == "In short" and max(map(len, lines)) < 60


def test_no_charge_is_spoken_of_before_a_run_is_done() -> None:
    lines = in_short(told(replace(run("a", 55.0, ()), state="open")), ENGLISH)
    assert lines and not any("charge" in line for line in lines)
    assert any("charge" in line for line in in_short(told(run("a", 55.0, ())), ENGLISH))
