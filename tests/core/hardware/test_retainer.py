"""Frame over the medium: presses its edge without play, snaps or screws on the rim, prints ring down."""

from __future__ import annotations

import math
from functools import cache

import manifold3d
import numpy as np
import pytest
import trimesh
from sealwright.hardware.clamp import clamp_of
from sealwright.hardware.holder import HolderParts, make_holder
from sealwright.hardware.options import HolderSettings, PortSettings
from sealwright.hardware.outlines import seat_of
from sealwright.solids.boolean import Solid, shared_volume
from sealwright.solids.primitives import prism

from .gauges import ALLOWANCE, smallest_gap, turned

CASES = {
    "disc": HolderSettings(),
    "pad": HolderSettings(shape="pad"),
    "screwed frame": HolderSettings(retainer="screw", grip="ribs", neck_mm=6.0),
    "glued": HolderSettings(edge_seal="glued"),
    "no pre-filter": HolderSettings(prefilter_mm=0.0),
    "thin medium": HolderSettings(medium_thickness_mm=0.3),
    "thick pack": HolderSettings(medium_thickness_mm=20.0, pleat_factor=6.0),
}
PRESSED = [name for name in CASES if name != "glued"]
SNAPPED = [name for name in PRESSED if name != "screwed frame"]


@cache
def holder(name: str) -> HolderParts:
    return make_holder(CASES[name], PortSettings(), ALLOWANCE)


def by_trimesh(solid: Solid) -> trimesh.Trimesh:
    return trimesh.Trimesh(solid.mesh.vertices, solid.mesh.faces, process=False)


def shared_again(one: Solid, two: Solid) -> float:
    """Shared volume by trimesh's own door to a boolean engine."""
    return float(trimesh.boolean.intersection([by_trimesh(one), by_trimesh(two)], engine="manifold").volume)


@pytest.mark.costly
@pytest.mark.parametrize("name", SNAPPED)
def test_a_snapped_frame_is_pressed_home_without_play(name: str) -> None:
    # At home its fingers are bent by the stated preload: drawn, unbent, they enter the slope behind the rim
    # by it. Moved outwards by the preload along the axis they just touch; 0.01 mm further in they enter.
    parts, preload = holder(name), CASES[name].preload_mm
    assert parts.facts.snap.retainer_play_mm == -preload
    free = parts.retainer.moved(turned(0.0, -(preload + 1e-4)))  # the frame lies in front: towards the port
    assert shared_volume(parts.body, free) < 1e-6
    assert shared_again(parts.body, free) < 1e-6
    touching = parts.retainer.moved(turned(0.0, -(preload - 0.01)))
    # Slopes behind the rim of 0.4 to 0.5 mm across, 350 to 370 mm long: 0.01 mm over them is under 3 mm3.
    assert 0.0 < shared_volume(parts.body, touching) < 3.0
    assert smallest_gap(parts.body, free, 0.5) < 0.01
    assert parts.facts.snap.snap_finger_strain_percent < 2.5  # PETG yields at about 4 % (from memory)


@pytest.mark.parametrize("name", PRESSED)
def test_ring_presses_the_medium_by_the_stated_squeeze(name: str) -> None:
    # Between land and ring the medium has its thickness less the squeeze, measured with rays of trimesh from
    # the land's inner lip outwards along the axis, clear of the ridge.
    parts, settings = holder(name), CASES[name]
    seat = seat_of(settings)
    squeeze = parts.facts.edge.medium_squeeze_mm
    assert squeeze == pytest.approx(min(0.3 * settings.medium_thickness_mm, 0.6))
    at = seat.inset(0.5 * settings.land_mm - 1.0)[3]  # outside the ridge
    z_land = parts.medium.mesh.bounds[0, 2]
    ray = by_trimesh(parts.retainer).ray.intersects_location([[*at, z_land + 1e-3]], [[0.0, 0.0, 1.0]])
    assert ray[0][:, 2].min() - z_land == pytest.approx(settings.medium_thickness_mm - squeeze, abs=1e-6)


@pytest.mark.parametrize("name", PRESSED)
def test_ridge_stands_before_the_groove_all_round_and_never_meets_it(name: str) -> None:
    parts, settings = holder(name), CASES[name]
    middle = seat_of(settings).inset(0.5 * settings.land_mm)
    z_land = parts.medium.mesh.bounds[0, 2]
    ridge = by_trimesh(parts.retainer).ray.intersects_location(
        np.column_stack([middle, np.full(len(middle), z_land - 1.0)]), np.tile([0, 0, 1.0], (len(middle), 1))
    )
    first = np.full(len(middle), np.inf)
    np.minimum.at(first, ridge[1], ridge[0][:, 2])
    clamp = clamp_of(settings)
    wanted = settings.medium_thickness_mm - clamp.squeeze - clamp.ridge
    assert first - z_land == pytest.approx(np.full(len(middle), wanted), abs=0.02)  # facets of the ridge
    assert shared_volume(parts.body, parts.retainer.moved(turned(0.0, -CASES[name].preload_mm - 1e-4))) < 1e-6


def test_a_glued_medium_has_no_ridge_on_it() -> None:
    parts = holder("glued")
    assert shared_volume(parts.retainer, parts.medium) < 1e-6
    assert parts.facts.edge.medium_squeeze_mm is None


@pytest.mark.parametrize("name", ["disc", "pad", "glued"])
def test_frame_catches(name: str) -> None:
    parts = holder(name)
    pulled = parts.retainer.moved(turned(0.0, 1.2))
    assert shared_volume(parts.body, pulled) > 1.0  # the bead behind the rim


@pytest.mark.parametrize("name", SNAPPED)
def test_on_its_way_home_only_the_fingers_are_bent(name: str) -> None:
    # Swept in steps of 0.5 mm from in front: what meets the holder on the way are the beads at the rim, and
    # they overlap it radially by no more than they may bend.
    parts = holder(name)
    rim = seat_of(CASES[name])
    inner = prism(rim.inset(0.5 + 0.21), -100.0, 100.0, "inside of the beads")
    for ahead in np.arange(0.5, 8.0, 0.5):
        frame = parts.retainer.moved(turned(0.0, float(ahead)))
        met = frame.native ^ parts.body.native
        assert isinstance(met, manifold3d.Manifold)
        assert (met ^ inner.native).volume() < 1e-6


def test_screwed_frame_has_its_gap() -> None:
    parts = holder("screwed frame")
    assert shared_volume(parts.body, parts.retainer) < 1e-6
    assert smallest_gap(parts.body, parts.retainer, 1.0) == pytest.approx(0.2, abs=0.02)
    assert shared_volume(parts.body, parts.retainer.moved(turned(0.0, 0.8))) > 1.0


def test_rim_of_a_screwed_frame_stands_round_its_groove_and_is_no_slab() -> None:
    # The groove once broke out of the thinner core, and its roof began in the air as a ring of 68 mm2.
    parts, settings = holder("screwed frame"), CASES["screwed frame"]
    middle, half = 0.5 * settings.disc_mm - 0.5 * settings.land_mm, 0.5 * settings.glue_width_mm
    bed = parts.body.mesh.vertices[:, 2].max()  # printed grid down: the bed face looks out of the mask
    for height in (0.15, 0.35, 0.55):
        section = by_trimesh(parts.body).section([0, 0, 1], [0, 0, bed - height])
        radii = np.hypot(*section.vertices[:, :2].T)
        walls = radii[radii > middle + half - 0.05]
        # The wall outside the groove: 0.8 mm, less the broken edge of 0.4 mm at the bed.
        assert walls.max() - walls.min() > 0.4
    plain = make_holder(HolderSettings(grip="ribs", neck_mm=6.0), PortSettings(), ALLOWANCE)
    # Its rim is 2.8 mm higher and 0.9 mm wider: a ring of 5 mm by 2.8 mm, 370 mm long, is 5,200 mm3.
    assert parts.body.volume - plain.body.volume < 7000.0


def test_finger_by_hand() -> None:
    # 1.5 t y / L^2 with t = 0.9, y = 0.5: from 1.4 above the outer face at -(1 + 2 + 1.6) to the bead's tip
    # at 3.2 - 0.6 - 0.2 - 0.15 + 0.7 = 2.95: L = 6.15 mm: 1.785 %. Force 2000 0.9^3 0.15 / (4 L^3) a mm.
    facts = holder("disc").facts
    assert facts.snap.snap_finger_length_mm == pytest.approx(6.15)
    assert facts.snap.snap_finger_strain_percent == pytest.approx(1.785, abs=0.001)
    per_mm = 2000 * 0.9**3 * 0.15 / (4 * 6.15**3)
    assert facts.snap.retainer_preload_n == pytest.approx(per_mm * math.pi * 122 * (1 - 1.2 / 14.0))


@pytest.mark.parametrize(("name", "length", "width"), [("disc", 110.0, 110.0), ("pad", 98.0, 78.0)])
def test_only_the_crossed_bars_stand_before_the_open_area(name: str, length: float, width: float) -> None:
    parts = holder(name)
    column = prism(seat_of(CASES[name]).inset(6.0), 0.0, 60.0, "open area")
    bars = (3.0 * length + 3.0 * width - 9.0) * 1.6
    # the bars end on a circle of 128 sides and not square: 0.1 %
    assert shared_volume(parts.retainer, column) == pytest.approx(bars, rel=2e-3)


@pytest.mark.parametrize("name", ["disc", "pad"])
def test_the_pre_filter_has_its_room(name: str) -> None:
    settings = CASES[name]
    parts = holder(name)
    z_land = parts.medium.mesh.bounds[0, 2]
    low = z_land + settings.medium_thickness_mm
    inset = parts.facts.edge.prefilter_inset_mm
    pre = prism(seat_of(settings).inset(inset), low, low + settings.prefilter_mm - 1e-6, "pre-filter")
    assert shared_volume(pre, parts.retainer) < 1e-6
    assert shared_volume(pre, parts.body) < 1e-6
