"""Help, examples, the reference and the shells' completion: all there, and all from the parsers."""

from __future__ import annotations

import argparse
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from companion.cli.examples import EXAMPLES
from companion.cli.help import SHELLS, completion, pages
from companion.cli.main import VERBS, build_parser, main, verb_parsers
from companion.cli.reference import COLUMNS, Page, page_lines, roff
from companion.words import ENGLISH


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path / "home"))


PARSERS = verb_parsers(build_parser(*VERBS))
PAGES = {p.verb: p for p in pages(ENGLISH)}


def arguments(verb: str) -> list[argparse.Action]:
    return list(PARSERS[verb]._actions)


def told(of: Page) -> dict[str, str]:
    return {e.name: e.text for s in of.sections for e in s.entries if s.title != "EXAMPLES"}


@pytest.mark.parametrize("verb", VERBS)
def test_every_option_of_every_verb_is_told(verb: str) -> None:
    entries = told(PAGES[verb])
    assert len(entries) == len(arguments(verb))
    text = " ".join(" ".join(page_lines(PAGES[verb], ENGLISH)).split())
    for action in arguments(verb):
        assert action.help and len(action.help) > 8, action
        assert action.help != argparse.SUPPRESS
        for name in action.option_strings:
            assert any(re.search(rf"(^|, ){name}( |,|$)", e) for e in entries), name
            assert name in text
        for choice in action.choices or () if action.option_strings else ():
            assert str(choice) in text


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_has_examples_that_parse_and_help_shows_them(
    verb: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main([verb, "--help"])
    helped = capsys.readouterr().out
    # help is not wrapped where examples stand
    assert all(len(line) <= 80 for line in helped.splitlines())
    assert ended.value.code == 0
    for command, what in EXAMPLES[verb]:
        assert command in helped and what in helped
        bare = re.sub(r'^eval "\$\((.*)\)"$', r"\1", command).split(" > ")[0]
        name, first, *rest = shlex.split(bare)
        assert (name, first) == ("kerfside", verb)
        build_parser(verb).parse_args([first, *rest])
    with pytest.raises(SystemExit):
        build_parser(verb).parse_args([verb, "--no-such-option"])


def test_pages_fit_the_terminal_and_keep_options_whole() -> None:
    for verb in VERBS:
        lines = page_lines(PAGES[verb], ENGLISH)
        commands = {f"       {command}" for command, _ in EXAMPLES[verb]}
        assert all(len(line) <= COLUMNS for line in lines if line not in commands)
        assert all(line.count("[") == line.count("]") for line in lines)


def test_one_verb_all_verbs_and_a_wrong_one(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["help", "saw"]) == 0
    one = capsys.readouterr().out
    assert one.startswith("NAME\n       kerfside saw - ") and "local codes" in one
    assert main(["help", "--all"]) == 0
    whole = capsys.readouterr().out
    assert re.findall(r"^ {7}kerfside (\w+) - ", whole, re.MULTILINE) == list(VERBS)
    assert whole.count("EXIT CODES") == 1
    assert main(["help"]) == 0
    assert "practice" in capsys.readouterr().out
    assert main(["help", "carve"]) == 2
    assert "no verb 'carve'" in capsys.readouterr().err
    assert main([]) == 2
    assert "help VERB" in " ".join(capsys.readouterr().err.split())


def test_roff_is_sound_and_holds_every_option() -> None:
    text = roff(pages(ENGLISH), ENGLISH)
    assert text.startswith(".TH KERFSIDE 1")
    bold = re.findall(r"^\\fB(.*)\\fR$", text, re.MULTILINE)
    for verb in VERBS:
        for name in told(PAGES[verb]):
            assert name.replace("-", "\\-") in bold
    # whatever starts with a dot is a request that was meant
    requests = {line.split()[0] for line in text.splitlines() if line.startswith((".", "'"))}
    assert requests == {".TH", ".SH", ".SS", ".TP", ".PP", ".B"}
    if shutil.which("mandoc"):
        seen = subprocess.run(["mandoc", "-Tlint", "-Werror"], input=text, capture_output=True,
                              text=True)  # fmt: skip
        assert seen.returncode == 0, seen.stdout
    if shutil.which("groff"):
        seen = subprocess.run(["groff", "-man", "-Tascii", "-ww"], input=text,
                              capture_output=True, text=True)  # fmt: skip
        assert seen.returncode == 0 and not seen.stderr


@pytest.mark.parametrize("shell", SHELLS)
def test_completion_knows_every_verb_and_option(shell: str) -> None:
    script = completion(shell, ENGLISH)
    for verb in VERBS:
        assert verb in script
        for action in arguments(verb):
            for name in action.option_strings:
                # fish writes a long option without its dashes
                assert name in script or f"-l {name[2:]}" in script or f"-s {name[1:]}" in script
    assert "birch-plywood" in script and "waves" in script
    if shutil.which(shell):
        seen = subprocess.run([shell, "-n"], input=script, capture_output=True, text=True)
        assert seen.returncode == 0, seen.stderr


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash here")
def test_bash_completes_verbs_options_choices_and_files(tmp_path: Path) -> None:
    (tmp_path / "gull.svg").write_text("")
    (tmp_path / "gull.txt").write_text("")
    (tmp_path / "script").write_text(completion("bash", ENGLISH))

    def completed(*words: str) -> set[str]:
        typed = " ".join(shlex.quote(w) for w in ("kerfside", *words))
        ask = (f"source ./script; COMP_WORDS=({typed}); COMP_CWORD={len(words)}; "
               "COMP_LINE='x'; _shtab_kerfside; printf '%s\\n' \"${COMPREPLY[@]}\"")  # fmt: skip
        seen = subprocess.run(["bash", "-c", ask], cwd=tmp_path, capture_output=True, text=True)
        return set(seen.stdout.split())

    assert completed("s") == {"saw", "setup", "sheet"}
    assert completed("saw", "--re") == {"--rehearse"}
    assert completed("saw", "--theme", "d") == {"dark"}
    assert completed("plan", "--material", "bi") == {"birch-plywood"}
    assert completed("practice", "wa") == {"waves"}
    assert completed("check", "gu") == {"gull.svg"}


def test_the_reference_speaks_the_users_language() -> None:
    """In an interpreter of its own: argparse keeps the language it first spoke."""
    ask = """
from companion.cli.help import pages
from companion.cli.reference import common_lines, page_lines
from companion.words import words_for
german = words_for("de")
saw = next(p for p in pages(german) if p.verb == "saw")
print("\\n".join([*page_lines(saw, german), *common_lines(german)]))
"""
    told = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True).stdout
    assert "Begleiter an der Säge" in told and "BEISPIELE" in told
    assert "kerfside saw [-h]" in told and "usage" not in told and "Aufruf" not in told
    english = set(page_lines(PAGES["saw"], ENGLISH))
    # what is the same in both: headings of one word, the options themselves, commands
    same = [line for line in told.splitlines() if line in english and len(line.split()) > 4]
    assert all(line.strip().startswith(("kerfside ", "-", "[")) for line in same), same


def test_the_library_that_writes_completion_is_not_loaded_otherwise() -> None:
    ask = "import sys; from companion.cli.main import main; main(['help'])"
    ask += "; print('shtab' in sys.modules)"
    seen = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True)
    assert seen.stdout.splitlines()[-1] == "False"
