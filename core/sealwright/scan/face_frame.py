"""The exact face frame, from the landmarks and the mirror plane."""

from __future__ import annotations

import numpy as np

from ..errors import LandmarkMissing, Where
from ..mesh import Floats
from .landmark_set import Landmarks


def face_frame(landmarks: Landmarks) -> Floats:
    """Scan to face frame (4, 4), rigid, mm.

    Origin at subnasale. X is the normal of the face's mirror plane, to the wearer's left. Z lies in the
    mirror plane along the line from pogonion up to sellion: with the head held naturally this line is
    upright within a few degrees (common practice; the "facial plane" of orthodontics, from memory).
    Pogonion is used and not menton because the chin turns under at menton, so that a small error there
    would tilt the frame. -Y looks out of the face.

    Raises
    ------
    LandmarkMissing : sellion, subnasale or pogonion is missing, or they contradict each other.
    """
    sellion, pogonion, subnasale = (landmarks.point(name) for name in ("sellion", "pogonion", "subnasale"))
    across = np.asarray(landmarks.across, dtype=np.float64)
    up = sellion - pogonion
    up = up - across * (up @ across)
    length = float(np.linalg.norm(up))
    if not 40.0 < length < 160.0:
        raise LandmarkMissing(
            f"Sellion and pogonion are {length:.0f} mm apart; on a face they are 60 to 130 mm apart.",
            Where("scan", key="sellion, pogonion", frame="scan"),
            "Move the two landmarks to the nose root and to the front of the chin.",
        )
    up /= length
    rotation = np.stack([across, np.cross(up, across), up])
    out = np.eye(4)
    out[:3, :3], out[:3, 3] = rotation, -rotation @ subnasale
    return out
