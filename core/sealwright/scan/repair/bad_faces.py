"""Triangles that are no skin: degenerate ones, doubles, and fins on a surface."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components

from ...mesh import Bools, TriMesh
from .edge_graph import EdgeGraph, face_neighbours, twice_areas, used_by

FIN_MM2 = 100.0
"""Flaps larger than this may be skin and stay."""


def degenerate_faces(mesh: TriMesh) -> Bools:
    """Triangles (m,) with a repeated corner, or without area in double precision."""
    f = mesh.faces
    repeated = (f[:, 0] == f[:, 1]) | (f[:, 1] == f[:, 2]) | (f[:, 2] == f[:, 0])
    # 1e-9 mm2: far below what a scanner resolves; needles with any width stay, or they would leave slits.
    return np.asarray(repeated | (twice_areas(mesh) < 2e-9))


def duplicate_faces(mesh: TriMesh, graph: EdgeGraph) -> Bools:
    """Triangles (m,) over the same three vertices as an earlier one, in either winding.

    Doubles crowd their edges, or run along them twice the same way, or close on themselves; only triangles at
    such places are compared.
    """
    out = np.zeros(len(mesh.faces), dtype=bool)
    suspect = graph.vertices_at(graph.nonmanifold | graph.opposed)
    near = np.flatnonzero(suspect[mesh.faces].sum(axis=1) >= 2)
    if len(near) == 0:
        return out
    corners = np.sort(mesh.faces[near], axis=1)
    order = np.lexsort(corners.T)  # stable, so the first of equals stays
    same = (corners[order][1:] == corners[order][:-1]).all(axis=1)
    out[near[order[1:][same]]] = True
    return out


def fin_faces(mesh: TriMesh, graph: EdgeGraph) -> Bools:
    """Triangles (m,) of fins: small flaps that hang on an edge of two other triangles and end freely.

    The surface is parted along its non-manifold edges; of the parts that touch such an edge and have a free
    border the small ones are fins. A part without a free border may as well be the skin and stays.
    """
    nonmanifold = graph.nonmanifold
    if not nonmanifold.any():
        return np.zeros(len(mesh.faces), dtype=bool)
    first, second, _ = face_neighbours(mesh.faces)
    count = len(mesh.faces)
    linked = csr_matrix((np.ones(len(first), dtype=np.int8), (first, second)), (count, count))
    parts, part = connected_components(linked, directed=False)
    _, at_crowd = used_by(mesh.faces, graph.low[nonmanifold], graph.high[nonmanifold])
    hanging, free = np.zeros(parts, dtype=bool), np.zeros(parts, dtype=bool)
    hanging[part[at_crowd]] = True
    if graph.border.any():
        _, at_border = used_by(mesh.faces, graph.low[graph.border], graph.high[graph.border])
        free[part[at_border]] = True
    area = 0.5 * np.bincount(part, twice_areas(mesh), minlength=parts)
    fins = hanging & free & (area < FIN_MM2)
    fins[int(np.argmax(area))] = False
    return np.asarray(fins[part])
