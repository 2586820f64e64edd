"""Spikes: single vertices that a sensor put far off the surface round them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from ..mesh import Floats, Ints, TriMesh
from .edge_graph import EdgeGraph, edge_lengths

Indices = NDArray[np.int64]
ROUNDS = 2

HEIGHT_SHARE = 0.5
"""A spike stands off the mean of its neighbours by more than this share of the edge length round it ..."""

LEAST_MM = 0.3
"""... and by more than this ..."""

STAND_OUT = 2.5
"""... and this many times as far as its neighbours stand off theirs (all from open sensor-like scans)."""


def without_spikes(mesh: TriMesh, graph: EdgeGraph) -> tuple[TriMesh, int, float]:
    """Pull spikes back to the mean of their neighbours; their triangles stay.

    Vertices on a free border are left alone: their neighbours lie on one side only.

    Returns
    -------
    mesh, count, largest : the mesh, how many vertices were moved, and the farthest move in mm.
    """
    links = graph.symmetric()
    degree = np.maximum(np.diff(links.indptr), 1).astype(np.float64)
    length = edge_lengths(mesh, graph)
    count = graph.vertex_count
    edge = np.bincount(graph.low, length, count) + np.bincount(graph.high, length, count)
    limit = np.maximum(HEIGHT_SHARE * edge / degree, LEAST_MM)
    limit[graph.vertices_at(graph.border) | (degree < 3)] = np.inf
    vertices = mesh.vertices.copy()
    mean = (links @ vertices) / degree[:, None]
    off = np.linalg.norm(vertices - mean, axis=1)
    moved = np.zeros(count, dtype=bool)
    for _ in range(ROUNDS):
        found = _standing(vertices, mesh.faces, links, degree, mean, off, limit)
        if len(found) == 0:
            break
        vertices[found] = mean[found]
        moved[found] = True
        # Only the neighbourhood of what moved has changed.
        near = np.unique(np.concatenate([links[found].indices, found]))
        mean[near] = (links[near] @ vertices) / degree[near, None]
        off[near] = np.linalg.norm(vertices[near] - mean[near], axis=1)
    if not moved.any():
        return mesh, 0, 0.0
    largest = float(np.linalg.norm(vertices[moved] - mesh.vertices[moved], axis=1).max())
    return TriMesh(vertices, mesh.faces), int(moved.sum()), largest


def _standing(
    vertices: Floats, faces: Ints, links: csr_matrix, degree: Floats, mean: Floats, off: Floats, limit: Floats
) -> Indices:
    """Vertices (k,) that stand off the surface round them as spikes do."""
    some = np.flatnonzero(off > limit)
    usual = (links[some] @ off) / degree[some]
    some = some[off[some] > STAND_OUT * usual]
    # Only what stands up counts, not a vertex that merely slid along the surface.
    height = np.einsum("ij,ij->i", vertices[some] - mean[some], _normals(vertices, faces, some))
    return np.asarray(some[np.abs(height) > limit[some]])


def _normals(vertices: Floats, faces: Ints, chosen: Indices) -> Floats:
    """Area-weighted normals (k, 3) of a few vertices."""
    slot = np.full(len(vertices), -1)
    slot[chosen] = np.arange(len(chosen))
    faces = faces[(slot[faces] >= 0).any(axis=1)]
    c = vertices[faces]
    vectors = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])
    summed = np.zeros((len(chosen), 3))
    for corner in range(3):
        row = slot[faces[:, corner]]
        np.add.at(summed, row[row >= 0], vectors[row >= 0])
    length = np.linalg.norm(summed, axis=1, keepdims=True)
    return np.asarray(np.divide(summed, length, out=np.zeros_like(summed), where=length > 0))
