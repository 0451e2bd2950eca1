"""The plate model against published coefficients of thin plates, Poisson's ratio 0.3.

Sources: S. Timoshenko and S. Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed.
(section 19 circles, tables 8, 23, 35, 37 squares); W. C. Young and R. G. Budynas,
Roark's Formulas for Stress and Strain, 7th ed., table 11.4 (squares, as cross-check);
Civil Engineering Handbook, eqs. 47.73 and 47.75 (circles under uniform load).

Circles are drawn on the same square cells as openings are: a cell's stiffness is
scaled by its share of the disc, and the edge is held by stiff springs at points on
the true circle. A staircase of held corners would not do for the supported circle:
its steps also hold the slope (Babuska's paradox).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
import scipy.sparse
import scipy.sparse.linalg
from shapely.geometry import Point

from companion.planner.plate import FLOOR, Border, Grid, Plate, element
from tests.published.registry import Compare, Source

SOURCE = Source(
    "Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed.; Roark, 7th "
    "ed., table 11.4; Civil Engineering Handbook, eqs. 47.73 and 47.75. Poisson 0.3.",
    "M/D",
    "1 %: a grid of 64 cells; the tables print three digits",
)

Floats = npt.NDArray[np.float64]
CELLS = 64


class Direct:
    """The same elements put into one sparse matrix and solved directly."""

    def __init__(self, stiffness: Floats) -> None:
        self.n = len(stiffness)
        self.h = 1.0 / self.n
        n, k = self.n, element(self.h, self.h)
        i, j = np.meshgrid(np.arange(n), np.arange(n), indexing="ij")
        node = i.ravel() * (n + 1) + j.ravel()
        corners = np.stack([node, node + 1, node + n + 1, node + n + 2], axis=1)
        self.dofs = (3 * corners[:, :, None] + np.arange(3)).reshape(-1, 12)
        rows = np.repeat(self.dofs, 12, axis=1).ravel()
        columns = np.tile(self.dofs, 12).ravel()
        self.size = 3 * (n + 1) ** 2
        values = (stiffness.ravel()[:, None, None] * k).ravel()
        self.matrix = scipy.sparse.csc_matrix((values, (rows, columns)), (self.size, self.size))

    def spring(self, rows: Floats, strength: float) -> None:
        """Hold linear forms of the unknowns: one per row of ``rows``."""
        forms = scipy.sparse.csc_matrix(rows)
        self.matrix = self.matrix + strength * (forms.T @ forms)

    def solve(self, load: Floats, free: npt.NDArray[np.bool_]) -> Floats:
        out = np.zeros(self.size)
        inner = self.matrix[free][:, free].tocsc()
        out[free] = scipy.sparse.linalg.spsolve(inner, load[free])
        return out

    def border(self, border: Border) -> npt.NDArray[np.bool_]:
        free = np.ones((self.n + 1, self.n + 1, 3), dtype=bool)
        if border == "clamped":
            free[[0, -1]] = False
            free[:, [0, -1]] = False
        else:
            free[[0, -1], :, 0] = free[[0, -1], :, 2] = False
            free[:, [0, -1], :2] = False
        return free.ravel()


def middle_give(border: Border, cells: int) -> float:
    """Give of a unit square plate at its middle, by the planner's own elimination."""
    plate = Plate(cells, cells, (1 / cells, 1 / cells), np.ones((cells, cells)), border)
    asked = [np.array([cells // 2] if i == cells // 2 else [], int) for i in range(cells + 1)]
    return float(plate.gives(asked)[cells // 2][0])


@pytest.mark.parametrize(
    ("border", "published", "source"),
    [
        ("clamped", 0.00560, "Timoshenko & Woinowsky-Krieger, table 37"),
        ("clamped", 0.0611 / 10.92, "Roark, table 11.4: 0.0611 W b^2 / (E t^3)"),
        ("supported", 0.01160, "Timoshenko & Woinowsky-Krieger, table 23"),
        ("supported", 0.1267 / 10.92, "Roark, table 11.4: 0.1267 W b^2 / (E t^3)"),
    ],
)
def test_square_under_a_centre_force(
    row: Compare, border: Border, published: float, source: str
) -> None:
    row(middle_give(border, CELLS), published, rel=0.01, place=source)


def test_supported_square_against_its_series(row: Compare) -> None:
    """Navier: w = 4/pi^4 sum 1/(m^2+n^2)^2 over odd m, n, times P a^2 / D."""
    m = np.arange(1, 2000, 2, dtype=float) ** 2
    series = 4 / np.pi**4 * float((1 / (m[:, None] + m[None]) ** 2).sum())
    row(series, 0.0116008, rel=1e-4)
    coarse, fine = (middle_give("supported", n) / series - 1 for n in (16, 32))
    assert abs(fine) < 0.003
    assert abs(fine) < abs(coarse) / 2.5  # second order: halving the cell quarters the error


@pytest.mark.parametrize(
    ("border", "published", "source"),
    [
        ("clamped", 0.00126, "Timoshenko & Woinowsky-Krieger, table 35"),
        ("supported", 0.00406, "Timoshenko & Woinowsky-Krieger, table 8"),
    ],
)
def test_square_under_uniform_load(
    row: Compare, border: Border, published: float, source: str
) -> None:
    plate = Direct(np.ones((CELLS, CELLS)))
    load = np.zeros(plate.size)
    load[::3] = plate.h**2
    w = plate.solve(load, plate.border(border))[::3].reshape(CELLS + 1, CELLS + 1)
    row(w[CELLS // 2, CELLS // 2], published, rel=0.01, place=source)


def shape_row(plate: Direct, x: float, y: float, slope: tuple[float, float] | None) -> Floats:
    """The form that gives the deflection at a point, or its slope along a direction.

    Cubic lines between the nodes of the cell (Hermite), in units of the plate's side.
    """
    i, j = min(int(x / plate.h), plate.n - 1), min(int(y / plate.h), plate.n - 1)
    s, t = x / plate.h - i, y / plate.h - j

    def terms(u: float, v: float) -> Floats:
        powers = [(0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2), (3, 0), (2, 1), (1, 2), (0, 3), (3, 1), (1, 3)]  # fmt: skip # noqa: E501
        return np.array(
            [[u**a * v**b, a * u ** max(a - 1, 0) * v**b, b * u**a * v ** max(b - 1, 0)]
             for a, b in powers]
        ).T  # fmt: skip

    corners = [(0.0, 0.0), (0.0, 1.0), (1.0, 0.0), (1.0, 1.0)]
    solve = np.linalg.inv(np.vstack([terms(u, v) for u, v in corners]))
    value = terms(s, t) @ solve
    row = np.zeros(plate.size)
    place = plate.dofs[i * plate.n + j]
    row[place] = (
        value[0] if slope is None else (slope[0] * value[1] + slope[1] * value[2]) / plate.h
    )
    return row


def circle_give(clamped: bool, force: bool) -> float:
    """Deflection at the middle of a disc of radius 1 that lies inside a square grid."""
    radius = 0.48
    disc = Point(0.5, 0.5).buffer(radius, quad_segs=512)
    share = np.zeros((CELLS, CELLS))
    columns, rows, covered = Grid(1.0, 1.0, CELLS * CELLS).share(disc)
    share[columns, rows] = covered
    plate = Direct(np.ones_like(share) if clamped else np.maximum(share, 1e-9))
    angles = np.arange(0, 2 * np.pi, plate.h / radius)
    held = [(0.5 + radius * np.cos(a), 0.5 + radius * np.sin(a), np.cos(a), np.sin(a)) for a in angles]  # fmt: skip # noqa: E501
    plate.spring(np.array([shape_row(plate, x, y, None) for x, y, _, _ in held]), 1e6)
    if clamped:
        plate.spring(np.array([shape_row(plate, x, y, (u, v)) for x, y, u, v in held]), 1e3)
    load = np.zeros(plate.size)
    middle = (CELLS // 2) * (CELLS + 2)
    if force:
        load[3 * middle] = 1.0
    else:
        around = np.pad(share, 1)
        nodes = (around[1:, 1:] + around[:-1, 1:] + around[1:, :-1] + around[:-1, :-1]) / 4
        load[::3] = nodes.ravel() * plate.h**2
    free = np.ones(plate.size, dtype=bool)
    w = float(plate.solve(load, free)[3 * middle])
    return w / (radius**2 if force else radius**4)


@pytest.mark.parametrize(
    ("clamped", "force", "published", "source"),
    [
        (True, True, 1 / (16 * np.pi), "Timoshenko & Woinowsky-Krieger, section 19"),
        (False, True, 3.3 / 1.3 / (16 * np.pi), "Timoshenko & Woinowsky-Krieger, section 19"),
        (True, False, 1 / 64, "Civil Engineering Handbook, eq. 47.73"),
        (False, False, 5.3 / 1.3 / 64, "Civil Engineering Handbook, eq. 47.75"),
    ],
)
def test_circle(row: Compare, clamped: bool, force: bool, published: float, source: str) -> None:
    """The supported disc ends at its edge, in cells partly filled; the clamped one goes on.

    Past a circle where deflection and slope are held, the plate beyond cannot be felt;
    cells partly filled would be too soft for the full moment that stands at that edge
    (measured: 1.6 % under a force, 3 % under a uniform load).
    """
    row(circle_give(clamped, force), published, rel=0.01, place=source)


def test_finger_of_a_board_lies_between_beam_and_wide_plate() -> None:
    """A tongue left standing in emptied cells, pushed at its tip.

    Source: P L^3 / (3 E I) for a narrow strip (any strength text), E/(1 - nu^2) in place
    of E for a wide one. Four times as long as wide: nearer to the narrow one.
    """
    length, width = 40, 10
    stiffness = np.full((CELLS, CELLS), FLOOR)
    stiffness[:length, 27 : 27 + width] = 1.0
    plate = Direct(stiffness)
    load = np.zeros(plate.size)
    tip = length * (CELLS + 1) + 27 + np.arange(width + 1)
    spread = np.ones(width + 1)
    spread[[0, -1]] = 0.5
    load[3 * tip] = spread / width
    w = plate.solve(load, plate.border("clamped"))[3 * tip].mean()
    wide = (length * plate.h) ** 3 / (3 * width * plate.h)
    assert 1.0 < w / wide < 1 / (1 - 0.3**2)
    assert w / wide > 1.04
