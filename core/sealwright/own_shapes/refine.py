"""Edges of a sheet split where it does not follow what it should: triangles fit together as before."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ..mesh import Bools, Floats, Ints, TriMesh

# For each pattern of split sides (bit k: the side from corner k to the next) the triangles that replace one:
# numbers below 3 are its corners, 3 + k is the middle of side k.
_PATTERNS: dict[int, tuple[tuple[int, int, int], ...]] = {
    0: ((0, 1, 2),),
    1: ((0, 3, 2), (3, 1, 2)),
    2: ((1, 4, 0), (4, 2, 0)),
    4: ((2, 5, 1), (5, 0, 1)),
    3: ((3, 1, 4), (0, 3, 4), (0, 4, 2)),
    6: ((4, 2, 5), (1, 4, 5), (1, 5, 0)),
    5: ((5, 0, 3), (2, 5, 3), (2, 3, 1)),
    7: ((0, 3, 5), (3, 1, 4), (5, 4, 2), (3, 4, 5)),
}


def split_edges(
    mesh: TriMesh, asked: Callable[[Floats, Floats], Bools], placed: Callable[[Floats], Floats]
) -> TriMesh:
    """The mesh with some of its inner edges split in the middle.

    Parameters
    ----------
    mesh : open or closed; border edges are never split.
    asked : ends (e, 3) and (e, 3) of edges -> which (e,) are to be split.
    placed : middles (k, 3) of edges -> where the new points lie.

    Returns
    -------
    The same points first, then the new ones.
    """
    sides = np.sort(np.stack([mesh.faces, np.roll(mesh.faces, -1, axis=1)], axis=-1), axis=-1).reshape(-1, 2)
    edges, owner, use = np.unique(sides, axis=0, return_inverse=True, return_counts=True)
    inner = use > 1
    split = np.zeros(len(edges), dtype=bool)
    split[inner] = asked(mesh.vertices[edges[inner, 0]], mesh.vertices[edges[inner, 1]])
    if not split.any():
        return mesh
    new = np.full(len(edges), -1, dtype=np.int64)
    new[split] = len(mesh.vertices) + np.arange(int(split.sum()))
    middles = mesh.vertices[edges[split]].mean(axis=1)
    side_new = new[owner.ravel()].reshape(-1, 3)
    pattern = ((side_new >= 0) * np.array([1, 2, 4])).sum(axis=1)
    corners: Ints = np.concatenate([mesh.faces, side_new], axis=1).astype(np.int32)
    faces = [corners[pattern == key][:, list(one)] for key, parts in _PATTERNS.items() for one in parts]
    return TriMesh(np.vstack([mesh.vertices, placed(middles)]), np.vstack(faces))
