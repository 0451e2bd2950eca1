"""Turns signs into words a speech engine says right: the one place that knows how.

Engines read "2 mm" as "two em em" and "3/4 inch" as "three slash four inch"; so
numbers, units, fractions, ranges and signs are spelled out first. Pure: same
text and language, same words.
"""

from __future__ import annotations

import re
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

_FILE = Path(__file__).parent / "spoken.toml"
_INCH = r"(?:inches|inch|in(?=[.,;:)]|$)|\"|″|Zoll)"
"""A whole number before "in" is a length only at the end of a clause ("hole 3 in the waste")."""
_INCH_AFTER_FRACTION = r"(?:inches|inch|in\b|\"|″|Zoll)"
"""After a fraction or decimals "in" is a length wherever it stands ("0.25 in board")."""
_NUMBER = r"\d+(?:[.,]\d+)?"


@cache
def _language(language: str) -> dict[str, Any]:
    tables = tomllib.loads(_FILE.read_text(encoding="utf-8"))
    return dict(tables.get(language, tables["en"]))


@cache
def _tokens(language: str) -> re.Pattern[str]:
    units = sorted(_language(language)["units"], key=len, reverse=True)
    unit = "|".join(re.escape(u) + (r"(?![\w])" if u[0].isalpha() else "") for u in units)
    parts = [
        rf"(?P<whole>\d+)[ -](?P<mixed>\d+/\d+)\s*-?{_INCH_AFTER_FRACTION}",
        rf"(?P<part>\d+/\d+)\s*-?{_INCH_AFTER_FRACTION}",
        r"(?P<ought>\d+)/0(?!\d)",
        r"(?P<count>\d+)/(?P<total>\d+)",
        rf"(?:#|N[or]\.\s?)(?P<nth>{_NUMBER})",
        rf"[Øø⌀]\s?(?P<across>{_NUMBER})(?:\s*(?P<across_unit>{unit}))?",
        rf"(?P<times>{_NUMBER})\s?[x×](?!\w)",
        rf"(?P<low>{_NUMBER})\s?[-–]\s?(?P<high>{_NUMBER})(?:\s*(?P<range_unit>{unit}|{_INCH}))?",
        r"(?P<decimal_inches>\d+[.,]\d+)\s*" + _INCH_AFTER_FRACTION,
        rf"(?P<inches>{_NUMBER})\s*{_INCH}",
        rf"(?P<measure>{_NUMBER})\s?(?P<unit>{unit})",
        rf"(?P<plain>{_NUMBER})",
    ]
    return re.compile(r"(?<![\w.,])(?:" + "|".join(parts) + ")")


def _spell(number: str, words: dict[str, Any]) -> str:
    """A numeral in words; the mark between digits is the language's decimal mark."""
    from num2words import num2words  # only when something is spoken

    mark = words["decimal"]
    other = "," if mark == "." else "."
    if other in number:
        whole, rest = number.split(other)
        # three digits after the other mark: thousands; else people write either mark
        number = whole + rest if len(rest) == 3 else f"{whole}.{rest}"
    number = number.replace(",", ".")
    if len(number) > 12:
        return " ".join(number)
    whole, _, rest = number.partition(".")
    if not rest.strip("0"):
        # "2.0" is said "two"
        return str(num2words(int(whole), lang=words["numbers"])).replace(",", "")
    if rest.rstrip("0") == "5" and int(whole) and "and_a_half" in words:
        said = (
            words["one_joined"] if int(whole) == 1 else num2words(int(whole), lang=words["numbers"])
        )
        return str(words["and_a_half"]).format(whole=said)
    return str(num2words(float(number), lang=words["numbers"])).replace(",", "")


def _part(fraction: str, words: dict[str, Any]) -> str | None:
    over, under = fraction.split("/")
    forms = words["parts"].get(under)
    if forms is None:
        return None
    if over == "1":
        return f"{words['one_joined']} {forms[0]}"
    return f"{_spell(over, words)} {forms[1]}"


def _measure(amount: str, unit: str, words: dict[str, Any]) -> str:
    one, many = words["units"].get(unit, words["inch"])
    if re.fullmatch(r"1(?:[.,]0+)?", amount):
        return str(one)
    return f"{_spell(amount, words)} {many}"


def _said(found: re.Match[str], words: dict[str, Any]) -> str:
    g = found.groupdict()
    if g["mixed"] or g["part"]:
        part = _part(g["mixed"] or g["part"], words)
        if part is None:
            return found[0]
        if g["mixed"] == "1/2" and "and_a_half" in words:
            return _measure(f"{g['whole']}.5", "inch", words)
        if g["mixed"]:
            whole = _spell(g["whole"], words)
            return str(words["mixed_inches"]).format(whole=whole, part=part)
        return str(words["part_of_inch"]).format(part=part)
    if g["ought"]:
        return f"{_spell(g['ought'], words)} {words['ought']}"
    if g["count"]:
        return f"{_spell(g['count'], words)} {words['of']} {_spell(g['total'], words)}"
    if g["nth"]:
        return f"{words['number']} {_spell(g['nth'], words)}"
    if g["across"]:
        unit = g["across_unit"]
        said = _measure(g["across"], unit, words) if unit else _spell(g["across"], words)
        return f"{words['diameter']} {said}"
    if g["times"]:
        return f"{_spell(g['times'], words)} {words['times']}"
    if g["low"]:
        unit = g["range_unit"]
        high = _measure(g["high"], unit, words) if unit else _spell(g["high"], words)
        return f"{_spell(g['low'], words)} {words['to']} {high}"
    if g["inches"] or g["decimal_inches"]:
        return _measure(g["inches"] or g["decimal_inches"], "inch", words)
    if g["measure"]:
        return _measure(g["measure"], g["unit"], words)
    return _spell(g["plain"], words)


def speakable(text: str, language: str = "en") -> str:
    """Spell a prompt out for a speech engine.

    Args:
        text: the prompt as shown.
        language: ``en`` or ``de``; others are spelled as English.

    Returns:
        One line of words; control characters are gone, white space is single.

    >>> speakable("Drill 2.5 mm at hole 7, step 12/60")
    'Drill two point five millimetres at hole seven, step twelve of sixty'
    >>> speakable("")
    ''
    """
    words = _language(language)
    clean = "".join(c if c.isprintable() else " " for c in text)
    said = _tokens(language).sub(lambda m: _said(m, words), clean)
    return " ".join(said.split())
