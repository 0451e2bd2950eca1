"""What the log says of single steps, in the terms of the timing model.

One observation is a step that was done: threading, drilling, the lip, clearing or
freeing; a leg of a cut, where the sawyer is led leg by leg; or all sawing of one cut together.
Legs teach much more: a corner's seconds are a large part of its leg and a small one of its
cut. Rehearsals, other people's journals and other saws are left out.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal, Protocol

from companion.errors import PlanError
from companion.journal.model import Event, Source
from companion.planner.plan import POWERED_STAGES, Plan, plan_from_json
from companion.planner.prompts import legs_of
from companion.planner.rounds import drill_rounds, round_amount
from companion.planner.timing import (
    Amount,
    Features,
    Rates,
    cut_features,
    feed_amount,
    leg_features,
    rates_for,
    task,
)
from companion.review.runs import CORRECTED
from companion.shop import tables
from companion.shop.model import Skill

Technique = Literal[
    "thread", "feed", "curved", "tight", "spin", "back_out", "loop", "clear", "drill"
]
TECHNIQUES: tuple[Technique, ...] = (
    "thread", "feed", "curved", "tight", "spin", "back_out", "loop", "clear", "drill",
)  # fmt: skip
LINE: frozenset[Technique] = frozenset({"feed", "curved", "tight"})
"""Those whose time goes with material and depth."""
WIDEST = 2.0
"""Spread of the logarithm beyond which a time tells nothing anyway."""
LEAST_S = 1.0
"""Steps tapped through faster than this tell nothing."""


class Log(Protocol):
    """What is asked of a journal."""

    def events(self, *, kind: str | None = None) -> Iterator[Event]:
        """Events of one kind, in the order of writing."""

    def sources(self) -> tuple[Source, ...]:
        """The journals they come from, this one's own first."""

    def plan_text(self, plan_hash: str) -> str | None:
        """A kept plan."""


@dataclass(frozen=True, slots=True)
class Timed:
    """One observation."""

    session: int
    """Place of its sitting among all sittings of this sawyer at this saw, from 0."""
    run: str
    cut: int | None
    stage: str
    wall_s: float
    """Unix time at which it was done."""
    seconds: float
    table: Mapping[Technique, float]
    """Seconds by the tables, by technique."""
    spread: float
    """Standard deviation of its logarithm, by the tables; the day's left out."""
    material: str = ""
    depth_log: float = 0.0
    """Logarithm of the depth over the tables' reference; 0 off the line."""

    @property
    def key(self) -> str:
        """Names it for good."""
        return f"{self.run}/{self.stage}/{self.cut}/{self.wall_s:.0f}"


def seconds_of_cut(f: Features, rates: Rates) -> dict[Technique, float]:
    """Seconds along the line by technique; they add up to those of ``feed_amount``.

    Args:
        f: of the cut.
        rates: of the tables.
    """
    speed = (
        rates.feed_mm_per_min * f.feed_factor
        * (rates.reference_mm / max(f.depth_mm, 0.1)) ** rates.depth_power
    ) / 60.0  # fmt: skip
    return {
        "feed": f.straight_mm / speed,
        "curved": f.curved_mm / rates.curved_factor / speed,
        "tight": f.tight_mm / rates.tight_factor / speed,
        "spin": f.spins * rates.seconds["spin"],
        "back_out": f.back_outs * rates.seconds["back_out"],
        "loop": f.loops * rates.seconds["loop"],
    }


def own_spread(seconds: float, variance: float) -> float:
    """Standard deviation of the logarithm of a time, as the plan's minutes take it.

    A tap comes a little early or late, which is much of a short step and nothing of a long one.
    """
    if seconds <= 0.0:
        return 0.0
    tap_s = tables.number("calibration", "prior.tap_s", 0.0, 10.0)
    return min(WIDEST, math.sqrt(math.log1p(variance / seconds**2) + (tap_s / seconds) ** 2))


def timed_steps(log: Log, skill: Skill, saw: str, sawyer: str) -> list[Timed]:
    """All observations of one sawyer at one saw, in the order of the sittings.

    Args:
        log: the journal.
        skill: whose table values are meant.
        saw: name of the saw; sittings that name none count for every saw.
        sawyer: name of the person; likewise.
    """
    own = log.sources()[0].key
    sittings: dict[str, int] = {}
    for event in log.events(kind="session-start"):
        data = event.data
        if event.source == own and not data.get("rehearsed") and (
            data.get("saw", saw) == saw and data.get("sawyer", sawyer) == sawyer
        ):  # fmt: skip
            sittings.setdefault(event.session, len(sittings))
    starts: dict[str | None, str] = {
        e.run: str(e.data.get("plan")) for e in log.events(kind="run-start")
        if e.run and e.source == own and not e.data.get("rehearsed")
    }  # fmt: skip
    rates = rates_for(skill)
    plans: dict[str, _Table | None] = {}
    found: list[Timed] = []
    for run, steps in _done(log, sittings, starts).items():
        key = starts[run]
        if key not in plans:
            plans[key] = _table(log.plan_text(key), rates)
        table = plans[key]
        if table is not None:
            found += table.read(run, steps, sittings)
    return sorted(found, key=lambda t: (t.session, t.wall_s))


def _done(
    log: Log, sittings: Mapping[str, int], starts: Mapping[str | None, str]
) -> dict[str, dict[int, Event]]:
    """By run and number of the step: the event that confirmed it last and was not taken back."""
    done: defaultdict[str, dict[int, Event]] = defaultdict(dict)
    for event in log.events(kind="step-done"):
        if event.session in sittings and event.run in starts and event.step is not None:
            done[event.run or ""][event.step] = event
    for event in log.events(kind=CORRECTED):
        confirmed = done.get(event.run or "", {}).get(event.step or 0)
        if confirmed is not None and confirmed.number < event.number:
            done[event.run or ""][event.step or 0] = _set_right(confirmed, event)
    for event in log.events(kind="back"):
        confirmed = done.get(event.run or "", {}).get(int(event.data.get("at", 0)))
        if confirmed is not None and confirmed.number < event.number:
            del done[event.run or ""][int(event.data["at"])]
    return done


def _set_right(confirmed: Event, by: Event) -> Event:
    """The event as a correction has it; a call is no time at all, so that nothing is learnt."""
    logged = float(confirmed.data.get("logged_s", confirmed.data.get("active_s", 0.0)))
    seconds = logged
    if by.data.get("call"):
        seconds = 0.0
    elif not by.data.get("as_logged"):
        seconds = float(by.data.get("took_s", logged))
    return replace(confirmed, data={**confirmed.data, "active_s": seconds, "logged_s": logged})


@dataclass(frozen=True, slots=True)
class _Row:
    """One planned step or, for sawing, all of one cut."""

    stage: str
    cut: int | None
    steps: tuple[int, ...]
    table: dict[Technique, float]
    spread: float
    material: str = ""
    depth_log: float = 0.0


@dataclass(frozen=True, slots=True)
class _Table:
    """What a plan expects."""

    rows: tuple[_Row, ...]

    def read(
        self, run: str, done: Mapping[int, Event], sittings: Mapping[str, int]
    ) -> Iterable[Timed]:
        for row in self.rows:
            events = [done[n] for n in row.steps if n in done]
            each = [float(e.data.get("active_s", 0.0)) for e in events]
            seconds = sum(each)
            whole = len(events) == len(row.steps) and all(each)
            if whole and seconds >= LEAST_S and any(row.table.values()):
                last = events[-1]
                yield Timed(
                    sittings[last.session], run, row.cut, row.stage, last.wall_s, seconds,
                    row.table, row.spread, row.material, row.depth_log,
                )  # fmt: skip


def _table(text: str | None, rates: Rates) -> _Table | None:
    if text is None:
        return None
    try:
        plan = plan_from_json(text)
    except PlanError:
        return None
    drilled = iter(drill_rounds(plan.drilled))
    rows: list[_Row] = []
    sawn: defaultdict[int, list[int]] = defaultdict(list)
    for step in plan.steps:
        if step.stage in POWERED_STAGES and step.cut is not None:
            sawn[step.cut].append(step.number)
        elif step.stage == "thread":
            rows.append(_task_row(step.stage, step.cut, step.number, rates, "thread", "thread"))
        elif step.stage in ("lip", "clear", "free"):
            rows.append(_task_row(step.stage, step.cut, step.number, rates, step.stage, "clear"))
        elif step.stage == "drill":
            one = next(drilled, None)
            amount = Amount(0.0) if one is None else round_amount(one, rates)
            rows.append(_Row("drill", None, (step.number,), {"drill": amount.seconds},
                             own_spread(amount.seconds, amount.variance)))  # fmt: skip
    for number, steps in sawn.items():
        rows += _cut_rows(plan, number, steps, rates)
    return _Table(tuple(rows))


def _task_row(
    stage: str, cut: int | None, step: int, rates: Rates, name: str, technique: Technique
) -> _Row:
    one = task(rates, name)
    spread = own_spread(one.seconds, one.variance)
    return _Row(stage, cut, (step,), {technique: one.seconds}, spread)


def _cut_rows(plan: Plan, number: int, steps: list[int], rates: Rates) -> list[_Row]:
    """A row for each leg that is a step of its own, else one for the whole cut."""
    cut = next(c for c in plan.cuts if c.number == number)
    legs = legs_of(cut)
    if cut.meet_along_mm is not None or len(steps) != len(legs) or len(legs) == 1:
        return [_sawn_row(number, tuple(steps), cut_features(cut, plan.board), rates)]
    ends = [cut.turns[leg[-1]].along_mm if leg else cut.length_mm for leg in legs]
    return [
        _sawn_row(number, (step,), f, rates)
        for step, f in zip(steps, leg_features(cut, plan.board, ends), strict=True)
    ]


def _sawn_row(number: int, steps: tuple[int, ...], f: Features, rates: Rates) -> _Row:
    amount = feed_amount(f, rates)
    return _Row(
        "cut", number, steps, seconds_of_cut(f, rates),
        own_spread(amount.seconds, amount.variance), f.material,
        math.log(max(f.depth_mm, 0.1) / rates.reference_mm),
    )  # fmt: skip
