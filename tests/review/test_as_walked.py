"""Whatever feet do to the real machine: the quick review says what the events say one by one."""

from __future__ import annotations

import random
from dataclasses import asdict

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.journal.store import Journal
from companion.planner.plan import Plan
from companion.review.digest import keep_up, summary
from companion.session import model as m
from companion.session.walk import Walk
from tests.review.test_review import same, seen, without_steps
from tests.session.plans import machine, plan
from tests.session.test_walk import Hands

PLANS = (plan(), plan(legs=2), plan(legs=3))
"""The same work in other steps: an open run goes on in the numbers of the next."""
INPUTS: tuple[tuple[m.Input, int], ...] = (
    (m.Done(), 60), (m.Tick(), 25), (m.Back(), 8), (m.Pause(), 4), (m.Stop(), 2),
    (m.Mishap("wandered"), 2), (m.Mishap("blade-broke"), 1), (m.Note("knot"), 2),
    (m.Holes(), 3), (m.Again(), 1),
)  # fmt: skip


def sitting(journal: Journal, of: Plan, clock: Hands, chance: random.Random, length: int) -> None:
    """Tap about, then leave properly or fall dead."""
    walk = Walk(machine(of), journal, clock, runs=2, anew=chance.random() < 0.1)
    walk.begin()
    every, weights = zip(*INPUTS, strict=True)
    for _ in range(length):
        clock.go(chance.choice((0.9, 3.0, 20.0, 61.0, 200.0)))
        walk.take(chance.choices(every, weights)[0])
        if chance.random() < 0.01:
            clock.sleep(chance.uniform(60.0, 4000.0))
    if chance.random() < 0.6:
        clock.go(5.0)
        walk.close()
    else:
        walk.flush()
    clock.go(40_000.0)


def finish(journal: Journal, of: Plan, clock: Hands) -> None:
    """Go on with the open run until it is done."""
    walk = Walk(machine(of), journal, clock)
    walk.begin()
    for _ in range(400):
        if walk.state.mode == "summary":
            break
        clock.go(61.0)
        walk.take(m.Tick())
        walk.take(m.Done())
    assert walk.state.mode == "summary"
    walk.close()


@settings(max_examples=60)
@given(st.integers(0, 2**32), st.lists(st.tuples(st.sampled_from(PLANS), st.integers(0, 60)),
                                       min_size=1, max_size=4))  # fmt: skip
def test_summary_of_any_walk(seed: int, sittings: list[tuple[Plan, int]]) -> None:
    chance, clock = random.Random(seed), Hands()
    with Journal(None) as journal:
        for of, length in sittings:
            sitting(journal, of, clock, chance, length)
            # keeps what is then outgrown, or keeps nothing yet
            chance.choice((summary, keep_up, Journal.count))(journal)
        finish(journal, sittings[-1][0], clock)
        wanted = asdict(without_steps(seen(journal)))
        assert same(asdict(summary(journal)), wanted)
        assert same(asdict(summary(journal)), wanted)


@pytest.mark.parametrize("undone", [False, True])
def test_seconds_carried_into_another_plan_are_in_the_review_of_all(undone: bool) -> None:
    clock = Hands()
    with Journal(None) as journal:
        walk = Walk(machine(PLANS[0]), journal, clock)
        walk.begin()
        while walk.state.step < 4:
            clock.go(30.0)
            walk.take(m.Done())
        if undone:
            walk.take(m.Back())
        walk.close()
        finish(journal, PLANS[1], clock)
        whole, quick = seen(journal), summary(journal)
        assert [r.superseded for r in whole.runs] == [True, False]
        assert whole.runs[1].took_min == quick.runs[1].took_min
