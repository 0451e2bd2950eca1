"""Words of a drawing inside messages: short, and nothing that a terminal would obey."""

from __future__ import annotations

MOST = 40


def quoted(text: str, most: int = MOST) -> str:
    """Printable characters, at most so many.

    >>> quoted("leaf" + chr(155) + "2J" + chr(10))
    'leaf?2J?'
    >>> quoted("x" * 99, 5)
    'xxxxx...'
    """
    told = "".join(c if c.isprintable() else "?" for c in text[:most])
    return told if len(text) <= most else told + "..."
