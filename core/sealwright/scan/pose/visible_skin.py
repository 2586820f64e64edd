"""The skin that is seen from the front of a face, and the pose sharpened on it."""

from __future__ import annotations

import numpy as np

from ...errors import Remark, Where
from ...mesh import Floats, TriMesh, at_all_corners
from .face_fit import FaceFit, Start, thinned
from .face_refine import refine
from .pose import Pose
from .sample import SkinSamples, front_most, sample_skin
from .symmetry import MirrorPlane, mirror_plane

FACE_RADIUS_MM = 115.0
MOST_FACES = 200_000
"""Denser meshes are read with a stride."""


def visible_skin(mesh: TriMesh, rotation: Floats, shift: Floats, flip: bool) -> SkinSamples | None:
    """Dense samples of the skin seen from the front of a rough pose, normals outward.

    Parameters
    ----------
    mesh : the scan, mm.
    rotation, shift : (3, 3) and (3,), scan to face.
    flip : the triangles face into the head.

    Returns
    -------
    The samples, or None where there is hardly any skin.
    """
    centre = -rotation.T @ shift
    offset = mesh.vertices - centre
    near = np.einsum("ij,ij->i", offset, offset) < FACE_RADIUS_MM**2
    faces = mesh.faces[:: max(1, len(mesh.faces) // MOST_FACES)]
    faces = faces[at_all_corners(near, faces)]
    if len(faces) < 50:
        return None
    skin = sample_skin(mesh, 2.2, 9_000, faces)
    if flip:
        skin = SkinSamples(skin.points, -skin.normals, skin.spacing_mm)
    q = skin.points @ rotation.T + shift
    # Nothing of a face stands 60 mm in front of the lip; hands and other things in the scan do.
    seen = (skin.normals @ rotation[1] < -0.1) & (q[:, 1] < 75.0) & (q[:, 1] > -60.0)
    if seen.sum() < 50:
        return None
    skin, q = skin.where(seen), q[seen]
    return skin.where(front_most(q[:, 0], q[:, 2], -q[:, 1], 6.0, 14.0))


def sharpened(mesh: TriMesh, start: Start, flip: bool) -> tuple[FaceFit, SkinSamples] | None:
    """The generic face fitted to the dense visible skin from a rough start; None with hardly any skin."""
    skin = visible_skin(mesh, start.rotation, start.shift_mm, flip)
    if skin is None:
        return None
    return refine(thinned(skin.points, 1500), start, 16), skin


def pose_of_fit(fit: FaceFit, skin: SkinSamples, flip: bool) -> Pose:
    """The pose from a fit: its mirror plane sharpened, its confidence, and what is to be said of it."""
    plane = mirror_plane(skin, fit.rotation, fit.shift_mm, fit.size)
    confidence, reasons = _confidence(fit, plane)
    transform = np.eye(4)
    transform[:3, :3], transform[:3, 3] = plane.rotation, plane.shift_mm
    remarks = [inside_out_remark()] if flip else []
    if confidence < 0.5:
        text = f"The pose of the face is not sure ({confidence:.2f} of 1): {'; '.join(reasons)}."
        remarks.append(Remark("warning", text, Where("scan", frame="scan")))
    evidence = (fit.likeness, fit.misfit_mm, fit.coverage, plane.asymmetry_mm)
    return Pose(transform, fit.size, confidence, flip, *evidence, reasons, tuple(remarks))


def inside_out_remark() -> Remark:
    """What is said of a scan that faces inward."""
    text = (
        "The scan was inside out (triangles facing into the head); they were turned round. If left and right "
        "look exchanged, the axes were mirrored on export: export the scan again."
    )
    return Remark("warning", text, Where("scan", frame="scan"))


def _ramp(value: float, low: float, high: float) -> float:
    """0 at ``low``, 1 at ``high``, straight between (``low`` may be the larger)."""
    return float(np.clip((value - low) / (high - low), 0.0, 1.0))


def _confidence(fit: FaceFit, plane: MirrorPlane) -> tuple[float, tuple[str, ...]]:
    """Confidence 0..1 as the product of ramps, and a sentence for each that is low."""
    parts = {
        f"the relief is only {100 * fit.likeness:.0f} % like a face": _ramp(fit.likeness, 0.25, 0.75),
        f"only {100 * fit.coverage:.0f} % of the face has skin": _ramp(fit.coverage, 0.25, 0.75),
        f"the skin lies {fit.misfit_mm:.1f} mm off a usual face": _ramp(fit.misfit_mm, 9.0, 3.0),
        f"left and right differ by {plane.asymmetry_mm:.1f} mm": _ramp(plane.asymmetry_mm, 4.0, 1.0),
        f"only {100 * plane.paired:.0f} % of the skin has a mirror image": _ramp(plane.paired, 0.1, 0.5),
    }
    value = float(np.prod(list(parts.values())))
    return value, tuple(text for text, share in parts.items() if share < 0.7)
