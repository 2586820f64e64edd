"""The skin at a small distance: a sheet moved along its rays until it stands off itself by that distance."""

from __future__ import annotations

import numpy as np

from ..mesh import Floats, TriMesh
from ..solids.distance import MeshDistance

_ROUNDS = 5  # each at least halves the error; two reach 0.01 mm on smooth skin
_LEAST_SLANT = 0.3  # a step along the ray is at most this much longer than the distance it should make up


def at_distance(start: Floats, centre: Floats, skin: TriMesh, distance_mm: float) -> Floats:
    """Points moved along their rays to a distance from the skin.

    Parameters
    ----------
    start : (n, 3) first guess, mm, on the wanted side of the skin.
    centre : (3,) where the rays begin.
    skin : the sheet that distances are measured to.
    distance_mm : positive outside, negative inside.

    Returns
    -------
    (n, 3) mm. Newton's rule along the ray: the slope of the distance is the cosine between the ray and the
    way from the nearest skin.
    """
    search, side = MeshDistance(skin), np.sign(distance_mm)
    ray = start - centre
    radius = np.linalg.norm(ray, axis=1)
    ray = ray / radius[:, None]
    for _ in range(_ROUNDS):
        points = centre + ray * radius[:, None]
        distance, _, nearest = search.closest(points)
        away = (points - nearest) / np.maximum(distance, 1e-9)[:, None]
        slope = side * (away * ray).sum(axis=1)
        radius = radius - side * (distance - abs(distance_mm)) / np.maximum(slope, _LEAST_SLANT)
    return np.asarray(centre + ray * radius[:, None])
