"""Find the face in a scan of any pose: where it is, which way it looks, which way is up."""

from __future__ import annotations

from ..errors import NotAFace, Where
from ..mesh import Floats, TriMesh
from .face_fit import FaceFit, Start, first_guesses, skin_near, thinned
from .face_refine import refine
from .nose_candidates import nose_candidates
from .pose import Pose, outward
from .pose_fallback import pose_from_landmarks, pose_from_points, pose_from_three
from .sample import SkinSamples, front_most, sample_skin
from .visible_skin import pose_of_fit, sharpened

CONFIDENCE_LIMIT = 0.3
"""Below this the scan is refused as "not a face" (calibrated on open heads and on other shapes)."""

_MEND = (
    "Rescan the face from forehead to chin with the nose in the middle, check the unit, "
    "or place the landmarks by hand."
)


def find_face(mesh_mm: TriMesh) -> Pose:
    """Find the face of a scan in any rigid pose.

    Bumps of the size of a nose are tried with every direction of "up" against a coarse generic face; the
    best is sharpened by least squares and by the mirror plane of the face. All steps use quantities that
    move with the scan, so a moved or mirrored scan gives the moved or mirrored pose.

    Parameters
    ----------
    mesh_mm : the scan, mm, any pose, either winding.

    Raises
    ------
    NotAFace : nothing in the scan looks enough like a face; the message says why.
    """
    fit, flip, skin = _best_fit(mesh_mm)
    pose = pose_of_fit(fit, skin, flip)
    if pose.confidence < CONFIDENCE_LIMIT:
        x, y, z = (float(c) for c in -fit.rotation.T @ fit.shift_mm)
        why = "; ".join(pose.reasons)
        raise NotAFace(
            f"No face was found in the scan. The best place found scores {pose.confidence:.2f} of 1: {why}.",
            Where("scan", point=(x, y, z), frame="scan"),
            _MEND,
        )
    return pose


def _best_fit(mesh: TriMesh) -> tuple[FaceFit, bool, SkinSamples]:
    """The best fit of the generic face, whether the winding is inward, and the dense skin samples there."""
    coarse = sample_skin(mesh, 5.0, 12_000)
    noses = nose_candidates(coarse)
    tried: list[tuple[FaceFit, int]] = []
    for index, start in first_guesses(coarse, noses):
        near = skin_near(coarse, noses.tips[index], noses.outward[index], bool(noses.inward_winding[index]))
        tried.append((_rough_fit(coarse.points[near], start), index))
    tried.sort(key=lambda pair: -pair[0].score)
    best: tuple[FaceFit, bool, SkinSamples] | None = None
    for rough, index in tried[:3]:
        flip = bool(noses.inward_winding[index])
        start = Start(rough.rotation, rough.shift_mm, rough.size, rough.likeness)
        fine = sharpened(mesh, start, flip)
        if fine is not None and (best is None or fine[0].score > best[0].score):
            best = (fine[0], flip, fine[1])
    if best is None:
        what = "Too little skin lies round any bump" if tried else "No bump of the size of a nose was found"
        raise NotAFace(f"{what} in the scan.", Where("scan", frame="scan"), _MEND)
    return best


def _rough_fit(points: Floats, start: Start) -> FaceFit:
    """A quick fit to the points that are seen from the front of a first guess."""
    q = points @ start.rotation.T + start.shift_mm
    seen = front_most(q[:, 0], q[:, 2], -q[:, 1], 10.0, 22.0)
    return refine(thinned(points[seen], 300), start, 9)


__all__ = [
    "Pose",
    "find_face",
    "outward",
    "pose_from_landmarks",
    "pose_from_points",
    "pose_from_three",
]
