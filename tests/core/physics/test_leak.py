"""Leak of a loop and fit factor against plane slots, mass balance and worked numbers of docs/standards."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq
from sealwright.errors import BadRecipe
from sealwright.physics.leak import LeakSettings, Medium, fit_factor, gap_resistance, leak_through
from sealwright.physics.loop import loop_of, patch_from_grid
from sealwright.physics.slot import L_PER_MIN, slot_series_flow, slot_terms

from .closed_forms import slot_flow_l_min

PLAIN = LeakSettings(entrance_loss=0.0, skin_relief_mm=0.0)


def ring(radius=50.0, width=10.0, stations=360, across=21):
    t = 2 * np.pi * np.arange(stations) / stations
    a = np.linspace(-width / 2, width / 2, across)
    grid = np.stack([np.cos(t), np.sin(t), 0 * t], axis=1)[:, None, :] * (radius + a)[None, :, None]
    return patch_from_grid(grid, np.broadcast_to([0.0, 0, 1], grid.shape), 0.0, a, 2)


def test_even_gap_is_a_plane_slot():
    # Q = w h^3 dp / (12 mu L) at the pressure in the mask, w the length of the line; chords: 1e-4.
    loop = loop_of(ring())
    gap = np.full(len(loop.order), 0.2)
    leak = leak_through(loop, gap, Medium(6004.0, 250.0, 0.0), PLAIN)
    expected = slot_flow_l_min(2 * np.pi * 50, 10, 0.2, leak.pressure_pa)
    assert leak.leak_l_min == pytest.approx(expected, rel=5e-4)
    filter_flow = leak.pressure_pa * 250e-4 / 6004.0 / L_PER_MIN
    assert filter_flow + leak.leak_l_min == pytest.approx(30.0, rel=1e-9)
    assert leak.fit_factor == pytest.approx(30.0 / leak.leak_l_min, rel=1e-9)


def test_one_open_station_is_the_worked_slit():
    # docs/standards section 5, check 6: w 10, L 10, 100 Pa, h 0.2: 0.221 L/min. Ten of 314 mm open here.
    patch = ring()
    loop = loop_of(patch)
    open_ = (patch.station * np.pi * 100 / 360) < 10.0
    leak = leak_through(loop, np.where(open_, 0.2, 0.0), Medium(6004.0, 250.0, 0.0), PLAIN)
    per_pa = leak.leak_l_min / leak.pressure_pa
    width = open_.reshape(360, -1)[:, 0].sum() * np.pi * 100 / 360
    assert per_pa * 100 == pytest.approx(0.221 * width / 10, rel=0.01)
    assert (leak.station_l_min > 0).sum() == open_.reshape(360, -1)[:, 0].sum()


def test_wedge_across_the_band_is_the_lubrication_integral():
    # Gap from h1 to h2 over L: integral of dx / h^3 = L (h1 + h2) / (2 h1^2 h2^2), exact.
    patch = ring(across=201)
    loop = loop_of(patch)
    h1, h2 = 0.2, 0.5
    gap = h1 + (h2 - h1) * (patch.across_mm + 5.0) / 10.0
    resistance, smallest = gap_resistance(loop, gap, 0.0)
    assert np.allclose(resistance, 10 * (h1 + h2) / (2 * h1**2 * h2**2), rtol=0.05)
    assert np.allclose(smallest, h1)
    # The one-sided share of the curved inner cell leaves a few per cent; on a wide ring it is gone.
    flat = loop_of(ring(radius=5000.0, across=201))
    assert np.allclose(gap_resistance(flat, gap, 0.0)[0], 10 * (h1 + h2) / (2 * h1**2 * h2**2), rtol=2e-3)


def test_one_touching_point_shuts_its_station_but_for_the_relief():
    patch = ring()
    loop = loop_of(patch)
    gap = np.where(np.isclose(patch.across_mm, 0.0), 0.0, 0.5)
    assert np.isinf(gap_resistance(loop, gap, 0.0)[0]).all()
    assert np.isfinite(gap_resistance(loop, gap, 0.02)[0]).all()
    shut = leak_through(loop, gap, Medium(6004.0, 250.0, 5e-4), PLAIN)
    assert shut.leak_l_min == 0.0
    assert shut.fit_factor == pytest.approx(1 / 5e-4, rel=1e-12)


def test_pressure_is_the_root_that_an_outside_solver_finds():
    rng = np.random.default_rng(5)
    patch = ring()
    loop = loop_of(patch)
    gap = np.repeat(rng.uniform(0, 2.5, 360), 21)
    chosen = LeakSettings(flow_l_min=95.0)
    medium = Medium(4000.0, 120.0, 0.01)
    leak = leak_through(loop, gap, medium, chosen)
    resistance, smallest = gap_resistance(loop, gap, chosen.skin_relief_mm)
    linear, square = slot_terms(loop.width_mm, resistance, smallest, chosen.entrance_loss)
    per_flow = 4000.0 / 120e-4

    def rest(p):
        return slot_series_flow(linear, square, p).sum() + p / per_flow - 95.0 * L_PER_MIN

    root = brentq(rest, 1e-9, per_flow * 95 * L_PER_MIN, xtol=1e-14, rtol=1e-13)
    assert leak.pressure_pa == pytest.approx(root, rel=1e-9)


def test_fit_factor_is_a_mass_balance():
    # Inside = leak * 1 + (1 - leak) * penetration; docs/standards 5.3 rounds it to leak + penetration.
    assert fit_factor(0.01, 0.0) == pytest.approx(100.0)
    assert fit_factor(0.0, 0.05) == pytest.approx(20.0)
    assert fit_factor(0.004, 0.0005) == pytest.approx(1 / 0.0045, rel=1e-3)
    assert fit_factor(1.0, 0.5) == 1.0
    for bad in ((-0.1, 0.0), (0.1, 1.5), (0.0, 0.0)):
        with pytest.raises(BadRecipe):
            fit_factor(*bad)


def test_more_gap_and_more_resistance_leak_more():
    loop = loop_of(ring())
    gaps = [np.full(len(loop.order), g) for g in (0.1, 0.2, 0.4)]
    leaks = [leak_through(loop, g, Medium(6004.0, 250.0, 0.0)).leak_share for g in gaps]
    assert leaks[0] < leaks[1] < leaks[2] <= 1.0
    easy, hard = (leak_through(loop, gaps[0], Medium(k, 250.0, 0.0)).leak_share for k in (2000.0, 8000.0))
    assert easy < hard


@pytest.mark.parametrize(
    ("medium", "chosen", "text"),
    [
        (Medium(0.0, 250.0, 0.0), None, "Pa s/m"),
        (Medium(6004.0, -1.0, 0.0), None, "cm2"),
        (Medium(6004.0, 250.0, 2.0), None, "penetration"),
        (Medium(6004.0, 250.0, 0.0), LeakSettings(flow_l_min=0.0), "L/min"),
    ],
)
def test_wrong_values_are_refused_with_range_and_unit(medium, chosen, text):
    loop = loop_of(ring())
    with pytest.raises(BadRecipe, match=text):
        leak_through(loop, np.zeros(len(loop.order)), medium, chosen)
