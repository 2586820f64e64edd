"""Where a fitting stands on a surface, and which way it looks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import DoesNotFit, Where, plain_point
from ..facepiece.axis_frame import angles_of, axis_along, frame_along
from ..mesh import Floats, TriMesh
from ..solids.distance import MeshDistance
from .columns import disc_places

NEAR_MM = 10.0
"""A place further from the surface than this is none on it."""

MOST_LEAN_DEG = 60.0
"""An axis that leans further from the surface's normal runs along the surface rather than out of it."""

_SAME_SIDE = 0.5  # cosine: triangles beyond an edge of the model have no say in its direction
_PATCH_STEP_MM = 1.5


@dataclass(frozen=True)
class Aim:
    """The way a fitting looks, as for the ports of a mask; what is None follows the surface.

    Attributes
    ----------
    tilt_deg : axis below the horizontal.
    turn_deg : axis towards the wearer's left.
    roll_deg : turn about the axis, counter-clockwise seen from outside; 0 stands upright.
    """

    tilt_deg: float | None = None
    turn_deg: float | None = None
    roll_deg: float = 0.0


def standing_frame(body: TriMesh, point: Floats, aim: Aim, patch_mm: float, role: str = "fitting") -> Floats:
    """The frame of a fitting: origin on the surface, +Z out of the body, +Y upwards as far as it can.

    Parameters
    ----------
    body : closed, outward, face frame, mm.
    point : (3,) on or near its surface.
    aim : which way.
    patch_mm : radius round the place over which the surface's direction is averaged.
    role : what it is, for messages.

    Raises
    ------
    DoesNotFit : the place is off the surface, or the axis leans too far from it.
    """
    surface = MeshDistance(body)
    away, triangle, foot = surface.closest(np.asarray(point, dtype=np.float64)[None])
    if away[0] > NEAR_MM:
        raise DoesNotFit(
            f"The place of the {role} lies {away[0]:.1f} mm off the surface.",
            Where(role, point=plain_point(np.asarray(point))),
            f"Give a place on the surface; the nearest is {_told(foot[0])}.",
        )
    normal = _mean_normal(body, surface, foot[0], body.face_normals[triangle[0]], patch_mm)
    axis = _aimed(normal, aim)
    lean = float(np.degrees(np.arccos(np.clip(axis @ normal, -1.0, 1.0))))
    if lean > MOST_LEAN_DEG:
        tilt, turn = angles_of(normal)
        raise DoesNotFit(
            f"The axis of the {role} leans {lean:.0f} degrees from the surface; {MOST_LEAN_DEG:g} is the "
            "most.",
            Where(role, point=plain_point(foot[0])),
            f"Square to the surface it is tilted by {tilt:.0f} and turned by {turn:.0f} degrees.",
        )
    return frame_along(foot[0], axis, aim.roll_deg)


def _aimed(normal: Floats, aim: Aim) -> Floats:
    tilt, turn = angles_of(normal)
    return axis_along(
        tilt if aim.tilt_deg is None else aim.tilt_deg, turn if aim.turn_deg is None else aim.turn_deg
    )


def _mean_normal(
    body: TriMesh, surface: MeshDistance, foot: Floats, normal: Floats, patch_mm: float
) -> Floats:
    """Mean normal (3,) of the surface round a foot point, without what lies beyond its edges."""
    frame = frame_along(foot, normal)
    places = disc_places(patch_mm, _PATCH_STEP_MM)
    flat = foot + places @ frame[:3, :2].T
    normals = body.face_normals[surface.closest(flat)[1]]
    same = normals @ normal > _SAME_SIDE
    mean = normals[same].sum(axis=0) if same.any() else normal
    return np.asarray(mean / np.linalg.norm(mean))


def _told(point: Floats) -> str:
    return ", ".join(f"{c:.1f}" for c in point) + " mm in the frame of the design"
