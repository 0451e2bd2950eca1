"""Text for the terminal, broken between words: no line runs into the terminal's own break."""

from __future__ import annotations

import re
import shutil
import sys
import textwrap
from typing import TextIO

COLUMNS = 78
_HEAD = re.compile(r"\s*(?:\S{1,6} {2,})*(?:[A-Z]{2} (?=\S))?")
"""What stands before the text of a line: its indent, and short columns as in ``warn  A  ``."""


def wrapped(text: str, first: str = "", later: str | None = None) -> list[str]:
    """Lines of at most 78 columns.

    Args:
        text: one paragraph.
        first: put before the first line.
        later: put before each other line; None: as many spaces as ``first`` is long.

    >>> wrapped("a sign by the sea", "  1  ")
    ['  1  a sign by the sea']
    """
    hang = " " * len(first) if later is None else later
    return textwrap.wrap(
        text, COLUMNS, initial_indent=first, subsequent_indent=hang,
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip


def folded(text: str, columns: int) -> str:
    r"""Each line that is too long broken between words, the rest of it under its text.

    A command stays whole, so that it can be copied.

    >>> print(folded("warn  A  a thin neck\nshort", 14))
    warn  A  a
             thin
             neck
    short
    """
    lines = []
    for line in text.split("\n"):
        if len(line) <= columns or line.startswith("kerfside "):
            lines.append(line)
            continue
        head = _HEAD.match(line)
        hang = min(head.end() if head else 0, columns - 5)
        lines += textwrap.wrap(
            line, columns, subsequent_indent=" " * hang, break_long_words=False,
            break_on_hyphens=False, replace_whitespace=False,
        )  # fmt: skip
    return "\n".join(lines)


def show(text: str, to: TextIO | None = None) -> None:
    """Print at once: on a terminal no wider than it is, elsewhere line by line for scripts.

    Args:
        text: one line or several.
        to: None: standard output.
    """
    stream = sys.stdout if to is None else to
    if stream.isatty():
        text = folded(text, shutil.get_terminal_size((80, 24)).columns)
    print(text, file=stream, flush=True)


def answer(question: str) -> str:
    """Ask on the terminal and return one line.

    Raises:
        EOFError: nobody answers.
    """
    asked = question.rstrip()
    *before, last = folded(asked, shutil.get_terminal_size((80, 24)).columns).split("\n")
    for line in before:
        print(line)
    return input(last + question[len(asked) :])
