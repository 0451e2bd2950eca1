"""The walk through a plan as a pure function: (state, input, now) -> (state, effects).

Rules kept here, whatever comes in and in whatever order:

* a session begins with the full checklist, and only Done moves it on, one item each;
* before the saw may run stands the short guard, and only Done moves it on; from one
  leg of a cut to the next the saw runs on, and no guard is asked for;
* STOP is heard in every mode, and ends only through the guard;
* a step is left only by Done or Back, by one, and each is recorded;
* the step's clock runs in mode ``step`` only: not in a guard, a pause, a stop, a mishap;
* a Done that follows the one before it too fast (a held key, a nervous foot) passes
  neither a checklist item, nor a guard, nor a recovery, nor a STOP.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import cast

from companion.planner.plan import POWERED_STAGES, Hole, Minutes, Plan, SizedHole, Step, ranges_left
from companion.session import model as m
from companion.session.announce import Leg, announce, forget, leg_of
from companion.session.drilling import hole_prompt, round_of
from companion.session.model import Close, Cue, Effect, Record, Say, State
from companion.session.texts import Texts
from companion.shop.model import CheckItem, Skill
from companion.words import ENGLISH, Words

QUIET_S = 0.8
"""Least time between two Dones for the second to pass a guard: longer than the 660 ms after
which a held key starts to repeat on X11 (measured, style notes "Textual 8")."""
PROGRESS_S = 60.0
"""A running step's time is put into the log this often: what a power cut may cost."""

Outcome = tuple[State, list[Effect]]


@dataclass(frozen=True, slots=True)
class Start:
    """Where a session takes the work up."""

    step: int = 0
    """Index of the step."""
    spent_s: tuple[float, ...] = ()
    """Seconds already spent on each step of this run; empty: none."""
    run: int = 1
    runs: int = 1
    runs_s: tuple[float, ...] = ()
    """Active seconds of the batch's finished runs."""
    drilled: int = 0
    """Holes already confirmed of a drilling step."""
    each_hole: bool | None = None
    """Whether the drill round was last gone hole by hole; None: as set up."""
    resumed: bool = False
    """The run was begun in an earlier session."""


@dataclass(frozen=True)
class Machine:
    """One plan, walked."""

    plan: Plan
    """Holds at least one step."""
    texts: Texts
    skill: Skill = "beginner"
    words: Words = ENGLISH
    quiet_s: float = QUIET_S
    """Zero where lines come from a script and not from a foot."""
    powered_stages: frozenset[str] = cast(frozenset[str], POWERED_STAGES)
    notice: str = ""
    """Told before the checklist, as when the printed sheet is another plan's; empty: nothing."""
    each_hole: bool = False
    """A drill round begins hole by hole; the sawyer may change it on the way."""
    _legs: dict[int, Leg | None] = field(default_factory=dict, compare=False, repr=False)
    """Stretches already worked out; a memory, no state."""
    _left: list[Minutes] = field(default_factory=list, compare=False, repr=False)
    """Planned minutes from each step to the last; a memory, no state."""

    # ------------------------------------------------------------- asking

    def step_at(self, state: State) -> Step | None:
        """The step in hand; None when all are done."""
        return self.plan.steps[state.step] if state.step < len(self.plan.steps) else None

    def needs_power(self, state: State) -> bool:
        """Whether the step in hand is done with the saw running."""
        step = self.step_at(state)
        return step is not None and step.stage in self.powered_stages

    def left(self, index: int) -> Minutes:
        """Planned minutes of a step and all after it."""
        if not self._left:
            minutes = [step.minutes for step in self.plan.steps]
            self._left.extend(ranges_left(minutes, self.plan.common_spread))
        return self._left[min(index, len(self.plan.steps))]

    def leg(self, index: int) -> Leg | None:
        """The stretch of line that a step covers; None when it is no cutting step."""
        if index not in self._legs:
            found = None
            if index < len(self.plan.steps):
                found = leg_of(self.plan, index, self.powered_stages)
            self._legs[index] = found
        return self._legs[index]

    def guard(self, state: State) -> tuple[CheckItem, ...]:
        """What is checked before power comes on: more with a blade new in, and in an open kerf.

        Before the first cut, after a blade change and after a blade that broke or slipped
        nobody has seen this blade run, and the plug is out. After a night, a STOP or a
        mishap the blade may have left the kerf; powered on beside it, it would jump. A STOP
        is left by the same check where the work goes on with the saw off: then this is said
        last, or hands would go to the waste with the saw switched on. Of a blade that has not
        run yet, and may not be in, nothing is asked there: all of it comes before its first cut.
        """
        step = self.step_at(state)
        if state.ground != "step" or step is None or not self.needs_power(state):
            asked = self.texts.guard if state.ran or not self.texts.unpowered else ()
            return (*asked, *self.texts.unpowered)
        before = self.step_at(replace(state, step=state.step - 1)) if state.step else None
        leg_done = before is not None and (before.stage, before.cut) == (step.stage, step.cut)
        in_kerf = leg_done or state.spent_s[state.step] > 0.0
        return (
            *(self.texts.reentry if in_kerf else ()),
            *(() if state.ran else self.texts.first),
            *self.texts.guard,
        )

    def holes(self, state: State) -> tuple[Hole | SizedHole, ...]:
        """The holes of the drilling step in hand; empty when it is confirmed as a whole."""
        return round_of(self.plan, state.step) if state.each_hole else ()

    def hole_at(self, state: State) -> Hole | SizedHole | None:
        """The hole in hand; None outside a round that goes hole by hole."""
        holes = self.holes(state)
        return holes[state.drilled] if state.drilled < len(holes) else None

    def prompt(self, state: State) -> str:
        """The sentence that says what to do now."""
        say = self.words.say
        step = self.step_at(state)
        if state.mode == "checklist":
            return say(self.texts.checklist[state.checked].say)
        if state.mode == "guard":
            return say(self.guard(state)[state.guarded].say)
        if state.mode == "mishap":
            recovery = self.texts.recovery(state.mishap)
            return say(recovery.steps[state.recovered]) if recovery else ""
        if state.mode == "pause":
            return say("Paused. Saw off. Tap to go on.")
        if state.mode == "stop":
            return say("STOP. Switch the saw off.")
        if state.mode == "step" and step is not None:
            hole = self.hole_at(state)
            return hole_prompt(self.plan, hole, self.words) if hole else step.say
        if state.mode == "summary" and state.run < state.runs:
            return say(
                "Run {run} of {runs} is done. Tap for the next.", run=state.run, runs=state.runs
            )
        return say("All steps are done.") if state.mode == "summary" else say("Good-bye.")

    # ------------------------------------------------------------- moving

    def begin(self, start: Start, now_s: float) -> Outcome:
        """Open a session: the full checklist, wherever the work stands.

        Raises:
            ValueError: the plan holds no step, or the start lies outside it.
        """
        count = len(self.plan.steps)
        if count == 0 or not 0 <= start.step <= count:
            raise ValueError(f"no step {start.step + 1} in a plan of {count}")
        state = State(
            step=start.step, spent_s=start.spent_s or (0.0,) * count, entered_s=now_s,
            run=start.run, runs=start.runs, runs_s=start.runs_s, resumed=start.resumed,
            why=self.skill == "beginner",
            each_hole=self.each_hole if start.each_hole is None else start.each_hole,
            drilled=min(start.drilled, max(0, len(round_of(self.plan, start.step)) - 1)),
        )  # fmt: skip
        effects: list[Effect] = []
        if start.resumed:
            effects.append(Say(self.resumed(state), "step"))
        else:
            effects.append(Record("run-start", {"run": state.run, "runs": state.runs}))
        effects += [Cue("attention"), Say(self.prompt(state), "guard")]
        return state, self._stamped(state, state, effects, now_s)

    def advance(self, state: State, event: m.Input, now_s: float) -> tuple[State, list[Effect]]:
        """Take one input.

        Args:
            state: as the last call returned it.
            event: what came in.
            now_s: the session's clock, never going back.

        Returns:
            The new state, and the effects in the order in which they are to be done.
        """
        if state.mode == "left":
            return state, []
        new, effects = self._take(state, event, now_s)
        if new.mode != state.mode:
            new = replace(new, entered_s=now_s)
        return new, self._stamped(state, new, effects, now_s)

    def _take(self, state: State, event: m.Input, now_s: float) -> Outcome:
        match event:
            case m.Tick():
                return self._tick(state, now_s)
            case m.Done():
                return self._done(state, now_s)
            case m.Stop():
                return self._stop(state, now_s)
            case m.Back():
                return self._back(state, now_s)
            case m.Pause():
                return self._pause(state, now_s)
            case m.Mishap(kind):
                return self._mishap(state, kind, now_s)
            case m.Leave():
                closed = replace(self._closed(state, now_s), mode="left")
                return closed, [Record("leave", {}), Close()]
            case m.Again():
                return state, self._spoken(state)
            case m.Note(text):
                clean = " ".join(text.split())
                if not clean:
                    return state, []
                return state, [
                    Record("note", {"text": clean}),
                    Say(self.words.say("Noted."), "note"),
                ]
            case m.Focus(on):
                heard: list[Effect] = [] if on or not state.focused else [Cue("not-heard")]
                return replace(state, focused=on), heard
            case m.Why():
                return replace(state, why=not state.why), []
            case m.Holes():
                return self._hole_by_hole(state)

    def _stamped(
        self, before: State, after: State, effects: list[Effect], now_s: float
    ) -> list[Effect]:
        """Give each record its step, the seconds spent on it, and where the work stands now."""
        stamped: list[Effect] = []
        for effect in effects:
            if isinstance(effect, Record):
                data = {**effect.data, "mode": after.mode, "at": after.step + 1}
                if after.drilled:
                    data["drilled"] = after.drilled
                step = self.step_at(before)
                if step is not None and effect.kind not in ("run-start", "run-done"):
                    same = after.step == before.step
                    spent = after.active_s(now_s) if same else after.spent_s[before.step]
                    data["active_s"] = round(spent, 3)
                    effect = Record(effect.kind, data, step.number, step.cut, step.stage)
                else:
                    effect = Record(effect.kind, data)
            stamped.append(effect)
        return stamped

    # ------------------------------------------------------------- helpers

    def _closed(self, state: State, now_s: float) -> State:
        """Stop the step's clock and take the power away."""
        if state.since_s is None:
            return replace(state, powered=False)
        spent = list(state.spent_s)
        spent[state.step] = state.active_s(now_s)
        return replace(
            state, spent_s=tuple(spent), since_s=None, powered=False, noted_s=spent[state.step]
        )

    def _spoken(self, state: State) -> list[Effect]:
        """Say what the present mode asks for."""
        rank: m.Rank = "step" if state.mode in ("step", "summary", "pause") else "guard"
        if state.mode == "stop":
            return [Cue("stop"), Say(self.prompt(state), "stop")]
        return [Say(self.prompt(state), rank)]

    def resumed(self, state: State) -> str:
        """Where an open run is taken up."""
        if self.step_at(state) is None:
            return self.words.say(
                "resumed after run {run} of {runs}", run=state.run, runs=state.runs
            )
        hole = self.hole_at(state)
        if hole is not None and state.drilled:
            return self.words.say(
                "resumed at step {n} of {total}, hole {hole}", n=state.step + 1,
                total=len(self.plan.steps), hole=hole.number,
            )  # fmt: skip
        return self.words.say(
            "resumed at step {n} of {total}", n=state.step + 1, total=len(self.plan.steps)
        )

    def _settle(self, state: State, now_s: float) -> Outcome:
        """Go where the work is, through whatever still stands before it."""
        if state.mishap is not None:
            new = replace(state, mode="mishap")
        elif state.stopped or (state.ground == "step" and self.needs_power(state)):
            new = replace(state, mode="guard", guarded=0)
        else:
            return self._land(state, now_s)
        return new, [Cue("attention"), *self._spoken(new)]

    def _land(self, state: State, now_s: float) -> Outcome:
        """Take up the work itself; its guard, if it needs one, has been passed."""
        new = replace(state, mode=state.ground)
        if state.ground == "step":
            new = replace(new, since_s=now_s, noted_s=state.spent_s[state.step])
            new = forget(new, self.leg(state.step), now_s)
        return new, [Cue("next"), *self._spoken(new)]

    def _enter(self, state: State, now_s: float) -> Outcome:
        """Begin the step that ``state.step`` names, or the summary after the last.

        A state that comes in with power keeps it: the saw runs on into the next leg.
        """
        if state.step < len(self.plan.steps):
            if state.powered:
                return self._land(state, now_s)
            return self._settle(replace(state, ground="step"), now_s)
        total = sum(state.spent_s)
        state = replace(state, ground="summary", runs_s=(*state.runs_s, total))
        new, effects = self._settle(state, now_s)
        return new, [Record("run-done", {"run_s": round(total, 3)}), *effects]

    # ------------------------------------------------------------- inputs

    def _tick(self, state: State, now_s: float) -> Outcome:
        if state.since_s is None:
            return state, []
        effects: list[Effect] = []
        leg = self.leg(state.step)
        if state.powered and leg is not None:
            state, effects = announce(state, leg, now_s, self.skill, self.words)
        active_s = state.active_s(now_s)
        if active_s - state.noted_s >= PROGRESS_S:
            state = replace(state, noted_s=active_s)
            effects.insert(0, Record("progress", {}))
        return state, effects

    def _done(self, state: State, now_s: float) -> Outcome:
        last_s, state = state.done_s, replace(state, done_s=now_s)
        if state.mode in ("checklist", "guard", "mishap", "stop"):
            if last_s is not None and now_s - last_s < self.quiet_s:
                told: list[Effect] = [Say(self.words.say("Too quick. Look, then tap."), "guard")]
                return replace(state, hurried=True), [] if state.hurried else told
            state = replace(state, hurried=False)
        then: dict[str, Callable[[State, float], Outcome]] = {
            "checklist": self._done_checklist, "guard": self._done_guard,
            "step": self._done_step, "pause": self._done_pause, "stop": self._done_stop,
            "mishap": self._done_mishap, "summary": self._done_summary,
        }  # fmt: skip
        return then[state.mode](state, now_s)

    def _done_checklist(self, state: State, now_s: float) -> Outcome:
        if state.checked + 1 < len(self.texts.checklist):
            state = replace(state, checked=state.checked + 1)
            return state, self._spoken(state)
        keys = [item.key for item in self.texts.checklist]
        effects: list[Effect] = [Record("checklist-done", {"items": keys})]
        if state.resumed and state.step < len(self.plan.steps):
            effects.append(Say(self.resumed(state), "step"))
        state = replace(state, ground="step" if self.step_at(state) else "summary")
        new, more = self._settle(state, now_s)
        return new, effects + more

    def _done_guard(self, state: State, now_s: float) -> Outcome:
        if state.guarded + 1 < len(self.guard(state)):
            state = replace(state, guarded=state.guarded + 1)
            return state, self._spoken(state)
        record = Record("guard-passed", {"after_stop": state.stopped})
        # a checklist that a STOP broke into is gone through again from its first item
        state = replace(state, stopped=False, guarded=0, checked=0)
        state, effects = self._land(state, now_s)
        powered = state.mode == "step" and self.needs_power(state)
        return replace(state, powered=powered, ran=state.ran or powered), [record, *effects]

    def _done_step(self, state: State, now_s: float) -> Outcome:
        hole = self.hole_at(state)
        if hole is not None and state.drilled + 1 < len(self.holes(state)):
            state = replace(state, drilled=state.drilled + 1)
            return state, [Record("hole-done", {"hole": hole.number}), *self._spoken(state)]
        step = self.step_at(state)
        if step is not None and step.stage == "blade":
            state = replace(state, ran=False)
        state, effects = self._enter(self._moved(state, state.step + 1, now_s), now_s)
        return state, [Record("step-done", {}), *effects]

    def _moved(self, state: State, to: int, now_s: float) -> State:
        """Leave the step for another; the power stays on between legs of one cut only."""
        here, there = self.step_at(state), self.step_at(replace(state, step=to))
        runs_on = (
            state.powered and here is not None and there is not None
            and there.stage in self.powered_stages and here.cut == there.cut
        )  # fmt: skip
        return replace(self._closed(state, now_s), step=to, powered=runs_on, drilled=0)

    def _done_pause(self, state: State, now_s: float) -> Outcome:
        record = Record("go-on", {"paused_s": round(now_s - state.entered_s, 3)})
        state, effects = self._settle(state, now_s)
        return state, [record, *effects]

    def _done_stop(self, state: State, now_s: float) -> Outcome:
        record = Record("stop-left", {"stopped_s": round(now_s - state.entered_s, 3)})
        state, effects = self._settle(state, now_s)
        return state, [record, *effects]

    def _done_mishap(self, state: State, now_s: float) -> Outcome:
        recovery = self.texts.recovery(state.mishap)
        if recovery is not None and state.recovered + 1 < len(recovery.steps):
            state = replace(state, recovered=state.recovered + 1)
            return state, self._spoken(state)
        record = Record("recovered", {"kind": state.mishap})
        if recovery is not None and recovery.blade_in_hand:
            state = replace(state, ran=False)
        state, effects = self._settle(replace(state, mishap=None, recovered=0), now_s)
        return state, [record, *effects]

    def _done_summary(self, state: State, now_s: float) -> Outcome:
        if state.run >= state.runs:
            return state, self._spoken(state)
        state = replace(
            state, run=state.run + 1, step=0, spent_s=(0.0,) * len(self.plan.steps), resumed=False
        )
        record = Record("run-start", {"run": state.run, "runs": state.runs})
        state, effects = self._enter(state, now_s)
        return state, [record, *effects]

    def _stop(self, state: State, now_s: float) -> Outcome:
        if state.mode == "stop":
            return state, self._spoken(state)
        record = Record("stop", {"from": state.mode})
        new = replace(self._closed(state, now_s), mode="stop", stopped=True)
        # the word before the paper: speech first, the record after it
        return new, [*self._spoken(new), record]

    def _pause(self, state: State, now_s: float) -> Outcome:
        if state.mode == "pause":
            return self._done_pause(state, now_s)
        if state.mode in ("stop", "summary"):
            return state, []
        new = replace(self._closed(state, now_s), mode="pause")
        return new, [Record("pause", {"from": state.mode}), *self._spoken(new)]

    def _mishap(self, state: State, kind: str, now_s: float) -> Outcome:
        if self.texts.recovery(kind) is None:
            known = ", ".join(r.key for r in self.texts.recoveries_at(self.step_at(state)))
            return state, [Say(self.words.say("Not a mishap: {kind}. Known: {known}.",
                                              kind=kind, known=known), "note")]  # fmt: skip
        active_s = state.active_s(now_s)
        data: dict[str, m.Datum] = {"kind": kind, "minute": round(active_s / 60.0, 3)}
        leg = self.leg(state.step)
        if leg is not None and state.ground == "step":
            data["at_mm"] = [round(v, 2) for v in leg.place_mm(active_s)]
            data["share"] = round(leg.along(active_s), 4)
        new = replace(self._closed(state, now_s), mode="mishap", mishap=kind, recovered=0)
        return new, [Record("mishap", data), Cue("attention"), *self._spoken(new)]

    def _back(self, state: State, now_s: float) -> Outcome:
        if state.mode == "checklist" and state.checked > 0:
            state = replace(state, checked=state.checked - 1)
            return state, self._spoken(state)
        if state.mode == "guard" and state.guarded > 0:
            state = replace(state, guarded=state.guarded - 1)
            return state, self._spoken(state)
        if state.mode == "mishap":
            return self._back_mishap(state, now_s)
        held = state.stopped or state.mode in ("checklist", "pause", "stop")
        if held or (state.step == 0 and not (state.each_hole and state.drilled)):
            return state, [Say(self.words.say("There is nothing to undo here."), "note")]
        if state.mode == "step" and state.each_hole and state.drilled:
            state = replace(state, drilled=state.drilled - 1)
            hole = self.hole_at(state)
            undone: dict[str, m.Datum] = {"hole": hole.number if hole else None}
            return state, [Record("hole-back", undone), *self._spoken(state)]
        runs_s = state.runs_s[:-1] if state.ground == "summary" else state.runs_s
        state = replace(self._moved(state, state.step - 1, now_s), runs_s=runs_s)
        # back into a drill round that goes hole by hole: to its last hole
        state = replace(state, drilled=max(0, len(self.holes(state)) - 1))
        state, effects = self._enter(state, now_s)
        return state, [Record("back", {}), *effects]

    def _hole_by_hole(self, state: State) -> Outcome:
        """Change between hole by hole and all at once; what is drilled stays so."""
        if state.mode != "step" or not round_of(self.plan, state.step):
            return state, [Say(self.words.say("That is for the drill round."), "note")]
        state = replace(state, each_hole=not state.each_hole)
        return state, [Record("holes", {"each": state.each_hole}), *self._spoken(state)]

    def _back_mishap(self, state: State, now_s: float) -> Outcome:
        if state.recovered > 0:
            state = replace(state, recovered=state.recovered - 1)
            return state, self._spoken(state)
        record = Record("mishap-dropped", {"kind": state.mishap})
        state, effects = self._settle(replace(state, mishap=None), now_s)
        return state, [record, *effects]
