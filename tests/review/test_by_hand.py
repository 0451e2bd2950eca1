"""Two sittings written down event by event, every figure reckoned on paper.

The first goes over midnight; a blade breaks, a leg is taken back, and the wall clock is set back
by an hour. In the night summer time ends; the second sitting finishes the work.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from companion.cli.main import main
from companion.journal.model import Entry
from companion.journal.store import Journal
from companion.review.insight import per_blade
from companion.session.resume import plan_key, work_key
from companion.shop.model import NOBODY
from tests.review.test_review import agree, seen
from tests.session.plans import plan

PLAN = plan(legs=2, cuts=2)
"""13 steps: 5 and 3 min, twice thread 1, legs 1 and 1, lip and clear 0.5, then 4: 20 min."""
WHERE = {s.number: (s.cut, s.stage) for s in PLAN.steps}
Row = tuple[float, str, int | None, dict[str, Any]]
"""Seconds of the sitting's own clock, kind, step, data."""


def after(mode: str, at: int, active_s: float | None = None, **own: object) -> dict[str, Any]:
    """Data in the order in which the machine writes them."""
    told = {"mode": mode, "at": at}
    return {**own, **told} if active_s is None else {**own, **told, "active_s": active_s}


FIRST: tuple[Row, ...] = (
    (0, "session-start", None, {}),
    (0, "run-start", None, after("checklist", 1)),
    (60, "checklist-done", 1, after("step", 1, 0.0, items=9)),  # checks 1.0
    (360, "step-done", 1, after("step", 2, 300.0)),  # other 5.0
    (480, "step-done", 2, after("step", 3, 120.0)),  # other 2.0
    (570, "step-done", 3, after("guard", 4, 90.0)),  # threading 1.5
    (582, "guard-passed", 4, after("step", 4, 0.0, after_stop=False)),  # checks 0.2
    (642, "progress", 4, after("step", 4, 60.0)),
    (672, "step-done", 4, after("step", 5, 90.0)),  # cutting 1.5
    (702, "mishap", 5, after("mishap", 5, 30.0, kind="blade-broke", minute=0.5,
                             at_mm=[20.0, 40.0])),  # cutting 0.5; after midnight
    (822, "recovered", 5, after("guard", 5, 30.0, kind="blade-broke")),  # stopped 2.0
    (834, "guard-passed", 5, after("step", 5, 30.0, after_stop=False)),  # checks 0.2
    (894, "step-done", 5, after("step", 6, 90.0)),  # cutting 1.0
    (900, "back", 6, after("guard", 5, 6.0)),  # other 0.1
    (906, "guard-passed", 5, after("step", 5, 90.0, after_stop=False)),  # checks 0.1
    (936, "step-done", 5, after("step", 6, 120.0)),  # cutting 0.5
    (960, "step-done", 6, after("step", 7, 30.0)),  # other 0.4
    (990, "step-done", 7, after("step", 8, 30.0)),  # other 0.5
    (990, "clock-set", 8, {"shift_s": -3600.0}),
    (1020, "pause", 8, after("pause", 8, 30.0, **{"from": "step"})),  # threading 0.5
    (1320, "leave", 8, after("left", 8, 30.0)),  # paused 5.0
)  # fmt: skip
SECOND: tuple[Row, ...] = (
    (0, "session-start", None, {}),
    (0, "resumed", 8, {"from_session": "first", "at": 8, "drilled": 0}),
    (30, "checklist-done", 8, after("step", 8, 30.0, items=9)),  # checks 0.5
    (60, "step-done", 8, after("guard", 9, 60.0)),  # threading 0.5
    (66, "guard-passed", 9, after("step", 9, 0.0, after_stop=False)),  # checks 0.1
    (126, "step-done", 9, after("step", 10, 60.0)),  # cutting 1.0
    (156, "step-done", 10, after("step", 11, 30.0)),  # cutting 0.5
    (180, "step-done", 11, after("step", 12, 24.0)),  # other 0.4
    (210, "step-done", 12, after("step", 13, 30.0)),  # other 0.5
    (450, "step-done", 13, after("summary", 14, 240.0)),  # other 4.0
    (450, "run-done", None, after("summary", 14, run_s=1224.0)),
    (500, "leave", None, after("left", 14)),  # the screen stood open
)
START = {
    "session-start": {"version": "1", "rehearsed": False, "skill": "beginner", "project": "Buoy"},
    "run-start": {
        "work": work_key(PLAN), "plan": plan_key(PLAN), "project": "Buoy", "material": "mdf",
        "thickness_mm": 6.0, "stack": 2, "blade": "3", "rehearsed": False, "batch": "b",
        "run": 1, "runs": 1,
    },
}  # fmt: skip


def utc(*moment: int) -> float:
    return dt.datetime(*moment, tzinfo=dt.UTC).timestamp()  # type: ignore[misc,arg-type]


def sitting(
    name: str, run: str, begun_s: float, offset: int, rows: tuple[Row, ...], sawyer: str = NOBODY
) -> list[Entry]:
    """The events of one sitting; the wall goes on from where it was set to."""
    found = []
    for mono_s, kind, step, data in rows:
        data = {**START.get(kind, {}), **data}
        if kind in START:
            data["sawyer"] = sawyer
        if kind == "session-start":
            data["utc_offset_min"] = offset
        begun_s += float(data.get("shift_s", 0.0))
        cut, stage = WHERE[step] if step else (None, None)
        found.append(Entry(begun_s + mono_s, mono_s, name, kind, data,
                           None if kind == "session-start" else run, step, cut, stage))  # fmt: skip
    return found


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """The journal and a pupil's, in a place where summer time ends in that night."""
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path))
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    if not hasattr(time, "tzset"):
        pytest.skip("this system cannot be told where it is")
    time.tzset()
    with Journal(tmp_path / "journal.sqlite3", "Ada") as journal:
        journal.keep_plan(plan_key(PLAN), PLAN.to_json())
        journal.append(sitting("first", "r", utc(2026, 10, 24, 21, 50), 120, FIRST))
        journal.append(sitting("second", "r", utc(2026, 10, 25, 19, 0), 60, SECOND))
    with Journal(tmp_path / "pupil.sqlite3", "Tove") as journal:
        journal.keep_plan(plan_key(PLAN), PLAN.to_json())
        journal.append(sitting("pupil", "p", utc(2026, 10, 27, 9, 0), 60, FIRST))
    yield tmp_path
    monkeypatch.undo()
    time.tzset()


def told(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(["review", *arguments]) == 0
    return capsys.readouterr().out


def figures(csv_text: str) -> dict[str, list[str]]:
    """Columns of the CSV by their heads."""
    rows = list(csv.DictReader(io.StringIO(csv_text)))
    return {head: [row[head] for row in rows] for head in rows[0]}


def rows_of(page: str) -> list[list[str]]:
    """All table rows of a page, as text."""
    return [
        [re.sub("<[^>]+>", "", cell) for cell in re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row)]
        for row in re.findall(r"<tr>(.*?)</tr>", page)
    ]


def test_every_figure_of_the_two_sittings(home: Path) -> None:
    with Journal(home / "journal.sqlite3") as journal:
        found = seen(journal)
        assert agree(journal)
    first, second = found.sessions
    assert first.shares == pytest.approx({
        "cutting": 3.5, "threading": 2.0, "other": 8.0, "checks": 1.5, "paused": 5.0,
        "stopped": 2.0,
    })  # fmt: skip
    assert second.shares == pytest.approx({
        "cutting": 1.5, "threading": 0.5, "other": 4.9, "checks": 0.6, "paused": 0.0,
        "stopped": 0.0,
    })  # fmt: skip
    assert (first.minutes, second.minutes) == pytest.approx((22.0, 7.5))
    # eight confirmed, one of them taken back
    assert (first.steps_done, second.steps_done) == (7, 6)
    assert (first.mishaps, second.mishaps) == (1, 0)
    (run,) = found.runs
    assert run.state == "done"
    assert [s.took_min for s in run.steps] == pytest.approx(
        [5, 2, 1.5, 1.5, 2, 0.5, 0.5, 1, 1, 0.5, 0.4, 0.5, 4]
    )
    assert (run.took_min, run.done_planned_min) == pytest.approx((20.4, 20.0))
    assert [(s.stage, s.steps, s.planned_min) for s in run.stages] == [
        ("prepare", 1, 5.0), ("drill", 1, 3.0), ("thread", 2, 2.0), ("cut", 4, 4.0),
        ("lip", 2, 1.0), ("clear", 2, 1.0), ("finish", 1, 4.0),
    ]  # fmt: skip
    assert [s.took_min for s in run.stages] == pytest.approx([5.0, 2.0, 2.5, 5.0, 0.9, 1.0, 4.0])
    assert [(c.took_min, c.thread_took_min, c.ratio) for c in run.cuts] == [
        pytest.approx((3.5, 1.5, 1.75)), pytest.approx((1.5, 1.0, 0.75)),
    ]  # fmt: skip
    # the blade broke half a minute into the second leg
    assert per_blade(run, found.mishaps) == pytest.approx((2.0, 3.0))


def test_the_terminal_and_the_table_say_the_same(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = told(capsys)
    for line in (
        # by the clock of each sitting: before midnight in summer, in the evening in winter
        "  2026-10-24 23:50  Buoy, Ada: 22.0 min, 7 steps done, left",
        "      cutting 16 %, threading 9 %, other steps 36 %, checks 7 %, paused 23 %,",
        "  2026-10-25 20:00  Buoy, Ada: 7.5 min, 6 steps done, left",
        "      cutting 20 %, threading 7 %, other steps 65 %, checks 8 %",
        "      worked 20.4 min, planned 20.0 (17.1 to 23.4)",
        "     1  inside    160 mm  2.0 (1.5 to 2.7)       3.5    +75 %        1.5",
        "     2  outside   160 mm  2.0 (1.5 to 2.7)       1.5    -25 %        1.0",
        "  2026-10-25 00:01  1. blade broke: cut 1 (20 mm, 40 mm), minute 0.5",
        "  2 sessions, 29.5 min at the saw, 1 finished run, 0.32 m cut",
        "  cutting 17 %, threading 8 %, other steps 44 %, checks 7 %, paused 17 %,",
        "  steps done: 20.4 min taken, 20.0 planned (+2 %)",
        "Days with work: 2, longest row 2; weeks in a row: 1, longest 1",
        # 60 / 29.5 of 5.0, 5.0, 5.0, 4.0, 2.5 and 2.1 min
        "  Minutes of an hour at the saw: cutting 10, paused 10, prepare 10, finish 8,",
        "    threading 5, checks 4.",
        "  One Buoy took 20 min. That is 2 boards at once.",
        # 5.0 against 4.0 over four legs
        "  Most beyond the plan: cut, 1.2 min a step where 1.0 were planned; 1.0 min a",
    ):
        assert line in out.splitlines(), line
    table = figures(told(capsys, "Buoy", "--csv", "-"))
    assert table["took_min"] == [
        "5.0", "2.0", "1.5", "1.5", "2.0", "0.5", "0.5", "1.0", "1.0", "0.5", "0.4", "0.5", "4.0",
    ]  # fmt: skip
    assert table["planned_min"] == [f"{s.minutes.likely}" for s in PLAN.steps]
    assert set(table["done"]) == {"1"} and set(table["corrected"]) == {"0"}
    assert table["begun_utc_s"][0] == f"{utc(2026, 10, 24, 21, 50)}"


def test_corrections_reach_every_figure(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told(capsys, "Buoy", "--correct", "cut 1 took 3:00", "--correct", "step 6 call",
         "--correct", "mishap 1 none")  # fmt: skip
    with Journal(home / "journal.sqlite3") as journal:
        found = seen(journal)
        assert agree(journal)
    (run,) = found.runs
    # 3 min over legs of 1.5 and 2; the lip as planned, half a minute as before
    assert [s.took_min for s in run.steps[3:6]] == pytest.approx([9 / 7, 12 / 7, 0.5], abs=1e-4)
    assert run.took_min == pytest.approx(19.9) and run.corrections == 3
    assert run.cuts[0].ratio == pytest.approx(1.5) and run.cuts[0].mishaps == 0
    # the sitting was as long as it was, but nothing broke in it
    assert [s.minutes for s in found.sessions] == pytest.approx([22.0, 7.5])
    assert [s.mishaps for s in found.sessions] == [0, 0] and not found.totals.mishaps
    assert per_blade(run, found.mishaps) == pytest.approx((4.5,))
    out = told(capsys)
    assert "mishap" not in out and "3 corrections" in out
    assert figures(told(capsys, "Buoy", "--csv", "-"))["corrected"] == list("0001110000000")


def test_a_pupil_stands_beside_and_in_nobodys_row(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "21 new events" in told(capsys, "--take-in", str(home / "pupil.sqlite3"))
    assert "0 new events" in told(capsys, "--take-in", str(home / "pupil.sqlite3"))
    out = told(capsys).splitlines()
    # 20.4 of 20 min, and of the other's seven steps 13 of 12; two days of one, one of the other
    assert any(re.match(r"  Ada +2 +29\.5 +\+2 %", line) for line in out)
    assert any(re.match(r"  Tove +1 +22\.0 +\+8 %", line) for line in out)
    assert [line for line in out if "Days with work" in line] == [
        "Ada: Days with work: 2, longest row 2; weeks in a row: 1, longest 1"
    ]
    assert "  3 sessions, 51.5 min at the saw, 1 finished run, 0.48 m cut" in out
    page = home / "page.html"
    told(capsys, "--html", str(page))
    rows = rows_of(page.read_text(encoding="utf-8"))
    for row in (
        ["Ada", "2", "30", "1", "0.32 m", "+2 %", "2.03"],  # one mishap in 29.5 min
        ["Tove", "1", "22", "0", "0.16 m", "+8 %", "2.73"],
        ["Ada", "2", "2", "1", "1"], ["Tove", "1", "1", "1", "1"],
        ["1", "inside", "160 mm", "3", "2.0", "3.5", "+75 %", "1.5", "1"],
        ["1", "2.0"], ["2", "1.5"],  # his blades
        ["blade broke", "1", "line", "1"],
        ["2026-10-24 23:50", "Buoy", "Ada", "22.0", "3.5", "2.0", "8.0", "1.5", "5.0", "2.0",
         "7", "1"],
        ["2026-10-27 10:00", "Buoy", "Tove", "22.0", "3.5", "2.0", "8.0", "1.5", "5.0", "2.0",
         "7", "1"],
    ):  # fmt: skip
        assert row in rows, row
    assert not any(row[0] == "days with work" for row in rows if row)


def test_two_who_gave_no_name_are_two(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (home / "journal.sqlite3").unlink()
    for name, session, run, day in (("journal", "a", "ra", 26), ("pupil", "b", "rb", 27)):
        (home / f"{name}.sqlite3").unlink(missing_ok=True)
        with Journal(home / f"{name}.sqlite3") as journal:
            journal.keep_plan(plan_key(PLAN), PLAN.to_json())
            journal.append(sitting(session, run, utc(2026, 10, day, 8, 0), 60, FIRST))
            journal.append(sitting(f"{session}2", run, utc(2026, 10, day, 18, 0), 60, SECOND))
    came = told(capsys, "--take-in", str(home / "pupil.sqlite3"))
    assert "they are shown as those of pupil." in came
    assert "pupil" not in told(capsys, "--take-in", str(home / "pupil.sqlite3"))
    out = told(capsys)
    assert "Buoy, pupil: done" in out and "Sawyers side by side" in out
    # each worked on one day and finished one: no row of days, no curve, no middle of two
    assert "Days with work" not in out and "One Buoy took 20 min." in out


def test_named_sittings_keep_their_name_whatever_the_file_is_called(home: Path) -> None:
    with Journal(home / "pupil 2.sqlite3") as other:
        other.append(sitting("ole", "o", utc(2026, 10, 27, 9, 0), 60, FIRST[:2], "Ole"))
        other.append(sitting("nobody", "n", utc(2026, 10, 28, 9, 0), 60, FIRST[:2]))
    with Journal(home / "journal.sqlite3", "Ada") as journal:
        journal.take_in(home / "pupil 2.sqlite3")
        found = seen(journal)
        assert agree(journal)
        assert [s.sawyer for s in found.sessions] == ["Ada", "Ada", "Ole", "pupil 2"]
        assert [r.sawyer for r in found.runs] == ["Ada", "Ole", "pupil 2"]
        # another one under the same name of a file
        (home / "pupil 2.sqlite3").unlink()
        with Journal(home / "pupil 2.sqlite3") as third:
            third.append(sitting("third", "t", utc(2026, 10, 29, 9, 0), 60, FIRST[:2]))
        journal.take_in(home / "pupil 2.sqlite3")
        assert [s.sawyer for s in journal.sources()] == ["Ada", "pupil 2", "pupil 2 2"]


def test_a_rehearsal_before_the_name_was_given_makes_no_second_sawyer(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (home / "journal.sqlite3").unlink()
    with Journal(home / "journal.sqlite3") as journal:
        journal.keep_plan(plan_key(PLAN), PLAN.to_json())
        tried = sitting("tried", "t", utc(2026, 10, 23, 8, 0), 120, (*FIRST[:8], SECOND[-1]))
        journal.append([
            replace(e, data={**e.data, "rehearsed": True}) if "rehearsed" in e.data else e
            for e in tried
        ])  # fmt: skip
        for name, rows, day in (("a", FIRST, 26), ("b", SECOND, 27)):
            journal.append(sitting(name, "r", utc(2026, 10, day, 8, 0), 60, rows, "Ole"))
    out = told(capsys)
    assert "Buoy (rehearsal)" in out.replace(f", {NOBODY}", "")
    assert "side by side" not in out and "1 rehearsal is in none of these sums." in out
    assert "Days with work: 2, longest row 2; weeks in a row: 1, longest 1" in out.splitlines()
    assert "  2 sessions, 29.5 min at the saw, 1 finished run, 0.32 m cut" in out.splitlines()
    page = home / "page.html"
    told(capsys, "--html", str(page))
    assert ["days with work", "2"] in rows_of(page.read_text(encoding="utf-8"))
