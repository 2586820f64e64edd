"""Propose the landmarks of a face from a scan and its approximate pose."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...errors import LandmarkMissing, Remark, Where, plain_point
from ...mesh import Floats, TriMesh
from ..landmark_names import NEEDED
from ..pose.pose import Pose
from ..pose.pose_fallback import USUAL_PLACE
from .confidence import calibrated
from .depth_map import DepthMap, depth_map
from .eye_corners import eye_landmarks
from .landmark_set import Landmark, Landmarks
from .midline import Spot, chin_landmarks, lowest_known, nose_landmarks
from .mouth import mouth_landmarks
from .nose_wings import wing_landmarks
from .patch_search import PATCH_SIGMA_MM, search_middle, search_patch
from .profile import MidlineProfile, midline_profile
from .snap import snap_to_skin

PROFILE_SIGMA_MM = 0.8
LOW_MM, HIGH_MM = -105.0, 84.0
"""How far down and up a face of usual size is looked at: to under the chin of an open jaw."""

CHIN_MM = 44.0
"""Usual distance of menton from the line between the lips on a face of usual size (open head models)."""

APART_MM = 6.0
"""Profile and relief that put the nose base farther apart than this do not mean the same place."""

FAINT, SHORT_MM = 0.6, 3.0
"""A mouth corner with less strength than this, so much nearer the middle than the relief has it, is where a
blurred line between the lips fades, not where it ends (invented heads from 1000 on, even varied heads)."""

LIPS_APART_MM = 25.0
"""No mouth is open farther than twice this."""

MOVING = ("stomion", "supramenton", "pogonion", "menton", "cheilion_left", "cheilion_right")

LOW_CONFIDENCE = 0.5
"""Landmarks below this are named in a remark so that the maker looks at them."""


def propose_landmarks(mesh_mm: TriMesh, pose: Pose) -> Landmarks:
    """Landmarks of a face, with the chance of each to be right.

    The face is looked at from the front as a height field with millimetre cells; midline points are found
    on its profile, mouth corners, wings and eye corners on its relief; every place is then put on the
    triangles.

    Parameters
    ----------
    mesh_mm : the scan, mm, scan frame, of either winding.
    pose : from `find_face` (or one of its fallbacks).

    Raises
    ------
    LandmarkMissing : the midline of the face has no skin, or no line between the lips is seen.
    """
    clear = clear_landmarks(mesh_mm, pose)
    marks = {
        name: replace(mark, confidence=calibrated(name, mark.confidence))
        for name, mark in clear.by_name.items()
    }
    return Landmarks(marks, clear.across, _doubts(marks))


def clear_landmarks(mesh_mm: TriMesh, pose: Pose) -> Landmarks:
    """The same, with how clear each is in place of its chance; for calibration.

    Raises
    ------
    LandmarkMissing : as `propose_landmarks`.
    """
    size = pose.size
    depth = depth_map(mesh_mm, pose.scan_to_face, 60.0 * size, LOW_MM * size, HIGH_MM * size)
    spots = _spots(depth, size)
    names = sorted(spots)
    nearest_filled = np.where(np.isnan(depth.height), np.nan_to_num(depth.smoothed(6.0)), depth.height)
    raw = np.array([_place(depth, nearest_filled, spots[name]) for name in names])
    skin = np.array([(_has_lips if name == "stomion" else _has_skin)(depth, spots[name]) for name in names])
    inverse = np.linalg.inv(pose.scan_to_face)
    points, away = snap_to_skin(mesh_mm, raw @ inverse[:3, :3].T + inverse[:3, 3], 6.0)
    marks = {}
    for name, point, present, distance in zip(names, points, skin, away, strict=True):
        usual = _usual(name, spots[name], size)
        clear = spots[name].strength * present * usual * pose.confidence**0.5
        # Stomion of an open mouth lies in the air between the lips.
        marks[name] = Landmark(point, float(clear if np.isfinite(distance) or name == "stomion" else 0.0))
    return Landmarks(marks, pose.scan_to_face[0, :3].copy())


def _spots(depth: DepthMap, size: float) -> dict[str, Spot]:
    """All landmarks on the depth map."""
    profile = midline_profile(depth, PROFILE_SIGMA_MM)
    if profile is None:
        raise _missing("subnasale", "The midline of the face has hardly any skin.")
    relief = depth.smoothed(PATCH_SIGMA_MM)
    spots = nose_landmarks(profile, size)
    spots |= _agreed(spots, depth, relief, size)
    base = spots["subnasale"].z
    mouth = mouth_landmarks(depth, size, base)
    spots |= mouth | _agreed(mouth, depth, relief, size)
    spots |= wing_landmarks(depth, size, base)
    spots |= eye_landmarks(depth, relief, size)
    spots |= _by_relief(depth, relief, size)
    if "stomion" not in spots:
        raise _missing("stomion", "No line between the lips was found below the nose.")
    spots |= chin_landmarks(profile, size, base, spots["stomion"].z)
    for name in NEEDED:
        if name not in spots:
            raise _missing(name, _no_chin(profile, size, spots["stomion"].z))
    return spots


def _by_relief(depth: DepthMap, relief: Floats, size: float) -> dict[str, Spot]:
    """Landmarks that the relief round them tells better than one profile: glabella and the nostril wings."""
    found = {
        "alare_left": search_patch(depth, relief, size, "alare", 1),
        "alare_right": search_patch(depth, relief, size, "alare", -1),
        "glabella": search_middle(depth, relief, size, "glabella"),
    }
    return {name: spot for name, spot in found.items() if spot is not None}


def _agreed(spots: dict[str, Spot], depth: DepthMap, relief: Floats, size: float) -> dict[str, Spot]:
    """Nose base and mouth corners where profile or mouth line and the relief round them disagree.

    A nose base far from where the relief has it is taken from the relief; so is a corner at which the line
    between the lips fades before it ends.
    """
    out = {}
    base = search_middle(depth, relief, size, "subnasale")
    if "subnasale" in spots and base is not None and abs(base.z - spots["subnasale"].z) > APART_MM * size:
        out["subnasale"] = replace(base, strength=0.5 * base.strength)
    for name, side in (("cheilion_left", 1), ("cheilion_right", -1)):
        if name in spots and spots[name].strength < FAINT:
            corner = search_patch(depth, relief, size, "cheilion", side)
            if corner is not None and side * (corner.x - spots[name].x) > SHORT_MM * size:
                out[name] = replace(corner, strength=min(FAINT, corner.strength))
    return out


def _no_chin(profile: MidlineProfile, size: float, stomion: float) -> str:
    """What is said where the chin is not in the scan, with the length of the skin that there is."""
    left = stomion - lowest_known(profile, stomion)
    return (
        f"There is skin for only {max(left, 0.0):.0f} mm below the line between the lips; "
        f"a chin of this size ends {CHIN_MM * size:.0f} mm below it."
    )


def _missing(name: str, what: str) -> LandmarkMissing:
    return LandmarkMissing(
        what,
        Where("scan", key=name, frame="scan"),
        "Rescan the face from the brows to under the chin, or give the landmarks in a file.",
    )


def _place(depth: DepthMap, nearest_filled: Floats, spot: Spot) -> Floats:
    """A spot as a point (3,) of the approximate face frame, on the fine height field without holes."""
    if spot.height is not None:
        return np.array([spot.x, -spot.height, spot.z])
    height = depth.at(nearest_filled, np.array([spot.x]), np.array([spot.z]))[0]
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


def _has_lips(depth: DepthMap, spot: Spot) -> float:
    """Share of the columns about the middle of the mouth that have skin above and below it."""
    skin = depth.trust[:, np.abs(depth.x - spot.x) < 3.5] > 0
    above = (depth.z >= spot.z) & (depth.z < spot.z + LIPS_APART_MM)
    below = (depth.z < spot.z) & (depth.z > spot.z - LIPS_APART_MM)
    return float((skin[above].any(axis=0) & skin[below].any(axis=0)).mean())


def _doubts(marks: dict[str, Landmark]) -> tuple[Remark, ...]:
    """One remark that names the needed landmarks that are not sure."""
    doubtful = [name for name in NEEDED if marks[name].confidence < LOW_CONFIDENCE]
    if not doubtful:
        return ()
    text = f"Look at these landmarks, they are not sure: {', '.join(doubtful)}."
    return (
        Remark(
            "warning", text, Where("scan", plain_point(marks[doubtful[0]].point), "scan", key=doubtful[0])
        ),
    )
