"""How far the skin under a seal line slides between two poses, estimated from landmarks.

Two scans show where the skin is, not which point of it went where. The movement of landmarks seen in both,
and of the cheekbones, which stand still, is spread over the face by the smoothest usual interpolation (linear
radial basis functions). Measured on the open head with its mouth closed and open, whose every vertex is known
in both: error 0.6 mm across the seal line (largest 1.9) and 2.3 mm along it (largest 4.7), of movements up to
18 and 7 mm. Take it as a size, not as a place.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from scipy.interpolate import RBFInterpolator

from ..errors import LandmarkMissing, Where
from ..mesh import Floats

MARKS = (
    "sellion",
    "pronasale",
    "subnasale",
    "alare_left",
    "alare_right",
    "cheilion_left",
    "cheilion_right",
    "supramenton",
    "pogonion",
    "menton",
)
"""Landmarks whose movement is used where both scans have them."""

STILL_MM = ((66.0, 60.0, 25.0), (45.0, 25.0, 30.0))
"""Places of the wearer's left cheekbone that no pose moves, face frame, for a face length of 115 mm (measured
on one open head)."""

LEAST_MARKS = 4


def skin_slide(
    points: Floats, first: Mapping[str, Floats], second: Mapping[str, Floats], size: float
) -> Floats:
    """Estimated movement (n, 3) in mm of skin points (n, 3).

    Parameters
    ----------
    points : skin of the first pose, face frame of the first scan, mm.
    first, second : landmarks of both poses in that frame.
    size : face length over 115 mm.

    Raises
    ------
    LandmarkMissing : fewer than four landmarks are in both.
    """
    names = [name for name in MARKS if name in first and name in second]
    if len(names) < LEAST_MARKS:
        raise LandmarkMissing(
            f"The two poses share {len(names)} landmarks; {LEAST_MARKS} are needed to follow the skin.",
            Where("landmarks", key=", ".join(name for name in MARKS if name not in names)),
            "Set these landmarks in both scans.",
        )
    at = np.array([first[name] for name in names])
    moved = np.array([second[name] for name in names]) - at
    still = size * np.array([[side * x, y, z] for side in (1.0, -1.0) for x, y, z in STILL_MM])
    spread = RBFInterpolator(
        np.vstack([at, still]), np.vstack([moved, np.zeros_like(still)]), kernel="linear"
    )
    return np.asarray(spread(points))


def along_and_across(movement: Floats, tangents: Floats, normals: Floats) -> tuple[Floats, Floats]:
    """Parts (n,) of movements (n, 3) along a line and across it on the skin, mm; outwards is positive.

    Parameters
    ----------
    tangents, normals : (n, 3) unit, of the line (the wearer's left first) and of the skin.
    """
    out = np.cross(normals, tangents)
    out = out / np.linalg.norm(out, axis=1, keepdims=True)
    return np.einsum("ij,ij->i", movement, tangents), np.einsum("ij,ij->i", movement, out)
