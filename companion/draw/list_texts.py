"""Figures as the list pages write them: lengths, minutes, turns and drills."""

from __future__ import annotations

from collections import Counter

from companion.planner.plan import Cut, Minutes
from companion.words import ENGLISH, Words


def length_text(value_mm: float, words: Words) -> str:
    """A length for the lists, in the user's unit.

    >>> length_text(152.4, ENGLISH), length_text(152.4, Words(inch=True))
    ('152 mm', '6.0 in')
    """
    return words.length(value_mm, 0 if value_mm >= 20 else 1)


def minutes_text(minutes: Minutes, words: Words) -> str:
    """Likely minutes and their range.

    >>> minutes_text(Minutes(1.04, 2.0, 3.26), ENGLISH)
    '2.0 (1.0-3.3)'
    """
    return words.say(
        "{likely:.1f} ({low:.1f}-{high:.1f})",
        likely=minutes.likely, low=minutes.low, high=minutes.high,
    )  # fmt: skip


def turns_text(cut: Cut, words: Words) -> str:
    """How many turns of each technique a cut has."""
    count = Counter(t.technique for t in cut.turns)
    told = (
        words.count("{n} spin", "{n} spins", count["spin"]) if count["spin"] else "",
        words.count("{n} back-out", "{n} back-outs", count["back-out"])
        if count["back-out"]
        else "",
        words.count("{n} loop", "{n} loops", count["loop"]) if count["loop"] else "",
    )
    return ", ".join(t for t in told if t)


def drill_text(name: str, size_mm: float, words: Words = ENGLISH) -> str:
    """A drill by its name, with its size where the name does not tell it.

    >>> drill_text("1.5 mm", 1.5), drill_text("#60", 1.016), drill_text("", 0.8)
    ('1.5 mm', '#60 (1.02 mm)', '0.80 mm')
    >>> drill_text("#60", 1.016, Words(inch=True)), drill_text("1/16 in", 1.5875)
    ('#60 (0.04 in)', '1/16 in')
    """
    if not name:
        return words.length(size_mm, 2)
    told = words.drill(name, size_mm)
    return f"{told} ({words.length(size_mm, 2)})" if name.startswith("#") else told
