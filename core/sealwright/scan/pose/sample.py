"""Even samples of a skin, chosen by area along the face list so that a moved scan gives moved samples."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ...mesh import Bools, Floats, Ints, TriMesh

WALK = 5
"""About this many triangles are looked at for each sample; denser meshes are read with a stride."""


@dataclass(frozen=True, eq=False)
class SkinSamples:
    """Points spread evenly over a mesh.

    Attributes
    ----------
    points : (k, 3) mm, scan frame.
    normals : (k, 3) unit normals, averaged over the neighbourhood, following the winding of the mesh.
    spacing_mm : square root of the area each point stands for.
    """

    points: Floats
    normals: Floats
    spacing_mm: float

    def where(self, keep: Bools) -> SkinSamples:
        """The samples where ``keep`` (k,) is true."""
        return SkinSamples(self.points[keep], self.normals[keep], self.spacing_mm)


def sample_skin(
    mesh: TriMesh, spacing_mm: float, at_most: int, faces: Ints | None = None, smooth: bool = True
) -> SkinSamples:
    """Spread points over a mesh, one per ``spacing_mm`` squared of area, at most ``at_most``.

    Walking along the running sum of areas in the order of the faces depends on no axis of the scan, and
    taking triangle corners in the order of their indices makes a mirrored mesh give mirrored points.

    Parameters
    ----------
    mesh : the scan, mm.
    spacing_mm, at_most : density of the samples and a limit to their number.
    faces : (m, 3) only these triangles of the mesh; all when None.
    smooth : average the normals over the neighbourhood; plain triangle normals otherwise.
    """
    faces = mesh.faces if faces is None else faces
    stride = max(1, len(faces) // max(WALK * at_most, 50_000))
    faces = faces[::stride]
    corners = mesh.vertices[faces]
    vectors = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    twice_area = np.linalg.norm(vectors, axis=1)
    running = np.cumsum(0.5 * twice_area)
    total = float(running[-1])
    wanted = int(np.clip(round(total * stride / spacing_mm**2), 200, at_most))
    chosen = np.searchsorted(running, (np.arange(wanted) + 0.5) * (total / wanted))
    chosen = np.minimum(chosen, len(running) - 1)
    corners = mesh.vertices[np.sort(faces[chosen], axis=1)]
    points = np.einsum("kc,kcj->kj", _barycentric(wanted), corners)
    normals = vectors[chosen] / np.maximum(twice_area[chosen], 1e-300)[:, None]
    normals = _smooth_normals(points, normals) if smooth else normals
    return SkinSamples(points, normals, float(np.sqrt(total * stride / wanted)))


def _barycentric(count: int) -> Floats:
    """Well-spread barycentric weights (count, 3) from the golden-ratio sequence in two dimensions."""
    # The plastic number gives the two-dimensional analogue of the golden-ratio sequence (common practice).
    plastic = 1.32471795724474602596
    index = np.arange(1, count + 1)
    u, v = (index / plastic) % 1.0, (index / plastic**2) % 1.0
    fold = u + v > 1.0
    u, v = np.where(fold, 1.0 - u, u), np.where(fold, 1.0 - v, v)
    return np.stack([u, v, 1.0 - u - v], axis=1)


def _smooth_normals(points: Floats, normals: Floats) -> Floats:
    """Mean of the nearest normals, leaving out those that point the other way (n, 3)."""
    count = min(9, len(points))
    _, near = cKDTree(points).query(points, k=count)
    around = normals[near.reshape(len(points), count)]
    same = np.einsum("kij,kj->ki", around, normals) > 0
    summed = np.einsum("kij,ki->kj", around, same.astype(np.float64))
    length = np.linalg.norm(summed, axis=1, keepdims=True)
    return np.asarray(np.divide(summed, length, out=normals.copy(), where=length > 1e-12))


def front_most(x: Floats, z: Floats, height: Floats, cell_mm: float, depth_mm: float) -> Bools:
    """Samples (n,) at most ``depth_mm`` behind the highest of their cell: what an eye would see.

    A cell is centred on the origin, so that turning the axes half round or mirroring changes nothing.
    """
    column, row = np.rint(x / cell_mm).astype(np.int64), np.rint(z / cell_mm).astype(np.int64)
    _, cell = np.unique((row - row.min()) * (np.ptp(column) + 1) + column - column.min(), return_inverse=True)
    top = np.full(int(cell.max()) + 1, -np.inf)
    np.maximum.at(top, cell, height)
    return np.asarray(height > top[cell] - depth_mm)
