"""From the log to factors on the tables: robust, and careful while there is little to go by.

The logarithm of each observed time is compared with that of the model's; what is looked
for is, in logarithms too: the hand as a whole, each technique against the hand, the
materials, the power of the depth, how far each day was off, and the trend over the sittings
(a learning curve). All of them are pulled to the tables as far as the log is silent (normal
priors: ridge regression). Gauss-Newton steps, each a linear least-squares problem; Huber's
weights, then Tukey's, keep telephone calls from moving anything. The spreads are found
beside, and at last all are widened or narrowed until they held 80 % of the log's own cuts.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from threadpoolctl import threadpool_limits

from companion.planner.timing import Z80, Calibration
from companion.review.least_squares import Array, least_squares
from companion.review.observed import LINE, TECHNIQUES, Technique, Timed
from companion.review.robust import NORMAL, biweights, huber_weights, share_within
from companion.shop import tables

ROUNDS = 60
HUBER_ROUNDS = 8
"""At first: Tukey's weights need a start that is about right."""
CONVERGED = 1e-5
LIMITS = (0.1, 10.0)
"""A factor beyond these is a fault in the log, not a hand."""
RELATIVE: frozenset[Technique] = frozenset({"curved", "tight"})
"""Their factors stand beside that of the feed."""


@dataclass(frozen=True, slots=True)
class Learnt:
    """One factor."""

    technique: str
    """Of ``TECHNIQUES``, or the key of a material."""
    factor: float
    """On the tables' time."""
    spread: float
    """Standard deviation of its logarithm: how well it is known."""
    seen: int
    """Observations that bear on it."""


@dataclass(frozen=True, slots=True)
class Found:
    """What the log says."""

    calibration: Calibration
    learnt: tuple[Learnt, ...]
    """Each technique that occurred, then each material."""
    outliers: tuple[Timed, ...]
    """Steps far from what this hand does otherwise, largest first."""
    expected_s: dict[str, float]
    """Seconds expected of the outliers, by key."""
    sessions: int
    used: int
    """Observations used."""
    trend: float
    """Exponent of the learning curve over sittings; below 0: getting faster."""


def _prior(name: str) -> float:
    return tables.number("calibration", f"prior.{name}", 0.001, 1000)


class _Model:
    """The observations as arrays, and where each unknown stands.

    Unknowns: hand, techniques, materials, depth, trend, one for each day.
    """

    def __init__(self, timed: Sequence[Timed]) -> None:
        self.timed = timed
        self.seconds = np.array([t.seconds for t in timed])
        self.spread = np.array([t.spread for t in timed])
        self.table = np.array([[t.table.get(k, 0.0) for k in TECHNIQUES] for t in timed])
        self.depth = np.array([t.depth_log for t in timed])
        self.sawing = np.array([t.stage == "cut" for t in timed])
        self.materials = sorted({t.material for t in timed if t.material})
        days = sorted({t.session for t in timed})
        self.days = days
        self.day = np.array([days.index(t.session) for t in timed])
        before = _prior("sessions_before")
        ahead = days[-1] + 1 + before
        self.age = np.log((np.array([t.session for t in timed]) + before) / ahead)
        self.line = np.array([k in LINE for k in TECHNIQUES])
        self.made_of = np.array([[t.material == m for m in self.materials] for t in timed],
                                dtype=float).reshape(len(timed), -1)  # fmt: skip

    @cached_property
    def techniques(self) -> Array:
        """Logarithm of each technique's factor from hand and techniques."""
        k = len(TECHNIQUES)
        plan = np.zeros((k, 1 + k))
        feed = TECHNIQUES.index("feed")
        for i, name in enumerate(TECHNIQUES):
            plan[i, 0] = 1.0
            plan[i, 1 + i] = 1.0
            if name in RELATIVE:
                plan[i, 1 + feed] = 1.0
        return plan

    @property
    def fixed(self) -> int:
        """Unknowns before the days."""
        return 1 + len(TECHNIQUES) + len(self.materials) + 2

    def beliefs(self, day_spread: float) -> Array:
        """Standard deviation of each unknown before the log is read."""
        return np.array([
            _prior("hand"),
            *(_prior("class" if k in RELATIVE else "technique") for k in TECHNIQUES),
            *[_prior("material")] * len(self.materials), _prior("depth"), _prior("trend"),
            *[day_spread] * len(self.days),
        ])  # fmt: skip

    def at(self, p: Array) -> tuple[Array, Array]:
        """Logarithm of the expected seconds, and its slopes."""
        k, m = 1 + len(TECHNIQUES), len(self.materials)
        along = self.made_of @ p[k : k + m] + self.depth * p[k + m]
        logs = (self.techniques @ p[:k])[None, :] + along[:, None] * self.line[None, :]
        parts = self.table * np.exp(logs)
        total = parts.sum(axis=1)
        share = parts / total[:, None]
        on_line = (share * self.line).sum(axis=1)
        days = np.zeros((len(self.timed), len(self.days)))
        days[np.arange(len(self.timed)), self.day] = 1.0
        slopes = np.hstack([
            share @ self.techniques, self.made_of * on_line[:, None],
            (self.depth * on_line)[:, None], self.age[:, None], days,
        ])  # fmt: skip
        expected = np.log(total) + self.age * p[k + m + 1] + p[self.fixed :][self.day]
        return expected, slopes


@dataclass
class _State:
    """Where the iteration stands."""

    p: Array
    cov: Array
    sawing: float = 1.0
    """Factor on the tables' spread of sawing."""
    tasks: float = 1.0
    """On that of single tasks."""
    day: float = 0.15
    """Standard deviation from day to day."""

    def sigma(self, model: _Model) -> Array:
        """Of each observation."""
        return np.asarray(model.spread * np.where(model.sawing, self.sawing, self.tasks))


def calibrate(timed: Sequence[Timed], left_out: Collection[str] = ()) -> Found | None:
    """Fit the factors.

    Args:
        timed: observations of one sawyer at one saw.
        left_out: keys of those that are not to be used.

    Returns:
        None when there is nothing to go by.
    """
    newest = int(tables.number("calibration", "log.sessions", 2, 10_000))
    days = sorted({t.session for t in timed})[-newest:]
    used = [t for t in timed if t.session in set(days) and t.key not in left_out]
    if not used:
        return None
    model = _Model(used)
    # small matrices: two threads take longer than one, by far when the machine is busy
    with threadpool_limits(1):
        return _found(model, _iterate(model))


def _iterate(model: _Model) -> _State:
    table_day = tables.number("timing", "common.spread", 0.01, 2)
    size = model.fixed + len(model.days)
    state = _State(np.zeros(size), np.eye(size), day=table_day)
    for turn in range(ROUNDS):
        before = state.p
        expected, slopes = model.at(state.p)
        left = np.log(model.seconds) - expected
        sigma = state.sigma(model)
        robust = huber_weights if turn < HUBER_ROUNDS else biweights
        weight = np.sqrt(robust(left / sigma)) / sigma
        belief = 1.0 / model.beliefs(state.day)
        # the linear problem for the unknowns themselves: seen rows over believed rows
        rows = np.vstack([slopes * weight[:, None], np.diag(belief)])
        wanted = np.concatenate([(left + slopes @ state.p) * weight, np.zeros(size)])
        fit = least_squares(rows, wanted)
        state.p, state.cov = fit.values, fit.inverse
        _spreads(model, state, table_day)
        if turn > HUBER_ROUNDS and float(np.abs(state.p - before).max()) < CONVERGED:
            break
    return state


def _spreads(model: _Model, state: _State, table_day: float) -> None:
    """Spreads from what is left over, weighed against the tables'."""
    expected, _ = model.at(state.p)
    scaled = (np.log(model.seconds) - expected) / model.spread
    weight = _prior("spread_weight")
    for sawing in (True, False):
        own = scaled[model.sawing == sawing]
        seen = float(NORMAL * np.median(np.abs(own))) if own.size else 1.0
        value = math.sqrt((weight + own.size * seen**2) / (weight + own.size))
        if sawing:
            state.sawing = value
        else:
            state.tasks = value
    days = state.p[model.fixed :]
    sure = np.diag(state.cov)[model.fixed :]
    weight = _prior("day_weight")
    squares = weight * table_day**2 + float((days**2 + sure).sum())
    state.day = math.sqrt(squares / (weight + days.size))


def _found(model: _Model, state: _State) -> Found:
    expected, slopes = model.at(state.p)
    scaled = (np.log(model.seconds) - expected) / state.sigma(model)
    far = np.abs(scaled) > tables.number("calibration", "outlier.from", 1, 20)
    order = sorted(map(int, np.flatnonzero(far)), key=lambda i: -abs(float(scaled[i])))
    learnt = _learnt(model, state)
    k, m = 1 + len(TECHNIQUES), len(model.materials)
    # the level of a day yet to come: its own chance, and what is not known of the hand
    level = slopes.mean(axis=0)
    level[k + m + 1 :] = 0.0
    ahead = math.sqrt(state.day**2 + float(level @ state.cov @ level))
    wider = _widened(model, state, ~far)
    factor = {x.technique: x.factor for x in learnt}
    table_day = tables.number("timing", "common.spread", 0.01, 2)
    calibration = Calibration(
        **{name: round(factor.get(name, 1.0), 4) for name in TECHNIQUES},
        materials=tuple((name, round(factor[name], 4)) for name in model.materials),
        depth_power=round(float(state.p[k + m]), 4), spread=round(wider, 4),
        feed_spread=round(state.sawing, 4), task_spread=round(state.tasks, 4),
        common_spread=round(ahead / table_day, 4),
    )  # fmt: skip
    return Found(
        calibration, learnt, tuple(model.timed[i] for i in order),
        {model.timed[i].key: float(np.exp(expected[i])) for i in order},
        len(model.days), len(model.timed), float(state.p[k + m + 1]),
    )  # fmt: skip


def _learnt(model: _Model, state: _State) -> tuple[Learnt, ...]:
    found: list[Learnt] = []
    k = 1 + len(TECHNIQUES)
    for i, name in enumerate(TECHNIQUES):
        row = np.zeros(state.p.size)
        row[:k] = model.techniques[i]
        if name in RELATIVE:
            row[:k] -= model.techniques[TECHNIQUES.index("feed")]
        seen = int((model.table[:, i] > 0.0).sum())
        found.append(_one(name, row, state, seen))
    counts = Counter(t.material for t in model.timed)
    for i, material in enumerate(model.materials):
        row = np.zeros(state.p.size)
        row[k + i] = 1.0
        found.append(_one(material, row, state, counts[material]))
    return tuple(found)


def _one(name: str, row: Array, state: _State, seen: int) -> Learnt:
    factor = math.exp(min(max(float(row @ state.p), math.log(LIMITS[0])), math.log(LIMITS[1])))
    return Learnt(name, factor, math.sqrt(max(0.0, float(row @ state.cov @ row))), seen)


def _widened(model: _Model, state: _State, keep: Array) -> float:
    """Factor on all spreads that makes 80 % of the log's own cuts fall inside.

    Whole cuts: threading, sawing, lip and clearing together, as the plan lists them. What
    is not known of the hand is not in it: the log's own cuts have already bent the fit.
    """
    expected, _ = model.at(state.p)
    median_s = np.exp(expected - state.p[model.fixed :][model.day])
    sigma = state.sigma(model)
    whole: defaultdict[tuple[str, int], list[int]] = defaultdict(list)
    for i, t in enumerate(model.timed):
        if t.cut is not None:
            whole[t.run, t.cut].append(i)
    scaled = []
    for own in whole.values():
        if not keep[own].all() or not model.sawing[own].any():
            continue
        s2 = sigma[own] ** 2
        middle = float(median_s[own].sum())
        variance = float((median_s[own] ** 2 * np.expm1(s2) * np.exp(s2)).sum())
        spread = math.sqrt(math.log1p(variance / middle**2) + state.day**2)
        scaled.append(math.log(float(model.seconds[own].sum()) / middle) / spread)
    if not scaled:
        return 1.0
    held = share_within(scaled, 0.8) / Z80
    trust = len(scaled) / (len(scaled) + _prior("spread_weight"))
    return float(min(max(held, 0.3), 3.0) ** trust)
