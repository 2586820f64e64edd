"""Cuts out of a head as a hand-held sensor leaves them: ragged borders, holes, no pinched vertices."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from sealwright.mesh import Bools, Floats, Ints, TriMesh, edge_use


def waves(points: Floats, length_mm: float, rng: np.random.Generator, count: int = 48) -> Floats:
    """Smooth noise (n,) of unit variance over points (n, 3): a sum of plane waves with random directions.

    Parameters
    ----------
    length_mm : correlation length; the covariance is close to a Gaussian of that standard deviation.
    """
    numbers = rng.normal(size=(3, count)) / length_mm
    phases = rng.uniform(0.0, 2.0 * np.pi, count)
    value = np.zeros(len(points))
    for number, phase in zip(numbers.T, phases, strict=True):
        value += np.cos(points @ number + phase)
    return np.asarray(value * np.sqrt(2.0 / count))


def face_patch(mesh: TriMesh, ragged_mm: float = 4.0, seed: int = 0) -> TriMesh:
    """The face alone, from hairline to under-chin and in front of the ears, with a ragged border.

    Parameters
    ----------
    mesh : a head in the face frame, mm.
    ragged_mm : how far the border wanders (standard deviation), mm; 0 cuts along a smooth line.
    """
    rng = np.random.default_rng(seed)
    middle = mesh.corners.mean(axis=1)
    x, y, z = middle.T
    oval = (np.hypot(x / 82.0, (z - 2.0) / 100.0) - 1.0) * 85.0
    inside = np.maximum(oval, y - 78.0)
    inside += ragged_mm * (waves(middle, 9.0, rng) + 0.4 * rng.normal(size=len(middle)))
    return mesh.submesh(tidy(mesh.faces, inside < 0.0))


def with_holes(mesh: TriMesh, centres: Floats, radii_mm: Floats, rng: np.random.Generator) -> TriMesh:
    """The mesh with ragged holes around points (k, 3) of radii (k,), mm."""
    middle = mesh.corners.mean(axis=1)
    keep = np.ones(len(middle), dtype=bool)
    edge = 1.0 + 0.15 * waves(middle, 5.0, rng)
    for centre, radius in zip(centres, radii_mm, strict=True):
        keep &= np.linalg.norm(middle - centre, axis=1) > radius * edge
    return mesh.submesh(tidy(mesh.faces, keep))


def tidy(faces: Ints, keep: Bools) -> Bools:
    """The wish ``keep`` (m,) reduced to one piece whose border never touches itself.

    A border vertex with more than two border edges is a pinch; its triangles go, until none is left.
    """
    keep = keep.copy()
    while True:
        edges, forward, backward = edge_use(faces[keep])
        border = edges[forward + backward == 1]
        vertices, uses = np.unique(border, return_counts=True)
        pinched = vertices[uses > 2]
        if len(pinched) == 0:
            break
        keep &= ~np.isin(faces, pinched).any(axis=1)
    return _largest_piece(faces, keep)


def _largest_piece(faces: Ints, keep: Bools) -> Bools:
    kept = faces[keep]
    count = int(faces.max()) + 1
    links = np.vstack([kept[:, [0, 1]], kept[:, [1, 2]]])
    graph = coo_matrix((np.ones(len(links)), links.T), shape=(count, count))
    labels = connected_components(graph, directed=False)[1][kept[:, 0]]
    result = keep.copy()
    result[keep] = labels == np.bincount(labels).argmax()
    return result
