"""Glue groove: volume by Pappus and by the solid, roof pitched at 45 degrees."""

from __future__ import annotations

import math

import numpy as np
import pytest
from sealwright.errors import DoesNotFit
from sealwright.hardware.glue_groove import groove_cutter, groove_section_mm2, groove_volume_mm3
from sealwright.hardware.options import HolderSettings
from sealwright.hardware.outlines import seat_of

SETTINGS = HolderSettings(land_mm=6.0)


def test_section_by_hand() -> None:
    # 2.4 wide: 0.55 upright, then 1.05 up to a ridge of 0.3
    assert groove_section_mm2(SETTINGS) == pytest.approx(2.4 * 0.55 + 0.5 * (2.4 + 0.3) * 1.05)


@pytest.mark.parametrize("shape", ["disc", "pad"])
def test_volume_of_the_solid(shape: str) -> None:
    settings = HolderSettings(shape=shape)
    seat = seat_of(settings)
    # The cutter also reaches 1 mm below the bed face. 128 sides of a disc lose 0.04 %; a pad's corners add
    # little.
    cutter = groove_cutter(seat, settings)
    below = groove_volume_mm3(seat, settings) / groove_section_mm2(settings) * 2.4
    assert cutter.volume - below == pytest.approx(groove_volume_mm3(seat, settings), rel=2e-3)
    assert cutter.genus == 1


def test_volume_by_pappus() -> None:
    seat = seat_of(SETTINGS)
    assert groove_volume_mm3(seat, SETTINGS) == pytest.approx(
        2 * math.pi * 58.0 * groove_section_mm2(SETTINGS)
    )


def test_roof_is_pitched_at_45_degrees() -> None:
    mesh = groove_cutter(seat_of(SETTINGS), SETTINGS).mesh
    up = mesh.face_normals[:, 2]
    roof = (up > 0.1) & (up < 0.99)
    # 128 sides: a slope between two polygons is steeper by the share of their inner circles, 0.03 %
    assert up[roof] == pytest.approx(np.full(roof.sum(), math.sqrt(0.5)), abs=1e-3)


def test_shallow_groove_is_refused_with_the_least_depth() -> None:
    with pytest.raises(DoesNotFit) as caught:
        groove_section_mm2(HolderSettings(glue_depth_mm=0.8))
    assert caught.value.where.key == "holder.glue_depth_mm"
    least = float(caught.value.fix.split("Use ")[1].split(" mm")[0])
    assert groove_section_mm2(HolderSettings(glue_depth_mm=least + 0.01)) > 0
