# SPDX-License-Identifier: GPL-3.0-or-later
"""Where things are: from the core's frames (face, scan; mm) to the world (Blender units) and back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..core.errors import plain_point
from .wearers import active_wearer, wearer_mm

if TYPE_CHECKING:
    import bpy
    from numpy.typing import ArrayLike, NDArray

    from ..core.errors import Where
    from .wearers import SEALWRIGHT_PG_wearer

    Floats = NDArray[np.float64]


def to_world(matrix: Floats, points: ArrayLike) -> Floats:
    """Points (..., 3) under a 4x4 matrix."""
    moved: Floats = np.asarray(points, dtype=np.float64) @ matrix[:3, :3].T + matrix[:3, 3]
    return moved


def face_matrix(wearer: SEALWRIGHT_PG_wearer) -> Floats:
    """Face frame in mm to the world, 4x4, as kept in the file (single precision)."""
    return np.array(wearer.face_to_world, dtype=np.float64).reshape(4, 4)


def face_to_world(scan_to_face: Floats, mm: float) -> Floats:
    """Face frame in mm to the world in Blender units; the scan frame is the world in mm."""
    back: Floats = np.linalg.inv(scan_to_face)
    back[:3] /= mm
    return back


def rigid_part(matrix: Floats) -> Floats:
    """A similarity with its scale taken out, so that a Blender object can carry it with scale 1."""
    out = matrix.copy()
    out[:3, :3] /= np.cbrt(np.linalg.det(matrix[:3, :3]))
    return out


def part_place(scan_to_face: Floats, mm: float) -> Floats:
    """Face frame in mm to the world for parts: at printed size, also when the recipe scales the face."""
    place = rigid_part(face_to_world(scan_to_face, mm))
    place[:3, :3] /= mm
    return place


def world_view(context: bpy.types.Context, where: Where) -> tuple[float, float, float] | None:
    """The direction, in the world, from which a place of the prepared face is best seen; None where open."""
    wearer = active_wearer(context)
    if where.view is None or where.frame != "face" or wearer is None or not wearer.prepared:
        return None
    way = face_matrix(wearer)[:3, :3] @ np.asarray(where.view)
    return plain_point(way / np.linalg.norm(way))


def world_point(context: bpy.types.Context, where: Where) -> tuple[float, float, float] | None:
    """The place an error speaks of, in the world, when it can be known."""
    wearer = active_wearer(context)
    if where.point is None or wearer is None:
        return None
    if where.frame == "scan":
        found = np.asarray(where.point) / wearer_mm(context, wearer)
    elif wearer.prepared:
        found = to_world(face_matrix(wearer), where.point)
    else:
        return None
    return plain_point(found)
