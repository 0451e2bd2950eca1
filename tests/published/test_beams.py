"""Frames of beams against closed forms, each with its source, within 2 %.

Sources: Roark: Young and Budynas, "Roark's Formulas for Stress and Strain", 7th ed.;
Kleinlogel: "Rigid Frame Formulas", frame 41 (single bay, fixed feet); Timoshenko:
"Strength of Materials", part I, 3rd ed. (curved bars by Castigliano's theorem). What is
called "integrated" is the unit-load integral done by hand, given beside the test.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from companion.planner.beams import Beams, Held, Section, even_thickness, twist_constant
from companion.planner.outline import Floats, Ints
from tests.published.registry import Compare, Source

SOURCE = Source(
    "Roark: Young and Budynas, Roark's Formulas for Stress and Strain, 7th ed.; Kleinlogel, "
    "Rigid Frame Formulas; Timoshenko, Strength of Materials I; unit-load integrals done by "
    "hand.",
    "M/D",
    "2 %: 20 to 40 straight beams for a line, and shear that the closed form leaves out",
)

E, RATIO, BOARD = 3590.0, 2.6, 6.0
"""MDF as in the facts (Wood Handbook FPL-GTR-190, Table 12-1); board 6 mm."""
WITHIN = 0.02


def chain(xy: Floats, thick: Floats) -> Beams:
    """Beams from node to node of one line."""
    ends = np.column_stack((np.arange(len(xy) - 1), np.arange(1, len(xy)))).astype(np.int64)
    runs = [np.linspace(a, b, 5) for a, b in zip(thick, thick[1:], strict=False)]

    def even(run: Floats, power: float) -> float:
        return float(even_thickness(run, np.array([0, len(run) - 1]), power)[0])

    return Beams(
        xy, ends, np.array([even(r, 3.0) for r in runs]), np.array([even(r, 1.0) for r in runs]),
        BOARD, E, RATIO,
    )  # fmt: skip


def straight(length: float, thick: float, parts: int = 20) -> Beams:
    x = np.linspace(0.0, length, parts + 1)
    return chain(np.column_stack((x, 0 * x)), np.full(parts + 1, thick))


def load(beams: Beams, node: int, *force: float) -> Floats:
    out = np.zeros((len(beams.xy), 3))
    out[node] = force
    return out


def nodes(*numbers: int) -> Ints:
    return np.array(numbers, dtype=np.int64)


def second_moment(thick: float) -> float:
    return BOARD * thick**3 / 12.0


def test_cantilever_in_the_plane(row: Compare) -> None:
    """Roark table 8.1 case 1a."""
    # Roark table 8.1 case 1a: PL^3/3EI at the tip, PL at the root
    beams = straight(80.0, 2.0)
    held = Held(beams, nodes(0))
    moved = held.moves(load(beams, 20, 0.0, 1.0, 0.0))
    row(moved[20, 1], 80.0**3 / (3 * E * second_moment(2.0)), rel=WITHIN)
    (root,) = held.influences([Section(0, False)])
    row(abs(root.moment[20, 1]), 80.0, rel=WITHIN)
    row(abs(root.pull[20, 0]), 1.0, rel=WITHIN)


def test_cantilever_across_the_board(row: Compare) -> None:
    """Roark table 8.1 case 1a."""
    # The same with the section on its side; the finger of the facts: 40 x 10 x 6 mm, 10 N:
    # 0.330135 mm and 6.667 MPa (arithmetic on PL^3/3EI), shear adds 0.6 %
    beams = straight(40.0, 10.0)
    held = Held(beams, nodes(0))
    moved = held.moves(load(beams, 20, 10.0, 0.0, 0.0), out_of_plane=True)
    row(moved[20, 0], 0.330135, rel=WITHIN)
    (root,) = held.influences([Section(0, False)])
    stress = 10.0 * abs(root.bend[20, 0]) * 6.0 / (10.0 * BOARD**2)
    row(stress, 6.667, rel=WITHIN)


def test_fixed_at_both_ends(row: Compare) -> None:
    """Roark table 8.1 case 1d."""
    # Roark table 8.1 case 1d, force in the middle: PL^3/192EI, PL/8 at the ends and the middle
    beams = straight(100.0, 2.0)
    held = Held(beams, nodes(0, 20))
    moved = held.moves(load(beams, 10, 0.0, 1.0, 0.0))
    row(moved[10, 1], 100.0**3 / (192 * E * second_moment(2.0)), rel=WITHIN)
    end, middle = held.influences([Section(0, False), Section(9, True)])
    row(abs(end.moment[10, 1]), 100.0 / 8, rel=WITHIN)
    row(abs(middle.moment[10, 1]), 100.0 / 8, rel=WITHIN)
    # the worst place for the end's section is a third of the way: 4PL/27 (same case, a = L/3)
    row(np.abs(end.moment[:, 1]).max(), 4 * 100.0 / 27, rel=WITHIN)


def test_propped_cantilever(row: Compare) -> None:
    """Roark table 8.1 case 1c."""
    # Roark table 8.1 case 1c, force in the middle: 7PL^3/768EI, 3PL/16 at the fixed end;
    # slender enough (L/h = 33) for the shear that the closed form leaves out
    beams = straight(200.0, 2.0)
    for grid, at in ((False, 1), (True, 0)):
        held = Held(beams, nodes(0), pinned=nodes(20))
        push = [0.0, 0.0, 0.0]
        push[at] = 1.0
        inertia = second_moment(2.0) if not grid else 2.0 * BOARD**3 / 12.0
        moved = held.moves(load(beams, 10, *push), out_of_plane=grid)
        row(moved[10, at], 7 * 200.0**3 / (768 * E * inertia), rel=WITHIN)
    (root,) = Held(beams, nodes(0), pinned=nodes(20)).influences([Section(0, False)])
    row(abs(root.moment[10, 1]), 3 * 200.0 / 16, rel=WITHIN)
    row(abs(root.bend[10, 0]), 3 * 200.0 / 16, rel=WITHIN)


def portal(height: float, span: float, post: float, lintel: float, parts: int = 24) -> Beams:
    """Posts from the feet up, a lintel across; nodes 0 and 3 * parts are the feet."""
    way = np.linspace(0.0, 1.0, parts + 1)
    xy = np.concatenate(
        (
            np.column_stack((0 * way, height * way)),
            np.column_stack((span * way[1:], height + 0 * way[1:])),
            np.column_stack((span + 0 * way[1:], height * (1 - way[1:]))),
        )
    )
    thick = np.repeat((post, lintel, post), parts)
    ends = np.column_stack((np.arange(3 * parts), np.arange(1, 3 * parts + 1))).astype(np.int64)
    return Beams(xy, ends, thick, thick, BOARD, E, RATIO)


@pytest.mark.parametrize(("height", "span", "post", "lintel"), [(100, 150, 2, 3), (120, 80, 2, 2)])
def test_portal_with_fixed_feet(
    row: Compare, height: float, span: float, post: float, lintel: float
) -> None:
    """Kleinlogel, frame 41."""
    # Kleinlogel, k = I lintel / I post * h / l. Side push H at the lintel: foot H h/2
    # (3k+1)/(6k+1), corner H h/2 3k/(6k+1). Force P in the lintel's middle: foot P l / 8(k+2),
    # corner P l / 4(k+2)
    parts = 24
    held = Held(portal(height, span, post, lintel, parts), nodes(0, 3 * parts))
    foot, corner = held.influences([Section(0, False), Section(parts - 1, True)])
    k = (lintel / post) ** 3 * height / span
    side, middle = parts, parts + parts // 2
    row(abs(foot.moment[side, 0]), height / 2 * (3 * k + 1) / (6 * k + 1), rel=WITHIN)
    row(abs(corner.moment[side, 0]), height / 2 * 3 * k / (6 * k + 1), rel=WITHIN)
    row(abs(foot.moment[middle, 1]), span / (8 * (k + 2)), rel=WITHIN)
    row(abs(corner.moment[middle, 1]), span / (4 * (k + 2)), rel=WITHIN)


def quarter(radius: float, thick: float, parts: int = 40) -> Beams:
    turn = np.linspace(0.0, math.pi / 2, parts + 1)
    xy = radius * np.column_stack((np.sin(turn), 1.0 - np.cos(turn)))
    return chain(xy, np.full(parts + 1, thick))


def test_curved_tail_in_the_plane(row: Compare) -> None:
    """Timoshenko, curved bars by Castigliano's theorem."""
    # Timoshenko: quarter circle fixed at one end, pushed at the tip across the tip's tangent:
    # pi P R^3 / 4 E I that way, P R^3 / 2 E I along it; P R at the root
    beams = quarter(40.0, 1.5)
    held = Held(beams, nodes(0))
    moved = held.moves(load(beams, 40, 1.0, 0.0, 0.0))
    unit = 40.0**3 / (E * second_moment(1.5))
    row(abs(moved[40, 0]), math.pi / 4 * unit, rel=WITHIN)
    row(abs(moved[40, 1]), 0.5 * unit, rel=WITHIN)
    (root,) = held.influences([Section(0, False)])
    row(abs(root.moment[40, 0]), 40.0, rel=WITHIN)


def test_curved_tail_across_the_board(row: Compare) -> None:
    """Unit-load integral by hand."""
    # integrated: bending R sin, twist R (1 - cos) over the quarter: P R^3 (pi/4 / E I + (3 pi/4
    # - 2) / G J)
    beams = quarter(40.0, 3.0)
    held = Held(beams, nodes(0))
    moved = held.moves(load(beams, 40, 1.0, 0.0, 0.0), out_of_plane=True)
    inertia = 3.0 * BOARD**3 / 12.0
    twisting = E / RATIO * float(twist_constant(np.array(3.0), np.array(BOARD)))
    closed = 40.0**3 * (math.pi / 4 / (E * inertia) + (0.75 * math.pi - 2.0) / twisting)
    row(moved[40, 0], closed, rel=WITHIN)
    (root,) = held.influences([Section(0, False)])
    row(abs(root.bend[40, 0]), 40.0, rel=WITHIN)
    row(abs(root.twist[40, 0]), 40.0, rel=WITHIN)


def test_tapered_tail(row: Compare) -> None:
    """Unit-load integral by hand."""
    # integrated: thickness d (1 + u) with u from tip to root: 12 P L^3 / (E b d^3) * [ln(1+u) +
    # 2/(1+u) - 1/(2 (1+u)^2)] from 0 to 1 = 0.068147 * that
    parts = 30
    u = np.linspace(1.0, 0.0, parts + 1)
    beams = chain(np.column_stack((90.0 * (1 - u), 0 * u)), 1.5 * (1 + u))
    moved = Held(beams, nodes(0)).moves(load(beams, parts, 0.0, 1.0, 0.0))
    bracket = math.log(2.0) - 5.0 / 8.0
    closed = 12 * 90.0**3 / (E * BOARD * 1.5**3) * bracket
    row(moved[parts, 1], closed, rel=WITHIN)


def test_twist_of_a_rectangle(row: Compare) -> None:
    """Roark table 10.1 case 4 against the series of Timoshenko and Goodier."""
    # Roark table 10.1 case 4 against the series of Timoshenko and Goodier, "Theory of
    # Elasticity", art. 109: J = 0.141 for a square, 0.229 b^3 a at 1:2, 1/3 when thin
    for long, factor in ((1.0, 0.1406), (2.0, 0.229), (10.0, 0.312), (1000.0, 0.333)):
        got = float(twist_constant(np.array(long), np.array(1.0))) / long
        row(got, factor, rel=WITHIN)
