"""Any inputs in any order: guards hold, no step is lost or invented, time adds up."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from companion.session import model as m
from companion.session.machine import Machine, Start
from companion.session.model import State
from tests.invariants.strategies import MISHAPS, presses
from tests.session.plans import machine, plan


class Sawyer(RuleBasedStateMachine):
    """Presses what it likes; a second, simpler bookkeeping watches."""

    machine: Machine
    state: State

    @initialize(
        legs=st.integers(1, 3), step=st.floats(0, 1), runs=st.integers(1, 2), bare=st.booleans(),
        each=st.booleans(),
    )  # fmt: skip
    def begin(
        self, legs: int, step: float, runs: int, bare: bool = False, each: bool = False
    ) -> None:
        self.machine = replace(machine(plan(legs, bare=bare), quiet_s=0.0), each_hole=each)
        self.now = 100.0
        self.worked = 0.0
        self.stopped = False
        self.guard_dones = 0
        self.checked = 0
        self.at = round(step * (len(self.machine.plan.steps) - 1))
        self.state, _ = self.machine.begin(Start(step=self.at, runs=runs), self.now)
        assert self.state.mode == "checklist"

    def send(self, event: m.Input) -> tuple[State, list[m.Effect]]:
        before = self.state
        self.state, effects = self.machine.advance(before, event, self.now)
        records = [e for e in effects if isinstance(e, m.Record)]
        kinds = [r.kind for r in records]
        self._watch_steps(before, event, kinds)
        self._watch_guards(before, event)
        if records and self.state.step < len(self.machine.plan.steps):
            assert records[-1].data["at"] == self.state.step + 1
        return before, effects

    def _watch_steps(self, before: State, event: m.Input, kinds: list[str]) -> None:
        moved = self.state.step - before.step
        if self.state.run != before.run:
            assert kinds[0] == "run-start" and self.state.step == 0
            assert isinstance(event, m.Done) and before.mode == "summary"
            self.at = 0
            return
        self._watch_holes(before, event, kinds, moved)
        # a step moves by one, by Done in its own mode or by Back, and the log says so
        assert moved == kinds.count("step-done") - kinds.count("back")
        assert abs(moved) <= 1
        if moved and before.powered and self.state.powered:
            steps = self.machine.plan.steps
            assert steps[before.step].cut == steps[self.state.step].cut
        if moved > 0:
            assert before.mode == "step" and isinstance(event, m.Done)
        if moved < 0:
            assert isinstance(event, m.Back)
        self.at += moved

    def _watch_holes(self, before: State, event: m.Input, kinds: list[str], moved: int) -> None:
        """Within a step the holes move by one, by Done or Back, and the log says so."""
        if moved:
            assert "hole-done" not in kinds and "hole-back" not in kinds
            assert self.state.drilled == max(0, len(self.machine.holes(self.state)) - 1) * (
                moved < 0
            )
            return
        drilled = self.state.drilled - before.drilled
        assert drilled == kinds.count("hole-done") - kinds.count("hole-back")
        if drilled:
            assert before.mode == self.state.mode == "step" and before.each_hole
            assert isinstance(event, m.Done if drilled > 0 else m.Back)

    def _watch_guards(self, before: State, event: m.Input) -> None:
        length = len(self.machine.guard(before))
        in_guard = before.mode == "guard" and self.state.mode in ("guard", before.ground)
        if in_guard and isinstance(event, m.Done):
            self.guard_dones += 1
        elif before.mode == "guard" and isinstance(event, m.Back) and self.guard_dones:
            self.guard_dones -= 1
        elif self.state.mode != "guard" or before.mode != "guard":
            if not isinstance(event, m.Tick | m.Again | m.Note | m.Focus | m.Why | m.Holes):
                self.guard_dones = 0
        # power comes only from the last Done of a whole guard
        if self.state.powered and not before.powered:
            assert before.mode == "guard" and isinstance(event, m.Done)
            assert before.guarded == length - 1 and self.guard_dones == length
            self.guard_dones = 0
        # a STOP is cleared by the same and nothing else
        if isinstance(event, m.Stop) and before.mode != "left":
            assert self.state.mode == "stop" and self.state.stopped
            self.stopped = True
        if self.stopped and not self.state.stopped:
            assert before.mode == "guard" and isinstance(event, m.Done)
            assert before.guarded == length - 1
            assert self.state.checked == 0 or self.state.ground != "checklist"
            self.stopped = False
        assert self.state.stopped == self.stopped or self.state.mode == "left"
        # the checklist moves by Done alone, one item each
        if self.state.checked > before.checked:
            assert isinstance(event, m.Done) and before.mode == "checklist"
            assert self.state.checked == before.checked + 1
        if before.ground == "checklist" and self.state.ground != "checklist":
            assert before.checked == len(self.machine.texts.checklist) - 1
            assert isinstance(event, m.Done)

    @rule(event=presses)
    def press(self, event: m.Input) -> None:
        before, _ = self.send(event)
        if isinstance(event, m.Again):
            assert self.state == before

    @rule(n=st.integers(2, 25))
    def press_on(self, n: int) -> None:
        for _ in range(n):
            self.send(m.Done())

    @rule()
    def stop(self) -> None:
        before, effects = self.send(m.Stop())
        if before.mode != "left":
            says = [e for e in effects if isinstance(e, m.Say)]
            assert says[0].rank == "stop"
            assert not self.state.powered and self.state.since_s is None

    @rule(kind=st.sampled_from(MISHAPS))
    def mishap(self, kind: str) -> None:
        before, effects = self.send(m.Mishap(kind))
        if before.mode != "left":
            assert self.state.mode == "mishap" and not self.state.powered
            found = [e for e in effects if isinstance(e, m.Record)]
            assert found[0].kind == "mishap" and found[0].data["kind"] == kind

    @rule(text=st.text(max_size=20))
    def note(self, text: str) -> None:
        before, effects = self.send(m.Note(text))
        assert self.state == before
        wanted = bool(text.strip()) and before.mode != "left"
        assert any(isinstance(e, m.Record) for e in effects) == wanted

    @rule(seconds=st.floats(0.0, 400.0))
    def wait(self, seconds: float) -> None:
        if self.state.since_s is not None:
            self.worked += seconds
        self.now += seconds

    @precondition(lambda self: self.state.step > 4)
    @rule()
    def leave(self) -> None:
        before, effects = self.send(m.Leave())
        assert self.state.mode == "left"
        if before.mode != "left":
            assert m.Close() in effects

    @invariant()
    def place_is_kept(self) -> None:
        assert self.state.step == self.at
        assert 0 <= self.state.step <= len(self.machine.plan.steps)

    @invariant()
    def power_only_in_a_powered_step(self) -> None:
        if self.state.stopped:
            assert self.state.mode in ("stop", "guard", "mishap", "pause", "left")
        if self.state.powered:
            assert self.state.mode == "step" and not self.state.stopped
            assert self.machine.needs_power(self.state)
        if self.state.mode == "step" and self.machine.needs_power(self.state):
            assert self.state.powered

    @invariant()
    def time_adds_up(self) -> None:
        running = 0.0 if self.state.since_s is None else self.now - self.state.since_s
        finished = self.state.runs_s[: self.state.run - 1]
        total = sum(finished) + sum(self.state.spent_s) + running
        assert abs(total - self.worked) < 1e-6
        done = self.state.run - 1 + (self.state.ground == "summary")
        assert len(self.state.runs_s) == done
        assert (self.state.since_s is not None) == (self.state.mode == "step")

    @invariant()
    def there_is_always_a_prompt(self) -> None:
        assert self.machine.prompt(self.state)


TestSawyer = Sawyer.TestCase
TestSawyer.settings = settings(max_examples=120, stateful_step_count=60, deadline=None)


def test_the_watch_can_fail() -> None:
    """A machine that lets a guard pass by itself is caught by the same checks."""
    watched = Sawyer()
    watched.begin(1, 0.3, 1)
    for _ in watched.machine.texts.checklist:
        watched.send(m.Done())
    assert watched.state.mode == "guard"
    watched.state = replace(watched.state, mode="step", since_s=watched.now)
    try:
        watched.power_only_in_a_powered_step()
    except AssertionError:
        return
    raise AssertionError("an unguarded powered step went unnoticed")
