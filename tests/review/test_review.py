"""Review numbers: worked out by hand, and against the machine's own bookkeeping."""

from __future__ import annotations

import csv
import io
import json
import math
from dataclasses import asdict, replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.cli.main import main
from companion.journal.store import DigestKind, Journal
from companion.planner.plan import Plan, Project
from companion.review.build import learning, review
from companion.review.digest import summary
from companion.review.export import CSV_COLUMNS, event_lines, review_json, steps_csv
from companion.review.facts import NOTHING, facts_of
from companion.review.model import Review
from companion.review.text import review_lines
from companion.session import model as m
from companion.session.clock import MadeUpClock
from companion.session.texts import shop_texts
from companion.session.walk import Walk
from companion.words import ENGLISH
from tests.session.plans import machine, plan
from tests.session.test_walk import CHECKS, Hands, sit

RECOVERY = next(len(r.steps) for r in shop_texts().recoveries if r.key == "blade-broke")
"""Steps until the saw may be checked again."""


def seen(journal: Journal) -> Review:
    return review(list(journal.events()), journal.sources(), journal.plan_text)


def go(walk: Walk, clock: Hands, seconds: float, event: m.Input | None = None) -> None:
    clock.go(seconds)
    walk.take(event or m.Done())


def one_session(
    journal: Journal, clock: Hands, of: Plan | None = None, guards: list[int] | None = None
) -> Walk:
    """A sitting whose every minute is known; see the numbers in the tests below.

    Args:
        journal: to be written to.
        clock: moved by hand.
        of: the plan.
        guards: told how many checks stood before each power-on, 4 s each.
    """
    walk = sit(journal, of, clock)

    def guard() -> None:
        n = 0
        while walk.state.mode == "guard":
            go(walk, clock, 4.0)
            n += 1
        if guards is not None:
            guards.append(n)

    for _ in range(CHECKS):
        go(walk, clock, 6.0)
    go(walk, clock, 240.0)  # glue: 4 min
    go(walk, clock, 120.0)  # drill: 2 min
    go(walk, clock, 90.0)  # thread 1: 1.5 min
    guard()
    go(walk, clock, 60.0, m.Pause())  # cut 1: 1 min
    go(walk, clock, 300.0, m.Pause())  # paused: 5 min
    guard()
    go(walk, clock, 30.0, m.Mishap("blade-broke"))  # cut 1: half a minute more
    for _ in range(RECOVERY):
        go(walk, clock, 120.0 / RECOVERY)  # stopped: 2 min
    guard()
    go(walk, clock, 60.0, m.Note("knot"))
    go(walk, clock, 0.0)  # cut 1: a minute more, 2.5 in all; planned 2
    go(walk, clock, 18.0, m.Stop())  # lip: 0.3 min
    walk.flush()
    go(walk, clock, 60.0)  # stopped: 1 min
    clock.go(12.0)
    walk.close()  # in the guard: 12 s of checks
    return walk


def test_one_session_by_hand() -> None:
    guards: list[int] = []
    with Journal(None) as journal:
        one_session(journal, Hands(), guards=guards)
        found = seen(journal)
    assert len(guards) == 3 and min(guards) >= 3
    (session,) = found.sessions
    assert session.shares == pytest.approx({
        "cutting": 2.5, "threading": 1.5, "other": 4 + 2 + 0.3,
        "checks": (6 * CHECKS + 4 * sum(guards) + 12) / 60, "paused": 5.0, "stopped": 3.0,
    })  # fmt: skip
    assert session.minutes == pytest.approx(sum(session.shares.values()))
    assert (session.ending, session.steps_done, session.mishaps) == ("left", 4, 1)
    (run,) = found.runs
    assert run.state == "open" and run.at == 5 and run.took_min == pytest.approx(10.3)
    first, second = run.cuts
    assert first.done and first.took_min == pytest.approx(2.5)
    assert first.planned.likely == pytest.approx(2.0)
    assert first.ratio == pytest.approx(1.25) and first.thread_took_min == pytest.approx(1.5)
    assert first.turns == {"spin": 1, "back-out": 1, "loop": 1} and first.mishaps == 1
    assert not second.done and second.ratio is None
    (mishap,) = found.mishaps
    # 90 s of 120: three quarters of a square's line, its last corner
    assert mishap.kind == "blade-broke" and mishap.cut == 1 and mishap.recovered
    assert mishap.minute == pytest.approx(1.5) and mishap.at_mm == pytest.approx((0.0, 40.0))
    assert [n.text for n in found.notes] == ["knot"]
    totals = found.totals
    assert totals.sessions == 1 and totals.runs_done == 0 and totals.rehearsals == 0
    assert totals.took_done_min == pytest.approx(10.0)
    assert totals.planned_done_min == pytest.approx(5 + 3 + 1 + 2)
    assert totals.cut_mm == pytest.approx(160.0) and totals.mishaps == {"blade-broke": 1}


def test_undone_steps_and_dropped_mishaps_do_not_count() -> None:
    clock = Hands()
    with Journal(None) as journal:
        walk = sit(journal, clock=clock)
        for _ in range(CHECKS + 2):
            go(walk, clock, 10.0)
        go(walk, clock, 1.0, m.Back())
        go(walk, clock, 1.0, m.Mishap("burning"))
        go(walk, clock, 1.0, m.Back())
        found = seen(journal)
    assert [s.done for s in found.runs[0].steps[:3]] == [True, False, False]
    assert found.mishaps == () and found.totals.mishaps == {}
    assert found.sessions[0].steps_done == 1 and found.sessions[0].ending == "cut off"


def test_undone_end_reopens_the_run() -> None:
    clock = Hands()
    with Journal(None) as journal:
        walk = sit(journal, clock=clock)
        while walk.state.mode != "summary":
            go(walk, clock, 1.0)
        assert seen(journal).runs[0].state == "done"
        go(walk, clock, 1.0, m.Back())
        run = seen(journal).runs[0]
    assert run.state == "open" and not run.steps[-1].done and run.steps[-2].done


def test_a_run_gone_on_with_after_replanning_counts_once() -> None:
    clock = Hands()
    with Journal(None) as journal:
        one_session(journal, clock, plan(legs=1))
        walk = sit(journal, plan(legs=2), clock)
        walk.close()
        found = seen(journal)
    old, new = found.runs
    assert old.superseded and old.state == "dropped" and not new.superseded
    assert new.steps[3].title == "Cut 1.1" and new.took_min == pytest.approx(old.took_min)
    assert found.totals.cut_mm == pytest.approx(160.0)
    assert found.totals.took_done_min == pytest.approx(10.0)
    assert steps_csv(found.runs).count("\r\n") == 1 + len(new.steps)


def test_learning_curve_is_of_finished_real_runs() -> None:
    clock = Hands()
    with Journal(None) as journal:
        walk = sit(journal, clock=clock, runs=3)
        for each_s in (60.0, 40.0, 30.0):
            while walk.state.mode != "summary":
                go(walk, clock, each_s if walk.state.mode == "step" else 0.0)
            go(walk, clock, 0.0)
        walk.close()
        rehearsal = Walk(machine(), journal, MadeUpClock())
        rehearsal.begin()
        while rehearsal.state.mode != "summary":
            rehearsal.take(m.Done())
        rehearsal.close()
        found = seen(journal)
    (curve,) = learning(found.runs).values()
    assert curve == pytest.approx([11.0, 7.0 + 1 / 3, 5.5])
    assert found.totals.runs_done == 3 and found.totals.rehearsals == 1
    page = "\n".join(review_lines(found, ENGLISH))
    assert "Test square: 11.0, 7.3, 5.5 min" in page and "(rehearsal)" in page


def test_the_screen_of_what_is_done_is_no_pause_when_it_stands_open() -> None:
    clock = Hands()
    with Journal(None) as journal:
        walk = sit(journal, clock=clock)
        while walk.state.mode != "summary":
            go(walk, clock, 10.0)
        before = seen(journal).sessions[0]
        clock.go(600.0)
        walk.close()
        session = seen(journal).sessions[0]
    assert session.ending == "left" and session.shares["paused"] == 0.0
    assert session.minutes == before.minutes > 1.0 and session.shares == before.shares


def test_sleep_is_shown_and_in_no_share() -> None:
    clock = Hands()
    with Journal(None) as journal:
        walk = sit(journal, clock=clock)
        for _ in range(CHECKS):
            go(walk, clock, 1.0)
        clock.go(60.0)
        clock.sleep(7200.0)
        go(walk, clock, 0.0)
        session = seen(journal).sessions[0]
    assert session.asleep_min == pytest.approx(120.0)
    assert session.minutes == pytest.approx((CHECKS + 60.0) / 60.0)
    assert session.shares["other"] == pytest.approx(1.0)


INPUTS: tuple[m.Input, ...] = (
    m.Done(), m.Done(), m.Done(), m.Done(), m.Back(), m.Pause(), m.Stop(), m.Tick(),
    m.Mishap("burning"), m.Note("n"), m.Again(),
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from(INPUTS), st.integers(0, 600)), max_size=80),
    st.integers(1, 3),
)
def test_review_agrees_with_the_machine_whatever_was_pressed(
    pressed: list[tuple[m.Input, int]], legs: int
) -> None:
    """Two ways to the same time: sums of intervals by mode, and the step clock of the machine."""
    clock = Hands()
    with Journal(None) as journal:
        walk = sit(journal, plan(legs), clock)
        for _ in range(CHECKS):
            go(walk, clock, 1.0)
        for event, seconds in pressed:
            go(walk, clock, float(seconds), event)
        at, spent = walk.state.step, list(walk.state.spent_s)
        if at < len(spent):
            spent[at] = walk.state.active_s(clock.mono)
        assert agree(journal)
        walk.close()
        assert agree(journal)
        found = seen(journal)
    (run,), (session,) = found.runs, found.sessions
    assert [s.took_min * 60 for s in run.steps] == pytest.approx(spent, abs=2e-3)
    worked = session.shares["cutting"] + session.shares["threading"] + session.shares["other"]
    assert worked * 60 == pytest.approx(sum(spent), abs=0.2)
    powered = sum(s for s, step in zip(spent, walk.machine.plan.steps, strict=True)
                  if step.stage == "cut")  # fmt: skip
    assert session.shares["cutting"] * 60 == pytest.approx(powered, abs=0.2)
    # every step before the one in hand is done, and none after it
    assert [s.done for s in run.steps] == [i < at for i in range(len(spent))]
    assert session.steps_done == at


# ------------------------------------------------------------- forms


def test_json_holds_all_and_stays_so() -> None:
    with Journal(None) as journal:
        one_session(journal, Hands())
        found = seen(journal)
        whole = json.loads(review_json(found))
        lines = [json.loads(line) for line in event_lines(journal.events())]
        assert len(lines) == journal.count()
    assert whole["schema"] == 1
    assert set(whole) == {
        "schema", "sessions", "runs", "mishaps", "notes", "totals", "struck",
    }  # fmt: skip
    cut = whole["runs"][0]["cuts"][0]
    assert cut["took_min"] == 2.5 and cut["ratio"] == 1.25
    assert whole["runs"][0]["took_min"] == pytest.approx(10.3)
    assert whole["mishaps"][0]["kind"] == "blade-broke"
    assert {"session", "run", "wall_s", "mono_s", "source", "seq"} <= set(lines[0])


def test_csv_reads_back_and_is_no_formula() -> None:
    clock = Hands()
    named = replace(plan(), project=Project('=1+1, "x"', "0"))
    with Journal(None) as journal:
        one_session(journal, clock, named)
        rows = list(csv.DictReader(io.StringIO(steps_csv(seen(journal).runs), newline="")))
    assert len(rows) == 11 and tuple(rows[0]) == CSV_COLUMNS
    assert rows[0]["project"] == '\'=1+1, "x"'
    assert [r["took_min"] for r in rows[:4]] == ["4.0", "2.0", "1.5", "2.5"]
    assert [r["done"] for r in rows[:5]] == ["1", "1", "1", "1", "0"]


def test_plan_that_is_not_kept_leaves_the_times() -> None:
    with Journal(None) as journal:
        one_session(journal, Hands())
        found = review(list(journal.events()), journal.sources(), lambda _key: None)
    (run,) = found.runs
    assert run.took_min == pytest.approx(10.3) and run.cuts[0].took_min == pytest.approx(2.5)
    assert run.cuts[0].ratio is None
    assert facts_of("{}") is not None and facts_of("not json") == NOTHING
    assert review_lines(found, ENGLISH)


def test_nothing_logged() -> None:
    with Journal(None) as journal:
        assert review_lines(seen(journal), ENGLISH) == ["Nothing is logged yet."]


def test_text_names_what_matters() -> None:
    with Journal(None) as journal:
        one_session(journal, Hands())
        page = "\n".join(review_lines(seen(journal), ENGLISH))
    for part in ("+25 %", "blade broke: cut 1 (0 mm, 40 mm), minute 1.5", "knot",
                 "open at step 5 of 11", "1 cut not begun", "0.16 m cut"):  # fmt: skip
        assert part in page, part


# ------------------------------------------------------------- the verb


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path))
    with Journal(tmp_path / "journal.sqlite3") as journal:
        one_session(journal, Hands())
    return tmp_path


def test_review_of_a_project_by_its_logged_name(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["review", "Test square", "--json"]) == 0
    one = json.loads(capsys.readouterr().out)
    assert main(["review", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == one
    assert main(["review", "Other"]) == 2
    told = capsys.readouterr().err
    assert "nothing is logged of Other" in told and "Logged last: " in told


def test_review_writes_files_and_keeps_the_journal(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table, lines, copy = home / "t.csv", home / "e.jsonl", home / "copy.sqlite3"
    assert main(["review", "--csv", str(table)]) == 0
    assert main(["review", "--events", str(lines)]) == 0
    assert capsys.readouterr().out == ""
    assert len(table.read_bytes().split(b"\r\n")) == 13
    assert main(["review", "--verify", "--backup", str(copy)]) == 0
    assert main(["review", "--take-in", str(copy)]) == 0
    out = capsys.readouterr().out
    n = len(lines.read_text().splitlines())
    assert f"{n} events, no damage." in out and "0 new events taken in." in out
    assert main(["review", "--csv", str(home / "no" / "t.csv")]) == 2
    capsys.readouterr()
    assert main(["review", "--take-in", str(table)]) == 2
    assert "this file is not a journal" in (told := capsys.readouterr().err)
    assert "Check its name" in told and "begin a new journal" not in told


def test_review_with_no_journal_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path / "none"))
    assert main(["review"]) == 0
    assert capsys.readouterr().out == "Nothing is logged yet.\n"


# ------------------------------------------------------------- digests


def without_steps(found: Review) -> Review:
    return replace(found, runs=tuple(replace(r, steps=()) for r in found.runs))


def same(a: object, b: object) -> bool:
    """Equal, but for the last digits that another order of adding gives."""
    if isinstance(a, float) and isinstance(b, float):
        return math.isclose(a, b, rel_tol=1e-9, abs_tol=1e-9)
    if isinstance(a, dict) and isinstance(b, dict):
        return a.keys() == b.keys() and all(same(a[k], b[k]) for k in a)
    if isinstance(a, list | tuple) and isinstance(b, list | tuple):
        return len(a) == len(b) and all(same(x, y) for x, y in zip(a, b, strict=True))
    return a == b


def agree(journal: Journal) -> bool:
    """The quick way over all says what the slow one says, whether worked out before or not."""
    wanted = asdict(without_steps(seen(journal)))
    return all(same(asdict(summary(journal)), wanted) for _ in range(2))


def test_summary_says_what_the_whole_review_says_and_reads_only_what_grew(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    clock = Hands()
    with Journal(None) as journal:
        one_session(journal, clock)
        walk = sit(journal, plan(legs=2), clock)
        go(walk, clock, 5.0, m.Mishap("burning"))
        go(walk, clock, 5.0, m.Note("ü"))
        walk.close()
        assert agree(journal)

        def never(*_args: object, **_kept: object) -> None:
            raise AssertionError("events were read again")

        with monkeypatch.context() as patch:
            for way in ("events", "brief_events", "walks", "tallies"):
                patch.setattr(journal, way, never)
            again = summary(journal)
        assert same(asdict(again), asdict(without_steps(seen(journal))))
        # a session more on the same run: both digests are made anew
        walk = sit(journal, plan(legs=2), clock)
        for _ in range(CHECKS + 2):
            go(walk, clock, 20.0)
        walk.close()
        assert agree(journal)


def test_spoilt_digest_is_made_anew() -> None:
    with Journal(None) as journal:
        one_session(journal, Hands())
        wanted = summary(journal)
        kinds: tuple[DigestKind, ...] = ("run", "session", "plan")
        for kind in kinds:
            kept = journal.digests(kind)
            assert kept
            journal.keep_digests([(kind, n, upto, "[0, spoilt") for n, (upto, _) in kept.items()])
            assert summary(journal) == wanted
            assert journal.digests(kind) == kept, "made anew as it was"
