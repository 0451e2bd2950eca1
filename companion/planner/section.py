"""One section through a neck: what unit forces do to it.

Bending and pull in the plane add up in the outermost fibre; bending and twist across
the board give a principal stress. A waist raises the stress of bending in the plane.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull, QhullError

from companion.planner.beams import twist_stress
from companion.planner.necks import way_along
from companion.planner.network import Network, Span
from companion.planner.outline import Floats, Ints
from companion.shop.model import Material

SHARPEST = 1.6
"""Greatest factor of a waist."""


@dataclass(frozen=True)
class Board:
    """What the network is cut from."""

    material: Material
    thickness_mm: float
    shear_ratio: float
    """Modulus over shear modulus."""


def notches(net: Network, span: Span, positions: Ints) -> Floats:
    """How much a waist raises the stress of bending in the plane, at places of a span.

    Neuber's factor of a deep hyperbolic notch on both sides, from half the thickness
    over the radius of the walls; 1 where the piece does not widen on both sides.
    Source: Neuber, "Theory of Notch Stresses" (1946), flat bar in bending, as in
    Peterson's "Stress Concentration Factors". No factor is taken above ``SHARPEST``:
    a drawn corner is never as sharp in wood.
    """
    way, thick = way_along(net.axis, span), net.axis.thickness[span.nodes]
    here, at = thick[positions], way[positions]
    reach = 0.5 * here
    rise = np.interp(np.stack([at - reach, at + reach]), way, thick) - here
    waist = (at >= reach) & (at <= way[-1] - reach) & (rise.min(axis=0) >= 0.002 * here)
    ratio = np.where(waist, 0.5 * here * rise.mean(axis=0) / reach**2, 1.0)
    root = ratio**0.5
    factor = 4.0 * ratio * root / (3.0 * (root + (ratio - 1.0) * np.arctan(root)))
    return np.where(waist, np.clip(factor, 1.0, SHARPEST), 1.0)


def section_stress(
    thick: Floats,
    board: float,
    moment: Floats,
    pull: Floats,
    bend: Floats,
    twist: Floats,
    raised: Floats,
) -> tuple[Floats, Floats]:
    """Greatest stress for unit forces.

    Args:
        thick: thickness of the section in the plane for each force, mm, shape (n,) or (1,).
        board: thickness of the board, mm.
        moment: in-plane moment by a unit force in x and in y, shape (n, 2).
        pull: axial force by the same, shape (n, 2).
        bend: out-of-plane moment by a unit force across the board, shape (n,).
        twist: twisting moment by the same, shape (n,).
        raised: factor of a waist on bending in the plane, shape (n,) or (1,).

    Returns:
        MPa for the worst direction of a unit force in the plane, and across it, shape (n,).
    """
    by_moment = raised[:, None] * moment * 6.0 / (board * thick[:, None] ** 2)
    by_pull = pull / (board * thick[:, None])
    plane = np.maximum(np.hypot(*(by_moment + by_pull).T), np.hypot(*(by_moment - by_pull).T))
    half = 0.5 * np.abs(bend) * 6.0 / (thick * board**2)
    shear = np.abs(twist) * twist_stress(thick, board)
    return plane, half + np.hypot(half, shear)


def outermost(points: Floats) -> Floats:
    """Corners of the convex hull: stress is a convex function of the place of the force."""
    if len(points) < 200:
        return points
    try:
        hull: Floats = points[ConvexHull(points).vertices]
    except QhullError:
        return points
    return hull
