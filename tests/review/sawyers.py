"""Sawyers whose every speed is known, and what they would leave in the log."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass

from companion.planner.plan import Side
from companion.planner.timing import Features, Rates, feed_amount, rates_for, task
from companion.review.observed import LINE, TECHNIQUES, Timed, own_spread, seconds_of_cut
from companion.shop.model import Skill

SKILL: Skill = "practised"
SESSIONS = 10
MATERIALS = (("mdf", 1.0), ("birch-plywood", 0.85))


@dataclass(frozen=True)
class Sawyer:
    """The truth."""

    factors: dict[str, float]
    """On the tables' seconds at his first sitting here, by technique; curves beside the feed."""
    material: dict[str, float]
    depth: float
    """Added to the power of the depth."""
    cut_spread: float
    task_spread: float
    day_spread: float
    learning: float
    """Exponent over sittings."""
    behind: float
    """Sittings before his first one here."""
    calls: float
    """Share of steps in which the telephone rings."""
    cuts: int
    """Of a sitting."""

    def level(self, session: int) -> float:
        """Factor of his learning at a sitting, 1 at the first."""
        return float(((session + 1 + self.behind) / (1 + self.behind)) ** self.learning)


def sawyer(chance: random.Random) -> Sawyer:
    """Draw one; wider and more crooked than what the calibration expects of a hand."""
    hand = chance.uniform(0.6, 1.8)
    factors: dict[str, float] = {k: hand * chance.uniform(0.7, 1.45) for k in TECHNIQUES}
    factors |= {k: chance.uniform(0.8, 1.25) for k in ("curved", "tight")}
    return Sawyer(
        factors, {m: chance.uniform(0.9, 1.1) for m, _ in MATERIALS}, chance.uniform(-0.1, 0.1),
        cut_spread=chance.uniform(0.10, 0.25), task_spread=chance.uniform(0.15, 0.40),
        day_spread=chance.uniform(0.02, 0.08), learning=chance.uniform(-0.2, 0.0),
        behind=chance.uniform(0.0, 12.0), calls=chance.uniform(0.0, 0.03),
        cuts=chance.randint(20, 45),
    )  # fmt: skip


def features(chance: random.Random) -> Features:
    """A cut as fretwork has them: 40 to 250 mm, more or less curved, some corners."""
    length = chance.uniform(40.0, 250.0)
    curved, tight = chance.choice(((0.1, 0.05), (0.7, 0.1), (0.4, 0.3), (0.0, 0.0)))
    corners = chance.randint(0, 7)
    spins, backs = chance.randint(0, corners), 0
    backs = chance.randint(0, corners - spins)
    material, feed_factor = chance.choice(MATERIALS)
    side: Side = "inside" if chance.random() < 0.9 else "outside"
    return Features(
        side=side, threads=1, straight_mm=length * (1 - curved - tight),
        curved_mm=length * curved, tight_mm=length * tight, spins=spins, back_outs=backs,
        loops=corners - spins - backs, depth_mm=chance.choice((3.0, 6.0, 6.0, 12.0)),
        feed_factor=feed_factor, material=material,
    )  # fmt: skip


def _lasting(chance: random.Random, median_s: float, spread: float, calls: float) -> float:
    seconds = median_s * math.exp(chance.gauss(0.0, spread))
    return seconds + chance.uniform(120.0, 900.0) if chance.random() < calls else seconds


def one_cut(
    who: Sawyer, f: Features, session: int, day: float, name: str, chance: random.Random,
    calls: float,
) -> list[Timed]:  # fmt: skip
    """Thread, saw, lip and clear or free of one cut."""
    rates: Rates = rates_for(SKILL)
    pace = day * who.level(session)
    wall_s = 1.7e9 + session * 86_400.0 + float(name.split("-")[1]) * 300.0
    found = []
    after = "clear" if f.side == "inside" else "free"
    for i, (stage, kind) in enumerate((("thread", "thread"), ("lip", "clear"), (after, "clear"))):
        one = task(rates, stage)
        took = _lasting(chance, one.seconds * who.factors[kind] * pace, who.task_spread, calls)
        found.append(Timed(session, name, 1, stage, wall_s + i, took, {kind: one.seconds},  # type: ignore[dict-item]
                           own_spread(one.seconds, one.variance)))  # fmt: skip
    table = seconds_of_cut(f, rates)
    amount = feed_amount(f, rates)
    depth_log = math.log(f.depth_mm / rates.reference_mm)
    along = who.material[f.material] * math.exp(who.depth * depth_log)
    median = 0.0
    for technique, seconds in table.items():
        factor = who.factors[technique] * (along if technique in LINE else 1.0)
        median += (
            seconds * factor * (who.factors["feed"] if technique in ("curved", "tight") else 1)
        )
    took = _lasting(chance, median * pace, who.cut_spread, calls)
    spread = own_spread(amount.seconds, amount.variance)
    found.append(
        Timed(session, name, 1, "cut", wall_s + 9, took, table, spread, f.material, depth_log)
    )
    return found


def sittings(
    who: Sawyer, chance: random.Random, first: int, count: int, calls: float | None = None
) -> Iterator[tuple[Features, list[Timed]]]:
    """What some sittings leave: each cut's features and its steps."""
    for session in range(first, first + count):
        day = math.exp(chance.gauss(0.0, who.day_spread))
        for n in range(who.cuts):
            f = features(chance)
            name = f"{session}-{n}"
            rings = who.calls if calls is None else calls
            yield f, one_cut(who, f, session, day, name, chance, rings)
