"""Edges of a large mesh as a sparse matrix: built in linear time, without sorting all edges."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix
from scipy.sparse.csgraph import connected_components

from ...mesh import Bools, Floats, Ints, TriMesh, at_any_corner

_FORWARD = 1 << 16


@dataclass(frozen=True, eq=False)
class EdgeGraph:
    """Undirected edges between vertices.

    Attributes
    ----------
    low, high : (e,) vertex indices, low < high.
    uses : (e,) triangles at the edge.
    forward : (e,) of these, those that run along it from low to high.
    starts : (n + 1,) where the edges of each low vertex begin; edges are sorted by it.
    """

    low: Ints
    high: Ints
    uses: Ints
    forward: Ints
    starts: Ints

    @property
    def vertex_count(self) -> int:
        """Number of vertices, those without edges included."""
        return len(self.starts) - 1

    @cached_property
    def border(self) -> Bools:
        """Edges (e,) of a single triangle."""
        return np.asarray(self.uses == 1)

    @cached_property
    def nonmanifold(self) -> Bools:
        """Edges (e,) of more than two triangles."""
        return np.asarray(self.uses > 2)

    @cached_property
    def opposed(self) -> Bools:
        """Edges (e,) of two triangles that run the same way along it: one of them is turned round."""
        return np.asarray((self.uses == 2) & (self.forward != 1))

    @cached_property
    def degree(self) -> Ints:
        """Number of neighbours of each vertex (n,)."""
        count = np.diff(self.starts) + np.bincount(self.high, minlength=self.vertex_count)
        return np.asarray(count, dtype=np.int32)

    def vertices_at(self, edges: Bools) -> Bools:
        """Vertices (n,) at any of the edges chosen by ``edges`` (e,)."""
        out = np.zeros(self.vertex_count, dtype=bool)
        out[self.low[edges]] = True
        out[self.high[edges]] = True
        return out

    def _half(self) -> csr_matrix:
        """The edges from low to high as a sparse matrix of ones (n, n)."""
        shape = (self.vertex_count, self.vertex_count)
        return csr_matrix((np.ones(len(self.low)), self.high, self.starts), shape)

    def neighbour_sum(self, values: Floats) -> Floats:
        """Sum of some values (n,) or (n, k) over the neighbours of each vertex."""
        half = self._half()
        return np.asarray(half @ values + half.T @ values)

    def pieces(self) -> tuple[int, NDArray[np.int32]]:
        """Number of connected pieces and the piece of every vertex (n,)."""
        count, label = connected_components(self._half(), directed=False)
        return int(count), label


def edge_graph(mesh: TriMesh) -> EdgeGraph:
    """The edges of a mesh and how its triangles use them."""
    faces, count = mesh.faces, len(mesh.vertices)
    start = faces.T.ravel()
    end = faces[:, [1, 2, 0]].T.ravel()
    data = np.where(start < end, 1 + _FORWARD, 1).astype(np.int32)
    half = coo_matrix((data, (np.minimum(start, end), np.maximum(start, end))), shape=(count, count)).tocsr()
    low = np.repeat(np.arange(count, dtype=np.int32), np.diff(half.indptr))
    high, starts = half.indices.astype(np.int32), half.indptr.astype(np.int32)
    return EdgeGraph(low, high, half.data & (_FORWARD - 1), half.data >> 16, starts)


def used_by(faces: Ints, low: Ints, high: Ints) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Which triangles run along some few edges.

    Parameters
    ----------
    faces : (m, 3).
    low, high : (k,) ends of the edges, low < high.

    Returns
    -------
    edge, face : (u,) pairs of an edge (index into ``low``) and a triangle that uses it.
    """
    wanted = low.astype(np.int64) << 32 | high.astype(np.int64)
    order = np.argsort(wanted)
    touched = np.zeros(int(faces.max()) + 1, dtype=bool)
    touched[low] = True
    near = np.flatnonzero(at_any_corner(touched, faces))
    some = faces[near].astype(np.int64)
    ends = np.stack([some, some[:, [1, 2, 0]]])
    key = (ends.min(axis=0) << 32 | ends.max(axis=0)).ravel()
    place = np.minimum(np.searchsorted(wanted[order], key), len(wanted) - 1)
    hit = wanted[order][place] == key
    return order[place[hit]], np.repeat(near, 3)[hit]


def face_neighbours(faces: Ints) -> tuple[Ints, Ints, Bools]:
    """Pairs of triangles across an edge of exactly two, and whether they run along it the same way."""
    count = len(faces)
    start, end = faces.T.ravel().astype(np.int64), faces[:, [1, 2, 0]].T.ravel().astype(np.int64)
    key = np.minimum(start, end) << 32 | np.maximum(start, end)
    order = np.argsort(key, kind="stable")
    key = key[order]
    new = np.flatnonzero(np.concatenate([[True], key[1:] != key[:-1], [True]]))
    begin = new[:-1][np.diff(new) == 2]
    one, two = order[begin], order[begin + 1]
    opposed = (start[one] < end[one]) == (start[two] < end[two])
    return (one % count).astype(np.int32), (two % count).astype(np.int32), opposed


def twice_areas(mesh: TriMesh) -> Floats:
    """Twice the area of every triangle (m,), mm2, without keeping anything of it."""
    a, b, c = (mesh.vertices[mesh.faces[:, corner]] for corner in range(3))
    b -= a
    c -= a
    square = np.einsum("ij,ij->i", b, b) * np.einsum("ij,ij->i", c, c) - np.einsum("ij,ij->i", b, c) ** 2
    return np.asarray(np.sqrt(np.maximum(square, 0.0)))
