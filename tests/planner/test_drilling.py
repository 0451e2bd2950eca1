"""The drill round: one drill after the other, each on a short way, told in that order."""

from __future__ import annotations

from itertools import pairwise, permutations
from math import dist
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from companion.devices.paths import shipped
from companion.planner.drilling import EXACT, drilling_order
from companion.planner.make import plan_project
from companion.planner.plan import Hole
from companion.planner.project import Overrides, load_project
from companion.shop.settings import default_settings

OUTSIDE = Path(__file__).parents[1] / "data" / "outside"
PLACES = st.tuples(st.floats(0, 300), st.floats(0, 200))


def tour(holes: list[Hole]) -> float:
    return sum(dist(a.at_mm, b.at_mm) for a, b in pairwise([*holes, holes[0]]))


@given(st.lists(st.tuples(PLACES, st.sampled_from([0.0, 1.0, 1.5])), min_size=1, max_size=14))
@settings(max_examples=60, deadline=None)
def test_every_hole_once_thin_drills_first_from_the_top_left(
    drawn: list[tuple[tuple[float, float], float]],
) -> None:
    holes = [Hole(k, at, size, k, str(size)) for k, (at, size) in enumerate(drawn, 1)]
    found = drilling_order(holes)
    assert sorted(h.number for h in found) == [h.number for h in holes]
    sizes = [h.drill_mm or 9.0 for h in found]
    assert sizes == sorted(sizes)
    for size in set(sizes):
        group = [h for h in found if (h.drill_mm or 9.0) == size]
        assert sum(group[0].at_mm) == min(sum(h.at_mm) for h in group)
        if len(group) <= min(EXACT - 1, 6):
            rest = group[1:]
            best = min(tour([group[0], *p]) for p in permutations(rest))
            assert tour(group) <= best + 1e-6
    assert drilling_order(holes) == found


def test_the_step_lists_the_holes_as_they_are_drilled_and_no_way_is_longer_than_by_cuts() -> None:
    """Over the demos and words from outside: the round against the order of the cuts."""
    files = [p for p in sorted(shipped("demo_projects").iterdir()) if (p / "project.toml").exists()]
    words = sorted((OUTSIDE / "words").glob("*bakery.svg"))
    made = [plan_project(load_project(p), default_settings()) for p in files]
    made += [
        plan_project(load_project(w, Overrides(width_mm=240.0)), default_settings()) for w in words
    ]
    planned_mm = by_cut_mm = 0.0
    for plan in made:
        assert sorted(h.number for h in plan.holes) == [
            c.number for c in plan.cuts if c.hole == c.number
        ]
        steps = [s for s in plan.steps if s.stage == "drill"]
        sizes = sorted({(h.drill_mm, h.drill_name) for h in plan.holes if h.drill_mm})
        for step, size in zip(steps, sizes, strict=True):
            group = [h for h in plan.holes if (h.drill_mm, h.drill_name) == size]
            if len(group) <= 4:
                assert ", ".join(str(h.number) for h in group) in step.say
            plain = sorted(group, key=lambda h: h.number)
            planned_mm += tour(group)
            by_cut_mm += tour(plain)
    assert planned_mm < 0.75 * by_cut_mm
