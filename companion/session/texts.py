"""The lists a session goes through: checklist, guard, recoveries. Data, from the shop's tables."""

from __future__ import annotations

from dataclasses import dataclass

from companion.planner.plan import Step
from companion.shop import checks
from companion.shop.model import CheckItem
from companion.shop.model import Mishap as Recovery


@dataclass(frozen=True, slots=True)
class Texts:
    """All lists of a session; none of them may be empty."""

    checklist: tuple[CheckItem, ...]
    """The full one, at each session's start."""
    guard: tuple[CheckItem, ...]
    """The short one, before each power-on."""
    recoveries: tuple[Recovery, ...]
    """Kinds of mishap and the way back from each."""
    first: tuple[CheckItem, ...] = ()
    """What stands before the short one when a blade is new in: a session's first, a change."""
    reentry: tuple[CheckItem, ...] = ()
    """What stands before the short one when the saw goes on in an open kerf."""
    unpowered: tuple[CheckItem, ...] = ()
    """What stands after the short one, or before any blade has run in its place, when a STOP is
    left for work with the saw off."""
    precedence: str = ""
    """What stands above this program: the saw's manual, codes, licensed practice."""

    def __post_init__(self) -> None:
        """An empty list would be a guard that anything passes."""
        if not (self.checklist and self.guard and all(r.steps for r in self.recoveries)):
            raise ValueError("an empty checklist, guard or recovery")

    def recoveries_at(self, step: Step | None) -> tuple[Recovery, ...]:
        """The kinds that can be told at a step: at the drill its own, else the saw's."""
        drilling = step is not None and step.stage == "drill"
        return tuple(r for r in self.recoveries if r.drilling == drilling)

    def recovery(self, key: str | None) -> Recovery | None:
        """The recovery for a kind of mishap; None when the table does not know it."""
        return next((r for r in self.recoveries if r.key == key), None)


def shop_texts() -> Texts:
    """The lists of the shop's tables.

    Raises:
        ShopError: a table cannot be used.
    """
    lists = checks.checklist()
    return Texts(
        lists.full,
        lists.short,
        checks.mishaps(),
        lists.first,
        lists.reentry,
        lists.unpowered,
        lists.precedence,
    )
