"""What is read lightly and kept says what the events say one by one."""

from __future__ import annotations

import sqlite3
from dataclasses import asdict
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.errors import JournalError
from companion.journal.model import Entry
from companion.journal.store import Journal
from companion.review.build import review
from companion.review.digest import FORM, Row, keep_up, summary
from companion.review.facts import facts_of
from companion.review.runs import runs_of, runs_seen, walked_books
from tests.benchmarks.years import LIGHT, fill
from tests.review.test_review import same, without_steps
from tests.session.plans import plan

STEPS = 7
Made = tuple[tuple[str, dict[str, object]], int | None, dict[str, object]]
"""Kind with its own data, step, and what is common to all data."""
_seconds = st.one_of(
    st.floats(0.0, 1e6), st.integers(0, 5000).map(lambda ms: ms / 1000.0), st.just(0.1 + 0.2)
)
# not those that the columns leave out, since what they say is said again: only the machine's own
# walks can show that, see test_as_walked
_plain = st.sampled_from([
    "checklist-done", "resumed", "pause", "go-on", "stop", "stop-left", "asleep", "leave",
    "holes", "a later kind",
])  # fmt: skip
_step = st.one_of(st.none(), st.integers(1, STEPS + 2))
_here = st.fixed_dictionaries({}, optional={
    "mode": st.sampled_from(["step", "pause"]), "at": st.integers(1, STEPS + 1),
    "active_s": _seconds,
})  # fmt: skip
_kind = st.sampled_from(["burning", "wandered"])
_text = st.sampled_from(["", 'he said "mode": "step"', "a\nü,]}"])
_quiet: st.SearchStrategy[tuple[str, dict[str, object]]] = st.one_of(
    st.tuples(st.sampled_from(["step-done", "run-done"]), st.just({})),
    st.tuples(_plain, st.just({})),
    st.tuples(st.just("mishap"), st.fixed_dictionaries(
        {"kind": _kind, "minute": _seconds, "at_mm": st.just([1.5, 2.25])})),
    st.tuples(st.sampled_from(["recovered", "mishap-dropped"]),
              st.fixed_dictionaries({"kind": _kind})),
    st.tuples(st.just("note"), st.fixed_dictionaries({"text": _text})),
)  # fmt: skip
_turning = {
    "back": st.just({}),
    "run-start": st.fixed_dictionaries({}, optional={"at": st.integers(1, 4)}),
    "run-dropped": st.fixed_dictionaries({"replanned": st.booleans()}),
    "corrected": st.one_of(
        st.fixed_dictionaries({"took_s": _seconds}), st.just({"call": True}),
        st.just({"as_logged": True}),
        st.fixed_dictionaries({"mishap_wall_s": st.integers(0, 12).map(float)}),
    ),
}  # fmt: skip


def _runs_with(kinds: list[str]) -> st.SearchStrategy[list[Made]]:
    """Runs in which of all that turns back only these kinds appear."""
    turning = [st.tuples(st.just(k), _turning[k]) for k in kinds]
    done: st.SearchStrategy[tuple[str, dict[str, object]]] = st.tuples(
        st.just("step-done"), st.just({})
    )
    return st.lists(st.tuples(st.one_of(done, *turning, _quiet), _step, _here), max_size=15)


_run = st.one_of(*(_runs_with([k]) for k in _turning), _runs_with([]), _runs_with(list(_turning)))


def entries(name: str, events: list[Made], key: str) -> list[Entry]:
    start = {"plan": key, "project": "Buoy", "work": "w", "mode": "checklist", "at": 1}
    found = [Entry(0.0, 0.0, "s", "run-start", start, name)]
    for n, ((kind, own), step, here) in enumerate(events, 1):
        found.append(Entry(float(n), n / 3.0, "s", kind, {**here, **own}, name, step, step,
                           "cut" if step else None))  # fmt: skip
    return found


@settings(max_examples=300)
@given(st.lists(_run, min_size=1, max_size=3))
def test_columns_say_what_the_events_say_to_the_last_digit(
    runs: list[list[Made]],
) -> None:
    made = plan(cuts=1)
    assert len(made.steps) >= STEPS
    plans = {"kept": facts_of(made.to_json())}
    with Journal(None, "Ada") as journal:
        # the runs take turns, as those of two journals do after one has been taken in
        own = [entries(f"r{n}", events, "kept") for n, events in enumerate(runs)]
        for i in range(max(map(len, own))):
            journal.append([run[i] for run in own if i < len(run)])
        names = list(journal.tips("run"))
        quick = runs_seen(walked_books(journal.walks(names)), plans, {}, with_steps=False)
        assert quick == runs_of(journal.events(), plans, {}, with_steps=False)
        assert quick == runs_of(journal.brief_events(names), plans, {}, with_steps=False)


def test_all_and_one_project_say_the_same_whether_worked_out_before_or_not() -> None:
    with Journal(None) as journal:
        fill(journal, 10_000, 4, LIGHT)
        whole = review(list(journal.events()), journal.sources(), journal.plan_text)
        wanted = asdict(without_steps(whole))
        one = summary(journal, ("Project 2",))
        assert len(journal.digests("run")) == len(one.runs) > 3, "only what was asked for"
        assert [r for r in summary(journal).runs if r.project == "Project 2"] == list(one.runs)
        first, again = summary(journal), summary(journal)
        assert first == again and same(asdict(first), wanted)
        assert summary(journal, ("Project 2",)) == one
        assert not summary(journal, ("Nothing",)).runs


def test_a_spoilt_event_is_named_and_nothing_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "j.sqlite3"
    with Journal(path) as journal:
        fill(journal, 1_000, 2, LIGHT)
    base = sqlite3.connect(path)
    query = """
        SELECT min(number) FROM event WHERE kind = 'step-done' AND run IN
        (SELECT run FROM event WHERE kind = 'run-start' AND data LIKE '%"Project 1"%')
    """
    (number,) = base.execute(query).fetchone()
    base.execute("DROP TRIGGER event_no_update")
    base.execute("UPDATE event SET data = substr(data, 2) WHERE number = ?", (number,))
    base.commit()
    base.close()
    with Journal(path) as journal:
        for projects in (None, ("Project 1",)):
            with pytest.raises(JournalError, match=f"event {number}"):
                summary(journal, projects)
        assert not journal.digests("run") and not journal.digests("session")
        assert summary(journal, ("Project 0",)).runs, "the other project can still be seen"


def test_what_cannot_be_kept_is_shown_all_the_same(tmp_path: Path) -> None:
    path = tmp_path / "j.sqlite3"
    with Journal(path) as journal:
        fill(journal, 1_000, 2, LIGHT)
        pages = journal._base.execute("PRAGMA page_count").fetchone()[0]
        journal._base.execute(f"PRAGMA max_page_count = {pages}")  # stands in for a full disk
        found = summary(journal)
        assert found.runs and not journal.digests("run")
        journal._base.execute("PRAGMA max_page_count = 100000")
        assert summary(journal) == found and journal.digests("run")


def test_after_a_sitting_only_what_has_grown_is_worked_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with Journal(None) as journal:
        fill(journal, 3_000, 2, LIGHT)
        keep_up(journal)
        first = {k: journal.digests(k) for k in ("run", "session", "plan")}
        assert all(first.values()) and len(first["run"]) == len(journal.tips("run"))
        run, *_ = journal.tips("run")
        journal.append([Entry(1e10, 0.0, "later", "note", {"text": "one more"}, run)])
        read: list[str] = []

        def walks(names: list[str]) -> object:
            read.extend(names)
            return Journal.walks(journal, names)

        monkeypatch.setattr(journal, "walks", walks)
        keep_up(journal)
        assert read == [run]
        assert journal.digests("run")[run][0] == journal.count() == journal.tips("session")["later"]
        read.clear()
        summary(journal)
        keep_up(journal)
        assert not read, "all is kept"
        # another form, as after a new version of the program
        kept = journal.digests("run").items()
        older: list[Row] = [
            ("run", n, at, body.replace(f"[{FORM},", "[1,")) for n, (at, body) in kept
        ]
        journal.keep_digests(older[:2])
        keep_up(journal)
        assert sorted(read) == sorted(n for _, n, _, _ in older[:2])
        monkeypatch.setattr("companion.review.digest.MANY", 2)
        journal.keep_digests(older[:2])
        read.clear()
        keep_up(journal)
        assert not read, "that many are left to the review"
