"""Small plans made by hand for the session's tests."""

from __future__ import annotations

from dataclasses import replace

from companion.findings import Point
from companion.planner.plan import (
    Blade,
    Board,
    Cut,
    Hole,
    Minutes,
    Plan,
    Project,
    Speed,
    Stage,
    Step,
    Technique,
    Turn,
)
from companion.session.machine import Machine
from companion.session.texts import Texts, shop_texts
from companion.shop.model import Skill

SIDE_MM = 40.0
TURNS: tuple[Technique, ...] = ("spin", "back-out", "loop")


def minutes(likely: float) -> Minutes:
    """A time with a range."""
    return Minutes(likely * 0.8, likely, likely * 1.5)


def square(number: int, x: float, side: str) -> Cut:
    """A square cut of 160 mm with three corners on the way and its start at a fourth."""
    ring: tuple[Point, ...] = (
        (x, 0.0), (x + SIDE_MM, 0.0), (x + SIDE_MM, SIDE_MM), (x, SIDE_MM), (x, 0.0),
    )  # fmt: skip
    turns = tuple(
        Turn(ring[i], 90.0, TURNS[i - 1], SIDE_MM * i) for i in range(1, 4)
    )  # fmt: skip
    return Cut(
        number=number, side="inside" if side == "inside" else "outside", hole=number,
        length_mm=4 * SIDE_MM, start_mm=ring[0], direction="clockwise", line_mm=ring,
        speed=Speed(4, 8), turns=turns, weakness=0.5, hold_mm=((x, 0.0),), minutes=minutes(2.0),
        opening=number if side == "inside" else None,
    )  # fmt: skip


def plan(legs: int = 1, cuts: int = 2, bare: bool = False, wait_min: float = 0.0) -> Plan:
    """Prepare, drill, then thread, cut (in legs), lip, clear for each cut, then finish.

    Bare: one cut after the other with nothing between. With a wait, the finish dries so
    long and a coat of paint follows.
    """
    steps: list[Step] = []

    def add(stage: Stage, cut: int | None, title: str, likely: float) -> None:
        n = len(steps) + 1
        steps.append(Step(n, stage, cut, title, f"{title}, now.", f"Because of {n}.",
                          minutes(likely)))  # fmt: skip

    add("prepare", None, "Glue the sheet", 5.0)
    add("drill", None, "Drill", 3.0)
    found = tuple(
        square(i + 1, 50.0 * i, "outside" if i == cuts - 1 else "inside") for i in range(cuts)
    )
    for cut in found:
        if not bare:
            add("thread", cut.number, f"Thread {cut.number}", 1.0)
        for leg in range(legs):
            add("cut", cut.number, f"Cut {cut.number}.{leg + 1}", 2.0 / legs)
            steps[-1] = replace(steps[-1], line_to=(leg + 1) / legs)
        if not bare:
            add("lip", cut.number, f"Lip {cut.number}", 0.5)
            add("clear", cut.number, f"Clear {cut.number}", 0.5)
    add("finish", None, "Peel", 4.0)
    if wait_min:
        steps[-1] = replace(steps[-1], wait_min=wait_min)
        add("finish", None, "Paint", 4.0)
    likely = sum(s.minutes.likely for s in steps)
    return Plan(
        Project("Test square", "f" * 64), Board("mdf", 6.0, 2, 120.0, 60.0),
        Blade("3", 0.9, 1.5, 1), 1, cuts - 1, 1000.0, (),
        tuple(Hole(c.number, c.start_mm, 1.5, c.number) for c in found), found, tuple(steps),
        minutes(likely),
    )  # fmt: skip


def machine(
    of: Plan | None = None, skill: Skill = "beginner", quiet_s: float = 0.0,
    texts: Texts | None = None,
) -> Machine:  # fmt: skip
    """A machine with the shop's own lists."""
    return Machine(of or plan(), texts or shop_texts(), skill, quiet_s=quiet_s)
