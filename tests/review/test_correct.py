"""Corrections: new events, shown in place of the old, marked, taken back; nothing is lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.cli.main import main
from companion.errors import UsageError
from companion.journal.store import Journal
from companion.review.build import review
from companion.review.correct import correction, seconds_of
from companion.review.model import Review
from companion.review.observed import timed_steps
from companion.review.text import review_lines
from companion.session import model as m
from companion.session.walk import Walk
from companion.shop import checks
from companion.words import ENGLISH
from tests.review.test_review import agree, go
from tests.session.plans import machine, plan
from tests.session.test_walk import CHECKS, Hands, sit

KINDS = [k.key for k in checks.mishaps()]


def seen(journal: Journal) -> Review:
    return review(list(journal.events()), journal.sources(), journal.plan_text)


def three_legs(journal: Journal, clock: Hands) -> Walk:
    """A run whose first cut has legs of 30, 60 and 90 s, then a mishap in the second one."""
    walk = sit(journal, plan(legs=4), clock)
    legs = iter((30.0, 60.0, 90.0, 60.0))
    while (step := walk.machine.plan.steps[walk.state.step]).cut != 2 or step.stage != "cut":
        cutting = walk.state.mode == "step" and step.stage == "cut"
        go(walk, clock, next(legs) if cutting else 20.0)
    while walk.state.mode != "step":
        go(walk, clock, 3.0)
    go(walk, clock, 10.0, m.Mishap("burning"))
    return walk


def correct(journal: Journal, text: str) -> None:
    found = seen(journal)
    logged = [*found.mishaps, *found.struck]
    journal.append(correction(text, found.runs[-1], logged, KINDS, 2e9))


def test_a_cut_s_time_is_set_right_and_taken_back() -> None:
    clock = Hands()
    with Journal(None) as journal:
        walk = three_legs(journal, clock)
        before, logged = seen(journal), list(journal.events())
        assert before.runs[0].cuts[0].took_min == pytest.approx(4.0)
        correct(journal, "cut 1 took 2:00")
        (run,) = seen(journal).runs
        assert run.cuts[0].took_min == pytest.approx(2.0) and run.cuts[0].corrected
        # in the proportion in which the legs were logged
        assert [s.took_min for s in run.steps if s.cut == 1 and s.stage == "cut"] == pytest.approx(
            [0.25, 0.5, 0.75, 0.5]
        )
        assert run.took_min == pytest.approx(before.runs[0].took_min - 2.0)
        assert run.corrections == 1 and agree(journal)
        page = "\n".join(review_lines(seen(journal), ENGLISH))
        assert "corrected" in page and "1 correction was made afterwards" in page
        # sittings are as long as they were, and what was logged stands there yet
        assert seen(journal).sessions == before.sessions
        assert list(journal.events())[: len(logged)] == logged and journal.check() == []
        correct(journal, "cut 1 logged")
        assert seen(journal).runs == before.runs and agree(journal)
        # the walk goes on where it was
        at = walk.state.step
        walk.close()
        walk = Walk(machine(plan(legs=4)), journal, clock)
        walk.begin()
        assert walk.state.step == at


def test_a_telephone_call_is_no_work_and_teaches_nothing() -> None:
    with Journal(None) as journal:
        three_legs(journal, Hands()).close()
        sawn = [t for t in timed_steps(journal, "beginner", "s", "n") if t.stage == "cut"]
        assert [round(t.seconds) for t in sawn] == [30, 60, 90, 60]
        number = next(s.number for s in plan(legs=4).steps if s.title == "Cut 1.3")
        correct(journal, f"step {number} call")
        step = seen(journal).runs[0].steps[number - 1]
        assert step.took_min == step.planned.likely and step.corrected
        sawn = [t for t in timed_steps(journal, "beginner", "s", "n") if t.stage == "cut"]
        assert [round(t.seconds) for t in sawn] == [30, 60, 60]
        correct(journal, f"step {number} took 45 s")
        sawn = [t for t in timed_steps(journal, "beginner", "s", "n") if t.stage == "cut"]
        assert [round(t.seconds) for t in sawn] == [30, 60, 45, 60]


def test_a_step_done_anew_needs_no_correction() -> None:
    clock = Hands()
    with Journal(None) as journal:
        walk = sit(journal, clock=clock)
        for _ in range(CHECKS + 1):
            go(walk, clock, 10.0)
        correct(journal, "step 1 took 7 min")
        assert seen(journal).runs[0].steps[0].took_min == pytest.approx(7.0)
        go(walk, clock, 0.0, m.Back())
        go(walk, clock, 50.0)
        step = seen(journal).runs[0].steps[0]
        assert step.took_min == pytest.approx(1.0) and not step.corrected


def test_a_mishap_is_struck_out_renamed_and_brought_back() -> None:
    with Journal(None) as journal:
        three_legs(journal, Hands()).close()
        correct(journal, "mishap 1 wandered")
        (found,) = seen(journal).mishaps
        assert (found.kind, found.number, found.corrected) == ("wandered", 1, True)
        correct(journal, "mishap 1 none")
        after = seen(journal)
        assert after.mishaps == () and after.totals.mishaps == {} and len(after.struck) == 1
        assert after.runs[0].corrections == 1 and agree(journal)
        correct(journal, "mishap 1 logged")
        (found,) = seen(journal).mishaps
        assert (found.kind, found.corrected) == ("burning", False)
        assert seen(journal).runs[0].corrections == 0


@pytest.mark.parametrize("text", [
    "", "cut", "cut 1", "cut x took 2", "cut 1 took", "cut 1 took soon", "cut 1 took 0",
    "cut 1 took 99 h", "cut 9 took 2", "step 99 call", "cut 2 call", "mishap 7 none",
    "mishap 1 burnt-toast", "cut 1 maybe", "cut 1 took 1:75",
])  # fmt: skip
def test_what_is_no_correction_is_told(text: str) -> None:
    with Journal(None) as journal:
        three_legs(journal, Hands()).close()
        before = journal.count()
        with pytest.raises(UsageError):
            correct(journal, text)
        assert journal.count() == before


def test_times_as_people_write_them() -> None:
    assert [seconds_of(t) for t in ("4:30", "270 s", "4.5 min", "4,5", "0:05")] == pytest.approx(
        [270, 270, 270, 270, 5]
    )


def test_the_verb_writes_all_or_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path))
    with Journal(tmp_path / "journal.sqlite3") as journal:
        three_legs(journal, Hands()).close()
        n = journal.count()
    assert main(["review", "--correct", "cut 1 took 2:00"]) == 2
    assert main(["review", "Test square", "--correct", "cut 1 took 2:00",
                 "--correct", "cut 9 call"]) == 2  # fmt: skip
    assert main(["review", "Test square", "--run", "1999", "--correct", "cut 1 call"]) == 2
    with Journal(tmp_path / "journal.sqlite3") as journal:
        assert journal.count() == n
    capsys.readouterr()
    assert main(["review", "Test square", "--correct", "cut 1 took 2:00",
                 "--correct", "mishap 1 none"]) == 0  # fmt: skip
    out = capsys.readouterr().out
    assert "corrected" in out and "burning" not in out
    assert main(["review"]) == 0
    assert "corrected" in capsys.readouterr().out
