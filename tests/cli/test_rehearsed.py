"""The demos' recorded rehearsals: they open, are marked, fit today's plans, and stay apart."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from companion.cli import recorded
from companion.cli.common import shipped_plan
from companion.cli.main import main
from companion.errors import JournalError
from companion.journal.store import Journal
from companion.review.build import learning, review
from companion.session.resume import work_key
from companion.words import ENGLISH
from tests.session.plans import plan
from tests.tools import rehearsals

DEMOS = Path(__file__).parents[2] / "demo_projects"
ANEW = "run python -m tests.tools.rehearsals"
NAMES = sorted(f.parent.name for f in DEMOS.glob("*/project.toml"))


def seen_of(name: str) -> Journal:
    journal = Journal(None)
    journal.append(list(recorded.read(DEMOS / name / recorded.FILE)))
    return journal


@pytest.mark.parametrize("name", NAMES)
def test_every_demo_has_one_that_opens_and_is_marked_throughout(name: str) -> None:
    with seen_of(name) as journal:
        found = review(list(journal.events()), journal.sources(), journal.plan_text)
        assert journal.check() == []
    who = rehearsals.SAWYERS[name]
    assert len(found.sessions) >= 2 and len(found.runs) == who.runs
    assert all(s.rehearsed for s in found.sessions) and all(r.rehearsed for r in found.runs)
    # nowhere else does a rehearsal enter a sum
    assert found.totals.sessions == 0 and not learning(found.runs)
    assert all(r.state == "done" for r in found.runs)
    assert sorted(m.kind for m in found.mishaps) == sorted(who.mishaps)
    assert all(m.recovered for m in found.mishaps) and found.notes
    shares = [s.shares for s in found.sessions]
    assert any(s["paused"] > 0 for s in shares) and any(s["stopped"] > 0 for s in shares)


@pytest.mark.parametrize(
    "name", [pytest.param(n, marks=[pytest.mark.slow] * (n == "tide_panel")) for n in NAMES]
)
def test_it_fits_the_plan_of_today(name: str) -> None:
    today = shipped_plan(name)
    file = DEMOS / name / recorded.FILE
    entries = list(recorded.read(file))
    try:
        recorded.must_fit(entries, today, file)
    except JournalError as stale:
        raise AssertionError(ANEW) from stale
    works = {e.data["work"] for e in entries if e.kind == "run-start"}
    assert works == {work_key(today)}, ANEW
    with seen_of(name) as journal:
        for e in journal.events(kind="run-start"):
            if not journal.has_plan(e.data["plan"]):
                journal.keep_plan(e.data["plan"], today.to_json())
        found = recorded.shown(
            review(list(journal.events()), journal.sources(), journal.plan_text), ENGLISH
        )
    ratio = found.totals.took_done_min / found.totals.planned_done_min
    assert 0.7 < ratio < 1.5, ANEW  # minutes of today's plan are still those of a like kind


def test_the_sawyer_learns_and_is_called_to_the_telephone() -> None:
    with seen_of("quay_number") as journal:
        found = review(list(journal.events()), journal.sources(), journal.plan_text)
    curve = list(learning(recorded.shown(found, ENGLISH).runs).values())[0]
    # the call makes one run longer, wherever it falls; the last is quicker all the same
    assert len(curve) == 3 and curve[-1] < 0.92 * curve[0]
    steps = [s for r in found.runs for s in r.steps if s.stage == "cut"]
    by_cut: dict[int | None, list[float]] = {}
    for s in steps:
        by_cut.setdefault(s.cut, []).append(s.took_min)
    assert max(max(own) - sorted(own)[1] for own in by_cut.values()) > 7.0


def test_one_plan_and_sawyer_give_one_rehearsal() -> None:
    who = rehearsals.Sawyer(3, 2, 4.0, mishaps=("blade-broke",))
    lines = rehearsals.record(plan(), who, "square")
    assert lines == rehearsals.record(plan(), who, "square")
    assert lines != rehearsals.record(plan(), rehearsals.Sawyer(4, 2, 4.0), "square")


def test_review_shows_it_and_leaves_the_own_journal_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path / "home"))
    page = tmp_path / "page.html"
    assert main(["review", "quay_number", "--rehearsed"]) == 0
    told = capsys.readouterr().out
    assert told.startswith("A recorded rehearsal: sawyer and clock are made up.")
    named = [line for line in told.splitlines() if "Quay number" in line]
    assert len(named) > 8 and all("Quay number (rehearsal)" in line for line in named)
    # what it comes down to, but nothing that would follow for the reader's own log
    assert "In short" in told and "--calibrate" not in told and "--cost" not in told
    assert main(["review", "quay_number", "--rehearsed", "--html", str(page)]) == 0
    assert page.read_text(encoding="utf-8").count("Quay number (rehearsal)") > 5
    assert main(["review", "quay_number", "--rehearsed", "--json"]) == 0
    assert all(s["rehearsed"] for s in json.loads(capsys.readouterr().out)["sessions"])
    assert not (tmp_path / "home" / "journal.sqlite3").exists()
    assert main(["review", "quay_number", "--rehearsed", "--calibrate"]) == 2
    assert "only looked at" in capsys.readouterr().err
    assert main(["review", "--rehearsed"]) == 2


def test_what_is_not_a_rehearsal_of_this_plan_is_refused(tmp_path: Path) -> None:
    lines = rehearsals.record(plan(), rehearsals.Sawyer(5), "square")
    file = tmp_path / recorded.FILE
    file.write_text("\n".join(lines).replace('"rehearsed":true', '"rehearsed":false', 1))
    with pytest.raises(JournalError, match="not marked as a rehearsal"):
        list(recorded.read(file))
    file.write_text("\n".join(lines))
    entries = list(recorded.read(file))
    recorded.must_fit(entries, plan(), file)
    with pytest.raises(JournalError, match="another plan"):
        recorded.must_fit(entries, plan(legs=2, cuts=1), file)
    file.write_text("{}\n")
    with pytest.raises(JournalError, match="line 1 is no event"):
        list(recorded.read(file))
