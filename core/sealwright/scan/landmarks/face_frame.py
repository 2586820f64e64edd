"""The exact face frame, from the landmarks and the mirror plane."""

from __future__ import annotations

import numpy as np

from ...errors import LandmarkMissing, Where
from ...mesh import Floats
from .landmark_set import Landmarks


def face_frame(landmarks: Landmarks) -> Floats:
    """Scan to face frame (4, 4), rigid, mm.

    Origin at subnasale. X is the normal of the face's mirror plane, to the wearer's left. Z lies in the
    mirror plane along the line from menton up to sellion, which is upright within some six degrees when the
    head is held naturally and the mouth is closed (common practice, no source). -Y looks out of the face.

    Raises
    ------
    LandmarkMissing : sellion, subnasale or menton is missing, or they contradict each other.
    """
    sellion, menton, subnasale = (landmarks.point(name) for name in ("sellion", "menton", "subnasale"))
    across = np.asarray(landmarks.across, dtype=np.float64)
    up = sellion - menton
    up = up - across * (up @ across)
    length = float(np.linalg.norm(up))
    if not 60.0 < length < 175.0:
        raise LandmarkMissing(
            f"Sellion and menton are {length:.0f} mm apart; on a face they are 70 to 160 mm apart.",
            Where("scan", key="sellion, menton", frame="scan"),
            "Move the two landmarks to the nose root and under the chin.",
        )
    up /= length
    rotation = np.stack([across, np.cross(up, across), up])
    out = np.eye(4)
    out[:3, :3], out[:3, 3] = rotation, -rotation @ subnasale
    return out
