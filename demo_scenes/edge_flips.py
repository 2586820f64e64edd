"""Flips edges until triangles are as round as their points allow: Lawson's flips on a surface in space."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from sealwright.mesh import Bools, Floats, Ints

Indices = NDArray[np.int64]

_ROUNDS = 60
_FLAT = 0.3  # least cosine between the normals of the two new triangles: nothing folds over
_MARGIN_RAD = 1e-6  # ties stay as they are, so that flipping ends


def rounder(vertices: Floats, faces: Ints) -> Ints:
    """Triangles (m, 3) of the same points (n, 3) after Delaunay flips.

    An inner edge is flipped while the two angles opposite to it sum to more than 180 degrees
    (Lawson 1977, carried over to triangles in space); border edges stay.
    """
    faces = np.array(faces, dtype=np.int64)
    for _ in range(_ROUNDS):
        edges, sides, apexes = _inner_edges(faces)
        excess = _excess(vertices, edges, apexes)
        wanted = np.flatnonzero(excess > _MARGIN_RAD)
        wanted = wanted[_stays_open(vertices, edges[wanted], apexes[wanted])]
        wanted = wanted[~_exists(edges, apexes[wanted])]
        chosen = _independent(wanted[np.argsort(-excess[wanted], kind="stable")], sides, len(faces))
        if len(chosen) == 0:
            break
        a, b = edges[chosen].T
        c, d = apexes[chosen].T
        faces[sides[chosen, 0]] = np.stack([c, a, d], axis=1)
        faces[sides[chosen, 1]] = np.stack([d, b, c], axis=1)
    return np.asarray(faces, dtype=np.int32)


def _inner_edges(faces: Indices) -> tuple[Indices, Indices, Indices]:
    """Inner edges (e, 2) as their first face runs them, both faces (e, 2), the corners opposite (e, 2)."""
    start, end, apex = faces[:, [0, 1, 2]].T, faces[:, [1, 2, 0]].T, faces[:, [2, 0, 1]].T
    start, end, apex = start.ravel(), end.ravel(), apex.ravel()
    face = np.tile(np.arange(len(faces)), 3)
    key = np.minimum(start, end) * (faces.max() + 1) + np.maximum(start, end)
    order = np.argsort(key, kind="stable")
    twin = np.flatnonzero(key[order][1:] == key[order][:-1])
    one, two = order[twin], order[twin + 1]
    return (
        np.stack([start[one], end[one]], axis=1),
        np.stack([face[one], face[two]], axis=1),
        np.stack([apex[one], apex[two]], axis=1),
    )


def _excess(vertices: Floats, edges: Indices, apexes: Indices) -> Floats:
    """Sum of the two opposite angles (e,) minus pi, radians."""
    total = np.full(len(edges), -np.pi)
    for apex in apexes.T:
        u, v = vertices[edges[:, 0]] - vertices[apex], vertices[edges[:, 1]] - vertices[apex]
        total += np.arctan2(np.linalg.norm(np.cross(u, v), axis=1), (u * v).sum(axis=1))
    return total


def _stays_open(vertices: Floats, edges: Indices, apexes: Indices) -> Bools:
    """Whether the two triangles after a flip (e,) look the same way."""
    a, b = vertices[edges[:, 0]], vertices[edges[:, 1]]
    c, d = vertices[apexes[:, 0]], vertices[apexes[:, 1]]
    one, two = np.cross(a - c, d - c), np.cross(b - d, c - d)
    size = np.linalg.norm(one, axis=1) * np.linalg.norm(two, axis=1)
    return np.asarray((one * two).sum(axis=1) > _FLAT * size)


def _exists(edges: Indices, wanted: Indices) -> Bools:
    """Which wanted edges (k, 2) are there already."""
    side = max(int(edges.max()), int(wanted.max(initial=0))) + 1
    keys = [np.sort(pair, axis=1) @ np.array([side, 1]) for pair in (edges, wanted)]
    return np.isin(keys[1], keys[0])


def _independent(ranked: Indices, sides: Indices, faces: int) -> Indices:
    """Those of the ranked edges that come first at both of their faces."""
    first = np.full(faces, len(ranked))
    place = np.arange(len(ranked))
    for side in sides[ranked].T:
        np.minimum.at(first, side, place)
    return ranked[(first[sides[ranked]] == place[:, None]).all(axis=1)]
