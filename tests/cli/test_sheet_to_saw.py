"""From a drawing to the sheet, and the sheet's hash at the saw; the picture of what was read."""

from __future__ import annotations

import os
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from companion.cli.main import main
from companion.errors import EXIT_BAD_INPUT
from tests.draw.rendered import texts

DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="60mm"
viewBox="0 0 80 60"><path fill-rule="evenodd"
d="M5 5H75V55H5Z M20 20V40H40V20Z M50 30a8 8 0 1 0 16 0a8 8 0 1 0 -16 0Z"/></svg>"""


@pytest.fixture
def drawing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path / "home"))
    path = tmp_path / "tag.svg"
    path.write_text(DRAWING, encoding="utf-8")
    return path


def walk(drawing: Path, *more: str) -> str:
    """The first words of the plain walk, left at once."""
    ran = subprocess.run(
        [sys.executable, "-m", "companion", "saw", str(drawing), "--plain", "--rehearse",
         "--anyway", "--silent", *more],
        input="q\n", text=True, capture_output=True, env=dict(os.environ), check=False,
    )  # fmt: skip
    assert "Traceback" not in ran.stderr
    return ran.stdout


def test_sheet_and_saw_bear_the_same_hash_until_the_plan_changes(drawing: Path) -> None:
    main(["sheet", str(drawing)])
    page = texts(drawing.with_name("tag-sheet.pdf").read_bytes())[0]
    said = walk(drawing)
    name = said.split("Plan ")[1][:8]
    assert f"plan {name}" in page
    assert "last sheet" not in said
    assert f"The last sheet shows plan {name}" in walk(drawing, "--width", "60mm")


def test_check_draws_what_was_read(
    drawing: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "read.svg"
    main(["check", str(drawing), "--svg", str(out)])
    capsys.readouterr()
    root = ET.parse(out).getroot()
    words = {t.text for t in root.iter("{http://www.w3.org/2000/svg}text")}
    assert {"P1", "1", "2", "70 mm", "50 mm"} <= words
    assert len([e for e in root.iter() if (e.get("id") or "").startswith("opening-")]) == 2
    assert main(["check", str(drawing), "--svg", "/nowhere/x.svg"]) == EXIT_BAD_INPUT
    assert capsys.readouterr().err.startswith("kerfside: cannot write")
