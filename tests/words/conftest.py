"""Hears which sentences the German catalogue lacks while the command line runs."""

from __future__ import annotations

import gettext
from pathlib import Path

import pytest

from companion.cli import common, tongue
from companion.cli.main import main
from companion.words import Words, words_for
from tests.tools.catalogue import FIELD, LETTERS


class Missed(gettext.NullTranslations):
    """Stands behind a catalogue and writes down what it did not hold."""

    def __init__(self) -> None:
        super().__init__()
        self.sentences: set[str] = set()

    def gettext(self, message: str) -> str:
        if LETTERS.search(FIELD.sub("", message)):
            self.sentences.add(message)
        return message

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        self.sentences.add(msgid1)
        return msgid1 if n == 1 else msgid2


@pytest.fixture
def missed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Missed:
    """The command line in German, and what its catalogue lacks."""
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path / "home"))
    behind = Missed()

    def german(language: str, inch: bool) -> Words:
        words = words_for(language, inch)
        if language != "en":
            words.translations.add_fallback(behind)
        return words

    for module in (common, tongue):
        monkeypatch.setattr(module, "words_for", german)
    assert main(["setup", "--language", "de"]) == 0
    behind.sentences.clear()
    return behind
