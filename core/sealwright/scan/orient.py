"""Find the face in a scan of any pose: where it is, which way it looks, which way is up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import NotAFace, Remark, Where
from ..mesh import Floats, TriMesh
from .face_fit import FaceFit, Start, first_guesses, skin_near, thinned
from .face_refine import refine
from .nose_candidates import nose_candidates
from .sample import SkinSamples, front_most, sample_skin
from .symmetry import MirrorPlane, mirror_plane

CONFIDENCE_LIMIT = 0.3
"""Below this the scan is refused as "not a face" (calibrated on open heads and on other shapes)."""

FACE_RADIUS_MM = 115.0


@dataclass(frozen=True, eq=False)
class Pose:
    """Where the face lies in a scan.

    Attributes
    ----------
    scan_to_face : (4, 4) rotation and translation, scan mm to approximate face frame mm.
    size : size of this face over the generic one (about 0.7 for a small child to 1.25).
    confidence : 0..1.
    faces_inward : the triangles of the face are wound towards the inside of the head.
    likeness, misfit_mm, coverage, asymmetry_mm : what the confidence rests on.
    reasons : sentences that explain a low confidence.
    remarks : what the maker should know.
    """

    scan_to_face: Floats
    size: float
    confidence: float
    faces_inward: bool
    likeness: float
    misfit_mm: float
    coverage: float
    asymmetry_mm: float
    reasons: tuple[str, ...]
    remarks: tuple[Remark, ...]


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
    fit, flip, samples = _best_fit(mesh_mm)
    plane = mirror_plane(samples, fit.rotation, fit.shift_mm, fit.size)
    confidence, reasons = _confidence(fit, plane)
    if confidence < CONFIDENCE_LIMIT:
        raise _no_face(f"The best place found scores {confidence:.2f} of 1: {'; '.join(reasons)}.", fit)
    return _pose(fit, plane, flip, confidence, reasons)


def outward(mesh: TriMesh, pose: Pose) -> TriMesh:
    """The mesh with its triangles facing out of the face."""
    return mesh.flipped() if pose.faces_inward else mesh


def _best_fit(mesh: TriMesh) -> tuple[FaceFit, bool, SkinSamples]:
    """The best fit of the generic face, whether the winding is inward, and the dense skin samples there."""
    coarse = sample_skin(mesh, 5.0, 12_000)
    noses = nose_candidates(coarse)
    tried: list[tuple[FaceFit, int]] = []
    for index, start in first_guesses(coarse, noses):
        near = skin_near(coarse, noses.tips[index], noses.outward[index], bool(noses.inward_winding[index]))
        tried.append((_rough_fit(coarse.points[near], start), index))
    if not tried:
        raise NotAFace(
            "No bump of the size of a nose was found in the scan.", Where("scan", frame="scan"), _MEND
        )
    tried.sort(key=lambda pair: -pair[0].score)
    best: tuple[FaceFit, bool, SkinSamples] | None = None
    for rough, index in tried[:3]:
        flip = bool(noses.inward_winding[index])
        skin = _visible_skin(mesh, rough, flip)
        if skin is None:
            continue
        start = Start(rough.rotation, rough.shift_mm, rough.size, rough.likeness)
        fine = refine(thinned(skin.points, 1500), start, 16)
        if best is None or fine.score > best[0].score:
            best = (fine, flip, skin)
    if best is None:
        raise NotAFace("Too little skin lies round any bump of the scan.", Where("scan", frame="scan"), _MEND)
    return best


def _rough_fit(points: Floats, start: Start) -> FaceFit:
    """A quick fit to the points that are seen from the front of a first guess."""
    q = points @ start.rotation.T + start.shift_mm
    seen = front_most(q[:, 0], q[:, 2], -q[:, 1], 10.0, 22.0)
    return refine(thinned(points[seen], 300), start, 9)


def _visible_skin(mesh: TriMesh, fit: FaceFit, flip: bool) -> SkinSamples | None:
    """Dense samples of the skin that is seen from the front of a rough fit, normals outward."""
    centre = -fit.rotation.T @ fit.shift_mm
    near = np.einsum("ij,ij->i", mesh.vertices - centre, mesh.vertices - centre) < FACE_RADIUS_MM**2
    faces = mesh.faces[near[mesh.faces].all(axis=1)]
    if len(faces) < 50:
        return None
    skin = sample_skin(mesh, 2.2, 9_000, faces)
    if flip:
        skin = SkinSamples(skin.points, -skin.normals, skin.spacing_mm)
    q = skin.points @ fit.rotation.T + fit.shift_mm
    facing = -(skin.normals @ fit.rotation[1]) > 0.1
    seen = facing & (q[:, 1] < 75.0)
    if seen.sum() < 50:
        return None
    skin, q = skin.where(seen), q[seen]
    return skin.where(front_most(q[:, 0], q[:, 2], -q[:, 1], 6.0, 14.0))


_MEND = (
    "Rescan the face from forehead to chin with the nose in the middle, check the unit, "
    "or place the landmarks by hand."
)


def _no_face(what: str, fit: FaceFit) -> NotAFace:
    x, y, z = (float(c) for c in -fit.rotation.T @ fit.shift_mm)
    return NotAFace(
        f"No face was found in the scan. {what}", Where("scan", point=(x, y, z), frame="scan"), _MEND
    )


def _ramp(value: float, low: float, high: float) -> float:
    """0 at ``low``, 1 at ``high``, straight between (``low`` may be the larger)."""
    return float(np.clip((value - low) / (high - low), 0.0, 1.0))


def _confidence(fit: FaceFit, plane: MirrorPlane) -> tuple[float, tuple[str, ...]]:
    """Confidence 0..1 as the product of four ramps, and a sentence for each that is low."""
    parts = {
        f"the relief is only {100 * fit.likeness:.0f} % like a face": _ramp(fit.likeness, 0.25, 0.75),
        f"only {100 * fit.coverage:.0f} % of the face has skin": _ramp(fit.coverage, 0.25, 0.75),
        f"the skin lies {fit.misfit_mm:.1f} mm off a usual face": _ramp(fit.misfit_mm, 9.0, 3.0),
        f"left and right differ by {plane.asymmetry_mm:.1f} mm": _ramp(plane.asymmetry_mm, 4.0, 1.0),
        f"only {100 * plane.paired:.0f} % of the skin has a mirror image": _ramp(plane.paired, 0.1, 0.5),
    }
    value = float(np.prod(list(parts.values())))
    return value, tuple(text for text, share in parts.items() if share < 0.7)


def _pose(fit: FaceFit, plane: MirrorPlane, flip: bool, confidence: float, reasons: tuple[str, ...]) -> Pose:
    transform = np.eye(4)
    transform[:3, :3], transform[:3, 3] = plane.rotation, plane.shift_mm
    remarks = []
    if flip:
        text = "The scan was inside out (triangles facing into the head); they were turned round."
        remarks.append(Remark("warning", text, Where("scan", frame="scan")))
    if confidence < 0.5:
        text = f"The pose of the face is not sure ({confidence:.2f} of 1): {'; '.join(reasons)}."
        remarks.append(Remark("warning", text, Where("scan", frame="scan")))
    return Pose(
        transform, fit.size, confidence, flip, fit.likeness, fit.misfit_mm, fit.coverage,
        plane.asymmetry_mm, reasons, tuple(remarks),
    )  # fmt: skip
