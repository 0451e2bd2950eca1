"""What is to be shown of a state: words and figures, no layout. One source for screen and lines."""

from __future__ import annotations

from dataclasses import dataclass

from companion.planner.plan import ZERO_MINUTES, Hole, Minutes, SizedHole, Step
from companion.session.machine import Machine
from companion.session.model import Mode, State
from companion.shop.model import CheckItem


@dataclass(frozen=True, slots=True)
class View:
    """One moment of a session."""

    mode: Mode
    title: str
    """A few words: the step's title, the list's name, STOP."""
    prompt: str
    """The sentence that says what to do now."""
    why: str
    """The reason; empty when there is none or it is hidden."""
    signal: str
    """Signal word of a checklist or guard item; empty elsewhere."""
    item: int
    """Place in the list or the drill round shown, from 1; 0 where there is none."""
    items: int
    """Length of that list; 0 where there is none."""
    step: int
    """Number of the step in hand, from 1; the number of steps when all are done."""
    steps: int
    stage: str
    """Stage of the step in hand; empty when all are done."""
    cut: int | None
    next_title: str
    """Title of the step after this one; empty after the last."""
    elapsed_s: float
    """Seconds worked on this step."""
    planned: Minutes
    """Planned minutes of this step."""
    left: Minutes
    """Planned minutes of all steps not yet done, this one counted in full."""
    share: float
    """Share of the cut reckoned as done, 0 to 1; 0 outside a cutting step."""
    overdue: bool
    """The step has taken longer than the plan's high figure."""
    powered: bool
    stopped: bool
    """A STOP is open, whatever is shown."""
    run: int
    runs: int
    runs_s: tuple[float, ...]
    """Active seconds of the finished runs of a batch: the learning curve."""
    focused: bool


def view(machine: Machine, state: State, now_s: float) -> View:
    """Put a state into words and figures.

    Args:
        machine: it knows plan, lists and words.
        state: as the machine gave it.
        now_s: the session's clock.
    """
    step, steps = machine.step_at(state), machine.plan.steps
    title, why, item, items = _heading(machine, state, step)
    elapsed = state.active_s(now_s)
    planned = step.minutes if step else ZERO_MINUTES
    leg = machine.leg(state.step)
    after = steps[state.step + 1].title if state.step + 1 < len(steps) else ""
    holes = machine.holes(state)
    if state.drilled + 1 < len(holes):
        after = _hole(machine, holes[state.drilled + 1])
    return View(
        mode=state.mode, title=title, prompt=machine.prompt(state),
        why=why if state.why else "", signal=_signal(machine, state),
        item=item, items=items, step=min(state.step + 1, len(steps)), steps=len(steps),
        stage=step.stage if step else "", cut=step.cut if step else None, next_title=after,
        elapsed_s=elapsed, planned=planned, left=machine.left(state.step),
        share=leg.share(elapsed) if leg else 0.0,
        overdue=planned.high > 0 and elapsed > planned.high * 60.0,
        powered=state.powered, stopped=state.stopped, run=state.run, runs=state.runs,
        runs_s=state.runs_s, focused=state.focused,
    )  # fmt: skip


def _list_item(machine: Machine, state: State) -> CheckItem | None:
    if state.mode == "checklist":
        return machine.texts.checklist[state.checked]
    return machine.guard(state)[state.guarded] if state.mode == "guard" else None


def _signal(machine: Machine, state: State) -> str:
    item = _list_item(machine, state)
    return item.signal if item else ""


def _heading(machine: Machine, state: State, step: Step | None) -> tuple[str, str, int, int]:
    """Title, reason, place in the list, length of the list."""
    say, texts, item = machine.words.say, machine.texts, _list_item(machine, state)
    if item is not None:
        full = state.mode == "checklist"
        title = say("Before the saw runs") if full else say("Before power on")
        length = len(texts.checklist if full else machine.guard(state))
        return title, say(item.why), state.item + 1, length
    if state.mode == "mishap":
        recovery = texts.recovery(state.mishap)
        if recovery is not None:
            name = say(recovery.name)
            return name[:1].upper() + name[1:], "", state.recovered + 1, len(recovery.steps)
    titles = {"pause": say("Pause"), "stop": say("STOP"), "left": say("Session over")}
    if state.mode in titles:
        return titles[state.mode], "", 0, 0
    if step is None or state.mode == "summary":
        return say("Done"), "", 0, 0
    hole = machine.hole_at(state)
    if hole is not None:
        return _hole(machine, hole), step.why, state.drilled + 1, len(machine.holes(state))
    return step.title, step.why, 0, 0


def _hole(machine: Machine, hole: Hole | SizedHole) -> str:
    if isinstance(hole, SizedHole):
        return machine.words.say("To size {n}", n=hole.number)
    return machine.words.say("Hole {n}", n=hole.number)
