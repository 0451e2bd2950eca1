"""``kerfside practice``: levels as projects, runs and marks in the log, the next level."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest

from companion.cli import main as cli
from companion.cli.common import planned, user_settings
from companion.devices.paths import journal_file
from companion.journal.store import Journal
from companion.planner.project import load_project
from companion.review.digest import summary
from companion.session import model as m
from companion.session.clock import Clock, MadeUpClock
from companion.session.machine import Machine
from companion.session.texts import shop_texts
from companion.session.walk import Walk
from companion.shop.practice import levels
from tests.session.test_walk import Hands


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path / "home"))
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], *args: object) -> tuple[int, str, str]:
    code = cli.main([str(a) for a in args])
    out, err = capsys.readouterr()
    return code, out, err


def listed(capsys: pytest.CaptureFixture[str]) -> tuple[str | None, dict[str, Any]]:
    told = json.loads(run(capsys, "practice", "--json")[1])
    return told["next"], {one["key"]: one for one in told["levels"]}


def walked(folder: Path, clock: Clock, whole: bool = True) -> None:
    """Walk a project, each input a minute after the one before."""
    settings, words = user_settings()
    plan = planned(load_project(folder), settings, words)
    with Journal(journal_file()) as journal:
        walk = Walk(Machine(plan, shop_texts(), "practised"), journal, clock, anew=True)
        walk.begin()
        while walk.state.ground != "summary":
            if isinstance(clock, Hands):
                clock.go(60.0)
            walk.take(m.Done())
            if not whole and walk.state.step == 2:
                break
        walk.close()


def test_a_level_is_an_ordinary_project(capsys: pytest.CaptureFixture[str], home: Path) -> None:
    folder = home / "waves"
    code, out, _ = run(capsys, "practice", "waves", "-o", folder, "--material", "birch-plywood")
    assert code == 0 and f"Made {folder}." in out
    assert sorted(p.name for p in folder.iterdir()) == ["pattern.svg", "project.toml"]
    assert load_project(folder).material == "birch-plywood"
    assert run(capsys, "plan", folder)[0] == 0
    assert run(capsys, "sheet", folder, "-o", home / "waves.pdf")[0] == 0
    assert (home / "waves.pdf").read_bytes().startswith(b"%PDF")
    again = run(capsys, "practice", "3", "-o", folder)
    assert again[0] == 2 and "not empty" in again[2]


def test_runs_marks_and_the_level_proposed(capsys: pytest.CaptureFixture[str], home: Path) -> None:
    assert listed(capsys)[0] == "lines"
    assert not journal_file().exists()  # looking makes no journal
    refused = run(capsys, "practice", "lines", "--mark", "1")
    assert refused[0] == 2 and "no run of lines" in refused[2]
    for key in ("lines", "parallels"):
        run(capsys, "practice", key, "-o", home / key)

    clock = Hands()
    walked(home / "lines", clock)
    assert "Marked 2: " in run(capsys, "practice", "lines", "--mark", "2")[1]
    after, told = listed(capsys)
    assert after == "lines" and told["lines"]["learnt"] is False
    (first,) = told["lines"]["runs"]
    assert (
        first["done"] and first["mark"] == 2 and first["minutes"] > 10 and first["planned_min"] > 0
    )

    walked(home / "lines", clock)
    out = run(capsys, "practice", "lines", "--mark", "1")[1]
    assert "Next: parallels" in out
    after, told = listed(capsys)
    assert after == "parallels" and told["lines"]["learnt"] is True

    walked(home / "parallels", clock)
    # a bad mark sends back once; marking the run anew replaces it
    assert "Next: lines" in run(capsys, "practice", "parallels", "--mark", "5")[1]
    assert "Next: parallels" in run(capsys, "practice", "parallels", "--mark", "3")[1]
    assert "3 runs" not in run(capsys, "practice")[1]
    shown = run(capsys, "practice", "parallels")[1]
    assert "Trains: " in shown and "Judge: " in shown and "mark 3" in shown


def test_a_level_is_left_raw_and_its_mark_is_asked_for_after_the_session(
    capsys: pytest.CaptureFixture[str], home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = home / "lines"
    run(capsys, "practice", "lines", "-o", folder)
    # it is judged by its printed line: nothing is peeled, sanded or painted before
    told = json.loads(run(capsys, "plan", folder, "--json")[1])
    assert all(s["stage"] != "finish" for s in told["steps"])
    asked = "mark it: kerfside practice lines --mark N"

    def sat(*flags: str) -> str:
        lines = io.StringIO("\n" * 200 + "q\n")
        monkeypatch.setattr("sys.stdin", lines)
        return run(capsys, "saw", folder, "--plain", "--anyway", *flags)[1]

    assert asked not in sat("--rehearse")
    assert asked in sat("--anew").splitlines()[-1]
    run(capsys, "practice", "lines", "--mark", "2")
    # marked: nothing more to ask
    monkeypatch.setattr("sys.stdin", io.StringIO("q\n"))
    assert asked not in run(capsys, "saw", folder, "--plain")[1]


def test_rehearsed_and_dropped_runs_do_not_count(
    capsys: pytest.CaptureFixture[str], home: Path
) -> None:
    run(capsys, "practice", "lines", "-o", home / "lines")
    walked(home / "lines", MadeUpClock())
    assert listed(capsys)[1]["lines"]["runs"] == []
    clock = Hands()
    walked(home / "lines", clock, whole=False)
    (left,) = listed(capsys)[1]["lines"]["runs"]
    assert left["done"] is False
    walked(home / "lines", clock)  # begins anew: the open run is dropped
    (kept,) = listed(capsys)[1]["lines"]["runs"]
    assert kept["done"] is True


def test_a_mark_changes_no_minutes_and_no_sitting(
    capsys: pytest.CaptureFixture[str], home: Path
) -> None:
    run(capsys, "practice", "lines", "-o", home / "lines")
    walked(home / "lines", Hands())
    with Journal(journal_file()) as journal:
        before = summary(journal).totals
    run(capsys, "practice", "lines", "--mark", "0")
    with Journal(journal_file()) as journal:
        assert summary(journal).totals == before
        assert journal.check() == []


@pytest.mark.parametrize("mark", ["-1", "6"])
def test_marks_off_the_scale_are_refused(capsys: pytest.CaptureFixture[str], mark: str) -> None:
    code, _, err = run(capsys, "practice", "lines", f"--mark={mark}")
    assert code == 2 and "Give 0 to 5" in err


def test_an_unknown_level_names_those_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, "practice", "juggling")
    assert code == 2 and all(one.key in err for one in levels())
    assert run(capsys, "practice", "-o", "x")[0] == 2


def test_the_list_shows_every_level_and_the_rule(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "practice")
    assert code == 0
    assert [line for line in out.splitlines() if line.startswith(">")][0].split()[2] == "lines"
    assert all(one.title in out for one in levels())
    assert "the last 2 marks are 2 or better" in " ".join(out.split())
    assert all(len(line) <= 80 for line in out.splitlines())


@pytest.mark.parametrize("asked", [[], ["--why"], ["--why", "drift"], ["squares"]])
def test_no_line_runs_over_the_terminals_edge(
    capsys: pytest.CaptureFixture[str], asked: list[str]
) -> None:
    code, out, _ = run(capsys, "practice", *asked)
    assert code == 0 and all(len(line) <= 80 for line in out.splitlines())
