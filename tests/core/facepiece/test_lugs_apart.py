"""Lugs keep out of each other's room: two by their solids, many chosen together, six on a narrow face."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import igl
import igl.copyleft.cgal as cgal
import numpy as np
import pytest
import trimesh
from sealwright.designing.design import make_design
from sealwright.facepiece.lugs_apart import LugRoom, chosen_together, meets_mm
from sealwright.hardware.allowance import AllowanceSettings, allowance_of
from sealwright.hardware.lug_wall import plane_wall
from sealwright.hardware.lugs import STRAP_PLAY_MM, lug_extent, make_lug
from sealwright.hardware.options import LugSettings
from sealwright.jobs.make import Source, prepare_source
from sealwright.limits import limit
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe
from trials.places import open_data


def room_at(x: float, y: float) -> LugRoom:
    frame = np.eye(4)
    frame[:2, 3] = x, y
    return LugRoom(frame, lug_extent(LugSettings(), allowance_of(AllowanceSettings()), plane_wall()))


@pytest.mark.parametrize(("x", "y"), [(20.0, 0.0), (23.0, 4.0), (0.0, -3.0), (29.0, 0.0), (0.0, -60.0)])
def test_two_lugs_meet_where_their_solids_do(x: float, y: float) -> None:
    # By CGAL's exact boolean of the lugs' own solids, upright on a plane: one beside or under the other.
    solid = make_lug(LugSettings(), allowance_of(AllowanceSettings())).solid
    points, faces = np.asarray(solid.mesh.vertices), solid.mesh.faces.astype(np.int64)
    shared = cgal.mesh_boolean(points, faces, points + np.array([x, y, 0.0]), faces, "intersect")[1]
    assert (meets_mm(room_at(0.0, 0.0), room_at(x, y)) > 0.0) == (len(shared) > 0)
    assert (meets_mm(room_at(x, y), room_at(0.0, 0.0)) > 0.0) == (len(shared) > 0)


def test_places_are_chosen_together_as_by_trying_all() -> None:
    rng = np.random.default_rng(3)
    sizes = (4, 3, 5, 2)
    costs = [rng.uniform(0.0, 10.0, k) for k in sizes]
    pairs = [(a, b) for a in range(4) for b in range(a + 1, 4)]
    between = {(a, b): rng.uniform(0.0, 10.0, (sizes[a], sizes[b])) for a, b in pairs}

    def total(places: tuple[int, ...]) -> float:
        one = sum(costs[n][place] for n, place in enumerate(places))
        return float(one + sum(between[a, b][places[a], places[b]] for a, b in pairs))

    best = min(product(*(range(k) for k in sizes)), key=total)
    assert chosen_together(costs, between) == list(best)


@pytest.mark.heavy
@pytest.mark.parametrize("name", ["face-m36", "head-a"])
def test_six_straps_have_their_play(name: str) -> None:
    # By libigl's distances from places on each strap to the body. On the narrow face-m36, one pair after the
    # other, the third strap had 0.36 mm: the fins of the first pair stood in its way. On head-a, all pairs at
    # once, the first had none.
    recipe = replace(Recipe(), straps=replace(Recipe().straps, lug=replace(Recipe().straps.lug, count=6)))
    prepared = run_to_end(prepare_source(Source(open_data(name)), recipe))
    design = run_to_end(make_design(prepared, recipe))
    body = design.parts["body"].mesh
    assert len(design.webbing) == 6
    for webbing, place in zip(design.webbing, design.straps, strict=True):
        strap = webbing.moved(place.frame).mesh
        mesh = trimesh.Trimesh(strap.vertices, strap.faces, process=False)
        points, _ = trimesh.sample.sample_surface(mesh, 4000, seed=1)
        squared = igl.point_mesh_squared_distance(
            np.vstack([points, strap.vertices]), body.vertices, body.faces.astype(np.int64)
        )[0]
        assert np.sqrt(squared.min()) > STRAP_PLAY_MM - limit("assembly_play").value
