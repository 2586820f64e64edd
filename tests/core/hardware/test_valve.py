"""Exhalation valve: flat seat, free areas by plain geometry, cover that snaps and clears the flap."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from sealwright.errors import DoesNotFit
from sealwright.hardware.options import PortSettings, ValveSettings
from sealwright.hardware.port_parts import PortParts
from sealwright.hardware.ports import make_port
from sealwright.solids.boolean import Solid, difference, shared_volume
from sealwright.solids.primitives import cylinder, tube

from .gauges import ALLOWANCE, overhang_area, require_printable_solid, smallest_gap, turned

VALVE = ValveSettings()


@cache
def parts() -> PortParts:
    return make_port(PortSettings(kind="valve"), ALLOWANCE)


@cache
def body() -> Solid:
    return difference("valve", parts().boss, parts().bore)


def test_seat_is_flat_and_alone_in_its_plane() -> None:
    # Everything in the highest plane is seat, spokes and hub, exactly level: the first layer of a port-down
    # print.
    mesh, z = body().mesh, parts().facts.valve_seat_plane_z_mm
    top = np.abs(mesh.corners[:, :, 2] - z).max(axis=1) < 1e-9
    ring = math.pi * (13.2**2 - 12.0**2)
    hub = 2 * math.pi * (4.0**2 - 2.0**2) / 2
    spokes = 4 * 1.6 * (12.0 - 4.0)
    assert mesh.bounds[1, 2] == pytest.approx(z)
    # sides of 128 and 64, and the round ends of the spokes
    assert mesh.face_areas[top].sum() == pytest.approx(ring + hub + spokes, rel=0.01)


def test_open_area() -> None:
    facts = parts().facts
    by_hand = math.pi * (12.0**2 - 4.0**2) - 4 * 1.6 * (12.0 - 4.0)
    assert facts.valve_open_area_mm2 == pytest.approx(by_hand)
    assert facts.valve_seat_area_mm2 == pytest.approx(math.pi * (13.2**2 - 12.0**2))
    assert facts.valve_lift_area_mm2 == pytest.approx(math.pi * 28 * 4)


def test_flap_closes_the_seat_all_round() -> None:
    flap = cylinder(0.5 * VALVE.flap_mm, parts().length_mm, parts().length_mm + 0.8, "flap", 128)
    assert shared_volume(flap, body()) < 1e-9
    rim = tube(12.05, 13.15, parts().length_mm - 0.3, parts().length_mm, "seat", 128)
    assert shared_volume(rim, body()) == pytest.approx(rim.volume, rel=1e-6)


def test_cover_snaps_on_and_clears_the_lifted_flap() -> None:
    cover = parts().extra[0]
    require_printable_solid(cover)
    assert shared_volume(cover, body()) < 1e-6
    assert smallest_gap(cover, body(), 1.0) == pytest.approx(0.2, abs=0.02)
    lifted = cylinder(0.5 * VALVE.flap_mm, parts().length_mm, parts().length_mm + VALVE.lift_mm, "flap", 64)
    assert shared_volume(cover, lifted) < 1e-9
    assert shared_volume(cover.moved(turned(0.0, 0.8)), body()) > 1.0  # the bead holds it
    assert overhang_area(cover, (0.0, 0.0, -1.0)) == 0.0


def test_dome_is_said_to_bridge() -> None:
    domed = make_port(PortSettings(kind="valve", valve=replace(VALVE, dome_mm=0.4)), ALLOWANCE)
    assert domed.facts.valve_spoke_bridge_mm == pytest.approx(24.0)
    assert any("bridge 24.0 mm" in remark.text for remark in domed.remarks)


def test_closed_up_valve_is_refused() -> None:
    tight = replace(VALVE, flap_mm=15.0, button_mm=8.0)
    with pytest.raises(DoesNotFit) as caught:
        make_port(PortSettings(kind="valve", valve=tight), ALLOWANCE)
    assert caught.value.where.key == "port.valve.spokes"
