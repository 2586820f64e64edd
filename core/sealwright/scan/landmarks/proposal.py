"""Propose the landmarks of a face from a scan and its approximate pose."""

from __future__ import annotations

import numpy as np

from ...errors import LandmarkMissing, Remark, Where
from ...mesh import Floats, TriMesh
from ..landmark_names import NEEDED
from ..pose.pose import Pose
from ..pose.pose_fallback import USUAL_PLACE
from .depth_map import DepthMap, depth_map
from .eye_corners import eye_landmarks
from .landmark_set import Landmark, Landmarks
from .midline import Spot, chin_landmarks, nose_landmarks
from .mouth import mouth_landmarks
from .nose_wings import wing_landmarks
from .profile import midline_profile
from .snap import snap_to_skin

PROFILE_SIGMA_MM = 0.8
MOST_CONFIDENT = 0.97
"""The most that is claimed: of the surest landmarks in damaged open scans 95 % lie within 4 mm."""

MOVING = ("stomion", "supramenton", "pogonion", "menton", "cheilion_left", "cheilion_right")

LOW_CONFIDENCE = 0.5
"""Landmarks below this are named in a remark so that the maker looks at them."""


def propose_landmarks(mesh_mm: TriMesh, pose: Pose) -> Landmarks:
    """Landmarks of a face, with a confidence each.

    The face is looked at from the front as a height field with millimetre cells; midline points are found
    on its profile, mouth corners and nostril wings on its relief; every place is then put on the triangles.

    Parameters
    ----------
    mesh_mm : the scan, mm, scan frame, of either winding.
    pose : from `find_face` (or one of its fallbacks).

    Raises
    ------
    LandmarkMissing : the midline of the face has no skin, or no line between the lips is seen.
    """
    size = pose.size
    depth = depth_map(mesh_mm, pose.scan_to_face, 60.0 * size, -90.0 * size, 84.0 * size)
    spots = _spots(depth, size)
    names = sorted(spots)
    plugged = np.where(np.isnan(depth.height), np.nan_to_num(depth.smoothed(6.0)), depth.height)
    raw = np.array([_place(depth, plugged, spots[name]) for name in names])
    skin = np.array([_has_skin(depth, spots[name]) for name in names])
    inverse = np.linalg.inv(pose.scan_to_face)
    points, away = snap_to_skin(mesh_mm, raw @ inverse[:3, :3].T + inverse[:3, 3], 6.0)
    marks = {}
    for name, point, present, distance in zip(names, points, skin, away, strict=True):
        usual = _usual(name, spots[name], size)
        confidence = MOST_CONFIDENT * spots[name].strength * present * usual * pose.confidence**0.5
        marks[name] = Landmark(point, float(confidence if np.isfinite(distance) else 0.0))
    return Landmarks(marks, pose.scan_to_face[0, :3].copy(), _doubts(marks))


def _spots(depth: DepthMap, size: float) -> dict[str, Spot]:
    """All landmarks on the depth map."""
    profile = midline_profile(depth, PROFILE_SIGMA_MM)
    if profile is None:
        raise _missing("subnasale", "The midline of the face has hardly any skin.")
    spots = nose_landmarks(profile, size)
    base = spots["subnasale"].z
    spots |= mouth_landmarks(depth, size, base)
    spots |= wing_landmarks(depth, size, base)
    spots |= eye_landmarks(depth, size, spots["sellion"].z)
    if "stomion" not in spots:
        raise _missing("stomion", "No line between the lips was found below the nose.")
    spots |= chin_landmarks(profile, size, spots["sellion"].z, spots["stomion"].z)
    for name in NEEDED:
        if name not in spots:
            raise _missing(name, f"The scan ends below the lips before {name}.")
    return spots


def _missing(name: str, what: str) -> LandmarkMissing:
    return LandmarkMissing(
        what,
        Where("scan", key=name, frame="scan"),
        "Rescan the face from the brows to under the chin, or give the landmarks in a file.",
    )


def _place(depth: DepthMap, plugged: Floats, spot: Spot) -> Floats:
    """A spot as a point (3,) of the approximate face frame, on the fine height field without holes."""
    if spot.height is not None:
        return np.array([spot.x, -spot.height, spot.z])
    height = depth.at(plugged, np.array([spot.x]), np.array([spot.z]))[0]
    return np.array([spot.x, -height, spot.z])


def _usual(name: str, spot: Spot, size: float) -> float:
    """1 where a landmark lies about where faces have it, falling to 0 far from there."""
    x, _, z = USUAL_PLACE[name]
    # The mouth opens and the chin goes with it; all else has the spread of the open heads, twice over.
    spread = 16.0 if name in MOVING else 8.0
    off = np.hypot(spot.x - size * x, max(abs(spot.z - size * z) - 4.0, 0.0)) / (spread * size)
    return float(np.exp(-0.5 * off * off))


def _has_skin(depth: DepthMap, spot: Spot) -> float:
    """Share of the 7 mm neighbourhood of a spot that has skin."""
    x, z = np.meshgrid(depth.x, depth.z)
    near = (x - spot.x) ** 2 + (z - spot.z) ** 2 < 3.5**2
    return float((depth.trust[near] > 0).mean()) if near.any() else 0.0


def _doubts(marks: dict[str, Landmark]) -> tuple[Remark, ...]:
    """One remark that names the needed landmarks that are not sure."""
    doubtful = [name for name in NEEDED if marks[name].confidence < LOW_CONFIDENCE]
    if not doubtful:
        return ()
    x, y, z = (float(c) for c in marks[doubtful[0]].point)
    text = f"Look at these landmarks, they are not sure: {', '.join(doubtful)}."
    return (Remark("warning", text, Where("scan", (x, y, z), "scan", key=doubtful[0])),)
