"""What parts on the face hide from the eyes."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ..mesh import Floats, TriMesh

_BEFORE_MM = 5.0  # what lies less far before the eye hides nothing: it is beside it


def sight_below_deg(meshes: Iterable[TriMesh], eye: Floats) -> float:
    """Lowest line of sight straight ahead, degrees below the horizontal; 90 when nothing is in the way.

    In the upright plane ahead of the eye (3,): the highest place where an edge of a part meets that plane.
    """
    least = 90.0
    for mesh in meshes:
        corners = mesh.corners
        start, end = corners, np.roll(corners, -1, axis=1)
        side, after = start[..., 0] - eye[0], end[..., 0] - eye[0]
        meets = side * after < 0.0
        if not meets.any():
            continue
        share = (side / np.where(meets, side - after, 1.0))[meets][:, None]
        at = start[meets] + share * (end[meets] - start[meets])
        ahead, below = eye[1] - at[:, 1], eye[2] - at[:, 2]
        seen = ahead > _BEFORE_MM
        if seen.any():
            least = min(least, float(np.degrees(np.arctan2(below[seen], ahead[seen])).min()))
    return least
