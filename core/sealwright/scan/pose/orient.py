"""Find the face in a scan of any pose: where it is, which way it looks, which way is up."""

from __future__ import annotations

from ...errors import NotAFace, Where, plain_point
from ...mesh import Floats, TriMesh
from .face_fit import FaceFit, Start, every_turn, first_guesses, skin_facing_out, thinned
from .face_refine import refine
from .loose_pieces import loose_pieces_marked
from .nose_candidates import NoseCandidates, nose_candidates
from .pose import Pose, outward
from .pose_fallback import pose_from_landmarks, pose_from_points, pose_from_three
from .sample import SkinSamples, front_most, sample_skin
from .visible_skin import pose_of_fit, sharpened

PROMISING = 0.55
"""Likeness of a first guess that is fitted at once."""

BEYOND_DOUBT = 0.7
"""Score of a rough fit at which no other place is tried; other shapes than faces reach 0.55."""

HARD_SCORE = 0.55
"""A best fit below this is not believed before every turn of the likeliest bumps was tried."""

HARD_BUMPS, HARD_FITS = 3, 8

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
        why = "; ".join(pose.reasons)
        raise NotAFace(
            f"No face was found in the scan. The best place found scores {pose.confidence:.2f} of 1: {why}.",
            Where("scan", point=plain_point(-fit.rotation.T @ fit.shift_mm), frame="scan"),
            _MEND,
        )
    return loose_pieces_marked(pose, mesh_mm)


def _best_fit(mesh: TriMesh) -> tuple[FaceFit, bool, SkinSamples]:
    """The best fit of the generic face, whether the winding is inward, and the dense skin samples there."""
    coarse = sample_skin(mesh, 5.0, 12_000)
    noses = nose_candidates(coarse)
    rough = _rough_fits(coarse, noses)
    best = _best_of(mesh, rough, None)
    if best is None or best[0].score < HARD_SCORE:
        best = _best_of(mesh, _every_fit(coarse, noses), best)
    if best is None:
        what = "Too little skin lies round any bump" if rough else "No bump of the size of a nose was found"
        raise NotAFace(f"{what} in the scan.", Where("scan", frame="scan"), _MEND)
    return best


def _best_of(
    mesh: TriMesh, rough: list[tuple[FaceFit, bool]], best: tuple[FaceFit, bool, SkinSamples] | None
) -> tuple[FaceFit, bool, SkinSamples] | None:
    """The best of what there is and of rough fits sharpened on the dense skin."""
    for fit, flip in rough:
        fine = sharpened(mesh, Start(fit.rotation, fit.shift_mm, fit.size, fit.likeness), flip)
        if fine is not None and (best is None or fine[0].score > best[0].score):
            best = (fine[0], flip, fine[1])
    return best


def _every_fit(coarse: SkinSamples, noses: NoseCandidates) -> list[tuple[FaceFit, bool]]:
    """Quick fits from every turn of the bumps that stick out most, the best of them."""
    fits = []
    for index in range(min(len(noses.tips), HARD_BUMPS)):
        flip = bool(noses.inward_winding[index])
        points = coarse.points[skin_facing_out(coarse, noses.tips[index], noses.outward[index], flip)]
        if len(points) < 60:
            continue
        for start in every_turn(noses.tips[index], noses.outward[index], points):
            fits.append((_rough_fit(points, start), flip))
    return sorted(fits, key=lambda fit: -fit[0].score)[:HARD_FITS]


def _rough_fits(coarse: SkinSamples, noses: NoseCandidates) -> list[tuple[FaceFit, bool]]:
    """Quick fits worth a closer look, the best first, each with whether its winding is inward.

    Bumps are taken as they stick out. A guess that looks well is fitted at once, and where that fits beyond
    doubt the search is over; else all guesses are fitted in order of their likeness.
    """
    waiting: list[tuple[float, Floats, Start, bool]] = []
    fits: list[tuple[FaceFit, bool]] = []
    for index in range(len(noses.tips)):
        flip = bool(noses.inward_winding[index])
        points, starts = first_guesses(coarse, noses, index)
        for start in starts:
            if start.likeness < PROMISING:
                waiting.append((start.likeness, points, start, flip))
                continue
            fits.append((_rough_fit(points, start), flip))
            if fits[-1][0].score > BEYOND_DOUBT:
                return [fits[-1]]
    waiting.sort(key=lambda item: -item[0])
    fits += [(_rough_fit(points, start), flip) for _, points, start, flip in waiting[: 16 - len(fits)]]
    return sorted(fits, key=lambda fit: -fit[0].score)[:3]


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
