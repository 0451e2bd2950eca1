"""The signs on the map: start, hole, turns by shape, holding places, necks, the way along.

Every kind has a shape of its own, so that it is told without colour. Where the current
cut is shown large enough, signs are drawn in dots, about nine millimetres high on a
usual screen, to be seen from the stool; else, and where they would crowd each other,
they are one character each.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from companion.draw.cells import DOTS, Floats, Frame, Ink, Ints, Mode, View, fill
from companion.findings import Point

Kind = Literal[
    "hole", "to-size", "drilled", "start", "spin", "back-out", "loop", "hold", "neck", "arrow",
    "piece",
]  # fmt: skip

SIGNS: dict[str, tuple[str, str]] = {
    "hole": ("○", "o"),
    "to-size": ("◎", "Q"),
    "drilled": ("●", "*"),
    "start": ("■", "S"),
    "spin": ("↻", "@"),
    "back-out": ("▲", "A"),
    "loop": ("◆", "x"),
    "hold": ("H", "H"),
    "neck": ("!", "!"),
    "piece": ("P", "P"),
}
"""One character for each kind, shaped as on the sheet; the second for an ASCII terminal."""
ARROWS = ("→↘↓↙←↖↑↗", ">\\v/<\\^/")
"""Headings in eighths of a turn from the right, clockwise; the second in ASCII."""
APART_DOTS = 11.0
"""Centres of two large signs stand at least this far apart."""


@dataclass(frozen=True, slots=True)
class Sign:
    """One sign at its place."""

    kind: Kind
    at_mm: Point
    label: str = ""
    """Characters to its right."""
    heading: float = 0.0
    """Of an arrow, radians on the screen, y down."""

    @property
    def ink(self) -> Ink:
        """Its colour's name."""
        return {"hold": Ink.HOLD, "neck": Ink.NECK}.get(self.kind, Ink.MARK)

    def character(self, plain: bool) -> str:
        """The sign as one character."""
        if self.kind == "arrow":
            return ARROWS[plain][round(self.heading / (math.pi / 4)) % 8]
        return SIGNS[self.kind][plain]


def _disc(radius: float) -> list[Point]:
    turns = [2.0 * math.pi * n / 14 for n in range(15)]
    return [(radius * math.cos(t), radius * math.sin(t)) for t in turns]


def _arc(radius: float, start_deg: float, end_deg: float) -> list[Point]:
    turns = [math.radians(start_deg + (end_deg - start_deg) * n / 14) for n in range(15)]
    return [(radius * math.cos(t), radius * math.sin(t)) for t in turns]


_SHAPES: dict[Kind, list[list[Point]]] = {
    "start": [[(-3.6, -3.6), (3.6, -3.6), (3.6, 3.6), (-3.6, 3.6)]],
    # a ring that is open at the right, with the tip of an arrow at its end
    "spin": [_arc(4.8, -20.0, -300.0) + _arc(2.8, -300.0, -20.0),
             [(1.0, -0.5), (6.4, -0.5), (3.7, 3.6)]],
    "back-out": [[(-5.0, 4.0), (5.0, 4.0), (0.0, -5.0)]],
    "loop": [[(-5.0, 0.0), (0.0, -5.0), (5.0, 0.0), (0.0, 5.0)]],
    # a ring: by even-odd the inner circle is left open
    "hole": [_disc(4.4) + _disc(2.4)],
    # the same with a dot in its middle
    "to-size": [_disc(5.2) + _disc(3.6), _disc(1.7)],
    "drilled": [_disc(4.4)],
    "arrow": [[(5.0, 0.0), (-3.5, 3.8), (-1.5, 0.0), (-3.5, -3.8)]],
    "hold": [[(-4.0, -5.0), (-2.0, -5.0), (-2.0, -1.0), (2.0, -1.0), (2.0, -5.0), (4.0, -5.0),
              (4.0, 5.0), (2.0, 5.0), (2.0, 1.0), (-2.0, 1.0), (-2.0, 5.0), (-4.0, 5.0)]],
    "neck": [[(-1.1, -5.0), (1.1, -5.0), (1.1, 1.5), (-1.1, 1.5)],
             [(-1.1, 3.0), (1.1, 3.0), (1.1, 5.0), (-1.1, 5.0)]],
}  # fmt: skip
"""Outlines in dots around the place; braille dots are square."""


def draw_large(inks: Ints, signs: list[Sign], view: View) -> list[Sign]:
    """Draw signs in dots where there is room, the most important (first) first, in place.

    Args:
        inks: braille dots, :class:`Ink` each.
        signs: what is to be shown, by importance.
        view: what the dots show.

    Returns:
        Those that found no room and are to be shown as characters; an arrow that finds
        none is left out, since the others say the same.
    """
    left: list[Sign] = []
    placed: list[Floats] = []
    for sign in signs:
        if sign.kind == "piece":  # a word
            left.append(sign)
            continue
        centre = view.dots(np.array([sign.at_mm]), "braille")[0]
        if any(np.hypot(*(centre - other)) < APART_DOTS for other in placed):
            if sign.kind != "arrow":
                left.append(sign)
            continue
        placed.append(centre)
        cos, sin = math.cos(sign.heading), math.sin(sign.heading)
        for outline in _SHAPES[sign.kind]:
            turned = np.array(outline) @ np.array([[cos, sin], [-sin, cos]])
            fill(inks, turned + centre, sign.ink)
        if sign.label:
            left.append(sign)
    return left


def apart(signs: list[Sign], view: View) -> list[Sign]:
    """Signs of one character, those without their label whose label would touch another sign.

    Two numbers that run together are read as a third; the sign itself tells the place.

    Args:
        signs: by importance.
        view: what shows them; a label that its edge would cut is left out as well.
    """
    cells = [view.cell(sign.at_mm) for sign in signs]
    found: list[Sign] = []
    for n, (sign, (column, row)) in enumerate(zip(signs, cells, strict=True)):
        end = column + len(sign.label)
        crowded = sign.label and (
            end >= view.columns
            or any(r == row and column <= c <= end + 1 for c, r in cells[:n] + cells[n + 1 :])
        )
        found.append(replace(sign, label="") if crowded else sign)
    return found


def put_characters(frame: Frame, signs: list[Sign], view: View, mode: Mode, large: bool) -> None:
    """Show signs as characters, the most important (first) on top, in place.

    Args:
        frame: the painted picture.
        signs: by importance.
        view: what it shows.
        mode: which canvas.
        large: the labelled sign itself has been drawn in dots; only its label is put.
    """
    for sign in reversed(signs):
        column, row = view.cell(sign.at_mm)
        text = sign.character(mode == "ascii") + sign.label
        if large and sign.label and sign.kind != "piece":
            # beside the ring, which is two cells wide to either side
            text, column = sign.label, column + 1 + round(4.4 / DOTS["braille"][1])
        for offset, character in enumerate(text):
            if 0 <= row < view.rows and 0 <= column + offset < view.columns:
                frame.signs[row, column + offset] = character
                frame.ink[row, column + offset] = sign.ink


def arrows(line: Floats, every_mm: float) -> Iterator[Sign]:
    """Arrows along a line in travel order.

    The first stands a little after the start, so that the direction shows at once.

    Args:
        line: (n, 2) mm in travel order.
        every_mm: wanted distance between two; at most 24 are given.

    >>> square = np.array([(0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 9.0), (0.0, 0.0)])
    >>> "".join(sign.character(plain=False) for sign in arrows(square, 9.0))
    '→↓←↑'
    """
    if len(line) < 2:
        return
    steps = np.hypot(*np.diff(line, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    total = float(along[-1])
    count = max(1, min(24, int(total / max(every_mm, 1e-6))))
    for n in range(count):
        s = (n + 0.4) * total / count
        at = min(int(np.searchsorted(along, s, side="right")) - 1, len(steps) - 1)
        share = (s - along[at]) / max(float(steps[at]), 1e-9)
        x, y = line[at] + (line[at + 1] - line[at]) * share
        dx, dy = line[at + 1] - line[at]
        yield Sign("arrow", (float(x), float(y)), heading=math.atan2(dy, dx))
