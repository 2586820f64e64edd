"""The predicted range: deterministic, in order with its causes, statistics of the drawn noise, speed."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.errors import BadRecipe, NotConverged
from sealwright.physics.contact_result import ContactSettings
from sealwright.physics.fit_range import FitSettings, gap_noise, predict_fit, worst_arc
from sealwright.physics.foundation import FoundationSettings, GasketSettings
from sealwright.physics.leak import Medium
from sealwright.physics.loop import loop_of
from sealwright.physics.patch import strap_pull_of

from .bands import face_like, yoke

MEDIUM = Medium(6004.0, 250.0, 5e-4)


@pytest.fixture(scope="module")
def nominal():
    return predict_fit(face_like(), yoke(12.0), MEDIUM)


def test_same_seed_same_range(nominal):
    again = predict_fit(face_like(), yoke(12.0), MEDIUM)
    assert np.array_equal(again.fit_factors, nominal.fit_factors)
    other = predict_fit(face_like(), yoke(12.0), MEDIUM, settings=FitSettings(seed=2))
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


def test_noise_makes_it_worse_and_a_soft_layer_better(nominal):
    quiet = predict_fit(face_like(), yoke(12.0), MEDIUM, settings=FitSettings(scan_noise_mm=0.1))
    soft = ContactSettings(FoundationSettings(gasket=GasketSettings(thickness_mm=6.0, modulus_kpa=40.0)))
    eased = predict_fit(face_like(), yoke(12.0), MEDIUM, soft)
    assert quiet.quantiles[0] > nominal.quantiles[0]
    assert quiet.chance_pass > nominal.chance_pass
    assert eased.quantiles[1] > nominal.quantiles[1]


def test_without_any_spread_every_sample_is_the_nominal_one():
    exact = FitSettings(samples=8, scan_noise_mm=0.0, skin_spread=0.0, tension_spread=0.0, side_spread=0.0)
    found = predict_fit(face_like(), yoke(12.0), MEDIUM, settings=exact)
    assert np.allclose(found.fit_factors, found.nominal.fit_factor, rtol=1e-6)


def test_a_dent_under_the_band_is_what_dominates():
    patch = face_like()
    dent = patch.with_gap(np.where(np.abs(patch.station - 40) <= 6, 4.0, 0.0))
    found = predict_fit(dent, yoke(12.0), MEDIUM, settings=FitSettings(scan_noise_mm=0.1))
    first, last = found.worst_arc
    assert 32 <= first <= last <= 48
    assert found.worst_arc_share < 0.1
    assert found.quantiles[-1] < 100


def test_noise_has_the_asked_spread_and_length():
    patch = face_like(240, 9)
    loop = loop_of(patch)
    chosen = FitSettings(samples=2000, scan_noise_mm=0.5, noise_length_mm=15.0)
    noise = gap_noise(patch, loop, chosen, np.random.default_rng(0))
    # 2000 draws of a loop of about 20 independent lengths: standard error of the SD about 0.4 %.
    assert noise.std() == pytest.approx(0.5, rel=0.02)
    assert abs(noise.mean()) < 0.02
    on_line = noise.reshape(2000, 240, 9)[:, :, 4]
    step = loop.width_mm.mean()
    apart = round(15.0 / step)
    likeness = (on_line * np.roll(on_line, apart, axis=1)).mean() / (on_line**2).mean()
    # Gaussian likeness over one length l is exp(-1/2); stations are not quite even: 5 %.
    assert likeness == pytest.approx(np.exp(-0.5 * (apart * step / 15.0) ** 2), abs=0.05)
    # The loop is closed: the first and the last station are neighbours.
    assert (on_line[:, 0] * on_line[:, -1]).mean() / (on_line**2).mean() > 0.9


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
