"""The reference, made from the parsers themselves: as text for the terminal, as roff for ``man``.

Rule kept here: nothing is told twice. What an option does stands in its parser, what
an example does in ``examples``; a page only sets them out.
"""

from __future__ import annotations

import argparse
import re
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from companion import __version__
from companion.cli.examples import EXAMPLES
from companion.cli.tongue import HEADING
from companion.words import Words

COLUMNS = 80
_HANG = 7
"""Columns before a section's text."""
_DEEP = 14
"""Columns before what an option does."""
_BRACKETS = re.compile(r"\[[^\[\]]*(?:\[[^\[\]]*\])?[^\[\]]*\]")
"""An optional part of a synopsis: not broken between its lines."""
_STICKY = "\0"

COMMON: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    ("EXIT CODES", (
        ("0", "fine"),
        ("1", "the plan holds a finding of severity stop"),
        ("2", "the input or the words cannot be used; one message says what, where, what to do"),
        ("130", "interrupted"),
    )),
    ("FILES", (
        ("project.toml", "what a project is: drawing, board, blade, finish, pins"),
        ("settings.toml", "saw, drills, sawyer, screen and voice, as setup keeps them"),
        ("journal.sqlite3", "the log: every session's events, only ever added to"),
    )),
    ("ENVIRONMENT", (
        ("KERFSIDE_HOME", "one folder for settings, log and kept plans, instead of the system's"),
        ("NO_COLOR", "if set, no colours on the screen"),
    )),
    ("SAFETY", (
        ("", "A scroll saw can injure fingers and eyes, and its dust harms the lungs. The saw's "
         "manual, local codes and licensed practice come first. The pedal of this program must "
         "not be the saw's own foot switch."),
    )),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Entry:
    """One argument or option, or one line of a list."""

    name: str
    """As it is written: ``-o FILE, --output FILE``; empty: a paragraph."""
    text: str


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and its entries."""

    title: str
    entries: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Page:
    """One verb."""

    verb: str
    summary: str
    synopsis: str
    sections: tuple[Section, ...]


def texts() -> Iterator[str]:
    """What the reference tells beside the parsers and the examples."""
    for title, rows in COMMON:
        yield title
        yield from (text for _, text in rows)


def page_of(verb: str, parser: argparse.ArgumentParser, words: Words) -> Page:
    """A verb's page.

    Args:
        verb: its name.
        parser: its own, with all its arguments, in the language already.
        words: the language.
    """
    usage = " ".join(parser.format_usage().split())
    usage = usage[usage.index(parser.prog) :]
    sections = [
        Section(_title(group), tuple(_entries(group, parser.prog)))
        for group in parser._action_groups  # there is no public way to a parser's groups
        if group._group_actions
    ]
    told = tuple(Entry(command, words.told(what)) for command, what in EXAMPLES[verb])
    examples = Section(words.told(HEADING).rstrip(":").upper(), told)
    return Page(verb, parser.description or "", usage, (*sections, examples))


def _title(group: argparse._ArgumentGroup) -> str:
    return {"positional arguments": "ARGUMENTS"}.get(group.title or "", (group.title or "").upper())


def _entries(group: argparse._ArgumentGroup, prog: str) -> Iterator[Entry]:
    for action in group._group_actions:
        # as argparse itself fills in %(default)s and its like
        told = (action.help or "") % {**vars(action), "prog": prog}
        if action.choices is not None and not action.option_strings:
            told += f": {', '.join(map(str, action.choices))}"
        yield Entry(_written(action), told)


def _written(action: argparse.Action) -> str:
    """How an argument is written: all its names with what follows them."""
    takes = ""
    if action.nargs != 0:
        takes = action.metavar if isinstance(action.metavar, str) else action.dest.upper()
        if action.metavar is None and action.choices is not None:
            takes = "{" + ",".join(map(str, action.choices)) + "}"
        takes = f"[{takes}]" if action.nargs == "?" else takes
    if not action.option_strings:
        return takes
    return ", ".join(f"{name} {takes}".rstrip() for name in action.option_strings)


# ------------------------------------------------------------------- as text


def page_lines(page: Page, words: Words) -> list[str]:
    """A verb's page, at most 80 columns wide, an unbroken example excepted."""
    lines = [words.say("NAME"), *_wrapped(f"kerfside {page.verb} - {page.summary}", _HANG)]
    # later lines of the synopsis stand under its first argument
    under = _HANG + len(f"kerfside {page.verb} ")
    kept = _BRACKETS.sub(lambda found: found[0].replace(" ", _STICKY), page.synopsis)
    synopsis = _wrapped(kept, _HANG, under)
    lines += ["", words.say("SYNOPSIS"), *(line.replace(_STICKY, " ") for line in synopsis)]
    for section in page.sections:
        lines += ["", section.title, *_section(section)]
    return lines


def common_lines(words: Words) -> list[str]:
    """What holds for every verb."""
    lines: list[str] = []
    for section in _common(words):
        lines += ["", section.title, *_section(section)]
    return lines[1:]


def _common(words: Words) -> Iterator[Section]:
    for title, rows in COMMON:
        yield Section(words.told(title), tuple(Entry(key, words.told(text)) for key, text in rows))


def _section(section: Section) -> list[str]:
    lines: list[str] = []
    for entry in section.entries:
        if not entry.name:
            lines += _wrapped(entry.text, _HANG)
            continue
        lines.append(" " * _HANG + entry.name)
        lines += _wrapped(entry.text, _DEEP)
    return lines


def _wrapped(text: str, indent: int, later: int | None = None) -> list[str]:
    return textwrap.wrap(
        text, COLUMNS, initial_indent=" " * indent,
        subsequent_indent=" " * (indent if later is None else later),
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip


# ------------------------------------------------------------------- as roff


def roff(pages: Sequence[Page], words: Words) -> str:
    """The whole reference in the man macros (man(7)), for section 1.

    Args:
        pages: one a verb.
        words: the language.
    """
    summary = words.say("a guided companion at the scroll saw")
    out = [f'.TH KERFSIDE 1 "" "kerfside {__version__}"', f".SH {words.say('NAME')}"]
    out += [f"kerfside \\- {_r(summary)}", f".SH {words.say('SYNOPSIS')}"]
    out += [".B kerfside", _r("VERB [argument ...]")]
    for page in pages:
        out += [f'.SH "{_r(page.verb.upper())}"', _r(page.summary), ".PP", _r(page.synopsis)]
        for section in page.sections:
            out.append(f'.SS "{_r(section.title.capitalize())}"')
            out += _roff_entries(section.entries)
    for section in _common(words):
        out += [f'.SH "{section.title}"', *_roff_entries(section.entries)]
    return "\n".join(out) + "\n"


def _roff_entries(entries: Sequence[Entry]) -> Iterator[str]:
    for entry in entries:
        if entry.name:
            yield ".TP"
            yield f"\\fB{_r(entry.name)}\\fR"
        yield _r(entry.text)


def _r(text: str) -> str:
    """Text safe in a roff line: no escape, no request, hyphens that can be copied."""
    safe = text.replace("\\", "\\e").replace("-", "\\-")
    return "\\&" + safe if safe[:1] in (".", "'") else safe
