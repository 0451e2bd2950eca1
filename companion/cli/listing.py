"""Findings, lengths and minutes as the terminal shows them."""

from __future__ import annotations

from collections.abc import Sequence

from companion.draw.grouping import sentences
from companion.findings import Finding, Point, lettered
from companion.planner.plan import Minutes, Plan
from companion.units import inch
from companion.words import Words

NOTES_TOLD = 3
"""Notes of one kind, without a remedy, that are told one by one."""


def point_text(at: Point, words: Words) -> str:
    """A place on the board, in the user's unit, which the list names once.

    >>> from companion.words import ENGLISH
    >>> point_text((3, 41.25), ENGLISH), point_text((3, 41.25), Words(inch=True))
    ('(3.0, 41.2)', '(0.12, 1.62)')
    >>> point_text((3, 41.25), Words("de"))
    '(3,0; 41,2)'
    """
    figures = [f"{inch(v):.2f}" if words.inch else f"{v:.1f}" for v in at]
    x, y = (words.say("{n}", n=figure) for figure in figures)
    # a comma that is a decimal mark cannot part two numbers as well
    return f"({x}{';' if ',' in x else ','} {y})"


def origin_text(words: Words, names: bool = True) -> str:
    """From where all lists of one plan count their places, and what the names on them are.

    Args:
        words: the language.
        names: the list bears letters or necks.
    """
    places = words.say(
        "Places ({unit}) count from the board's top left corner, right and down.", unit=words.unit
    )
    if not names:
        return places
    return f"{places} " + words.say(
        "Letters and N1, N2 (the weakest necks) are those of pictures and sheet."
    )


def minutes_text(minutes: Minutes, words: Words) -> str:
    """A time with its 80 % range."""
    return words.say(
        "{likely} (four times in five between {low} and {high})",
        likely=words.duration(minutes.likely), low=words.duration(minutes.low),
        high=words.duration(minutes.high),
    )  # fmt: skip


def after_text(plan: Plan, words: Words) -> list[str]:
    """How much of a plan's time is finishing, and how long it dries besides."""
    if not plan.finish_min:
        return []
    work = words.duration(plan.finish_min)
    if not plan.drying_min:
        return [words.say("Of these {work} are finishing, after the last cut.", work=work)]
    return [
        words.say(
            "Of these {work} are finishing, after the last cut; {dry} of drying come on top.",
            work=work, dry=words.duration(plan.drying_min),
        )
    ]  # fmt: skip


def read_text(pieces: int, openings: int, words: Words) -> str:
    """What was read, counted.

    >>> from companion.words import ENGLISH
    >>> read_text(1, 3, ENGLISH)
    '1 piece, 3 openings'
    """
    first = words.count("{n} piece", "{n} pieces", pieces)
    return f"{first}, {words.count('{n} opening', '{n} openings', openings)}"


def size_doubts(findings: Sequence[Finding]) -> list[Finding]:
    """What says that the drawing's size is unknown or that of an icon."""
    return [f for f in findings if f.code in ("size-small", "size-assumed")]


def first_of_all(findings: Sequence[Finding], words: Words) -> list[str]:
    """What most of the other findings may come from: a pattern that is far too small."""
    return [
        words.say("First of all, as the rest may come from it: {text}", text=f"{f.text} {f.remedy}")
        for f in size_doubts(findings)
    ]


def _more_text(n: int, letters: list[str], words: Words) -> str:
    if not letters:
        return "         " + words.count("{n} more like these.", "{n} more like these.", n)
    return "         " + words.count(
        "{n} more like these, at {letters}.", "{n} more like these, at {letters}.", n,
        letters=", ".join(letters),
    )  # fmt: skip


def finding_lines(findings: Sequence[Finding], words: Words) -> list[str]:
    """Findings, gravest first, each with its place.

    Those of one kind stand together, and what all of them say, after what each says first,
    stands once below them, with their remedy. Of notes of one kind that ask for nothing
    the first few are told, the others counted.
    """
    name = {"stop": words.say("STOP"), "warn": words.say("warn"), "note": words.say("note")}
    mark = {id(f): text for text, _, found in lettered(findings) for f in found}
    blocks: dict[tuple[str, str, str], list[Finding]] = {}
    for found in findings:
        blocks.setdefault((found.severity, found.code, found.remedy), []).append(found)
    lines = []
    for (_, _, remedy), block in blocks.items():
        told = [sentences(f.text) for f in block]
        shared = [s for s in told[0][1:] if all(s in own[1:] for own in told)]
        if len(block) == 1:
            shared = []
        most = NOTES_TOLD if block[0].severity == "note" and not remedy else len(block)
        for f, own in list(zip(block, told, strict=True))[:most]:
            where = f" {point_text(f.at_mm, words)}" if f.at_mm is not None else ""
            text = " ".join([own[0], *(s for s in own[1:] if s not in shared)])
            head = f"{name[f.severity]:<5} {mark.get(id(f), '-'):<2}"
            lines.append(f"{head} {f.code}{where}: {text}")
        if more := block[most:]:
            letters = dict.fromkeys(mark[id(f)] for f in more if id(f) in mark)
            lines.append(_more_text(len(more), list(letters), words))
        last = " ".join([*shared, remedy]).strip()
        if last:
            lines.append(f"         {last}")
    return lines
