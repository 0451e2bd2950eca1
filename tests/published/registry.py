"""Each check against an outside figure leaves a row: what, where it stands, expected, obtained.

A module of this folder names its document once, as ``SOURCE``; a test names the place in its
docstring's first line and compares through the fixture ``row``. How far the figure is to be
trusted decides what a disagreement does: C (confirmed in the document) and D (derived by an
independent calculation) fail the test; M (from memory) and P (common practice, no published
source) are written into the table as they come out, and fail nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path

import pytest

TABLE = Path(__file__).parent / "TABLE.md"
HEAD = "| what | place | trust | expected | obtained | within | why that much |"
RULE = "|---|---|---|---|---|---|---|"
ZERO = 1e-9
"""Smaller than this is written 0: which way rounding fell is no result."""

Value = float | Decimal | str | Iterable[float] | None


@dataclass(frozen=True, slots=True)
class Source:
    """The document that a module's figures come from."""

    document: str
    trust: str
    """C, D, M, P or a pair such as ``M/D``."""
    why: str
    """Why the tolerance is as wide as it is."""


@dataclass(frozen=True, slots=True)
class Row:
    """One check, as it goes into the table."""

    what: str
    place: str
    trust: str
    expected: str
    obtained: str
    within: str
    why: str
    holds: bool

    def line(self) -> str:
        """The row in Markdown."""
        told = self.obtained if self.holds else f"{self.obtained} (differs)"
        cells = (
            self.what, self.place, self.trust, self.expected, told, self.within, self.why
        )  # fmt: skip
        return "| " + " | ".join(c.replace("|", "/").replace("\n", " ") for c in cells) + " |"


def may_fail(trust: str) -> bool:
    """Whether a figure of this trust may fail a build."""
    return bool({"C", "D"} & set(trust.split("/")))


def written(value: Value) -> str:
    """Figures to six digits: the last ones differ between machines.

    >>> written(53014.3760293), written((1.0, 1e-17)), written("none")
    ('53014.4', '1, 0', 'none')
    """
    if value is None or isinstance(value, str):
        return value or "nothing"
    if isinstance(value, Iterable):
        return ", ".join(written(float(v)) for v in value)
    number = float(value)
    return "0" if abs(number) < ZERO else f"{number:.6g}"


@dataclass
class Rows:
    """The rows of one module, and the comparison that fills them."""

    source: Source
    found: list[Row] = field(default_factory=list)


@dataclass(frozen=True)
class Compare:
    """The fixture ``row`` of one test."""

    rows: Rows
    name: str
    place: str

    def __call__(
        self, obtained: Value, expected: Value, *, rel: float | None = None,
        abs: float | None = None, what: str = "", place: str = "", source: str = "",
        trust: str = "", why: str = "",
    ) -> None:  # fmt: skip
        """Compare, write the row, and fail where the figure may fail a build.

        Args:
            obtained: what the program gives: a number, some, or a word.
            expected: what the document says.
            rel: tolerance as a share of the expected.
            abs: tolerance in the figure's own unit; with neither, 1e-6 of the expected.
            what: what is compared; the test's name where it is left out.
            place: where in the document; the first line of the test's docstring otherwise.
            source: another document than the module's.
            trust: of this figure alone.
            why: why this tolerance, where the module's reason is not the one.
        """
        own = self.rows.source
        obtained = float(obtained) if isinstance(obtained, Decimal) else obtained
        expected = float(expected) if isinstance(expected, Decimal) else expected
        holds: bool = obtained == (
            expected if isinstance(expected, str) else pytest.approx(expected, rel=rel, abs=abs)
        )
        where = ": ".join(p for p in (source, place or self.place) if p)
        row = Row(
            self._named(what), where, trust or own.trust, written(expected), written(obtained),
            _within(rel, abs, isinstance(expected, str)), why or own.why, holds,
        )  # fmt: skip
        self.rows.found.append(row)
        if may_fail(row.trust):
            assert holds, row.line()

    def _named(self, what: str) -> str:
        """What the row is called; a test with several unnamed ones numbers them."""
        earlier = sum(r.what.split(" #")[0] == self.name for r in self.rows.found)
        return what or (f"{self.name} #{earlier + 1}" if earlier else self.name)

    def at_least(
        self, obtained: float, least: float, *, what: str = "", place: str = "",
        source: str = "", trust: str = "", why: str = "",
    ) -> None:  # fmt: skip
        """Not less than the document asks for; arguments as above."""
        self._bound(obtained, least, obtained >= least, "at least", what, place, source, trust, why)

    def at_most(
        self, obtained: float, most: float, *, what: str = "", place: str = "",
        source: str = "", trust: str = "", why: str = "",
    ) -> None:  # fmt: skip
        """Not more than the document allows; arguments as above."""
        self._bound(obtained, most, obtained <= most, "at most", what, place, source, trust, why)

    def _bound(
        self, obtained: float, limit: float, holds: bool, word: str, what: str, place: str,
        source: str, trust: str, why: str,
    ) -> None:  # fmt: skip
        own = self.rows.source
        where = ": ".join(p for p in (source, place or self.place) if p)
        row = Row(
            self._named(what), where, trust or own.trust, f"{word} {written(limit)}",
            written(obtained), "bound", why or "a limit, kept or not", bool(holds),
        )  # fmt: skip
        self.rows.found.append(row)
        if may_fail(row.trust):
            assert holds, row.line()


def _within(rel: float | None, abs_: float | None, exact: bool) -> str:
    if exact:
        return "exact"
    parts = [f"{rel:g} of it"] if rel is not None else []
    parts += [f"{abs_:g}"] if abs_ is not None else []
    return " or ".join(parts) or "1e-06 of it"


def section(name: str, rows: Rows) -> str:
    """A module's part of the table."""
    title = name.removeprefix("test_")
    lines = [f"## {title}", "", rows.source.document, "", HEAD, RULE]
    return "\n".join([*lines, *(r.line() for r in rows.found)]) + "\n"


def sections(text: str) -> dict[str, str]:
    """Parts of the written table by the module's title."""
    parts = re.split(r"^(?=## )", text, flags=re.MULTILINE)
    return {p.split("\n", 1)[0][3:]: p.rstrip() + "\n" for p in parts if p.startswith("## ")}


def head(parts: dict[str, str]) -> str:
    """The table's beginning, with what can be counted."""
    rows = [r for p in parts.values() for r in p.splitlines() if r.startswith("| ")]
    rows = [r for r in rows if r != HEAD]
    differ = sum("(differs)" in r for r in rows)
    soft = sum(not may_fail(r.split(" | ")[2]) for r in rows)
    return (
        "# What is checked against outside figures\n\n"
        "Written by `python -m tests.tools.published`; a test says when it is stale. Trust: "
        "C confirmed in the document, D derived by an independent calculation, M from memory, "
        "P common practice without a published source. C and D fail the build when they "
        "disagree; M and P are shown as they come out.\n\n"
        f"{len(rows)} checks in {len(parts)} files; {soft} of them cannot fail the build; "
        f"{differ} differ.\n"
    )


def whole(parts: dict[str, str]) -> str:
    """The table as it is written."""
    return "\n".join([head(parts), *(parts[k] for k in sorted(parts))])


def one_name(name: str, parameters: str) -> str:
    """A test's name in words.

    >>> one_name("test_arcs01_first_pie", "a-1")
    'arcs01 first pie (a-1)'
    """
    words = name.removeprefix("test_").replace("_", " ")
    return f"{words} ({parameters})" if parameters else words
