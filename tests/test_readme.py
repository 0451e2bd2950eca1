"""What the papers say is so: commands, verbs, pictures, packages."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
import tomllib
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from companion import __version__
from companion.cli.main import VERBS, build_parser
from tests.tools import pictures

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def block(mark: str) -> str:
    """The one command under a mark."""
    found = re.search(rf"<!-- {mark} -->\n```sh\n(.+)\n```", README)
    assert found is not None
    return found[1]


def test_opens_with_one_paragraph_that_states_the_job() -> None:
    first = README.split("\n\n")[1]
    assert first.startswith("Kerfside ") and "scroll saw" in first
    assert len(re.findall(r"[.:] ", first)) <= 3


def test_the_two_commands_set_everything_up_from_nothing() -> None:
    for command in (block("first command"), block("test command")):
        assert command.startswith("python3 -m venv .venv && .venv/bin/pip install ")
    project = re.search(r"kerfside saw (\S+)$", block("first command"))
    assert project is not None and (ROOT / project[1] / "project.toml").is_file()


def test_every_verb_is_told_and_answers_help() -> None:
    for verb in VERBS:
        assert f"| `{verb}` |" in README
        asked = subprocess.run(
            [sys.executable, "-m", "companion", verb, "--help"], capture_output=True, text=True
        )
        assert asked.returncode == 0 and asked.stdout.startswith(f"usage: kerfside {verb}")


def commands(text: str) -> list[str]:
    """Every command of ours that a text shows between backticks or in a block."""
    shown = re.findall(r"`((?:\$ )?kerfside [^`\n]+)`", text) + re.findall(
        r"^(kerfside [^#\n]+)", text, re.MULTILINE
    )
    return [re.sub(r" [|>] .*$", "", one) for one in shown if "VERB" not in one]


def test_every_command_shown_is_one_that_the_program_takes() -> None:
    shown = commands(README) + commands(GUIDE)
    assert len(shown) > 20
    for one in shown:
        words = shlex.split(one.replace('"$(', "").replace(')"', ""))[1:]
        try:
            build_parser(words[0]).parse_args(words)
        except SystemExit as ended:
            raise AssertionError(one) from ended
    bad = commands("`kerfside saw harbour_sign --fly`")
    with pytest.raises(SystemExit):
        build_parser("saw").parse_args(shlex.split(bad[0])[1:])


@pytest.mark.parametrize("name", sorted(re.findall(r"pictures/(\S+?\.svg)", README)))
def test_pictures_are_what_the_program_shows(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path))
    kept = (pictures.FOLDER / name).read_text(encoding="utf-8")
    ET.fromstring(kept)
    drawn = pictures.drawings()[name] if name not in pictures.screens() else pictures.screen(name)
    assert pictures.bare(drawn) == pictures.bare(kept), "run python -m tests.tools.pictures"


def test_every_demo_is_told_and_credited() -> None:
    for folder in sorted((ROOT / "demo_projects").iterdir()):
        if (folder / "project.toml").is_file():
            assert f"| `{folder.name}` |" in README
            credits = (ROOT / "demo_projects" / "CREDITS.md").read_text(encoding="utf-8")
            assert folder.name in credits


def test_the_guide_names_what_exists() -> None:
    for path in re.findall(r"`((?:companion|tests|demo_projects|sounds)/[\w/.*-]+)`", GUIDE):
        assert list(ROOT.glob(path)), path
    for package in re.findall(r"^\*\*`(\w+)`\*\*", GUIDE, re.MULTILINE):
        assert (ROOT / "companion" / package).is_dir(), package
    for module in re.findall(r"`python -m (tests\.[\w.]+)", GUIDE):
        path = ROOT / module.replace(".", "/")
        assert path.with_suffix(".py").is_file() or (path / "__main__.py").is_file(), module


def test_every_dependency_has_its_reason() -> None:
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    for needed in tomllib.loads(text)["project"]["dependencies"]:
        before = text[: text.index(f'"{needed}"')].rstrip().splitlines()
        assert before[-1].strip().startswith("#"), needed


def test_the_version_is_one_number() -> None:
    declared = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert declared["project"]["version"] == __version__


def test_every_package_has_its_paragraph_and_its_guard() -> None:
    for folder in sorted((ROOT / "companion").iterdir()):
        if (folder / "__init__.py").is_file():
            told = re.search(
                rf"^\*\*`{folder.name}`\*\* (.+?)\n\n", GUIDE, re.MULTILINE | re.DOTALL
            )
            assert told is not None, folder.name
            assert re.search(r"Guarded by\s.*`tests/", told[1], re.DOTALL), folder.name
    layers = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"][
        "importlinter"
    ]["contracts"][0]["layers"]
    shown = GUIDE.split("### Layers\n```\n")[1].split("```")[0].splitlines()
    assert [line.split("  ")[0] for line in shown] == layers


def test_nothing_else_stands_at_the_top_level() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True)
    if listed.returncode:
        pytest.skip("not a checkout")
    tops = {line.split("/")[0] for line in listed.stdout.splitlines()}
    visible = {top for top in tops if not top.startswith(".")}
    wanted = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"}
    assert visible == wanted | {"companion", "tests", "demo_projects", "sounds"}
