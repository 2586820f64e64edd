"""Invariant 4 of docs/design: the chamber wall has the wanted thickness, measured on the finished solid."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree
from sealwright.facepiece.shell import side_mesh

from .cases import Case
from .oracles import along_normals, as_trimesh, distance


def wall_samples(case: Case, body: trimesh.Trimesh) -> tuple[np.ndarray, np.ndarray]:
    """Middles of the triangles of the solid that lie on the designed outer side of the wall, and normals.

    What lies under a lug or inside the boss is no longer on the surface; beside them the wall thickens where
    their flanks run into it, so 1 mm round them is left out.
    """
    shell = case.design.shell
    rows = np.flatnonzero(shell.wall)
    middle = body.triangles_center
    on_wall = distance(middle, side_mesh(shell.outer_side[:, rows[0] : rows[-1]]), 300.0) < 1e-6
    on_shell = distance(middle, side_mesh(shell.outer_side), 300.0) < 1e-6
    inside = distance(middle, side_mesh(shell.face_side), 300.0) < 1e-6
    other = cKDTree(middle[~on_shell & ~inside])
    keep = on_wall & (body.area_faces > 1e-3) & (other.query(middle)[0] > 1.0)
    # Under the rim the wall is filled so that it prints; 2 mm round a filled grid point nothing is measured.
    filled = shell.outer_side[shell.filled]
    if len(filled):
        keep &= cKDTree(filled).query(middle)[0] > 2.0
    return middle[keep], body.face_normals[keep]


def test_wall_is_as_thick_as_asked(case: Case) -> None:
    body = as_trimesh(case.design.parts["body"].mesh)
    wanted = case.design.recipe.chamber.wall_mm
    places, normals = wall_samples(case, body)
    assert len(places) > 2000
    way = along_normals(body, places, -normals)
    assert np.isfinite(way).all()
    share = (np.abs(way - wanted) <= 0.1 * wanted).mean()
    # The rest is where a ray leaves through a strongly curved place at a slant.
    assert share >= 0.99, (share, np.nanpercentile(way, [0, 1, 50, 99, 100]))


def test_wall_is_nowhere_under_80_percent(case: Case) -> None:
    """From points of the chamber side to the nearest point of the outer side, both of the final solid."""
    body, shell = as_trimesh(case.design.parts["body"].mesh), case.design.shell
    wanted = case.design.recipe.chamber.wall_mm
    places, _ = wall_samples(case, body)
    rows = np.flatnonzero(shell.wall)
    inner = cKDTree(shell.face_side[:, rows[0] - 3 :].reshape(-1, 3))
    outer = cKDTree(shell.outer_side[:, rows[0] - 3 :].reshape(-1, 3))
    middle = body.triangles_center
    chamber_side = body.submesh([inner.query(middle)[0] < outer.query(middle)[0]], append=True)
    thinnest = distance(places, chamber_side).min()
    assert thinnest >= 0.8 * wanted


def test_report_says_what_the_solid_is(case: Case) -> None:
    """Two of our numbers again, by trimesh: the wall's mean, and the volume in front of bosses and lugs."""
    body = as_trimesh(case.design.parts["body"].mesh)
    places, normals = wall_samples(case, body)
    mean = float(np.mean(along_normals(body, places, -normals)))
    # 1 %: ours is a nearest distance at grid points, this one is along normals of triangles
    assert case.design.wall.facts.mean_mm == pytest.approx(mean, rel=0.01)
