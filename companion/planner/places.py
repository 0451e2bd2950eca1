"""Candidate starts of one cut, and what each costs by itself.

The rule kept: a lip is best on a straight stretch, where it can be cleaned, or in a
corner, where it does not show; never on a curve; with the piece thick behind it. And
what is delicate is cut early, while its waste still holds it. All costs are
judgements relative to each other, without a source; the lengths they use stand in
turns.toml.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from companion.planner.contours import Contour
from companion.planner.corners import Corner, corners_of
from companion.planner.linework import SAMPLE_MM, Floats, Line, Linework, unit
from companion.planner.rules import Rules
from companion.shop.model import BladeSize

CURVE_COST, THIN_COST, EARLY_COST = 2.0, 1.0, 1.2
"""Tightest curve, thinnest wood, latest delicate stretch: a curve outweighs either gain."""
WASTE_CORNER_COST, TIP_CORNER_COST, SHARP_TIP_COST = -0.3, -0.1, 0.6
"""A corner of the waste hides a lip, a blunt point of the piece lets it be cleaned, a
sharp one breaks."""
NARROW_WASTE_DEG = 45.0
"""Waste angle under which a corner hides a lip but lets no hole come near."""
SHARP_WASTE_DEG = 300.0
"""Waste angle beyond which a point of the piece is sharp."""
CURVE_SPAN_DEG = 40.0
"""Bend beyond the straight at which a curve costs the most."""


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Candidate starts on one line, arrays (k,) and (k, 2), for clockwise travel."""

    arc: Floats
    """Arc length on the clockwise line."""
    xy: Floats
    arriving: Floats
    """Unit heading on arrival."""
    leaving: Floats
    """Unit heading on leaving; differs from arriving at a corner."""
    waste: Floats
    """Unit direction into the waste; at a corner its bisector."""
    waste_deg: Floats
    """Angle of the waste; 180 on a straight stretch."""
    cost: Floats
    """Without direction and hole."""
    early: Floats
    """Share of the way at which delicate stretches are cut clockwise, 0 to 1;
    anticlockwise it is one minus this."""

    def only(self, j: int) -> Places:
        """The candidate at one index alone."""
        return Places(*(getattr(self, f.name)[j : j + 1] for f in fields(self)))

    def and_then(self, other: Places) -> Places:
        """These and the others."""
        pairs = ((getattr(self, f.name), getattr(other, f.name)) for f in fields(self))
        return Places(*(np.concatenate(pair) for pair in pairs))


def candidates(
    work: Linework, contour: Contour, blade: BladeSize, rules: Rules, thickness_mm: float
) -> Places:
    """Evenly spaced places along a line, then its corners.

    Args:
        work: all lines.
        contour: whose line it is.
        blade: its width is the scale of corners.
        rules: lengths and angles.
        thickness_mm: of one board; the piece should be some of it thick behind a start.
    """
    line, s = work.lines[contour.index], work.samples[contour.index]
    wanted = rules.start.thick_times * thickness_mm
    window = min(rules.start.window_mm, line.length / 10)
    bend = np.degrees(np.abs(line.bend(s.arc, window))) - rules.start.straight_deg
    thick = np.minimum.reduce([np.roll(s.thick_mm, k) for k in (-2, -1, 0, 1, 2)])
    cost = CURVE_COST * np.clip(bend / CURVE_SPAN_DEG, 0.0, 1.0)
    cost += THIN_COST * np.clip(1.0 - thick / wanted, 0.0, 1.0)
    weight = np.clip(wanted / np.maximum(thick, 0.1) - 0.5, 0.0, 4.0)
    straight = np.full(len(s.arc), 180.0)
    early = lateness(s.arc, s.arc, weight, line.length)
    even = Places(s.arc, s.xy, s.heading, s.heading, s.waste, straight, cost, early)
    found = corners_of(work, contour, blade, rules.turn)
    if not found:
        return even
    arc = np.array([c.arc_mm for c in found])
    early = lateness(arc, s.arc, weight, line.length)
    return even.and_then(_corners(work, contour, found, early, rules, wanted))


def _corners(
    work: Linework, contour: Contour, found: Sequence[Corner], early: Floats, rules: Rules,
    wanted_mm: float,
) -> Places:  # fmt: skip
    """The corners as starts; the piece is judged a little to either side."""
    line, s = work.lines[contour.index], work.samples[contour.index]
    arc = np.array([c.arc_mm for c in found])
    waste_deg = np.array([c.waste_deg for c in found])
    step = min(rules.start.window_mm / 2, line.length / 12)
    here = line.at(arc)
    arriving, leaving = unit(here - line.at(arc - step)), unit(line.at(arc + step) - here)
    # a wedge of wood is as thick as wanted only some way from its point
    half = np.radians(np.clip(360.0 - waste_deg, 20.0, 180.0)) / 2
    aside = np.clip(wanted_mm / (2 * np.tan(half)) + 2 * SAMPLE_MM, 2 * step, line.length / 8)
    beside = [
        np.interp(np.mod(arc + d, line.length), s.arc, s.thick_mm, period=line.length)
        for d in (-aside, aside)
    ]
    cost = np.where(waste_deg <= SHARP_WASTE_DEG, TIP_CORNER_COST, SHARP_TIP_COST)
    cost = np.where(waste_deg < 180.0, WASTE_CORNER_COST, cost)
    cost = np.where(waste_deg < NARROW_WASTE_DEG, 0.0, cost)
    cost = cost + THIN_COST * np.clip(1.0 - np.minimum(*beside) / wanted_mm, 0.0, 1.0)
    waste = unit(waste_normal(contour, arriving) + waste_normal(contour, leaving))
    return Places(arc, here, arriving, leaving, waste, waste_deg, cost, early)


def plain_place(line: Line, contour: Contour, arc: float) -> Places:
    """One place of a line as a start, taken as straight and costing nothing."""
    at, zero = np.array([arc]), np.zeros(1)
    heading = line.tangent(at, min(0.4, line.length / 12))
    waste = waste_normal(contour, heading)
    return Places(at, line.at(at), heading, heading, waste, zero + 180.0, zero, zero + 0.5)


def waste_normal(contour: Contour, heading: Floats) -> Floats:
    """Unit normals into the waste for clockwise headings (k, 2)."""
    inward = 1.0 if contour.side == "inside" else -1.0
    return np.stack([-heading[:, 1], heading[:, 0]], axis=1) * inward


def lateness(starts: Floats, arc: Floats, weight: Floats, length: float) -> Floats:
    """How late delicate stretches come when a cut runs clockwise from each start.

    Args:
        starts: arc lengths of the starts (k,).
        arc: ascending places on the line (n,).
        weight: how delicate each is (n,).
        length: of the line.

    Returns:
        Weighted mean share of the way, 0 at once to 1 at the very end (k,); 0.5 when
        nothing is delicate.

    >>> arc, weight = np.array([0.0, 25.0, 50.0, 75.0]), np.array([0.0, 1.0, 0.0, 0.0])
    >>> lateness(np.array([0.0, 25.0, 50.0]), arc, weight, 100.0).tolist()
    [0.25, 0.0, 0.75]
    """
    total = float(weight.sum())
    if total <= 0.0:
        return np.full(len(starts), 0.5)
    passed = np.concatenate([[0.0], np.cumsum(weight)])[np.searchsorted(arc, starts - 1e-9)]
    mean = float((weight * arc).sum()) / total
    return np.asarray((mean - starts) / length + passed / total, dtype=np.float64)
