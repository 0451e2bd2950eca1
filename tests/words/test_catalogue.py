"""The catalogues: nothing missing, nothing stale, every field kept, prompts translated."""

from __future__ import annotations

import io
import re
import sys
from pathlib import Path

import pytest
from babel.messages.catalog import Message
from babel.messages.pofile import read_po

from companion.cli import common
from companion.cli.main import main
from companion.planner.plan import plan_from_json
from companion.words import languages, words_for
from tests.tools import catalogue
from tests.words.conftest import Missed

FOLDER = catalogue.LOCALES / "de" / "LC_MESSAGES"
DRAWING = catalogue.PACKAGE.parent / "demo_projects" / "harbour_sign" / "pattern.svg"
FIELD = re.compile(r"{(\w*)([^}]*)}")
ENGLISH_WORDS = re.compile(
    r"\b(the|of|at|and|saw|hole|blade|cut|waste|piece|feed|off|on the|turn|ahead|with)\b", re.I
)


def fields(text: str) -> list[tuple[str, str]]:
    """Names and forms of a sentence's fields, in no order."""
    return sorted(FIELD.findall(text))


def messages() -> list[Message]:
    """The German ones, without the header."""
    return [m for m in read_po((FOLDER / "kerfside.po").open("rb"), locale="de") if m.id]


def test_the_text_file_is_what_the_collector_makes() -> None:
    kept = {str(m.id) for m in messages()}
    today = {str(m.id) for m in catalogue.collected() if m.id}
    assert kept == today, "run python -m tests.tools.catalogue"
    made = catalogue.po_bytes(catalogue.merged("de"))
    assert (FOLDER / "kerfside.po").read_bytes() == made, "run python -m tests.tools.catalogue"


def test_german_is_complete() -> None:
    found = messages()
    assert len(found) > 800
    assert [m.id for m in found if not all(catalogue._strings(m.string))] == []
    assert [m.id for m in found if m.fuzzy] == []


def test_every_translation_has_the_fields_of_its_source() -> None:
    for message in messages():
        sources, texts = catalogue._strings(message.id), catalogue._strings(message.string)
        assert len(texts) == len(sources), message.id
        for source, text in zip(sources, texts, strict=True):
            assert fields(text) == fields(source), text


def test_blanks_at_the_ends_are_kept() -> None:
    """Sentences are put together with others, and prompts end before the answer."""
    for message in messages():
        pairs = zip(catalogue._strings(message.id), catalogue._strings(message.string), strict=True)
        for source, text in pairs:
            assert text.endswith(" ") == source.endswith(" "), text
            assert text.startswith(" ") == source.startswith(" "), text


def test_the_compiled_file_is_the_text_file() -> None:
    catalog = read_po(io.BytesIO((FOLDER / "kerfside.po").read_bytes()))
    assert (FOLDER / "kerfside.mo").read_bytes() == catalogue.mo_bytes(catalog)


def test_numbers_choose_their_form_and_their_mark() -> None:
    german = words_for("de")
    one, many = "{n} turn ahead", "{n} turns ahead"
    assert german.count(one, many, 1) == "1 Wende voraus"
    assert german.count(one, many, 4) == "4 Wenden voraus"
    assert words_for("xx").count(one, many, 4) == "4 turns ahead"
    assert languages() == ("en", "de")
    wider = "Give the board {wider:.1f} mm more margin."
    assert german.say(wider, wider=2.25) == "Dem Brett 2,2 mm mehr Rand geben."
    assert words_for("en").say(wider, wider=2.25) == "Give the board 2.2 mm more margin."
    assert german.say("Wrote {file}.", file="v1.2.svg") == "v1.2.svg geschrieben."


@pytest.mark.parametrize("demo", ["harbour_sign", "beach_ornaments", "ferry_plate"])
def test_every_prompt_at_the_saw_is_german(
    demo: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path))

    def prompts() -> list[tuple[str, str]]:
        main(["plan", demo, "--json"])
        plan = plan_from_json(capsys.readouterr().out)
        return [(s.stage, f"{s.title} / {s.say} / {s.why}") for s in plan.steps]

    english = prompts()
    assert main(["setup", "--language", "de"]) == 0
    capsys.readouterr()
    german = prompts()
    assert [stage for stage, _ in german] == [stage for stage, _ in english]
    assert all(ENGLISH_WORDS.search(say) for _, say in english)
    assert [say for _, say in german if ENGLISH_WORDS.search(say)] == []


def test_the_recorder_hears_what_is_missing(missed: Missed) -> None:
    _, words = common.user_settings()
    assert words.say("Good-bye.") == "Auf Wiedersehen."
    assert words.say("Nobody says this.") == "Nobody says this."
    assert missed.sentences == {"Nobody says this."}


def test_a_whole_walk_says_nothing_that_is_not_in_the_catalogue(
    missed: Missed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    lines = ["", "a", "b", "w"] + [""] * 22 + ["m blade-broke"] + [""] * 12
    lines += ["n loose knot", "p", "", "x", ""] + [""] * 260 + ["what", "q"]
    script = tmp_path / "script.txt"
    script.write_text("\n".join(lines) + "\n", encoding="utf-8")
    with script.open(encoding="utf-8") as given, monkeypatch.context() as patch:
        patch.setattr(sys, "stdin", given)
        assert main(["saw", "harbour_sign", "--plain", "--rehearse"]) == 0
    walked = capsys.readouterr().out
    assert "Alle 65 Schritte sind getan." in walked
    prompts = [x for x in walked.splitlines() if x.startswith(("  ", "* ", "["))]
    assert len(prompts) > 150
    assert [p for p in prompts if ENGLISH_WORDS.search(p)] == []
    for asked in (["plan", "harbour_sign", "--steps"], ["check", "harbour_sign"], ["review"],
                  ["setup", "--show"], ["sheet", "harbour_sign", "-o", str(tmp_path / "s.pdf")],
                  ["new", str(DRAWING), str(tmp_path / "p"), "--no-questions"]):  # fmt: skip
        assert main(asked) == 0, asked
    capsys.readouterr()
    assert missed.sentences == set()
