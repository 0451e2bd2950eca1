"""The parts of the saw screen; each paints strips and repaints only when told something new."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Size
from textual.strip import Strip
from textual.widget import Widget

from companion.draw import letters
from companion.draw.board import Moment, Outlines, board_frame, holds_now
from companion.draw.cells import Mode, View
from companion.draw.marks import thin_necks
from companion.draw.signs import SIGNS
from companion.tui.face import PARTED, Face
from companion.tui.palette import Tone
from companion.tui.skin import Skin

Run = tuple[str, Style]
ONE_LINE = 5
"""Rows of one line of the high letters, with what hangs below."""
ROOMY_ROWS = 13
"""With this many rows for the headline, two lines of it leave the map enough."""


@dataclass(frozen=True, slots=True)
class Eye:
    """How the screen is seen, and what it can show."""

    cell_height_mm: float
    """One cell, measured with a ruler."""
    distance_mm: float
    """Eye to screen."""
    canvas: Mode = "braille"

    @property
    def plain(self) -> bool:
        """Whether only ASCII may be used."""
        return self.canvas == "ascii"

    def fit(self, text: str, columns: int, rows: int, least: bool = False) -> letters.Lettering:
        """Set a text in letters for this eye; ``least``: no larger than need be."""
        return letters.fit(
            text, columns, rows, self.cell_height_mm, self.distance_mm, self.plain, least
        )


def line_of(runs: Sequence[Run], width: int, fill: Style) -> Strip:
    """Runs of text as one strip, cut or filled to a width."""
    segments = [Segment(text, style) for text, style in runs if text]
    strip = Strip(segments)
    return strip.adjust_cell_length(width, fill)


def wrapped(text: str, width: int) -> list[str]:
    """Break plain text at spaces; a word longer than a line is cut."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        while len(word) > width > 0:
            if line:
                lines.append(line)
                line = ""
            lines.append(word[:width])
            word = word[width:]
        longer = f"{line} {word}".strip()
        if len(longer) > width:
            lines.append(line)
            longer = word
        line = longer
    return [*lines, line] if line else lines


def clipped(text: str, width: int) -> str:
    """A text that shows by three dots that it was cut off."""
    return text if len(text) <= width else text[: max(width - 3, 0)] + "..."


class Painted(Widget):
    """A widget that keeps its painted strips until its content or size changes."""

    def __init__(self, skin: Skin, eye: Eye, id: str) -> None:  # noqa: A002  # Textual's name
        super().__init__(id=id)
        self.skin = skin
        self.eye = eye
        self._strips: list[Strip] | None = None
        self._painted_for: Size | None = None
        self.paints = 0
        """How often it was painted anew."""

    def paint(self, width: int, height: int) -> list[Strip]:
        """The rows, top to bottom; missing ones are filled."""
        raise NotImplementedError

    def repaint(self) -> None:
        """Forget what was painted."""
        self._strips = None
        self.refresh()

    def render_line(self, y: int) -> Strip:
        """One row of the widget."""
        if self._strips is None or self._painted_for != self.size:
            self._painted_for = self.size
            self._strips = self.paint(self.size.width, self.size.height)
            self.paints += 1
        if y < len(self._strips):
            return self._strips[y]
        return Strip.blank(self.size.width, self.fill)

    @property
    def fill(self) -> Style:
        """Style of what is empty."""
        return self.skin.text


class FacePainted(Painted):
    """Painted from a face; again when any of it changes."""

    face: Face | None = None

    def show(self, face: Face) -> None:
        """Show another face."""
        if face != self.face:
            self.face = face
            self.repaint()


class StateBar(Painted):
    """Top line: the state word, what the saw must be, and where in the work."""

    face: Face | None = None
    marks: tuple[str, ...] = ()

    def show(self, face: Face, marks: tuple[str, ...] = ()) -> None:
        """Show another face's state, and what else is so: a press heard, the voice off."""
        old, before = self.face, self.marks
        self.face, self.marks = face, marks
        if old is None or (old.word, old.tone, old.place, old.short_place, old.power, before) != (
            face.word, face.tone, face.place, face.short_place, face.power, marks,
        ):  # fmt: skip
            self.repaint()

    @property
    def fill(self) -> Style:
        """The bar's own ground."""
        return self.skin.bar

    def paint(self, width: int, height: int) -> list[Strip]:
        """One line; where it is too long, whole parts are left out and none is cut."""
        if self.face is None:
            return []
        left: list[Run] = [
            (f" {self.face.word} ", self.skin.state(self.face.tone)),
            (f"  {self.face.power}" if self.face.power else "", self.skin.bar),
        ]
        room = width - sum(len(t) for t, _ in left) - 1
        marks, place = self._fitting(room)
        gap = max(0, room - len(marks) - len(place))
        left += [(marks, self.skin.bar), (" " * gap + place, self.skin.bar)]
        return [line_of(left, width, self.skin.bar)]

    def _fitting(self, room: int) -> tuple[str, str]:
        """Marks and place as far as there is room.

        Marks go first, then the long words, then the time; run and step are both needed, so
        the run goes last.
        """
        assert self.face is not None  # noqa: S101  # paint() has looked
        parts = self.face.place.split(PARTED)
        short = self.face.short_place.split(PARTED) if self.face.short_place else parts
        shown = [(self.marks[:n], parts) for n in range(len(self.marks), -1, -1)]
        shown += [((), short), ((), short[:-1]), ((), short[1:-1])]
        for marks, rest in shown:
            told, place = "".join(f"  ({mark})" for mark in marks), PARTED.join(rest)
            if len(told) + 2 + len(place) <= room:
                return told, place
        return "", ""


class Headline(Painted):
    """The one thing to do, in letters for the stool."""

    text: str = ""
    most_rows: int = 9

    def show(self, text: str, most_rows: int) -> None:
        """Show another text, in at most so many rows."""
        if (text, most_rows) != (self.text, self.most_rows):
            self.text, self.most_rows = text, most_rows
            self.repaint()
            if self.get_content_height(self.size, self.size, self.size.width) != self.size.height:
                self.refresh(layout=True)

    def _set(self, width: int) -> letters.Lettering:
        """One line if some letters allow it: the rows go to the map; else as large as fits."""
        inner = max(width - 2, 1)
        if self.most_rows < ROOMY_ROWS:
            line = self.eye.fit(self.text, inner, ONE_LINE)
            if line.scale:
                return line
        found = self.eye.fit(self.text, inner, self.most_rows)
        if found.scale == 0:
            # what is to be done comes before the map: better half the screen than small words
            found = self.eye.fit(self.text, inner, self.most_rows * 4 // 3)
        return found

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """As many rows as the letters need, with a free one above."""
        return max(1, len(self._set(width).rows)) + 1

    def paint(self, width: int, height: int) -> list[Strip]:
        """The letters, one cell in from the left, a free row above."""
        strong = self.skin.strong
        rows = [line_of([(f" {row}", strong)], width, self.fill) for row in self._set(width).rows]
        return [Strip.blank(width, self.fill), *rows]


class BoardMap(Painted):
    """The board as it stands; redrawn only when the moment, the view or the size changes."""

    outlines: Outlines | None = None
    moment: Moment = Moment()
    close_up: bool = False
    legend: tuple[tuple[str, str], ...] = ()
    """Signs by kind and their words, for the line below the map."""
    picture: str = ""
    """Page of reasons whose picture is shown instead; empty: none."""

    def show(self, outlines: Outlines | None, moment: Moment, close_up: bool) -> None:
        """Show another moment."""
        same = (moment, close_up, "") == (self.moment, self.close_up, self.picture)
        if not same or outlines is not self.outlines:
            self.outlines, self.moment, self.close_up = outlines, moment, close_up
            self.picture = ""
            self.repaint()

    def show_picture(self, picture: str) -> None:
        """Show a drawn reason in the map's place."""
        if picture != self.picture:
            self.picture = picture
            self.repaint()

    def paint(self, width: int, height: int) -> list[Strip]:
        """The whole board or the current cut; or the picture."""
        if self.picture and width >= 4 and height >= 2:
            # asked for by few, so not part of the screen's start
            from companion.draw.reasons import picture_cells

            return self.skin.strips(picture_cells(self.picture, width, height, self.eye.canvas))
        if self.outlines is None or width < 4 or height < 2:
            return []
        box = self.outlines.board_box
        if self.close_up and self.moment.current is not None:
            box = self.outlines.zoom_box(self.moment.current, self.moment.stretch)
        view = View.around(box, width, height)
        return self.skin.strips(board_frame(self.outlines, view, self.eye.canvas, self.moment))

    def signs(self) -> str:
        """What the signs on the map mean; only those that can stand there now."""
        plan = self.outlines.plan if self.outlines else None
        current = self.moment.current
        if plan is None or self.picture or not self.display:
            return ""
        if self.moment.all_holes:
            drilled = self.moment.hole is not None or self.moment.drilled
            shown = {"hole", "drilled"} if drilled else {"hole"}
            shown |= {"to-size"} if plan.to_size else set()
        else:
            shown = {"hole", "start"} if current is not None else set()
        if self.moment.holding:
            shown |= {"neck"} if thin_necks(plan) else set()
            if current is not None:
                cut = plan.cuts[current - 1]
                shown |= {t.technique for t in cut.turns}
                shown |= {"hold"} if cut.hold_mm and holds_now(self.moment) else set()
        pick = 1 if self.eye.plain else 0
        return "  ".join(
            f"{SIGNS[kind][pick]} {word}" for kind, word in self.legend if kind in shown
        )


class TextLine(Painted):
    """One line of small text."""

    text: str = ""

    def show(self, text: str) -> None:
        """Show another text."""
        if text != self.text:
            self.text = text
            self.repaint()

    def paint(self, width: int, height: int) -> list[Strip]:
        """One line, cut at the width."""
        return [line_of([(f" {clipped(self.text, width - 1)}", self.skin.quiet)], width, self.fill)]


class KeyBar(Painted):
    """Bottom: the keys in words."""

    keys: tuple[tuple[str, str], ...] = ()

    def show(self, keys: tuple[tuple[str, str], ...]) -> None:
        """Show other keys: (key as written, label)."""
        if keys != self.keys:
            self.keys = keys
            self.repaint()
            if self.get_content_height(self.size, self.size, self.size.width) != self.size.height:
                self.refresh(layout=True)

    @property
    def fill(self) -> Style:
        """The bar's own ground."""
        return self.skin.bar

    def _rows(self, width: int) -> list[list[Run]]:
        rows: list[list[Run]] = [[]]
        used = 0
        for key, label in self.keys:
            need = len(key) + len(label) + 4
            if used and used + need > width:
                rows.append([])
                used = 0
            rows[-1] += [(" ", self.skin.bar), (key, self.skin.key)]
            rows[-1] += [(f" {label}  ", self.skin.bar)]
            used += need
        return rows

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """One row, or two where the words do not fit in one."""
        return min(3, len(self._rows(width)))

    def paint(self, width: int, height: int) -> list[Strip]:
        """The keys, flowing."""
        return [line_of(runs, width, self.fill) for runs in self._rows(width)]


class Banner(Painted):
    """A bar across the whole width, five rows, for what must not be missed."""

    text: str = ""
    then: str = ""
    tone: Tone = "stop"

    def show(self, text: str, then: str = "") -> None:
        """Show a text and what to do about it; an empty text hides the bar."""
        if (text, then) != (self.text, self.then):
            self.text, self.then = text, then
            self.display = bool(text)
            self.repaint()

    def paint(self, width: int, height: int) -> list[Strip]:
        """All of it in letters, or the text alone, or words in the middle row."""
        style = self.skin.state(self.tone)
        whole = f"{self.text} {self.then}".strip()
        shown = [
            self.eye.fit(text, width - 2, height - 1, least=True) for text in (whole, self.text)
        ]
        large = next((found.rows for found in shown if found.scale), (clipped(whole, width),))
        if not shown[0].scale and shown[1].scale and len(large) < height:
            # only the first words have room in letters; what to do stands below them
            large = (*large, clipped(self.then, width))
        above = ("",) * ((height - len(large) + 1) // 2)
        rows = (*above, *large, *("",) * (height - len(large) - len(above)))
        return [line_of([(row.center(width), style)], width, style) for row in rows]


class StopSign(FacePainted):
    """The whole screen as an eight-sided sign: told by word and shape, and by red."""

    def paint(self, width: int, height: int) -> list[Strip]:
        """An octagon with the word in it, the sentence below the word."""
        if self.face is None:
            return []
        sign = self.skin.state("stop")
        cut = max(1, height // 4)
        rows = []
        inside = self._inside(width - 4 * cut, height)
        for y in range(height):
            edge = max(0, cut - y, cut - (height - 1 - y)) * 2
            text = inside.get(y, "")[: width - 2 * edge].center(width - 2 * edge)
            runs = [(" " * edge, self.fill), (text, sign), (" " * edge, self.fill)]
            rows.append(line_of(runs, width, self.fill))
        return rows

    def _inside(self, width: int, height: int) -> dict[int, str]:
        """Row by row, what stands in the sign: the word, what to do, how it ends."""
        assert self.face is not None  # noqa: S101  # paint() has looked
        after = wrapped(self.face.next, max(width, 20))
        say = self.eye.fit(self.face.say, max(width, 20), height // 2, least=True)
        word = self._word(width, height - len(say.rows) - len(after) - 4)
        rows = [*word, "", *say.rows, "", *after]
        top = max(0, (height - len(rows)) // 2)
        return {top + i: row for i, row in enumerate(rows)}

    def _word(self, width: int, rows: int) -> tuple[str, ...]:
        """The word as large as the sign holds: no upper end for an alarm."""
        assert self.face is not None  # noqa: S101
        for scale in range(letters.LARGEST_SCALE, 0, -1):
            lines = letters.wrap(self.face.head, width // scale)
            if lines and letters.rows_needed(lines, scale) <= rows:
                return letters.draw(lines, scale, self.eye.plain)
        return (self.face.head,)
