"""What is spoken when: nothing over a check's own answer, nothing twice, the urgent first."""

from __future__ import annotations

import pytest

from companion.session import model as m
from companion.session.machine import Start
from tests.session.plans import machine, plan
from tests.session.test_machine import Sitting

URGENT = ("stop", "guard", "step", "ahead", "note")


def ranks(sitting: Sitting, event: m.Input, after_s: float = 1.0) -> list[str]:
    """Ranks of what one input makes the machine say."""
    sitting.now += after_s
    sitting.state, effects = sitting.machine.advance(sitting.state, event, sitting.now)
    return [e.rank for e in effects if isinstance(e, m.Say)]


def waiting(mode: str) -> Sitting:
    """A sitting that waits for an answer in this mode."""
    sitting = Sitting(machine())
    if mode == "checklist":
        return sitting
    sitting.to_cut()
    sitting.ticks(20)
    if mode in ("pause", "guard"):
        sitting.send(m.Pause())
    if mode == "guard":
        sitting.send(m.Pause())
    if mode == "stop":
        sitting.send(m.Stop())
    if mode == "mishap":
        sitting.send(m.Mishap("blade-broke"))
    return sitting


@pytest.mark.parametrize("mode", ["checklist", "guard", "mishap", "stop", "pause"])
def test_nothing_is_spoken_while_an_answer_is_awaited(mode: str) -> None:
    sitting = waiting(mode)
    assert sitting.mode() == mode
    sitting.said.clear()
    sitting.cues.clear()
    sitting.ticks(900)
    assert (sitting.said, sitting.cues) == ([], [])


@pytest.mark.parametrize("mode", ["checklist", "guard", "mishap"])
def test_each_answer_is_followed_by_one_sentence_and_that_is_the_next_item(mode: str) -> None:
    sitting = waiting(mode)
    while sitting.mode() == mode:
        sitting.said.clear()
        sitting.done(1)
        assert len(sitting.said) == 1
        assert sitting.said[0] == sitting.machine.prompt(sitting.state)


def test_no_sentence_is_said_twice_running_in_a_whole_run() -> None:
    sitting = Sitting(machine(plan(legs=4)))
    for _ in range(400):
        if sitting.mode() == "summary":
            break
        sitting.ticks(45 if sitting.state.powered else 1)
        sitting.done(1)
    assert sitting.mode() == "summary"
    assert len(sitting.said) > 30
    assert [a for a, b in zip(sitting.said, sitting.said[1:], strict=False) if a == b] == []


def test_the_rank_is_that_of_the_moment() -> None:
    sitting = Sitting(machine(skill="practised"))
    assert set(ranks(sitting, m.Done())) == {"guard"}
    sitting = Sitting(machine(skill="practised"))
    sitting.to_cut()
    told = [r for _ in range(400) for r in ranks(sitting, m.Tick())]
    assert set(told) <= {"ahead", "note"} and "ahead" in told
    assert ranks(sitting, m.Again()) == ["step"]
    assert ranks(sitting, m.Stop())[0] == "stop"
    assert ranks(sitting, m.Done()) == ["guard"]


def test_a_last_tenth_is_never_behind_a_hint() -> None:
    """One second brings both at most; the graver one is then the one that is heard."""
    for step in range(len(machine().plan.steps)):
        sitting = Sitting(machine(), Start(step=step))
        sitting.done(len(sitting.machine.texts.checklist) + 3)
        for _ in range(300):
            told = ranks(sitting, m.Tick())
            assert told == sorted(told, key=URGENT.index), told
