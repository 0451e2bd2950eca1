"""The line for a note: opened by a key, never asked for. Its input is imported when opened."""

from __future__ import annotations

from dataclasses import dataclass

from textual import events
from textual.message import Message
from textual.widget import Widget

from companion.words import Words

LONGEST = 200
"""Characters of a note: a line, and no more than the input repaints at once. Without an end a
stray program that types into an open line kept the screen busy for a minute (measured)."""


class NoteLine(Widget):
    """One line of text; hidden until it is opened."""

    DEFAULT_CSS = "NoteLine { height: 3; display: none; }"

    @dataclass
    class Written(Message):
        """Enter was pressed."""

        text: str
        """What was typed; may be empty."""

    def __init__(self, words: Words, id: str) -> None:  # noqa: A002  # Textual's name
        super().__init__(id=id)
        self.words = words

    @property
    def open(self) -> bool:
        """Whether keys are letters of a note now."""
        return bool(self.display)

    def start(self) -> None:
        """Open the line and give it the keyboard."""
        if self.open:
            return
        # the input and its imports cost a start of the saw nothing this way
        from textual.widgets import Input

        line = Input(
            placeholder=self.words.say("Note. Enter keeps it, Esc drops it."), max_length=LONGEST
        )
        self.display = True
        self.mount(line)
        line.focus()

    def stop(self) -> None:
        """Close the line; what stands in it is dropped."""
        self.display = False
        self.remove_children()
        self.screen.set_focus(None)

    def on_input_submitted(self, event: events.Event) -> None:
        """Hand the text on."""
        event.stop()
        text = str(getattr(event, "value", ""))
        self.stop()
        self.post_message(self.Written(text))
