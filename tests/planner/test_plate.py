"""The board as a plate: cells, elimination, and that the give never falls."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from companion.planner.plate import FLOOR, Border, Grid, Plate, element
from tests.published.test_plates import Direct

Floats = npt.NDArray[np.float64]


def all_gives(plate: Plate) -> Floats:
    rows = np.arange(plate.rows + 1)
    return np.array(plate.gives([rows] * (plate.columns + 1)))


def star(rng: np.random.Generator, x: float, y: float, radius: float) -> BaseGeometry:
    angles = np.sort(rng.random(int(rng.integers(3, 40)))) * 2 * np.pi
    far = radius * (0.2 + 0.8 * rng.random(len(angles)))
    ring = np.stack([x + far * np.cos(angles), y + far * np.sin(angles)], axis=1)
    return shapely.make_valid(Polygon(ring)) if len(ring) > 2 else box(x, y, x + 1, y + 1)


def test_element_bends_only_when_bent() -> None:
    k = element(2.0, 3.0)
    values = np.linalg.eigvalsh(k)
    assert np.allclose(k, k.T)
    assert np.all(np.abs(values[:3]) < 1e-9 * values[-1])  # rigid motions cost nothing
    assert values[3] > 1e-6 * values[-1]
    # Constant curvature w = x^2/2: energy D/2 * area, from the definition of D.
    w = np.array([[x**2 / 2, x * 2.0, 0.0] for x, _ in ((0, 0), (0, 3), (2, 0), (2, 3))]).ravel()
    assert 0.5 * w @ k @ w == pytest.approx(0.5 * 6.0)


@pytest.mark.parametrize("turned", [False, True])
def test_shares_are_the_areas_of_the_intersections(turned: bool) -> None:
    rng = np.random.default_rng(7)
    width, height = (70.0, 130.0) if turned else (130.0, 70.0)
    grid = Grid(width, height, 150)
    assert grid.turned is turned
    for _ in range(60):
        shape = star(rng, rng.uniform(-10, width + 10), rng.uniform(-10, height + 10), 40.0)
        hole = star(rng, rng.uniform(0, 70), rng.uniform(0, 70), 15.0)
        shape = shape.difference(hole)
        columns, rows, share = grid.share(shape)
        found = np.zeros((grid.columns, grid.rows))
        found[columns, rows] = share
        for i in range(grid.columns):
            for j in range(grid.rows):
                a, b = np.array([i, j]) * grid.size_mm, np.array([i + 1, j + 1]) * grid.size_mm
                cell = box(a[1], a[0], b[1], b[0]) if turned else box(*a, *b)
                assert found[i, j] == pytest.approx(shape.intersection(cell).area / cell.area, abs=1e-6)  # fmt: skip # noqa: E501


def test_share_of_nothing_and_of_several_parts() -> None:
    grid = Grid(10.0, 10.0, 100)
    columns, rows, share = grid.share(Polygon())
    assert share.size == 0
    assert columns.stop == columns.start
    parts = MultiPolygon([box(0, 0, 2, 2), box(5, 5, 6, 8)])
    assert grid.share(parts)[2].sum() == pytest.approx(4 + 3)
    assert grid.share(box(-5, -5, 50, 50))[2].sum() == pytest.approx(100)


@pytest.mark.parametrize("border", ["clamped", "supported"])
def test_elimination_equals_the_direct_solution(border: Border) -> None:
    rng = np.random.default_rng(3)
    n = 9
    stiffness = np.maximum(rng.random((n, n)), FLOOR)
    plate = Plate(n, n, (1 / n, 1 / n), stiffness, border)
    for _ in range(6):
        first, last = sorted(rng.choice(n + 1, 2, replace=False))
        stiffness[first:last] = np.maximum(rng.random((last - first, n)), FLOOR)
        plate.change(slice(first, last), stiffness[first:last])
        direct = Direct(stiffness)
        free = direct.border(border)
        inverse = np.zeros(direct.size)
        inverse[free] = np.diag(np.linalg.inv(direct.matrix[free][:, free].toarray()))
        wanted = inverse[::3].reshape(n + 1, n + 1)
        assert np.allclose(all_gives(plate), wanted, rtol=1e-7, atol=1e-12)


def test_changing_back_gives_the_same_numbers() -> None:
    stiffness = np.ones((12, 8))
    plate = Plate(12, 8, (1.0, 1.0), stiffness)
    before = all_gives(plate)
    plate.change(slice(3, 5), np.full((2, 8), 0.2))
    assert all_gives(plate).max() > before.max()
    plate.change(slice(3, 5), np.ones((2, 8)))
    assert np.allclose(all_gives(plate), before, rtol=1e-12, atol=0)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), columns=st.integers(4, 9), rows=st.integers(4, 9))
def test_give_never_falls_as_wood_goes(seed: int, columns: int, rows: int) -> None:
    rng = np.random.default_rng(seed)
    stiffness = np.ones((columns, rows))
    plate = Plate(columns, rows, (1.0, 1.3), stiffness)
    last = all_gives(plate)
    for _ in range(4):
        stiffness = np.maximum(
            stiffness - rng.random(stiffness.shape) * (rng.random() < 0.5), FLOOR
        )
        stiffness[rng.integers(columns), rng.integers(rows)] = FLOOR
        plate.change(slice(0, columns), stiffness)
        now = all_gives(plate)
        assert np.all(now >= last * (1 - 1e-9))
        last = now


def test_border_and_middle() -> None:
    plate = Plate(10, 10, (1.0, 1.0), np.ones((10, 10)))
    give = all_gives(plate)
    assert np.all(give[[0, -1]] == 0)
    assert np.all(give[:, [0, -1]] == 0)
    assert give.argmax() == 5 * 11 + 5
    assert np.allclose(give, give.T)
    assert np.allclose(give, give[::-1])


def test_a_disc_of_two_sizes_of_grid_has_one_area() -> None:
    disc = Point(50, 30).buffer(20)
    for cells in (60, 700):
        grid = Grid(100.0, 60.0, cells)
        assert grid.share(disc)[2].sum() * grid.size_mm.prod() == pytest.approx(disc.area)
