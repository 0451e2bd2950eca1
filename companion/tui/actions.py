"""Everything a key can do at the saw: one registry for bindings, footer, help and README.

The rule kept here: the primary keys need no chord, nothing that loses work hangs on
the pedal, and each action has an id by which a settings file may give it other keys.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ActionId = Literal[
    "pedal", "done", "again", "back", "pause", "stop", "mishap", "note", "why",
    "holes", "zoom", "voice", "help", "leave",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Action:
    """One thing a key does."""

    id: ActionId
    keys: tuple[str, ...]
    """Textual key names."""
    shown: str
    """How the key is written on the screen."""
    label: str
    """One or two words for the footer."""
    sentence: str
    """What it does, for the help screen."""


ACTIONS: tuple[Action, ...] = (
    Action("pedal", ("space", "enter"), "pedal", "done",
           "Tap: done, next step. Twice: say it again. Held: pause."),
    Action("done", ("d", "right"), "d", "done at once",
           "Done at once, no second tap waited for: a set's right-hand pedal."),
    Action("again", ("a",), "a", "again", "Says the step again."),
    Action("back", ("b", "left"), "b", "back", "Goes one step back; the log keeps both."),
    Action("pause", ("p",), "p", "pause", "Stops the clock, and starts it again."),
    Action("stop", ("x", "f8"), "x", "STOP", "Says: switch off. Ends only by the power-on guard."),
    Action("mishap", ("m",), "m", "mishap", "Something went wrong: what to do now."),
    Action("note", ("n",), "n", "note", "Writes a line into the log."),
    Action("why", ("w",), "w", "why", "Shows the reason for this step, or hides it."),
    Action("holes", ("h",), "h", "one or all", "Drill round: hole by hole, or all at once."),
    Action("zoom", ("z",), "z", "zoom", "The current cut close up, or the whole board."),
    Action("voice", ("v",), "v", "voice", "Switches the voice off, or on again."),
    Action("help", ("question_mark", "f1"), "?", "help", "Shows this list."),
    Action("leave", ("q",), "q", "leave", "Leaves; the next start goes on at this step."),
)  # fmt: skip
"""In the order in which the footer shows them."""

BY_ID: dict[ActionId, Action] = {a.id: a for a in ACTIONS}


def keymap(
    pedal: str = "none", done: str = "none", again: str = "none", pause: str = "none"
) -> dict[str, ActionId]:
    """Key name to action.

    Args:
        pedal: the user's own pedal key, beside space and enter.
        done: a second pedal's key that means done alone.
        again: another pedal's key.
        pause: another pedal's key. Each wins over any other use of its key; ``none``:
            there is no such pedal.

    >>> keymap("f13")["f13"], keymap()["x"]
    ('pedal', 'stop')
    """
    found: dict[str, ActionId] = {key: a.id for a in ACTIONS for key in a.keys}
    own: dict[str, ActionId] = {pause: "pause", again: "again", done: "done", pedal: "pedal"}
    own.pop("none", None)
    return {**found, **own}
