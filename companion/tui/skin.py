"""Turns a palette into styles of the screen library; the one place that knows both.

The theme ``terminal`` uses no colour, only the terminal's own ground and ink, bold
and reverse. Dim is never used: how faint it is depends on the terminal.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip

from companion.draw.cells import Area, Frame, Ink
from companion.tui.palette import PALETTES, Palette, ThemeName, Tone


@dataclass(frozen=True)
class Skin:
    """The styles of one theme."""

    theme: ThemeName = "dark"

    @cached_property
    def palette(self) -> Palette | None:
        """The colours; None for the terminal's own."""
        return PALETTES.get(self.theme)

    @cached_property
    def text(self) -> Style:
        """Ordinary text."""
        p = self.palette
        return Style(color=p.ink, bgcolor=p.ground) if p else Style()

    @cached_property
    def strong(self) -> Style:
        """The thing to do."""
        return self.text + Style(bold=True)

    @cached_property
    def quiet(self) -> Style:
        """Text of second rank."""
        p = self.palette
        return Style(color=p.quiet, bgcolor=p.ground) if p else Style()

    @cached_property
    def bar(self) -> Style:
        """The top and bottom bars."""
        p = self.palette
        return Style(color=p.ink, bgcolor=p.bar) if p else Style()

    @cached_property
    def key(self) -> Style:
        """A key's name in the bottom bar."""
        return self.bar + Style(bold=True, reverse=self.palette is None)

    def state(self, tone: Tone) -> Style:
        """The state word."""
        p = self.palette
        if p is None:
            return Style(bold=True, reverse=True)
        ink, ground = p.tones[tone]
        return Style(color=ink, bgcolor=ground, bold=True)

    @cached_property
    def _cells(self) -> dict[tuple[int, int], Style]:
        return {(ink, area): self._cell(ink, area) for ink in Ink for area in Area}

    def _cell(self, ink: Ink, area: Area) -> Style:
        p = self.palette
        if p is None:
            sign = ink in (Ink.MARK, Ink.HOLD, Ink.NECK)
            return Style(bold=sign or ink is Ink.NOW, reverse=sign)
        colour = p.patterns[area] if ink is Ink.PATTERN else p.inks[ink]
        return Style(color=colour, bgcolor=p.areas[area], bold=ink >= Ink.NOW)

    def strips(self, frame: Frame) -> list[Strip]:
        """A painted map as strips: one segment for each run of equal style."""
        strips: list[Strip] = []
        styles = self._cells
        keys = frame.ink * len(Area) + frame.area
        for row in range(frame.signs.shape[0]):
            line = "".join(frame.signs[row])
            cuts = [0, *((keys[row, 1:] != keys[row, :-1]).nonzero()[0] + 1), len(line)]
            strips.append(
                Strip(
                    [
                        Segment(line[a:b], styles[divmod(int(keys[row, a]), len(Area))])
                        for a, b in zip(cuts, cuts[1:], strict=False)
                        if b > a
                    ],
                    len(line),
                )
            )
        return strips
