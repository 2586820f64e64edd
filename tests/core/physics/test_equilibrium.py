"""Equilibrium against closed forms: handbook formulas from memory, as named; all are exact statics."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.errors import NotConverged
from sealwright.physics.equilibrium import resultant_wrench, solve_equilibrium
from sealwright.physics.line_search import Ray, step_length
from sealwright.physics.patch import strap_pull_of

from .bands import down, flat
from .closed_forms import uniform_foundation

B, L, N = 60.0, 40.0, 10.0
STIFF = 10.0  # kPa/mm


def pressed(patch, pulls, stiffness=STIFF):
    return solve_equilibrium(
        patch, uniform_foundation(patch, stiffness), resultant_wrench(pulls, patch.centre)
    )


def test_flat_punch_has_uniform_pressure():
    # p = N / A, and the sink is p / k.
    balance = pressed(flat(B, L, 30, 20), [down(0, 0, N)])
    assert np.allclose(balance.pressure, N / (B * L), rtol=1e-12)
    assert balance.shift_mm[2] == pytest.approx(-N / (B * L) / (STIFF * 1e-3), rel=1e-12)
    assert np.allclose(balance.turn_rad, 0, atol=1e-14)


@pytest.mark.parametrize("eccentricity", [0.0, 4.0, 8.0, 10.0])
def test_eccentric_load_within_the_kern(eccentricity):
    # Rigid footing, e <= B/6: p = N / A (1 +- 6 e / B) at the edges, linear between (foundation handbooks).
    patch = flat(B, L, 60, 10)
    balance = pressed(patch, [down(eccentricity, 0, N)])
    # At cell centres the linear law holds; cells are B/60 wide, so the moment of each cell is 1/60^2 short.
    expected = N / (B * L) * (1 + 12 * eccentricity * patch.points[:, 0] / B**2)
    assert np.abs(balance.pressure - expected).max() < 3e-4 * N / (B * L)
    assert (balance.pressure >= 0).all()


@pytest.mark.parametrize("eccentricity", [12.0, 15.0, 20.0, 25.0])
def test_eccentric_load_beyond_the_kern(eccentricity):
    # Triangular block: p_max = 2 N / (3 L (B/2 - e)), contact length 3 (B/2 - e) (foundation handbooks).
    patch = flat(B, L, 600, 4)
    balance = pressed(patch, [down(eccentricity, 0, N)])
    length = 3 * (B / 2 - eccentricity)
    peak = 2 * N / (3 * L * (B / 2 - eccentricity))
    slope = abs(balance.turn_rad[1]) * STIFF * 1e-3
    edge = balance.pressure.max() + slope * (B / 600) / 2
    # Cells of 0.1 mm: contact length to one cell, edge pressure to a tenth of a per cent.
    assert (balance.pressure > 0).mean() * B == pytest.approx(length, abs=0.11)
    assert edge == pytest.approx(peak, rel=2e-3)
    assert balance.pressure.min() == 0.0


def test_eccentric_both_ways_within_the_kern():
    # Biaxial: p = N / A (1 + 12 ex x / B^2 + 12 ey y / L^2) while 6 ex / B + 6 ey / L <= 1.
    patch = flat(B, L, 60, 40)
    balance = pressed(patch, [down(4, -3, N)])
    expected = N / (B * L) * (1 + 12 * 4 * patch.points[:, 0] / B**2 - 12 * 3 * patch.points[:, 1] / L**2)
    assert np.abs(balance.pressure - expected).max() < 2e-3 * N / (B * L)


@pytest.mark.parametrize("depth", [0.2, 1.0])
def test_sphere_on_elastic_foundation(depth):
    # Gap r^2 / (2 R): F = pi k R d^2, contact radius^2 = 2 R d (Johnson, Contact Mechanics, 1985, 4.3).
    radius = 100.0
    force = np.pi * STIFF * 1e-3 * radius * depth**2
    patch = flat(40, 40, 201, 201, gap=lambda g: (g**2).sum(axis=1) / (2 * radius))
    balance = pressed(patch, [down(0, 0, force)])
    # Midpoint rule on a disc of 30 to 70 cells radius: 1e-3.
    assert -balance.shift_mm[2] == pytest.approx(depth, rel=2e-3)
    area = (balance.pressure > 0).sum() * patch.areas[0]
    assert area == pytest.approx(np.pi * 2 * radius * depth, rel=1e-2)


def test_cylinder_on_elastic_foundation():
    # Gap x^2 / (2 R): F / length = 4/3 k a d, a^2 = 2 R d (Johnson, Contact Mechanics, 1985, 4.3).
    radius, depth, length = 80.0, 0.5, 40.0
    half = np.sqrt(2 * radius * depth)
    force = 4 / 3 * STIFF * 1e-3 * half * depth * length
    patch = flat(40, length, 401, 3, gap=lambda g: g[:, 0] ** 2 / (2 * radius))
    balance = pressed(patch, [down(0, 0, force)])
    assert -balance.shift_mm[2] == pytest.approx(depth, rel=1e-3)
    assert (balance.pressure > 0).mean() * 40 == pytest.approx(2 * half, abs=0.2)
    assert balance.pressure.max() == pytest.approx(STIFF * 1e-3 * depth, rel=1e-3)


def test_rolling_moment_on_a_cylinder_is_the_moment_of_the_pressures():
    radius = 80.0
    patch = flat(40, 40, 101, 41, gap=lambda g: g[:, 0] ** 2 / (2 * radius))
    balance = pressed(patch, [down(1.0, 5.0, N)])
    force = balance.pressure * patch.areas
    assert force.sum() == pytest.approx(N, rel=1e-9)
    assert (force * patch.points[:, 0]).sum() == pytest.approx(N * 1.0, rel=1e-8)
    assert (force * patch.points[:, 1]).sum() == pytest.approx(N * 5.0, rel=1e-8)


def test_gap_is_travelled_before_anything_is_pressed():
    balance = pressed(flat(B, L, 20, 20, gap=3.0), [down(0, 0, N)])
    assert balance.shift_mm[2] == pytest.approx(-3.0 - N / (B * L) / (STIFF * 1e-3), rel=1e-12)


def test_skin_holds_a_sideways_pull_by_its_shear():
    # Plane shear layer: slide = T / (k_t A); the moment of the pull about the plane is zero here.
    patch = flat(B, L, 20, 20)
    springs = uniform_foundation(patch, STIFF, shear_share=0.2)
    pulls = [down(0, 0, N), strap_pull_of([0, 0, 0], [1, 0, 0], 2.0)]
    balance = solve_equilibrium(patch, springs, resultant_wrench(pulls, patch.centre))
    assert balance.shift_mm[0] == pytest.approx(2.0 / (0.2 * STIFF * 1e-3 * B * L), rel=1e-9)
    assert np.allclose(balance.slide_mm[:, 2], 0, atol=1e-14)


def test_an_unloaded_sliding_motion_stays_at_rest():
    balance = pressed(flat(B, L, 20, 20), [down(7, 3, N)])
    assert np.abs(balance.shift_mm[:2]).max() < 1e-10
    assert abs(balance.turn_rad[2]) < 1e-12


@pytest.mark.parametrize(
    ("point", "direction", "why"),
    [
        ([31, 0, 0], [0, 0, -1], "tips"),  # outside the base
        ([0, 0, 0], [1, 0, -0.2], "slides"),  # along a plane without friction
        ([0, 0, 0], [0, 0, 1], "away"),
    ],
)
def test_a_pull_without_balance_is_refused_with_the_reason(point, direction, why):
    with pytest.raises(NotConverged, match=why):
        pressed(flat(B, L, 20, 20, gap=1.0), [strap_pull_of(point, direction, N)])


def test_no_pull_at_all_is_refused():
    with pytest.raises(NotConverged, match="no strap pulls"):
        pressed(flat(B, L, 5, 5), [down(0, 0, 0.0)])


def test_line_search_finds_the_minimum_of_a_kinked_parabola():
    # One spring pressed from the start, one that is met on the way: slope -3 + x + max(0, x - 1) = 0 at x =
    # 2.
    ray = Ray(np.array([0.0, 1.0]), np.array([-1.0, -1.0]), np.ones(2), 0.0)
    length = step_length(ray, -3.0, 100.0)
    assert abs(-3 + length + max(0, length - 1)) <= 0.3  # the promised tenth of the first slope
    assert step_length(Ray(np.array([5.0]), np.array([1.0]), np.ones(1), 0.0), -1.0, 50.0) == 50.0
