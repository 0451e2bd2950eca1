"""Records the pedal in full screen: key, bounce, double tap, held key."""

from __future__ import annotations

import time
from collections.abc import Callable

from textual import events
from textual.app import App, ComposeResult
from textual.timer import Timer

from companion.devices.pedal import MODIFIERS, key_warning
from companion.devices.pedal_profile import Learned, Recording
from companion.shop.model import Settings
from companion.tui.actions import BY_ID, keymap
from companion.tui.face import Face
from companion.tui.overlays import eye_for, skin_for
from companion.tui.widgets import Eye, Headline, KeyBar, StateBar
from companion.tui.words_panel import WordsPanel
from companion.words import Words


class PedalScreen(App[Learned], inherit_bindings=False):
    """Asks for taps and holds until the pedal is known. Ctrl+C gives up."""

    ENABLE_COMMAND_PALETTE = False
    CSS = """
    Screen { layout: vertical; overflow: hidden; }
    StateBar { height: 1; }
    Headline, KeyBar { height: auto; }
    WordsPanel { height: 1fr; margin-top: 1; }
    """

    def __init__(
        self, settings: Settings, words: Words, eye: Eye | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:  # fmt: skip
        self.skin = skin_for(settings.theme)
        super().__init__(ansi_color=self.skin.palette is None)
        self.eye = eye or eye_for(settings)
        self.words = words
        self.clock = clock
        self.recording = Recording()
        self._timer: Timer | None = None

    def compose(self) -> ComposeResult:
        """The parts, top to bottom."""
        yield StateBar(self.skin, self.eye, id="state")
        yield Headline(self.skin, self.eye, id="head")
        yield WordsPanel(self.skin, self.eye, id="words")
        yield KeyBar(self.skin, self.eye, id="keys")

    def on_mount(self) -> None:
        """Ask for the first press."""
        palette = self.skin.palette
        self.screen.styles.background = palette.ground if palette else "ansi_default"
        self.show()

    def current_face(self) -> Face:
        """What is asked for now."""
        say, r = self.words.say, self.recording
        heads = {
            "which": (say("Press the pedal"), say("Once. Any key it sends will do.")),
            "taps": (say("Tap once"), say("Wait a moment after it. {n} more.", n=r.left)),
            "doubles": (say("Tap twice"), say("Quickly, as one. {n} more.", n=r.left)),
            "hold": (say("Hold it down"), say("For three seconds, then let go.")),
            "learned": (say("Learned"), ""),
        }
        head, then = heads[r.ask]
        return Face(
            "calm", say("PEDAL"), place=say("key: {key}", key=r.key) if r.key else "",
            head=head, say=then, hint=self._warning(), keys=(),
        )  # fmt: skip

    def _warning(self) -> str:
        """Why this key may not do."""
        key = self.recording.key
        reason = key_warning(key)
        if reason:
            return self.words.say("{key} {reason}", key=key, reason=self.words.say(reason))
        other = keymap().get(key)
        if other is not None and other not in ("pedal", "done"):
            label = self.words.say(BY_ID[other].label)
            return self.words.say("{key} will no longer mean {label}", key=key, label=label)
        return ""

    def show(self) -> None:
        """Bring every part up to date."""
        face = self.current_face()
        self.query_one(StateBar).show(face)
        self.query_one(Headline).show(face.head, max(5, self.size.height // 2))
        self.query_one(WordsPanel).show(face)
        self.query_one(KeyBar).show((("ctrl+c", self.words.say("give up")),))

    def on_resize(self, event: events.Resize) -> None:
        """The letters' room changes with the height."""
        self.show()

    def on_key(self, event: events.Key) -> None:
        """Any key but a lone modifier may be the pedal's."""
        if event.key == "ctrl+c":
            self.exit(None)
        elif event.key not in MODIFIERS:
            event.stop()
            self.hear(event.key, event.time)

    def hear(self, key: str, at_s: float) -> None:
        """Put one press into the recording."""
        self.recording.press(key, at_s)
        self._after()

    def waited(self) -> None:
        """It has been quiet for a while."""
        self.recording.wait(self.clock())
        self._after()

    def _after(self) -> None:
        if self._timer is not None:
            self._timer.stop()
            self._timer = None
        if self.recording.ask == "learned":
            self.exit(self.recording.learned())
            return
        if self.recording.due_s is not None:
            wait_s = max(0.0, self.recording.due_s - self.clock()) + 0.01
            self._timer = self.set_timer(wait_s, self.waited)
        self.show()


def record_pedal(settings: Settings, words: Words) -> tuple[str, Learned] | None:
    """Record a pedal; None when it was given up.

    Returns:
        The key's name and what was learned.
    """
    app = PedalScreen(settings, words)
    learned = app.run()
    return None if learned is None else (app.recording.key, learned)
