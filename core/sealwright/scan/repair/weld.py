"""Merge vertices that lie at exactly the same place."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ...mesh import Floats, Ints


def merge_equal_vertices(vertices: Floats, faces: NDArray[np.integer]) -> tuple[Floats, Ints]:
    """Merge exactly equal vertices and drop unused ones, keeping the order of first use.

    Parameters
    ----------
    vertices : (n, 3).
    faces : (m, 3).

    Returns
    -------
    vertices, faces : the same triangles, in the same order, over distinct vertices.
    """
    used = np.zeros(len(vertices), dtype=bool)
    used[faces] = True
    if not used.all():
        faces = (np.cumsum(used) - 1)[faces]
        vertices = vertices[used]
    first, label = _distinct(vertices + 0.0)  # + 0.0 makes one zero of the two that floats have
    if len(first) == len(vertices):
        return vertices, faces.astype(np.int32)
    order = np.argsort(first, kind="stable")
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    return vertices[first[order]], rank[label][faces].astype(np.int32)


def _distinct(vertices: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Index of the first of each distinct row (k,), and for each row which it is (n,)."""
    bits = np.ascontiguousarray(vertices).view(np.uint64)
    with np.errstate(over="ignore"):
        key = bits[:, 0] * np.uint64(0x9E3779B97F4A7C15)
        key = (key ^ (key >> np.uint64(29)) ^ bits[:, 1]) * np.uint64(0xBF58476D1CE4E5B9)
        key = (key ^ (key >> np.uint64(32)) ^ bits[:, 2]) * np.uint64(0x94D049BB133111EB)
    ordered = np.sort(key)
    if (ordered[1:] != ordered[:-1]).all():
        return np.arange(len(key)), np.arange(len(key))
    # An unstable sort is several times faster than numpy.unique, and the first of a group is found after it.
    order = np.argsort(key)
    new = np.concatenate([[True], np.diff(key[order]) != 0])
    first = np.minimum.reduceat(order, np.flatnonzero(new))
    label = np.empty(len(order), dtype=np.int64)
    label[order] = np.cumsum(new) - 1
    # Two different places with one key are next to impossible; then the slow exact way.
    if not (vertices[first[label]] == vertices).all():
        _, first, label = np.unique(vertices, axis=0, return_index=True, return_inverse=True)
    return first, label.reshape(-1)
