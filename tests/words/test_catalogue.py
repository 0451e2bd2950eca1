"""The catalogues: nothing missing, nothing stale, every field kept, prompts translated."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from companion.cli.main import main
from companion.planner.plan import plan_from_json
from companion.words import languages, words_for
from tests.tools import catalogue

FOLDER = catalogue.LOCALES / "de" / "LC_MESSAGES"
FIELD = re.compile(r"{(\w+)[^}]*}")


def fields(text: str) -> set[str]:
    return set(FIELD.findall(text))


def test_the_catalogue_holds_all_sentences_of_today_and_no_other() -> None:
    kept = {str(m.id) for m in read_po((FOLDER / "kerfside.po").open("rb")) if m.id}
    today = {str(m.id) for m in catalogue.collected() if m.id}
    assert kept == today, "run python -m tests.tools.catalogue"


def test_every_translation_keeps_every_field() -> None:
    translated = 0
    for message in read_po((FOLDER / "kerfside.po").open("rb")):
        sources = catalogue._strings(message.id) if message.id else []
        for text in catalogue._strings(message.string) if sources else []:
            if text:
                translated += 1
                assert fields(text) == fields(sources[-1]), text
    assert translated > 150


def test_the_compiled_file_is_the_text_file() -> None:
    catalog = read_po(io.BytesIO((FOLDER / "kerfside.po").read_bytes()))
    assert (FOLDER / "kerfside.mo").read_bytes() == catalogue.mo_bytes(catalog)


def test_numbers_choose_their_form() -> None:
    german = words_for("de")
    one, many = "{n} turn ahead", "{n} turns ahead"
    assert german.count(one, many, 1) == "1 Wende voraus"
    assert german.count(one, many, 4) == "4 Wenden voraus"
    assert words_for("xx").count(one, many, 4) == "4 turns ahead"
    assert languages() == ("en", "de")


@pytest.mark.parametrize("demo", ["harbour_sign", "beach_ornaments", "ferry_plate"])
def test_every_prompt_at_the_saw_is_german(
    demo: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path))

    def prompts() -> list[tuple[str, str]]:
        main(["plan", demo, "--json"])
        plan = plan_from_json(capsys.readouterr().out)
        return [(s.stage, s.say) for s in plan.steps if s.stage != "finish"]

    english = prompts()
    assert main(["setup", "--language", "de"]) == 0
    capsys.readouterr()
    german = prompts()
    assert [stage for stage, _ in german] == [stage for stage, _ in english]
    assert not {say for _, say in german} & {say for _, say in english}
