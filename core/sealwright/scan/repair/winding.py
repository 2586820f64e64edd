"""Patches that are turned round: one winding for every connected piece."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import breadth_first_order, connected_components

from ...mesh import Bools, Floats, TriMesh
from .edge_graph import EdgeGraph, face_neighbours, twice_areas


def turned_faces(mesh: TriMesh, graph: EdgeGraph) -> tuple[Bools, int]:
    """Triangles (m,) to turn so that neighbours agree, and the number of edges where that cannot be.

    Triangles that agree with their neighbours form patches; patches are turned against each other along the
    edges where they do not. Of each connected piece the larger area keeps its winding.
    """
    turn = np.zeros(len(mesh.faces), dtype=bool)
    if not graph.opposed.any():
        return turn, 0
    first, second, opposed = face_neighbours(mesh.faces)
    count = len(mesh.faces)
    agree = csr_matrix((np.ones(int((~opposed).sum())), (first[~opposed], second[~opposed])), (count, count))
    patches, patch = connected_components(agree, directed=False)
    a, b = patch[first[opposed]], patch[second[opposed]]
    links = csr_matrix((np.ones(len(a)), (a, b)), (patches, patches))
    links = links + links.T
    area = np.asarray(np.bincount(patch, twice_areas(mesh), minlength=patches), dtype=np.float64)
    side = _two_sides(links, area)
    clash = int((side[a] == side[b]).sum())
    turn = side[patch]
    return turn, clash


def _two_sides(links: csr_matrix, area: Floats) -> Bools:
    """Two-colour the patches along their links; in each piece the smaller side is true."""
    pieces, label = connected_components(links, directed=False)
    side = np.zeros(len(area), dtype=bool)
    sizes = np.bincount(label, minlength=pieces)
    for piece in np.flatnonzero(sizes > 1):
        members = np.flatnonzero(label == piece)
        root = members[np.argmax(area[members])]
        order, parent = breadth_first_order(links, root, directed=False)
        for patch in order[1:]:
            side[patch] = not side[parent[patch]]
        if area[members][side[members]].sum() > area[members][~side[members]].sum():
            side[members] = ~side[members]
    return side
