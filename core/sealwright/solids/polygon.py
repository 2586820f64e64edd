"""Plane polygons: their area, and which points of a plane lie in a region bounded by straight edges."""

from __future__ import annotations

import numpy as np

from ..mesh import Bools, Floats

_CHUNK = 2_000_000  # pairs of point and edge a round: keeps the working arrays under about 100 MB


def closed_edges(corners: Floats) -> Floats:
    """The edges (n, 2, 2) of a closed polygon (n, 2)."""
    return np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)


def polygon_area(corners: Floats) -> float:
    """Signed area of a closed polygon (n, 2); positive when it runs counter-clockwise."""
    x, y = (corners - corners.mean(axis=0)).T
    return 0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))


def inside_edges(points: Floats, edges: Floats) -> Bools:
    """Whether points lie in the region bounded by edges, by the even-odd rule (crossings of a ray along +x).

    Parameters
    ----------
    points : (..., 2).
    edges : (m, 2, 2), of any number of closed outlines, in any order and direction.

    Returns
    -------
    (...), half-open at the border: of two regions that share an edge just one holds a point on it.
    """
    flat = points.reshape(-1, 2)
    found = np.zeros(len(flat), dtype=np.bool_)
    if len(edges):
        low, high = edges.min(axis=(0, 1)), edges.max(axis=(0, 1))
        near = np.flatnonzero(((flat >= low) & (flat <= high)).all(axis=1))
        step = max(_CHUNK // len(edges), 1)
        for start in range(0, len(near), step):
            part = near[start : start + step]
            found[part] = _odd(flat[part], edges)
    return found.reshape(points.shape[:-1])


def _odd(points: Floats, edges: Floats) -> Bools:
    a, b = edges[None, :, 0], edges[None, :, 1]
    x, y = points[:, None, 0], points[:, None, 1]
    crosses = (a[..., 1] > y) != (b[..., 1] > y)
    rise = np.where(a[..., 1] == b[..., 1], 1.0, b[..., 1] - a[..., 1])
    right = x < a[..., 0] + (y - a[..., 1]) / rise * (b[..., 0] - a[..., 0])
    return np.asarray((crosses & right).sum(axis=1) % 2 == 1)
