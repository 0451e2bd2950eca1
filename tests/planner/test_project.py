"""project.toml: every key checked, the folder never left, flags over the file."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from companion.errors import ProjectError
from companion.pattern.options import ReadOptions
from companion.planner.project import Overrides, Pin, load_project

FULL = """
[project]
name = "Harbour sign"
pattern = "pattern.svg"
shaded = "waste"
lines = "cut"
width_mm = 240
rotate_deg = 90
mirror = true
round_openings = "drill"
[board]
material = "mdf"
thickness_mm = 6.0
stack = 2
margin_mm = 0
width_mm = 300
height_mm = 200
[blade]
number = "3"
[[pin]]
opening = 3
start_mm = [41.0, 22.5]
direction = "clockwise"
[[pin]]
piece = 1
direction = "anticlockwise"
"""


def project(folder: Path, text: str) -> Path:
    (folder / "pattern.svg").write_text("<svg/>", encoding="utf-8")
    (folder / "project.toml").write_text(text, encoding="utf-8")
    return folder


def test_every_key_of_the_design_is_read(tmp_path: Path) -> None:
    spec = load_project(project(tmp_path, FULL))
    assert spec.name == "Harbour sign"
    assert spec.pattern == tmp_path / "pattern.svg"
    assert spec.options == ReadOptions("waste", "cut", 240.0, 90.0, True)
    assert (spec.material, spec.thickness_mm, spec.stack, spec.margin_mm) == ("mdf", 6.0, 2, 0.0)
    assert (spec.width_mm, spec.height_mm, spec.blade) == (300.0, 200.0, "3")
    assert spec.round_openings == "drill"
    assert spec.pins == (
        Pin(3, None, (41.0, 22.5), "clockwise"),
        Pin(None, 1, None, "anticlockwise"),
    )


def test_folder_file_and_drawing_lead_to_the_same_pattern(tmp_path: Path) -> None:
    folder = project(tmp_path, FULL)
    assert load_project(folder) == load_project(folder / "project.toml")
    bare = load_project(folder / "pattern.svg")
    assert bare.pattern == folder / "pattern.svg"
    assert (bare.name, bare.material, bare.stack, bare.pins) == ("pattern", "mdf", 1, ())


def test_flags_stand_over_the_file(tmp_path: Path) -> None:
    over = Overrides(100.0, "basswood", 3.0, 1, "piece", "ink", "1", "saw")
    spec = load_project(project(tmp_path, FULL), over)
    assert spec.options == ReadOptions("piece", "ink", 100.0, 90.0, True)
    assert (spec.material, spec.thickness_mm, spec.stack, spec.blade) == ("basswood", 3.0, 1, "1")
    assert spec.round_openings == "saw"
    bare = load_project(tmp_path / "pattern.svg")
    assert bare.round_openings == "saw"


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("width_mm = 240", "widht_mm = 240", "project.widht_mm is unknown"),
        ("[board]", "[bord]", "bord is unknown; known are project, board, blade, finish, pin"),
        ("[[pin]]\nopening", "[pin]\nopening", "cannot be read"),
        ("stack = 2", "stack = 2.5", "board.stack must be a whole number"),
        ("stack = 2", "stack = 0", "board.stack is 0, out of range 1 to 20"),
        ("stack = 2", 'stack = "two"', "board.stack must be a number"),
        ("stack = 2", "stack = true", "board.stack must be a number"),
        ("thickness_mm = 6.0", "thickness_mm = nan", "out of range"),
        ("margin_mm = 0", "margin_mm = -1", "out of range"),
        ('shaded = "waste"', 'shaded = "paper"', "must be piece or waste"),
        ('"drill"', "true", "project.round_openings must be saw or drill, not True"),
        ('name = "Harbour sign"', "name = 7", "must be text in quotes"),
        ("mirror = true", "mirror = 1", "must be true or false"),
        ('pattern = "pattern.svg"', "", "project.pattern is missing"),
        ('pattern = "pattern.svg"', 'pattern = "other.svg"', "is not there: other.svg"),
        ("start_mm = [41.0, 22.5]", "start_mm = [41.0]", "must be two numbers"),
        ("start_mm = [41.0, 22.5]", "start_mm = [41.0, inf]", "must be two numbers"),
        ('direction = "clockwise"', 'direction = "left"', "must be clockwise or anticlockwise"),
        ("opening = 3", "opening = 3\npiece = 1", "needs either opening or piece"),
        ("opening = 3", "", "needs either opening or piece"),
        ('piece = 1\ndirection = "anticlockwise"', "piece = 1", "pins nothing"),
        ("opening = 3", "opening = 3\nspeed = 4", "pin[1].speed is unknown"),
    ],
)
def test_a_slip_is_one_clear_message(tmp_path: Path, old: str, new: str, says: str) -> None:
    assert old in FULL
    with pytest.raises(ProjectError) as error:
        load_project(project(tmp_path, FULL.replace(old, new, 1)))
    assert says in str(error.value)
    assert "project.toml" in str(error.value)
    assert "\n" not in error.value.title


@pytest.mark.parametrize("name", ["../secret.svg", "/etc/hostname", "sub/../../secret.svg"])
def test_the_pattern_may_not_leave_the_folder(tmp_path: Path, name: str) -> None:
    folder = tmp_path / "project"
    (folder / "sub").mkdir(parents=True)
    (tmp_path / "secret.svg").write_text("<svg/>", encoding="utf-8")
    text = FULL.replace("pattern.svg", name)
    with pytest.raises(ProjectError, match="leads out of the project's folder"):
        load_project(project(folder, text))


def test_a_link_out_of_the_folder_is_refused_too(tmp_path: Path) -> None:
    folder = tmp_path / "project"
    folder.mkdir()
    (tmp_path / "secret.svg").write_text("<svg/>", encoding="utf-8")
    project(folder, FULL.replace("pattern.svg", "link.svg"))
    (folder / "link.svg").symlink_to(tmp_path / "secret.svg")
    with pytest.raises(ProjectError, match="leads out"):
        load_project(folder)


def test_nothing_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(ProjectError, match="is not there"):
        load_project(tmp_path / "nothing")
    with pytest.raises(ProjectError, match=r"has no project\.toml"):
        load_project(tmp_path)
    with pytest.raises(ProjectError, match="--stack is 99, out of range 1 to 20"):
        load_project(project(tmp_path, FULL), Overrides(stack=99))


@pytest.mark.parametrize("name", ["a\\u0000.svg", "a" * 5000 + ".svg", "loop.svg"])
def test_a_name_that_cannot_be_followed_is_told(tmp_path: Path, name: str) -> None:
    (tmp_path / "loop.svg").symlink_to(tmp_path / "loop.svg")
    (tmp_path / "project.toml").write_text(f'[project]\npattern = "{name}"\n', encoding="utf-8")
    with pytest.raises(ProjectError, match=r"project\.pattern (cannot be followed|is not there)"):
        load_project(tmp_path)
    with pytest.raises(ProjectError):
        load_project(tmp_path / ("a" * 5000))


HEADED = b'[project]\npattern = "pattern.svg"\n'
HOSTILE = {
    "latin-1": HEADED + b'name = "\xe9"',
    "nul": HEADED + b"\0",
    "utf-16": HEADED.decode().encode("utf-16"),
    "deep lists": HEADED + b"x = " + b"[" * 60_000,
    "deep tables": HEADED + b"x = " + b"{a=" * 20_000,
    "many keys in one": HEADED + b"a." * 5_000 + b"b = 1",
    "too large": HEADED + b"#" * 70_000,
    "more digits than a number may have": HEADED + b"width_mm = " + b"9" * 60_000,
    "a huge number": HEADED + b"width_mm = " + b"9" * 4_000,
    "infinity": HEADED + b"width_mm = 1e999",
    "a date": HEADED + b"width_mm = 2020-01-01",
    "a list for a table": b"project = [1]",
    "a folder": b'[project]\npattern = "sub"',
    "a pipe": b'[project]\npattern = "pipe"',
    "a device": b'[project]\npattern = "/dev/zero"',
    "windows' way out": b'[project]\npattern = "..\\\\..\\\\secret.svg"',
    "nothing": b"",
}


@pytest.mark.parametrize("content", HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_project_is_refused_at_once(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "sub").mkdir()
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe")
    project(tmp_path, "")
    (tmp_path / "project.toml").write_bytes(content)
    start = time.process_time()
    with pytest.raises(ProjectError) as error:
        load_project(tmp_path)
    assert time.process_time() - start < 5.0
    assert error.value.remedy
    assert "project.toml" in str(error.value)
    assert len(str(error.value)) < 400 + len(str(tmp_path))


def test_the_file_itself_may_be_no_file(tmp_path: Path) -> None:
    """A folder, a pipe or a link in a circle in place of project.toml is never opened."""
    makers: dict[str, Callable[[Path], None]] = {
        "folder": Path.mkdir,
        "loop": lambda path: path.symlink_to(path),
    }
    if hasattr(os, "mkfifo"):
        makers["pipe"] = os.mkfifo
    for name, make in makers.items():
        (tmp_path / name).mkdir()
        make(tmp_path / name / "project.toml")
        with pytest.raises(ProjectError, match=r"has no project\.toml"):
            load_project(tmp_path / name)


def test_a_byte_order_mark_is_read_over(tmp_path: Path) -> None:
    project(tmp_path, "")
    (tmp_path / "project.toml").write_bytes(b"\xef\xbb\xbf" + HEADED.replace(b"\n", b"\r\n"))
    assert load_project(tmp_path).pattern.name == "pattern.svg"


def test_a_name_gives_the_terminal_no_orders(tmp_path: Path) -> None:
    text = '[project]\npattern = "pattern.svg"\nname = "Harbour\\u001b[2J\\u009b"\n'
    assert load_project(project(tmp_path, text)).name == "Harbour?[2J?"
