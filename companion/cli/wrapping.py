"""Text for the terminal, broken between words: no line runs into the terminal's own break."""

from __future__ import annotations

import textwrap

COLUMNS = 78


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
