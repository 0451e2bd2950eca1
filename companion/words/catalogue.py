"""Looks sentences up in a gettext catalogue and fills in their values."""

from __future__ import annotations

import gettext
import re
from dataclasses import dataclass, field
from pathlib import Path
from string import Formatter
from typing import TYPE_CHECKING

from companion.errors import KerfsideError
from companion.sentence import Sentence
from companion.words.measure import (
    INCH_NAMES,
    LENGTHS,
    inches_text,
    square_inches_text,
    weight_text,
)

if TYPE_CHECKING:
    from decimal import Decimal

LOCALES = Path(__file__).parent / "locales"
DECIMAL_COMMA = frozenset({"de"})
"""Languages that part a number's decimals with a comma (ISO 80000-1 allows both marks)."""
_DECIMALS = re.compile(r"\s*[-+]?\d+\.\d+(?: (?:mm|m|in|kg|g|lb|oz|N|h|min|s|%))?\s*")


class _Commas(Formatter):
    """Fills fields in; a decimal number, alone or with its unit, gets a comma.

    >>> _Commas().format("{a:.2f} mm, {b} N, {c}, {d}", a=1.5, b="0.66", c="v1.2 mm", d="1.1 kg")
    '1,50 mm, 0,66 N, v1.2 mm, 1,1 kg'
    """

    def format_field(self, value: object, format_spec: str) -> str:
        """One field's text."""
        text = str(super().format_field(value, format_spec))
        return text.replace(".", ",") if _DECIMALS.fullmatch(text) else text


_POINTS, _COMMAS = Formatter(), _Commas()
_FIELD = re.compile(r"{[^{}]*}")


@dataclass(frozen=True)
class Words:
    """The sentences of one language."""

    language: str = "en"
    translations: gettext.NullTranslations = field(default_factory=gettext.NullTranslations)
    inch: bool = False
    """Lengths are told in inches."""

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

    def told(self, text: str) -> str:
        """Translate what a layer without language has told.

        Args:
            text: a :class:`Sentence`, or plain text without fields.

        >>> from companion.sentence import sentence
        >>> Words(inch=True).told(sentence("{size} mm wide", size=25.4))
        '1.0 in wide'
        """
        if not isinstance(text, Sentence):
            # gettext gives the catalogue's head for an empty text
            return self.translations.gettext(text) if text else ""
        values = {k: self.told(v) if isinstance(v, Sentence) else v for k, v in text.values.items()}
        if text.many:
            values.pop("n")
            return self.count(text.template, text.many, text.n, **values)
        return self.say(text.template, **values) if values else self.told(text.template)

    def error(self, error: KerfsideError) -> str:
        """One line: what is wrong, where, what to do."""
        told = (error.title, error.cause, error.remedy)
        return str(KerfsideError(*(self.told(part) for part in told)))

    def length(self, value_mm: float, decimals: int = 1) -> str:
        """A length in the user's unit.

        Args:
            value_mm: in mm.
            decimals: of millimetres; inches have their own rule.

        >>> ENGLISH.length(25.4), Words(inch=True).length(3.175)
        ('25.4 mm', '1/8 in')
        """
        if self.inch:
            return f"{self._inches(value_mm)} {self._inch_name}"
        return self._fill("{n} mm", {"n": f"{value_mm:.{decimals}f}"})

    def number(self, value: float | Decimal, decimals: int = 1) -> str:
        """A bare number with the language's decimal mark.

        >>> ENGLISH.number(2.25, 2), Words("de").number(2.25, 2)
        ('2.25', '2,25')
        """
        return self._fill("{n}", {"n": f"{value:.{decimals}f}"})

    def weight(self, force_n: float) -> str:
        """A force as the weight that says it, in the user's unit.

        >>> ENGLISH.weight(5.0), Words(inch=True).weight(5.0)
        ('510 g', '1.1 lb')
        """
        return self._fill("{w}", {"w": weight_text(force_n, self.inch)})

    def duration(self, minutes: float) -> str:
        """A time of work or of drying: minutes, from an hour and a half on hours.

        >>> ENGLISH.duration(89.2), ENGLISH.duration(150.0), ENGLISH.duration(120.0)
        ('89 min', '2 h 30 min', '2 h')
        """
        whole = round(minutes)
        if whole < 90:
            return self.say("{n} min", n=whole)
        if whole % 60 == 0:
            return self.say("{h} h", h=whole // 60)
        return self.say("{h} h {m} min", h=whole // 60, m=whole % 60)

    def drill(self, name: str, size_mm: float) -> str:
        """A drill as its shank says, whatever the user's unit is.

        Args:
            name: in the table of drills; empty: it has none.
            size_mm: its diameter.

        >>> ENGLISH.drill("#60", 1.016), ENGLISH.drill("", 0.8), Words("de").drill("1/16 in", 1.6)
        ('#60', '0.80 mm', '1/16 Zoll')
        """
        if not name:
            return self.length(size_mm, 2)
        size, _, unit = name.partition(" ")
        if not unit:
            return name
        return f"{self._comma(size)} {self._inch_name if unit == 'in' else unit}"

    @property
    def unit(self) -> str:
        """The name of the user's unit of length."""
        return INCH_NAMES.get(self.language, "in") if self.inch else "mm"

    @property
    def _inch_name(self) -> str:
        return INCH_NAMES.get(self.language, "in")

    def _fill(self, sentence: str, values: dict[str, object]) -> str:
        if not self.inch:
            return self._formatted(sentence, values)
        text, done = "", 0
        for found in LENGTHS.finditer(sentence):
            text += self._formatted(sentence[done : found.start()], values)
            text += self._in_inches(found, values)
            done = found.end()
        return text + self._formatted(sentence[done:], values)

    def _formatted(self, sentence: str, values: dict[str, object]) -> str:
        marks = _COMMAS if self.language in DECIMAL_COMMA else _POINTS
        return marks.vformat(sentence, (), values)

    def _inches(self, value_mm: float) -> str:
        return self._comma(inches_text(value_mm))

    def _comma(self, number: str) -> str:
        return number.replace(".", ",") if self.language in DECIMAL_COMMA else number

    def _in_inches(self, found: re.Match[str], values: dict[str, object]) -> str:
        """Lengths of a sentence in inches; a field that is no number leaves it in mm."""
        area = bool(found["area"])
        try:
            text = _FIELD.sub(lambda m: self._one_in_inches(m[0], values, area), found["fields"])
        except ValueError:
            return self._formatted(found[0], values)
        return f"{text} {self._inch_name}{found['area']}"

    def _one_in_inches(self, field_text: str, values: dict[str, object], area: bool) -> str:
        value = float(_POINTS.vformat(field_text, (), values))
        if not area:
            return self._inches(value)
        return self._comma(square_inches_text(value))


ENGLISH = Words()


def languages() -> tuple[str, ...]:
    """Tags of the languages there are sentences in.

    >>> languages()[0]
    'en'
    """
    return ("en", *sorted(p.name for p in LOCALES.glob("*") if (p / "LC_MESSAGES").is_dir()))


def words_for(language: str, inch: bool = False) -> Words:
    """The catalogue of a language; English when there is none for it.

    Args:
        language: a tag such as ``en`` or ``de``.
        inch: lengths are told in inches.
    """
    if language == "en":
        return Words(inch=True) if inch else ENGLISH
    found = gettext.translation("kerfside", LOCALES, languages=[language], fallback=True)
    return Words(language, found, inch)
