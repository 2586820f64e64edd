"""Soft ring: volume by Pappus, dovetail that locks, and exact layers of the material changes."""

from __future__ import annotations

import math

import pytest
from sealwright.errors import BadRecipe, DoesNotFit
from sealwright.hardware.options import PortSettings
from sealwright.hardware.ports import make_port
from sealwright.hardware.soft_ring import (
    layer_bottom_mm,
    material_changes,
    nearest_layer,
    ring_solid,
    root_cutter,
    soft_ring,
)
from sealwright.solids.boolean import difference, shared_volume

from .gauges import ALLOWANCE, overhang_area, turned

SETTINGS = PortSettings(seal="soft_ring", soft_proud_mm=0.8)
RING = soft_ring(SETTINGS, 17.4, 23.4, 15.0)
SHARE = math.sin(2 * math.pi / 128) / (2 * math.pi / 128)


def test_volume_by_pappus_and_by_the_solid() -> None:
    # face 6.0 x 0.8; root from 1.8 to 3.0 over 1.0, then to a ridge of 0.3 at 45 degrees, 1.35 further
    by_hand = 2 * math.pi * 20.4 * (6.0 * 0.8 + 0.5 * (1.8 + 3.0) * 1.0 + 0.5 * (3.0 + 0.3) * 1.35)
    assert RING.volume_mm3 == pytest.approx(by_hand, rel=1e-12)
    assert ring_solid(RING, 128).volume == pytest.approx(by_hand * SHARE, rel=1e-9)


def test_root_locks() -> None:
    # Pulled out by 0.3 mm the root hits the rigid face; in place it does not.
    parts = make_port(SETTINGS, ALLOWANCE)
    ring = parts.extra[0]
    assert shared_volume(ring, parts.boss) < 1e-6
    assert shared_volume(ring.moved(turned(0.0, 0.3)), parts.boss) > 10.0
    assert 15 < RING.undercut_deg < 45


def test_groove_is_the_root() -> None:
    full = make_port(PortSettings(seal="flat"), ALLOWANCE)
    keyed = make_port(SETTINGS, ALLOWANCE)
    ring = keyed.facts.soft
    middle = 0.5 * (ring.inner + ring.outer)
    face = math.pi * (ring.outer**2 - ring.inner**2)
    groove = (ring.volume_mm3 - face * ring.proud) * SHARE
    assert groove < 2 * math.pi * middle * ring.base * ring.depth
    assert full.boss.volume - keyed.boss.volume == pytest.approx(groove, rel=1e-9)
    cut = difference("cut", full.boss, root_cutter(RING, 128))
    assert cut.genus == 0


@pytest.mark.parametrize(("layer", "bottom"), [(1, 0.0), (2, 0.3), (3, 0.5), (6, 1.1)])
def test_layer_bottoms(layer: int, bottom: float) -> None:
    assert layer_bottom_mm(layer, 0.2, 0.3) == pytest.approx(bottom)
    assert nearest_layer(bottom, 0.2, 0.3) == layer


@pytest.mark.parametrize(
    ("z", "layer"), [(0.0, 1), (0.09, 1), (0.11, 2), (0.29, 2), (0.31, 3), (0.79, 5), (0.8, 5)]
)
def test_nearest_layer_bottom(z: float, layer: int) -> None:
    assert nearest_layer(z, 0.2, 0.2) == layer


def test_changes_for_a_face_of_soft_layers() -> None:
    # 0.8 mm of soft in 0.2 mm layers: layers 1 to 4, rigid from layer 5 whose bottom lies at 0.8 mm
    first, second = material_changes(0.0, 0.8, 0.2, 0.2)
    assert (first.layer, first.z_mm, first.material) == (1, 0.0, "soft")
    assert (second.layer, second.material) == (5, "rigid")
    assert second.z_mm == pytest.approx(0.8)


def test_changes_with_a_thick_first_layer_and_odd_height() -> None:
    # bottoms 0, 0.3, 0.45, 0.6, 0.75, 0.9: the span 0.3 to 0.8 begins at layer 2 and ends nearest to 0.75
    first, second = material_changes(0.3, 0.8, 0.15, 0.3)
    assert (first.layer, second.layer) == (2, 5)
    assert second.z_mm == pytest.approx(0.75)


def test_the_root_is_the_only_overhang() -> None:
    ridge = 0.3 * 2 * math.pi * 20.4  # along the middle of the root
    # 0.2 mm2 for facets of the thread, whose flanks tilt by the lead angle between two columns.
    assert overhang_area(make_port(SETTINGS, ALLOWANCE).boss, (0.0, 0.0, -1.0)) < ridge + 0.2


def test_span_without_a_layer_is_refused() -> None:
    with pytest.raises(BadRecipe):
        material_changes(0.4, 0.45, 0.2, 0.2)
    with pytest.raises(BadRecipe):
        material_changes(0.0, 1.0, 0.0, 0.2)


def test_narrow_face_is_refused() -> None:
    with pytest.raises(DoesNotFit) as caught:
        soft_ring(SETTINGS, 20.0, 23.0, 15.0)
    assert caught.value.where.key == "port.seal"
