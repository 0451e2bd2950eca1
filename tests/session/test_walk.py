"""A session bound to a journal: committed before shown, resumed where it was, asleep is no work."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.errors import JournalError
from companion.journal.model import Entry, Event
from companion.journal.store import Journal
from companion.planner.plan import Plan, plan_from_json
from companion.session import model as m
from companion.session.clock import MadeUpClock
from companion.session.resume import plan_key, work_key
from companion.session.texts import shop_texts
from companion.session.walk import Walk
from tests.session.plans import machine, minutes, plan

CHECKS = len(shop_texts().checklist)
FIRST = len(shop_texts().first) + len(shop_texts().guard)
"""Items of the check before a session's first power-on."""


@dataclass
class Hands:
    """A clock of three hands, each turned by the test. Not a MadeUpClock: no rehearsal."""

    mono: float = 100.0
    boot: float = 100.0
    wall: float = 1_700_000_000.0

    def monotonic_s(self) -> float:
        return self.mono

    def boot_s(self) -> float:
        return self.boot

    def wall_s(self) -> float:
        return self.wall

    def go(self, seconds: float) -> None:
        self.mono += seconds
        self.boot += seconds
        self.wall += seconds

    def sleep(self, seconds: float) -> None:
        self.boot += seconds
        self.wall += seconds


@pytest.fixture
def journal() -> Iterator[Journal]:
    with Journal(None) as open_journal:
        yield open_journal


def sit(journal: Journal, of: Plan | None = None, clock: Hands | None = None,
        runs: int | None = None, anew: bool = False, ticking: bool = False) -> Walk:  # fmt: skip
    walk = Walk(machine(of), journal, clock or Hands(), runs=runs, anew=anew, ticking=ticking)
    walk.begin()
    return walk


def done(walk: Walk, times: int) -> None:
    for _ in range(times):
        walk.take(m.Done())


def kinds(journal: Journal) -> list[str]:
    return [e.kind for e in journal.events()]


def last(journal: Journal, kind: str) -> Event:
    return [e for e in journal.events() if e.kind == kind][-1]


def test_every_input_is_on_disk_before_it_returns(tmp_path: Path) -> None:
    path = tmp_path / "j.sqlite3"
    with Journal(path) as journal, Journal(path) as looker:
        walk = sit(journal)
        assert [e.kind for e in looker.events()] == ["session-start", "run-start"]
        done(walk, CHECKS)
        assert [e.kind for e in looker.events()][-1] == "checklist-done"
        done(walk, 1)
        event = list(looker.events())[-1]
        assert (event.kind, event.step, event.stage) == ("step-done", 1, "prepare")
        walk.take(m.Note("  two   words "))
        assert list(looker.events())[-1].data["text"] == "two words"


@pytest.mark.parametrize("steps", [0, 1, 4, 10, 11])
def test_next_session_goes_on_at_the_same_step(journal: Journal, steps: int) -> None:
    walk = sit(journal)
    done(walk, CHECKS)
    while walk.state.step < steps:
        done(walk, 1)
    at = walk.state.step
    assert at == steps
    # no leave: the process was killed
    again = Walk(machine(), journal, Hands())
    shown = again.begin()
    if steps == len(plan().steps):
        assert again.resumed_at is None and again.state.step == 0, "a finished run is not resumed"
        return
    assert again.resumed_at == at + 1 and again.state.mode == "checklist"
    wanted = f"resumed at step {at + 1} of 11"
    assert [e.text for e in shown if isinstance(e, m.Say)][0] == wanted
    texts: list[str] = []
    for _ in range(CHECKS):
        texts += [e.text for e in again.take(m.Done()) if isinstance(e, m.Say)]
    assert wanted in texts
    assert again.state.step == at
    assert again.state.mode == ("guard" if again.machine.needs_power(again.state) else "step")


def test_time_worked_before_a_kill_counts(journal: Journal) -> None:
    clock = Hands()
    walk = sit(journal, clock=clock)
    done(walk, CHECKS)
    for _ in range(150):
        clock.go(1.0)
        walk.take(m.Tick())
    again = sit(journal)
    # the last progress record stands at two minutes: at most one minute is lost
    assert again.state.spent_s[0] == pytest.approx(120.0)


def test_left_run_keeps_every_second(journal: Journal) -> None:
    clock = Hands()
    walk = sit(journal, clock=clock)
    done(walk, CHECKS)
    clock.go(77.0)
    walk.close()
    assert kinds(journal)[-1] == "leave"
    assert sit(journal).state.spent_s[0] == pytest.approx(77.0)


def test_undone_step_is_resumed_at(journal: Journal) -> None:
    walk = sit(journal)
    done(walk, CHECKS + 2)
    walk.take(m.Back())
    assert sit(journal).state.step == 1


def test_undone_end_opens_the_run_again(journal: Journal) -> None:
    walk = sit(journal)
    while walk.state.mode != "summary":
        done(walk, 1)
    walk.take(m.Back())
    assert walk.state.step == 10
    assert sit(journal).state.step == 10


def test_anew_drops_the_open_run(journal: Journal) -> None:
    done(sit(journal), CHECKS + 2)
    walk = sit(journal, anew=True)
    assert walk.state.step == 0 and walk.resumed_at is None
    assert "run-dropped" in kinds(journal)
    assert sit(journal).resumed_at == 1


def test_other_words_and_minutes_are_the_same_work(journal: Journal) -> None:
    first = plan()
    done(sit(journal, first), CHECKS + 2)
    words = tuple(replace(s, title=f"Neu {s.title}", minutes=minutes(9.0)) for s in first.steps)
    second = replace(first, steps=words)
    assert work_key(first) == work_key(second) and plan_key(first) != plan_key(second)
    assert sit(journal, second).state.step == 2


@given(st.floats(0.001, 500.0), st.floats(0.001, 500.0))
def test_plan_read_back_from_its_file_is_the_same_plan(likely: float, length: float) -> None:
    made = plan()
    step = replace(made.steps[0], minutes=minutes(likely))
    cut = replace(made.cuts[0], length_mm=length, start_mm=(length / 3, likely))
    made = replace(made, steps=(step, *made.steps[1:]), cuts=(cut, *made.cuts[1:]))
    read = plan_from_json(made.to_json())
    assert work_key(read) == work_key(made) and plan_key(read) == plan_key(made)


def test_other_level_of_guidance_goes_on_at_the_same_place(journal: Journal) -> None:
    """Planned with one step a cut, gone on with three legs a cut, and back."""
    walk = sit(journal, plan(legs=1))
    done(walk, CHECKS)
    while walk.state.step < 8:
        done(walk, 1)
    here = walk.machine.step_at(walk.state)
    fine = sit(journal, plan(legs=3))
    there = fine.machine.step_at(fine.state)
    assert here is not None and there is not None
    assert (here.stage, here.cut) == (there.stage, there.cut) == ("lip", 2)
    coarse = sit(journal, plan(legs=1))
    assert coarse.state.step == 8
    assert sit(journal, plan(legs=1)).state.step == 8


@pytest.mark.parametrize("leg", [1, 2])
def test_half_a_cut_is_never_passed_over(journal: Journal, leg: int) -> None:
    """Left in a later leg, gone on where the plan knows one step a cut: still that cut."""
    walk = sit(journal, plan(legs=3))
    done(walk, CHECKS)
    while walk.state.step < 3 + leg:
        done(walk, 1)
    spent = sum(walk.state.spent_s)
    coarse = sit(journal, plan(legs=1))
    step = coarse.machine.step_at(coarse.state)
    assert step is not None and (step.stage, step.cut) == ("cut", 1)
    assert sum(coarse.state.spent_s) == pytest.approx(spent), "the time of every leg is kept"


def test_other_pattern_is_other_work(journal: Journal) -> None:
    done(sit(journal), CHECKS + 2)
    other = plan()
    assert sit(journal, replace(other, board=replace(other.board, stack=3))).resumed_at is None
    assert sit(journal, plan(cuts=3)).resumed_at is None


def test_batch_goes_on_in_the_next_session(journal: Journal) -> None:
    clock = Hands()
    walk = sit(journal, clock=clock, runs=3)
    while walk.state.mode != "summary":
        clock.go(10.0)
        done(walk, 1)
    first = walk.state.runs_s
    walk.close()
    again = sit(journal, clock=clock)
    assert (again.state.run, again.state.runs) == (1, 3)
    assert again.state.runs_s == pytest.approx(first)
    done(again, CHECKS)
    assert again.state.mode == "summary"
    done(again, 1)
    assert (again.state.run, again.state.step) == (2, 0)
    done(again, 2)
    again.close()
    third = sit(journal, clock=clock)
    assert (third.state.run, third.state.step) == (2, 2)
    assert len({e.run for e in journal.events(kind="run-start")}) == 2
    assert len({e.data["batch"] for e in journal.events(kind="run-start")}) == 1


def test_rehearsal_and_work_do_not_mix(journal: Journal) -> None:
    done(sit(journal), CHECKS + 3)
    rehearsal = Walk(machine(), journal, MadeUpClock())
    rehearsal.begin()
    assert rehearsal.resumed_at is None and last(journal, "session-start").data["rehearsed"]
    done(rehearsal, CHECKS + 1)
    assert sit(journal).state.step == 3


def test_rehearsal_takes_the_planned_time_with_its_spread(journal: Journal) -> None:
    walk = Walk(machine(), journal, MadeUpClock(), seed=3)
    walk.begin()
    while walk.state.mode != "summary":
        walk.take(m.Done())
    steps = walk.machine.plan.steps
    for step, seconds in zip(steps, walk.state.spent_s, strict=True):
        assert step.minutes.low * 60 - 1e-6 <= seconds <= step.minutes.high * 60 + 1e-6
    again = Walk(machine(), Journal(None), MadeUpClock(), seed=3)
    again.begin()
    while again.state.mode != "summary":
        again.take(m.Done())
    assert again.state.spent_s == pytest.approx(walk.state.spent_s)


def test_pupils_open_run_is_not_resumed_by_the_teacher(tmp_path: Path) -> None:
    with Journal(tmp_path / "p.sqlite3", "Pupil") as pupil:
        done(sit(pupil), CHECKS + 2)
    with Journal(tmp_path / "t.sqlite3", "Teacher") as teacher:
        assert teacher.take_in(tmp_path / "p.sqlite3") > 0
        assert sit(teacher).resumed_at is None


# ------------------------------------------------------------- clocks


def test_time_asleep_is_no_work(journal: Journal) -> None:
    """The monotonic clock stands during sleep, the boot clock goes on (Linux, macOS)."""
    clock = Hands()
    walk = sit(journal, clock=clock)
    done(walk, CHECKS)
    clock.go(30.0)
    clock.sleep(3600.0)
    clock.go(5.0)
    done(walk, 1)
    assert last(journal, "asleep").data["asleep_s"] == pytest.approx(3600.0)
    assert last(journal, "step-done").data["active_s"] == pytest.approx(35.0)
    assert "clock-set" not in kinds(journal)


def test_sleep_shows_as_a_gap_between_ticks_where_no_clock_stands(journal: Journal) -> None:
    clock = Hands()
    walk = sit(journal, clock=clock, ticking=True)
    done(walk, CHECKS)
    for _ in range(20):
        clock.go(1.0)
        walk.take(m.Tick())
    clock.go(7200.0)
    walk.take(m.Tick())
    clock.go(1.0)
    done(walk, 1)
    assert last(journal, "step-done").data["active_s"] == pytest.approx(21.0)
    assert last(journal, "asleep").data["asleep_s"] == pytest.approx(7200.0)


@pytest.mark.parametrize("shift_s", [-3600.0, 86400.0])
def test_wall_clock_that_is_set_changes_no_duration(journal: Journal, shift_s: float) -> None:
    clock = Hands()
    walk = sit(journal, clock=clock)
    done(walk, CHECKS)
    clock.go(10.0)
    clock.wall += shift_s
    clock.go(10.0)
    done(walk, 1)
    assert last(journal, "step-done").data["active_s"] == pytest.approx(20.0)
    assert last(journal, "clock-set").data["shift_s"] == pytest.approx(shift_s)
    assert "asleep" not in kinds(journal)


# ------------------------------------------------------------- a journal that refuses


class Stubborn(Journal):
    """A journal whose disk can be made to fill up."""

    full = False

    def append(self, entries: Sequence[Entry]) -> int:
        if self.full:
            raise JournalError("the journal refuses", "disk full", "Free some space.")
        return super().append(entries)


def test_full_disk_refuses_done_and_says_so() -> None:
    with Stubborn(None) as journal:
        walk = sit(journal)
        done(walk, CHECKS)
        journal.full = True
        before = walk.state
        shown = walk.take(m.Done())
        assert walk.state == before and walk.trouble is not None
        assert any(isinstance(e, m.Say) and "Free some space." in e.text for e in shown)
        journal.full = False
        done(walk, 1)
        assert walk.state.step == 1 and walk.trouble is None
        assert kinds(journal).count("step-done") == 1


def test_full_disk_never_holds_up_a_stop() -> None:
    with Stubborn(None) as journal:
        walk = sit(journal)
        done(walk, CHECKS + 3 + FIRST)
        assert walk.state.powered
        journal.full = True
        shown = walk.take(m.Stop())
        assert walk.view().mode == "stop" and isinstance(shown[0], m.Cue)
        assert any(isinstance(e, m.Say) and "log" in e.text for e in walk.flush())
        walk.take(m.Mishap("blade-broke"))
        assert walk.view().mode == "mishap"
        journal.full = False
        walk.take(m.Tick())
        assert kinds(journal)[-2:] == ["stop", "mishap"]


def test_stop_is_shown_before_it_is_written(journal: Journal) -> None:
    walk = sit(journal)
    walk.take(m.Stop())
    assert "stop" not in kinds(journal)
    walk.flush()
    assert kinds(journal)[-1] == "stop"


def test_leaving_with_a_full_disk_is_told() -> None:
    with Stubborn(None) as journal:
        walk = sit(journal)
        journal.full = True
        with pytest.raises(JournalError, match="Free some space"):
            walk.close()


def test_refused_next_run_is_begun_once_in_the_end() -> None:
    with Stubborn(None) as journal:
        walk = sit(journal, runs=2)
        while walk.state.mode != "summary":
            done(walk, 1)
        journal.full = True
        done(walk, 3)
        journal.full = False
        done(walk, 1)
        done(walk, 1)
        starts = list(journal.events(kind="run-start"))
        assert [e.data["run"] for e in starts] == [1, 2]
        assert last(journal, "step-done").run == starts[1].run


# ------------------------------------------------------------- anything, killed anywhere

PRESSED: tuple[m.Input | None, ...] = (
    m.Done(), m.Done(), m.Done(), m.Done(), m.Done(), m.Back(), m.Pause(), m.Stop(), m.Tick(),
    m.Mishap("wandered"), m.Note("n"), m.Leave(), None,
)  # fmt: skip
"""None: the process is killed, and a new session begins."""


@settings(max_examples=80, deadline=None)
@given(st.lists(st.sampled_from(PRESSED), max_size=120), st.integers(1, 3), st.integers(1, 2))
def test_killed_anywhere_goes_on_at_the_same_place(
    pressed: list[m.Input | None], legs: int, runs: int
) -> None:
    clock = Hands()
    with Journal(None) as open_journal:
        walk = sit(open_journal, plan(legs, cuts=1), clock, runs=runs)
        for event in pressed:
            clock.go(3.0)
            if event is not None and walk.state.mode != "left":
                walk.take(event)
                continue
            before = walk.state
            walk = sit(open_journal, plan(legs, cuts=1), clock)
            finished = before.ground == "summary" and before.run == before.runs
            wanted = (1, 0) if finished else (before.run, before.step)
            assert (walk.state.run, walk.state.step) == wanted
            assert walk.state.mode == "checklist" and walk.state.checked == 0
            for _ in range(CHECKS - 1):
                walk.take(m.Done())
        assert open_journal.check() == []


# ------------------------------------------------------------- drying


def test_drying_goes_on_between_sessions(journal: Journal) -> None:
    of, clock = plan(wait_min=120.0), Hands()
    walk = sit(journal, of, clock)
    while walk.state.step < 11:
        clock.go(1.0)
        done(walk, 1)
    (wet,) = walk.drying()
    assert (wet.step, wet.title) == (11, "Peel") and wet.left_s == pytest.approx(7200.0)
    walk.close()
    clock.sleep(5000.0)
    again = sit(journal, of, clock)
    assert again.drying()[0].left_s == pytest.approx(2200.0)
    clock.go(2100.0)
    assert again.take(m.Tick()) == []
    clock.go(101.0)
    shown = again.take(m.Tick())
    assert m.Cue("timer-over") in shown
    assert any(isinstance(e, m.Say) and e.text == "Dry: Peel." for e in shown)
    assert again.drying() == () and again.take(m.Tick()) == []
    assert sit(journal, of, clock).drying() == ()


def test_undone_step_dries_no_more(journal: Journal) -> None:
    walk = sit(journal, plan(wait_min=120.0))
    while walk.state.step < 11:
        done(walk, 1)
    assert len(walk.drying()) == 1
    walk.take(m.Back())
    assert walk.drying() == ()
    assert sit(journal, plan(wait_min=120.0)).drying() == ()


def test_drying_goes_on_in_the_file_though_the_program_was_killed(tmp_path: Path) -> None:
    of, clock, path = plan(wait_min=120.0), Hands(), tmp_path / "journal.sqlite3"
    with Journal(path) as first:
        walk = sit(first, of, clock)
        while walk.state.step < 11:
            clock.go(1.0)
            done(walk, 1)
        # killed: nothing is closed, nothing more is written
    clock.sleep(4000.0)
    for left_s in (3200.0, 2200.0):
        with Journal(path) as again:
            (wet,) = sit(again, of, clock).drying()
            assert wet.title == "Peel" and wet.left_s == pytest.approx(left_s, abs=1.0)
        clock.sleep(1000.0)
    clock.sleep(3000.0)
    with Journal(path) as late:
        assert sit(late, of, clock).drying() == ()


@pytest.mark.parametrize("shift_s", [-3600.0, 3600.0])
def test_a_clock_that_is_set_dries_nothing(journal: Journal, shift_s: float) -> None:
    of, clock = plan(wait_min=120.0), Hands()
    walk = sit(journal, of, clock)
    while walk.state.step < 11:
        done(walk, 1)
    clock.go(200.0)
    clock.wall += shift_s
    walk.take(m.Tick())
    assert walk.drying()[0].left_s == pytest.approx(7000.0)
    walk.close()
    clock.sleep(1000.0)
    assert sit(journal, of, clock).drying()[0].left_s == pytest.approx(6000.0)
