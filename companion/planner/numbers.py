"""Numbers in findings that are known only when the order is.

A finding of an early stage speaks of an opening or an outline; the sawyer sees neither's
number, but that of its hole and cut, on the board, the sheet and the screen. So such a
finding bears a mark, which gives way to the cut's number once the order is found.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from companion.findings import Finding
from companion.planner.contours import Contour
from companion.planner.plan import Cut, SizedHole

_OPEN, _CLOSE = "\ue000", "\ue001"
"""From Unicode's private use area: they stand in no sentence."""
_MARK = re.compile(f"{_OPEN}([io])([0-9]+){_CLOSE}")


def cut_of_opening(opening: int) -> str:
    """Stands for the number of the cut that frees an opening's waste."""
    return f"{_OPEN}i{opening}{_CLOSE}"


def cut_of(contour: Contour) -> str:
    """Stands for the number of a contour's cut."""
    if contour.opening is not None:
        return cut_of_opening(contour.opening)
    return f"{_OPEN}o{contour.piece}{_CLOSE}"


def numbered(
    findings: Iterable[Finding], cuts: Iterable[Cut], to_size: Iterable[SizedHole] = ()
) -> list[Finding]:
    """Findings with the numbers on the board in place of their marks.

    An opening that is drilled to size bears its hole's; one without either keeps its number
    in the pattern.
    """
    number = {f"i{c.opening}" if c.side == "inside" else f"o{c.piece}": str(c.number) for c in cuts}
    number |= {f"i{hole.opening}": str(hole.number) for hole in to_size}

    def put(text: str) -> str:
        return _MARK.sub(lambda m: number.get(m[1] + m[2], m[2]), text)

    return [replace(f, text=put(f.text), remedy=put(f.remedy)) for f in findings]
