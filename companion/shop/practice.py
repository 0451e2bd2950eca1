"""The graded practice levels and the scale by which the sawyer marks a run, from their table.

The rule for what comes next is kept here too, since it is made of the table's numbers
alone: the first level in the table's order that is not learnt yet; but when the run marked
last was one of it and as bad as ``back_mark``, the level before it. A level is learnt when
its last ``pass_runs`` marks are all ``pass_mark`` or better.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from companion.errors import ShopError, UsageError
from companion.sentence import sentence
from companion.shop import tables
from companion.shop.model import Trust

FOLDER = tables.DATA / "practice"
NAME = "levels"
_TEXTS = ("key", "title", "trains", "judge", "figure")


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark of the wobble scale."""

    value: int
    """0 is best, 5 worst."""
    text: str
    """What one sees on the wood."""


@dataclass(frozen=True, slots=True)
class Level:
    """One practice pattern."""

    key: str
    number: int
    """Place in the order, from 1."""
    title: str
    trains: str
    judge: str
    figure: str
    """Which rule draws it."""
    measures: Mapping[str, Any]
    """What that rule asks for, by the table's own keys."""
    source: str
    trust: Trust

    @property
    def project(self) -> str:
        """Name of its projects: the log finds runs of the level by it.

        >>> level("waves").project
        'Practice: waves'
        """
        return f"Practice: {self.key}"


@dataclass(frozen=True, slots=True)
class Rule:
    """When a level is learnt."""

    pass_mark: int
    """Marks up to this count as passed."""
    pass_runs: int
    """So many last marks must have passed."""
    back_mark: int
    """A last mark from this on sends one level back."""


@dataclass(frozen=True, slots=True)
class Plate:
    """The plate that exercises are sawn into."""

    edge_mm: float
    """Wood between figures and the plate's edge."""
    round_mm: float
    """Radius of its corners."""
    lead_mm: float
    """Straight run from the edge into a figure."""


def _bad(what: str) -> ShopError:
    return ShopError(
        sentence("the table of practice levels: {what}", what=sentence(what)),
        "",
        sentence("Mend it in {folder}.", folder=FOLDER),
    )


def _rows(kind: str, folder: Path) -> list[Mapping[str, Any]]:
    rows = tables.table(NAME, folder).get(kind)
    if not isinstance(rows, list) or not rows:
        raise _bad(sentence("{kind} is missing", kind=kind))
    return rows


@cache
def levels(folder: Path = FOLDER) -> tuple[Level, ...]:
    """All levels, easy to hard.

    >>> [one.key for one in levels()][:3]
    ['lines', 'parallels', 'waves']

    Raises:
        ShopError: the table lacks something.
    """
    sources = tables.table(NAME, folder).get("sources", {})
    found = []
    for number, row in enumerate(_rows("level", folder), 1):
        for key in _TEXTS:
            if not isinstance(row.get(key), str) or not row[key]:
                raise _bad(sentence("level {number} lacks {key}", number=number, key=key))
        if row.get("s") not in sources or row.get("t") not in tables.TRUST_ORDER:
            raise _bad(
                sentence("level {row} needs a source and how far to trust it", row=row["key"])
            )
        measures = {k: v for k, v in row.items() if k not in (*_TEXTS, "s", "t")}
        texts = {k: str(row[k]) for k in _TEXTS}
        found.append(
            Level(number=number, measures=measures, source=sources[row["s"]], trust=row["t"],
                  **texts)
        )  # fmt: skip
    if len({one.key for one in found}) < len(found):
        raise _bad("two levels have one key")
    return tuple(found)


def level(key: str, folder: Path = FOLDER) -> Level:
    """One level, by its key or its number.

    Raises:
        UsageError: there is none.
    """
    for one in levels(folder):
        if key in (one.key, str(one.number)):
            return one
    names = ", ".join(one.key for one in levels(folder))
    raise UsageError(
        sentence("no practice level {key!r}", key=key),
        "",
        sentence("Use one of: {names}.", names=names),
    )


@cache
def marks(folder: Path = FOLDER) -> tuple[Mark, ...]:
    """The wobble scale, best first.

    >>> [m.value for m in marks()]
    [0, 1, 2, 3, 4, 5]
    """
    found = tuple(Mark(int(r["value"]), str(r["text"])) for r in _rows("mark", folder))
    if [m.value for m in found] != list(range(len(found))):
        raise _bad("marks must run from 0 up without a gap")
    return found


def rule(folder: Path = FOLDER) -> Rule:
    """When a level is learnt."""

    def whole(key: str, most: float) -> int:
        return int(tables.number(NAME, f"rule.{key}", 0, most, folder))

    return Rule(whole("pass_mark", 5), whole("pass_runs", 20), whole("back_mark", 5))


def plate(folder: Path = FOLDER) -> Plate:
    """The plate that exercises are sawn into."""

    def length(key: str) -> float:
        return tables.number(NAME, f"plate.{key}", 0.5, 100, folder)

    return Plate(length("edge_mm"), length("round_mm"), length("lead_mm"))


def learnt(marks_given: Sequence[int], by: Rule) -> bool:
    """Whether a level's marks, oldest first, say that it is learnt.

    >>> learnt([4, 2, 1], Rule(2, 2, 4)), learnt([1], Rule(2, 2, 4)), learnt([1, 3], Rule(2, 2, 4))
    (True, False, False)
    """
    last = marks_given[-by.pass_runs :]
    return len(last) >= by.pass_runs and all(m <= by.pass_mark for m in last)


def next_level(
    history: Sequence[tuple[str, int]], by: Rule, among: Sequence[Level]
) -> Level | None:
    """The level proposed; None when all are learnt.

    Args:
        history: level key and mark of every marked run, oldest first.
        by: the rule.
        among: all levels in order.

    >>> two, by = levels()[:2], Rule(2, 2, 4)
    >>> next_level([], by, two).key
    'lines'
    >>> history = [("lines", 2), ("lines", 2), ("parallels", 5)]
    >>> next_level(history[:2], by, two).key, next_level(history, by, two).key
    ('parallels', 'lines')
    >>> next_level([*history, ("lines", 1)], by, two).key
    'parallels'
    """
    for at, one in enumerate(among):
        own = [mark for key, mark in history if key == one.key]
        if learnt(own, by):
            continue
        just_bad = history[-1:] and history[-1][0] == one.key and history[-1][1] >= by.back_mark
        return among[at - 1] if just_bad and at > 0 else one
    return None
