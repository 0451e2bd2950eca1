"""What the sawyer's foot means: gestures turned into deeds, with the guards' own rules.

Latency is chosen by what a mistake would cost:

* In a step without power a press acts at once, and the screen answers in the same
  moment. Should it turn out to be the first of a double tap or of a held key, the
  deed is taken back (the log keeps both) and the right one follows. The second press
  of a double never acts, so a nervous foot cannot skip a step.
* While the saw runs, at the last step, and in a pause nothing acts before the press is
  certain to be a tap, 0.75 s later: a cut must not end by a foot that wanted a pause.
* In a checklist, a guard, a recovery or a STOP the press must besides have begun after
  the item stood on the screen for 0.6 s. So a held or repeating key passes none.

Dwell: our own choice (a glance at a line takes about that long; no published source).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from companion.session import edges
from companion.session import model as m
from companion.session.gesture import Down, Heard, PedalTiming, Presses, due_s, pass_time, press
from companion.session.model import State
from companion.shop.model import Settings

Deed = Literal["done", "again", "pause", "undo"]
Manner = Literal["at once", "certain", "guarded"]
"""When a tap acts."""
DWELL_S = 0.6
GUARDED_MODES = frozenset({"checklist", "guard", "mishap", "stop"})

TERMINAL_KEYS: dict[str, str] = {
    "f1": "opens the help of many terminals",
    "f10": "opens the menu of many terminals",
    "f11": "switches many terminals to full screen and back",
    "f12": "drops down or hides some terminals",
    "tab": "is how many desktops move between windows",
    "escape": "starts the code of every special key: terminals delay it",
    "ctrl+c": "interrupts programs",
    "ctrl+d": "ends the input",
    "ctrl+z": "suspends programs",
    "ctrl+s": "freezes the output of many terminals",
    "ctrl+q": "thaws the output of many terminals",
    "ctrl+w": "closes the tab of some terminals",
    "ctrl+t": "opens a tab in some terminals",
    "ctrl+n": "opens a window in some terminals",
    "ctrl+b": "is the command key of a terminal multiplexer",
    "ctrl+a": "is the command key of a terminal multiplexer",
    "pageup": "scrolls many terminals when Shift is held",
    "pagedown": "scrolls many terminals when Shift is held",
}
"""Keys that may never reach the program, and why. From memory of common terminals'
default shortcuts; no single published source."""
DESKTOP_KEY = "is often taken by the desktop or the terminal"
MODIFIERS = frozenset(
    {"shift", "ctrl", "alt", "super", "hyper", "meta", "left_shift", "right_shift",
     "left_control", "right_control", "left_alt", "right_alt", "caps_lock", "num_lock"}
)  # fmt: skip


def key_warning(key: str) -> str | None:
    """Why a key is a poor pedal key; None when nothing speaks against it.

    >>> key_warning("f11")
    'switches many terminals to full screen and back'
    >>> key_warning("space") is None
    True
    """
    if key in TERMINAL_KEYS:
        return TERMINAL_KEYS[key]
    if key.startswith(("alt+", "super+", "ctrl+shift+", "ctrl+pageup", "ctrl+pagedown")):
        return DESKTOP_KEY
    return None


def timing_of(settings: Settings) -> PedalTiming:
    """The timing of the user's own pedal."""
    return PedalTiming(
        settings.pedal_bounce_s, settings.pedal_double_s,
        settings.pedal_repeat_s, settings.pedal_hold_s,
    )  # fmt: skip


def manner(state: State, steps: int) -> Manner:
    """When a tap may act in a state.

    Args:
        state: of the session.
        steps: number of steps in the plan.
    """
    if state.mode in GUARDED_MODES:
        return "guarded"
    if state.mode == "step" and not state.powered and state.step + 1 < steps:
        return "at once"
    return "certain"


@dataclass
class Foot:
    """One pedal key. Times are monotonic seconds of the key events."""

    timing: PedalTiming = PedalTiming()
    dwell_s: float = DWELL_S
    shown_s: float = float("-inf")
    """When the item now on the screen came there."""
    manner: Manner = "guarded"
    """When a tap acts now; kept by the screen after every change of state."""
    hurried: bool = False
    """A tap came before the item had been seen, and counted for nothing."""
    _presses: Presses = field(default_factory=Presses)
    _acted: bool = False
    """The open press has already acted."""

    @property
    def open(self) -> bool:
        """Whether a press waits for its meaning."""
        return self._presses.first_s is not None

    @property
    def due_s(self) -> float | None:
        """When :meth:`wait` must be called if nothing else is heard."""
        return due_s(self._presses, self.timing)

    def press(self, at_s: float) -> list[Deed]:
        """Hear a key press."""
        self._presses, heard = press(self._presses, at_s, self.timing)
        return self._deeds(heard)

    def wait(self, now_s: float) -> list[Deed]:
        """Let time pass."""
        self._presses, heard = pass_time(self._presses, now_s, self.timing)
        return self._deeds(heard)

    def _deeds(self, heard: tuple[Heard, ...]) -> list[Deed]:
        deeds: list[Deed] = []
        for item in heard:
            if isinstance(item, Down):
                self._acted = self.manner == "at once"
                deeds += ["done"] if self._acted else []
                continue
            acted, self._acted = self._acted, False
            if item.name == "tap":
                soon = self._too_soon(item.at_s)
                self.hurried = self.hurried or soon
                deeds += [] if acted or soon else ["done"]
            else:
                deeds += ["undo"] if acted else []
                deeds.append("again" if item.name == "double" else "pause")
        return deeds

    def _too_soon(self, at_s: float) -> bool:
        return self.manner == "guarded" and at_s < self.shown_s + self.dwell_s


@dataclass
class TrueFoot(Foot):
    """A pedal that tells its releases too; see :mod:`companion.session.edges`."""

    _edges: edges.Edges = field(default_factory=edges.Edges)

    @property
    def open(self) -> bool:
        """Whether a press waits for its meaning."""
        return self._edges.first_s is not None

    @property
    def due_s(self) -> float | None:
        """When :meth:`wait` must be called if nothing else is heard."""
        return edges.due_s(self._edges, self.timing)

    def press(self, at_s: float) -> list[Deed]:
        """Hear the foot go down."""
        self._edges, heard = edges.press(self._edges, at_s, self.timing)
        return self._deeds(heard)

    def release(self, at_s: float) -> list[Deed]:
        """Hear the foot come up."""
        self._edges, heard = edges.release(self._edges, at_s, self.timing)
        return self._deeds(heard)

    def wait(self, now_s: float) -> list[Deed]:
        """Let time pass."""
        self._edges, heard = edges.pass_time(self._edges, now_s, self.timing)
        return self._deeds(heard)


@dataclass
class Feet:
    """The pedal and, in a set of two or three, the pedal for done alone.

    Keeps both in step with what the screen shows. Its inputs are the machine's.
    """

    main: Foot = field(default_factory=Foot)
    """Tells tap, double and hold apart."""
    side: Foot = field(default_factory=Foot)
    """Knows only done; in a plain step and in a cut it acts at once."""
    device: TrueFoot = field(default_factory=TrueFoot)
    """The pedal read from its device, with true releases; idle when there is none."""
    _shown: tuple[object, ...] = ()

    @property
    def open(self) -> bool:
        """Whether the pedal's press waits for its meaning."""
        return self.main.open or self.device.open

    @property
    def hurried(self) -> bool:
        """Whether a tap on what is shown now came too soon to count."""
        return any(foot.hurried for foot in self._all)

    @property
    def _all(self) -> tuple[Foot, ...]:
        return (self.main, self.side, self.device)

    @property
    def due_s(self) -> float | None:
        """When :meth:`wait` must be called if nothing else is heard."""
        due = [foot.due_s for foot in self._all if foot.due_s is not None]
        return min(due) if due else None

    def shows(self, state: State, steps: int, now_s: float, covered: str = "") -> None:
        """Tell what is on the screen now.

        Args:
            state: of the session.
            steps: number of steps in the plan.
            now_s: the clock of the key events.
            covered: name of a screen that lies over the walk; empty when none does.
        """
        shown = (state.mode, state.step, state.item, covered)
        if shown != self._shown:
            self._shown = shown
            for foot in self._all:
                foot.shown_s, foot.hurried = now_s, False
        how = manner(state, steps)
        self.main.manner = self.device.manner = "guarded" if covered else how
        self.side.manner = "guarded" if covered or how == "guarded" else "at once"

    def press(self, at_s: float, side: bool = False) -> list[m.Input]:
        """Hear a key press at the time of its event."""
        if side:
            return self._only_done(self.side.press(at_s))
        return _inputs(self.main.press(at_s))

    def edge(self, down: bool, at_s: float) -> list[m.Input]:
        """Hear the pedal's device."""
        return _inputs(self.device.press(at_s) if down else self.device.release(at_s))

    def wait(self, now_s: float) -> list[m.Input]:
        """Let time pass."""
        told = [*self.main.wait(now_s), *self.device.wait(now_s)]
        return [*_inputs(told), *self._only_done(self.side.wait(now_s))]

    def _only_done(self, deeds: list[Deed]) -> list[m.Input]:
        return _inputs([deed for deed in deeds if deed == "done"])


def _inputs(deeds: list[Deed]) -> list[m.Input]:
    meant: dict[Deed, m.Input] = {
        "done": m.Done(), "again": m.Again(), "pause": m.Pause(), "undo": m.Back()
    }  # fmt: skip
    return [meant[deed] for deed in deeds]
