"""Put points on the skin: nearest places on the triangles around them."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from ..mesh import Floats, TriMesh


def snap_to_skin(mesh: TriMesh, points: Floats, reach_mm: float) -> tuple[Floats, Floats]:
    """Nearest place on the mesh for each point, and how far it is.

    Parameters
    ----------
    mesh : the scan, mm.
    points : (k, 3) mm, few (tens).
    reach_mm : farther skin is not looked for.

    Returns
    -------
    places : (k, 3) on the skin; the point itself where no skin is within reach.
    distance : (k,) mm; infinite where no skin is within reach.
    """
    tree = cKDTree(points)
    # Triangles are caught by their corners, so the reach grows by the length of a long edge.
    edge = np.sqrt(2.0 * max(mesh.area, 1e-9) / len(mesh.faces)) * 3.0
    near = np.isfinite(tree.query(mesh.vertices, distance_upper_bound=reach_mm + edge)[0])
    faces = mesh.faces[near[mesh.faces].any(axis=1)]
    places, distance = points.copy(), np.full(len(points), np.inf)
    if len(faces) == 0:
        return places, distance
    import igl  # a large native library, only needed here

    used, local = np.unique(faces, return_inverse=True)
    squared, _, closest = igl.point_mesh_squared_distance(
        np.ascontiguousarray(points), mesh.vertices[used], local.reshape(-1, 3).astype(np.int64)
    )
    found = np.sqrt(squared)
    on = found <= reach_mm
    places[on], distance[on] = closest[on], found[on]
    return places, distance
