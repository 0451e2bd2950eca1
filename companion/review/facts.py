"""What a review needs of a kept plan, read from its JSON without building the plan."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass

from companion.errors import PlanError
from companion.planner.plan import Minutes, Plan, plan_from_json


@dataclass(frozen=True, slots=True)
class StepFacts:
    """One planned step."""

    stage: str
    cut: int | None
    title: str
    planned: Minutes


@dataclass(frozen=True, slots=True)
class CutFacts:
    """One planned cut."""

    side: str
    length_mm: float
    turns: dict[str, int]
    """Turns by technique."""


@dataclass(frozen=True, slots=True)
class PlanFacts:
    """One plan."""

    steps: tuple[StepFacts, ...]
    cuts: dict[int, CutFacts]
    """By number."""


NOTHING = PlanFacts((), {})
"""Of a plan that is not kept."""


def facts_of(text: str | None) -> PlanFacts:
    """Read a kept plan; nothing for one that is not kept or cannot be read."""
    if text is None:
        return NOTHING
    try:
        plan = json.loads(text)
        return PlanFacts(
            tuple(
                StepFacts(
                    s["stage"], s["cut"], s["title"],
                    Minutes(s["minutes"]["low"], s["minutes"]["likely"], s["minutes"]["high"]),
                )
                for s in plan["steps"]
            ),
            {
                c["number"]: CutFacts(
                    c["side"], c["length_mm"], dict(Counter(t["technique"] for t in c["turns"]))
                )
                for c in plan["cuts"]
            },
        )  # fmt: skip
    except (ValueError, KeyError, TypeError):
        return NOTHING


def plan_or_none(text: str | None) -> Plan | None:
    """A kept plan, whole; None when it is not kept or cannot be read."""
    if text is None:
        return None
    try:
        return plan_from_json(text)
    except PlanError:
        return None
