"""Findings, lengths and minutes as the terminal shows them."""

from __future__ import annotations

from collections.abc import Sequence

from companion.findings import Finding, Point
from companion.planner.plan import Minutes
from companion.words import Words


def point_text(at: Point) -> str:
    """A place on the board, mm.

    >>> point_text((3, 41.25))
    '(3.0, 41.2)'
    """
    return f"({at[0]:.1f}, {at[1]:.1f})"


def minutes_text(minutes: Minutes, words: Words) -> str:
    """A time with its 80 % range."""

    def one(value: float) -> str:
        whole = round(value)
        if whole < 90:
            return words.say("{n} min", n=whole)
        return words.say("{h} h {m} min", h=whole // 60, m=whole % 60)

    return words.say(
        "{likely} (four times in five between {low} and {high})",
        likely=one(minutes.likely), low=one(minutes.low), high=one(minutes.high),
    )  # fmt: skip


def read_text(pieces: int, openings: int, words: Words) -> str:
    """What was read, counted.

    >>> from companion.words import ENGLISH
    >>> read_text(1, 3, ENGLISH)
    '1 piece, 3 openings'
    """
    first = words.count("{n} piece", "{n} pieces", pieces)
    return f"{first}, {words.count('{n} opening', '{n} openings', openings)}"


def finding_lines(findings: Sequence[Finding], words: Words) -> list[str]:
    """Findings, gravest first, each with its place; a remedy that several share stands once."""
    name = {"stop": words.say("STOP"), "warn": words.say("warn"), "note": words.say("note")}
    blocks: dict[tuple[str, str, str], list[str]] = {}
    for found in findings:
        where = f" {point_text(found.at_mm)}" if found.at_mm is not None else ""
        line = f"{name[found.severity]:<5} {found.code}{where}: {found.text}"
        blocks.setdefault((found.severity, found.code, found.remedy), []).append(line)
    lines = []
    for (_, _, remedy), block in blocks.items():
        lines += block
        if remedy:
            lines.append(f"      {remedy}")
    return lines
