"""The shell: closed, outward, of the wanted thickness; folds refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
import trimesh
from main_job.oracles import along_normals, as_trimesh, crossings_by_meshlab, distance
from sealwright.errors import DoesNotFit
from sealwright.facepiece.shell import grid_quads, quads_to_triangles, require_unfolded, shell_mesh, side_mesh

from .scenes import BARE, RADIUS_MM, scene


@pytest.mark.parametrize("skin", BARE)
def test_shell_is_a_closed_outward_ring_without_crossings(skin: str) -> None:
    mesh = shell_mesh(scene(skin).shell)
    reference = as_trimesh(mesh)
    assert reference.is_watertight
    assert reference.volume > 0
    assert reference.euler_number == 0
    assert crossings_by_meshlab(mesh) == 0


@pytest.mark.parametrize("skin", BARE)
def test_wall_has_its_thickness(skin: str) -> None:
    """By rays along the normals of the finished body's outer wall."""
    made = scene(skin)
    body, shell = as_trimesh(made.body.mesh), made.shell
    rows = np.flatnonzero(shell.wall)
    middle = body.triangles_center
    away = distance(middle, side_mesh(shell.outer_side[:, rows[1] : rows[-1]]))
    on_wall = away < 1e-6
    assert on_wall.sum() > 2000
    way = along_normals(body, middle[on_wall], -body.face_normals[on_wall])
    # 5 %: triangles of 1.8 mm on a wall that bends with a radius of 10 mm and more
    assert np.percentile(way, [1, 99]) == pytest.approx([2.0, 2.0], rel=0.05)


def test_body_on_a_sphere_is_a_body_of_revolution() -> None:
    """Pappus: volume is the way of the section's centroid, 2 pi r, times the section's area (shapely)."""
    made = scene("sphere")
    cut = trimesh.intersections.mesh_plane(as_trimesh(made.body.mesh), [0, 0, 1.0], [0, 0, 0])[:, :, :2]
    lines = shapely.unary_union([shapely.LineString(line) for line in np.round(cut, 7)])
    # Rounding joins the ends of neighbouring pieces, which are computed from the same edges.
    whole = shapely.polygonize([lines]).geoms
    half = [shapely.intersection(p, shapely.box(0.0, -300.0, 300.0, 300.0)) for p in whole]
    # The line is a circle to 0.05 mm, so one section stands for all: 0.3 %.
    expected = sum(2 * np.pi * p.centroid.x * p.area for p in half if p.area > 1.0)
    assert made.body.volume == pytest.approx(expected, rel=3e-3)


def test_contact_face_on_a_sphere_has_the_strip_s_area() -> None:
    """Area of the body's surface on the sphere: a zone, 2 pi R^2 (cos a - cos b), from its own rims."""
    body = scene("sphere").body.mesh
    # Squares of the skin are merged where that costs at most 0.015 mm; the rim's corners lie on such chords.
    on_skin = (np.abs(np.linalg.norm(body.corners, axis=-1) - RADIUS_MM) < 0.016).all(axis=1)
    polar = np.arccos(-body.vertices[np.unique(body.faces[on_skin]), 1] / RADIUS_MM)
    expected = 2 * np.pi * RADIUS_MM**2 * (np.cos(polar.min()) - np.cos(polar.max()))
    assert body.face_areas[on_skin].sum() == pytest.approx(expected, rel=0.02)
    assert RADIUS_MM * (polar.max() - polar.min()) >= 15.0  # the asked width and what touches beside it


def test_quads_of_a_ring_close_it() -> None:
    quads = grid_quads(6, 3)
    assert quads.shape == (12, 4)
    assert quads[-1].tolist() == [16, 1, 2, 17]  # the last station runs into the first
    triangles = quads_to_triangles(quads, 6)
    assert len(triangles) == 24


def test_fold_is_refused_with_part_and_place() -> None:
    shell = scene("sphere").shell
    require_unfolded(shell)
    folded = shell.outer_side.copy()
    row = int(np.flatnonzero(shell.wall)[8])
    folded[40, row] = folded[40, row + 3]
    with pytest.raises(DoesNotFit, match="outer side of the chamber wall folds") as refusal:
        require_unfolded(replace(shell, outer_side=folded))
    assert np.linalg.norm(np.array(refusal.value.where.point) - shell.outer_side[40, row]) < 8.0


def test_quad_that_crosses_itself_like_a_bow_tie_is_refused() -> None:
    """Two stations change places in one row: as a whole the quads beside them still face outwards."""
    shell = scene("sphere").shell
    row = int(np.flatnonzero(shell.wall)[8])
    folded = shell.outer_side.copy()
    one, two = shell.outer_side[40, row], shell.outer_side[41, row]
    folded[40, row], folded[41, row] = one + 0.7 * (two - one), two + 0.7 * (one - two)
    tied = replace(shell, outer_side=folded)
    assert crossings_by_meshlab(shell_mesh(tied)) > 0
    with pytest.raises(DoesNotFit, match="outer side of the chamber wall folds") as refusal:
        require_unfolded(tied)
    assert np.linalg.norm(np.array(refusal.value.where.point) - one) < 8.0
