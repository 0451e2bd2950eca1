"""What a review needs of a kept plan, read from its JSON without building the plan."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from companion.errors import PlanError
from companion.planner.plan import POWERED_STAGES, Minutes, Plan, plan_from_json, ranges_left


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
class CutSteps:
    """What a plan's steps say of one cut."""

    cutting: tuple[int, ...]
    """Numbers of its steps with the blade in the wood."""
    threading: tuple[int, ...]
    planned: Minutes
    """Of cutting."""
    thread_planned: Minutes


@dataclass(frozen=True, slots=True)
class DoneSums:
    """What was planned for some steps of a plan."""

    planned_min: float
    stages: tuple[tuple[str, tuple[int, ...], float], ...]
    """Stage, numbers of its steps and their minutes, in the order of first appearance."""


UNKNOWN_CUT = CutFacts("", 0.0, {})
"""Of a cut that no kept plan describes."""


@dataclass(frozen=True)
class PlanFacts:
    """One plan. Its sums are made once, however often it was walked."""

    steps: tuple[StepFacts, ...]
    cuts: dict[int, CutFacts]
    """By number."""
    common_spread: float = 0.0
    """What the ranges of all steps share."""

    @cached_property
    def planned(self) -> Minutes:
        """Of all steps."""
        return self._sum(s.planned for s in self.steps)

    def done_sums(self, done: tuple[int, ...]) -> DoneSums:
        """What was planned for some steps; those of the same steps are added up once.

        Args:
            done: their numbers, rising.
        """
        if done not in self._sums:
            self._sums[done] = self._add_up(done)
        return self._sums[done]

    @cached_property
    def _sums(self) -> dict[tuple[int, ...], DoneSums]:
        return {}

    def _add_up(self, done: tuple[int, ...]) -> DoneSums:
        stages: dict[str, list[int]] = {}
        for n in done:
            stages.setdefault(self.steps[n - 1].stage, []).append(n)

        def planned(own: Iterable[int]) -> float:
            return sum([self.steps[n - 1].planned.likely for n in own])

        each = ((stage, tuple(own), planned(own)) for stage, own in stages.items())
        return DoneSums(planned(done), tuple(each))

    def _sum(self, parts: Iterable[Minutes]) -> Minutes:
        return ranges_left(list(parts), self.common_spread)[0]

    @cached_property
    def cuts_seen(self) -> tuple[tuple[int, CutSteps, CutFacts], ...]:
        """Number, steps and facts of each cut, rising."""
        every = self.by_cut.items()
        return tuple((n, own, self.cuts.get(n, UNKNOWN_CUT)) for n, own in every)

    @cached_property
    def by_cut(self) -> dict[int, CutSteps]:
        """Steps of each cut, by its number, rising."""
        found = {}
        for cut in sorted({s.cut for s in self.steps if s.cut is not None}):
            own = [(n, s) for n, s in enumerate(self.steps, 1) if s.cut == cut]
            cutting = [(n, s.planned) for n, s in own if s.stage in POWERED_STAGES]
            threading = [(n, s.planned) for n, s in own if s.stage == "thread"]
            found[cut] = CutSteps(
                tuple(n for n, _ in cutting), tuple(n for n, _ in threading),
                self._sum(m for _, m in cutting),
                self._sum(m for _, m in threading),
            )  # fmt: skip
        return found


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
            float(plan.get("common_spread", 0.0)),
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
