"""From the log to factors on the tables: robust, and careful while there is little to go by.

The logarithm of each observed time is compared with that of the model's; what is looked
for is, in logarithms too: the hand as a whole, each technique against the hand, the
materials, the power of the depth, how far each day was off, and the trend over the sittings
(a learning curve). All of them are pulled to the tables as far as the log is silent (normal
priors: ridge regression). Gauss-Newton steps, each a linear least-squares problem; Huber's
weights, then Tukey's, keep telephone calls from moving anything. The spreads are found
beside, and with them how far techniques and materials differ at all: the pull to the tables
is as strong as this log says (empirical Bayes, the table's belief weighing as some values).
Legs of one cut share what was easy or hard in it: their common part is swept out by the
square root of their covariance. At last all spreads are widened or narrowed until they held
80 % of the log's own cuts.

What a log cannot tell, no fit finds: spins make up about a fiftieth of a cut's time, so a
sawyer who is not led leg by leg knows them to about 8 % after 300 cuts. The range that
stands beside each factor says so, and is what is to be believed.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from threadpoolctl import threadpool_limits

from companion.planner.plan import Z80
from companion.planner.timing import Calibration
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
SURE = 0.1
"""Error that a factor called sure stays under four times in five."""
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

    @property
    def error(self) -> float:
        """Relative error that it stays under four times in five."""
        return math.expm1(Z80 * self.spread)

    @property
    def sure(self) -> bool:
        """Known to 10 % four times in five."""
        return self.error <= SURE


@dataclass(frozen=True, slots=True)
class Found:
    """What the log says."""

    calibration: Calibration
    learnt: tuple[Learnt, ...]
    """Each technique, then each material but the one the feeds are told in."""
    material: str
    """The one sawn most: the feed is told in it, the other materials against it. Feed and
    material come only together, so a feed of no board at all would be known far less well."""
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
        # legs of one cut share its luck; whatever stands alone is a group of its own
        groups: dict[tuple[str, int | None, str], int] = {}
        self.group = np.array([
            groups.setdefault((t.run, t.cut, t.stage), len(groups)) for t in timed
        ])  # fmt: skip
        size = np.bincount(self.group, minlength=len(groups))
        self.shared = self.sawing & (size[self.group] > 1)
        self.order = np.argsort(self.group, kind="stable")
        self.begins = np.concatenate([[0], np.cumsum(size)[:-1]])
        self.made_of = np.array([[t.material == m for m in self.materials] for t in timed],
                                dtype=float).reshape(len(timed), -1)  # fmt: skip
        self.usual = int(self.made_of.sum(axis=0).argmax()) if self.materials else None

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

    @cached_property
    def kinds(self) -> tuple[tuple[str, tuple[int, ...]], ...]:
        """Unknowns of one kind, whose common spread is learnt: its name, and where they stand."""
        seen = np.asarray((self.table > 0.0).any(axis=0))
        own = [i for i, k in enumerate(TECHNIQUES) if seen[i] and k not in RELATIVE]
        beside = [i for i, k in enumerate(TECHNIQUES) if seen[i] and k in RELATIVE]
        first = 1 + len(TECHNIQUES)
        return (
            ("technique", tuple(1 + i for i in own)), ("class", tuple(1 + i for i in beside)),
            ("material", tuple(range(first, first + len(self.materials)))),
        )  # fmt: skip

    def beliefs(self, state: _State) -> Array:
        """Standard deviation of each unknown before the log is read."""
        kind = state.kinds
        return np.array([
            _prior("hand"),
            *(kind["class" if k in RELATIVE else "technique"] for k in TECHNIQUES),
            *[kind["material"]] * len(self.materials), _prior("depth"), _prior("trend"),
            *[state.day] * len(self.days),
        ])  # fmt: skip

    def by_group(self, values: Array) -> Array:
        """Sums over the legs of each cut, given back to each leg; shape as given."""
        return np.asarray(np.add.reduceat(values[self.order], self.begins)[self.group])

    def swept(self, rows: Array, weight: Array, shared: float) -> Array:
        """Rows times the inverse square root of their covariance.

        Args:
            rows: weighted already, n by k.
            weight: square root of each row's own weight.
            shared: spread that the legs of one cut have in common.
        """
        if not self.shared.any():
            return rows
        u = np.where(self.shared, weight, 0.0)
        squares = self.by_group(u**2)
        less = (1.0 - 1.0 / np.sqrt(1.0 + shared**2 * squares)) / np.maximum(squares, 1e-300)
        return np.asarray(rows - (less * u)[:, None] * self.by_group(u[:, None] * rows))

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
    cut: float = 0.1
    """Of what the legs of one cut share."""
    kinds: dict[str, float] = field(default_factory=dict)
    """Of techniques, curves and materials among themselves."""
    luck: Array | None = None
    """What the legs of its cut share, for each observation."""
    known: Array | None = None
    """Share of each observation's variance that went into it."""

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
    size, n = model.fixed + len(model.days), len(model.timed)
    state = _State(
        np.zeros(size), np.eye(size), day=table_day, cut=_prior("cut"),
        kinds={kind: _prior(kind) for kind, _ in model.kinds},
    )  # fmt: skip
    for turn in range(ROUNDS):
        before = state.p
        expected, slopes = model.at(state.p)
        left = np.log(model.seconds) - expected
        luck = np.zeros(n) if state.luck is None else state.luck
        sigma = state.sigma(model)
        robust = huber_weights if turn < HUBER_ROUNDS else biweights
        weight = np.sqrt(robust((left - luck) / sigma)) / sigma
        belief = 1.0 / model.beliefs(state)
        # the linear problem for the unknowns themselves: seen rows over believed rows
        seen = np.hstack([slopes, (left + slopes @ state.p)[:, None]]) * weight[:, None]
        seen = model.swept(seen, weight, state.cut)
        rows = np.vstack([seen[:, :-1], np.diag(belief)])
        fit = least_squares(rows, np.concatenate([seen[:, -1], np.zeros(size)]))
        state.p, state.cov = fit.values, fit.inverse
        _spreads(model, state, weight, table_day)
        if turn > HUBER_ROUNDS and float(np.abs(state.p - before).max()) < CONVERGED:
            break
    return state


def _spreads(model: _Model, state: _State, weight: Array, table_day: float) -> None:
    """Spreads from what is left over, weighed against the tables'."""
    expected, _ = model.at(state.p)
    left = np.log(model.seconds) - expected
    _luck(model, state, weight, left)
    assert state.luck is not None and state.known is not None
    scaled = (left - state.luck) / model.spread / np.sqrt(1.0 - state.known)
    trust = _prior("spread_weight")
    for sawing in (True, False):
        own = scaled[model.sawing == sawing]
        seen = float(NORMAL * np.median(np.abs(own))) if own.size else 1.0
        value = math.sqrt((trust + own.size * seen**2) / (trust + own.size))
        if sawing:
            state.sawing = value
        else:
            state.tasks = value
    sure = np.diag(state.cov)
    squares = state.p**2 + sure
    state.day = _pooled(squares[model.fixed :], table_day, _prior("day_weight"))
    for kind, places in model.kinds:
        state.kinds[kind] = _pooled(squares[list(places)], _prior(kind), _prior("kind_weight"))


def _pooled(squares: Array, believed: float, trust: float) -> float:
    """Standard deviation of some unknowns, the belief weighing as so many of them."""
    return math.sqrt((trust * believed**2 + float(squares.sum())) / (trust + squares.size))


def _luck(model: _Model, state: _State, weight: Array, left: Array) -> None:
    """What the legs of one cut share: its likeliest value in each cut, and its spread."""
    own = np.where(model.shared, weight**2, 0.0)
    sums = model.by_group(own)
    sure = state.cut**2 / (1.0 + state.cut**2 * sums)
    state.luck = np.where(model.shared, sure * model.by_group(own * left), 0.0)
    # no row is explained whole
    state.known = np.minimum(np.where(model.shared, own * sure, 0.0), 0.9)
    first = np.unique(model.group[model.shared], return_index=True)[1]
    squares = (state.luck**2 + sure)[np.flatnonzero(model.shared)[first]]
    state.cut = _pooled(squares, _prior("cut"), _prior("spread_weight"))


def _found(model: _Model, state: _State) -> Found:
    expected, slopes = model.at(state.p)
    luck = np.zeros(len(model.timed)) if state.luck is None else state.luck
    scaled = (np.log(model.seconds) - expected - luck) / state.sigma(model)
    far = np.abs(scaled) > tables.number("calibration", "outlier.from", 1, 20)
    order = sorted(map(int, np.flatnonzero(far)), key=lambda i: -abs(float(scaled[i])))
    k, m = 1 + len(TECHNIQUES), len(model.materials)
    # the level of a day yet to come: its own chance, and what is not known of the hand
    level = slopes.mean(axis=0)
    level[k + m + 1 :] = 0.0
    ahead = math.sqrt(state.day**2 + float(level @ state.cov @ level))
    whole = _whole_cuts(model, state, ~far)
    sawing = _sawing(model, state, whole)
    wider = _widened(state, whole, sawing)
    own = state.p[:k] @ model.techniques.T
    feed = TECHNIQUES.index("feed")
    own -= np.array([own[feed] if name in RELATIVE else 0.0 for name in TECHNIQUES])
    table_day = tables.number("timing", "common.spread", 0.01, 2)
    calibration = Calibration(
        **{name: round(_factor(own[i]), 4) for i, name in enumerate(TECHNIQUES)},
        materials=tuple(
            (name, round(_factor(state.p[k + i]), 4)) for i, name in enumerate(model.materials)
        ),
        depth_power=round(float(state.p[k + m]), 4), spread=round(wider, 4),
        feed_spread=round(sawing, 4), task_spread=round(state.tasks, 4),
        common_spread=round(ahead / table_day, 4),
    )  # fmt: skip
    return Found(
        calibration, _learnt(model, state),
        "" if model.usual is None else model.materials[model.usual],
        tuple(model.timed[i] for i in order),
        {model.timed[i].key: float(np.exp(expected[i])) for i in order},
        len(model.days), len(model.timed), float(state.p[k + m + 1]),
    )  # fmt: skip


def _learnt(model: _Model, state: _State) -> tuple[Learnt, ...]:
    found: list[Learnt] = []
    k = 1 + len(TECHNIQUES)
    usual = np.zeros(state.p.size)
    if model.usual is not None:
        usual[k + model.usual] = 1.0
    for i, name in enumerate(TECHNIQUES):
        row = usual.copy() if name == "feed" else np.zeros(state.p.size)
        row[:k] = model.techniques[i]
        if name in RELATIVE:
            row[:k] -= model.techniques[TECHNIQUES.index("feed")]
        seen = int((model.table[:, i] > 0.0).sum())
        found.append(_one(name, row, state, seen))
    counts = Counter(t.material for t in model.timed)
    for i, material in enumerate(model.materials):
        if i != model.usual:
            row = -usual
            row[k + i] = 1.0
            found.append(_one(material, row, state, counts[material]))
    return tuple(found)


def _factor(log: float) -> float:
    return math.exp(min(max(log, math.log(LIMITS[0])), math.log(LIMITS[1])))


def _one(name: str, row: Array, state: _State, seen: int) -> Learnt:
    spread = math.sqrt(max(0.0, float(row @ state.cov @ row)))
    return Learnt(name, _factor(float(row @ state.p)), spread, seen)


@dataclass(frozen=True, slots=True)
class _Whole:
    """A cut of the log as the plan lists it, with what a day of its own would have changed."""

    seconds: float
    sawn_s: float
    """Of them, sawing."""
    middle_s: float
    """Expected."""
    sawn_middle_s: float
    spread: float
    """Of the sawing, by the tables."""
    task_variance: float
    """Of the rest, s2."""


def _whole_cuts(model: _Model, state: _State, keep: Array) -> list[_Whole]:
    """Threading, sawing, lip and clearing together; cuts with an outlier left out."""
    expected, _ = model.at(state.p)
    median_s = np.exp(expected - state.p[model.fixed :][model.day])
    sigma2 = state.sigma(model) ** 2
    variance = median_s**2 * np.expm1(sigma2) * np.exp(sigma2)
    by_cut: defaultdict[tuple[str, int], list[int]] = defaultdict(list)
    for i, t in enumerate(model.timed):
        if t.cut is not None:
            by_cut[t.run, t.cut].append(i)
    found = []
    for own in by_cut.values():
        sawn = [i for i in own if model.sawing[i]]
        if not sawn or not keep[own].all():
            continue
        middle = float(median_s[sawn].sum())
        found.append(_Whole(
            float(model.seconds[own].sum()), float(model.seconds[sawn].sum()),
            float(median_s[own].sum()), middle,
            float((median_s[sawn] * model.spread[sawn]).sum()) / middle,
            float(variance[[i for i in own if not model.sawing[i]]].sum()),
        ))  # fmt: skip
    return found


def _sawing(model: _Model, state: _State, whole: Sequence[_Whole]) -> float:
    """Factor on the tables' spread of a cut's sawing; of legs it is the sum that counts."""
    if not model.shared.any() or not whole:
        return state.sawing
    logs = np.array([math.log(w.sawn_s / w.sawn_middle_s) for w in whole])
    own = float(NORMAL * np.median(np.abs(logs))) ** 2 - state.day**2
    table = float(np.median([w.spread for w in whole]))
    trust = _prior("spread_weight")
    seen = max(own, 0.0) / table**2
    return math.sqrt((trust + len(whole) * seen) / (trust + len(whole)))


def _widened(state: _State, whole: Sequence[_Whole], sawing: float) -> float:
    """Factor on all spreads that makes 80 % of the log's own cuts fall inside.

    What is not known of the hand is not in it: the log's own cuts have already bent the fit.
    """
    if not whole:
        return 1.0
    scaled = []
    for w in whole:
        s2 = (w.spread * sawing) ** 2
        variance = w.sawn_middle_s**2 * math.expm1(s2) * math.exp(s2) + w.task_variance
        spread = math.sqrt(math.log1p(variance / w.middle_s**2) + state.day**2)
        scaled.append(math.log(w.seconds / w.middle_s) / spread)
    held = share_within(scaled, 0.8) / Z80
    trust = len(scaled) / (len(scaled) + _prior("spread_weight"))
    return float(min(max(held, 0.3), 3.0) ** trust)
