"""Minutes: low, likely, high, from what a cut asks of the sawyer.

A cut is first turned into features (threads, lengths by curvature, turns by
technique, depth of wood); rates turn features into seconds. The features are kept
apart and pure, so that the log can fit the rates to the sawyer's own hand.

Every time is taken as lognormal: `likely` is the median, low and high are the 10th
and 90th percentile. In a sum, what differs from cut to cut averages out (variances
add), what makes a whole day slow does not (it multiplies everything alike).
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import accumulate

from companion.findings import Point
from companion.planner.plan import Z80, Board, Cut, Minutes, Side, Technique
from companion.shop import tables
from companion.shop.model import Skill

TASKS = (
    "thread", "lip", "clear", "free", "spin", "back_out", "loop", "drill_hole",
    "drill_to_size", "drill_change", "glue", "stack", "tape", "trim", "blade_change", "clamp",
    "rest", "vacuum",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Calibration:
    """How the sawyer differs from the tables: factors on time, from the log."""

    thread: float = 1.0
    """On threading."""
    feed: float = 1.0
    """On the time along the line."""
    turn: float = 1.0
    """On turns."""
    clear: float = 1.0
    """On cleaning the lip and clearing or freeing."""
    spread: float = 1.0
    """On all spreads; below 1 once the log knows the hand."""
    curved: float = 1.0
    """On the time along curves, beside ``feed``."""
    tight: float = 1.0
    """On the time round tight curves, beside ``feed``."""
    spin: float = 1.0
    """On spins, beside ``turn``; likewise the next two."""
    back_out: float = 1.0
    loop: float = 1.0
    drill: float = 1.0
    """On drilling and changing drills."""
    depth_power: float = 0.0
    """Added to the table's power of the depth."""
    materials: tuple[tuple[str, float], ...] = ()
    """On the time along the line in one material, beside ``feed``; those not named: 1."""
    feed_spread: float = 1.0
    """On the spread along the line, beside ``spread``; likewise the next two."""
    task_spread: float = 1.0
    common_spread: float = 1.0


NO_CALIBRATION = Calibration()


@dataclass(frozen=True, slots=True)
class Rates:
    """Seconds and speeds of one hand, after skill and calibration."""

    feed_mm_per_min: float
    """Straight line, MDF of the reference thickness."""
    reference_mm: float
    depth_power: float
    curved_factor: float
    tight_factor: float
    tight_radius_mm: float
    curved_radius_mm: float
    seconds: Mapping[str, float]
    """By task."""
    feed_spread: float
    """Standard deviation of the logarithm of the time along one line."""
    task_spread: float
    """Likewise of one task."""
    common_spread: float
    """Likewise of the whole day."""
    back_mm_per_min: float
    """Drawing the blade back in its own kerf."""
    material_factor: Mapping[str, float] = field(default_factory=dict)
    """On the time along the line, by material; 1 for those not in it."""


@cache
def rates_for(skill: Skill, calibration: Calibration = NO_CALIBRATION) -> Rates:
    """The rates of a level, corrected by what the log knows.

    Raises:
        ShopError: the table lacks a value or has one out of range.
    """

    def feed(key: str, least: float, most: float) -> float:
        return tables.number("timing", f"feed.{key}", least, most)

    slower = tables.number("timing", f"skill.{skill}", 0.1, 10)
    factor = {
        "thread": calibration.thread, "spin": calibration.turn * calibration.spin,
        "back_out": calibration.turn * calibration.back_out,
        "loop": calibration.turn * calibration.loop, "lip": calibration.clear,
        "clear": calibration.clear, "free": calibration.clear,
        "drill_hole": calibration.drill, "drill_to_size": calibration.drill,
        "drill_change": calibration.drill,
    }  # fmt: skip
    seconds = {
        task: tables.number("timing", f"seconds.{task}", 0.1, 3600) * slower * factor.get(task, 1.0)
        for task in TASKS
    }
    seconds["rest"] = tables.number("timing", "seconds.rest", 0.1, 7200)
    return Rates(
        feed_mm_per_min=feed("mm_per_min", 1, 5000) / (slower * calibration.feed),
        reference_mm=feed("reference_mm", 0.1, 100),
        depth_power=feed("depth_power", 0, 3) + calibration.depth_power,
        curved_factor=feed("curved_factor", 0.05, 1) / calibration.curved,
        tight_factor=feed("tight_factor", 0.05, 1) / calibration.tight,
        tight_radius_mm=feed("tight_radius_mm", 0.1, 100),
        curved_radius_mm=feed("curved_radius_mm", 0.1, 500),
        seconds=seconds,
        feed_spread=feed("spread", 0.01, 2) * calibration.spread * calibration.feed_spread,
        task_spread=tables.number("timing", "seconds.spread", 0.01, 2)
        * calibration.spread * calibration.task_spread,
        common_spread=tables.number("timing", "common.spread", 0.01, 2)
        * calibration.spread * calibration.common_spread,
        back_mm_per_min=feed("back_mm_per_min", 1, 10_000) / slower,
        material_factor=dict(calibration.materials),
    )  # fmt: skip


# ---------------------------------------------------------------- features


@dataclass(frozen=True, slots=True)
class Features:
    """What one cut asks of the sawyer; nothing of how fast the sawyer is."""

    side: Side
    threads: int
    straight_mm: float
    curved_mm: float
    tight_mm: float
    spins: int
    back_outs: int
    loops: int
    depth_mm: float
    """Wood under the blade: thickness times stack."""
    feed_factor: float
    """Of the material, relative to MDF."""
    frees: bool = True
    """Whether waste or a piece comes free; a vein frees nothing and leaves no lip."""
    material: str = ""
    """Its key in the tables."""
    back_mm: float = 0.0
    """Way back in its own kerf, of a vein: drawn, not sawn."""

    @property
    def length_mm(self) -> float:
        """Of the whole line, lead-in included."""
        return self.straight_mm + self.curved_mm + self.tight_mm


def cut_features(cut: Cut, board: Board) -> Features:
    """Features of a planned cut; needs nothing but the plan.

    Args:
        cut: of the plan.
        board: of the same plan.
    """
    return features_of(
        cut.side, cut.line_mm, cut.lead_mm, [t.technique for t in cut.turns],
        board.thickness_mm * board.stack, board.material,
        threads=1 if cut.meet_along_mm is None else 2, frees=not cut.is_vein,
    )  # fmt: skip


def features_of(
    side: Side,
    line_mm: tuple[Point, ...],
    lead_mm: tuple[Point, ...],
    techniques: Iterable[Technique],
    depth_mm: float,
    material: str,
    threads: int = 1,
    frees: bool = True,
) -> Features:
    """Features from the parts of a cut; the lead-in counts as straight.

    Raises:
        ShopError: unknown material.
    """
    rates = rates_for("practised")
    straight, curved, tight = lengths_by_curvature(
        line_mm, rates.tight_radius_mm, rates.curved_radius_mm
    )
    lead = sum(math.dist(a, b) for a, b in zip(lead_mm, lead_mm[1:], strict=False))
    turns = list(techniques)
    back = 0.0
    if not frees:  # its line goes out and back
        straight, curved, tight = straight / 2, curved / 2, tight / 2
        back = straight + curved + tight + lead
    return Features(
        side=side, threads=threads, straight_mm=straight + lead, curved_mm=curved, tight_mm=tight,
        spins=turns.count("spin"), back_outs=turns.count("back-out"), loops=turns.count("loop"),
        depth_mm=depth_mm, feed_factor=tables.material(material).feed_factor, frees=frees,
        material=material, back_mm=back,
    )  # fmt: skip


def lengths_by_curvature(
    line_mm: tuple[Point, ...], tight_radius_mm: float, curved_radius_mm: float
) -> tuple[float, float, float]:
    """Split a closed line's length by radius: straight, curved, tight, mm.

    The radius at a vertex is half the two edges that meet there over their bend; so
    a flattened arc of radius r is measured as r. Each edge counts half to each of its
    ends, at most three tight radii, so that a corner between long straights costs no
    more than its own turn.

    >>> [round(x) for x in lengths_by_curvature(((0, 0), (40, 0), (40, 40), (0, 40), (0, 0)), 2, 9)]
    [148, 0, 12]
    """
    ((whole, curved, tight),) = _bent(line_mm, (math.inf,), tight_radius_mm, curved_radius_mm)
    return _clamped(whole, curved, tight)


def _clamped(whole: float, curved: float, tight: float) -> tuple[float, float, float]:
    tight = min(tight, whole)
    curved = max(0.0, min(curved, whole - tight))
    return (max(0.0, whole - curved - tight), curved, tight)


def _bent(
    line_mm: tuple[Point, ...], ends_mm: Sequence[float], tight_radius_mm: float,
    curved_radius_mm: float,
) -> list[tuple[float, float, float]]:  # fmt: skip
    """Length, curved and tight parts of each stretch of a closed line, parted at some places."""
    points = line_mm[:-1] if len(line_mm) > 1 and line_mm[0] == line_mm[-1] else line_mm
    n = len(points)
    found = [[0.0, 0.0, 0.0] for _ in ends_mm]
    if n < 2:
        return [(0.0, 0.0, 0.0)] * len(found)
    edges = [math.dist(points[i], points[(i + 1) % n]) for i in range(n)]
    along = [0.0, *accumulate(edges)]

    def add(place_mm: float, kind: int, length: float) -> None:
        found[min(bisect_left(ends_mm, place_mm), len(found) - 1)][kind] += length

    for i, edge in enumerate(edges):
        begun = along[i]
        for k, end in enumerate(ends_mm):
            # the part of this edge that lies in the k-th stretch
            low, high = max(begun, ends_mm[k - 1] if k else 0.0), min(begun + edge, end)
            found[k][0] += max(0.0, high - low)
    for i in range(n):
        a, b = edges[i - 1], edges[i]
        if a == 0.0 or b == 0.0:
            continue
        before, here, after = points[i - 1], points[i], points[(i + 1) % n]
        ux, uy, vx, vy = here[0] - before[0], here[1] - before[1], after[0] - here[0], 0.0
        vy = after[1] - here[1]
        bend = abs(math.atan2(ux * vy - uy * vx, ux * vx + uy * vy))
        if bend < 1e-6:
            continue
        reach = 1.5 * tight_radius_mm
        near = (min(a, reach) / 2, min(b, reach) / 2)
        radius = sum(near) / bend
        kind = 0
        if radius <= tight_radius_mm:
            kind = 2
        elif (a + b) / 2 / bend <= curved_radius_mm:
            kind, near = 1, (a / 2, b / 2)
        if kind:
            # a corner parts two legs: what lies before it belongs to the one, the rest to the other
            add((along[i] or along[n]) - near[0] / 2, kind, near[0])
            add(along[i] + near[1] / 2, kind, near[1])
    return [(w, c, t) for w, c, t in found]


def leg_features(cut: Cut, board: Board, ends_mm: Sequence[float]) -> tuple[Features, ...]:
    """Features of the legs of a cut; they add up to those of the whole, threading left out.

    Args:
        cut: of the plan, sawn in one run.
        board: of the same plan.
        ends_mm: where each leg ends along the line, rising, the last at its length; a turn
            belongs to the leg that ends with it.
    """
    rates = rates_for("practised")
    whole = cut_features(cut, board)
    ends = (*ends_mm[:-1], math.inf)
    bent = _bent(cut.line_mm, ends, rates.tight_radius_mm, rates.curved_radius_mm)
    lead = sum(math.dist(a, b) for a, b in zip(cut.lead_mm, cut.lead_mm[1:], strict=False))
    found = []
    for k, parts in enumerate(bent):
        straight, curved, tight = _clamped(*parts)
        begun = ends[k - 1] if k else -1.0
        turns = [t.technique for t in cut.turns if begun < t.along_mm <= ends[k]]
        found.append(replace(
            whole, threads=0, straight_mm=straight + (0.0 if k else lead), curved_mm=curved,
            tight_mm=tight, spins=turns.count("spin"), back_outs=turns.count("back-out"),
            loops=turns.count("loop"),
        ))  # fmt: skip
    return tuple(found)


# ----------------------------------------------------------------- seconds


@dataclass(frozen=True, slots=True)
class Amount:
    """Seconds as a median with the variance of what averages out."""

    seconds: float
    variance: float = 0.0
    """Of the independent part, s2; the common part is added when it is shown."""

    def __add__(self, other: Amount) -> Amount:
        """Sum of two independent times."""
        return Amount(self.seconds + other.seconds, self.variance + other.variance)

    def minutes(self, common_spread: float) -> Minutes:
        """Low, likely, high: the 80 % range of a lognormal of this median and spread."""
        if self.seconds <= 0.0:
            return Minutes(0.0, 0.0, 0.0)
        own = math.log1p(self.variance / self.seconds**2)
        wide = math.exp(Z80 * math.sqrt(own + common_spread**2))
        likely = self.seconds / 60.0
        return Minutes(likely / wide, likely, likely * wide)


NOTHING = Amount(0.0)


def spread_amount(seconds: float, sigma: float) -> Amount:
    """Variance of a lognormal by its median and the spread of its logarithm."""
    return Amount(seconds, seconds**2 * math.expm1(sigma**2) * math.exp(sigma**2))


def task(rates: Rates, name: str, times: int = 1) -> Amount:
    """Some independent tasks of one kind, e.g. ``thread``, ``spin``, ``drill_hole``."""
    one = spread_amount(rates.seconds[name], rates.task_spread)
    return Amount(one.seconds * times, one.variance * times)


def feed_amount(f: Features, rates: Rates) -> Amount:
    """Time along the line, turns included."""
    speed = (
        rates.feed_mm_per_min
        * f.feed_factor
        / rates.material_factor.get(f.material, 1.0)
        * (rates.reference_mm / max(f.depth_mm, 0.1)) ** rates.depth_power
    )
    run = f.straight_mm + f.curved_mm / rates.curved_factor + f.tight_mm / rates.tight_factor
    along = spread_amount(60.0 * run / speed, rates.feed_spread)
    along += spread_amount(60.0 * f.back_mm / rates.back_mm_per_min, rates.feed_spread)
    turns = task(rates, "spin", f.spins) + task(rates, "back_out", f.back_outs)
    return along + turns + task(rates, "loop", f.loops)


def cut_amount(f: Features, rates: Rates) -> Amount:
    """Time of a whole cut: thread, saw, lip, clear or free."""
    work = task(rates, "thread", f.threads) + feed_amount(f, rates)
    if not f.frees:
        return work
    return work + task(rates, "lip") + task(rates, "clear" if f.side == "inside" else "free")


def cut_minutes(f: Features, rates: Rates, taped: bool = False) -> Minutes:
    """Low, likely, high of a whole cut; ``taped``: its piece is held by tape."""
    tape = task(rates, "tape") if taped else NOTHING
    return (cut_amount(f, rates) + tape).minutes(rates.common_spread)


def together(amounts: Iterable[Amount], rates: Rates) -> Minutes:
    """Low, likely, high of a sum."""
    total = NOTHING
    for amount in amounts:
        total = total + amount
    return total.minutes(rates.common_spread)
