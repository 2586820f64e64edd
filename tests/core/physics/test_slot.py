"""Slot flow against the worked numbers of docs/standards section 5 and an exact series solution."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import trapezoid
from sealwright.physics.slot import (
    DENSITY_KG_M3,
    L_PER_MIN,
    VISCOSITY_PA_S,
    slot_series_flow,
    slot_terms,
)

from .closed_forms import slot_flow_l_min


def test_worked_gap_numbers():
    # docs/standards section 5, check 6 (C): w 10, L 10, dp 100 Pa, within 1 %.
    assert slot_flow_l_min(10, 10, 0.2, 100) == pytest.approx(0.221, rel=0.01)
    assert slot_flow_l_min(10, 10, 0.3, 100) == pytest.approx(0.746, rel=0.01)
    assert 30 / slot_flow_l_min(10, 10, 0.2, 100) == pytest.approx(136, rel=0.01)
    assert 30 / slot_flow_l_min(10, 10, 0.3, 100) == pytest.approx(40, rel=0.01)


def test_cube_law_by_integrating_the_velocity_profile():
    # Plane Poiseuille from the momentum balance: u(y) = dp / (2 mu L) y (h - y), integrated numerically.
    h, length, width, dp = 0.25e-3, 12e-3, 30e-3, 150.0
    y = np.linspace(0, h, 20001)
    u = dp / (2 * VISCOSITY_PA_S * length) * y * (h - y)
    flow = width * trapezoid(u, y)
    assert slot_flow_l_min(30, 12, 0.25, 150) == pytest.approx(flow / L_PER_MIN, rel=1e-7)


def test_loss_terms_solve_the_quadratic():
    width, gap = np.array([10.0, 20.0]), np.array([0.2, 1.0])
    linear, square = slot_terms(width, 10.0 / gap**3, gap, 1.5)
    flow = slot_series_flow(linear, square, 80.0)
    assert np.allclose(linear * flow + square * flow**2, 80.0, rtol=1e-12)
    # Without loss: the plain slot. With it: always less; for a wide gap the loss rules, v = sqrt(2 dp / (K
    # rho)).
    assert 80.0 / linear[0] / L_PER_MIN == pytest.approx(slot_flow_l_min(10, 10, 0.2, 80), rel=1e-12)
    assert (flow < 80.0 / linear).all()
    wide, loss = slot_terms(np.array([10.0]), np.array([0.01]), np.array([3.0]), 1.5)
    speed = slot_series_flow(wide, loss, 80.0)[0] / (10e-3 * 3e-3)
    assert speed == pytest.approx(np.sqrt(2 * 80.0 / (1.5 * DENSITY_KG_M3)), rel=2e-3)
