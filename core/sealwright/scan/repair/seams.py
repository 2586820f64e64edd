"""Open seams: borders of patches that run along each other closer than any scanner resolves."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from ...mesh import Ints, TriMesh
from .edge_graph import EdgeGraph, edge_graph

SEAM_MM = 0.01


def welded_borders(mesh: TriMesh, graph: EdgeGraph, within_mm: float = SEAM_MM) -> tuple[Ints, int]:
    """Faces (m, 3) with border vertices closer than ``within_mm`` made one, and how many were given up.

    Only border vertices take part, so inner vertices never merge; vertices that share an edge stay apart, or
    fine triangles would collapse.
    """
    border = np.flatnonzero(graph.vertices_at(graph.border))
    if len(border) < 2:
        return mesh.faces, 0
    pairs = border[cKDTree(mesh.vertices[border]).query_pairs(within_mm, output_type="ndarray")]
    if len(pairs) == 0:
        return mesh.faces, 0
    pairs = np.sort(pairs, axis=1)
    count = len(mesh.vertices)
    paired = np.zeros(count, dtype=bool)
    paired[pairs] = True
    some = paired[graph.low] & paired[graph.high]
    edges = graph.low[some].astype(np.int64) << 32 | graph.high[some]
    pairs = pairs[~np.isin(pairs[:, 0].astype(np.int64) << 32 | pairs[:, 1], edges)]
    linked = csr_matrix((np.ones(len(pairs), dtype=np.int8), (pairs[:, 0], pairs[:, 1])), (count, count))
    groups, label = connected_components(linked, directed=False)
    first = np.full(groups, count, dtype=np.int64)
    np.minimum.at(first, label, np.arange(count))
    target = first[label]
    sewn = target[mesh.faces].astype(np.int32)
    after = edge_graph(TriMesh(mesh.vertices, sewn))
    tangled = after.vertices_at(after.nonmanifold) & ~graph.vertices_at(graph.nonmanifold)
    if tangled.any():
        # Sewing must not put three triangles on an edge: there the borders stay apart.
        target = np.where(tangled[target], np.arange(count), target)
        sewn = target[mesh.faces].astype(np.int32)
    return sewn, int((target != np.arange(count)).sum())
