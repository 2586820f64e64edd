"""Valve cartridge: flat seat, areas by plain geometry, ring, bore, cover that snaps and clears the flap."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from sealwright.errors import DoesNotFit
from sealwright.hardware.cartridge import CartridgeLayout, cartridge_layout
from sealwright.hardware.options import PortSettings, ValveSettings
from sealwright.hardware.port_parts import PortParts
from sealwright.hardware.ports import make_port
from sealwright.solids.boolean import Solid, difference, shared_volume
from sealwright.solids.primitives import cylinder, tube

from .gauges import ALLOWANCE, overhang_area, require_printable_solid, smallest_gap, turned

FLAT_DOWN = (0.0, 0.0, -1.0)  # up in the print of seat disc and cover


@cache
def parts() -> PortParts:
    return make_port(PortSettings(kind="valve"), ALLOWANCE)


@cache
def layout() -> CartridgeLayout:
    return cartridge_layout(ValveSettings(), ALLOWANCE)


@cache
def body() -> Solid:
    return difference("valve", parts().boss, parts().bore)


def disc() -> Solid:
    return parts().extra[0]


def test_seat_is_flat_and_alone_in_its_plane() -> None:
    # Everything in the highest plane of the disc is seat, spokes and hub, exactly level: the first layer.
    mesh, z = disc().mesh, parts().facts.valve_seat_plane_z_mm
    top = np.abs(mesh.corners[:, :, 2] - z).max(axis=1) < 1e-9
    ring = math.pi * (9.2**2 - 8.0**2)
    hub = math.pi * (3.1**2 - 1.5**2)
    spokes = 3 * 1.6 * (8.0 - 3.1)
    assert mesh.bounds[1, 2] == pytest.approx(z)
    # sides of 128 and 64, and the round ends of the spokes
    assert mesh.face_areas[top].sum() == pytest.approx(ring + hub + spokes, rel=0.015)


def test_seat_disc_prints_seat_down_without_supports() -> None:
    require_printable_solid(disc())
    assert disc().genus == 4  # three openings between three spokes, and the hole of the button
    mesh, z = disc().mesh, parts().facts.valve_seat_plane_z_mm
    off_bed = np.abs(mesh.corners[:, :, 2] - z).max(axis=1) > 1e-9
    # Beside the bed, the cone to the neck is flattest: rise 0.7 per radius, atan(1 / 0.7) = 55 degrees.
    steep = mesh.face_normals[off_bed, 2]
    assert math.degrees(math.asin(steep.max())) < 56.0


def test_areas() -> None:
    facts = parts().facts
    assert facts.flap_diameter_mm == 20.0
    assert facts.valve_open_area_mm2 == pytest.approx(math.pi * (8.0**2 - 3.1**2) - 3 * 1.6 * (8.0 - 3.1))
    assert facts.valve_seat_area_mm2 == pytest.approx(math.pi * (9.2**2 - 8.0**2))
    assert facts.valve_lift_area_mm2 == pytest.approx(math.pi * 20 * 3)


def test_ring_is_squeezed_between_spigot_and_bore() -> None:
    # AS568-018: 18.77 x 1.78 mm (rings table). The usual squeeze is 20 to 30 %, stretch up to 3 %.
    plan, facts = layout(), parts().facts
    assert (facts.valve_ring, plan.ring.inside_mm, plan.ring.section_mm) == ("-018", 18.77, 1.78)
    gap = plan.socket - plan.groove
    assert 0.20 < 1.0 - gap / 1.78 < 0.30
    assert 0.0 < 2.0 * plan.groove / 18.77 - 1.0 < 0.03
    # The groove of the bore lies over that of the spigot: there the ring is eased and holds the cartridge.
    z = parts().length_mm + plan.ring_middle
    around = tube(plan.socket - 0.05, plan.socket + 0.2, z - 0.3, z + 0.3, "ring's place", 128)
    assert shared_volume(around, body()) < 1e-6


def test_cartridge_slides_in_along_its_axis() -> None:
    # The gap is half of the clearance on diameter all the way; home, the flange lies on the boss.
    assert shared_volume(disc(), body()) < 1e-6
    assert smallest_gap(disc().moved(turned(0.0, 0.3)), body(), 1.0) == pytest.approx(0.2, abs=0.02)
    for out in np.arange(0.5, layout().depth + 1.0, 0.5):
        assert shared_volume(disc().moved(turned(0.0, float(out))), body()) < 1e-6
    assert shared_volume(disc().moved(turned(0.0, -0.3)), body()) > 1.0


def test_flap_closes_the_seat_all_round() -> None:
    (flap,) = parts().bought
    assert shared_volume(flap, disc()) < 1e-9
    z = parts().facts.valve_seat_plane_z_mm
    rim = tube(8.05, 9.15, z - 0.3, z, "seat", 128)
    assert shared_volume(rim, disc()) == pytest.approx(rim.volume, rel=1e-6)


def test_cover_snaps_on_and_clears_the_lifted_flap() -> None:
    cover = parts().extra[1]
    require_printable_solid(cover)
    assert shared_volume(cover, disc()) < 1e-6
    assert shared_volume(cover, body()) < 1e-6
    z = parts().facts.valve_seat_plane_z_mm
    lifted = cylinder(10.0, z, z + 3.0, "flap", 64)
    assert shared_volume(cover, lifted) < 1e-9
    assert shared_volume(cover.moved(turned(0.0, 0.8)), disc()) > 1.0  # the bead holds it
    assert overhang_area(cover, FLAT_DOWN) == 0.0


def test_dome_is_said_to_bridge() -> None:
    domed = make_port(PortSettings(kind="valve", valve=ValveSettings(dome_mm=0.4)), ALLOWANCE)
    assert domed.facts.valve_spoke_bridge_mm == pytest.approx(16.0)
    assert any("bridge 16.0 mm" in remark.text for remark in domed.remarks)


def test_closed_up_valve_is_refused() -> None:
    tight = replace(ValveSettings(), flap_mm=15.0, button_mm=8.0)
    with pytest.raises(DoesNotFit) as caught:
        make_port(PortSettings(kind="valve", valve=tight), ALLOWANCE)
    assert caught.value.where.key == "port.valve.spokes"
