"""Delaunay flips of the procedural head against Qhull (scipy), and on bent and closed surfaces."""

from __future__ import annotations

import numpy as np
import trimesh
from scipy.spatial import Delaunay

from demo_scenes.edge_flips import rounder


def flat_strips(rows: int, columns: int) -> tuple[np.ndarray, np.ndarray]:
    """Scattered points in a plane, in a grid of triangles that all lean the same way, and sheared."""
    random = np.random.default_rng(4)
    y, x = np.mgrid[:rows, :columns].astype(float)
    inner = (y > 0) & (y < rows - 1) & (x > 0) & (x < columns - 1)
    x[inner] += random.uniform(-0.3, 0.3, inner.sum())
    y[inner] += random.uniform(-0.3, 0.3, inner.sum())
    vertices = np.stack([x + 2.0 * y, y, 0 * x], axis=-1).reshape(-1, 3)
    index = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]
    faces = np.concatenate([np.stack(t, axis=-1).reshape(-1, 3) for t in ((a, b, d), (b, c, d))])
    return vertices, faces


def test_plane_points_get_the_triangles_that_qhull_finds() -> None:
    vertices, faces = flat_strips(12, 17)
    flipped = {tuple(sorted(face)) for face in rounder(vertices, faces).tolist()}
    whole = {tuple(sorted(face)) for face in Delaunay(vertices[:, :2]).simplices.tolist()}
    area = trimesh.Trimesh(vertices, faces, process=False).area
    # The outline of the sheared grid is convex, so both fill it; 1e-9 of it is rounding.
    assert trimesh.Trimesh(vertices, list(flipped), process=False).area == np.float64(area).round(9)
    assert flipped == whole
    assert flipped != {tuple(sorted(face)) for face in faces.tolist()}


def test_border_orientation_and_topology_stay() -> None:
    vertices, faces = flat_strips(9, 14)
    vertices[:, 2] = 0.1 * np.sin(vertices[:, 0])
    before, after = (trimesh.Trimesh(vertices, f, process=False) for f in (faces, rounder(vertices, faces)))
    assert after.euler_number == before.euler_number == 1
    assert after.is_winding_consistent
    assert (after.face_normals[:, 2] > 0).all() == (before.face_normals[:, 2] > 0).all()
    assert len(after.faces) == len(before.faces)


def test_round_triangles_stay_as_they_are() -> None:
    ball = trimesh.creation.icosphere(subdivisions=3)
    assert (rounder(ball.vertices, ball.faces) == ball.faces).all()


def test_an_edge_that_would_fold_the_surface_stays() -> None:
    """A narrow groove along an edge that angles alone would flip: the new triangles would stand up."""
    vertices = np.array([[-3.0, 0, 0], [3.0, 0, 0], [0, 0.4, 2.9], [0, -0.4, 2.9]])
    faces = np.array([[0, 1, 2], [1, 0, 3]])
    assert (rounder(vertices, faces) == faces).all()
