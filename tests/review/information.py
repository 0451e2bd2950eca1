"""What a log can tell at all: the information in it, worked out apart from the calibration.

The inverse of Fisher's information at the truth, with the true spread of every step and the
true widths from which the sawyers were drawn, bounds how well any method finds a factor
(Cramer 1946, Rao 1945; with a prior: van Trees 1968). It knows what no method knows, so it
is a little beyond reach.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist

import numpy as np

from companion.review.observed import LINE, TECHNIQUES, Timed
from tests.review.sawyers import MATERIALS, SESSIONS, Sawyer, truth_of_table

WIDTHS = {"hand": 0.31, "own": 0.21, "beside": 0.13, "material": 0.06, "depth": 0.06,
          "learning": 0.06}  # fmt: skip
"""Standard deviations of the logarithms as ``sawyer`` draws them."""
BESIDE = ("curved", "tight")


def reachable(who: Sawyer, timed: Sequence[Timed], within: float, usual: str) -> dict[str, float]:
    """Chance to find each factor so near, by technique and material, for those that occur.

    Args:
        who: the truth.
        timed: his log.
        within: relative error.
        usual: the material the feed is told in, and the others against.
    """
    names = ["hand", *TECHNIQUES, *(m for m, _ in MATERIALS), "depth", "learning"]
    names += [f"day {s}" for s in range(SESSIONS)]
    at = {name: i for i, name in enumerate(names)}
    information = np.zeros((len(names), len(names)))
    for group in _groups(timed):
        rows = np.array([_slopes(t, who, at) for t in group])
        own = [_spread(t, who, len(group)) ** 2 for t in group]
        shared = who.led.cut_spread**2 if who.led is not None and len(group) > 1 else 0.0
        information += rows.T @ np.linalg.solve(np.diag(own) + shared, rows)
    widths = [
        WIDTHS["hand"], *(WIDTHS["beside" if k in BESIDE else "own"] for k in TECHNIQUES),
        *[WIDTHS["material"]] * len(MATERIALS), WIDTHS["depth"], WIDTHS["learning"],
        *[who.day_spread] * SESSIONS,
    ]  # fmt: skip
    bound = np.linalg.inv(information + np.diag(np.array(widths) ** -2.0))
    found: dict[str, float] = {}
    for k in TECHNIQUES:
        if any(t.table.get(k, 0.0) > 0.0 for t in timed):
            row = np.zeros(len(names))
            row[at[k]] = 1.0
            if k not in BESIDE:
                row[at["hand"]] = 1.0
            if k == "feed":
                row[at[usual]] = 1.0
            found[k] = _chance(row, bound, within)
    for m in {t.material for t in timed if t.material} - {usual}:
        row = np.zeros(len(names))
        row[at[m]], row[at[usual]] = 1.0, -1.0
        found[m] = _chance(row, bound, within)
    return found


def _groups(timed: Sequence[Timed]) -> list[list[Timed]]:
    """Legs of one cut together, all else alone."""
    legs: dict[str, list[Timed]] = {}
    for t in timed:
        if t.stage == "cut":
            legs.setdefault(t.run, []).append(t)
    return [[t] for t in timed if t.stage != "cut"] + list(legs.values())


def _spread(t: Timed, who: Sawyer, legs: int) -> float:
    if t.stage != "cut":
        return who.task_spread
    return who.led.leg_spread if who.led is not None and legs > 1 else who.cut_spread


def _slopes(t: Timed, who: Sawyer, at: dict[str, int]) -> list[float]:
    """Of the logarithm of the expected seconds."""
    truth = truth_of_table(who, t)
    whole = sum(t.table.get(k, 0.0) * truth[k] for k in TECHNIQUES)
    row = [0.0] * len(at)
    for k in TECHNIQUES:
        share = t.table.get(k, 0.0) * truth[k] / whole
        row[at["hand"]] += share
        row[at[k]] += share
        if k in BESIDE:
            row[at["feed"]] += share
        if k in LINE and t.material:
            row[at[t.material]] += share
            row[at["depth"]] += share * t.depth_log
    row[at["learning"]] = math.log((t.session + 1 + who.behind) / (SESSIONS + 1 + who.behind))
    row[at[f"day {t.session}"]] = 1.0
    return row


def _chance(row: np.ndarray, bound: np.ndarray, within: float) -> float:
    law = NormalDist(0.0, math.sqrt(float(row @ bound @ row)))
    return law.cdf(math.log1p(within)) - law.cdf(math.log1p(-within))
