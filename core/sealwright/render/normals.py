"""Normals at the corners of triangles, as shading wants them."""

from __future__ import annotations

import numpy as np

from ..mesh import Floats, TriMesh


def corner_normals(mesh: TriMesh, crease_deg: float) -> Floats:
    """Unit normals (m, 3, 3) of triangle corners, smooth but for edges sharper than the crease."""
    import igl

    normals = igl.per_corner_normals(mesh.vertices, mesh.faces.astype(np.int64), crease_deg)
    clean: Floats = np.nan_to_num(
        np.ascontiguousarray(normals).reshape(-1, 3, 3)
    )  # NaN where there is no area
    return clean
