"""Looks sentences up in a gettext catalogue and fills in their values."""

from __future__ import annotations

import gettext
from dataclasses import dataclass, field
from pathlib import Path

LOCALES = Path(__file__).parent / "locales"


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
        return self.translations.gettext(sentence).format(**values)

    def count(self, one: str, many: str, n: int, **values: object) -> str:
        """Translate by number; ``{n}`` is the count.

        >>> ENGLISH.count("{n} hole", "{n} holes", 1), ENGLISH.count("{n} hole", "{n} holes", 3)
        ('1 hole', '3 holes')
        """
        return self.translations.ngettext(one, many, n).format(n=n, **values)


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
