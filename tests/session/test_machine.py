"""The machine by example: what is said, recorded and refused."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import pytest

from companion.planner.plan import EMPTY
from companion.session import model as m
from companion.session.machine import PROGRESS_S, Machine, Start
from companion.session.model import State
from companion.session.texts import Texts, shop_texts
from companion.session.view import view
from tests.session.plans import machine, plan


@dataclass
class Sitting:
    """A machine in use, on a clock turned by hand."""

    machine: Machine
    start: Start = field(default_factory=Start)
    now: float = 0.0
    records: list[m.Record] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    cues: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.state: State
        self.state, effects = self.machine.begin(self.start, self.now)
        self._keep(effects)

    def _keep(self, effects: Sequence[m.Effect]) -> None:
        self.records += [e for e in effects if isinstance(e, m.Record)]
        self.said += [e.text for e in effects if isinstance(e, m.Say)]
        self.cues += [e.name for e in effects if isinstance(e, m.Cue)]

    def send(self, event: m.Input, after_s: float = 0.0) -> None:
        self.now += after_s
        self.state, effects = self.machine.advance(self.state, event, self.now)
        self._keep(effects)

    def done(self, times: int, each_s: float = 1.0) -> None:
        for _ in range(times):
            self.send(m.Done(), each_s)

    def ticks(self, seconds: int) -> None:
        for _ in range(seconds):
            self.send(m.Tick(), 1.0)

    def to_cut(self) -> None:
        """From the start through the checklist to the first running cut."""
        self.done(len(self.machine.texts.checklist) + 3)
        self.through_guard()
        assert self.state.powered

    def through_guard(self, each_s: float = 1.0) -> None:
        """Every item of the guard in hand."""
        self.done(len(self.machine.guard(self.state)), each_s)

    def mode(self) -> m.Mode:
        return self.state.mode

    def kinds(self) -> list[str]:
        return [r.kind for r in self.records]


def test_full_checklist_comes_first_and_item_by_item() -> None:
    sitting = Sitting(machine())
    items = sitting.machine.texts.checklist
    seen = []
    while sitting.state.mode == "checklist":
        seen.append(sitting.machine.prompt(sitting.state))
        for event in (m.Again(), m.Tick(), m.Pause(), m.Pause(), m.Note("x"), m.Why()):
            before = sitting.state.checked
            sitting.send(event)
            assert sitting.state.checked == before
        sitting.done(1)
    assert seen == [i.say for i in items]
    assert sitting.kinds().count("checklist-done") == 1


def test_held_key_passes_no_guard() -> None:
    """Repeats of a held key at the rates measured (style notes, "Textual 8"): X11 and console."""
    for first_s, rate in ((0.66, 25.0), (0.25, 11.0), (0.25, 30.0)):
        sitting = Sitting(machine(quiet_s=0.8))
        sitting.send(m.Done(), 5.0)
        sitting.send(m.Done(), first_s)
        for _ in range(500):
            sitting.send(m.Done(), 1.0 / rate)
        assert sitting.state.checked == 1
        assert sum("Too quick" in s for s in sitting.said) == 1
        sitting.send(m.Done(), 0.81)
        assert sitting.state.checked == 2


def test_stop_outranks_all_and_ends_only_by_the_guard() -> None:
    sitting = Sitting(machine())
    sitting.to_cut()
    sitting.said.clear()
    sitting.send(m.Stop(), 10.0)
    assert sitting.mode() == "stop"
    assert sitting.said == ["STOP. Switch the saw off."]
    for event in (m.Back(), m.Pause(), m.Again(), m.Tick(), m.Stop(), m.Note("n")):
        sitting.send(event)
        assert sitting.mode() == "stop"
    sitting.send(m.Done(), 30.0)
    assert sitting.machine.prompt(sitting.state) == sitting.machine.texts.reentry[0].say
    for other in (m.Back(), m.Pause(), m.Done()):
        sitting.send(other)
    assert (sitting.mode(), sitting.state.guarded, sitting.state.step) == ("guard", 0, 3)
    sitting.through_guard()
    assert sitting.mode() == "step" and sitting.state.powered
    left = next(r for r in sitting.records if r.kind == "stop-left")
    assert left.data["stopped_s"] == pytest.approx(30.0)


def test_a_stop_left_for_work_with_the_saw_off_says_last_that_it_stays_off() -> None:
    """After a check that ends with clear fingers, waste is lifted out: never with power on."""
    sitting = Sitting(machine())
    texts = sitting.machine.texts
    # no blade is in yet: only what can be answered is asked
    sitting.done(2)
    sitting.send(m.Stop(), 5.0)
    sitting.done(1)
    assert sitting.mode() == "guard" and sitting.machine.guard(sitting.state) == texts.unpowered
    sitting.through_guard()
    assert sitting.mode() == "checklist" and not sitting.state.powered
    sitting.to_cut()
    sitting.done(2)
    step = sitting.machine.step_at(sitting.state)
    assert step is not None and step.stage == "clear"
    sitting.send(m.Stop(), 5.0)
    sitting.done(1)
    asked = sitting.machine.guard(sitting.state)
    assert asked == texts.guard + texts.unpowered and "stays off" in asked[-1].say
    sitting.done(len(asked) - 1)
    assert sitting.mode() == "guard" and sitting.state.stopped
    sitting.done(1)
    assert sitting.mode() == "step" and not sitting.state.powered
    # a step with the saw running asks for nothing of the kind
    while sitting.mode() != "guard":
        sitting.done(1)
    assert not set(texts.unpowered) & set(sitting.machine.guard(sitting.state))


def test_speech_of_stop_comes_before_its_record() -> None:
    first = machine()
    state, _ = first.begin(Start(), 0.0)
    _, effects = first.advance(state, m.Stop(), 1.0)
    kinds = [type(e).__name__ for e in effects]
    assert kinds.index("Say") < kinds.index("Record")


def test_pause_and_stop_are_no_cutting_time() -> None:
    sitting = Sitting(machine())
    sitting.to_cut()
    sitting.send(m.Pause(), 20.0)
    sitting.send(m.Pause(), 1000.0)
    assert sitting.state.mode == "guard"
    sitting.through_guard(each_s=5.0)
    sitting.send(m.Stop(), 10.0)
    sitting.send(m.Done(), 500.0)
    sitting.through_guard(each_s=5.0)
    sitting.send(m.Done(), 7.0)
    record = sitting.records[-1]
    assert record.kind == "step-done" and record.stage == "cut"
    assert record.data["active_s"] == pytest.approx(37.0)


def test_a_second_tap_too_many_is_undone_with_its_time() -> None:
    sitting = Sitting(machine())
    sitting.done(len(sitting.machine.texts.checklist))
    sitting.send(m.Done(), 60.0)
    sitting.send(m.Done(), 0.4)
    assert sitting.state.step == 2
    sitting.send(m.Back(), 1.0)
    assert sitting.state.step == 1
    assert sitting.kinds()[-1] == "back"
    sitting.send(m.Done(), 100.0)
    assert sitting.records[-1].step == 2
    assert sitting.records[-1].data["active_s"] == pytest.approx(100.4)


def test_an_open_kerf_is_asked_for_before_power_comes_back() -> None:
    sitting = Sitting(machine(plan(legs=3)))
    sitting.done(len(sitting.machine.texts.checklist) + 3)
    texts = sitting.machine.texts
    assert sitting.machine.guard(sitting.state) == texts.first + texts.guard, "nothing is sawn"
    sitting.through_guard()
    for interrupt in (m.Pause(), m.Stop()):
        sitting.send(interrupt, 5.0)
        sitting.done(1)
        in_kerf = sitting.machine.texts.reentry + sitting.machine.texts.guard
        assert sitting.mode() == "guard" and sitting.machine.guard(sitting.state) == in_kerf
        sitting.done(len(in_kerf) - 1)
        assert not sitting.state.powered
        sitting.done(1)
        assert sitting.state.powered
    # the next morning, in the second leg of which nothing was sawn yet
    spent = (0.0,) * 3 + (9.0,) + (0.0,) * (len(sitting.machine.plan.steps) - 4)
    morning = Sitting(sitting.machine, Start(step=4, spent_s=spent, resumed=True))
    morning.done(len(sitting.machine.texts.checklist))
    assert morning.mode() == "guard"
    assert morning.machine.guard(morning.state) == texts.reentry + texts.first + texts.guard
    assert morning.machine.prompt(morning.state) == texts.reentry[0].say


def test_blade_and_plug_are_asked_for_at_the_first_power_on() -> None:
    sitting = Sitting(machine())
    texts = sitting.machine.texts
    # the blade goes in at the first hole, so nobody is asked for it before the holes are drilled
    asked = {item.key for item in texts.checklist}
    assert not asked & {"teeth", "tension", "plug"} and "unplugged" in asked
    assert [item.key for item in texts.first][-1] == "plug"
    sitting.done(len(texts.checklist) + 3)
    assert sitting.machine.guard(sitting.state) == texts.first + texts.guard
    # a STOP in it asks for all of it again
    sitting.done(2)
    sitting.send(m.Stop(), 5.0)
    sitting.done(1)
    assert sitting.machine.guard(sitting.state) == texts.first + texts.guard
    sitting.through_guard()
    assert sitting.state.powered
    while sitting.state.mode != "guard":
        sitting.done(1)
    assert sitting.machine.guard(sitting.state) == texts.guard


def test_a_blade_newly_clamped_is_checked_as_at_the_first_power_on() -> None:
    """After a mishap that takes the blade in hand, and after a step that changes it."""
    texts = shop_texts()
    for recovery in texts.recoveries:
        sitting = Sitting(machine())
        sitting.to_cut()
        sitting.send(m.Mishap(recovery.key), 5.0)
        sitting.done(len(recovery.steps))
        anew = texts.first if recovery.blade_in_hand else ()
        assert sitting.machine.guard(sitting.state) == texts.reentry + anew + texts.guard
        sitting.through_guard()
        sitting.send(m.Pause(), 5.0)
        sitting.send(m.Pause(), 5.0)
        assert sitting.machine.guard(sitting.state) == texts.reentry + texts.guard, "asked once"
    # hands that were to go to the blade had the plug out; then it has to go in again, and only then
    for recovery in texts.recoveries:
        assert ("unplug" in recovery.steps[0]) == recovery.blade_in_hand, recovery.key
    changed = plan()
    steps = [replace(s, stage="blade") if s.stage == "clear" else s for s in changed.steps]
    sitting = Sitting(machine(replace(changed, steps=tuple(steps))))
    sitting.to_cut()
    while sitting.mode() != "guard":
        sitting.done(1)
    assert sitting.machine.guard(sitting.state) == texts.first + texts.guard


def test_every_recovery_begins_with_the_saw_off_and_none_starts_it() -> None:
    for recovery in shop_texts().recoveries:
        assert recovery.steps[0].startswith("Switch off"), recovery.key
        for step in recovery.steps[1:]:
            assert not any(w in step.lower() for w in ("power on", "switch on", "run it")), step


def test_legs_of_a_cut_run_on_under_one_guard() -> None:
    sitting = Sitting(machine(plan(legs=3)))
    sitting.to_cut()
    sitting.done(2)
    assert sitting.state.powered and sitting.kinds().count("guard-passed") == 1
    sitting.send(m.Back())
    assert sitting.state.powered and sitting.state.step == 4
    sitting.send(m.Pause())
    sitting.send(m.Done())
    assert sitting.state.mode == "guard"
    sitting.through_guard()
    sitting.done(2)
    assert not sitting.state.powered
    sitting.send(m.Back())
    assert sitting.state.mode == "guard"


@pytest.mark.parametrize("kind", [r.key for r in shop_texts().recoveries])
def test_mishap_has_its_recovery_and_goes_back_through_the_guard(kind: str) -> None:
    sitting = Sitting(machine())
    sitting.to_cut()
    recovery = sitting.machine.texts.recovery(kind)
    assert recovery is not None
    sitting.send(m.Mishap(kind), 60.0)
    record = sitting.records[-1]
    # 60 s of 2 planned minutes: half of a square's 160 mm, the corner opposite its start
    assert record.cut == 1 and record.data["minute"] == pytest.approx(1.0)
    assert record.data["at_mm"] == pytest.approx([40.0, 40.0])
    shown = []
    while sitting.state.mode == "mishap":
        shown.append(sitting.machine.prompt(sitting.state))
        sitting.done(1)
    assert shown == list(recovery.steps)
    assert sitting.state.mode == "guard"
    sitting.through_guard()
    assert sitting.state.powered and sitting.state.active_s(sitting.now) == pytest.approx(60.0)
    assert "recovered" in sitting.kinds()


def test_mishap_told_by_mistake_is_taken_back() -> None:
    sitting = Sitting(machine())
    sitting.to_cut()
    sitting.send(m.Mishap("burning"))
    sitting.done(1)
    sitting.send(m.Back())
    sitting.send(m.Back())
    assert sitting.state.mode == "guard" and sitting.kinds()[-1] == "mishap-dropped"


def test_unknown_mishap_changes_nothing() -> None:
    sitting = Sitting(machine())
    before = sitting.state
    sitting.send(m.Mishap("earthquake"))
    assert sitting.state == before and "earthquake" in sitting.said[-1]


def test_announcements_come_in_order_and_once() -> None:
    """Two planned minutes, corners at a quarter, a half, three quarters of the line."""
    sitting = Sitting(machine(skill="practised"))
    sitting.to_cut()
    sitting.said.clear()
    sitting.ticks(400)
    turns = [s for s in sitting.said if "ahead" in s]
    assert turns == ["1 spin ahead.", "1 back-out ahead.", "1 loop ahead."]
    assert sitting.said.count("Half of the cut.") == 1
    assert sum("No hurry" in s for s in sitting.said) == 1
    assert not any("Last tenth" in s for s in sitting.said), "an inside cut has none"
    assert sitting.said.index("1 back-out ahead.") < sitting.said.index("Half of the cut.")


def test_turn_is_told_before_it_is_due() -> None:
    sitting = Sitting(machine(skill="practised"))
    sitting.to_cut()
    # the first corner is due after 30 s
    sitting.ticks(21)
    assert not any("ahead" in s for s in sitting.said)
    sitting.ticks(2)
    assert "1 spin ahead." in sitting.said


def test_last_tenth_of_an_outside_cut_even_for_the_terse() -> None:
    sitting = Sitting(machine(skill="terse"), Start(step=7))
    sitting.done(len(sitting.machine.texts.checklist))
    sitting.through_guard()
    assert sitting.state.powered and sitting.machine.plan.cuts[1].side == "outside"
    sitting.ticks(107)
    assert not any("Last tenth" in s for s in sitting.said)
    sitting.ticks(3)
    assert sitting.said[-1] == "Last tenth. Hold what is free."
    assert sitting.cues[-1] == "last-tenth"
    assert not any("ahead" in s or "Half" in s for s in sitting.said)
    # whoever comes back to it after a pause hears it again
    sitting.send(m.Pause())
    sitting.done(1)
    sitting.through_guard()
    sitting.ticks(2)
    assert sum("Last tenth" in s for s in sitting.said) == 2


def test_announcements_stay_made_over_a_pause() -> None:
    sitting = Sitting(machine())
    sitting.to_cut()
    sitting.ticks(70)
    sitting.send(m.Pause())
    sitting.done(1)
    sitting.through_guard()
    sitting.said.clear()
    sitting.ticks(5)
    assert sitting.said == []


def test_beginner_hears_how_each_kind_of_turn_is_made_once() -> None:
    sitting = Sitting(machine(plan(legs=4)))
    sitting.to_cut()
    told: list[str] = []
    for _ in range(4):
        sitting.ticks(30)
        told += [s for s in sitting.said if "ahead" in s]
        sitting.said.clear()
        sitting.done(1, each_s=0.0)
    assert [t.split(".")[0] for t in told] == ["1 spin ahead", "1 back-out ahead", "1 loop ahead"]
    assert all(len(t) > 30 for t in told)


def test_progress_is_logged_once_a_minute() -> None:
    sitting = Sitting(machine())
    sitting.to_cut()
    sitting.ticks(int(PROGRESS_S * 3) + 1)
    found = [r for r in sitting.records if r.kind == "progress"]
    assert [r.data["active_s"] for r in found] == [60.0, 120.0, 180.0]


def test_batch_runs_follow_each_other_and_show_the_learning() -> None:
    sitting = Sitting(machine(), Start(runs=3))
    sitting.done(len(sitting.machine.texts.checklist))
    for each_s in (30.0, 20.0, 10.0):
        while sitting.state.mode != "summary":
            sitting.done(1, each_s if sitting.state.mode == "step" else 0.0)
        sitting.done(1)
    steps = len(sitting.machine.plan.steps)
    assert sitting.state.runs_s == pytest.approx((30.0 * steps, 20.0 * steps, 10.0 * steps))
    assert sitting.state.mode == "summary", "the last summary stays until it is left"
    assert sitting.kinds().count("run-start") == 3 and sitting.kinds().count("run-done") == 3
    assert sitting.kinds().count("checklist-done") == 1


def test_start_outside_the_plan_is_refused() -> None:
    with pytest.raises(ValueError, match="no step"):
        machine().begin(Start(step=99), 0.0)
    with pytest.raises(ValueError, match="no step"):
        machine(EMPTY).begin(Start(), 0.0)


def test_empty_lists_are_refused() -> None:
    whole = shop_texts()
    with pytest.raises(ValueError, match="empty"):
        Texts(whole.checklist, (), whole.recoveries)
    emptied = replace(whole.recoveries[0], steps=())
    with pytest.raises(ValueError, match="empty"):
        Texts(whole.checklist, whole.guard, (emptied, *whole.recoveries[1:]))


def test_view_tells_place_time_and_what_comes() -> None:
    sitting = Sitting(machine())
    assert view(sitting.machine, sitting.state, 0.0).signal == "WARNING"
    sitting.to_cut()
    now = view(sitting.machine, sitting.state, sitting.now + 60.0)
    assert (now.step, now.steps, now.stage, now.cut) == (4, 11, "cut", 1)
    assert now.next_title == "Lip 1" and now.share == pytest.approx(0.5)
    assert now.elapsed_s == pytest.approx(60.0) and not now.overdue
    assert now.left.likely == pytest.approx(2.0 + 1.0 + 4.0 + 4.0)
    assert view(sitting.machine, sitting.state, sitting.now + 181.0).overdue
    sitting.send(m.Why())
    assert view(sitting.machine, sitting.state, sitting.now).why == ""
