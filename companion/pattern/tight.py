"""Points where a curve turns tighter than its stroke is wide.

The cross lines of a stroke sweep a fan beyond the centre of such a turn, and a hook
shorter than the tolerance sweeps one as wide as the stroke (SVG 2 chapter 13, "Computing
the shape of an element's stroke"). Chords that keep to the curve say nothing about it:
strokes lacked up to 1 mm of ink there. So chords that turn far for their length are
halved until each turns little, and so are those at either end of a fan, where a cross
line's direction tells how far the ink goes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from companion.pattern.budget import Budget
from companion.pattern.flatten import Polylines, chord_counts, even_places, points_at
from companion.pattern.outline import Bools, Floats, Ints, Outline

HALVINGS = 16
CUSP_TURN = 0.02
"""Radians; where a chord of a very wide line turns less, it is not halved: time."""
Stretch = tuple[Ints, Floats, Floats]
"""Segments, and where on each a stretch begins and ends, 0 to 1; (M,) each."""


@dataclass(frozen=True, slots=True)
class Width:
    """What a stroke asks of its points, in the unit of the outline."""

    half: float
    """Of the stroke's width."""
    turn: float
    """Most that a chord turns, radians, where the curve is tighter than half."""
    off: float
    """Most that a cross line's tip may be off where a fan begins or ends."""
    least: float
    """Chords shorter than this are not halved."""


def flatten_tight(
    outline: Outline, tolerance: float, width: Width, budget: Budget
) -> tuple[Polylines, Bools]:
    """Turn a shape's segments into points for its stroke.

    Args:
        outline: in the unit of the tolerance.
        tolerance: largest distance from the true curve.
        width: of the stroke.
        budget: counts the points.

    Returns:
        The points, and which of them (M,) must stay.
    """
    counts = chord_counts(outline.segments, outline.straight, tolerance)
    budget.take(int(counts.sum()) + len(outline.starts))
    ends = even_places(counts)
    of = np.repeat(np.arange(len(counts)), counts)
    begins = np.append(0.0, ends[:-1])
    begins[begins == 1.0] = 0.0
    steps = np.diff(outline.segments, axis=1)
    tight = ~outline.straight[of]
    tight[tight] = _is_tight(steps, (of[tight], begins[tight], ends[tight]), width)
    if not tight.any():
        flat = points_at(outline, ends, counts)
        return flat, np.zeros(len(flat.points), dtype=np.bool_)
    whole = np.isin(of, of[tight])
    fine = _finer(steps, ((of[whole], begins[whole], ends[whole]), tight[whole]), width, budget)
    of = np.concatenate([of[~whole], fine[0]])
    places = np.concatenate([ends[~whole], fine[2]])
    order = np.lexsort((places, of))
    flat = points_at(outline, places[order], np.bincount(of, minlength=len(counts)))
    # a subpath's first point is an end already
    held = np.zeros(len(flat.points), dtype=np.bool_)
    inner = np.ones(len(flat.points), dtype=np.bool_)
    inner[flat.starts[:-1]] = False
    held[inner] = order >= int((~whole).sum())
    return flat, held


def _finer(steps: Floats, found: tuple[Stretch, Bools], width: Width, budget: Budget) -> Stretch:
    """Stretches of whole segments, halved where they are tight and where a fan ends."""
    stretch, tight = found
    todo = tight
    for _ in range(HALVINGS):
        stretch, of = _halved(stretch, todo, budget)
        tight = tight[of]
        todo = tight & _is_tight(steps, stretch, width)
        if not todo.any():
            break
    for _ in range(HALVINGS):
        edge = np.append(True, (tight[1:] != tight[:-1]) | (np.diff(stretch[0]) != 0))
        edge |= np.append(edge[1:], True)
        turned, length = _turn_and_length(steps, stretch)
        todo = edge & (width.half * turned > 2.0 * width.off) & (length > width.least)
        if not todo.any():
            break
        stretch, of = _halved(stretch, todo, budget)
        tight = tight[of]
    return stretch


def _halved(stretch: Stretch, chosen: Bools, budget: Budget) -> tuple[Stretch, Ints]:
    """The chosen ones in two, the others as they are; and which each comes from."""
    budget.take(int(chosen.sum()))
    row: Ints = np.repeat(np.arange(len(chosen)), 1 + chosen)
    again = np.append(False, row[1:] == row[:-1])
    before = np.append(again[1:], False)
    begins, ends = stretch[1][row], stretch[2][row]
    middle = (begins + ends) / 2.0
    begins, ends = np.where(again, middle, begins), np.where(before, middle, ends)
    return (stretch[0][row], begins, ends), row


def _is_tight(steps: Floats, stretch: Stretch, width: Width) -> Bools:
    """Stretches that turn more than allowed, and far for their length.

    Where the radius is about half the width, the tips of all cross lines lie in one place
    and a chord's direction tells where; beyond, the next one's fan covers what it is off.
    """
    turned, length = _turn_and_length(steps, stretch)
    reach = width.half * turned
    exact = max(4.0 * width.off, CUSP_TURN * width.half)
    most = np.where(length > reach / 2.0, exact, width.half * width.turn)
    return (reach > most) & (length < 1.5 * reach) & (length > width.least)


def _turn_and_length(steps: Floats, stretch: Stretch) -> tuple[Floats, Floats]:
    """Of stretches' own control points: no less than the curve's."""
    of, begins, ends = stretch
    a, b = begins[:, None], ends[:, None]
    p, q, r = steps[of, 0], steps[of, 1], steps[of, 2]
    first = (1 - a) * (1 - a) * p + 2 * a * (1 - a) * q + a * a * r
    middle = (1 - a) * (1 - b) * p + (a + b - 2 * a * b) * q + a * b * r
    last = (1 - b) * (1 - b) * p + 2 * b * (1 - b) * q + b * b * r
    still = (middle == 0.0).all(axis=1)
    turned = _between(first, middle) + _between(middle, last)
    turned[still] = _between(first[still], last[still])
    legs = np.hypot(*first.T) + np.hypot(*middle.T) + np.hypot(*last.T)
    return turned, legs * (ends - begins)


def _between(a: Floats, b: Floats) -> Floats:
    """Angle between two ways, 0 to pi; 0 where one has no length."""
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    angle: Floats = np.abs(np.arctan2(cross, (a * b).sum(axis=1)))
    return angle
