"""A valve on the wall of a whole mask: it has room, goes in, lets breathe, or is refused by name."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import trimesh
from bare import bare_recipe
from predict.wearers import invented
from sealwright.designing.context import context_of
from sealwright.designing.design import Design, make_design
from sealwright.designing.exhalation import _surroundings
from sealwright.designing.stages import lug_stage
from sealwright.errors import DoesNotFit
from sealwright.facepiece.cylinder_room import Cylinder
from sealwright.facepiece.valve_place import Spot, find_spot
from sealwright.hardware.cartridge import cartridge_layout
from sealwright.hardware.options import ExhalationSettings, ValveSettings
from sealwright.hardware.port_facts import ValvePortFacts
from sealwright.predict.air import breathing_of
from sealwright.progress import run_to_end
from sealwright.solids.boolean import Solid

pytestmark = pytest.mark.heavy


@cache
def side() -> Design:
    recipe = replace(bare_recipe(), exhalation=ExhalationSettings(place="left"))
    return run_to_end(make_design(invented(), recipe))


def shared_mm3(one: Solid, two: Solid) -> float:
    """Volume two solids share, by libigl's exact boolean: another library than the modeller."""
    import igl.copyleft.cgal as cgal

    parts = [(np.asarray(s.mesh.vertices), s.mesh.faces.astype(np.int64)) for s in (one, two)]
    vertices, faces = cgal.mesh_boolean(*parts[0], *parts[1], "intersect")[:2]
    return float(trimesh.Trimesh(vertices, faces, process=False).volume) if len(faces) else 0.0


def test_no_two_parts_of_the_assembly_overlap() -> None:
    parts = side().parts
    assert {"body", "holder", "retainer", "valve-seat", "valve-cover"} == set(parts)
    for one, two in (("body", "valve-seat"), ("body", "valve-cover"), ("valve-seat", "valve-cover")):
        assert shared_mm3(parts[one], parts[two]) < 1e-3, (one, two)
    assert shared_mm3(parts["holder"], parts["valve-cover"]) < 1e-3


def test_cartridge_goes_in_along_its_axis() -> None:
    design = side()
    valve = design.ports[1]
    axis = valve.frame[:3, 2]
    for out in (0.5, 2.0, valve.parts.travel_mm):
        for name in ("valve-seat", "valve-cover"):
            moved = np.eye(4)
            moved[:3, 3] = out * axis
            assert shared_mm3(design.parts["body"], design.parts[name].moved(moved)) < 1e-3, (name, out)


def test_body_has_one_more_way_through_and_the_valve_stands_on_the_left() -> None:
    design = side()
    mesh = design.parts["body"].mesh
    solid = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    assert solid.is_watertight
    assert solid.body_count == 1
    # Holes: face to port, valve, and a slot in each lug; by Euler's formula.
    assert 1 - solid.euler_number // 2 == 2 + len(design.straps)
    assert design.ports[1].frame[0, 3] > 5.0  # +X is the wearer's left


def test_breathing_keeps_its_limits_with_the_valve() -> None:
    checks = breathing_of(side()).limits
    assert any(check.limit.scope == "body with valve" for check in checks)
    for check in checks:
        assert check.value_pa <= check.limit.limit_pa, check.limit.name


def test_bore_of_the_valve_is_dead_space() -> None:
    facts = side().ports[1].parts.facts
    bore = math.pi / 4.0 * facts.valve_seat_inner_diameter_mm**2 * facts.valve_seat_plane_z_mm
    assert breathing_of(side()).dead_space.valve_ml == pytest.approx(bore / 1000.0)


def test_flap_that_finds_no_room_is_refused_with_what_would_fit() -> None:
    large = ExhalationSettings(place="chin", valve=ValveSettings(flap_mm=48.0))
    with pytest.raises(DoesNotFit, match="48 mm has no room: under the chin") as caught:
        run_to_end(make_design(invented(), replace(bare_recipe(), exhalation=large), "preview"))
    assert caught.value.where.key == "recipe.exhalation.place"
    assert "fits" in caught.value.fix
    # The port was moved out for it in vain: to move it out is no advice.
    assert "longer wall" not in caught.value.fix
    assert caught.value.fix.endswith("further out was tried and does not help.")


def test_valve_on_a_kept_port_is_told_of_the_port_further_out() -> None:
    # Nothing is tried then: the port stays where the maker wants it.
    large = ExhalationSettings(place="chin", valve=ValveSettings(flap_mm=48.0))
    kept = replace(bare_recipe().ports[0], further_out=False, front_mm=27.0)
    with pytest.raises(DoesNotFit, match="48 mm has no room") as caught:
        run_to_end(
            make_design(invented(), replace(bare_recipe(), exhalation=large, ports=(kept,)), "preview")
        )
    assert "longer wall" in caught.value.fix and "does not help" not in caught.value.fix


def test_first_port_moves_out_for_a_valve_under_the_chin() -> None:
    nearest = run_to_end(make_design(invented(), bare_recipe(), "sketch"))
    large = ExhalationSettings(place="chin", valve=ValveSettings(flap_mm=34.0))
    design = run_to_end(make_design(invented(), replace(bare_recipe(), exhalation=large), "preview"))
    valve = design.ports[1]
    assert isinstance(valve.parts.facts, ValvePortFacts)
    assert valve.frame[2, 2] < -0.5  # its axis looks down
    front = design.shape.facts.port_front_mm
    assert 5.0 <= front - nearest.shape.facts.port_front_mm <= 25.0
    told = [remark.text for remark in design.remarks if "further out than it must" in remark.text]
    assert len(told) == 1
    assert f"{front:.1f} mm in front of the lips" in told[0]


def test_valve_keeps_clear_of_a_further_port() -> None:
    """A cylinder where the valve would stand alone: it finds another place, off the cylinder, or none."""
    design = side()
    context = context_of(invented(), design.recipe, "final")
    standing = list(zip(lug_stage(context, design.straps), design.straps, strict=True))
    around = _surroundings(context, design.shape, standing, ())
    plan = cartridge_layout(design.recipe.exhalation.valve, context.allowance, 16.0)
    alone = find_spot(plan, "left", around)
    assert isinstance(alone, Spot)
    taken = Cylinder(alone.frame, 10.0, -8.0, 20.0)
    found = find_spot(plan, "left", replace(around, cylinders=(*around.cylinders, taken), tubes=(taken,)))
    if isinstance(found, Spot):
        ring = plan.tube * np.array([[np.cos(t), np.sin(t), 0.0] for t in np.linspace(0.0, 6.2, 32)])
        foot = ring @ found.frame[:3, :3].T + found.frame[:3, 3]
        local = (foot - alone.frame[:3, 3]) @ alone.frame[:3, :3]
        inside = (np.hypot(local[:, 0], local[:, 1]) < 9.9) & (np.abs(local[:, 2]) < 7.9)
        assert not inside.any()
    else:
        assert found.blocked_by


def test_automatic_sets_none_where_the_body_prints_without_supports() -> None:
    design = run_to_end(make_design(invented(), bare_recipe(), "sketch"))
    assert len(design.ports) == 1
    small = replace(bare_recipe(), holder=replace(bare_recipe().holder, disc_mm=100.0))
    assert len(run_to_end(make_design(invented(), small, "sketch")).ports) == 1
    free = replace(small, chamber=replace(small.chamber, overhang="free"))
    assert len(run_to_end(make_design(invented(), free, "sketch")).ports) == 2
