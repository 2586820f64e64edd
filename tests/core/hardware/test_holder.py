"""Holder: sound solids, support-free pose, assembly with the port, air only through the medium."""

from __future__ import annotations

import functools
import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely
import trimesh
from sealwright.errors import BadRecipe, DoesNotFit
from sealwright.hardware.glue_groove import RIDGE_MM
from sealwright.hardware.holder import HolderParts, make_holder
from sealwright.hardware.options import HolderSettings, PortSettings
from sealwright.hardware.ports import make_port
from sealwright.solids.boolean import Solid, difference, pieces, shared_volume, union
from sealwright.solids.primitives import cuboid, cylinder, tube

from .gauges import ALLOWANCE, overhang_area, require_printable_solid, smallest_gap, turned

PORT = PortSettings()
CASES = {
    "disc": HolderSettings(),
    "pad": HolderSettings(shape="pad"),
    "screwed frame": HolderSettings(retainer="screw", grip="ribs", neck_mm=6.0),
    "small, bare": HolderSettings(disc_mm=80.0, retainer="none", grip="none"),
    "glued": HolderSettings(edge_seal="glued", land_mm=6.0),
}


@cache
def holder(name: str) -> HolderParts:
    return make_holder(CASES[name], PORT, ALLOWANCE)


@cache
def port_body() -> Solid:
    parts = make_port(PORT, ALLOWANCE)
    return difference("port", parts.boss, parts.bore)


@pytest.mark.costly
@pytest.mark.parametrize("name", CASES)
def test_parts_are_sound(name: str) -> None:
    for part in holder(name).solids:
        require_printable_solid(part)


def layer(solid: Solid, height: float) -> shapely.Geometry:
    """A level section of a part in its print frame, by trimesh and shapely."""
    mesh = trimesh.Trimesh(solid.mesh.vertices * (1.0, -1.0, -1.0), solid.mesh.faces, process=False)
    mesh.apply_translation((0.0, 0.0, -mesh.bounds[0, 2]))
    path = mesh.section([0, 0, 1], [0, 0, height])
    flat, _ = path.to_2D(to_2D=np.eye(4))
    return even_odd(flat.polygons_closed)


def even_odd(loops: list[shapely.Polygon]) -> shapely.Geometry:
    """What an odd number of closed outlines goes round."""
    return functools.reduce(lambda a, b: a.symmetric_difference(b), [loop.buffer(0) for loop in loops])


@pytest.mark.costly
@pytest.mark.parametrize("name", CASES)
def test_nothing_overhangs_in_the_stated_pose_but_clean_bridges(name: str) -> None:
    # What is level or nearly so and faces down is the groove's ridge (narrower than one line) and the roof.
    parts = holder(name)
    settings = CASES[name]
    low = settings.grid_mm + settings.plenum_mm
    high = low + settings.plenum_rise_mm
    mesh = parts.body.mesh
    down = mesh.face_normals[:, 2] > math.sin(math.radians(45.5))
    height = mesh.bounds[1, 2] - mesh.corners[:, :, 2]
    hangs = down & (height.max(axis=1) > 1e-6)
    at_roof = (height.min(axis=1) > low - 1e-6) & (height.max(axis=1) < high + 1e-6)
    at_ridge = np.abs(height - settings.glue_depth_mm).max(axis=1) < 1e-6
    assert RIDGE_MM < 0.4
    assert not (hangs & ~at_roof & ~at_ridge).any()
    # Every layer over the channels lies on the one below, but for strips between ribs. No disc wider than a
    # clean bridge (5 mm, standards V24a) fits in them; on leaning ribs two layers draw together by as much as
    # they are apart, at both sides.
    area = 0.0
    for z in np.arange(low - 0.05, high + 0.1, 0.2):
        bridges = layer(parts.body, z + 0.2).difference(layer(parts.body, z))
        area += bridges.area
        assert bridges.buffer(-0.5 * (5.0 + 2.0 * 0.2)).is_empty
    assert area > 500.0
    if parts.retainer is not None:
        assert overhang_area(parts.retainer, parts.print_up["retainer"]) == 0.0


def test_the_default_is_light_and_holds_little_air() -> None:
    # 82 g and 47 ml before its roof became a plate on ribs.
    parts = holder("disc")
    assert parts.facts.sizes.holder_mass_solid_g < 36.0
    assert parts.retainer.volume * 1.27e-3 < 11.0
    assert parts.medium_area_mm2 > 10_000.0
    assert parts.facts.holder_air_mm3 < 33_500.0


@pytest.mark.parametrize("name", CASES)
def test_holder_screws_on_the_port_with_the_stated_gap(name: str) -> None:
    body = holder(name).body
    assert shared_volume(body, port_body()) < 1e-6
    # A quarter turn back the thread still has its gap, 0.2 mm a side and at most a facet more.
    quarter = PORT.pitch_mm / 4.0
    loose = body.moved(turned(-math.pi / 2, quarter)).moved(turned(math.pi / 2)).moved(turned(math.pi / 2))
    assert shared_volume(body.moved(turned(math.pi / 2)), port_body()) > 0.1  # turned without advance: jammed
    backed = body.moved(turned(math.pi / 2, quarter))
    assert shared_volume(backed, port_body()) < 1e-6
    assert smallest_gap(backed, port_body(), 1.0) == pytest.approx(0.2, abs=0.02)
    assert loose.volume == pytest.approx(body.volume)


def test_land_lies_on_the_port_s_face_over_the_whole_ring() -> None:
    parts, facts = holder("disc"), make_port(PORT, ALLOWANCE).facts
    z, gland = facts.port_length_mm, facts.gland.groove
    inner, outer = 0.5 * gland.inside_mm, 0.5 * gland.outside_mm
    slab = tube(17.05, 23.8, z, z + 0.5, "land", 128)
    groove = tube(inner, outer, z, z + 0.5, "gland", 128)
    # Land and gland fill the face's annulus between them, without a rest.
    assert shared_volume(parts.body, slab) == pytest.approx(slab.volume - groove.volume, rel=1e-9)
    assert shared_volume(parts.body, groove) < 1e-6
    behind = CASES["disc"].roof_mm
    floor = tube(inner, outer, z + gland.depth_mm, z + gland.depth_mm + behind, "floor", 128)
    assert shared_volume(parts.body, floor) == pytest.approx(floor.volume, rel=1e-9)  # a whole roof behind


def test_pad_sides_are_parallel_to_the_port_frame_when_tight() -> None:
    low, high = holder("pad").medium.mesh.bounds
    assert high[0] - low[0] == pytest.approx(110.0)
    assert high[1] - low[1] == pytest.approx(90.0)


@pytest.mark.parametrize("name", ["disc", "pad"])
def test_air_passes_only_through_the_medium(name: str) -> None:
    # The void around the assembly, port closed at the wearer's end: with the medium in place it falls apart
    # into the outside, the air chamber behind the medium, and closed pockets; without it, chamber and
    # outside are one. The cap is lifted by 0.05 mm so that only the squeezed ring, not touching faces, can
    # hold the joint.
    parts, facts = holder(name), make_port(PORT, ALLOWANCE).facts
    z, gland = facts.port_length_mm, facts.gland.groove
    depth = gland.depth_mm
    inner, outer = 0.5 * gland.inside_mm, 0.5 * gland.outside_mm
    ring = tube(inner - 0.01, outer + 0.01, z - 0.01, z + depth + 0.06, "squeezed ring", 128)
    # The plug reaches out of the room, so that the outside has one boundary and not two.
    plug = cylinder(17.5, -25.0, -1.0, "wearer's end", 128)
    lifted = turned(0.0, 0.05)
    cap, medium = parts.body.moved(lifted), parts.medium.moved(lifted)
    box = cuboid((-80, -80, -20), (80, 80, 80), "room")

    def voids(*solids: Solid) -> list[Solid]:
        return pieces(difference("void", box, union("assembly", *solids)))

    probe = cylinder(2.0, 1.0, z + 8.0, "middle of the bore", 24)
    closed = voids(port_body(), cap, ring, plug, medium)
    inside = [void for void in closed if shared_volume(void, probe) > 1.0]
    assert len(inside) == 1
    assert inside[0] is not closed[0]
    # The chamber is bore plus holder air: at least the open bore, at most a slab over the whole seat.
    assert math.pi * 17**2 * z < inside[0].volume < math.pi * 17**2 * z + 12.0 * parts.medium_area_mm2
    without_medium = voids(port_body(), cap, ring, plug)
    assert shared_volume(without_medium[0], probe) > 1.0
    without_ring = voids(port_body(), cap, plug, medium)
    assert shared_volume(without_ring[0], probe) > 1.0


def test_open_share_is_the_holes_one_sees() -> None:
    # Looked at along the axis: rays through the seat at random places (seeded) that pass the grid plate.
    parts = holder("disc")
    z = parts.body.mesh.bounds[1, 2]
    generator = np.random.default_rng(5)
    radius = 57.0 * np.sqrt(generator.uniform(size=20000))
    turn = generator.uniform(0, 2 * np.pi, 20000)
    start = np.column_stack([radius * np.cos(turn), radius * np.sin(turn), np.full(20000, z + 5.0)])
    mesh = trimesh.Trimesh(parts.body.mesh.vertices, parts.body.mesh.faces, process=False)
    hit = mesh.ray.intersects_location(start, np.tile([0, 0, -1.0], (20000, 1)), multiple_hits=False)
    depth = z - hit[0][:, 2]
    share = 1.0 - np.sum(depth < 1e-3) / 20000
    # binomial scatter of 20000 rays is 0.3 %; three times that
    assert parts.facts.sizes.grid_open_share == pytest.approx(share, abs=0.01)


def test_facts_add_up() -> None:
    facts = holder("disc").facts
    assert facts.sizes.seat_open_area_mm2 == pytest.approx(math.pi * 57.0**2)
    assert facts.medium.area_cm2 == pytest.approx(math.pi * 5.7**2)
    glued = holder("glued").facts
    assert facts.edge.glue_volume_mm3 is None
    # groove 2.4 wide about a mean radius of 58: 0.55 upright, then 1.05 up to a ridge of 0.3: Pappus
    section = 2.4 * 0.55 + 0.5 * (2.4 + 0.3) * 1.05
    assert glued.edge.glue_volume_mm3 == pytest.approx(2 * math.pi * 58.0 * section)
    assert facts.sizes.holder_mass_solid_g == pytest.approx(facts.sizes.holder_solid_volume_mm3 * 1.27e-3)
    assert facts.sizes.thread_engaged_turns >= 3.0
    assert facts.sizes.grid_safety_factor >= 2.0
    assert facts.snap.snap_finger_strain_percent < 2.0


def test_engaged_turns_are_those_of_a_lengthwise_section() -> None:
    # Port and cap cut by the plane y = 0 on the side x > 0: the axial reach over which male material lies
    # outside the middle radius and cap material inside it, by trimesh sections and shapely.
    facts = holder("disc").facts

    def heights(solid: Solid, radius: float, outside: bool) -> np.ndarray:
        mesh = trimesh.Trimesh(solid.mesh.vertices, solid.mesh.faces, process=False)
        path = mesh.section([0, 1, 0], [0, 1e-4, 0])
        flat, _ = path.to_2D(to_2D=np.array([[1, 0, 0, 0], [0, 0, 1, 0], [0, -1, 0, 0], [0, 0, 0, 1.0]]))
        line = shapely.LineString([(radius, -5.0), (radius, 40.0)])
        cut = even_odd(flat.polygons_closed).intersection(line)
        return np.array([np.mean(part.xy[1]) for part in getattr(cut, "geoms", [cut])])

    middle = 25.0 - 2.5 / 6.0 + 0.1  # between the pitch radii of both sides of the gap
    male = heights(port_body(), middle, True)
    female = heights(holder("disc").body, middle, False)
    female = female[(female > male.min() - 3.0) & (female < male.max() + 3.0)]
    span = min(male.max(), female.max()) - max(male.min(), female.min())
    # Ridges are counted from their middles: half a pitch more at each end, and up to a pitch of phase.
    assert facts.sizes.thread_engaged_turns == pytest.approx(span / 2.5 + 0.5, abs=0.6)
    assert facts.sizes.thread_engaged_turns >= 3.0


def test_pleats_multiply_the_area() -> None:
    pleated = make_holder(replace(CASES["disc"], pleat_factor=4.0), PORT, ALLOWANCE)
    flat = holder("disc").facts
    for wide, narrow in zip(pleated.facts.medium.at_flows, flat.medium.at_flows, strict=True):
        assert wide.drop_pa == pytest.approx(narrow.drop_pa / 4)
    assert len(pleated.remarks) < len(holder("disc").remarks)


def test_soft_ring_is_squeezed_by_the_wanted_share() -> None:
    port = PortSettings(seal="soft_ring", soft_proud_mm=0.8)
    parts, port_parts = make_holder(CASES["small, bare"], port, ALLOWANCE), make_port(port, ALLOWANCE)
    ring = port_parts.extra[0]
    height = 0.25 * 0.8  # a quarter of what stands out overlaps the land of the tight cap
    face = port_parts.facts.soft
    area = math.pi * (face.outer**2 - face.inner**2)
    # both are 128-sided: 0.04 % less area than the circles
    assert shared_volume(parts.body, ring) == pytest.approx(area * height, rel=2e-3)


def test_refusals() -> None:
    with pytest.raises(BadRecipe) as caught:
        make_holder(CASES["disc"], PortSettings(kind="cone"), ALLOWANCE)
    assert caught.value.where.key == "port.kind"
    with pytest.raises(DoesNotFit) as small:
        make_holder(replace(CASES["disc"], disc_mm=55.0), PORT, ALLOWANCE)
    assert small.value.where.key == "holder.disc_mm"
    with pytest.raises(DoesNotFit) as narrow:
        make_holder(replace(CASES["disc"], land_mm=4.0, wall_mm=4.0), PORT, ALLOWANCE)
    assert narrow.value.where.key == "holder.land_mm"
    with pytest.raises(DoesNotFit) as groove:
        make_holder(replace(CASES["disc"], glue_depth_mm=0.8), PORT, ALLOWANCE)
    assert groove.value.where.key == "holder.glue_depth_mm"
    with pytest.raises(DoesNotFit) as low:
        make_holder(replace(CASES["disc"], plenum_mm=1.5, opening_mm=14.0), PORT, ALLOWANCE)
    assert low.value.where.key == "holder.plenum_mm"
    with pytest.raises(BadRecipe) as pressed:
        make_holder(replace(CASES["disc"], edge_seal="pressed", retainer="none"), PORT, ALLOWANCE)
    assert pressed.value.where.key == "holder.edge_seal"
    with pytest.raises(BadRecipe) as frame:
        make_holder(HolderSettings(shape="pad", retainer="screw"), PORT, ALLOWANCE)
    assert frame.value.where.key == "holder.retainer"
    with pytest.raises(BadRecipe):
        make_holder(replace(CASES["disc"], medium="cheesecloth"), PORT, ALLOWANCE)


def test_same_input_gives_the_same_bytes() -> None:
    again = make_holder(CASES["disc"], PORT, ALLOWANCE)
    assert again.body.mesh.vertices.tobytes() == holder("disc").body.mesh.vertices.tobytes()
    assert again.body.mesh.faces.tobytes() == holder("disc").body.mesh.faces.tobytes()
