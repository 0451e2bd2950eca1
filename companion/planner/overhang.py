"""Whether the table carries the board.

A board tips when its middle lies beyond the table's edge; the sawyer then holds it up
with the hands that should steer. Rule, common practice, no published source: support a
board whose middle leaves the table. Where on its table a saw has its blade differs
between saws; here it is taken to be the middle, which the finding says. Without the
table's size nothing is said.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from companion.findings import Finding
from companion.planner.plan import Board, Cut
from companion.shop import tables
from companion.shop.model import SawProfile
from companion.words import Words


def overhang(board: Board, cuts: Sequence[Cut], saw: SawProfile, words: Words) -> list[Finding]:
    """The finding for a board whose middle leaves the table during some cut.

    Args:
        board: of even thickness, so that its middle is where it balances.
        cuts: with their lines in travel order; reversing one changes nothing.
        saw: with the table's size; 0: not known.
        words: the language.

    Returns:
        The worst place; none when the table carries the board throughout.
    """
    if saw.table_length_mm <= 0 or saw.table_width_mm <= 0:
        return []
    middle = np.array([board.width_mm, board.height_mm]) / 2
    half = np.array([saw.table_length_mm, saw.table_width_mm]) / 2
    worst = tables.number("weak", "overhang.mm")
    found: tuple[float, tuple[float, float], int] | None = None
    for cut in cuts:
        path = np.array(cut.line_mm)
        step = np.diff(path, axis=0)
        size = np.hypot(step[:, 0], step[:, 1])
        keep = size > 1e-9
        heading = step[keep] / size[keep, None]
        for ends in (path[:-1][keep], path[1:][keep]):
            away = middle - ends
            along = np.abs((away * heading).sum(axis=1))
            aside = np.abs(away[:, 0] * heading[:, 1] - away[:, 1] * heading[:, 0])
            over = np.maximum(along - half[0], aside - half[1])
            k = int(np.argmax(over))
            if over[k] > worst:
                worst = float(over[k])
                found = (worst, (float(ends[k, 0]), float(ends[k, 1])), cut.number)
    if found is None:
        return []
    over_mm, at, number = found
    return [Finding(
        "board-overhang", tables.severity("weak", "overhang.mm"), at,
        words.say(
            "In cut {cut} the middle of the board comes to lie {over} mm beyond the table, the"
            " blade taken to be in the table's middle: the board tips.",
            cut=number, over=f"{over_mm:.0f}",
        ),
        words.say("Stand a support level with the table, or cut the pattern on a smaller board."),
        over_mm,
    )]  # fmt: skip
