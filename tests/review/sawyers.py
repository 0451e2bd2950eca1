"""Sawyers whose every speed is known, and what they would leave in the log."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from companion.planner.plan import Side
from companion.planner.timing import Features, Rates, feed_amount, rates_for, task
from companion.review.observed import (
    LINE,
    TECHNIQUES,
    Technique,
    Timed,
    own_spread,
    seconds_of_cut,
)
from companion.shop.model import Skill

SKILL: Skill = "practised"
SESSIONS = 10
MATERIALS = (("mdf", 1.0), ("birch-plywood", 0.85))


@dataclass(frozen=True)
class Led:
    """How the legs of one cut differ from each other, and how truly their ends are tapped."""

    cut_spread: float
    """What all legs of a cut share."""
    leg_spread: float
    tap_s: float
    """Standard deviation of the moment of the tap that parts two legs."""


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
    led: Led | None = None
    """Led leg by leg, as beginners are; None: one step for each cut."""

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


def led(who: Sawyer, chance: random.Random) -> Sawyer:
    """The same hand, led leg by leg."""
    return replace(who, led=Led(chance.uniform(0.05, 0.15), chance.uniform(0.15, 0.35),
                                chance.uniform(0.3, 1.0)))  # fmt: skip


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
    parts = [f] if who.led is None else legs(f, chance)
    sawn = _sawn(who, f, parts, pace, chance, calls)
    for k, (leg, seconds) in enumerate(zip(parts, sawn, strict=True)):
        amount = feed_amount(leg, rates)
        found.append(Timed(
            session, name, 1, "cut", wall_s + 9 + k, seconds, seconds_of_cut(leg, rates),
            own_spread(amount.seconds, amount.variance), f.material,
            math.log(f.depth_mm / rates.reference_mm),
        ))  # fmt: skip
    return found


def _sawn(
    who: Sawyer, f: Features, parts: Sequence[Features], pace: float, chance: random.Random,
    calls: float,
) -> list[float]:  # fmt: skip
    """Seconds of each leg, or of the cut as a whole."""
    factor = truth_of(who, f)
    if who.led is None or len(parts) == 1:
        return [_lasting(chance, _expected(f, factor) * pace, who.cut_spread, calls)]
    luck = pace * math.exp(chance.gauss(0.0, who.led.cut_spread))
    sawn = [
        _lasting(chance, luck * _expected(leg, factor), who.led.leg_spread, calls) for leg in parts
    ]
    for k in range(1, len(sawn)):
        # a tap too late gives one leg what it takes from the next
        late = min(max(chance.gauss(0.0, who.led.tap_s), 1.0 - sawn[k - 1]), sawn[k] - 1.0)
        sawn[k - 1] += late
        sawn[k] -= late
    return sawn


def _expected(f: Features, factor: Mapping[Technique, float]) -> float:
    return sum(s * factor[k] for k, s in seconds_of_cut(f, rates_for(SKILL)).items())


def truth_of(who: Sawyer, f: Features) -> dict[Technique, float]:
    """His factors on the table's seconds in one cut, at his first sitting."""
    return _truth(who, f.material, math.log(f.depth_mm / rates_for(SKILL).reference_mm))


def truth_of_table(who: Sawyer, t: Timed) -> dict[Technique, float]:
    """Likewise in one timed step."""
    return _truth(who, t.material, t.depth_log)


def _truth(who: Sawyer, material: str, depth_log: float) -> dict[Technique, float]:
    along = who.material.get(material, 1.0) * math.exp(who.depth * depth_log)
    beside = {k: who.factors["feed"] for k in ("curved", "tight")}
    return {
        k: v * beside.get(k, 1.0) * (along if k in LINE else 1.0)
        for k, v in who.factors.items()
        if k in TECHNIQUES
    }


def legs(f: Features, chance: random.Random) -> list[Features]:
    """A cut parted at its corners, which stand anywhere; legs under 15 mm go with the next."""
    turns = ["spins"] * f.spins + ["back_outs"] * f.back_outs + ["loops"] * f.loops
    chance.shuffle(turns)
    length = f.length_mm
    places = sorted(chance.uniform(0.0, length) for _ in turns)
    # one bend and one tight curve, each in one piece, somewhere on the line
    tight_at = chance.uniform(0.0, length - f.tight_mm)
    free = (length - f.tight_mm - f.curved_mm) * chance.random()
    curved_at = [free, free + f.curved_mm]
    found: list[Features] = []
    begun, held = 0.0, dict.fromkeys(("spins", "back_outs", "loops"), 0)
    for end, turn in zip([*places, length], [*turns, ""], strict=True):
        if turn:
            held[turn] += 1
        if (turn and end - begun < 15.0) and end is not places[-1]:
            continue
        tight = _overlap(begun, end, tight_at, tight_at + f.tight_mm)
        curved = _overlap(_less(begun, tight_at, f), _less(end, tight_at, f), *curved_at)
        found.append(replace(
            f, threads=0, straight_mm=max(0.0, end - begun - tight - curved), curved_mm=curved,
            tight_mm=tight, spins=held["spins"], back_outs=held["back_outs"],
            loops=held["loops"],
        ))  # fmt: skip
        begun, held = end, dict.fromkeys(held, 0)
    return [leg for leg in found if leg.length_mm > 0.0]


def _overlap(a: float, b: float, low: float, high: float) -> float:
    return max(0.0, min(b, high) - max(a, low))


def _less(at: float, tight_at: float, f: Features) -> float:
    """A place along the line when its tight stretch is taken out."""
    return at - min(max(at - tight_at, 0.0), f.tight_mm)


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
