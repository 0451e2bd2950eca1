"""Edges that the larger tests pass over: found by changing the code and seeing no test fail."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.journal.model import Event
from companion.journal.store import Journal
from companion.planner.plan import Turn
from companion.session import model as m
from companion.session.announce import LAST_TENTH, Leg, announce, leg_of
from companion.session.clock import MadeUpClock
from companion.session.gesture import BOUNCE_TRAIN_S, Down, PedalTiming, Presses, pass_time, press
from companion.session.machine import Start
from companion.session.resume import plan_key, unfinished
from companion.session.walk import GLANCE_S, Walk
from companion.words import ENGLISH
from tests.session.plans import machine, minutes, plan
from tests.session.test_drilling import four_holes
from tests.session.test_machine import Sitting
from tests.session.test_walk import CHECKS, FIRST, Hands, done, last, sit

TIMING = PedalTiming()
POWERED = machine().powered_stages


def cut_leg(**changed: float) -> Leg:
    found = leg_of(plan(), 3, POWERED)
    assert found is not None
    return replace(found, **changed)  # type: ignore[arg-type]


# ------------------------------------------------------------- announcements


def test_half_is_told_at_half_and_overdue_past_the_high_end() -> None:
    """Two planned minutes, three at the most."""
    sitting = Sitting(machine(skill="practised"))
    sitting.to_cut()
    for until_s, new in ((60, "Half of the cut."), (180, ""), (181, "Past the planned time.")):
        sitting.said.clear()
        sitting.ticks(int(until_s - sitting.state.active_s(sitting.now)))
        told = [s for s in sitting.said if "Half" in s or "Past" in s]
        assert len(told) == bool(new) and all(s.startswith(new) for s in told), until_s


def test_last_tenth_is_told_at_its_very_beginning() -> None:
    outside = leg_of(plan(), 7, POWERED)
    assert outside is not None and outside.cut.side == "outside"
    state = m.State(mode="step", step=7, powered=True, spent_s=(0.0,) * 12, since_s=0.0)
    at_s = LAST_TENTH * outside.likely_s
    assert outside.share(at_s) == LAST_TENTH
    _, effects = announce(state, outside, at_s, "terse", ENGLISH)
    assert m.Cue("last-tenth") in effects


def test_the_share_of_a_leg_ends_with_it() -> None:
    leg = cut_leg()
    assert leg.share(leg.likely_s * 10) == leg.done_to
    assert leg.along(leg.likely_s * 10) == leg.line_to


@pytest.mark.parametrize(
    ("active_s", "at"), [(7.5, (10, 0)), (45, (40, 20)), (75, (20, 40)), (105, (0, 20))]
)
def test_place_on_every_side_of_a_square(active_s: float, at: tuple[float, float]) -> None:
    """Forty millimetres a side, thirty seconds each."""
    assert cut_leg().place_mm(active_s) == pytest.approx(at)


def test_turns_close_together_are_counted_by_technique() -> None:
    made = plan()
    ring = made.cuts[0].line_mm
    turns = tuple(Turn(ring[1], 90.0, t, 80.0 + i) for i, t in enumerate(("spin", "spin", "loop")))  # type: ignore[arg-type]
    made = replace(made, cuts=(replace(made.cuts[0], turns=turns), *made.cuts[1:]))
    sitting = Sitting(machine(made, "practised"))
    sitting.to_cut()
    sitting.ticks(70)
    assert [s for s in sitting.said if "ahead" in s] == ["2 spins ahead. 1 loop ahead."]


def test_a_cut_of_no_length_has_no_turns_ahead() -> None:
    made = plan()
    made = replace(made, cuts=(replace(made.cuts[0], length_mm=0.0), *made.cuts[1:]))
    found = leg_of(made, 3, POWERED)
    assert found is not None and found.due_s == ()


def test_a_leg_of_a_second_is_overdue_when_its_longest_time_is_over() -> None:
    state = m.State(mode="step", step=3, powered=True, spent_s=(0.0,) * 12, since_s=0.0)
    leg = cut_leg(likely_s=1.0, high_s=1.5)
    for now_s, told in ((1.4, False), (1.6, True)):
        _, effects = announce(state, leg, now_s, "practised", ENGLISH)
        said = [e.text for e in effects if isinstance(e, m.Say)]
        assert any(s.startswith("Past the planned time.") for s in said) is told


def test_of_a_leg_without_a_planned_time_nothing_is_reckoned_as_done() -> None:
    leg = cut_leg(likely_s=0.0, done_from=0.25, line_from=0.25)
    assert leg.share(100.0) == leg.along(100.0) == 0.25
    assert leg.place_mm(100.0) == pytest.approx((40.0, 0.0))


def test_the_second_of_two_runs_goes_from_the_start_the_other_way_to_where_they_meet() -> None:
    """A square of 40 mm a side; the runs meet 100 mm along it, half way down its third side."""
    made = plan(legs=2)
    made = replace(made, cuts=(replace(made.cuts[0], meet_along_mm=100.0), *made.cuts[1:]))
    first, second = (leg_of(made, index, POWERED) for index in (3, 4))
    assert first is not None and second is not None
    assert first.place_mm(0.0) == second.place_mm(0.0) == (0.0, 0.0)
    assert first.place_mm(30.0) == pytest.approx((40.0, 10.0))
    assert second.place_mm(30.0) == pytest.approx((0.0, 30.0))
    for leg in (first, second):
        assert leg.place_mm(60.0) == pytest.approx((20.0, 40.0))


# ------------------------------------------------------------- machine


def test_back_in_the_checklist_goes_back_one() -> None:
    for items in (4, 1):
        sitting = Sitting(machine())
        sitting.done(items)
        sitting.send(m.Back())
        assert sitting.state.checked == items - 1


def test_hole_by_hole_is_for_the_drill_round_while_it_is_in_hand() -> None:
    sitting = Sitting(machine(four_holes()))
    sitting.done(len(sitting.machine.texts.checklist) + 1)
    assert sitting.machine.plan.steps[sitting.state.step].stage == "drill"
    sitting.send(m.Pause())
    sitting.send(m.Holes())
    assert not sitting.state.each_hole and sitting.said[-1] == "That is for the drill round."
    sitting = Sitting(machine(four_holes()))
    sitting.to_cut()
    sitting.send(m.Holes())
    assert not sitting.state.each_hole and sitting.said[-1] == "That is for the drill round."


def test_losing_the_focus_is_told_once_and_its_return_not_at_all() -> None:
    sitting = Sitting(machine())
    for on, cues in ((True, 0), (False, 1), (False, 1), (True, 1), (True, 1), (False, 2)):
        sitting.send(m.Focus(on))
        assert sitting.cues.count("not-heard") == cues and sitting.state.focused is on


def test_a_clock_that_steps_back_takes_no_work_away() -> None:
    state = m.State(mode="step", step=1, spent_s=(0.0, 20.0), since_s=100.0)
    assert [state.active_s(now) for now in (99.5, 100.0, 103.0)] == [20.0, 20.0, 23.0]


def test_a_session_that_is_left_says_good_bye_and_not_the_step() -> None:
    sitting = Sitting(machine())
    sitting.to_cut()
    sitting.send(m.Leave())
    assert sitting.machine.prompt(sitting.state) == "Good-bye."


def test_a_fresh_start_has_no_hole_drilled() -> None:
    of = replace(machine(four_holes()), each_hole=True)
    state, _ = of.begin(Start(step=1), 0.0)
    assert Start().drilled == state.drilled == 0


def test_resumed_in_the_round_tells_the_hole() -> None:
    of = replace(machine(four_holes()), each_hole=True)
    for drilled, end in ((0, "of {n}"), (2, "of {n}, hole 4")):
        state, effects = of.begin(Start(step=1, drilled=drilled, resumed=True), 0.0)
        (said,) = [e.text for e in effects if isinstance(e, m.Say)][:1]
        assert said == "resumed at step 2 " + end.format(n=len(of.plan.steps))


# ------------------------------------------------------------- pedal


def test_nothing_is_certain_at_the_very_moment() -> None:
    state, _ = press(Presses(), 10.0, TIMING)
    assert pass_time(state, 10.0 + TIMING.hold_s, TIMING)[1] == ()
    assert len(pass_time(state, 10.0 + TIMING.hold_s + 0.001, TIMING)[1]) == 1


def test_a_press_when_the_quiet_is_over_is_a_new_one() -> None:
    state, _ = press(Presses(), 10.0, TIMING)
    state, _ = press(state, 10.25, TIMING)
    state, _ = pass_time(state, 10.5, TIMING)
    assert state.quiet_until_s == pytest.approx(10.25 + TIMING.double_s)
    _, heard = press(state, state.quiet_until_s, TIMING)
    assert heard == (Down(state.quiet_until_s),)


def test_bounce_of_three_contacts_is_one_press() -> None:
    state, _ = press(Presses(), 10.0, TIMING)
    for at_s in (10.02, 10.04):
        assert at_s - 10.0 < BOUNCE_TRAIN_S
        state, heard = press(state, at_s, TIMING)
        assert heard == () and state.second_s is None


# ------------------------------------------------------------- taking a run up


def event(kind: str, step: int | None = None, wall_s: float = 0.0, **data: object) -> Event:
    return Event(wall_s, 0.0, "s1", kind, data, "r1", step)


BEGUN = event("run-start", batch="b", plan="p", run=1, runs=2)


def test_a_run_that_was_dropped_is_not_open() -> None:
    assert unfinished([BEGUN], [BEGUN, event("run-dropped")]) is None
    assert unfinished([BEGUN], [BEGUN]) is not None


def test_only_a_confirmed_step_begins_to_dry() -> None:
    found = unfinished(
        [BEGUN],
        [BEGUN, event("step-done", 3, 50.0, active_s=2.0, at=4), event("note", 4, 60.0, at=4)],
    )
    assert found is not None
    assert found.done_wall_s == {3: 50.0} and found.spent_s == {3: 2.0}
    assert (found.at, found.drilled) == (4, 0)


def test_a_run_without_a_word_of_its_place_begins_at_its_beginning() -> None:
    found = unfinished([BEGUN], [BEGUN, event("asleep", 1, asleep_s=5.0)])
    assert found is not None and (found.at, found.drilled, found.spent_s) == (1, 0, {})


def test_plans_differ_by_thousandths_of_a_minute() -> None:
    made = plan()
    longer = replace(made.steps[0].minutes, likely=made.steps[0].minutes.likely + 0.002)
    other = replace(made, steps=(replace(made.steps[0], minutes=longer), *made.steps[1:]))
    assert plan_key(other) != plan_key(made)


def test_the_log_tells_where_it_goes_on() -> None:
    with Journal(None) as journal:
        walk = sit(journal)
        done(walk, CHECKS + 2)
        sit(journal)
        assert last(journal, "resumed").data["at"] == 3


def test_seconds_worked_go_over_to_a_plan_that_is_made_anew() -> None:
    with Journal(None) as journal:
        clock = Hands()
        walk = sit(journal, clock=clock)
        done(walk, CHECKS)
        clock.go(40.0)
        done(walk, 1)
        clock.go(7.0)
        walk.close()
        made = plan()
        other = replace(made, steps=(replace(made.steps[0], minutes=minutes(9.0)), *made.steps[1:]))
        sit(journal, other, clock)
        carried = [e for e in journal.events(kind="progress") if e.data.get("carried")]
        assert [(e.step, e.data["active_s"], e.data["at"]) for e in carried] == [
            (1, 40.0, 2), (2, 7.0, 2),
        ]  # fmt: skip


# ------------------------------------------------------------- clocks


@pytest.mark.parametrize(("gap_s", "asleep"), [(29.0, 0), (31.0, 1), (44.0, 1)])
def test_half_a_minute_without_a_tick_is_sleep(gap_s: float, asleep: int) -> None:
    with Journal(None) as journal:
        clock = Hands()
        walk = sit(journal, clock=clock, ticking=True)
        done(walk, CHECKS)
        clock.go(gap_s)
        walk.take(m.Tick())
        assert len(list(journal.events(kind="asleep"))) == asleep


def test_sleep_in_a_step_does_not_spoil_the_next_start() -> None:
    with Journal(None) as journal:
        clock = Hands()
        walk = sit(journal, clock=clock)
        done(walk, CHECKS + 1)
        clock.sleep(600.0)
        walk.take(m.Tick())
        again = sit(journal, clock=clock)
        assert again.state.step == 1


def test_a_glance_of_a_rehearsal_takes_its_time() -> None:
    with Journal(None) as journal:
        clock = MadeUpClock()
        walk = Walk(machine(), journal, clock)
        walk.begin()
        began = clock.monotonic_s()
        done(walk, 3)
        assert clock.monotonic_s() - began == pytest.approx(3 * GLANCE_S)


def test_half_a_minute_of_drying_is_drying() -> None:
    with Journal(None) as journal:
        walk = sit(journal, plan(bare=True, cuts=1, wait_min=0.5))
        done(walk, CHECKS + 2 + FIRST + 1 + 1)
        assert [d.title for d in walk.drying()] == ["Peel"]
