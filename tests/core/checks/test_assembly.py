"""Parts put together: overlaps and ways against CGAL's exact booleans and libigl's winding numbers."""

from __future__ import annotations

from dataclasses import replace

import igl
import igl.copyleft.cgal as cgal
import numpy as np
import pytest
import trimesh
from bare import bare_recipe
from hardware.gauges import ALLOWANCE
from main_job.wearers import marlo_prepared
from report import samples
from sealwright.checks.assembly import AssemblyCheck, Mate, Way, check_assembly
from sealwright.designing.assembly import assembly_of, require_assembled
from sealwright.designing.design import make_design
from sealwright.errors import DoesNotFit
from sealwright.hardware.holder import make_holder
from sealwright.hardware.options import HolderSettings, PortSettings
from sealwright.hardware.ports import make_port
from sealwright.progress import run_to_end
from sealwright.solids.boolean import Solid
from sealwright.solids.primitives import cuboid, cylinder, tube

PORT = make_port(PortSettings(), ALLOWANCE)
HOLDER = make_holder(HolderSettings(), PortSettings(), ALLOWANCE)


def cgal_shared_mm3(one: Solid, two: Solid) -> float:
    """Volume two solids share by CGAL's exact boolean: another library than the modeller."""
    parts = [(np.asarray(s.mesh.vertices), s.mesh.faces.astype(np.int64)) for s in (one, two)]
    vertices, faces = cgal.mesh_boolean(*parts[0], *parts[1], "intersect")[:2]
    return float(trimesh.Trimesh(vertices, faces, process=False).volume) if len(faces) else 0.0


def wound(points: np.ndarray, solid: Solid) -> np.ndarray:
    """Which points lie inside a solid, by libigl's winding numbers."""
    mesh = solid.mesh
    number = igl.winding_number(mesh.vertices, mesh.faces.astype(np.int64), points)
    return np.asarray(number).ravel() > 0.5


def screwed(offset_mm: float = 0.0) -> Mate:
    """The default holder on the default port; moved along the axis without turning it is on wrongly."""
    moved = np.eye(4)
    moved[2, 3] = offset_mm
    return Mate(
        part="holder",
        other="port",
        how="screwed",
        solids=(HOLDER.body.moved(moved), PORT.bored),
        play_mm=ALLOWANCE.gap_mm,
        play_at_mm=0.6,
        way=Way(frame=np.eye(4), travel_mm=PORT.length_mm + 2.0, lead_mm=PortSettings().pitch_mm),
        key="recipe.ports[0].connection",
    )


def only(mate: Mate) -> AssemblyCheck:
    return check_assembly([mate], dict(zip((mate.part, mate.other), mate.solids, strict=True)))


@pytest.mark.costly
def test_holder_goes_on_with_the_stated_play_and_touches_nothing_on_its_way() -> None:
    mate = screwed()
    facts = only(mate).mates[0].facts
    assert facts.fault == ""
    assert facts.overlap_mm3 == pytest.approx(0.0, abs=1e-3)
    # 0.2 mm a side; chords of 128 sides on a radius of 25 mm: 0.008 mm.
    assert facts.play_mm == pytest.approx(ALLOWANCE.gap_mm, abs=0.01)
    holder, port = mate.solids
    for out in (0.0, 0.9, 3.1):
        moved = holder.moved(mate.way.out(out))
        assert cgal_shared_mm3(moved, port) < 1e-3
        near = moved.mesh.vertices[np.hypot(*moved.mesh.vertices[:, :2].T) < 26.0]
        assert out == 0.0 or not wound(near, port).any()  # at home the land lies on the face


def test_holder_on_the_wrong_thread_is_refused_with_the_place() -> None:
    # Half a pitch off the ridges of the cap stand on those of the port.
    mate = screwed(1.25)
    check = only(mate)
    assert check.mates[0].facts.fault == "overlap"
    assert check.mates[0].facts.overlap_mm3 == pytest.approx(cgal_shared_mm3(*mate.solids), rel=1e-6)
    with pytest.raises(DoesNotFit) as caught:
        require_assembled(check)
    assert caught.value.where.key == "recipe.ports[0].connection"
    # The place lies on the thread: between root and crest of a 50 mm thread of depth 0.83 mm.
    assert 23.5 < np.hypot(*caught.value.where.point[:2]) < 25.5


@pytest.mark.parametrize(("off_mm", "fits"), [(0.3, False), (0.5, True)])
def test_strap_without_its_play_is_refused(off_mm: float, fits: bool) -> None:
    strap = cuboid((-7.5, 0.0, off_mm), (7.5, 5.0, off_mm + 1.5), "strap")
    plate = cuboid((-20.0, -10.0, -2.0), (20.0, 10.0, 0.0), "body")
    mate = Mate(
        part="strap 1",
        other="body",
        how="threaded through",
        solids=(strap, plate),
        play_mm=0.5,
        key="recipe.straps.lug",
    )
    if fits:
        require_assembled(only(mate))
        return
    with pytest.raises(DoesNotFit) as caught:
        require_assembled(only(mate))
    assert caught.value.where.key == "recipe.straps.lug"
    assert "0.30 mm" in caught.value.what and "0.5" in caught.value.what


def test_part_that_stands_in_the_way_in_is_found_before_home_is() -> None:
    pin = cylinder(4.0, 0.0, 10.0, "pin")
    bore = tube(4.2, 8.0, 0.0, 10.0, "bore")
    roof = cuboid((-8.0, -8.0, 14.0), (8.0, 8.0, 15.0), "roof")
    way = Way(frame=np.eye(4), travel_mm=12.0)
    free = Mate(part="pin", other="bore", how="pushed in", solids=(pin, bore), play_mm=0.2, way=way)
    blocked = Mate(part="pin", other="roof", how="pushed in", solids=(pin, roof), way=way)
    found = check_assembly([free, blocked], {"pin": pin, "bore": bore, "roof": roof})
    first, second = (mate.facts for mate in found.mates)
    assert first.fault == ""
    # Chords of the bore's 128 sides stand in by 4.2 (1 - cos(pi / 128)) = 0.0013 mm.
    assert first.play_mm == pytest.approx(0.2, abs=0.003)
    assert second.fault == "way"
    assert second.way_overlap_mm3 == pytest.approx(np.pi * 16.0, rel=0.01)  # the pin's section, 1 mm high
    assert found.free_pairs == 1


def test_snapped_frame_bends_on_its_way_and_stays_bent_at_home() -> None:
    way = Way(frame=np.eye(4), travel_mm=10.0, bends_mm=0.5)
    mate = Mate(part="frame", other="holder", how="snapped", solids=(HOLDER.retainer, HOLDER.body), way=way)
    facts = only(mate).mates[0].facts
    # Beads reach 0.5 mm behind the rim, and bear on its slope of 45 degrees with 0.15 mm of preload.
    assert facts.way_depth_mm == pytest.approx(0.5, abs=0.05)
    assert facts.depth_mm == pytest.approx(0.15 / np.sqrt(2.0), abs=0.01)
    assert facts.fault == "overlap"  # unless that depth is stated
    assert only(replace(mate, depth_mm=0.15)).mates[0].facts.fault == ""


def test_squeezed_ring_that_touches_nothing_is_loose() -> None:
    ring, face = tube(18.0, 20.0, 0.0, 2.0, "ring"), cuboid((-30, -30, 1.5), (30, 30, 9), "face")
    mate = Mate(part="ring", other="face", how="pressed", solids=(ring, face), depth_mm=0.5)
    mate = replace(mate, pressed_along=np.array([0.0, 0.0, 1.0]))
    assert only(mate).mates[0].facts.depth_mm == pytest.approx(0.5)
    assert only(mate).mates[0].facts.fault == ""
    off = np.eye(4)
    off[2, 3] = -0.4
    loose = replace(mate, solids=(ring.moved(off), face))
    assert only(loose).mates[0].facts.fault == "loose"


@pytest.mark.heavy
def test_default_mask_goes_together() -> None:
    design = samples.design()
    check = assembly_of(design)
    assert check.faulty == ()
    joined = {frozenset((mate.facts.part, mate.facts.other)) for mate in check.mates}
    for pair in (("holder", "body"), ("retainer", "holder"), ("medium", "retainer"), ("O-ring", "body")):
        assert frozenset(pair) in joined
    assert sum(mate.facts.how == "threaded through" for mate in check.mates) == len(design.straps)
    assert cgal_shared_mm3(design.parts["holder"], design.parts["body"]) < 1e-3


@pytest.mark.heavy
def test_a_thick_coating_leaves_the_thread_its_play() -> None:
    """The play is more than a quarter of the pitch: the flat faces must not be measured instead."""
    recipe = bare_recipe()
    recipe = replace(recipe, allowance=replace(recipe.allowance, coating_mm=0.29))
    check = assembly_of(run_to_end(make_design(marlo_prepared(), recipe)))
    (mate,) = (
        m for m in check.mates if (m.facts.part, m.facts.other, m.facts.how)[::2] == ("holder", "screwed")
    )
    stated = recipe.allowance.clearance_mm / 2.0 + 2.0 * 0.29
    assert mate.facts.play_stated_mm == pytest.approx(stated)
    assert mate.facts.play_stated_mm > 0.25 * recipe.ports[0].connection.pitch_mm
    assert mate.facts.play_mm > 0.95 * mate.facts.play_stated_mm  # chords of the helix
    assert mate.facts.fault == ""
