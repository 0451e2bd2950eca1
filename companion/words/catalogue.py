"""Looks sentences up in a gettext catalogue and fills in their values."""

from __future__ import annotations

import gettext
import re
from dataclasses import dataclass, field
from pathlib import Path
from string import Formatter

LOCALES = Path(__file__).parent / "locales"
DECIMAL_COMMA = frozenset({"de"})
"""Languages that part a number's decimals with a comma (ISO 80000-1 allows both marks)."""
_DECIMALS = re.compile(r"\s*[-+]?\d+\.\d+\s*")


class _Commas(Formatter):
    """Fills fields in; what is nothing but a decimal number gets a comma.

    >>> _Commas().format("{a:.2f} mm, {b} N, {c}", a=1.5, b="0.66", c="v1.2 mm")
    '1,50 mm, 0,66 N, v1.2 mm'
    """

    def format_field(self, value: object, format_spec: str) -> str:
        """One field's text."""
        text = str(super().format_field(value, format_spec))
        return text.replace(".", ",") if _DECIMALS.fullmatch(text) else text


_POINTS, _COMMAS = Formatter(), _Commas()


@dataclass(frozen=True)
class Words:
    """The sentences of one language."""

    language: str = "en"
    translations: gettext.NullTranslations = field(default_factory=gettext.NullTranslations)

    def say(self, sentence: str, **values: object) -> str:
        """Translate a sentence and fill in its fields.

        >>> ENGLISH.say("Thread the blade at hole {hole}.", hole=7)
        'Thread the blade at hole 7.'
        """
        return self._fill(self.translations.gettext(sentence), values)

    def count(self, one: str, many: str, n: int, **values: object) -> str:
        """Translate by number; ``{n}`` is the count.

        >>> ENGLISH.count("{n} hole", "{n} holes", 1), ENGLISH.count("{n} hole", "{n} holes", 3)
        ('1 hole', '3 holes')
        """
        return self._fill(self.translations.ngettext(one, many, n), {"n": n, **values})

    def _fill(self, sentence: str, values: dict[str, object]) -> str:
        marks = _COMMAS if self.language in DECIMAL_COMMA else _POINTS
        return marks.vformat(sentence, (), values)


ENGLISH = Words()


def languages() -> tuple[str, ...]:
    """Tags of the languages there are sentences in.

    >>> languages()[0]
    'en'
    """
    return ("en", *sorted(p.name for p in LOCALES.glob("*") if (p / "LC_MESSAGES").is_dir()))


def words_for(language: str) -> Words:
    """The catalogue of a language; English when there is none for it.

    Args:
        language: a tag such as ``en`` or ``de``.
    """
    if language == "en":
        return ENGLISH
    found = gettext.translation("kerfside", LOCALES, languages=[language], fallback=True)
    return Words(language, found)
