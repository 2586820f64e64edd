"""Which part of the face a point of the band lies on: a plain rule, to name places in words."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike

from ..errors import LandmarkMissing, Where
from ..mesh import Floats
from .patch import REGIONS, Codes

_NEEDED = ("sellion", "alare_left", "alare_right", "cheilion_left", "cheilion_right", "menton")


def face_regions(points: Floats, landmarks: Mapping[str, ArrayLike]) -> Codes:
    """Region codes (n,) of points in the face frame.

    The rule (ours, no source): above the nostril wings, the nose reaches to twice the nostrils' half width
    from the middle, and its bridge is the upper half of that within half a nostril's half width; below, it
    is under the chin behind and below menton, the chin within the width of the mouth under the mouth
    corners, the side of the mouth from the nostrils down, and cheek elsewhere.

    Parameters
    ----------
    points : (n, 3) mm, face frame (origin subnasale, -Y out, +Z up).
    landmarks : at least sellion, alare_left/right, cheilion_left/right, menton; `sellion_approx` and
        `menton_approx` also do.

    Raises
    ------
    LandmarkMissing : one of them is not there.
    """
    mark = {name: place_of(landmarks, name) for name in _NEEDED}
    middle = 0.5 * (mark["alare_left"] + mark["alare_right"])
    nose_half = max(0.5 * float(abs(mark["alare_left"][0] - mark["alare_right"][0])), 5.0)
    mouth = 0.5 * (mark["cheilion_left"] + mark["cheilion_right"])
    mouth_half = max(0.5 * float(abs(mark["cheilion_left"][0] - mark["cheilion_right"][0])), 10.0)
    aside, back, up = np.abs(points[:, 0] - middle[0]), points[:, 1], points[:, 2]
    nose_up = (up - middle[2]) / max(float(mark["sellion"][2] - middle[2]), 10.0)
    chin_depth = back - mark["menton"][1]
    rules = [
        (nose_up > 0.5) & (aside < 0.6 * nose_half),
        (nose_up > 0.0) & (aside < nose_half * (2.0 - nose_up)),
        (up < mark["menton"][2] + 4.0) & (chin_depth > 4.0),
        (up < mouth[2] - 8.0) & (aside < mouth_half),
        up < middle[2],
    ]
    names = ["nose_bridge", "nose_side", "under_chin", "chin", "mouth_side"]
    codes = [REGIONS.index(name) for name in names]
    return np.select(rules, codes, default=REGIONS.index("cheek")).astype(np.int64)


def place_of(landmarks: Mapping[str, ArrayLike], name: str) -> Floats:
    """A landmark (3,) by its name or by ``name_approx``.

    Raises
    ------
    LandmarkMissing : neither is there.
    """
    for key in (name, f"{name}_approx"):
        if key in landmarks:
            return np.asarray(landmarks[key], dtype=np.float64)
    raise LandmarkMissing(
        f"The landmark {name} is missing.", Where("landmarks", key=name), f"Give the landmark {name}."
    )
