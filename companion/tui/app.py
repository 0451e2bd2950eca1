"""The companion at the saw: a full-screen application round a session's walk.

Rules kept here: the first frame does not wait for a plan; a worker computes and one
message handler changes the state; what is shown has been recorded before (the walk
commits, then returns); STOP is one key away from every screen; leaving always goes
through the walk.
"""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import ClassVar

from textual import events, work
from textual.app import App, ComposeResult
from textual.binding import BindingType
from textual.timer import Timer

from companion.devices.pedal import Feet, Foot, TrueFoot, timing_of
from companion.draw.board import Outlines
from companion.errors import EXIT_FINE, EXIT_INTERRUPTED, KerfsideError
from companion.planner.plan import Plan
from companion.session import model as m
from companion.session.drilling import prompts_of
from companion.session.gesture import PedalTiming
from companion.shop.model import Settings
from companion.tui import messages, overlays, reasons
from companion.tui.actions import BY_ID, ActionId, keymap
from companion.tui.face import TOO_QUICK, Face, face_of
from companion.tui.note import NoteLine
from companion.tui.parts import Parts
from companion.tui.skin import Skin
from companion.tui.voice_port import Silent, Voice
from companion.tui.walk_port import PedalOpener, PlanMaker, Reader, Walk
from companion.tui.widgets import Eye, StateBar
from companion.words import ENGLISH, Words

LEAST = (80, 24)
"""Columns and rows for which the screens are made; smaller ones leave things out, and say so."""

SAID_S = 3.0
"""So long the screen owns to having said something again, for who did not hear it."""


class SawApp(App[int], inherit_bindings=False):
    """The screen at the saw."""

    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = []
    CSS = "Screen { overflow: hidden; }"

    def __init__(
        self,
        plan: Plan | PlanMaker,
        walk_factory: Callable[[Plan], Walk],
        settings: Settings,
        words: Words = ENGLISH,
        voice: Voice | None = None,
        skin: Skin | None = None,
        eye: Eye | None = None,
        timing: PedalTiming | None = None,
        clock: Callable[[], float] = time.monotonic,
        pedal: PedalOpener | None = None,
    ) -> None:
        self.skin = skin or Skin()
        super().__init__(ansi_color=self.skin.palette is None)
        self.animation_level = "none"
        self.source = plan
        self.walk_factory = walk_factory
        self.words = words
        self.voice: Voice = voice or Silent()
        self.eye = eye or Eye(settings.cell_height_mm, settings.distance_mm)
        timing = timing or timing_of(settings)
        self.feet = Feet(Foot(timing), Foot(timing), TrueFoot(timing))
        self.clock = clock
        self.open_pedal = pedal
        self.reader: Reader | None = None
        self.pedal_trouble = ""
        self.keys = keymap(
            pedal=settings.pedal_key, done=settings.pedal_done_key,
            again=settings.pedal_again_key, pause=settings.pedal_pause_key,
        )  # fmt: skip
        self.pedal_shown = overlays.key_shown(settings.pedal_key)
        self.walk: Walk | None = None
        self.outlines: Outlines | None = None
        self.face: Face | None = None
        self.overlay: overlays.Overlay = "opening"
        self.failure: KerfsideError | None = None
        self.whole_map: bool | None = None
        self.reason_at = 0
        self.muted = False
        self.again_s = -SAID_S
        self.heard = True
        self.plan_name = ""
        self._progress = ""
        self._foot_timer: Timer | None = None
        self._later: Timer | None = None

    # ------------------------------------------------------------- building

    def compose(self) -> ComposeResult:
        """All of it is one column."""
        yield Parts(self.skin, self.eye, self.words, self.pedal_shown)

    def on_mount(self) -> None:
        """First frame; then the plan."""
        palette = self.skin.palette
        self.screen.styles.background = palette.ground if palette else "ansi_default"
        self.show()
        if isinstance(self.source, Plan):
            self._plan_ready(self.source)
        else:
            self.make_plan(self.source)
        self.set_interval(1.0, self.tick)
        if self.open_pedal is not None:
            try:
                self.reader = self.open_pedal(self.post_message)
            except KerfsideError as error:
                self.pedal_trouble = self.words.told(error.remedy)
                self.show()

    @work(thread=True, exclusive=True, exit_on_error=False)
    def make_plan(self, maker: PlanMaker) -> None:
        """Compute the plan off the screen's thread."""
        from textual.worker import get_current_worker

        worker = get_current_worker()
        try:
            plan = maker(
                lambda: worker.is_cancelled,
                lambda text: (self.post_message(messages.PlanProgressed(text)), None)[1],
            )
        except KerfsideError as error:
            self.post_message(messages.PlanFailed(error))
        except Exception as error:  # a worker's error is silent otherwise: the screen would wait on
            trouble = KerfsideError(
                "the planner failed", repr(error), "Please report this drawing."
            )
            self.post_message(messages.PlanFailed(trouble))
        else:
            self.post_message(messages.PlanMade(plan))

    def on_plan_progressed(self, message: messages.PlanProgressed) -> None:
        """Show what the planner is at."""
        self._progress = message.text
        self.show()

    def on_plan_failed(self, message: messages.PlanFailed) -> None:
        """Leave; the command line tells why."""
        self.failure = message.error
        self.exit(message.error.exit_code)

    def on_plan_made(self, message: messages.PlanMade) -> None:
        """Begin to walk."""
        self._plan_ready(message.plan)

    def _plan_ready(self, plan: Plan) -> None:
        try:
            self.walk = self.walk_factory(plan)
            self._opening_effects = self.walk.begin()
        except KerfsideError as error:
            self.failure = error
            self.exit(error.exit_code)
            return
        self.outlines = Outlines.of(plan)
        self.voice.prepare(prompts_of(plan, self.words, self.walk.state.each_hole))
        self.show()
        # hashing a large plan takes longer than painting it: after the first frame
        self.call_after_refresh(self._name_plan, plan)

    def _name_plan(self, plan: Plan) -> None:
        # the plan lives as long as the screen: without this, each full collection walks all
        # its points (measured: 40 ms, once in a hundred steps, with a thousand openings)
        gc.freeze()
        gc.enable()
        self.plan_name = plan.short_hash
        self.show()

    # ------------------------------------------------------------- showing

    def current_face(self) -> Face:
        """What is to be shown now."""
        if self.walk is None:
            return overlays.waiting(self.words, self._progress)
        machine, state = self.walk.machine, self.walk.state
        if self.overlay == "help":
            return overlays.help_face(self.words, self.pedal_shown)
        if self.overlay == "mishap":
            return overlays.mishap_menu(machine, state)
        if self.overlay == "reason":
            return reasons.reason_face(machine, state, self.reason_at, self.words)
        if self.overlay == "opening":
            trouble = self.voice.status_text
            face = overlays.opening(machine, state, self.plan_name, trouble)
        else:
            face = face_of(machine, state, self.walk.now_s())
        if self.overlay == "opening" or state.mode in ("step", "summary"):
            step = machine.step_at(state) if state.mode == "step" else None
            waits = self.overlay == "none" and step is not None and step.stage == "finish"
            return overlays.with_drying(face, self.walk.drying(), self.words, waits)
        if self.feet.hurried:
            return replace(face, hint=self.words.say(TOO_QUICK))
        return face

    def hinted(self, face: Face) -> Face:
        """The face, with a word on a window too small for it where nothing else is to be said."""
        if face.hint or (self.size.width >= LEAST[0] and self.size.height >= LEAST[1]):
            return face
        text = self.words.say("Small window: {columns} x {rows} is needed.",
                              columns=LEAST[0], rows=LEAST[1])  # fmt: skip
        return replace(face, hint=text)

    def show(self) -> None:
        """Bring every part up to date; each repaints only what changed."""
        if self.walk is not None:
            steps = len(self.walk.machine.plan.steps)
            covered = "" if self.overlay == "none" else self.overlay
            self.feet.shows(self.walk.state, steps, self.clock(), covered)
        face = self.face = self.hinted(self.current_face())
        close = face.close_up if self.whole_map is None else not self.whole_map
        with self.batch_update():
            parts = self.query_one(Parts)
            parts.show(face, self.marks(), self.warning(), self.outlines, close)

    def on_resize(self, event: events.Resize) -> None:
        """The letters' room changes with the height."""
        self.show()

    def tick(self) -> None:
        """Once a second: the clock, and what is announced by it."""
        if self.walk is not None and self.overlay != "opening":
            self.perform(self.walk.take(m.Tick()))
        self.show()

    # ------------------------------------------------------------- doing

    def send(self, event: m.Input, quiet_s: float = 0.0) -> None:
        """Put an input through the walk, show the outcome, then make it heard.

        Args:
            event: the input.
            quiet_s: wait this long before speaking, in case the deed is taken back.
        """
        if self.walk is None:
            return
        effects = self.walk.take(event)
        if isinstance(event, m.Again):
            self.again_s = self.clock()
        if self.walk.state.mode == "stop":
            # a STOP is heard before anything is painted
            self.perform(effects)
            self.show()
            self.call_after_refresh(self.flush)
            return
        self.show()
        if self._later is not None:
            self._later.stop()
            self._later = None
        if quiet_s > 0.0:
            self._later = self.set_timer(quiet_s, lambda: self.perform(effects))
        else:
            self.perform(effects)

    def flush(self) -> None:
        """The STOP is shown: now it is written."""
        if self.walk is not None:
            self.perform(self.walk.flush())

    def perform(self, effects: Sequence[m.Effect]) -> None:
        """Speak and sound what came out; close when the session is over."""
        for effect in effects:
            if isinstance(effect, m.Say):
                self.voice.say(effect.text, effect.rank)
            elif isinstance(effect, m.Cue):
                self.voice.cue(effect.name)
            elif isinstance(effect, m.Close):
                self.exit(EXIT_FINE)

    def on_key(self, event: events.Key) -> None:
        """Every key there is."""
        if event.key == "ctrl+c":
            self.leave()
            return
        if self.query_one(NoteLine).open:
            # every key is a letter of the note, save those that are no letters
            if event.key == "escape":
                self.query_one(NoteLine).stop()
            elif event.key in BY_ID["stop"].keys:
                self.stop_now()
            return
        if self.overlay == "mishap" and self._chosen(event):
            return
        action = self.keys.get(event.key)
        if action is None and event.character:
            action = self.keys.get(event.character)
        if action is None:
            return
        event.stop()
        if action in ("pedal", "done"):
            self.press(event.time, side=action == "done")
        else:
            self.act(action)

    def _chosen(self, event: events.Key) -> bool:
        """A digit in the list of mishaps."""
        if self.walk is None or not (event.character or "").isdigit():
            return False
        machine = self.walk.machine
        kinds = machine.texts.recoveries_at(machine.step_at(self.walk.state))
        at = int(event.character or "0") - 1
        if 0 <= at < len(kinds):
            self.overlay = "none"
            self.send(m.Mishap(kinds[at].key))
        return True

    def press(self, at_s: float, side: bool = False) -> None:
        """A pedal was pressed.

        Args:
            at_s: time of the key event.
            side: the pedal that knows nothing but done.
        """
        self.pedal_trouble = ""
        self.obey(self.feet.press(at_s, side))

    def on_pedal_moved(self, message: messages.PedalMoved) -> None:
        """The pedal's own device told an edge; the other pedals of a set have their keys."""
        action = self.keys.get(message.key, "pedal")
        # an edge may come before the screen stands, or while it goes
        if action != "stop" and any(line.open for line in self.query(NoteLine)):
            return
        if action == "pedal":
            self.obey(self.feet.edge(message.down, message.at_s))
        elif message.down and action == "done":
            self.press(message.at_s, side=True)
        elif message.down:
            self.act(action)

    def on_pedal_lost(self, message: messages.PedalLost) -> None:
        """The pedal's device is gone: the keys go on."""
        self.reader, self.pedal_trouble = None, message.why
        self.show()

    def feet_due(self) -> None:
        """Time has told what a press was."""
        self.obey(self.feet.wait(self.clock()))

    def obey(self, inputs: Sequence[m.Input]) -> None:
        """Do what the foot meant, and wait for what is still open."""
        answered = self.face is not None and self.face.hint == self.words.say(TOO_QUICK)
        if self.feet.hurried and self.overlay == "none" and not answered:
            # a tap that counted for nothing is answered all the same
            self.voice.say(self.words.say(TOO_QUICK), "guard")
            self.show()
        for event in inputs:
            if self.overlay == "none":
                early = isinstance(event, m.Done) and self.feet.open
                self.send(event, self.feet.main.timing.double_s if early else 0.0)
            elif isinstance(event, m.Done) and self.overlay in ("opening", "help", "reason"):
                self.close_overlay()
        self.query_one(StateBar).show(self.face or self.current_face(), self.marks())
        if self._foot_timer is not None:
            self._foot_timer.stop()
            self._foot_timer = None
        due_s = self.feet.due_s
        if due_s is not None:
            self._foot_timer = self.set_timer(max(0.0, due_s - self.clock()) + 0.002, self.feet_due)

    def act(self, action: ActionId) -> None:
        """Do what a key stands for."""
        if self.overlay in ("help", "reason") and action == "why":
            self.show_reason()
            return
        if self.overlay != "none" and action not in ("stop", "leave", "voice"):
            if self.overlay in (action, "help", "reason") or action == "back":
                self.close_overlay()
            if action != "help" or self.overlay == "help":
                return
        plain: dict[ActionId, Callable[[], m.Input]] = {
            "again": m.Again, "back": m.Back, "pause": m.Pause, "why": m.Why, "holes": m.Holes,
        }  # fmt: skip
        if action in plain:
            self.send(plain[action]())
            return
        {
            "stop": self.stop_now, "leave": self.leave, "mishap": self.ask_mishap,
            "note": self.ask_note, "zoom": self.zoom, "voice": self.switch_voice,
            "help": self.show_help,
        }[action]()  # fmt: skip

    # ------------------------------------------------------------- single actions

    def stop_now(self) -> None:
        """STOP, from anywhere."""
        self.query_one(NoteLine).stop()
        self.overlay = "none"
        self.send(m.Stop())

    def leave(self) -> None:
        """Leave through the walk, so that the log knows."""
        if self.walk is None:
            self.workers.cancel_all()
            self.exit(EXIT_INTERRUPTED)
            return
        self.overlay = "none"
        self.send(m.Leave())

    def ask_mishap(self) -> None:
        """List what can have gone wrong."""
        if self.walk is not None:
            self.overlay = "mishap"
            self.show()

    def show_help(self) -> None:
        """List the keys."""
        self.overlay = "help"
        self.show()

    def show_reason(self) -> None:
        """The reason of this step at length; asked again, the next page."""
        if self.walk is not None:
            self.reason_at = self.reason_at + 1 if self.overlay == "reason" else 0
            self.overlay = "reason"
            self.show()

    def close_overlay(self) -> None:
        """Back to the work; after the opening, what the session says first is said now."""
        was, self.overlay = self.overlay, "none"
        if self.walk is None:
            self.overlay = "opening"
        elif was == "opening":
            self.perform(self._opening_effects)
        self.show()

    def zoom(self) -> None:
        """Between the whole board and the current cut."""
        if self.face is not None and self.face.moment is not None:
            close = self.face.close_up if self.whole_map is None else not self.whole_map
            self.whole_map = close
            self.show()

    def switch_voice(self) -> None:
        """Voice off or on."""
        self.muted = not self.muted
        self.voice.mute(self.muted)
        self.show()

    def ask_note(self) -> None:
        """Open the line for a note."""
        if self.walk is not None:
            self.query_one(NoteLine).start()

    def on_note_line_written(self, message: NoteLine.Written) -> None:
        """Keep the note."""
        self.send(m.Note(message.text))

    def on_app_blur(self) -> None:
        """The terminal lost the keyboard: the pedal is not heard."""
        self.heard = False
        self.send(m.Focus(False))
        self.show()

    def on_app_focus(self) -> None:
        """The pedal is heard again."""
        self.heard = True
        self.send(m.Focus(True))
        self.show()

    def marks(self) -> tuple[str, ...]:
        """Small words for the state bar."""
        say = self.words.say
        found = [say("heard")] if self.feet.open else []
        found += [say("said again")] if self.clock() < self.again_s + SAID_S else []
        mark = "voice off" if self.muted else self.voice.status_mark
        return (*found, say(mark)) if mark else tuple(found)

    def warning(self) -> tuple[str, str]:
        """What must not be missed, and what to do, for the bar across the screen."""
        say = self.words.say
        if not self.heard and self.reader is not None:
            return say("KEYS NOT HEARD"), say("The pedal is. Click this window for the STOP key.")
        if not self.heard:
            return say("PEDAL NOT HEARD"), say("Click this window.")
        if self.pedal_trouble:
            return say("PEDAL GONE"), say("Use the space bar. {why}", why=self.pedal_trouble)
        if self.walk is not None and self.walk.trouble is not None:
            # the remedy alone: the cause has a path in it, longer than the bar
            return say("NOT WRITTEN"), self.words.told(self.walk.trouble.remedy)
        return "", ""
