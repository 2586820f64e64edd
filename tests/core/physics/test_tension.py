"""The tension that closes the seal and the one that presses too hard, against linear closed forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sealwright.errors import BadRecipe, NotConverged
from sealwright.physics.contact_result import ContactSettings
from sealwright.physics.foundation import FoundationSettings
from sealwright.physics.patch import REGIONS
from sealwright.physics.skin import SkinSettings
from sealwright.physics.tension import TensionSettings, tension_at_pressure, tension_to_close

from .bands import down, face_like, flat, yoke
from .closed_forms import region_stiffness

CHEEK = REGIONS.index("cheek")


def test_pressure_limit_of_a_flat_punch():
    # p = N / A, so 4.27 kPa over 2400 mm2 is 10.25 N whatever the skin.
    found = tension_at_pressure(flat(60, 40, 20, 10), [down(0, 0, 2.0)])
    assert found.total_n == pytest.approx(4.27e-3 * 2400, rel=6e-3)
    assert found.factor == pytest.approx(found.total_n / 2.0, rel=1e-12)
    assert "4.27 kPa" in found.text


def test_closing_a_step_takes_the_force_that_presses_the_high_half_flat():
    # Left and right thirds touch, the middle stands off by h: it closes when the thirds are pressed in by h.
    # N = k h A_high. One precision step (0.5 %) above.
    height = 0.5
    patch = flat(60, 40, 30, 10, gap=lambda g: np.where(abs(g[:, 0]) < 10, height, 0.0))
    found = tension_to_close(patch, [down(0, 0, 1.0)])
    stiff = region_stiffness(width_mm=40.0)[CHEEK] * 1e-3
    assert found.total_n == pytest.approx(stiff * height * 1600, rel=6e-3)
    assert found.total_n >= stiff * height * 1600


def test_stiffer_skin_needs_more():
    patch = flat(60, 40, 30, 10, gap=lambda g: np.where(abs(g[:, 0]) < 10, 0.3, 0.0))
    stiff = ContactSettings(foundation=FoundationSettings(SkinSettings(cheek_factor=2.0)))
    one, two = (tension_to_close(patch, [down(0, 0, 1.0)], s).total_n for s in (None, stiff))
    assert two == pytest.approx(2 * one, rel=1e-2)


def test_a_conformal_band_closes_at_the_lightest_pull():
    assert tension_to_close(face_like(80, 7), yoke(10.0)).total_n == pytest.approx(0.1)


def test_a_step_too_high_is_named_with_its_place():
    patch = face_like(80, 7)
    gap = np.where(np.abs(patch.station - 20) < 4, 15.0, 0.0)
    found = tension_to_close(
        replace(patch, gap_mm=gap), yoke(10.0), search=TensionSettings(most_total_n=20.0)
    )
    assert found.factor is None
    assert found.total_n is None
    assert "stay open" in found.text
    high = tension_at_pressure(patch, yoke(10.0), limit_kpa=200.0)
    assert high.factor is None
    assert "200 kPa" in high.text


def test_refusals():
    patch = face_like(40, 5)
    with pytest.raises(BadRecipe, match="kPa"):
        tension_at_pressure(patch, yoke(), limit_kpa=-1.0)
    with pytest.raises(BadRecipe, match=" N"):
        tension_to_close(patch, yoke(0.0))
    with pytest.raises(BadRecipe, match=r"100\.0 N"):
        tension_to_close(patch, yoke(), search=TensionSettings(most_total_n=500.0))
    with pytest.raises(NotConverged):
        tension_to_close(patch, [p for p in yoke() if p.point[0] > 0 and p.point[2] > 0])
