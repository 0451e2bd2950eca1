"""The drill rounds of a plan: the holes that one drilling step covers.

The rule kept: one drill after the other, thin to thick, and with each first the entry
holes, then the openings it makes to size, which want clamp and backing. Steps, session,
lists and review all take the rounds from here, so they agree which step covers what.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from companion.planner.plan import Hole, SizedHole
from companion.planner.timing import Amount, Rates, task


@dataclass(frozen=True, slots=True)
class Round:
    """Holes that are drilled one after the other, in drilling order."""

    drill_mm: float
    drill_name: str
    to_size: bool
    """They are openings made to size, not entries for the blade."""
    change: bool
    """Another drill is put in for it."""
    holes: tuple[Hole | SizedHole, ...]

    @property
    def numbers(self) -> list[int]:
        """Of its holes, as they are drilled."""
        return [hole.number for hole in self.holes]


def drill_rounds(holes: Sequence[Hole | SizedHole]) -> tuple[Round, ...]:
    """The rounds, in their order.

    Args:
        holes: all of a plan, in drilling order; one that no drill of the set fits has no
            size, and is in no round: a finding says so and stops the plan.
    """
    groups: dict[tuple[float, str, bool], list[Hole | SizedHole]] = defaultdict(list)
    for hole in holes:
        if hole.drill_mm > 0.0:
            groups[hole.drill_mm, hole.drill_name, isinstance(hole, SizedHole)].append(hole)
    found: list[Round] = []
    for (size, name, to_size), group in sorted(groups.items(), key=lambda g: g[0]):
        change = bool(found) and (found[-1].drill_mm, found[-1].drill_name) != (size, name)
        found.append(Round(size, name, to_size, change, tuple(group)))
    return tuple(found)


def round_amount(one: Round, rates: Rates) -> Amount:
    """Time of a round, the change of drill before it included."""
    amount = task(rates, "drill_to_size" if one.to_size else "drill_hole", len(one.holes))
    return amount + task(rates, "drill_change") if one.change else amount
