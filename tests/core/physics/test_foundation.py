"""Springs under the band: series of layers, confined layer, hardness, and the table of the skin."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.errors import BadRecipe
from sealwright.physics.foundation import (
    FoundationSettings,
    GasketSettings,
    foundation_of,
    gasket_stiffness,
    in_series,
)
from sealwright.physics.loop import band_width_mm
from sealwright.physics.patch import REGIONS
from sealwright.physics.skin import SkinSettings, skin_sites

from .bands import face_like
from .closed_forms import confined_modulus, modulus_from_shore_a, region_stiffness


def test_two_layers_in_series():
    # Springs in series: 1 / k = 1 / k1 + 1 / k2 (any mechanics text, exact).
    assert in_series(6.0, 3.0) == pytest.approx(2.0, rel=1e-15)
    assert np.allclose(in_series(np.array([6.0, 4.0]), 12.0, 4.0), [2.0, 12.0 / 7.0])
    with pytest.raises(BadRecipe, match="kPa/mm"):
        in_series(6.0, 0.0)


def test_layer_between_free_and_confined():
    # Johnson, Contact Mechanics (1985) 4.3, from memory: at v = 0 the layer is simply E; at v = 1/4 it is
    # 1.2 E.
    assert confined_modulus(100.0, 0.0) == 100.0
    assert confined_modulus(100.0, 0.25) == pytest.approx(120.0, rel=1e-12)
    # Same thing from the Lame constants: lambda + 2 mu.
    e, v = 37.0, 0.4
    lame, shear = e * v / ((1 + v) * (1 - 2 * v)), e / (2 * (1 + v))
    assert confined_modulus(e, v) == pytest.approx(lame + 2 * shear, rel=1e-12)


def test_skin_under_a_soft_layer_is_the_two_in_series():
    patch = face_like(60, 7)
    soft = FoundationSettings(gasket=GasketSettings(thickness_mm=5.0, modulus_kpa=100.0, poisson=0.0))
    both, skin = foundation_of(patch, soft), foundation_of(patch)
    layer = 1e-3 * gasket_stiffness(soft.gasket, band_width_mm(patch))
    assert layer == pytest.approx(20.0e-3, rel=0.15)  # no cross strain; a strip leans on free neighbours
    assert np.allclose(1 / both.normal, 1 / skin.normal + 1 / layer, rtol=1e-12)
    assert np.allclose(skin.normal, skin.skin)
    assert np.isinf(gasket_stiffness(GasketSettings()))


def test_hardness_to_modulus():
    # Gent's relation, from memory, against the rounded values that elastomer handbooks print (also from
    # memory): 30 Shore A about 1.1, 50 about 2.5, 70 about 5.5 MPa. Hence the wide tolerance.
    for shore, mega in ((30, 1.1), (50, 2.5), (70, 5.5)):
        assert modulus_from_shore_a(shore) == pytest.approx(1000 * mega, rel=0.08)


def test_table_is_sound_and_ordered_like_the_body():
    rows = skin_sites()
    assert {row.region for row in rows} == set(REGIONS)
    for row in rows:
        for triple in (row.modulus_kpa, row.thickness_mm):
            assert 0 < triple[1] < triple[0] < triple[2]
        assert row.confidence in ("V", "M", "C")
        assert "modulus" in row.source
    stiff = dict(zip(REGIONS, region_stiffness(), strict=True))
    # Bone close under the skin is stiffer than fat: bridge > side > cheek > beside the mouth.
    assert stiff["nose_bridge"] > stiff["nose_side"] > stiff["cheek"] > stiff["mouth_side"]


def test_published_moduli_are_in_the_table():
    # Mean and SD by indentation, 28 people (doi 10.1007/s10439-024-03581-2, abstract read: V).
    by_name = {row.site: row for row in skin_sites()}
    for name, mean, sd in (("chin", 53.04, 20.97), ("cheek", 27.09, 11.38), ("mouth_side", 16.33, 8.37)):
        typical, low, high = by_name[name].modulus_kpa
        assert typical == pytest.approx(mean, abs=0.05)
        assert high == pytest.approx(mean + 1.645 * sd, abs=0.1)
        assert low >= mean - 1.645 * sd - 0.1


def test_spread_is_that_of_a_log_normal_law():
    row = next(row for row in skin_sites() if row.site == "chin")
    modulus, thickness = row.log_spreads
    assert modulus == pytest.approx(np.log(87.5 / 18.5) / (2 * 1.645), rel=1e-12)
    assert thickness == pytest.approx(np.log(14.0 / 7.5) / (2 * 1.645), rel=1e-12)


def test_factors_and_refusals():
    band, doubled = face_like(60, 7), FoundationSettings(skin=SkinSettings(cheek_factor=2.0))
    ratio = foundation_of(band, doubled).skin / foundation_of(band).skin
    on_cheek = band.region == REGIONS.index("cheek")
    assert on_cheek.any() and np.allclose(ratio, np.where(on_cheek, 2.0, 1.0))
    with pytest.raises(BadRecipe, match=r"from 0.05 to 20"):
        foundation_of(band, FoundationSettings(skin=SkinSettings(chin_factor=0.0)))
    with pytest.raises(BadRecipe, match=r"from 5\.0 to 50000\.0 kPa"):
        foundation_of(face_like(24, 5), FoundationSettings(gasket=GasketSettings(modulus_kpa=1.0)))
