"""The mask as a weight: a hanging mask by hand, batch against single solves, relief, quantiles."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sealwright.physics.breathing import AirwaySettings
from sealwright.physics.contact import solve_contact
from sealwright.physics.draws import make_draws
from sealwright.physics.ensemble import Ensemble, WornCase
from sealwright.physics.filter_case import FilterCase
from sealwright.physics.fit_settings import FitSettings
from sealwright.physics.foundation import GasketSettings
from sealwright.physics.relief import mean_cube, wave_gap
from sealwright.physics.statics import POSITIONS, Hanging, weight_wrench
from sealwright.physics.worn import around_points, quantile_of

from .bands import down, exact, face_like, flat, yoke

FILTER = FilterCase((1000.0, 500.0, 2500.0), 75.0, (0.05, 0.01, 0.2), 10.0, AirwaySettings(port_loss=0.0))


def test_weight_by_hand():
    # 200 g whose centre lies 40 mm in front of the bridge: 1.961 N, 78.5 N mm (g = 9.80665 exactly).
    hung = Hanging(200.0, np.array([0.0, -60.0, -20.0]), lever_mm=40.0)
    assert hung.weight_n == pytest.approx(1.96133, rel=1e-6)
    assert hung.moment_nmm == pytest.approx(78.453, rel=1e-5)
    load = weight_wrench(hung, (0.0, 0.0, -1.0), np.array([0.0, -20.0, 0.0]))
    assert load.force_n == pytest.approx([0.0, 0.0, -1.96133])
    # r x F: 40 mm forward (-Y) of the point, pulled down: (-40)(-1.961) about X.
    assert load.moment_nmm == pytest.approx([78.4532, 0.0, 0.0])


def test_positions_are_unit_weights_the_way_the_head_is_held():
    by_key = {position.key: np.array(position.pull) for position in POSITIONS}
    for key, pull in by_key.items():
        if key != "jolt":
            assert np.linalg.norm(pull) == pytest.approx(1.0)
    # Bent by 60 deg the face looks down: weight pulls out of the face (-Y) by sin 60.
    assert by_key["bent_forward"] == pytest.approx([0.0, -np.sin(np.pi / 3), -0.5])
    assert by_key["tilted_left"] == pytest.approx([np.sqrt(0.5), 0.0, -np.sqrt(0.5)])
    assert by_key["lying"] == pytest.approx([0.0, 1.0, 0.0])
    assert by_key["jolt"] == pytest.approx([0.0, -2.0, -1.0])


def test_plate_held_against_its_weight_by_hand():
    # A plate on a flat skin, straps 10 N down, its own weight 2 N at a corner of a lever of 10 mm: the
    # pressures
    # carry 12 N, and their centre lies at 2 N * 10 mm / 12 N from the middle (statics, exact).
    patch = flat(60, 40, 30, 20)
    hung = Hanging(2000.0 / 9.80665, np.array([10.0, 0.0, 0.0]))
    load = weight_wrench(hung, (0.0, 0.0, -1.0), patch.centre)
    found = solve_contact(patch, [down(0, 0, 10.0)], extra=load)
    force = patch.areas * found.pressure_kpa * 1e-3
    assert force.sum() == pytest.approx(12.0, rel=1e-6)
    assert (force @ patch.points[:, 0]) / force.sum() == pytest.approx(2 * 10 / 12, rel=1e-4)


def test_batch_is_the_single_solve():
    patch, pulls = face_like(), tuple(yoke(12.0))
    hung = Hanging(180.0, np.array([0.0, -130.0, -20.0]))
    worn = Ensemble(WornCase(patch, pulls, FILTER, hung), None, exact()).worn(states="hold")
    load = weight_wrench(hung, POSITIONS[0].pull, patch.centre)
    single = solve_contact(patch, pulls, extra=load)
    # Single precision and a looser stop; rounds of the hold against sliding end at 1 % in the single solve.
    assert worn.mean_kpa == pytest.approx(single.mean_kpa, rel=0.01)
    assert worn.peak_kpa == pytest.approx(single.peak_kpa, rel=0.02)
    assert worn.contact_cm2 * 100 == pytest.approx(single.contact_mm2, rel=0.01)


def test_weight_and_jolt_make_holding_harder():
    patch, pulls = face_like(), tuple(yoke(8.0))
    hung = Hanging(400.0, np.array([0.0, -150.0, -30.0]))
    draws = exact(samples=64, scan_noise_mm=0.3)
    light, heavy = (
        Ensemble(WornCase(patch, pulls, FILTER, h), None, draws).worn(states="hold")
        for h in (replace(hung, mass_g=1.0), hung)
    )
    assert heavy.held.mean() < light.held.mean()
    keys = [position.key for position in POSITIONS]
    # Lying on the back the weight presses the mask on; a jolt forward pulls it off.
    held = dict(zip(keys, heavy.held.mean(axis=1), strict=True))
    assert held["lying"] > held["upright"] > held["jolt"]
    assert (heavy.holds <= heavy.stays).all()


def test_more_pull_and_softer_layer_on_the_same_draws():
    patch, pulls = face_like(), tuple(yoke(8.0))
    whole = Ensemble(WornCase(patch, pulls, FILTER), None, exact(samples=64, scan_noise_mm=0.4))
    plain = whole.worn()
    tight = whole.worn([p.scaled(2.0) for p in pulls])
    soft = whole.worn(cushion=GasketSettings(5.0, 30.0, 0.3))
    assert (tight.mean_kpa > plain.mean_kpa).all()
    assert np.median(soft.p95_kpa) < np.median(plain.p95_kpa)
    assert (soft.fit_factor >= plain.fit_factor).mean() > 0.9
    # The same draws again give the same numbers to the bit.
    assert np.array_equal(whole.worn().fit_factor, plain.fit_factor)


def test_more_draws_keep_the_first_ones():
    few, many = make_draws(FitSettings(samples=16)), make_draws(FitSettings(samples=32))
    assert np.array_equal(few.tension, many.tension[:16])
    assert not np.array_equal(few.tension, make_draws(FitSettings(samples=16, seed=2)).tension)


def test_poisson_ratios_are_those_of_the_table():
    drawn = make_draws(FitSettings(samples=4000)).poisson
    # 5th, 50th and 95th percentile 0.45, 0.49, 0.4995 (shared/skin.json); 4000 draws: 1 % of the distance
    # from 0.5.
    low, middle, high = np.quantile(drawn, [0.05, 0.5, 0.95])
    assert 0.5 - low == pytest.approx(0.05, rel=0.1)
    assert 0.5 - middle == pytest.approx(0.01, rel=0.1)
    assert 0.5 - high == pytest.approx(0.0005, rel=0.15)


def test_pressed_wave_is_westergaards():
    # Westergaard (1939; Johnson 1985, section 13.2): contact half width sin^2(pi a / l) = p / p*, closed at
    # p*.
    phase = np.linspace(0.0, np.pi / 2, 20001)
    for share in (0.1, 0.5, 0.9):
        gap = wave_gap(share, phase)
        edge = phase[np.argmax(gap > 0.0)]
        assert np.sin(edge) ** 2 == pytest.approx(share, rel=2e-3)
        # Slope of the gap from the pressure's analytic continuation: g' = 4 cos sqrt(sin^2 - s0^2).
        inner = phase > edge + 1e-3
        slope = 4 * np.cos(phase) * np.sqrt(np.maximum(np.sin(phase) ** 2 - share, 0.0))
        assert np.gradient(gap, phase)[inner][1:-1] == pytest.approx(slope[inner][1:-1], abs=2e-3)
    assert np.allclose(wave_gap(0.0, phase), 1.0 - np.cos(2 * phase))
    # Mean of (1 - cos)^3 over a wave is 5 / 2.
    assert mean_cube(0.0) == pytest.approx(2.5, rel=1e-6)
    assert mean_cube(1.0) == pytest.approx(0.0, abs=1e-9)


def test_bootstrap_error_covers():
    # Simulation-based check: the error stated for a median must be that of medians of fresh samples.
    random = np.random.default_rng(5)
    fresh = [quantile_of(random.lognormal(size=400), 0.5) for _ in range(200)]
    spread = np.std([q.value for q in fresh])
    # Theory for a median: 1 / (2 f sqrt(n)) = sqrt(pi / 2 n) here; 200 repeats leave 5 %.
    assert spread == pytest.approx(np.sqrt(np.pi / 2 / 400), rel=0.15)
    assert np.mean([q.error for q in fresh]) == pytest.approx(spread, rel=0.15)


def test_mean_over_a_square_centimetre_by_hand():
    patch = flat(60, 60, 60, 60)
    pressed = np.where(np.linalg.norm(patch.points[:, :2], axis=1) < 30.0, 2.0, 0.0)
    found = around_points(patch, 1.0) @ pressed
    assert found.max() == pytest.approx(2.0, rel=1e-6)
    single = np.zeros(3600)
    single[1830] = 50.0
    # One cell of 1 mm2 in a disc of 100 mm2, counted in whole cells: a few per cent.
    assert (around_points(patch, 1.0) @ single).max() == pytest.approx(0.5, rel=0.06)
