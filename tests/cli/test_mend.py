"""check --thicken, --hold, --bridge and the pictures of thickness, as a person would call them."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.cli.main import main
from companion.cli.mend import force_n
from companion.errors import UsageError
from companion.pattern.options import ReadOptions
from companion.pattern.reader import read_pattern
from companion.planner.weak import weak_places
from companion.shop import tables

PAGE = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="60mm" viewBox="0 0 100 60">'
THIN = f"""{PAGE}
<path fill-rule="evenodd" d="M5 5H95V55H5ZM10 10V29.5H90V10ZM10 31V50H90V31Z"/></svg>"""
ISLAND = f"""{PAGE}
<path fill-rule="evenodd" d="M5 5H95V55H5ZM15 15V45H85V15ZM40 20H60V40H40Z"/></svg>"""


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path / "home"))


def drawing(folder: Path, text: str) -> Path:
    path = folder / "sign.svg"
    path.write_text(text, "utf-8")
    return path


def test_thicken_writes_beside(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = drawing(tmp_path, THIN)
    assert main(["check", str(path), "--thickness", "6mm", "--thicken", "2.4mm"]) == 0
    out = capsys.readouterr().out
    assert " 1.50 ->  2.4" in out and "sign-holds.svg" in out
    again = read_pattern(tmp_path / "sign-holds.svg", ReadOptions())
    necks = weak_places(again, tables.material("mdf"), 6.0, tables.blade("3")).necks
    assert min(n.thickness_mm for n in necks) >= 2.38
    assert path.read_text("utf-8") == THIN


def test_hold_and_output(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, out = drawing(tmp_path, THIN), tmp_path / "strong.svg"
    # a bar of 1.5 x 80 mm in 6 mm board: fixed-fixed, worst moment 4 F L / 27: 6.8 N
    assert main(["check", str(path), "--thickness", "6mm", "--hold", "20N", "-o", str(out)]) == 0
    again = read_pattern(out, ReadOptions())
    necks = weak_places(again, tables.material("mdf"), 6.0, tables.blade("3")).necks
    assert (necks[0].force_n or 0.0) >= 19.4
    assert "strong.svg" in capsys.readouterr().out


def test_bridge(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = drawing(tmp_path, ISLAND)
    assert main(["check", str(path), "--bridge", "3mm"]) == 0
    assert capsys.readouterr().out.count("Island 2: a bar 5.0 mm long") == 2
    assert len(read_pattern(tmp_path / "sign-bridged.svg", ReadOptions()).pieces) == 1


def test_pictures(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, picture = drawing(tmp_path, THIN), tmp_path / "thick.svg"
    main(["check", str(path), "--show-thickness", "--thickness-svg", str(picture)])
    assert "1: 1.50 mm, breaks at" in capsys.readouterr().out
    assert "thickness-0" in picture.read_text("utf-8")


@pytest.mark.parametrize(
    "flags",
    [
        ["--everywhere"],
        ["-o", "x.svg"],
        ["--thicken", "2mm", "--hold", "5N"],
        ["--hold", "five"],
        ["--hold", "0N"],
        ["--thicken", "2 parsecs"],
    ],
)
def test_wrong_words(tmp_path: Path, flags: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    path = drawing(tmp_path, THIN)
    assert main(["check", str(path), *flags]) == 2
    error = capsys.readouterr().err
    assert error.startswith("kerfside: ") and error.count("\n") == 1
    assert sorted(p.name for p in tmp_path.iterdir() if p.suffix == ".svg") == ["sign.svg"]


def test_the_old_pattern_is_never_replaced(tmp_path: Path) -> None:
    path = drawing(tmp_path, THIN)
    assert main(["check", str(path), "--thicken", "2.4mm", "-o", str(path)]) == 2
    assert path.read_text("utf-8") == THIN


def test_forces() -> None:
    assert force_n("5 N") == 5.0
    assert force_n("1 kg") == pytest.approx(9.80665)
    with pytest.raises(UsageError):
        force_n("5 lbf")
