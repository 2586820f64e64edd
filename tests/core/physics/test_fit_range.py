"""The predicted range: deterministic, in order with its causes, statistics of the drawn errors."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sealwright.errors import BadRecipe, NotConverged
from sealwright.physics.contact_result import ContactSettings
from sealwright.physics.draws import make_draws
from sealwright.physics.fit_range import predict_fit
from sealwright.physics.fit_settings import ExerciseSettings, FitSettings
from sealwright.physics.foundation import FoundationSettings, GasketSettings
from sealwright.physics.gap_error import scan_error_mm, scan_error_range, scan_gap_error
from sealwright.physics.leak import Medium
from sealwright.physics.loop import loop_of, worst_arc
from sealwright.physics.patch import strap_pull_of

from .bands import exact, face_like, yoke

MEDIUM = Medium(6004.0, 250.0, 5e-4)


FEW = FitSettings(samples=128)


@pytest.fixture(scope="module")
def nominal():
    return predict_fit(face_like(), yoke(12.0), MEDIUM, settings=FEW)


def test_same_seed_same_range(nominal):
    again = predict_fit(face_like(), yoke(12.0), MEDIUM, settings=FEW)
    assert np.array_equal(again.fit_factors, nominal.fit_factors)
    other = predict_fit(face_like(), yoke(12.0), MEDIUM, settings=FitSettings(samples=128, seed=2))
    assert not np.array_equal(other.fit_factors, nominal.fit_factors)


def test_it_is_a_range_with_a_caution(nominal):
    low, *_, high = nominal.quantiles
    assert low < nominal.quantiles[2] < high
    assert list(nominal.quantiles) == sorted(nominal.quantiles)
    assert (nominal.fit_factors >= 1.0).all()
    assert nominal.chance_pass == pytest.approx((nominal.fit_factors >= 100).mean())
    assert "no fit test" in nominal.caution
    assert sum(nominal.region_share.values()) == pytest.approx(1.0)
    assert nominal.station_share.sum() == pytest.approx(1.0)


def known(**changes) -> FitSettings:
    """Settings under which the scan's error is what is said, and all else is exactly known."""
    still = ExerciseSettings(deep_flow=1.0, head_up_deg=0.0, strap_turn=0.0, jaw_mm=0.0)
    return exact(**({"samples": 64, "exercises": still} | changes))


def test_scan_error_makes_it_worse_and_a_soft_layer_better():
    noisy, quiet = known(scan_noise_mm=0.5), known(scan_noise_mm=0.1)
    worse, better = (predict_fit(face_like(), yoke(12.0), MEDIUM, settings=s) for s in (noisy, quiet))
    soft = ContactSettings(FoundationSettings(gasket=GasketSettings(thickness_mm=6.0, modulus_kpa=40.0)))
    eased = predict_fit(face_like(), yoke(12.0), MEDIUM, soft, noisy)
    assert better.quantiles[0] > worse.quantiles[0]
    assert better.chance_pass > worse.chance_pass
    assert eased.quantiles[1] > worse.quantiles[1]


def test_without_any_spread_every_draw_is_the_nominal_one():
    found = predict_fit(face_like(), yoke(12.0), MEDIUM, settings=known(samples=8))
    # The batch in single precision against the single solve, which has no pull of the breath and no weight:
    # touching everywhere, both leak through the relief alone.
    assert np.allclose(found.fit_factors, 1.0 / found.nominal.leak_share, rtol=2e-3)
    assert found.quantile_errors == pytest.approx([0.0] * 5, abs=1e-6)


def test_filter_counts_in_the_total_only():
    # A mass balance: 1 / (leak + penetration (1 - leak)); penetration at 10 cm/s, corrected to the flow
    # there.
    leaky = Medium(6004.0, 50.0, 0.05)  # 30 L/min over 50 cm2 is 10 cm/s
    found = predict_fit(face_like(), yoke(12.0), leaky, settings=known(samples=8))
    through = 1.0 / found.fit_factors[0]
    assert found.total_quantiles[2] == pytest.approx(1.0 / (through + 0.05 * (1.0 - through)), rel=1e-4)


def test_a_dent_under_the_band_is_what_dominates():
    patch = face_like()
    dent = replace(patch, gap_mm=np.where(np.abs(patch.station - 40) <= 6, 4.0, 0.0))
    found = predict_fit(dent, yoke(12.0), MEDIUM, settings=known(scan_noise_mm=0.1))
    first, last = found.worst_arc
    assert 32 <= first <= last <= 48
    assert found.worst_arc_share < 0.1
    assert found.quantiles[-1] < 100


def test_scan_error_has_the_asked_spread_and_length():
    patch = face_like(240, 9)
    loop = loop_of(patch)
    chosen = known(samples=1500, noise_length_mm=15.0, length_spread=1.0)
    noise = scan_gap_error(patch, loop, chosen, make_draws(chosen))
    # 1500 draws of a loop of about 20 independent lengths: standard error of the SD about 0.4 %.
    assert noise.std() == pytest.approx(1.0, rel=0.02)
    assert abs(noise.mean()) < 0.04
    on_line = noise.reshape(1500, 240, 9)[:, :, 4]
    step = loop.width_mm.mean()
    apart = round(15.0 / step)
    likeness = (on_line * np.roll(on_line, apart, axis=1)).mean() / (on_line**2).mean()
    # Gaussian likeness over one length l is exp(-1/2); stations are not quite even: 5 %.
    assert likeness == pytest.approx(np.exp(-0.5 * (apart * step / 15.0) ** 2), abs=0.05)
    # Across the band likewise: 14 mm from edge to edge.
    edges = noise.reshape(1500, 240, 9)
    over = (edges[:, :, 0] * edges[:, :, -1]).mean()
    assert over == pytest.approx(np.exp(-0.5 * (14.0 / 15.0) ** 2), abs=0.03)
    # The loop is closed: the first and the last station are neighbours.
    assert (on_line[:, 0] * on_line[:, -1]).mean() / (on_line**2).mean() > 0.9


def test_a_noisier_scan_never_gets_a_smaller_error():
    chosen = FitSettings(samples=200)
    draws = make_draws(chosen)
    errors = [scan_error_mm(chosen, draws, noise) for noise in (0.0, 0.05, 0.1, 0.2, 0.35, 0.5, 0.8, 1.5)]
    assert (np.diff(errors, axis=0) >= -1e-12).all()
    # Published ranges (docs/standards V57): stereophotogrammetry 0.1 to 0.9, phone depth scanners 0.5 to
    # 1.4 mm.
    assert scan_error_range(0.05) == pytest.approx((0.1, 0.9))
    assert scan_error_range(0.5) == pytest.approx((0.5, 1.4))
    inside = np.mean((errors[2] > 0.1) & (errors[2] < 0.9))
    assert inside == pytest.approx(0.9, abs=0.06)  # nine of ten; 200 draws leave 2 % standard error


def test_worst_arc_by_hand():
    share = np.array([0.1, 0.0, 0.3, 0.3, 0.1, 0.2])
    assert worst_arc(share, np.ones(6)) == (2, 3, pytest.approx(2 / 6))
    # Round the end.
    assert worst_arc(np.roll(share, 3), np.ones(6)) == (5, 0, pytest.approx(2 / 6))


def test_refusals():
    with pytest.raises(BadRecipe, match=r"3\.0 mm"):
        predict_fit(face_like(40, 5), yoke(), MEDIUM, settings=FitSettings(scan_noise_mm=9.0))
    with pytest.raises(BadRecipe, match="whole"):
        predict_fit(face_like(40, 5), yoke(), MEDIUM, settings=FitSettings(samples=2))
    with pytest.raises(NotConverged):
        predict_fit(face_like(40, 5), [strap_pull_of([0, -90, 0], [0, -1, 0], 5.0)], MEDIUM)
