"""A piece's outline as evenly spaced samples, ring by ring.

The medial axis is found from points, so the outline is cut into short pieces;
their length is chosen by the caller, and finer where walls come near each other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Outline:
    """Samples of all rings of one polygon, ring after ring, each in its own travel order."""

    xy: Floats
    """Places, shape (n, 2), mm."""
    ring: Ints
    """Ring of each sample: 0 the outer one, then the openings."""
    following: Ints
    """Index of the next sample on the same ring."""
    before: Ints
    """Index of the previous sample on the same ring."""
    along: Floats
    """Distance from the ring's first sample, mm."""
    ring_length: Floats
    """Length of each ring, mm."""

    @property
    def spans(self) -> Floats:
        """Distance from each sample to the next, mm."""
        step = self.xy[self.following] - self.xy
        return np.hypot(step[:, 0], step[:, 1])


def _assemble(xy: Floats, ring: Ints) -> Outline:
    count = np.bincount(ring)
    first = np.concatenate(([0], np.cumsum(count)[:-1]))
    index = np.arange(len(xy))
    following, before = index + 1, index - 1
    following[first + count - 1] = first
    before[first] = first + count - 1
    step = xy[following] - xy
    span = np.hypot(step[:, 0], step[:, 1])
    total = np.cumsum(span)
    start = (total - span)[first]
    along = total - span - start[ring]
    length: Floats = np.bincount(ring, weights=span).astype(np.float64)
    return Outline(xy, ring, following, before, along, length)


def outline_of(shape: Polygon) -> Outline:
    """The polygon's own corners as samples.

    Args:
        shape: valid polygon, mm; repeated points are dropped.
    """
    rings = []
    for ring in (shape.exterior, *shape.interiors):
        xy = np.asarray(ring.coords, dtype=np.float64)[:-1, :2]
        moved = np.abs(xy - np.roll(xy, 1, axis=0)).max(axis=1) > 1e-9
        rings.append(xy[moved])
    number = np.repeat(np.arange(len(rings)), [len(r) for r in rings])
    return _assemble(np.concatenate(rings), number)


def split(outline: Outline, parts: Ints) -> Outline:
    """Cut the stretch behind each sample into equal parts.

    Args:
        outline: the samples.
        parts: number of parts of each stretch, at least 1, shape (n,).
    """
    source = np.repeat(np.arange(len(parts)), parts)
    begin = np.cumsum(parts) - parts
    share = (np.arange(len(source)) - begin[source]) / parts[source]
    start = outline.xy[source]
    step = outline.xy[outline.following[source]] - start
    return _assemble(start + step * share[:, None], outline.ring[source])


def distance_to_walls(outline: Outline, sample: Ints, place: Floats) -> Floats:
    """Distance from places to the two stretches that meet at given samples.

    Args:
        outline: the samples.
        sample: one sample for each place, shape (n,).
        place: shape (n, 2), mm.

    Returns:
        The lesser of the two distances, mm, shape (n,).
    """
    here = outline.xy[sample]
    best = np.full(len(sample), np.inf)
    for other in (outline.following[sample], outline.before[sample]):
        step = outline.xy[other] - here
        away = place - here
        square = np.maximum((step * step).sum(axis=1), 1e-18)
        share = np.clip((step * away).sum(axis=1) / square, 0.0, 1.0)
        gap = away - step * share[:, None]
        best = np.minimum(best, np.hypot(gap[:, 0], gap[:, 1]))
    return best
