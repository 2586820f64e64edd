"""Spikes: single vertices that a sensor put far off the surface round them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ...mesh import Bools, Floats, Ints, TriMesh
from .edge_graph import EdgeGraph

Indices = NDArray[np.int64]
ROUNDS = 2

HEIGHT_SHARE = 0.5
"""A spike stands off the mean of its neighbours by more than this share of the edge length round it ..."""

LEAST_MM = 0.3
"""... and by more than this ..."""

STAND_OUT = 2.5
"""... and this many times as far as its neighbours stand off theirs (all from open sensor-like scans)."""

SLID_OUT = 5.0
"""What slid along the surface and folds it stands out that many times as far: a single vertex among six
neighbours of six each moves their means by a sixth of its way, one of several in a fold stands out less."""


def without_spikes(mesh: TriMesh, graph: EdgeGraph) -> tuple[TriMesh, Indices, float]:
    """Pull spikes back to the mean of their neighbours; their triangles stay.

    Vertices on a free border are left alone: their neighbours lie on one side only.

    Returns
    -------
    mesh, moved, largest : the mesh, the vertices (k,) that were moved, and the farthest move in mm.
    """
    fixed = graph.vertices_at(graph.border) | (graph.degree < 3)
    vertices = mesh.vertices.copy()
    mean = graph.neighbour_sum(vertices) / np.maximum(graph.degree, 1)[:, None]
    off = vertices - mean
    distance = np.sqrt(np.einsum("ij,ij->i", off, off))
    moved = np.zeros(len(vertices), dtype=bool)
    for _ in range(ROUNDS):
        some = np.flatnonzero((distance > LEAST_MM) & ~fixed)
        found = _standing(vertices, mesh.faces, graph, mean, distance, some) if len(some) else some
        if len(found) == 0:
            break
        vertices[found] = mean[found]
        moved[found] = True
        _update(vertices, graph, mean, distance, found)
    if not moved.any():
        return mesh, np.flatnonzero(moved), 0.0
    largest = float(np.linalg.norm(vertices[moved] - mesh.vertices[moved], axis=1).max())
    return TriMesh(vertices, mesh.faces), np.flatnonzero(moved), largest


def _standing(
    vertices: Floats, faces: Ints, graph: EdgeGraph, mean: Floats, distance: Floats, some: Indices
) -> Indices:
    """Of some vertices, those (k,) that stand off the surface round them as spikes do."""
    own, other = _links(graph, some)
    degree = graph.degree[some]
    slot = np.zeros(len(vertices), dtype=np.int64)
    slot[some] = np.arange(len(some))
    length = np.linalg.norm(vertices[own] - vertices[other], axis=1)
    edge = np.bincount(slot[own], length, minlength=len(some)) / degree
    usual = np.bincount(slot[own], distance[other], minlength=len(some)) / degree
    limit, single = np.maximum(HEIGHT_SHARE * edge, LEAST_MM), distance[some] > SLID_OUT * usual
    stands = (distance[some] > limit) & (distance[some] > STAND_OUT * usual)
    some, limit, single = some[stands], limit[stands], single[stands]
    # What stands up counts, and a single one that slid out of the ring of its neighbours and so folds the
    # surface; not a vertex that merely slid along it.
    normals, folds = _normals(vertices, faces, some)
    height = np.einsum("ij,ij->i", vertices[some] - mean[some], normals)
    return np.asarray(some[(np.abs(height) > limit) | (single & folds)])


def _links(graph: EdgeGraph, some: Indices) -> tuple[Indices, Indices]:
    """Pairs (own, neighbour) for all neighbours of some vertices."""
    chosen = np.zeros(graph.vertex_count, dtype=bool)
    chosen[some] = True
    down, up = chosen[graph.low], chosen[graph.high]
    own = np.concatenate([graph.low[down], graph.high[up]])
    other = np.concatenate([graph.high[down], graph.low[up]])
    return own.astype(np.int64), other.astype(np.int64)


def _update(vertices: Floats, graph: EdgeGraph, mean: Floats, distance: Floats, moved: Indices) -> None:
    """Bring mean and distance up to date round the vertices that moved."""
    near = np.unique(np.concatenate([*_links(graph, moved), moved]))
    own, other = _links(graph, near)
    slot = np.zeros(len(vertices), dtype=np.int64)
    slot[near] = np.arange(len(near))
    for axis in range(3):
        total = np.bincount(slot[own], vertices[other, axis], minlength=len(near))
        mean[near, axis] = total / np.maximum(graph.degree[near], 1)
    distance[near] = np.linalg.norm(vertices[near] - mean[near], axis=1)


def _normals(vertices: Floats, faces: Ints, chosen: Indices) -> tuple[Floats, Bools]:
    """Area-weighted normals (k, 3) of a few vertices, and at which (k,) a triangle faces the other way.

    The sum of the triangles' areas round a vertex is that of the ring of its neighbours, wherever the vertex
    lies; a triangle that faces against it lies folded over the others.
    """
    slot = np.full(len(vertices), -1)
    slot[chosen] = np.arange(len(chosen))
    faces = faces[(slot[faces] >= 0).any(axis=1)]
    c = vertices[faces]
    vectors = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])
    summed = np.zeros((len(chosen), 3))
    rows = slot[faces]
    for row in rows.T:
        np.add.at(summed, row[row >= 0], vectors[row >= 0])
    folds = np.zeros(len(chosen), dtype=bool)
    for row in rows.T:
        against = (row >= 0) & (np.einsum("ij,ij->i", vectors, summed[row]) < 0.0)
        folds[row[against]] = True
    length = np.linalg.norm(summed, axis=1, keepdims=True)
    return np.divide(summed, length, out=np.zeros_like(summed), where=length > 0), folds
