"""The drill round hole by hole: each ticked off, undone by one, resumed at the hole."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.journal.store import Journal
from companion.planner.plan import Hole, Plan, SizedHole
from companion.session import model as m
from companion.session.clock import MadeUpClock
from companion.session.drilling import drilled_before, hole_prompt, place_of, prompts_of, round_of
from companion.session.machine import Machine
from companion.session.resume import plan_key
from companion.session.texts import shop_texts
from companion.session.view import view
from companion.session.walk import Walk
from companion.words import ENGLISH
from tests.session.plans import plan
from tests.session.test_walk import CHECKS, Hands, done, kinds, last

DRILL = 1
"""Index of the drilling step in the plans used here."""
ORDER = (3, 1, 4, 2)
"""Another order than that of the cuts."""


def four_holes() -> Plan:
    made = plan(cuts=4)
    by_number = {h.number: h for h in made.holes}
    return replace(made, holes=tuple(by_number[n] for n in ORDER))


def sit(journal: Journal, of: Plan | None = None, each: bool = True,
        clock: Hands | MadeUpClock | None = None) -> Walk:  # fmt: skip
    machine = Machine(of or four_holes(), shop_texts(), quiet_s=0.0, each_hole=each)
    walk = Walk(machine, journal, clock or Hands())
    walk.begin()
    return walk


def holes_asked(walk: Walk) -> list[int]:
    """Confirm the round to its end; the holes that were in hand."""
    asked = []
    while (hole := walk.machine.hole_at(walk.state)) is not None:
        asked.append(hole.number)
        done(walk, 1)
    return asked


def test_each_hole_in_the_plans_order_and_each_in_the_log() -> None:
    with Journal(None) as journal:
        walk = sit(journal)
        done(walk, CHECKS + 1)
        assert holes_asked(walk) == list(ORDER)
        assert walk.state.step == DRILL + 1 and walk.state.drilled == 0
        told = [e.data["hole"] for e in journal.events() if e.kind == "hole-done"]
        # the last hole ends the step
        assert told == list(ORDER[:-1])
        assert last(journal, "step-done").step == DRILL + 1


def test_all_at_once_is_one_done() -> None:
    with Journal(None) as journal:
        walk = sit(journal, each=False)
        done(walk, CHECKS + 2)
        assert walk.state.step == DRILL + 1
        assert "hole-done" not in kinds(journal)


def test_back_takes_one_hole_back_and_from_the_next_step_the_last() -> None:
    with Journal(None) as journal:
        walk = sit(journal)
        done(walk, CHECKS + 3)
        assert walk.machine.hole_at(walk.state) == walk.machine.plan.holes[2]
        walk.take(m.Back())
        assert walk.state.step == DRILL and walk.state.drilled == 1
        assert last(journal, "hole-back").data["hole"] == ORDER[1]
        walk.take(m.Back())
        walk.take(m.Back())
        # from the first hole to the step before the round
        assert walk.state.step == DRILL - 1 and walk.state.drilled == 0
        done(walk, 1)
        holes_asked(walk)
        walk.take(m.Back())
        assert walk.state.step == DRILL and walk.state.drilled == len(ORDER) - 1
        done(walk, 1)
        assert walk.state.step == DRILL + 1


def test_the_way_of_the_round_is_changed_on_the_way() -> None:
    with Journal(None) as journal:
        walk = sit(journal, each=False)
        walk.take(m.Holes())
        assert not walk.state.each_hole
        done(walk, CHECKS + 1)
        walk.take(m.Holes())
        assert walk.state.each_hole and last(journal, "holes").data["each"] is True
        done(walk, 2)
        walk.take(m.Holes())
        assert walk.machine.hole_at(walk.state) is None
        assert walk.machine.prompt(walk.state) == walk.machine.plan.steps[DRILL].say
        done(walk, 1)
        assert walk.state.step == DRILL + 1 and walk.state.drilled == 0


@pytest.mark.parametrize("drilled", [0, 1, 2, 3])
def test_resumed_at_the_hole(drilled: int) -> None:
    with Journal(None) as journal:
        first = sit(journal)
        done(first, CHECKS + 1 + drilled)
        first.close()
        second = sit(journal)
        assert second.view().item == 1
        done(second, CHECKS)
        assert second.state.step == DRILL
        assert holes_asked(second) == list(ORDER[drilled:])


def test_resumed_at_the_hole_after_a_kill_and_a_second_session() -> None:
    with Journal(None) as journal:
        for _ in range(3):
            # killed: nothing is closed
            walk = sit(journal)
            done(walk, CHECKS + (walk.state.step == 0) + 1)
        assert walk.state.drilled == 3


def test_the_changed_way_of_the_round_outlives_the_session() -> None:
    with Journal(None) as journal:
        first = sit(journal, each=False)
        done(first, CHECKS + 1)
        first.take(m.Holes())
        done(first, 2)
        second = sit(journal, each=False)
        done(second, CHECKS)
        assert holes_asked(second) == list(ORDER[2:])


def test_another_order_of_the_holes_begins_the_round_anew() -> None:
    with Journal(None) as journal:
        first = sit(journal)
        done(first, CHECKS + 3)
        other = four_holes()
        other = replace(other, holes=tuple(reversed(other.holes)))
        second = sit(journal, other)
        done(second, CHECKS)
        assert second.state.step == DRILL
        assert holes_asked(second) == list(reversed(ORDER))


def test_stop_pause_and_mishap_in_the_round_keep_the_hole() -> None:
    with Journal(None) as journal:
        walk = sit(journal)
        done(walk, CHECKS + 3)
        walk.take(m.Pause())
        walk.take(m.Pause())
        walk.take(m.Stop())
        texts = walk.machine.texts
        done(walk, 1 + len(texts.unpowered))
        for kind in texts.recoveries_at(walk.machine.step_at(walk.state)):
            assert kind.drilling
            walk.take(m.Mishap(kind.key))
            done(walk, len(kind.steps))
            assert walk.state.mode == "step" and walk.state.drilled == 2, kind.key


def test_mishaps_at_the_drill_speak_of_the_drill_and_at_the_saw_of_the_saw() -> None:
    texts, steps = shop_texts(), four_holes().steps
    drill = texts.recoveries_at(steps[DRILL])
    saw = texts.recoveries_at(next(s for s in steps if s.stage == "cut"))
    assert set(drill) | set(saw) == set(texts.recoveries) and not set(drill) & set(saw)
    assert [r.key for r in drill] == ["bit-broke", "hole-off", "bit-caught"]
    for kind in drill:
        assert "drill" in kind.steps[0] and not kind.blade_in_hand
        assert not any("blade stands" in s or "Thread" in s or "kerf" in s for s in kind.steps)
    assert all(not r.drilling for r in saw) and texts.recoveries_at(None) == saw


def test_a_rehearsed_round_takes_about_the_planned_time() -> None:
    with Journal(None) as journal:
        walk = sit(journal, clock=MadeUpClock())
        done(walk, CHECKS + 1)
        holes_asked(walk)
        planned = walk.machine.plan.steps[DRILL].minutes
        assert planned.low * 60 - 2 <= walk.state.spent_s[DRILL] <= planned.high * 60 + 2


def test_one_round_for_each_drill_thin_to_thick() -> None:
    made = four_holes()
    thick = tuple(
        replace(h, drill_mm=2.0, drill_name="2.0 mm") if h.number in (1, 2) else h
        for h in made.holes
    )
    steps = list(made.steps)
    steps.insert(DRILL, replace(steps[DRILL]))
    made = replace(
        made, holes=thick,
        steps=tuple(replace(s, number=n) for n, s in enumerate(steps, 1)),
    )  # fmt: skip
    assert [h.number for h in round_of(made, DRILL)] == [3, 4]
    assert [h.number for h in round_of(made, DRILL + 1)] == [1, 2]
    assert round_of(made, DRILL + 2) == () and round_of(made, 99) == ()
    drilled = [[h.number for h in drilled_before(made, DRILL + n, 1)] for n in (0, 1)]
    assert drilled == [[3], [3, 4, 1]]
    # what is entered without a hole of its own is not in the round
    no_hole = Hole(5, (9.0, 9.0), 0.0, 5)
    assert round_of(replace(made, holes=(no_hole, *thick)), DRILL) == round_of(made, DRILL)
    # steps that cannot be told apart are confirmed as a whole
    assert round_of(replace(made, holes=made.holes[:1]), DRILL) == ()


@pytest.mark.parametrize(
    ("at", "words"),
    [((5.0, 5.0), "upper left"), ((60.0, 30.0), "in the middle"), ((119.0, 59.0), "lower right"),
     ((120.0, 60.0), "lower right"), ((60.0, 0.0), "at the top, middle")],
)  # fmt: skip
def test_the_place_is_told_by_thirds_of_the_board(at: tuple[float, float], words: str) -> None:
    made = plan()
    assert place_of(made, Hole(1, at, 1.5, 1)) == words


def test_the_view_shows_the_hole_in_hand_and_the_next() -> None:
    with Journal(None) as journal:
        walk = sit(journal)
        done(walk, CHECKS + 1)
        for place, number in enumerate(ORDER, 1):
            now = view(walk.machine, walk.state, 0.0)
            assert (now.title, now.item, now.items) == (f"Hole {number}", place, len(ORDER))
            after = walk.machine.plan.steps[DRILL + 1].title
            assert now.next_title == (f"Hole {ORDER[place]}" if place < len(ORDER) else after)
            done(walk, 1)


def test_every_prompt_can_be_got_ready() -> None:
    made = four_holes()
    assert len(prompts_of(made, ENGLISH, False)) == len(made.steps)
    told = prompts_of(made, ENGLISH, True)
    assert len(told) == len(made.steps) + len(ORDER) - 1
    assert told[DRILL].startswith(f"Drill hole {ORDER[0]} with ")


def sized() -> Plan:
    """Four entry holes and three openings to size: two with the same drill, one with another."""
    made = four_holes()
    to_size = (
        SizedHole(6, (5.0, 5.0), 1.5, "", 7, 1, 4), SizedHole(5, (60.0, 30.0), 1.5, "", 6, 1, 4),
        SizedHole(7, (110.0, 50.0), 3.0, "3.0 mm", 8, 1, 4),
    )  # fmt: skip
    steps = list(made.steps)
    steps[DRILL:DRILL] = [steps[DRILL], steps[DRILL]]
    return replace(
        made, to_size=to_size,
        steps=tuple(replace(s, number=n) for n, s in enumerate(steps, 1)),
    )  # fmt: skip


def test_what_is_drilled_to_size_is_a_round_of_its_own() -> None:
    made = sized()
    rounds = [[h.number for h in round_of(made, DRILL + k)] for k in range(4)]
    assert rounds == [list(ORDER), [6, 5], [7], []]
    assert [h.number for h in drilled_before(made, DRILL + 1, 1)] == [*ORDER, 6]
    told = hole_prompt(made, made.to_size[1], ENGLISH)
    assert told == "Clamp, backing under; drill hole 5 to size, 1.50 mm, in the middle."


def test_hole_by_hole_every_prompt_names_its_drill() -> None:
    made = sized()
    drills = [h for k in range(3) for h in round_of(made, DRILL + k)]
    told = prompts_of(made, ENGLISH, True)[DRILL : DRILL + len(drills)]
    for hole, prompt in zip(drills, told, strict=True):
        assert f" {ENGLISH.drill(hole.drill_name, hole.drill_mm)}, " in prompt
    assert len({h.drill_mm for h in drills}) > 1


def test_hole_by_hole_the_sized_ones_come_in_their_turn_and_are_resumed_there() -> None:
    with Journal(None) as journal:
        walk = sit(journal, sized())
        done(walk, CHECKS + 1)
        assert holes_asked(walk) == [*ORDER, 6, 5, 7]
        assert walk.state.step == DRILL + 3
        walk.close()
    with Journal(None) as journal:
        first = sit(journal, sized())
        done(first, CHECKS + 1 + len(ORDER) + 1)
        assert first.view().title == "To size 5"
        first.close()
        again = sit(journal, sized())
        done(again, CHECKS)
        hole = again.machine.hole_at(again.state)
        assert hole is not None and hole.number == 5


def test_another_set_of_sized_holes_is_another_plan_in_the_log() -> None:
    made = sized()
    assert plan_key(made) != plan_key(replace(made, to_size=made.to_size[::-1]))
    assert plan_key(replace(made, to_size=())) != plan_key(made)
