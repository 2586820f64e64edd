"""The bonded layer against the confined limit, the half-space, finite elements and Hertz."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from layer_table import strip_factor
from scipy.linalg import cho_factor, cho_solve
from scipy.spatial.distance import cdist
from sealwright.physics.layer_kernel import (
    layer_factor,
    layer_symbol,
    point_compliance,
    poisson_rows,
)

from .closed_forms import confined_modulus, disc_sinking


@pytest.mark.parametrize("poisson", [0.0, 0.3, 0.4, 0.45])
def test_wide_strip_reaches_the_confined_modulus(poisson):
    # Johnson, Contact Mechanics (1985), section 4.3 (from memory): far from its edges the layer cannot
    # spread.
    # Edges lean on free neighbours over about one thickness each: 3 % at 60 thicknesses and 0.45.
    assert strip_factor(poisson, 60.0) == pytest.approx(confined_modulus(1.0, poisson), rel=0.03)
    # Long waves: 2 (1 - v^2) L(w) / w -> (1 + v)(1 - 2 v) / (1 - v).
    short = 2 * (1 - poisson**2) * layer_symbol(np.array([1e-3]), poisson)[0] / 1e-3
    assert short == pytest.approx(1.0 / confined_modulus(1.0, poisson), rel=1e-4)


def test_small_disc_sinks_as_on_a_half_space():
    # Boussinesq: even pressure on a disc sinks by 2 (1 - v^2) p R / E in the middle (Johnson 1985, 3.4).
    for poisson in (0.3, 0.49):
        found = disc_sinking(poisson, 0.01) / (2 * (1 - poisson**2) * 0.01)
        # What is left is the layer's own depth: about R / h.
        assert found == pytest.approx(1.0, abs=0.02)


def test_point_forces_add_up_to_the_disc():
    # A disc of many point forces must sink in its middle as the layer's own integral says.
    poisson, radius = 0.45, 1.5
    grid = np.stack(np.meshgrid(*[np.arange(-1.5, 1.5001, 0.05)] * 2), axis=-1).reshape(-1, 2)
    inside = grid[np.linalg.norm(grid, axis=1) <= radius]
    area = np.pi * radius**2 / len(inside)
    away = np.linalg.norm(inside, axis=1)
    away[np.argmin(away)] = 0.0
    sunk = point_compliance(away, np.ones_like(away), np.sqrt(area / np.pi), poisson).sum() * area
    assert sunk == pytest.approx(disc_sinking(poisson, radius), rel=0.01)


def test_table_is_that_of_the_sum():
    # Between the rows and columns of the table: stated as within 1 %.
    for poisson in (0.41, 0.4875):
        for ratio in (1.2, 5.0):
            exact = strip_factor(poisson, ratio)
            assert float(layer_factor(poisson, ratio)) == pytest.approx(exact, rel=0.01)
            assert poisson_rows(np.array([poisson]), np.array([[ratio]]))[0, 0] == pytest.approx(
                exact, rel=0.01
            )


@cache
def strip_by_elements(poisson: float, ratio: float) -> float:
    """Mean pressure under a frictionless rigid strip, times h / E, by plane-strain finite elements
    (scikit-fem).

    Half of the strip by symmetry, quadratic triangles, a layer reaching 6 thicknesses beyond the edge.
    """
    from skfem import Basis, ElementTriP2, ElementVector, MeshTri, condense, solve
    from skfem.models.elasticity import lame_parameters, linear_elasticity

    half = ratio / 2.0
    near = half - np.geomspace(0.01, 1.0, 14)[::-1] * min(half, 1.0)
    x = np.unique(np.r_[np.linspace(0, max(half - min(half, 1.0), 0), 14), near, half,
                        half + np.geomspace(0.01, 6.0, 26)])  # fmt: skip
    y = np.r_[np.linspace(0, 0.7, 8), 1.0 - np.geomspace(0.25, 0.01, 10), 1.0]
    mesh = MeshTri.init_tensor(x, y)
    basis = Basis(mesh, ElementVector(ElementTriP2()))
    stiffness = linear_elasticity(*lame_parameters(1.0, poisson)).assemble(basis)
    bottom = basis.get_dofs(lambda p: p[1] < 1e-9).all()
    places = basis.doflocs
    # Component of every unknown: move the mesh by one unit along x and see which unknowns answer.
    along_x = basis.project(lambda p: np.array([np.ones_like(p[0]), np.zeros_like(p[0])])) > 0.5
    on_axis = np.flatnonzero(along_x & (places[0] < 1e-9))
    under = np.flatnonzero(~along_x & (places[1] > 1 - 1e-9) & (places[0] < half + 1e-9))
    given = np.zeros(basis.N)
    given[under] = -1.0
    fixed = np.unique(np.r_[bottom, on_axis, under])
    moved = solve(*condense(stiffness, np.zeros(basis.N), x=given, D=fixed))
    force = -(stiffness @ moved)[under].sum()
    return float(force / half)


@pytest.mark.parametrize(("poisson", "ratio"), [(0.3, 2.0), (0.4, 4.0), (0.45, 6.0), (0.49, 2.0)])
def test_strip_against_finite_elements(poisson, ratio):
    # scikit-fem 12, general finite elements: the end of the strip is singular in both, which costs 2 %.
    assert strip_factor(poisson, ratio) == pytest.approx(strip_by_elements(poisson, ratio), rel=0.02)


def test_ball_on_a_thick_layer_is_hertz():
    # Hertz (Johnson 1985, section 4.2): a = (3 F R / 4 E*)^(1/3), p0 = 3 F / (2 pi a^2); the layer is 40
    # contact
    # radii thick. Points 0.06 a apart resolve the edge to about 3 %.
    poisson, sphere, dent = 0.3, 50.0, 0.02
    radius = np.sqrt(sphere * dent)
    grid = np.stack(np.meshgrid(*[np.linspace(-1.2, 1.2, 41) * radius] * 2), axis=-1).reshape(-1, 2)
    cell = (2.4 / 40 * radius) ** 2
    gap = (grid**2).sum(axis=1) / (2 * sphere) - dent
    apart = cdist(grid, grid)
    # A square cell pressed evenly sinks by 3.525 / side in its middle: the disc of 2 / R that stands for it.
    sink = point_compliance(apart, np.full_like(apart, 40 * radius), np.sqrt(cell / np.pi), poisson)
    active = gap < 0
    for _ in range(40):
        force = np.zeros(len(grid))
        force[active] = cho_solve(cho_factor(sink[np.ix_(active, active)]), -gap[active])
        if (force >= 0).all():
            break
        active &= force > 0
    effective = 1.0 / (1 - poisson**2)
    assert force.sum() == pytest.approx(4 / 3 * effective * np.sqrt(sphere) * dent**1.5, rel=0.03)
    peak = 1.5 * force.sum() / (np.pi * radius**2)
    assert force.max() / cell == pytest.approx(peak, rel=0.04)
