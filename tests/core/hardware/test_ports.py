"""Ports: room, lands, bore and refusals; printed face down, nothing hangs over but the gland's roof."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pymeshlab
import pytest
from sealwright.errors import BadRecipe, DoesNotFit
from sealwright.hardware.allowance import Allowance
from sealwright.hardware.options import PortSettings
from sealwright.hardware.port_parts import PortParts
from sealwright.hardware.ports import make_port
from sealwright.solids.boolean import Solid, difference, shared_volume, union
from sealwright.solids.primitives import tube

from .gauges import ALLOWANCE, overhang_area, require_printable_solid, section_radii, smallest_gap

DOWN = (0.0, 0.0, -1.0)
KINDS = {
    "printed": PortSettings(),
    "metric": PortSettings(kind="metric", diameter_mm=52),
    "trapezoidal": PortSettings(kind="trapezoidal", diameter_mm=52),
    "gland in the port": PortSettings(gland_side="port"),
    "three starts": PortSettings(starts=3),
    "rd40": PortSettings(kind="rd40"),
    "plain": PortSettings(kind="plain"),
    "valve": PortSettings(kind="valve"),
    "soft ring": PortSettings(seal="soft_ring"),
    "flat": PortSettings(seal="flat"),
}


@cache
def port(name: str) -> PortParts:
    return make_port(KINDS[name], ALLOWANCE)


@cache
def opened(name: str) -> Solid:
    return difference("port", port(name).boss, port(name).bore)


@pytest.mark.parametrize("name", KINDS)
def test_open_port_is_one_closed_piece_with_one_way_through(name: str) -> None:
    require_printable_solid(opened(name))
    assert opened(name).genus == 1


@pytest.mark.parametrize("name", KINDS)
def test_extra_parts_are_sound_and_clear_of_the_port(name: str) -> None:
    for part in port(name).extra:
        require_printable_solid(part)
        assert shared_volume(part, opened(name)) < 1e-6


@pytest.mark.parametrize("name", KINDS)
def test_boss_meets_the_wall_and_reaches_its_length(name: str) -> None:
    parts, settings = port(name), KINDS[name]
    low, high = parts.boss.mesh.bounds[:, 2]
    assert low == pytest.approx(-settings.overlap_mm)
    assert high == pytest.approx(parts.length_mm)
    assert parts.bore.mesh.bounds[0, 2] < low - 1
    assert parts.bore.mesh.bounds[1, 2] > high + 1
    # The stated radius at z = 0 is the real one, and at its lowest the boss hides inside the chamber wall.
    assert section_radii(parts.boss, 0.0)[1] == pytest.approx(parts.boss_radius_mm, abs=0.01)
    assert section_radii(parts.boss, low + 1e-6)[1] <= parts.seat_radius_mm + settings.wall_mm


@pytest.mark.parametrize("name", KINDS)
def test_bore_never_skims_the_chamber_wall(name: str) -> None:
    parts = port(name)
    wall = tube(parts.seat_radius_mm, parts.seat_radius_mm + 2.4, -12.0, 2.0, "chamber wall", 100)
    body = difference("body", union("body", wall, parts.boss), parts.bore)
    lost = wall.volume - shared_volume(wall, body)
    assert lost < 1e-6
    assert body.genus == opened(name).genus


def test_default_port_has_no_crossing_triangles_for_meshlab_either() -> None:
    mesh = opened("printed").mesh
    scene = pymeshlab.MeshSet()
    scene.add_mesh(pymeshlab.Mesh(mesh.vertices, mesh.faces))
    scene.compute_selection_by_self_intersections_per_face()
    assert scene.current_mesh().selected_face_number() == 0


def test_default_thread_prints_face_down_without_overhang() -> None:
    assert overhang_area(opened("printed"), DOWN) == 0.0
    assert port("printed").facts.gland.gland_bridge_mm == 0.0


def test_gland_in_the_port_bridges_and_says_so() -> None:
    facts = port("gland in the port").facts
    gland = facts.gland.groove
    inner, outer = 0.5 * gland.inside_mm, 0.5 * gland.outside_mm
    roof = math.pi * (outer**2 - inner**2) * math.sin(2 * math.pi / 128) / (2 * math.pi / 128)
    assert overhang_area(opened("gland in the port"), DOWN) == pytest.approx(roof, rel=1e-6)
    assert facts.gland.gland_bridge_mm == pytest.approx(gland.width_mm)
    assert any("bridges" in remark.text for remark in port("gland in the port").remarks)


@pytest.mark.parametrize("name", ["plain", "valve", "flat"])
def test_other_ports_print_face_down_without_overhang(name: str) -> None:
    assert overhang_area(opened(name), DOWN) == 0.0


def test_overhanging_flanks_are_said() -> None:
    for name, angle in (("metric", "60"), ("trapezoidal", "75")):
        assert any(f"overhang {angle} degrees" in remark.text for remark in port(name).remarks)
    assert port("printed").remarks == ()


def test_thread_as_a_solid_has_its_diameters() -> None:
    parts = port("printed")
    facts, z = parts.facts, parts.length_mm - 5.0
    radius = np.hypot(*parts.boss.mesh.vertices[:, :2].T)
    assert 2 * radius.max() == pytest.approx(50.0, abs=1e-9)
    low, high = section_radii(opened("printed"), z)
    assert 2 * low == pytest.approx(34.0, abs=0.02)  # bore; facets of 128 sides lie 0.010 mm inside
    assert high == pytest.approx(25.0, abs=0.01)
    assert facts.thread_turns == pytest.approx(3.8)


def test_gland_as_a_solid() -> None:
    parts, plain = port("gland in the port"), port("printed")
    facts, gland = parts.facts.gland, parts.facts.gland.groove
    inner, outer = 0.5 * gland.inside_mm, 0.5 * gland.outside_mm
    share = math.sin(2 * math.pi / 128) / (2 * math.pi / 128)
    groove = math.pi * (outer**2 - inner**2) * gland.depth_mm * share
    assert plain.boss.volume - parts.boss.volume == pytest.approx(groove, rel=1e-9)
    # The ring of plastic between bore and gland, and the one outside it, are the lands.
    assert facts.gland_inner_land_mm == pytest.approx(0.5 * gland.inside_mm - 17.0)
    assert min(facts.gland_inner_land_mm, facts.gland_outer_land_mm) >= 1.2
    assert 0.2 <= gland.squeeze <= 0.3


def test_coating_shrinks_the_male_and_widens_the_bore() -> None:
    bare, coated = port("printed"), make_port(PortSettings(), Allowance(0.4, 0.1))
    wide = [2 * np.hypot(*p.boss.mesh.vertices[:, :2].T).max() for p in (bare, coated)]
    assert wide[0] - wide[1] == pytest.approx(0.2, abs=1e-9)
    assert coated.facts.bore_diameter_mm - bare.facts.bore_diameter_mm == pytest.approx(0.2)


def test_rd40_says_where_its_numbers_come_from() -> None:
    parts = port("rd40")
    assert "MEMORY" in parts.facts.thread.source
    assert any("no EN 148-1 conformity" in remark.text for remark in parts.remarks)
    assert parts.facts.gasket_seat_outer_diameter_mm > parts.facts.gasket_seat_inner_diameter_mm + 8.0


def test_rd40_takes_a_nominal_male_thread() -> None:
    from sealwright.hardware.screw import Helix, screw
    from sealwright.hardware.threads import round_thread

    parts, thread = port("rd40"), round_thread(40, 7)
    length, seat = parts.length_mm, parts.length_mm - 1.5 - 3.8 * thread.pitch_mm
    phase = 0.5 * (seat + 1.5 + length)
    helix = Helix(thread.male.line(), thread.pitch_mm, 1, phase)
    low = seat + 1.5
    male = screw(helix, [(0, low), (21, low), (21, length + 8), (0, length + 8)], "filter thread", 128)
    assert shared_volume(male, opened("rd40")) < 1e-9
    assert smallest_gap(male, opened("rd40"), 1.0) == pytest.approx(0.2, abs=0.02)


def test_bore_wider_than_the_thread_allows_is_refused_with_the_limit() -> None:
    with pytest.raises(DoesNotFit) as caught:
        make_port(PortSettings(bore_mm=46.0), ALLOWANCE)
    assert caught.value.where.key == "port.bore_mm"
    limit = float(caught.value.fix.split("to ")[1].split(" mm")[0])
    make_port(PortSettings(bore_mm=limit, seal="flat"), ALLOWANCE)


def test_ring_that_does_not_fit_the_face_is_refused() -> None:
    with pytest.raises(DoesNotFit) as caught:
        make_port(PortSettings(ring="-226"), ALLOWANCE)
    assert caught.value.where.key == "port.ring"


def test_value_out_of_range_is_refused() -> None:
    with pytest.raises(BadRecipe) as caught:
        make_port(replace(PortSettings(), pitch_mm=0.1), ALLOWANCE)
    assert caught.value.where.key == "port.pitch_mm"


def test_same_input_gives_the_same_bytes() -> None:
    one, two = (make_port(PortSettings(), ALLOWANCE).boss.mesh for _ in range(2))
    assert one.vertices.tobytes() == two.vertices.tobytes()
    assert one.faces.tobytes() == two.faces.tobytes()
