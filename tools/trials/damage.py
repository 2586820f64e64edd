"""Seeded damage to face scans, as sensors and careless exports do it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.ndimage import gaussian_filter
from sealwright.mesh import TriMesh, trimesh_of

from .faces import random_pose

Rng = np.random.Generator


def keep_vertices(mesh: TriMesh, keep: np.ndarray) -> TriMesh:
    return mesh.submesh(keep[mesh.faces].all(axis=1))


def noise(mesh: TriMesh, rng: Rng, marks: dict[str, np.ndarray]) -> TriMesh:
    """White noise of 0.1 to 0.5 mm along the normals, and smooth waves of 0.1 to 0.6 mm."""
    white = rng.normal(scale=rng.uniform(0.1, 0.5), size=len(mesh.vertices))
    field = gaussian_filter(rng.normal(size=(24, 24, 24)), 1.0)
    field *= rng.uniform(0.1, 0.6) / field.std()
    low, size = mesh.bounds[0], float(mesh.extents.max())
    cell = np.clip(((mesh.vertices - low) / size * 23).astype(int), 0, 23)
    return TriMesh(mesh.vertices + (white + field[tuple(cell.T)])[:, None] * mesh.vertex_normals, mesh.faces)


def holes(mesh: TriMesh, rng: Rng, marks: dict[str, np.ndarray]) -> TriMesh:
    """Round holes of 3 to 9 mm radius anywhere on the face."""
    near = np.linalg.norm(mesh.vertices - marks["subnasale"], axis=1) < 110.0
    keep = np.ones(len(mesh.vertices), dtype=bool)
    for centre in rng.choice(np.flatnonzero(near), rng.integers(3, 20)):
        keep &= np.linalg.norm(mesh.vertices - mesh.vertices[centre], axis=1) > rng.uniform(3.0, 9.0)
    return keep_vertices(mesh, keep)


def crop(mesh: TriMesh, rng: Rng, marks: dict[str, np.ndarray]) -> TriMesh:
    """Only a ball about the nose base is left, its centre off by up to 25 mm, 80 to 130 mm in radius."""
    centre = marks["subnasale"] + rng.uniform(-25.0, 25.0, 3)
    return keep_vertices(mesh, np.linalg.norm(mesh.vertices - centre, axis=1) < rng.uniform(80.0, 130.0))


def no_under_chin(mesh: TriMesh, rng: Rng, marks: dict[str, np.ndarray]) -> TriMesh:
    """The scan ends 15 mm above to 5 mm below the chin."""
    up = marks["sellion"] - marks["menton"]
    up /= np.linalg.norm(up)
    height = (mesh.vertices - marks["menton"]) @ up
    return keep_vertices(mesh, height > rng.uniform(-5.0, 15.0))


def coarse(mesh: TriMesh, rng: Rng, marks: dict[str, np.ndarray]) -> TriMesh:
    """Vertices gathered in cells of 3 to 6 mm: a mesh with a few thousand triangles."""
    cell = np.floor(mesh.vertices / rng.uniform(3.0, 6.0)).astype(np.int64)
    _, label = np.unique(cell, axis=0, return_inverse=True)
    label = label.reshape(-1)
    count = np.bincount(label)
    v = np.stack([np.bincount(label, mesh.vertices[:, a]) / count for a in range(3)], axis=1)
    f = label[mesh.faces]
    whole = (f[:, 0] != f[:, 1]) & (f[:, 1] != f[:, 2]) & (f[:, 2] != f[:, 0])
    return trimesh_of(v, f[whole])


def outliers(mesh: TriMesh, rng: Rng, marks: dict[str, np.ndarray]) -> TriMesh:
    """One vertex in three hundred thrown up to 15 mm off."""
    v = mesh.vertices.copy()
    bad = rng.random(len(v)) < 1 / 300
    v[bad] += rng.uniform(-15.0, 15.0, (int(bad.sum()), 3))
    return TriMesh(v, mesh.faces)


def turned(mesh: TriMesh, rng: Rng, marks: dict[str, np.ndarray]) -> TriMesh:
    """Inside out."""
    return mesh.flipped()


def patches_turned(mesh: TriMesh, rng: Rng, marks: dict[str, np.ndarray]) -> TriMesh:
    """Some round patches wound the other way."""
    flip = np.zeros(len(mesh.faces), dtype=bool)
    centre = mesh.vertices[mesh.faces[:, 0]]
    for spot in rng.choice(len(centre), 4):
        flip |= np.linalg.norm(centre - centre[spot], axis=1) < rng.uniform(5.0, 20.0)
    return TriMesh(mesh.vertices, np.where(flip[:, None], mesh.faces[:, ::-1], mesh.faces))


def blob(mesh: TriMesh, rng: Rng, marks: dict[str, np.ndarray]) -> TriMesh:
    """Something else in the scan: a ball of 30 to 70 mm radius 150 to 300 mm away."""
    import trimesh

    ball = trimesh.creation.icosphere(4, rng.uniform(30.0, 70.0))
    way = rng.normal(size=3)
    centre = marks["subnasale"] + way / np.linalg.norm(way) * rng.uniform(150.0, 300.0)
    v = np.vstack([mesh.vertices, ball.vertices + centre])
    return trimesh_of(v, np.vstack([mesh.faces, ball.faces + len(mesh.vertices)]))


KINDS: tuple[Callable[[TriMesh, Rng, dict[str, np.ndarray]], TriMesh], ...] = (
    noise, holes, crop, no_under_chin, coarse, outliers, turned, patches_turned, blob,
)  # fmt: skip


def damaged(
    mesh: TriMesh, marks: dict[str, np.ndarray], seed: int, most: int = 3
) -> tuple[TriMesh, dict[str, np.ndarray], list[str]]:
    """A scan with up to ``most`` kinds of damage in a random pose, its truth there, and the kinds."""
    rng = np.random.default_rng(seed)
    chosen = rng.choice(len(KINDS), rng.integers(1, most + 1), replace=False)
    for index in sorted(chosen):
        mesh = KINDS[index](mesh, rng, marks)
    move = random_pose(seed)
    points = {key: move[:3, :3] @ point + move[:3, 3] for key, point in marks.items()}
    return mesh.moved(move), points, [KINDS[i].__name__ for i in sorted(chosen)]
