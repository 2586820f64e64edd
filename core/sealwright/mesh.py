"""The one mesh type of the core: vertices in millimetres, triangles counter-clockwise seen from outside."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .errors import BadNumbers, NoSurface, Where, first_point

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class TriMesh:
    """Triangles, checked once at the door and read-only afterwards.

    Attributes
    ----------
    vertices : (n, 3) float64, mm, finite.
    faces : (m, 3) int32, indices into ``vertices``, m >= 1.

    Build one with `trimesh_of`, which checks; the constructor trusts its caller.
    """

    vertices: Floats
    faces: Ints

    def __post_init__(self) -> None:
        self.vertices.setflags(write=False)
        self.faces.setflags(write=False)

    @cached_property
    def corners(self) -> Floats:
        """Triangle corners (m, 3, 3), mm."""
        return self.vertices[self.faces]

    @cached_property
    def face_vectors(self) -> Floats:
        """Area vectors (m, 3), mm2: outward normal times twice the area."""
        c = self.corners
        return np.asarray(np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0]))

    @cached_property
    def face_areas(self) -> Floats:
        """Triangle areas (m,), mm2."""
        return np.asarray(0.5 * np.linalg.norm(self.face_vectors, axis=1))

    @cached_property
    def face_normals(self) -> Floats:
        """Unit normals (m, 3); zero for degenerate triangles."""
        length = np.linalg.norm(self.face_vectors, axis=1, keepdims=True)
        unit = np.divide(self.face_vectors, length, out=np.zeros_like(self.face_vectors), where=length > 0)
        return np.asarray(unit)

    @cached_property
    def vertex_normals(self) -> Floats:
        """Area-weighted unit vertex normals (n, 3); zero where undefined."""
        summed = np.zeros_like(self.vertices)
        for corner in range(3):
            for axis in range(3):
                summed[:, axis] += np.bincount(
                    self.faces[:, corner], self.face_vectors[:, axis], minlength=len(self.vertices)
                )
        length = np.linalg.norm(summed, axis=1, keepdims=True)
        unit = np.divide(summed, length, out=np.zeros_like(summed), where=length > 0)
        return np.asarray(unit)

    @cached_property
    def volume(self) -> float:
        """Signed volume in mm3 by the divergence theorem; meaningful only for closed meshes."""
        c = self.corners - self.vertices.mean(axis=0)
        return float(np.einsum("ij,ij->", c[:, 0], np.cross(c[:, 1], c[:, 2])) / 6.0)

    @cached_property
    def area(self) -> float:
        """Surface area, mm2."""
        return float(self.face_areas.sum())

    @cached_property
    def bounds(self) -> Floats:
        """Axis-aligned bounds (2, 3), mm: lowest and highest corner."""
        return np.stack([self.vertices.min(axis=0), self.vertices.max(axis=0)])

    @property
    def extents(self) -> Floats:
        """Size along each axis (3,), mm."""
        return np.asarray(self.bounds[1] - self.bounds[0])

    def moved(self, transform: Floats) -> TriMesh:
        """The mesh under a 4x4 transform; a mirroring one also turns the triangles round."""
        linear = transform[:3, :3]
        faces = self.faces[:, ::-1].copy() if np.linalg.det(linear) < 0 else self.faces
        return TriMesh(turned(self.vertices, linear) + transform[:3, 3], faces)

    def flipped(self) -> TriMesh:
        """The same mesh with every triangle turned round."""
        return TriMesh(self.vertices, self.faces[:, ::-1].copy())

    def submesh(self, keep: Bools) -> TriMesh:
        """The triangles where ``keep`` (m,) is true, with unused vertices dropped.

        Raises
        ------
        NoSurface : nothing is kept.
        """
        faces = self.faces[keep]
        if len(faces) == 0:
            raise NoSurface("No triangle is left of this part of the mesh.", "mesh", "Widen the selection.")
        used = np.zeros(len(self.vertices), dtype=bool)
        used[faces] = True
        place = np.cumsum(used, dtype=np.int32) - np.int32(1)
        return TriMesh(self.vertices[used], place[faces])


def turned(vectors: Floats, matrix: Floats) -> Floats:
    """Rows (n, 3) times the transpose of a matrix (3, 3).

    A BLAS shares such a thin product among threads, which costs ten times as much where they have to wait.
    """
    return np.asarray(np.einsum("ij,kj->ki", matrix, vectors))


def dots(a: Floats, b: Floats) -> Floats:
    """Scalar products (...) of vectors (..., 3); sums over three numbers are slow in other ways."""
    return np.asarray(np.einsum("...i,...i->...", a, b))


def at_all_corners(vertex: Bools, faces: Ints) -> Bools:
    """Triangles (m,) all of whose corners are marked in ``vertex`` (n,)."""
    return np.asarray(vertex[faces[:, 0]] & vertex[faces[:, 1]] & vertex[faces[:, 2]])


def at_any_corner(vertex: Bools, faces: Ints) -> Bools:
    """Triangles (m,) with a corner that is marked in ``vertex`` (n,)."""
    return np.asarray(vertex[faces[:, 0]] | vertex[faces[:, 1]] | vertex[faces[:, 2]])


def trimesh_of(vertices: ArrayLike, faces: ArrayLike, role: str = "mesh") -> TriMesh:
    """Check arrays and make a mesh of them.

    Parameters
    ----------
    vertices : (n, 3) numbers, mm.
    faces : (m, 3) integers.
    role : what the mesh is, for error messages.

    Raises
    ------
    NoSurface : no vertices or no triangles.
    BadNumbers : wrong shapes, NaN or infinite coordinates, index out of range.
    """
    v = np.array(vertices, dtype=np.float64)
    f = np.array(faces)
    if v.size == 0 or f.size == 0:
        raise NoSurface(
            f"The {role} has {len(v)} points and {len(f)} triangles.",
            Where(role),
            "Export the scan as a surface with triangles, not as a point cloud.",
        )
    if v.ndim != 2 or v.shape[1] != 3 or f.ndim != 2 or f.shape[1] != 3 or f.dtype.kind not in "iu":
        raise BadNumbers(
            f"The {role} has vertices of shape {v.shape} and faces of shape {f.shape}, type {f.dtype}.",
            Where(role),
            "Give vertices as (n, 3) numbers and faces as (m, 3) whole numbers.",
        )
    bad = np.flatnonzero(~np.isfinite(v).all(axis=1))
    if len(bad):
        raise BadNumbers(
            f"{len(bad)} of {len(v)} points of the {role} are not finite numbers.",
            Where(role, indices=tuple(int(i) for i in bad[:100]), frame="scan"),
            "Export the scan again; the file is damaged.",
        )
    if f.min() < 0 or f.max() >= len(v):
        wrong = np.flatnonzero((f < 0).any(axis=1) | (f >= len(v)).any(axis=1))
        near = first_point(v[np.clip(f[wrong[0]], 0, len(v) - 1)])
        raise BadNumbers(
            f"{len(wrong)} triangles of the {role} point at vertices that do not exist (there are {len(v)}).",
            Where(role, point=near, frame="scan", indices=tuple(int(i) for i in wrong[:100])),
            "Export the scan again; the file is damaged.",
        )
    return TriMesh(np.ascontiguousarray(v), np.ascontiguousarray(f, dtype=np.int32))


def joined(*meshes: TriMesh) -> TriMesh:
    """Several meshes as one, vertices in the order given; nothing is welded."""
    starts = np.cumsum([0, *[len(m.vertices) for m in meshes]])
    faces = [m.faces + start for m, start in zip(meshes, starts, strict=False)]
    return TriMesh(np.vstack([m.vertices for m in meshes]), np.vstack(faces).astype(np.int32))


def edge_use(faces: Ints) -> tuple[Ints, NDArray[np.int64], NDArray[np.int64]]:
    """Undirected edges and how often triangles run along them each way.

    Parameters
    ----------
    faces : (m, 3) int.

    Returns
    -------
    edges : (e, 2) int32, lower index first.
    forward, backward : (e,) uses from low to high index and from high to low.
    """
    directed = np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]).astype(np.int64)
    low, high = directed.min(axis=1), directed.max(axis=1)
    count = int(faces.max()) + 1 if len(faces) else 1
    keys, inverse = np.unique(low * count + high, return_inverse=True)
    up = directed[:, 0] < directed[:, 1]
    forward = np.bincount(inverse, weights=up, minlength=len(keys)).astype(np.int64)
    backward = np.bincount(inverse, weights=~up, minlength=len(keys)).astype(np.int64)
    edges = np.stack([keys // count, keys % count], axis=1).astype(np.int32)
    return edges, forward, backward
