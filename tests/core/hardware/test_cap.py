"""Blind cap: closes the bore, screws on free of the port, prints closed end down."""

from __future__ import annotations

import igl
import numpy as np
import pytest
import trimesh
from sealwright.checks.assembly import Way
from sealwright.hardware.cap import PLATE_MM, port_cap
from sealwright.hardware.options import PortSettings
from sealwright.hardware.ports import make_port

from .gauges import ALLOWANCE, overhang_area, require_printable_solid, smallest_gap

KINDS = {
    "ring in the cap": PortSettings(),
    "ring in the port": PortSettings(gland_side="port"),
    "flat ring": PortSettings(seal="flat"),
    "small": PortSettings(diameter_mm=34.0, bore_mm=20.0),
    "trapezoidal": PortSettings(kind="trapezoidal", pitch_mm=3.0),
}


@pytest.mark.parametrize("name", KINDS)
def test_cap_is_sound_and_prints_closed_end_down(name: str) -> None:
    cap = port_cap(KINDS[name], ALLOWANCE)
    require_printable_solid(cap)
    assert cap.genus == 0  # no way through
    steep = 80.0 if name == "trapezoidal" else 45.5  # flanks of 15 degrees, as the port's remark says
    assert overhang_area(cap, (0.0, 0.0, -1.0), steep) < 1.0


@pytest.mark.parametrize("name", KINDS)
def test_cap_screws_off_with_its_play_and_covers_the_bore(name: str) -> None:
    settings = KINDS[name]
    cap, port = port_cap(settings, ALLOWANCE), make_port(settings, ALLOWANCE)
    way = Way(frame=np.eye(4), travel_mm=port.length_mm, lead_mm=settings.pitch_mm * settings.starts)
    mesh = trimesh.Trimesh(cap.mesh.vertices, cap.mesh.faces, process=False)
    for out in (0.3, 0.25 * settings.pitch_mm + 1.0, 4.0):
        moved = cap.moved(way.out(out))
        number = igl.winding_number(
            port.bored.mesh.vertices, port.bored.mesh.faces.astype(np.int64), moved.mesh.vertices
        )
        assert not (np.asarray(number).ravel() > 0.5).any()  # libigl, another library than the modeller
        # Half the clearance on diameter; the gap at the face is larger than that so far out.
        assert smallest_gap(moved, port.bored, 1.0) == pytest.approx(ALLOWANCE.gap_mm, abs=0.02)
    # A ray up the bore meets the plate on the axis: its lower side is the land, or the ring's there.
    hits = mesh.ray.intersects_location([[0.0, 0.0, -50.0]], [[0.0, 0.0, 1.0]])[0][:, 2]
    assert hits.max() - hits.min() >= PLATE_MM - 1e-9
