"""Odd computers: no home, odd homes, odd languages, names that are no text, nowhere to write."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from companion.errors import EXIT_BAD_INPUT, EXIT_FINE, EXIT_STOP_FINDING
from tests.hostile.told import DEMO, clear, kerfside

READ = (EXIT_FINE, EXIT_STOP_FINDING)
NO_FOLDERS: dict[str, str | None] = {
    "HOME": None, "XDG_CONFIG_HOME": None, "XDG_DATA_HOME": None, "XDG_CACHE_HOME": None,
    "USERPROFILE": None,
}  # fmt: skip

BARE: dict[str, str | None] = {"PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
"""Python does not mend the locale by itself."""

needs_linux = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="asks for /proc")


def test_no_home_at_all(tmp_path: Path) -> None:
    """The system still knows where the user lives, or says that it does not."""
    clear(kerfside("check", DEMO, surroundings=NO_FOLDERS), *READ, EXIT_BAD_INPUT)


@needs_linux
@pytest.mark.parametrize("verb", ["check", "plan", "sheet", "review", "setup", "saw"])
def test_a_home_that_cannot_be_written(tmp_path: Path, verb: str) -> None:
    """/proc takes no folders, not even from root: what can be done without writing is done."""
    arguments: dict[str, list[str | Path]] = {
        "check": [DEMO], "plan": [DEMO], "sheet": [DEMO, "-o", tmp_path / "s.pdf"], "review": [],
        "setup": ["--skill", "terse"], "saw": [DEMO, "--plain", "--rehearse"],
    }  # fmt: skip
    done = kerfside(verb, *arguments[verb], home=Path("/proc/kerfside"), feed="done\n" * 3)
    wanted = (EXIT_BAD_INPUT,) if verb in ("setup", "saw") else READ + (EXIT_BAD_INPUT,)
    told = clear(done, *wanted)
    if done.returncode == EXIT_BAD_INPUT:
        assert "/proc/kerfside" in told
    if verb in ("check", "plan"):
        assert done.returncode in READ, told


@needs_linux
def test_a_sheet_where_nothing_can_be_written(tmp_path: Path) -> None:
    done = kerfside("sheet", DEMO, "-o", "/proc/sheet.pdf", home=tmp_path)
    assert "/proc/sheet.pdf" in clear(done, EXIT_BAD_INPUT)
    done = kerfside("new", DEMO / "pattern.svg", "/proc/thing", "--no-questions", home=tmp_path)
    clear(done, EXIT_BAD_INPUT)


@needs_linux
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full")
def test_output_onto_a_full_disk(tmp_path: Path) -> None:
    with open("/dev/full", "wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "companion", "plan", str(DEMO)], stdout=full,
            stderr=subprocess.PIPE, env={**os.environ, "KERFSIDE_HOME": str(tmp_path)},
        )  # fmt: skip
    assert b"Traceback" not in done.stderr, done.stderr.decode()
    assert done.returncode == EXIT_BAD_INPUT


@pytest.mark.parametrize(
    "odd",
    [
        {"XDG_CONFIG_HOME": "", "XDG_DATA_HOME": ""},
        {"XDG_CONFIG_HOME": "relative/one", "XDG_DATA_HOME": "./x"},
        {"XDG_DATA_HOME": "/dev/null"},
        {"HOME": "/nowhere/at/all"},
        {"HOME": ""},
        {"KERFSIDE_HOME": "~nobody-of-this-name/x"},
        {"KERFSIDE_HOME": "  "},
    ],
    ids=["empty", "relative", "a-file", "missing-home", "empty-home", "unknown-user", "blanks"],
)
def test_odd_folders(tmp_path: Path, odd: dict[str, str]) -> None:
    where: dict[str, str | None] = {
        "HOME": str(tmp_path), "XDG_CACHE_HOME": str(tmp_path / "cache"), **odd
    }  # fmt: skip
    before = os.getcwd()
    os.chdir(tmp_path)
    try:
        clear(kerfside("check", DEMO, surroundings=where), *READ, EXIT_BAD_INPUT)
    finally:
        os.chdir(before)


@pytest.mark.parametrize("locale", ["C", "POSIX", "tr_TR.UTF-8", "xx_YY.nonsense", "de_DE@euro"])
@pytest.mark.parametrize("verb", ["check", "plan"])
def test_odd_languages(tmp_path: Path, locale: str, verb: str) -> None:
    done = kerfside(
        verb, DEMO, home=tmp_path,
        surroundings={"LC_ALL": locale, "LANG": locale, **BARE, "PYTHONIOENCODING": None},
    )  # fmt: skip
    clear(done, *READ)
    assert len(done.stdout) > 100


def test_german_on_a_terminal_that_knows_no_umlauts(tmp_path: Path) -> None:
    (tmp_path / "settings.toml").write_text('[sawyer]\nlanguage = "de"\n', encoding="utf-8")
    done = kerfside(
        "plan", DEMO, home=tmp_path,
        surroundings={"LC_ALL": "C", **BARE, "PYTHONIOENCODING": "ascii"},
    )  # fmt: skip
    clear(done, *READ)
    assert done.stdout


@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="names are text there")
@pytest.mark.parametrize("verb", ["check", "plan", "sheet", "saw"])
def test_a_folder_whose_name_is_no_text(tmp_path: Path, verb: str) -> None:
    odd = os.path.join(os.fsencode(tmp_path), b"sch\xf6n\xff\n\x1b[31m")
    os.mkdir(odd)
    for file in DEMO.iterdir():
        shutil.copyfile(file, os.path.join(odd, os.fsencode(file.name)))
    more = ["--plain", "--rehearse"] if verb == "saw" else []
    more += ["-o", str(tmp_path / "s.pdf")] if verb == "sheet" else []
    done = kerfside(verb, odd, *more, home=tmp_path / "home", feed="done\n" * 4)
    clear(done)
    # a name can hold an escape sequence: it never reaches the terminal as one
    assert b"\x1b[31m" not in done.stdout + done.stderr


def test_no_input_no_output(tmp_path: Path) -> None:
    """Standard streams that are closed from the start."""
    done = subprocess.run(
        ["sh", "-c", f'exec "{sys.executable}" -m companion check "{DEMO}" <&- >&-'],
        stderr=subprocess.PIPE, env={**os.environ, "KERFSIDE_HOME": str(tmp_path)},
    )  # fmt: skip
    assert b"Traceback" not in done.stderr, done.stderr.decode()
