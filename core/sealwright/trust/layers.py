"""Second layers of skin: where a scan has the same place twice, one layer behind the other."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from ..face.surface import FaceSurface
from ..mesh import Floats, TriMesh

LEAST_MM, MOST_MM = 0.7, 12.0
"""A second layer lies so far below the first: nearer it is noise, deeper it is inside the nose or mouth."""
BLIND_MM = LEAST_MM / 3.0  # where the skin scatters so much, its lowest points look like a layer

_STEEP_COSINE = 0.5  # on skin steeper than 60 degrees to the view points beside each other look like layers
_BESIDE_MM = 3.0  # a point belongs to the band when it lies below skin so near to one of its rows


def second_layer_along(skin: TriMesh, face: FaceSurface, rows: Floats) -> Floats:
    """Share (n,) of the band's rows under which a second layer of the scan lies.

    Parameters
    ----------
    skin : the cleaned scan, mm, face frame.
    face : the face surface made of it, which takes the outer layer.
    rows : (n, k, 3) skin points across the band, mm.
    """
    centre = rows.reshape(-1, 3).mean(axis=0)
    reach = np.linalg.norm(rows.reshape(-1, 3) - centre, axis=1).max() + MOST_MM
    near = np.linalg.norm(skin.vertices - centre, axis=1) < reach
    pq, radius = face.chart.place_of(skin.vertices[near])
    # The inside of mouth and nose faces the other way.
    outward = (skin.vertex_normals[near] * face.normal_at(pq)).sum(axis=-1) > 0.5
    cosine = np.abs((face.normal_at(pq) * face.chart.direction_at(pq)).sum(axis=-1))
    depth = (face.radius_at(pq) - radius) * cosine
    behind = outward & (cosine > _STEEP_COSINE)
    behind &= (depth > LEAST_MM + face.smoothing.bound_mm) & (depth < MOST_MM)
    share = np.zeros(len(rows))
    if behind.any():
        above = face.skin_at(pq[behind])
        away, _ = cKDTree(above).query(rows.reshape(-1, 3), distance_upper_bound=_BESIDE_MM)
        share = np.isfinite(away).reshape(rows.shape[:2]).mean(axis=1)
    return np.asarray(share)
