"""``kerfside sheet``: files, messages, exit codes, and the note for the saw."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from companion.cli import sheet
from companion.cli.main import main
from companion.draw.printed import last_sheet
from companion.errors import EXIT_BAD_INPUT, EXIT_FINE, EXIT_STOP_FINDING
from companion.findings import Finding
from companion.planner.plan import Plan
from tests.draw.rendered import page_sizes_mm, texts
from tests.draw.sheet_plans import panel, plan_of

DRAWING = '<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm"/>'


@pytest.fixture
def plan() -> Plan:
    return plan_of(panel(3, 2))


@pytest.fixture
def drawing(tmp_path: Path, plan: Plan, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A bare drawing whose plan is the one made by hand."""
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path / "home"))
    monkeypatch.setattr(sheet, "planned", lambda *_: plan)
    path = tmp_path / "duck.svg"
    path.write_text(DRAWING, encoding="utf-8")
    return path


def test_writes_beside_the_drawing_and_says_so(
    drawing: Path, plan: Plan, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["sheet", str(drawing)]) == EXIT_FINE
    written = drawing.with_name("duck-sheet.pdf")
    assert plan.short_hash in texts(written.read_bytes())[0]
    out = capsys.readouterr().out
    assert str(written) in out and "1 page of drawing on A4" in out and "100 %" in out
    assert sorted(p.name for p in drawing.parent.iterdir()) == [
        "duck-sheet.pdf",
        "duck.svg",
        "home",
    ]


def test_the_saw_can_ask_which_plan_was_printed(drawing: Path, plan: Plan, tmp_path: Path) -> None:
    assert main(["sheet", str(drawing), "--mirror"]) == EXIT_FINE
    note = last_sheet(tmp_path / "home", drawing)
    assert note is not None
    assert (note.short_hash, note.mirrored) == (plan.short_hash, True)


def test_paper_and_no_tile(drawing: Path, tmp_path: Path) -> None:
    out = tmp_path / "x.pdf"
    assert main(["sheet", str(drawing), "-o", str(out), "--paper", "letter"]) == EXIT_FINE
    assert sorted(page_sizes_mm(out.read_bytes())[0]) == pytest.approx([215.9, 279.4], abs=0.02)
    assert main(["sheet", str(drawing), "-o", str(out), "--no-tile"]) == EXIT_FINE
    assert len(page_sizes_mm(out.read_bytes())) >= 2


def test_letter_is_the_paper_of_inch_users(drawing: Path, tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    (home / "settings.toml").write_text("[sawyer]\ninch = true\n", encoding="utf-8")
    assert main(["sheet", str(drawing)]) == EXIT_FINE
    pdf = drawing.with_name("duck-sheet.pdf").read_bytes()
    assert sorted(page_sizes_mm(pdf)[0]) == pytest.approx([215.9, 279.4], abs=0.02)
    assert "4.33 in x 3.54 in" in texts(pdf)[1]


def test_svg_alone_writes_no_pdf(drawing: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.svg"
    assert main(["sheet", str(drawing), "--svg", str(out)]) == EXIT_FINE
    assert "<svg" in out.read_text(encoding="utf-8")
    assert not list(tmp_path.glob("*.pdf"))


def test_a_stop_finding_is_told_and_the_sheet_written(
    drawing: Path, plan: Plan, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    stop = Finding("too-thick", "stop", None, "The stack is too thick.", "Use fewer boards.")
    held = replace(plan, findings=(stop, *plan.findings))
    monkeypatch.setattr(sheet, "planned", lambda *_: held)
    assert main(["sheet", str(drawing)]) == EXIT_STOP_FINDING
    assert "STOP" in capsys.readouterr().out
    assert "The stack is too thick." in texts(drawing.with_name("duck-sheet.pdf").read_bytes())[1]


@pytest.mark.parametrize(
    "extra", [["--paper", "A5"], ["-o", "/nowhere/at/all.pdf"], ["--svg", "/nowhere/x.svg"]]
)
def test_refusals_are_one_line_with_a_remedy(
    drawing: Path, extra: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["sheet", str(drawing), *extra]) == EXIT_BAD_INPUT
    err = capsys.readouterr().err
    assert err.startswith("kerfside: ") and err.count("\n") == 1 and "Traceback" not in err


def test_a_demo_by_its_name_leaves_its_sheet_here_not_inside_the_program(
    drawing: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["sheet", "quay_number"]) == EXIT_FINE
    assert (tmp_path / "quay_number-sheet.pdf").read_bytes().startswith(b"%PDF")
