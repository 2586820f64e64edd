"""Put points on the skin: nearest places on the triangles around them."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from ...mesh import Floats, TriMesh, at_any_corner


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
    few = mesh.vertices[mesh.faces[:: max(1, len(mesh.faces) // 2000)]]
    edge = 3.0 * float(np.median(np.linalg.norm(few[:, 0] - few[:, 1], axis=1)))
    low, high = points.min(axis=0) - reach_mm - edge, points.max(axis=0) + reach_mm + edge
    boxed = np.flatnonzero(((mesh.vertices > low) & (mesh.vertices < high)).all(axis=1))
    close = np.isfinite(tree.query(mesh.vertices[boxed], distance_upper_bound=reach_mm + edge)[0])
    near = np.zeros(len(mesh.vertices), dtype=bool)
    near[boxed[close]] = True
    faces = mesh.faces[at_any_corner(near, mesh.faces)]
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
