"""Strips of changing thickness solved with an independent finite-element library.

A strip is a middle line and a thickness along it: the same numbers give the outline
that the companion reads and a mapped mesh. In the plane: plane stress, biquadratic
quadrangles. Across the board: solid quadratic
tetrahedra, which know nothing of beams.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

Floats = NDArray[np.float64]
E, POISSON = 3590.0, 0.3


@dataclass(frozen=True)
class Strip:
    """A band around a line."""

    line: Callable[[Floats], Floats]
    """Places (n, 2) for shares 0 to 1 of the way."""
    thick: Callable[[Floats], Floats]
    """Thickness there, mm."""

    def normal(self, u: Floats) -> Floats:
        step = self.line(u + 1e-6) - self.line(u - 1e-6)
        step /= np.hypot(step[:, 0], step[:, 1])[:, None]
        return np.column_stack((-step[:, 1], step[:, 0]))

    def at(self, u: Floats, v: Floats) -> Floats:
        """Places for shares along and across (-1 to 1)."""
        result: Floats = self.line(u) + 0.5 * (v * self.thick(u))[:, None] * self.normal(u)
        return result

    def polygon(self, parts: int = 400) -> Polygon:
        u = np.linspace(0.0, 1.0, parts + 1)
        one = np.ones_like(u)
        return Polygon(np.concatenate((self.at(u, one), self.at(u[::-1], -one))))


def _directions(count: int = 72) -> Floats:
    turn = np.linspace(0.0, np.pi, count, endpoint=False)
    return np.column_stack((np.cos(turn), np.sin(turn)))


def plane_force(
    strip: Strip, strength: float, board: float, push: Floats, near: Floats, reach: float,
    clamp_both: bool = False, grid: tuple[int, int] = (120, 10),
) -> float:  # fmt: skip
    """Smallest force in the plane, at given places, that breaks the strip near a place.

    Args:
        strip: clamped at its beginning (and end).
        strength: breaking stress, MPa.
        board: thickness of the board, mm.
        push: places of the force, shape (n, 2); the nearest edge takes it.
        near: stresses are taken within ``reach`` of here.
        reach: mm.
        clamp_both: whether the end is clamped as well.
        grid: elements along and across.
    """
    from skfem import Basis, ElementQuad2, ElementVector, FacetBasis, LinearForm, MeshQuad, asm
    from skfem.models.elasticity import linear_elasticity

    flat = MeshQuad.init_tensor(np.linspace(0, 1, grid[0] + 1), np.linspace(-1, 1, grid[1] + 1))
    mesh = MeshQuad(strip.at(flat.p[0], flat.p[1]).T, flat.t)
    element = ElementVector(ElementQuad2())
    basis = Basis(mesh, element)
    mu = E / (2 * (1 + POISSON))
    lam = E * POISSON / (1 - POISSON**2)
    stiff = asm(linear_elasticity(lam, mu), basis) * board
    held = _held(basis, flat, clamp_both)
    free = np.setdiff1d(np.arange(basis.N), held)
    edges = mesh.boundary_facets()
    middle = mesh.p[:, mesh.facets[:, edges]].mean(axis=1)
    sides = edges[np.hypot(*(middle - near[:, None])) < reach]
    columns = []
    for spot in push:
        taker = edges[np.argsort(np.hypot(*(middle - spot[:, None])))[:2]]
        facet = FacetBasis(mesh, element, facets=taker)
        width = float(np.sum(facet.dx))
        for axis in (0, 1):
            form = LinearForm(lambda v, w, axis=axis, width=width: v[axis] / width)
            columns.append(asm(form, facet))
    moves = _solved(stiff, np.column_stack(columns), free)
    stress = [_plane_stress(moves[:, k], FacetBasis(mesh, element, facets=sides), lam, mu)
              for k in range(moves.shape[1])]  # fmt: skip
    worst = 0.0
    for k in range(len(push)):
        for c, s in _directions():
            sigma = c * stress[2 * k] + s * stress[2 * k + 1]
            worst = max(worst, float(np.abs(np.linalg.eigvalsh(sigma)).max()))
    return strength / worst


def across_force(
    strip: Strip, strength: float, board: float, push: Floats, near: Floats, reach: float,
    clamp_both: bool = False, grid: tuple[int, int, int] = (40, 4, 3),
) -> float:  # fmt: skip
    """The same for a force square to the board, with solid tetrahedra."""
    from skfem import (
        Basis,
        ElementTetP2,
        ElementVector,
        FacetBasis,
        LinearForm,
        MeshHex,
        MeshTet,
        asm,
    )
    from skfem.models.elasticity import lame_parameters, linear_elasticity

    flat = MeshHex.init_tensor(
        np.linspace(0, 1, grid[0] + 1), np.linspace(-1, 1, grid[1] + 1),
        np.linspace(0, board, grid[2] + 1),
    ).to_meshtet()  # fmt: skip
    xy = strip.at(flat.p[0], flat.p[1]).T
    mesh = MeshTet(np.concatenate((xy, flat.p[2:])), flat.t)
    element = ElementVector(ElementTetP2())
    basis = Basis(mesh, element)
    lam, mu = lame_parameters(E, POISSON)
    stiff = asm(linear_elasticity(lam, mu), basis)
    free = np.setdiff1d(np.arange(basis.N), _held(basis, flat, clamp_both))
    faces = mesh.boundary_facets()
    middle = mesh.p[:, mesh.facets[:, faces]].mean(axis=1)
    columns = []
    for spot in push:
        gap = np.hypot(*(middle[:2] - spot[:, None])) + 1e-3 * np.abs(middle[2] - board / 2)
        facet = FacetBasis(mesh, element, facets=faces[np.argsort(gap)[: 2 * grid[2]]])
        area = float(np.sum(facet.dx))
        columns.append(asm(LinearForm(lambda v, w, area=area: v[2] / area), facet))
    moves = _solved(stiff, np.column_stack(columns), free)
    sides = faces[np.hypot(*(middle[:2] - near[:, None])) < reach]
    worst = 0.0
    for k in range(moves.shape[1]):
        sigma = _solid_stress(moves[:, k], FacetBasis(mesh, element, facets=sides), lam, mu)
        worst = max(worst, float(np.abs(np.linalg.eigvalsh(sigma)).max()))
    return strength / worst


def _held(basis: Any, flat: Any, both: bool) -> Any:  # noqa: ANN401  # untyped library
    at = np.isclose(flat.p[0], 0.0)
    if both:
        at |= np.isclose(flat.p[0], 1.0)
    mesh = basis.mesh
    clamped = np.flatnonzero(at)
    faces = mesh.boundary_facets()
    inside = np.isin(mesh.facets[:, faces], clamped).all(axis=0)
    return basis.get_dofs(faces[inside]).flatten()


def _solved(stiff: Any, load: Floats, free: Any) -> Floats:  # noqa: ANN401
    from scipy.sparse.linalg import splu

    moves = np.zeros_like(load)
    # the order of elimination of a symmetric matrix: the default one takes minutes on solids
    factor = splu(
        stiff.tocsc()[free][:, free], permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )  # fmt: skip
    moves[free] = factor.solve(load[free])
    return moves


def _plane_stress(moves: Floats, facets: Any, lam: float, mu: float) -> Floats:  # noqa: ANN401
    grad = facets.interpolate(moves).grad
    strain = 0.5 * (grad + np.swapaxes(grad, 0, 1))
    trace = strain[0, 0] + strain[1, 1]
    sigma = 2 * mu * strain + lam * trace * np.eye(2)[:, :, None, None]
    result: Floats = np.moveaxis(sigma, (0, 1), (-2, -1)).reshape(-1, 2, 2)
    return result


def _solid_stress(moves: Floats, facets: Any, lam: float, mu: float) -> Floats:  # noqa: ANN401
    grad = facets.interpolate(moves).grad
    strain = 0.5 * (grad + np.swapaxes(grad, 0, 1))
    trace = strain[0, 0] + strain[1, 1] + strain[2, 2]
    sigma = 2 * mu * strain + lam * trace * np.eye(3)[:, :, None, None]
    result: Floats = np.moveaxis(sigma, (0, 1), (-2, -1)).reshape(-1, 3, 3)
    return result
