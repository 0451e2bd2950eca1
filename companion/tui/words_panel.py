"""Left of the map: the sentence, its details, the reason, a list, the clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rich.style import Style
from textual.strip import Strip

from companion.tui.face import Clock, Face, Line, clock_text
from companion.tui.widgets import FacePainted, Run, line_of, wrapped

BOXED = ("x", ">")
"""Marks of a list that is ticked off."""
LEAST_WORDS = 3
"""With fewer rows than these above it, the clock gives way to a hint."""
TWO_LINES = 8
"""Rows of two lines of the letters that stand below a headline."""
LEAST_LISTED = 5
"""A list in letters shows at least so many lines, or all it has."""


def _window(heights: Sequence[int], at: int, room: int) -> tuple[int, int]:
    """The lines round one that fit in some rows, as a half-open range.

    >>> _window([3, 3, 3, 3, 3], 3, 10)
    (2, 5)
    """
    first, last = 0, len(heights)
    while last > first and sum(heights[first:last]) > room:
        # the end that lies farther off goes first
        if at - first > last - 1 - at:
            first += 1
        else:
            last -= 1
    return first, last


class WordsPanel(FacePainted):
    """Left of the map: the sentence, the reason, the list, the clock."""

    def paint(self, width: int, height: int) -> list[Strip]:
        """From the top: sentence, hint, list, reason; the clock at the bottom."""
        if self.face is None or width < 4:
            return []
        face, inner = self.face, width - 2
        words = (face.say, face.why, *face.details)
        small = sum(len(wrapped(text, inner)) + 1 for text in words) + len(face.lines)
        large = height - small - 2 * bool(face.hint) >= 7
        clock = self._clock(face.clock, inner, large) if face.clock else []
        if face.hint and height - len(clock) < LEAST_WORDS:
            # an answer of the moment comes before the clock
            clock = []
        room = height - len(clock)
        rows: list[list[Run]] = []
        if face.hint:
            care = self.skin.state("care")
            rows += [[(f" {text} ", care)] for text in wrapped(face.hint, inner - 2)]
            rows += [[]]
        plain = sum(len(wrapped(text, inner)) + 1 for text in words if text)
        # the sentence in letters as well, if both have room; else the list comes first
        wish = plain + len(self._lettered(face.say, inner) or ()) - len(wrapped(face.say, inner))
        listing = self._large_list(face, inner, room - wish - len(rows))
        listing = listing or self._large_list(face, inner, room - plain - len(rows))
        boxed = any(line.mark in BOXED for line in face.lines)
        needed = len(listing or (face.lines if boxed else self._least(face, inner)))
        prose = self._prose(face, inner, room - needed - len(rows))
        if len(prose) > room - needed - len(rows) and any(n.mark == "!" for n in face.lines):
            # what must be minded comes before the reason
            prose = self._prose(replace(face, why=""), inner, room - needed - len(rows))
        rows += prose
        rows += listing or self._listing(face, inner, room - len(rows))
        rows = rows[:room] + [[]] * (room - len(rows)) + clock
        margin: Run = (" ", self.skin.text)
        return [line_of([margin, *runs], width, self.fill) for runs in rows]

    def _prose(self, face: Face, inner: int, room: int) -> list[list[Run]]:
        """Sentence, details, reason: as many in block letters, from the first, as fit."""
        blocks = [(face.say, self.skin.strong)]
        blocks += [(detail, self.skin.text) for detail in face.details]
        blocks += [(face.why, self.skin.quiet)]
        blocks = [(text, style) for text, style in blocks if text]
        for lettered in range(len(blocks), -1, -1):
            rows: list[list[Run]] = []
            parted = 0
            for n, (text, style) in enumerate(blocks):
                large = n < lettered
                found = self._lettered(text, inner) if large else tuple(wrapped(text, inner))
                if found is None:
                    break
                rows += [[(row, style)] for row in found]
                # details stand together; letters need air
                rows += [[]] if large or text == face.say or n + 1 == len(blocks) else []
                if text in face.details[-1:] and not large:
                    parted = len(rows)
            else:
                if parted and len(rows) < room:
                    rows.insert(parted, [])
                if len(rows) <= room:
                    return rows
                if lettered == 0:
                    # of a page that is read, air goes before words do
                    return [row for row in rows if row] if face.picture else rows
        return []

    def _lettered(self, text: str, inner: int) -> tuple[str, ...] | None:
        lettering = self.eye.fit(text, inner, 1000, least=True)
        return lettering.rows if lettering.scale else None

    def _listing(self, face: Face, inner: int, room: int) -> list[list[Run]]:
        """The list in words round its current line; both ends may be left out."""
        at = next((i for i, line in enumerate(face.lines) if line.mark == ">"), 0)
        boxed = any(line.mark in BOXED for line in face.lines)
        if not boxed and len(whole := self._least(face, inner)) <= room:
            return whole
        items: list[list[list[Run]]] = []
        for line in face.lines:
            sign = {"x": "  [x] ", ">": "> [ ] "}.get(line.mark, "  [ ] ") if boxed else ""
            style, parts = self._line_style(line), wrapped(line.text, max(inner - len(sign), 8))
            blank = " " * len(sign)
            items.append([[(f"{blank if n else sign}{t}", style)] for n, t in enumerate(parts)])
        first, last = _window([len(item) for item in items], at, room)
        return [row for item in items[first:last] for row in item]

    def _least(self, face: Face, inner: int) -> list[list[Run]]:
        """All lines of a list in small words, without boxes; a line that fits keeps its columns."""
        return [
            [(row, self._line_style(line))] for line in face.lines
            for row in ([line.text] if len(line.text) <= inner else wrapped(line.text, inner))
        ]  # fmt: skip

    def _large_list(self, face: Face, inner: int, room: int) -> list[list[Run]] | None:
        """The list in letters, those lines round the current one that have room.

        None when a line takes more than two rows of letters, or so few lines have room that
        the list would say little: small words show more of it then. A list that is not gone
        through in order, as a choice, is shown whole or not at all.
        """
        items: list[list[list[Run]]] = []
        boxed = any(line.mark in BOXED for line in face.lines)
        for line in face.lines:
            sign = {"x": "[x] ", ">": "[>] "}.get(line.mark, "[ ] ") if boxed else ""
            found = self.eye.fit(sign + line.text, inner, TWO_LINES, least=True)
            if not found.scale:
                return None
            items.append([[(row, self._line_style(line))] for row in found.rows])
        # where some lines are broken in two, air tells where the next begins
        gap: list[list[Run]] = [[]] if len({len(item) for item in items}) > 1 else []
        at = next((i for i, line in enumerate(face.lines) if line.mark == ">"), 0)
        first, last = _window([len(item) + len(gap) for item in items], at, room + len(gap))
        if last - first < (min(len(items), LEAST_LISTED) if boxed else len(items)):
            return None
        shown = [row for item in items[first:last] for row in [*item, *gap]]
        return shown[: len(shown) - len(gap)]

    def _line_style(self, line: Line) -> Style:
        return self.skin.strong if line.mark in (">", "!") else self.skin.quiet

    def _clock(self, clock: Clock, inner: int, roomy: bool) -> list[list[Run]]:
        """Worked against planned: large where there is room, with a bar and its range."""
        of, span = clock.of, f" {clock.span}"
        spent = clock_text(clock.spent_s)
        bar = self._bar(clock, min(inner, 40))
        planned = of + (span if len(spent) + len(of) + len(span) + 1 <= inner else "")
        large = self.eye.fit(spent, inner, 8) if roomy else None
        if large and large.scale:
            rows = [[(row, self.skin.strong)] for row in large.rows]
            return [*rows, [(planned, self.skin.text)], bar]
        return [[(spent, self.skin.strong), (f" {planned}", self.skin.text)], bar]

    def _bar(self, clock: Clock, width: int) -> list[Run]:
        """Full width is the high end of the plan; the mark is the likely time."""
        high = max(clock.planned.high, 1e-6) * 60.0
        done = min(width, int(width * clock.spent_s / high))
        mark = min(width - 1, int(width * clock.planned.likely * 60.0 / high))
        full, empty, tick = ("#", "-", "|") if self.eye.plain else ("█", "─", "┃")
        cells = [tick if i == mark else full if i < done else empty for i in range(width)]
        return [("".join(cells), self.skin.text)]
