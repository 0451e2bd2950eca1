"""One back, one leg, one place further: what holds at the first and last of anything."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.planner.plan import Plan, Turn
from companion.session import model as m
from companion.session.announce import leg_of
from companion.session.drilling import round_of
from companion.session.model import State
from companion.session.resume import StepKey, Unfinished, work_key
from companion.session.view import view
from tests.session.plans import machine, plan
from tests.session.test_machine import Sitting

# ------------------------------------------------------------- machine


def test_back_in_a_guard_asks_the_item_before_once_more() -> None:
    sitting = Sitting(machine())
    sitting.to_cut()
    sitting.send(m.Pause())
    sitting.send(m.Pause())
    items = sitting.machine.guard(sitting.state)
    assert sitting.mode() == "guard" and len(items) >= 3
    sitting.done(2)
    step = sitting.state.step
    for k in (1, 0):
        sitting.send(m.Back())
        assert (sitting.mode(), sitting.state.guarded, sitting.state.step) == ("guard", k, step)
        assert sitting.said[-1] == items[k].say
    sitting.send(m.Back())
    assert sitting.state.step == step - 1, "before its first item the step itself is undone"


def test_the_log_tells_how_long_the_pause_was() -> None:
    sitting = Sitting(machine(), now=50.0)
    sitting.to_cut()
    sitting.send(m.Pause(), 20.0)
    sitting.send(m.Pause(), 12.5)
    (record,) = [r for r in sitting.records if r.kind == "go-on"]
    assert record.data["paused_s"] == 12.5


# ------------------------------------------------------------- legs


def only_cuts(legs: int) -> Plan:
    """A plan that is nothing but the legs of its one cut."""
    made = plan(legs=legs, cuts=1, bare=True)
    return replace(made, steps=tuple(s for s in made.steps if s.stage == "cut"))


@pytest.mark.parametrize("legs", [1, 2, 3])
def test_legs_share_their_cut_out_wherever_they_stand_in_the_plan(legs: int) -> None:
    """From nought to the whole, one after the other, whatever is sawn before or after."""
    many = plan(legs=legs, cuts=3, bare=True)
    for made in (only_cuts(legs), many):
        for cut in made.cuts:
            found = [
                leg_of(made, i, machine().powered_stages)
                for i, s in enumerate(made.steps)
                if s.cut == cut.number
            ]
            assert len(found) == legs
            for k, leg in enumerate(found):
                assert leg is not None
                assert leg.done_from == pytest.approx(k / legs)
                assert leg.done_to == pytest.approx((k + 1) / legs)


def test_turns_told_together_are_counted_each_after_its_kind() -> None:
    made = plan()
    ring = made.cuts[0].line_mm
    kinds = ("spin", "loop", "loop", "spin", "spin", "spin")
    turns = tuple(Turn(ring[1], 90.0, t, 80.0 + i) for i, t in enumerate(kinds))  # type: ignore[arg-type]
    made = replace(made, cuts=(replace(made.cuts[0], turns=turns), *made.cuts[1:]))
    sitting = Sitting(machine(made, "practised"))
    sitting.to_cut()
    sitting.ticks(70)
    ahead = [s for s in sitting.said if "ahead" in s]
    assert ahead == ["1 spin ahead. 2 loops ahead. 3 spins ahead."]


# ------------------------------------------------------------- taking a run up


def test_the_first_step_may_be_the_drill_round() -> None:
    made = plan(cuts=3)
    made = replace(made, steps=made.steps[1:])
    assert made.steps[0].stage == "drill"
    assert [h.number for h in round_of(made, 0)] == [1, 2, 3]
    assert round_of(made, -1) == round_of(made, len(made.steps)) == ()


def open_run(at: int, spent_s: dict[int, float]) -> Unfinished:
    return Unfinished("r", "b", "p", at, spent_s, 1, 1, (), "s", {})


def test_seconds_of_legs_that_are_one_now_are_added_and_of_nothing_else() -> None:
    """Two legs became one; of two things to prepare one is left; a cut is gone altogether."""
    old: list[StepKey] = [
        ("prepare", None), ("prepare", None), ("cut", 1), ("cut", 1), ("cut", 2), ("lip", 1),
    ]  # fmt: skip
    new: list[StepKey] = [("prepare", None), ("cut", 1), ("lip", 1)]
    spent = {1: 1.0, 2: 2.0, 3: 4.0, 4: 8.0, 5: 16.0, 6: 32.0}
    start = open_run(5, spent).start(old, new, 1)
    assert start.spent_s == (1.0, 12.0, 32.0)
    assert start.step == 2, "the lip is next: the cut in hand is no more"


@pytest.mark.parametrize(("off_mm", "same"), [(0.03, True), (0.3, False)])
def test_a_start_moved_by_less_than_a_tenth_is_the_same_work(off_mm: float, same: bool) -> None:
    made = plan()
    cut = made.cuts[0]
    moved = replace(cut, start_mm=(cut.start_mm[0] + off_mm, cut.start_mm[1]))
    longer = replace(cut, length_mm=cut.length_mm + off_mm)
    for other in (moved, longer):
        assert (work_key(replace(made, cuts=(other, *made.cuts[1:]))) == work_key(made)) is same


# ------------------------------------------------------------- what is shown


def test_the_place_in_a_list_is_told_where_there_is_a_list_and_nowhere_else() -> None:
    """From 1 in checklist, guard and mishap; nought of nought in a step, a pause, a STOP."""
    assert State().item == 0 and State(mode="mishap").item == 0
    sitting = Sitting(machine())
    of = sitting.machine

    def shown() -> tuple[str, int, int]:
        now = view(of, sitting.state, sitting.now)
        return now.mode, now.item, now.items

    assert shown() == ("checklist", 1, len(of.texts.checklist))
    sitting.to_cut()
    assert shown() == ("step", 0, 0) and sitting.state.item == 0
    sitting.send(m.Pause())
    assert shown() == ("pause", 0, 0) and sitting.state.item == 0
    sitting.send(m.Pause())
    sitting.done(1)
    assert shown() == ("guard", 2, len(of.guard(sitting.state)))
    recovery = next(r for r in of.texts.recoveries if len(r.steps) > 1)
    sitting.send(m.Mishap(recovery.key))
    for k in range(len(recovery.steps)):
        assert shown() == ("mishap", k + 1, len(recovery.steps)) and sitting.state.item == k
        sitting.done(1)
    sitting.send(m.Stop())
    assert shown() == ("stop", 0, 0) and sitting.state.item == 0
