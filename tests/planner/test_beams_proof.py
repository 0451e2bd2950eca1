"""Snap forces of whole pieces against an independent finite-element library.

Source: scikit-fem (Gustafsson and McBain, JOSS 5, 2020): plane stress and solid
elasticity. The companion's way is outline, axis, necks, force; the library's is a
mapped mesh of the same strip. Agreement is asked within 15 % for slender necks.

Where beams stop: measured with a neck of 3 mm, 6 mm of waist on either side and less and less
beyond it, the companion's force was 1.12 to 1.15 times the library's down to a lever of 1.5
thicknesses; below that no force is given, only the thickness, and the finding says so.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from companion.planner.axis import medial_axis
from companion.planner.necks import valleys
from companion.planner.network import Network, network
from companion.planner.section import Board
from companion.planner.snap import Snap, bridge_snaps, ring_snaps
from companion.shop.model import Material
from tests.planner.fe_strips import Floats, Strip, across_force, plane_force

pytest.importorskip("skfem", reason="scikit-fem is not installed: extra `proof`")

MDF = Material("mdf", "MDF", 3590.0, 35.85, 800.0, 1.0, "Wood Handbook, Table 12-1", "C")
WITHIN = 0.15
BODY = box(-40.0, -25.0, 0.001, 25.0)
"""What the tail grows from."""


def weakest(piece: BaseGeometry, board: float) -> tuple[Network, Snap]:
    assert isinstance(piece, Polygon)
    net = network(medial_axis(piece, step_mm=0.5))
    found = valleys(net, 3.0)
    held = Board(MDF, board, 2.6)
    snaps = [s for v in found if v.span.bridge for s in bridge_snaps(net, v, held)]
    snaps += ring_snaps(net, [v for v in found if not v.span.bridge], held)
    return net, min(snaps, key=lambda s: s.force_n or np.inf)


def waist(
    at: float, half: float, left: float, thin: float, right: float
) -> Callable[[Floats], Floats]:
    """Thickness over the way: a cosine dip to ``thin``."""

    def thick(u: Floats) -> Floats:
        away = np.clip(np.abs(u - at) / half, 0.0, 1.0)
        wide = np.where(u < at, left, right)
        result: Floats = thin + (wide - thin) * 0.5 * (1.0 - np.cos(np.pi * away))
        return result

    return thick


def straight(length: float) -> Callable[[Floats], Floats]:
    return lambda u: np.column_stack((length * u, 0.0 * u))


def quarter(u: Floats) -> Floats:
    turn = u * np.pi / 2
    return 40.0 * np.column_stack((np.sin(turn), 1.0 - np.cos(turn)))


WAISTED = Strip(straight(60.0), waist(0.35, 0.3, 12.0, 3.0, 6.0))
TAPERED = Strip(straight(60.0), lambda u: 8.0 - 6.0 * u)
CURVED = Strip(quarter, waist(0.3, 0.3, 10.0, 3.0, 5.0))
TAILS = {"waisted": WAISTED, "tapered": TAPERED, "curved": CURVED}


@pytest.mark.parametrize("name", TAILS)
def test_tail_in_the_plane(name: str) -> None:
    strip = TAILS[name]
    body = BODY if name != "curved" else BODY.union(box(-1.0, -25.0, 0.001, 25.0))
    net, snap = weakest(strip.polygon().union(body), 6.0)
    assert snap.force_n is not None and snap.push_at_mm is not None
    assert not snap.across_board
    at, thick = net.axis.xy[snap.node], float(net.axis.thickness[snap.node])
    proof = plane_force(strip, 35.85, 6.0, np.array([snap.push_at_mm]), at, 1.2 * thick)
    assert snap.force_n == pytest.approx(proof, rel=WITHIN)


def test_comparer_can_fail() -> None:
    # a board of half the thickness breaks at half the force: the library must say so
    _, snap = weakest(WAISTED.polygon().union(BODY), 6.0)
    assert snap.force_n is not None and snap.push_at_mm is not None
    push = np.array([snap.push_at_mm])
    proof = plane_force(WAISTED, 35.85, 3.0, push, np.array([20.9, 0.0]), 3.6)
    assert snap.force_n != pytest.approx(proof, rel=WITHIN)


def test_tail_across_a_thin_board() -> None:
    # 1.5 mm board: the neck is thicker than the board and breaks across it
    net, snap = weakest(WAISTED.polygon().union(BODY), 1.5)
    assert snap.force_n is not None and snap.push_at_mm is not None
    assert snap.across_board
    at, thick = net.axis.xy[snap.node], float(net.axis.thickness[snap.node])
    push = np.array([snap.push_at_mm])
    proof = across_force(WAISTED, 35.85, 1.5, push, at, 1.2 * thick, grid=(30, 3, 1))
    assert snap.force_n == pytest.approx(proof, rel=WITHIN)


@pytest.mark.slow
@pytest.mark.parametrize("board", [1.5, 3.0, 6.0])
@pytest.mark.parametrize("name", ["waisted", "curved"])
def test_tail_both_ways(name: str, board: float) -> None:
    strip = TAILS[name]
    body = BODY if name != "curved" else BODY.union(box(-1.0, -25.0, 0.001, 25.0))
    net, snap = weakest(strip.polygon().union(body), board)
    assert snap.force_n is not None and snap.push_at_mm is not None
    at, reach = net.axis.xy[snap.node], 1.2 * float(net.axis.thickness[snap.node])
    push = np.array([snap.push_at_mm])
    proof = min(
        plane_force(strip, 35.85, board, push, at, reach),
        across_force(strip, 35.85, board, push, at, reach),
    )
    assert snap.force_n == pytest.approx(proof, rel=WITHIN)


@pytest.mark.slow
@pytest.mark.parametrize("board", [3.0, 6.0])
def test_ring_shares_the_load(board: float) -> None:
    # thick at its heart (10 mm), thin opposite (4 mm); the library is held at the heart and
    # pushed at 17 places around, the weakest of which counts
    def middle(u: Floats) -> Floats:
        return 30.0 * np.column_stack((np.cos(2 * np.pi * u), np.sin(2 * np.pi * u)))

    strip = Strip(middle, lambda u: 4.0 + 6.0 * np.cos(np.pi * u) ** 2)
    band = strip.polygon()
    ring = Polygon(band.buffer(1e-6).exterior, [r for r in band.buffer(1e-6).interiors])
    net, snap = weakest(ring, board)
    assert snap.force_n is not None
    at, reach = net.axis.xy[snap.node], 1.2 * float(net.axis.thickness[snap.node])
    push = strip.at(np.linspace(0.1, 0.9, 17), np.ones(17))
    proof = min(
        plane_force(strip, 35.85, board, push, at, reach, True, (280, 8)),
        across_force(strip, 35.85, board, push, at, reach, True, (100, 3, 2)),
    )
    assert snap.force_n == pytest.approx(proof, rel=WITHIN)


@pytest.mark.parametrize("lever", [6.0, 3.0, 1.6])
def test_sharp_waist_down_to_where_beams_stop(lever: float) -> None:
    length = 20.0 + 3.0 * lever
    strip = Strip(straight(length), waist(20.0 / length, 6.0 / length, 12.0, 3.0, 6.0))
    net, snap = weakest(strip.polygon().union(BODY), 6.0)
    assert snap.force_n is not None and snap.push_at_mm is not None
    push = np.array([snap.push_at_mm])
    proof = plane_force(strip, 35.85, 6.0, push, net.axis.xy[snap.node], 3.6)
    assert snap.force_n == pytest.approx(proof, rel=WITHIN)


def test_no_force_for_a_stub() -> None:
    strip = Strip(straight(23.6), waist(20.0 / 23.6, 6.0 / 23.6, 12.0, 3.0, 6.0))
    piece = strip.polygon().union(BODY)
    assert isinstance(piece, Polygon)
    net = network(medial_axis(piece, step_mm=0.5))
    stubs = [
        snap
        for v in valleys(net, 3.0)
        for snap in bridge_snaps(net, v, Board(MDF, 6.0, 2.6))
        if net.axis.thickness[snap.node] < 4.0
    ]
    assert all(s.force_n is None for s in stubs)
