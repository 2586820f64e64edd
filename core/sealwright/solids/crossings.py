"""Pairs of triangles of one mesh that meet anywhere but in the corner or edge they share.

The test itself is CGAL's, in exact arithmetic, by way of libigl. CGAL takes corners at one place for one
corner, and triangles with the same three corners for one triangle; both are faults of a part, so those
pairs are added here.
"""

from __future__ import annotations

from itertools import pairwise
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from ..mesh import TriMesh
from .boolean import Solid
from .grid import Whole, is_degenerate, snap_to_grid

Pairs = NDArray[np.int64]
_known: WeakKeyDictionary[TriMesh, Pairs] = WeakKeyDictionary()
_AT_ONCE = 20_000  # triangles tested in one call, a twentieth of a second
_SLIVERS_MM = (1e-6, 2e-4)  # edges shorter than that go where triangles cross; a nozzle sees none of it


def uncrossed(solid: Solid) -> Solid:
    """A solid without the slivers by which triangles of a union may cross, where there are any."""
    if not len(crossing_pairs(solid.mesh)):
        return solid
    for shortest_mm in _SLIVERS_MM:
        tried = solid.as_one().without_slivers(shortest_mm)
        if not len(crossing_pairs(tried.mesh)):
            break
    return tried


def crossing_pairs(mesh: TriMesh) -> Pairs:
    """Triangles that cut, touch or cover each other, beyond what they share by index; looked for once.

    Exact for the points of `snap_to_grid`. Triangles without area are left out: whatever passes through
    them also meets their neighbours.

    Parameters
    ----------
    mesh : closed or open, any units.

    Returns
    -------
    (k, 2) triangle numbers, first < second, sorted.
    """
    if mesh not in _known:
        _known[mesh] = _found(mesh)
        _known[mesh].setflags(write=False)
    return _known[mesh]


def _found(mesh: TriMesh) -> Pairs:
    points, _ = snap_to_grid(mesh.vertices)
    solid = np.flatnonzero(~is_degenerate(*(points[mesh.faces[:, k]] for k in range(3))))
    faces = np.ascontiguousarray(mesh.faces[solid], dtype=np.int64)
    if len(faces) < 2:
        return np.zeros((0, 2), dtype=np.int64)
    cut = [rows[_cut_in(points, faces[rows])] for rows in _pieces(points[faces])]
    pairs = np.vstack([*cut, _at_one_place(points, faces), _same_corners(faces)])
    return np.asarray(np.unique(np.sort(solid[pairs], axis=1), axis=0), dtype=np.int64)


def _cut_in(points: NDArray[np.float64], faces: Whole) -> Pairs:
    """Pairs (k, 2) of some triangles that CGAL finds to meet."""
    # Imported here: this part of libigl takes a moment to load, and a live preview never asks for it.
    from igl.copyleft import cgal

    used, index = np.unique(faces, return_inverse=True)
    return np.asarray(
        cgal.remesh_self_intersections(points[used], index.reshape(-1, 3), detect_only=True)[2].reshape(-1, 2)
    )


def _pieces(corners: NDArray[np.float64]) -> list[NDArray[np.intp]]:
    """Triangles in pieces of at most about `_AT_ONCE`, such that two that meet lie in one piece together.

    The test lets no other thread of Python work, so that a window stands still meanwhile. A point in which
    two triangles meet lies in one of the slabs between cuts across the longest axis, and both reach into it.
    """
    count = -(-len(corners) // _AT_ONCE)
    if count == 1:
        return [np.arange(len(corners))]
    low, high = corners.min(axis=1), corners.max(axis=1)
    axis = int(np.argmax(high.max(axis=0) - low.min(axis=0)))
    cuts = np.quantile(low[:, axis], np.linspace(0.0, 1.0, count + 1)[1:-1], method="nearest")
    ends = [-np.inf, *cuts, np.inf]
    return [np.flatnonzero((high[:, axis] >= begin) & (low[:, axis] <= end)) for begin, end in pairwise(ends)]


def _at_one_place(points: NDArray[np.float64], faces: Whole) -> Pairs:
    """Pairs of triangles (k, 2) with corners of different index at the same place."""
    used = np.unique(faces)
    order = used[np.lexsort(points[used].T)]
    same = (points[order[1:]] == points[order[:-1]]).all(axis=1)
    if not same.any():
        return np.zeros((0, 2), dtype=np.int64)
    place = np.full(len(points), -1, dtype=np.int64)
    place[order] = np.concatenate([[0], np.cumsum(~same)])
    shared = np.flatnonzero(np.bincount(place[order]) > 1)
    owner, corner = np.divmod(np.flatnonzero(np.isin(place[faces], shared)), 3)
    index = faces[owner, corner]
    return _pairs_in_groups(place[index], owner, index)


def _same_corners(faces: Whole) -> Pairs:
    """Pairs of triangles (k, 2) with the same three corners."""
    corners = np.sort(faces, axis=1)
    order = np.lexsort(corners.T)
    changes = (corners[order[1:]] != corners[order[:-1]]).any(axis=1)
    group = np.concatenate([[0], np.cumsum(changes)])
    return _pairs_in_groups(group, order, order)


def _pairs_in_groups(group: Whole, owner: Whole, index: Whole) -> Pairs:
    """All pairs of different owners (k, 2) in one group whose index differs."""
    order = np.argsort(group, kind="stable")
    size = np.bincount(group)
    found = [np.zeros((0, 2), dtype=np.int64)]
    for step in range(1, int(size.max())):
        one, two = order[:-step], order[step:]
        meet = (group[one] == group[two]) & (index[one] != index[two]) & (owner[one] != owner[two])
        found.append(np.stack([owner[one[meet]], owner[two[meet]]], axis=1))
    return np.vstack(found)
