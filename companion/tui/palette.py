"""Colours of the saw screen, and the arithmetic that proves they can be read.

The rule kept here: every text stands out from its ground by at least 7:1 and every
line of the map by at least 3:1 (WCAG 2.1, contrast (enhanced) 1.4.6 and non-text
contrast 1.4.11), in every theme; a test walks :meth:`Palette.text_pairs` and
:meth:`Palette.line_pairs`. The theme ``terminal`` names no colour at all: it is the
terminal's own ground and ink, with bold and reverse, and is used for NO_COLOR.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from companion.draw.cells import Area, Ink

Tone = Literal["calm", "care", "go", "wait", "stop", "done"]
"""Mood of a screen: the state word's own colours; the word itself always stands there."""
ThemeName = Literal["dark", "light", "contrast", "terminal"]

TEXT_RATIO = 7.0
LINE_RATIO = 3.0


def luminance(colour: str) -> float:
    """Relative luminance of ``#rrggbb``, 0 black to 1 white (WCAG 2.x definition).

    >>> luminance("#ffffff"), luminance("#000000")
    (1.0, 0.0)
    """
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.x definition)."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@dataclass(frozen=True, slots=True)
class Palette:
    """The colours of one theme, ``#rrggbb``."""

    ground: str
    """Behind all text."""
    ink: str
    """Text."""
    quiet: str
    """Text of second rank; still 7:1."""
    bar: str
    """Ground of the top and bottom bars."""
    tones: dict[Tone, tuple[str, str]]
    """Ink and ground of the state word."""
    areas: dict[Area, str]
    """Ground of each area of the map."""
    patterns: dict[Area, str]
    """Each area's pattern."""
    inks: dict[Ink, str]
    """Lines and signs of the map."""

    def text_pairs(self) -> Iterator[tuple[str, str, str]]:
        """Every pair of text colour and ground that can meet: name, ink, ground."""
        for ground in ("ground", "bar"):
            for ink in ("ink", "quiet"):
                yield f"{ink} on {ground}", getattr(self, ink), getattr(self, ground)
        for tone, (ink, ground) in self.tones.items():
            yield f"state {tone}", ink, ground
        for sign in (Ink.MARK, Ink.HOLD, Ink.NECK):
            for area, ground in self.areas.items():
                yield f"{sign.name} on {area.name}", self.inks[sign], ground

    def line_pairs(self) -> Iterator[tuple[str, str, str]]:
        """Every pair of a map line that is still to be seen and its ground."""
        for line in (Ink.NOW, Ink.LATER, Ink.FRAME):
            for area, ground in self.areas.items():
                yield f"{line.name} on {area.name}", self.inks[line], ground


PALETTES: dict[ThemeName, Palette] = {
    "dark": Palette(
        ground="#0e1216", ink="#f4f1e8", quiet="#c3c0b6", bar="#1c232a",
        tones={
            "calm": ("#0e1216", "#9fc7e8"), "care": ("#1a1200", "#ffc64d"),
            "go": ("#04160a", "#74e08f"), "wait": ("#140f1f", "#cdb8f2"),
            "stop": ("#ffffff", "#a80000"), "done": ("#0e1216", "#d9d6cc"),
        },
        areas={
            Area.BARE: "#0e1216", Area.WASTE: "#20262c", Area.KEEP: "#3d2b12",
            Area.AWAY: "#000000", Area.FREED: "#000000",
        },
        patterns={
            Area.BARE: "#0e1216", Area.WASTE: "#59636d", Area.KEEP: "#8a6630",
            Area.AWAY: "#000000", Area.FREED: "#000000",
        },
        inks={
            Ink.NONE: "#f4f1e8", Ink.PATTERN: "#59636d", Ink.FRAME: "#9aa5af",
            Ink.LATER: "#cfc9ba", Ink.DONE: "#6b665c", Ink.NOW: "#ffb52e",
            Ink.MARK: "#ffffff", Ink.HOLD: "#8bf0a4", Ink.NECK: "#ffb3a8",
        },
    ),
    "light": Palette(
        ground="#faf8f2", ink="#15171a", quiet="#3f444a", bar="#e7e3d8",
        tones={
            "calm": ("#ffffff", "#123f66"), "care": ("#1a1200", "#ffcf5c"),
            "go": ("#ffffff", "#0b4a1f"), "wait": ("#ffffff", "#45266e"),
            "stop": ("#ffffff", "#a80000"), "done": ("#ffffff", "#3f444a"),
        },
        areas={
            Area.BARE: "#faf8f2", Area.WASTE: "#e6e4de", Area.KEEP: "#ecd4a2",
            Area.AWAY: "#ffffff", Area.FREED: "#ffffff",
        },
        patterns={
            Area.BARE: "#faf8f2", Area.WASTE: "#a3a199", Area.KEEP: "#b8904a",
            Area.AWAY: "#ffffff", Area.FREED: "#ffffff",
        },
        inks={
            Ink.NONE: "#15171a", Ink.PATTERN: "#a3a199", Ink.FRAME: "#5c636a",
            Ink.LATER: "#5d5340", Ink.DONE: "#b9b4a6", Ink.NOW: "#a01800",
            Ink.MARK: "#000000", Ink.HOLD: "#0a3d18", Ink.NECK: "#6e0020",
        },
    ),
    "contrast": Palette(
        ground="#000000", ink="#ffffff", quiet="#ffffff", bar="#000000",
        tones={
            "calm": ("#000000", "#ffffff"), "care": ("#000000", "#ffff00"),
            "go": ("#000000", "#00ff66"), "wait": ("#000000", "#66ffff"),
            "stop": ("#ffffff", "#990000"), "done": ("#000000", "#ffffff"),
        },
        areas={
            Area.BARE: "#000000", Area.WASTE: "#000000", Area.KEEP: "#2b2b2b",
            Area.AWAY: "#000000", Area.FREED: "#000000",
        },
        patterns={
            Area.BARE: "#000000", Area.WASTE: "#8c8c8c", Area.KEEP: "#9c9c9c",
            Area.AWAY: "#000000", Area.FREED: "#000000",
        },
        inks={
            Ink.NONE: "#ffffff", Ink.PATTERN: "#8c8c8c", Ink.FRAME: "#ffffff",
            Ink.LATER: "#ffffff", Ink.DONE: "#8c8c8c", Ink.NOW: "#ffff00",
            Ink.MARK: "#66ffff", Ink.HOLD: "#00ff66", Ink.NECK: "#ffb3a8",
        },
    ),
}  # fmt: skip
"""``terminal`` is not here: it names no colours."""
