"""Rim and wall built apart give the body that is built at once; what covers their ring sends it back to that.

References: the same body by booleans of the whole shell (manifold3d), trimesh for closedness, and a build
without anything kept from a former one.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import trimesh
from bare import bare_recipe
from main_job.wearers import marlo_prepared
from sealwright.designing.body import Built, build_body, require_uncut, trimmed_rim
from sealwright.designing.context import Context, context_of
from sealwright.designing.prepare import Design, StageCache, design
from sealwright.designing.stages import lug_stage
from sealwright.errors import DoesNotFit
from sealwright.face.surface import FaceSurface
from sealwright.facepiece.body import band_face, placed_lugs, shell_solid, trimmed, with_fittings
from sealwright.facepiece.rim_and_wall import joined_at_ring, rim_profile, rim_solid, ring_between, wall_mesh
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe
from sealwright.solids.boolean import Solid, difference, solid_of, union
from sealwright.solids.distance import MeshDistance
from sealwright.solids.primitives import cuboid
from sealwright.stage_cache import stage_name


def asked() -> Recipe:
    """A printer that takes 35 degrees: the wall then stays off the skin, and the body is built in two."""
    return replace(bare_recipe(), printer=replace(bare_recipe().printer, overhang_limit_deg=35.0))


@cache
def made() -> Design:
    return run_to_end(design(marlo_prepared(), asked()))


def context(face: FaceSurface | None = None) -> Context:
    prepared = made().prepared
    return context_of(prepared if face is None else replace(prepared, face=face), asked(), "final")


def lugs_of(found: Design) -> list:
    return list(zip(lug_stage(context(), found.straps), found.straps, strict=True))


@cache
def in_two() -> Built:
    found = made()
    return build_body(context(), found.shape, found.ports, lugs_of(found))


@cache
def at_once() -> Solid:
    """Without the ring, and with lugs that end on the chamber side of the wall instead of amid it."""
    found = made()
    skin = band_face(found.prepared.face, found.band)
    standing = placed_lugs(lugs_of(found), found.void)
    whole = with_fittings(shell_solid(found.shell), found.ports, found.void)
    return trimmed(union("body", whole, *standing), skin)


def row() -> int:
    return made().band.grid.shape[1] - 1


def test_rim_and_wall_add_up_to_the_shell() -> None:
    shell = made().shell
    rim, wall = rim_solid(rim_profile(shell, row())), wall_mesh(shell, row())
    joined = joined_at_ring(rim.mesh, wall, ring_between(shell, row()))
    assert joined is not None
    # Exact but for rounding: what is left out is the same ring of triangles on both sides.
    assert joined.volume == pytest.approx(rim.volume + wall.volume, rel=1e-12)
    assert joined.genus == shell_solid(shell).genus == 1
    mesh = trimesh.Trimesh(joined.mesh.vertices, joined.mesh.faces, process=False)
    assert mesh.is_watertight
    assert len(mesh.vertices) == shell.outer_side[..., 0].size * 2 + shell.edge[..., 0].size


def test_body_in_two_is_the_body_at_once() -> None:
    built, whole = in_two(), at_once()
    assert built.on_skin is not built.body  # it was built in two
    assert built.body.genus == whole.genus == 5  # the bore, and a slot in each of four lugs
    # Where triangles cross by rounding, which the last bit of a machine decides, `uncrossed` drops
    # edges of up to 2e-4 mm, one after the other: places move by a little more than that, and the volume by
    # less than that over a hundredth of the surface.
    assert built.body.mesh.volume == pytest.approx(whole.volume, rel=1e-7)
    for one, other in ((built.body, whole), (whole, built.body)):
        assert MeshDistance(one.mesh).to(other.mesh.vertices).max() < 4e-4


def test_what_covers_or_cuts_the_ring_is_noticed() -> None:
    shell = made().shell
    rim, wall = rim_solid(rim_profile(shell, row())), wall_mesh(shell, row())
    ring = ring_between(shell, row())
    x, y, z = ring[-40]  # a corner on the outer side
    block = cuboid((x - 2.0, y - 2.0, z - 2.0), (x + 2.0, y + 2.0, z + 2.0), "block")
    covered, cut = union("wall", solid_of(wall, "wall"), block), difference("rim", rim, block)
    assert joined_at_ring(rim.mesh, covered.mesh, ring) is None
    assert joined_at_ring(cut.mesh, wall, ring) is None
    assert joined_at_ring(rim.mesh, wall, ring + 1e-9) is None


def test_wall_that_comes_near_the_skin_is_trimmed_with_the_rest() -> None:
    found = made()
    port = found.ports[0]
    pushed = port.frame.copy()
    pushed[:3, 3] = found.prepared.landmarks["pronasale"] + [0.0, 12.0, 0.0]
    ports = [replace(port, frame=pushed)]
    built = build_body(context(), found.shape, ports, [])
    assert built.on_skin is built.body


def test_skin_that_goes_through_the_wall_is_refused_with_its_place() -> None:
    """A tower 8 mm wide is put on the skin beside the band, 5 mm higher than the wall there."""
    found = made()
    face, shell = found.prepared.face, found.shell
    place = shell.outer_side[100, int(np.flatnonzero(shell.wall)[1])]
    radius = np.linalg.norm(place - face.chart.centre)
    ray = (place - face.chart.centre) / radius
    tower = radius * np.linalg.norm(np.cross(face.chart.directions, ray), axis=-1) < 4.0
    radii = np.where(tower, radius + 5.0, face.radii)
    spiked = replace(face, radii=radii, scan=None)
    built = build_body(context(spiked), found.shape, found.ports, [])
    reference = trimesh.Trimesh(built.body.mesh.vertices, built.body.mesh.faces, process=False)
    assert reference.euler_number == -2  # two holes: the bore, and the tower's
    assert built.cut_open == 1
    with pytest.raises(DoesNotFit, match="skin goes through the body") as refusal:
        require_uncut(spiked, shell, built)
    away = np.array(refusal.value.where.point) - face.chart.centre
    assert np.linalg.norm(np.cross(away, ray)) < 4.0  # the named place lies in the tower
    assert in_two().cut_open == 0
    require_uncut(face, shell, in_two())


def triangles(made: Design) -> set[tuple[int, ...]]:
    """The triangles of the body, each from its lowest corner."""
    faces = made.parts["body"].mesh.faces
    first = faces.argmin(axis=1)[:, None]
    return set(map(tuple, np.take_along_axis(faces, (first + np.arange(3)) % 3, axis=1).tolist()))


def kept_of(cache: StageCache) -> object:
    """What is kept of the trimmed rim."""
    return cache.kept[f"{stage_name(trimmed_rim)} "][1]


@pytest.mark.costly
def test_an_edit_of_the_wall_gives_what_a_fresh_build_gives() -> None:
    def with_wall(wall_mm: float) -> Recipe:
        return replace(asked(), chamber=replace(asked().chamber, wall_mm=wall_mm))

    kept = StageCache()
    run_to_end(design(marlo_prepared(), with_wall(2.0), cache=kept))
    rim = kept_of(kept)
    edited = run_to_end(design(marlo_prepared(), with_wall(2.8), cache=kept))
    assert kept_of(kept) is rim  # or this test would not test what it says
    fresh = run_to_end(design(marlo_prepared(), with_wall(2.8)))
    assert np.array_equal(edited.parts["body"].mesh.vertices, fresh.parts["body"].mesh.vertices)
    assert triangles(edited) == triangles(fresh)  # the modeller lists them in the order its solids were made
    assert (edited.fit.facts, edited.wall.facts) == (fresh.fit.facts, fresh.wall.facts)
    assert edited.entry == fresh.entry and edited.shape.facts == fresh.shape.facts
    assert edited.clearance.nearest_mm == fresh.clearance.nearest_mm
    thinner = run_to_end(design(marlo_prepared(), with_wall(2.0), cache=kept))
    assert thinner.parts["body"].volume < 0.9 * edited.parts["body"].volume
    narrow = replace(with_wall(2.8), band=replace(bare_recipe().band, width_mm=15.5))
    run_to_end(design(marlo_prepared(), narrow, cache=kept))
    assert kept_of(kept) is not rim
