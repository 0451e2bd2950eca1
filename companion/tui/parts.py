"""All parts of the saw screen in one column, and what each is given of a face."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical

from companion.draw.board import Outlines
from companion.tui import overlays
from companion.tui.face import Face
from companion.tui.note import NoteLine
from companion.tui.skin import Skin
from companion.tui.widgets import (
    Banner,
    BoardMap,
    Eye,
    Headline,
    KeyBar,
    StateBar,
    StopSign,
    TextLine,
)
from companion.tui.words_panel import WordsPanel
from companion.words import Words

HEAD_SHARE = 0.45
"""Share of the rows that the headline may take beside a map."""
HEAD_SHARE_ALONE = 0.6
"""The same where there is no map."""

READING_ROWS = 36
"""In a window with fewer rows a page of reasons has its title in small letters."""


class Parts(Vertical):
    """State bar, warning, headline, words and map, small lines, keys; or the STOP sign."""

    DEFAULT_CSS = """
    Parts { width: 100%; height: 100%; overflow: hidden; }
    StateBar, TextLine { height: 1; }
    Headline, KeyBar { height: auto; }
    Banner { height: 5; display: none; }
    StopSign { height: 1fr; display: none; }
    #middle { height: 1fr; margin-top: 1; }
    WordsPanel, BoardMap { width: 1fr; height: 100%; }
    """

    def __init__(self, skin: Skin, eye: Eye, words: Words, pedal_shown: str) -> None:
        super().__init__()
        self.skin, self.eye, self.words = skin, eye, words
        self.pedal_shown = pedal_shown

    def compose(self) -> ComposeResult:
        """Top to bottom."""
        skin, eye = self.skin, self.eye
        yield StateBar(skin, eye, id="state")
        yield Banner(skin, eye, id="warning")
        yield StopSign(skin, eye, id="sign")
        yield Headline(skin, eye, id="head")
        with Horizontal(id="middle"):
            yield WordsPanel(skin, eye, id="words")
            board = BoardMap(skin, eye, id="map")
            board.legend = overlays.legend(self.words)
            yield board
        yield TextLine(skin, eye, id="signs")
        yield TextLine(skin, eye, id="next")
        yield NoteLine(self.words, id="note")
        yield KeyBar(skin, eye, id="keys")

    def show(
        self,
        face: Face,
        marks: tuple[str, ...],
        warning: tuple[str, str],
        outlines: Outlines | None,
        close_up: bool,
    ) -> None:
        """Bring every part up to date; each repaints only what changed.

        Args:
            face: what is to be said.
            marks: what else is so, for the state bar.
            warning: what must not be missed, and what to do about it; empty: nothing.
            outlines: the plan's lines, for the map; None while there is no plan.
            close_up: the map shows the current cut instead of the whole board.
        """
        self.query_one(StateBar).show(face, marks)
        self.query_one(Banner).show(*warning)
        self._alarm(face)
        share = HEAD_SHARE if face.moment or face.picture else HEAD_SHARE_ALONE
        most_rows = max(1, int(self.app.size.height * share))
        if face.picture and self.app.size.height < READING_ROWS:
            # a page is read at the screen, not from the stool: its text needs every row
            most_rows = 1
        self.query_one(Headline).show(face.head, most_rows)
        self.query_one(WordsPanel).show(face)
        board = self.query_one(BoardMap)
        board.display = bool(face.moment or face.picture) and not face.alarm
        if face.picture:
            board.show_picture(face.picture)
        elif face.moment is not None:
            board.show(outlines, face.moment, close_up)
        self._line("#signs", "" if face.alarm else board.signs())
        self._line("#next", "" if face.alarm else face.next)
        shown = overlays.keys_shown(face.keys, self.pedal_shown, self.words)
        self.query_one(KeyBar).show(shown)

    def _alarm(self, face: Face) -> None:
        """The sign stands alone, or not at all."""
        sign = self.query_one(StopSign)
        sign.display = face.alarm
        for name in ("#head", "#middle"):
            self.query_one(name).display = not face.alarm
        if face.alarm:
            sign.show(face)

    def _line(self, name: str, text: str) -> None:
        """Show a line of small text, or give its row away."""
        line = self.query_one(name, TextLine)
        line.display = bool(text)
        line.show(text)
