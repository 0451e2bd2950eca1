"""The drill round: which holes one drilling step covers, in which order, and where each lies.

A plan has one drilling step for each round (see companion.planner.rounds). It is confirmed
as a whole, or hole by hole; the order is the one in which the plan lists its holes.
"""

from __future__ import annotations

from companion.planner.plan import Hole, Plan, SizedHole
from companion.planner.rounds import drill_rounds
from companion.words import Words

_ROWS = ("upper", "middle", "lower")
_COLUMNS = ("left", "middle", "right")
THIRDS: dict[tuple[str, str], str] = {
    ("upper", "left"): "upper left", ("upper", "middle"): "at the top, middle",
    ("upper", "right"): "upper right", ("middle", "left"): "at the left, middle",
    ("middle", "middle"): "in the middle", ("middle", "right"): "at the right, middle",
    ("lower", "left"): "lower left", ("lower", "middle"): "at the bottom, middle",
    ("lower", "right"): "lower right",
}  # fmt: skip
"""A place on the board by thirds, for an ear that has no map."""


def round_of(plan: Plan, index: int) -> tuple[Hole | SizedHole, ...]:
    """The holes of a drilling step, in drilling order; empty for any other step.

    Args:
        plan: its drilling steps are its rounds, in their order.
        index: of the step. When steps and rounds are not as many, it is empty: such a step
            is confirmed as a whole.
    """
    if not 0 <= index < len(plan.steps) or plan.steps[index].stage != "drill":
        return ()
    rounds = drill_rounds(plan.drilled)
    steps = [i for i, s in enumerate(plan.steps) if s.stage == "drill"]
    return rounds[steps.index(index)].holes if len(steps) == len(rounds) else ()


def drilled_before(plan: Plan, index: int, count: int) -> tuple[Hole | SizedHole, ...]:
    """The holes that are drilled: those of the drilling steps before one, and its first few.

    Args:
        plan: as for :func:`round_of`.
        index: of the drilling step in hand.
        count: how many of its own holes are drilled.
    """
    before = [hole for step in range(index) for hole in round_of(plan, step)]
    return (*before, *round_of(plan, index)[:count])


def place_of(plan: Plan, hole: Hole | SizedHole) -> str:
    """Where on the board a hole lies, in English words, by thirds.

    A key of the catalogues: to be put through :meth:`Words.say`.
    """
    x, y = hole.at_mm
    column = min(2, max(0, int(3 * x / max(plan.board.width_mm, 1e-9))))
    row = min(2, max(0, int(3 * y / max(plan.board.height_mm, 1e-9))))
    return THIRDS[_ROWS[row], _COLUMNS[column]]


def hole_prompt(plan: Plan, hole: Hole | SizedHole, words: Words) -> str:
    """What is spoken for one hole: its drill too, which an ear alone would not know by now."""
    where, drill = words.say(place_of(plan, hole)), words.drill(hole.drill_name, hole.drill_mm)
    if isinstance(hole, SizedHole):
        return words.say(
            "Clamp, backing under; drill hole {n} to size, {drill}, {where}.",
            n=hole.number, drill=drill, where=where,
        )  # fmt: skip
    return words.say(
        "Drill hole {n} with {drill}, {where}.", n=hole.number, drill=drill, where=where
    )


def prompts_of(plan: Plan, words: Words, each_hole: bool) -> list[str]:
    """All that a run through the plan will say, in order, so that a voice can get it ready."""
    found: list[str] = []
    for index, step in enumerate(plan.steps):
        holes = round_of(plan, index) if each_hole else ()
        found += [hole_prompt(plan, hole, words) for hole in holes] or [step.say]
    return found
