"""The lists a session goes through, from their tables: checks before power, ways back from mishaps.

Light like the tables themselves: the saw screen reads its checks through it.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import cast

from companion.shop.model import CheckItem, Checklist, Mishap, Signal
from companion.shop.tables import DATA, bad, rows, sourced, table


@cache
def checklist(folder: Path = DATA) -> Checklist:
    """What is asked at a session's start, at its first power-on, in an open kerf, and each time.

    >>> [i.key for i in checklist().short]
    ['blade-tight', 'foot-down', 'fingers-clear']
    """

    def items(key: str) -> tuple[CheckItem, ...]:
        result = []
        for row in rows("checklist", key, ("key", "signal", "say", "why", "s", "t"), folder):
            if row["signal"] not in ("DANGER", "WARNING", "CAUTION", "NOTICE"):
                raise bad("checklist", f"{key}.{row['key']}", "unknown signal word", folder)
            source, trust = sourced("checklist", f"{key}.{row['key']}", row, folder)
            result.append(
                CheckItem(
                    row["key"], cast(Signal, row["signal"]), row["say"], row["why"], source, trust
                )
            )
        return tuple(result)

    precedence = table("checklist", folder).get("precedence", {}).get("say")
    if not precedence:
        raise bad("checklist", "precedence.say", "is missing", folder)
    return Checklist(
        items("full"),
        items("first"),
        items("short"),
        items("reentry"),
        items("unpowered"),
        str(precedence),
    )


@cache
def mishaps(folder: Path = DATA) -> tuple[Mishap, ...]:
    """Kinds of mishap with their recovery, in the order of the table."""
    result = []
    for row in rows("mishaps", "kind", ("key", "name", "steps", "s", "t"), folder):
        source, trust = sourced("mishaps", f"kind.{row['key']}", row, folder)
        in_hand = row.get("blade_in_hand", False) is True
        drilling = row.get("drilling", False) is True
        result.append(Mishap(row["key"], row["name"], tuple(row["steps"]), source, trust, in_hand,
                             drilling))  # fmt: skip
    return tuple(result)
